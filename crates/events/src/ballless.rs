//! Possessions without a ball, from the players' motion alone: a declared, reduced mode.

use crate::model::Start;
use crate::motion::Motion;
use crate::params::ValidParams;
use crate::possessions::Draft;
use crate::practice::standing;
use setdrift_court::End;
use setdrift_tracks::{OutcomeKind, SessionKind};

/// A file no longer than this holds one play, seconds: the shot clock (FIBA Official Basketball
/// Rules, Art. 29: 24 s; NCAA Rule 2-11: 30 s) and a little before and after.
const ONE_PLAY_S: f64 = 36.0;
/// Least length of a stretch at one end, seconds.
const LEAST_S: f64 = 3.0;

/// Stretches in which team 0 attacks. A short file is one play as a whole.
pub(crate) fn stretches(m: &Motion, params: &ValidParams) -> Vec<Draft> {
    let s = m.session;
    let last = s.frames() - 1;
    let whole = |from: usize, to: usize| Draft {
        team: 0,
        from_s: s.time(from),
        to_s: s.time(to),
        start: Start::Unknown,
        kind: OutcomeKind::Unknown,
        second_chances: 0,
        shot_at: None,
    };
    if s.time(last) - s.time(0) <= ONE_PLAY_S {
        let seen = |f: usize| s.roster(0).any(|i| s.tracks[i].at(f).is_some());
        let from = (0..=last).find(|f| seen(*f));
        let to = (0..=last).rev().find(|f| seen(*f));
        return match (from, to) {
            (Some(a), Some(b)) => vec![whole(a, b)],
            _ => Vec::new(),
        };
    }
    let half_court = s.kind == SessionKind::Practice;
    let bounds = if half_court {
        between_stands(m, params)
    } else {
        one_end(m)
    };
    let least = (LEAST_S * s.rate_hz) as usize;
    bounds
        .into_iter()
        .filter(|(a, b)| b - a >= least)
        .map(|(a, b)| whole(a, b))
        .collect()
}

/// Stretches of motion between moments at which all stand in place.
fn between_stands(m: &Motion, params: &ValidParams) -> Vec<(usize, usize)> {
    let still = standing(m, params, 1.0);
    still.windows(2).map(|w| (w[0].1, w[1].0)).collect()
}

/// Stretches in which everybody on the floor is in the half that team 0 attacks.
fn one_end(m: &Motion) -> Vec<(usize, usize)> {
    let s = m.session;
    let step = ((s.rate_hz / 5.0).round() as usize).max(1);
    let mut out: Vec<(usize, usize)> = Vec::new();
    for f in (0..s.frames()).step_by(step) {
        let Some(end) = s.end_at(s.time(f)) else {
            continue;
        };
        let sign = if end == End::Left { -1.0 } else { 1.0 };
        let mut there = 0;
        let mut all = 0;
        for t in &s.tracks {
            if let Some(p) = t.at(f) {
                all += 1;
                there += usize::from(p.x * sign > -0.5);
            }
        }
        if all == 0 || there < all {
            continue;
        }
        match out.last_mut() {
            Some(o) if f - o.1 <= 2 * step => o.1 = f,
            _ => out.push((f, f)),
        }
    }
    out
}

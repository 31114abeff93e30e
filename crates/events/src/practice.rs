//! Repetitions on a half court: from the first movement out of the places they start from to the
//! ball at the ring, or to the last movement before the walk back.

use crate::model::{BallStory, EventKind, Start};
use crate::motion::{Motion, dist, norm};
use crate::params::ValidParams;
use crate::possessions::Draft;
use setdrift_tracks::{Known, OutcomeKind};

/// Two stands are the same formation when their players differ by no more than this in the mean,
/// metres.
const SAME_PLACES: f64 = 1.4;
/// A stand lasts at least this long, seconds.
const STAND_S: f64 = 0.5;
/// Shorter repetitions are no repetitions, seconds.
const LEAST_S: f64 = 1.5;

#[derive(Debug, Clone)]
struct Stand {
    from: usize,
    to: usize,
    places: Vec<[f64; 2]>,
}

/// Repetitions of team 0.
pub(crate) fn repetitions(m: &Motion, story: &BallStory, params: &ValidParams) -> Vec<Draft> {
    let s = m.session;
    let stands: Vec<Stand> = standing(m, params, STAND_S)
        .into_iter()
        .map(|(from, to)| Stand {
            from,
            to,
            places: places(m, from, to),
        })
        .collect();
    let shots: Vec<(f64, f64)> = story
        .events
        .iter()
        .filter_map(|e| match e.kind {
            EventKind::Shot { ring_s, .. } => Some((e.time_s, ring_s)),
            _ => None,
        })
        .collect();
    let starts = start_stands(m, story, &stands, &shots);
    let end_of_session = s.time(s.frames() - 1);
    let mut out = Vec::new();
    for (k, &i) in starts.iter().enumerate() {
        let from_s = s.time(stands[i].to);
        let next = starts.get(k + 1).copied();
        let until = next.map_or(end_of_session, |j| s.time(stands[j].from));
        let shot = shots.iter().find(|x| x.0 > from_s && x.0 < until);
        let (to_s, kind) = match shot {
            Some(x) => (x.1, OutcomeKind::Unknown),
            None => {
                // The last stand before the walk back; without one, the last pass.
                let stop = stands[i + 1..next.unwrap_or(stands.len())]
                    .last()
                    .map(|st| s.time(st.from));
                let pass = story
                    .events
                    .iter()
                    .filter(|e| e.time_s > from_s && e.time_s < until)
                    .filter_map(|e| match e.kind {
                        EventKind::Pass { catch_s, .. } => Some(catch_s),
                        EventKind::HandOff { .. } => Some(e.time_s),
                        _ => None,
                    })
                    .next_back();
                (stop.or(pass).unwrap_or(until), OutcomeKind::Stopped)
            }
        };
        if to_s - from_s >= LEAST_S {
            out.push(Draft {
                team: 0,
                from_s,
                to_s,
                start: Start::Repetition,
                kind,
                second_chances: 0,
                shot_at: None,
            });
        }
    }
    out
}

/// Stands from which a repetition starts: the first, those after a shot, and those in the same
/// places as one of these.
fn start_stands(
    m: &Motion,
    story: &BallStory,
    stands: &[Stand],
    shots: &[(f64, f64)],
) -> Vec<usize> {
    let s = m.session;
    let held = |st: &Stand| {
        let t = s.time(st.to);
        story
            .spells
            .iter()
            .any(|sp| sp.from_s <= t + 0.3 && sp.to_s >= t - 0.5)
    };
    let usable: Vec<usize> = (0..stands.len())
        .filter(|i| held(&stands[*i]) && front(&stands[*i]))
        .collect();
    let after_shot = |i: usize| {
        let (from, to) = (
            i.checked_sub(1)
                .map_or(f64::NEG_INFINITY, |b| s.time(stands[b].to)),
            s.time(stands[i].from),
        );
        shots.iter().any(|x| x.1 > from && x.1 <= to)
    };
    let certain: Vec<usize> = usable
        .iter()
        .enumerate()
        .filter(|(k, i)| *k == 0 || after_shot(**i))
        .map(|x| *x.1)
        .collect();
    usable
        .into_iter()
        .filter(|i| {
            certain
                .iter()
                .any(|c| apart(&stands[*i].places, &stands[*c].places) < SAME_PLACES)
        })
        .collect()
}

fn front(st: &Stand) -> bool {
    let (mut left, mut right) = (0, 0);
    for p in &st.places {
        if p[0] < 0.5 {
            left += 1;
        }
        if p[0] > -0.5 {
            right += 1;
        }
    }
    left == st.places.len() || right == st.places.len()
}

/// Mean distance between two formations under the best matching of players (greedy, nearest pair
/// first: places a formation apart by metres leave it no choice to get wrong).
fn apart(a: &[[f64; 2]], b: &[[f64; 2]]) -> f64 {
    let n = a.len().min(b.len());
    if n == 0 || a.len() != b.len() {
        return f64::INFINITY;
    }
    let mut pairs: Vec<(f64, usize, usize)> = a
        .iter()
        .enumerate()
        .flat_map(|(i, p)| b.iter().enumerate().map(move |(j, q)| (dist(*p, *q), i, j)))
        .collect();
    pairs.sort_by(|x, y| x.0.total_cmp(&y.0));
    let (mut ua, mut ub) = (vec![false; n], vec![false; n]);
    let mut sum = 0.0;
    for (d, i, j) in pairs {
        if !ua[i] && !ub[j] {
            ua[i] = true;
            ub[j] = true;
            sum += d;
        }
    }
    sum / n as f64
}

fn places(m: &Motion, from: usize, to: usize) -> Vec<[f64; 2]> {
    let s = m.session;
    s.roster(0)
        .filter_map(|i| {
            let t = &s.tracks[i];
            let (mut x, mut y, mut n) = (0.0, 0.0, 0.0);
            for f in from..=to {
                if t.known[f] != Known::Unknown {
                    x += t.x[f];
                    y += t.y[f];
                    n += 1.0;
                }
            }
            (n > 0.0).then(|| [x / n, y / n])
        })
        .collect()
}

/// Stretches, first and last frame, in which nobody of team 0 moves, of at least `least_s`.
pub(crate) fn standing(m: &Motion, params: &ValidParams, least_s: f64) -> Vec<(usize, usize)> {
    let s = m.session;
    let calm = Motion {
        player_half: ((0.5 * s.rate_hz).round() as usize).max(2),
        ..*m
    };
    let h = calm.player_half as f64;
    let error = m.player_noise * s.rate_hz / (h * (h + 1.0) * (2.0 * h + 1.0) / 3.0).sqrt();
    // The fastest of five standing players looks this fast through noise alone (Rayleigh).
    let limit = params.stand_mps.hypot(1.9 * error);
    let least = (least_s * s.rate_hz) as usize;
    let mut out: Vec<(usize, usize)> = Vec::new();
    let mut open: Option<usize> = None;
    for f in 0..s.frames() {
        let mut seen = false;
        let still = s.roster(0).all(|i| match calm.player(i, f) {
            Some(k) => {
                seen = true;
                norm(k.vel) < limit
            }
            None => true,
        });
        match (still && seen, open) {
            (true, None) => open = Some(f),
            (false, Some(a)) => {
                if f - a >= least {
                    out.push((a, f - 1));
                }
                open = None;
            }
            _ => {}
        }
    }
    if let Some(a) = open
        && s.frames() - a >= least
    {
        out.push((a, s.frames() - 1));
    }
    out
}

//! The mean motion of a group: the barycentre of its members, each laid on the medoid.

use crate::distance::{Match, STRIDE};
use crate::error::Result;
use crate::model::Stretch;
use crate::params::ValidParams;
use setdrift_court::AttackPoint;
use setdrift_warp::{Barycentre, CappedSquared, Dtw, Series};

/// Mean paths of the players and the ball, as many frames each.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Mean {
    pub rows: Vec<Vec<AttackPoint>>,
    pub ball: Vec<AttackPoint>,
    /// Frame of the medoid at which the mean begins.
    pub first: usize,
}

/// Frames of the medoid, 10 Hz, that at least half of the members have too.
pub(crate) fn core(medoid: &Stretch, matches: &[Match]) -> (usize, usize) {
    let frames = medoid.paths[0].len();
    let mut count = vec![0_usize; frames.div_ceil(STRIDE)];
    for m in matches {
        let mut last = None;
        for &(at, _) in &m.path {
            if last != Some(at) {
                count[at] += 1;
            }
            last = Some(at);
        }
    }
    let enough = |c: &usize| *c * 2 >= matches.len();
    let low = count.iter().position(enough).unwrap_or(0);
    let high = count.iter().rposition(enough).unwrap_or(count.len() - 1);
    (low * STRIDE, (high * STRIDE + STRIDE).min(frames))
}

/// Barycentre of the members from the medoid (DTW barycentre averaging), over the frames that at
/// least half of them share. Places that are unknown take no part; where nothing is known the
/// mean stays at the nearest known place of the medoid.
///
/// `members[0]` is the medoid, `matches[k]` lays member `k` on it.
pub(crate) fn mean(
    members: &[&Stretch],
    matches: &[Match],
    params: &ValidParams,
) -> Result<Option<Mean>> {
    let Some(&medoid) = members.first() else {
        return Ok(None);
    };
    let (first, end) = core(medoid, matches);
    let players = matches.iter().map(|m| m.rows.len()).max().unwrap_or(0);
    let ball = members.iter().all(|m| m.ball.iter().any(Option::is_some));
    let mut series = Vec::with_capacity(members.len());
    for (member, m) in members.iter().zip(matches) {
        let inside = |&&(at, _): &&(usize, usize)| at * STRIDE >= first && at * STRIDE < end;
        let mut shared = m.path.iter().filter(inside).map(|p| p.1);
        let Some(low) = shared.next() else {
            continue;
        };
        let high = shared.next_back().unwrap_or(low);
        let low = low * STRIDE;
        let high = (high * STRIDE + STRIDE).min(member.paths[0].len());
        series.push(as_series(member, m, players, ball, low..high)?);
    }
    let own = as_series(medoid, &matches[0], players, ball, first..end)?;
    if series.is_empty() {
        return Ok(None);
    }
    let dtw = Dtw::with_cost(CappedSquared::new(params.cap_m * params.cap_m)?).check()?;
    let centre = Barycentre::default().fit(&dtw, &own, &series, None)?.centre;
    let mut rows: Vec<Vec<AttackPoint>> = (0..players + usize::from(ball))
        .map(|r| path_of(&centre, r))
        .collect();
    let ball = if ball {
        rows.pop().unwrap_or_default()
    } else {
        Vec::new()
    };
    Ok(Some(Mean { rows, ball, first }))
}

fn as_series(
    s: &Stretch,
    m: &Match,
    players: usize,
    ball: bool,
    frames: std::ops::Range<usize>,
) -> Result<Series<f64>> {
    let side = if m.mirrored { -1.0 } else { 1.0 };
    let mut values = Vec::with_capacity(frames.len() * 2 * (players + usize::from(ball)));
    for f in frames {
        let row = |r: usize| s.paths.get(m.rows[r]).and_then(|p| p[f]);
        let places = (0..players).map(row).chain(ball.then(|| s.ball[f]));
        for p in places {
            values.push(p.map_or(f64::NAN, |p| p.x));
            values.push(p.map_or(f64::NAN, |p| side * p.y));
        }
    }
    Ok(Series::from_frames_with_gaps(
        &values,
        2 * (players + usize::from(ball)),
    )?)
}

/// One row of the centre, unknown places taken from the nearest known frame.
fn path_of(centre: &Series<f64>, row: usize) -> Vec<AttackPoint> {
    let raw: Vec<Option<AttackPoint>> = (0..centre.len())
        .map(|f| {
            let (x, y) = (centre.get(f, 2 * row)?, centre.get(f, 2 * row + 1)?);
            (x.is_finite() && y.is_finite()).then(|| AttackPoint::new(x, y))
        })
        .collect();
    let known: Vec<usize> = (0..raw.len()).filter(|&f| raw[f].is_some()).collect();
    (0..raw.len())
        .map(|f| {
            known
                .iter()
                .min_by_key(|k| k.abs_diff(f))
                .and_then(|&k| raw[k])
                .unwrap_or_default()
        })
        .collect()
}

/// Greatest distance of a path from its first place, metres; 0 for an empty one.
pub(crate) fn reach(path: &[AttackPoint]) -> f64 {
    let Some(first) = path.first() else {
        return 0.0;
    };
    path.iter().map(|p| p.distance(*first)).fold(0.0, f64::max)
}

//! Repetitions on a half court: from the first movement out of the places they start from to the
//! ball at the ring, or to the last movement before the walk back.

use crate::model::{BallStory, EventKind, Start};
use crate::motion::{Motion, dist, norm};
use crate::params::ValidParams;
use crate::possessions::{CAROM_S, Draft, LATEST_REBOUND_S};
use crate::stood::left;
use crate::story::seconds;
use setdrift_tracks::{Known, OutcomeKind};

/// Two stands are the same formation when their players differ by no more than this in the mean,
/// metres.
const SAME_PLACES: f64 = 1.4;
/// And when the ball is no further from where it was than this, metres: they start with the same
/// place's ball.
const SAME_BALL: f64 = 2.2;
/// Stands visited at least this share as often as the most visited are places to start from.
const OFTEN: f64 = 0.35;
/// A movement has ended when its player is this near to where he comes to rest, metres.
const ARRIVED_M: f64 = 0.25;
/// The last pass of a repetition is caught no later after the last player has come to rest,
/// seconds.
const LATE_CATCH_S: f64 = 2.5;
/// Two stands in the same places within this time and distance are one, seconds and metres.
const SWAY_S: f64 = 1.2;
const SWAY_M: f64 = 0.5;
/// A stand lasts at least this long, seconds.
const STAND_S: f64 = 0.5;
/// The first to move pushes off no earlier and no later about the end of the stand, seconds.
const BEFORE_S: f64 = 1.2;
const AFTER_S: f64 = 0.3;
/// A new repetition cannot begin sooner after the last than players need to walk back to their
/// places, seconds; a sooner start is the same repetition after a stop. Common practice, no
/// published source.
const WALK_BACK_S: f64 = 1.5;
/// Noisier tracks than this do not show every stand, metres.
const STANDS_SEEN_M: f64 = 0.3;
/// A shorter movement in which nobody passes or shoots is a walk, seconds.
const WALK_S: f64 = 5.0;
/// Shorter repetitions are no repetitions, seconds.
const LEAST_S: f64 = 1.5;

#[derive(Debug, Clone)]
struct Stand {
    from: usize,
    to: usize,
    places: Vec<[f64; 2]>,
    /// Where the ball is as it ends.
    ball: Option<[f64; 2]>,
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
            ball: ball_at(m, to),
        })
        .collect();
    let shots: Vec<(f64, f64, OutcomeKind)> = story
        .events
        .iter()
        .filter_map(|e| match e.kind {
            // Off the ring the repetition ends with the rebound, as a possession does.
            EventKind::Shot { ring_s, made, .. } => {
                // Who is not in the tracks, or lets it fall, is seen by the ball alone.
                let falls = story
                    .events
                    .iter()
                    .filter_map(|e| matches!(e.kind, EventKind::DeadBall).then_some(e.time_s));
                let rebound = (made == Some(false)).then(|| {
                    story
                        .spells
                        .iter()
                        .map(|sp| sp.from_s)
                        .chain(falls)
                        .filter(|t| *t > ring_s && *t < ring_s + LATEST_REBOUND_S)
                        .fold(f64::INFINITY, f64::min)
                });
                let rebound = rebound.map(|t| if t.is_finite() { t } else { ring_s + CAROM_S });
                let kind = match made {
                    Some(true) => OutcomeKind::Made,
                    Some(false) => OutcomeKind::Missed,
                    None => OutcomeKind::Unknown,
                };
                Some((e.time_s, rebound.unwrap_or(ring_s), kind))
            }
            _ => None,
        })
        .collect();
    let starts = anew(m, &stands, start_stands(m, story, &stands), &shots);
    let end_of_session = s.time(s.frames() - 1);
    let mut out: Vec<Draft> = Vec::new();
    for (k, &i) in starts.iter().enumerate() {
        let from_s = departure(m, stands[i].to);
        let next = starts.get(k + 1).copied();
        let until = next.map_or(end_of_session, |j| s.time(stands[j].from));
        let shot = shots.iter().find(|x| x.0 > from_s && x.0 < until);
        let (to_s, kind) = match shot {
            Some(x) => (x.1, x.2),
            None => {
                // The last stand before the walk back, and the last catch before that was over;
                // without a stand, the last catch.
                let last = stands[i + 1..next.unwrap_or(stands.len())].last();
                let over = last.map_or(until, |st| s.time(st.to));
                let came = last.map_or(until, |st| seconds(s, arrival(m, st)));
                let pass = story
                    .events
                    .iter()
                    .filter_map(|e| match e.kind {
                        EventKind::Pass { catch_s, .. } => Some(catch_s),
                        EventKind::HandOff { .. } => Some(e.time_s),
                        _ => None,
                    })
                    .rfind(|t| *t > from_s && *t < over.min(came + LATE_CATCH_S));
                let stop = last.map(|_| pass.map_or(came, |p| came.max(p)));
                (stop.or(pass).unwrap_or(until), OutcomeKind::Stopped)
            }
        };
        let played = story.events.iter().any(|e| {
            e.time_s > from_s - 0.3
                && e.time_s < to_s
                && matches!(
                    e.kind,
                    EventKind::Pass { .. } | EventKind::HandOff { .. } | EventKind::Shot { .. }
                )
        });
        if kind == OutcomeKind::Stopped && !played && to_s - from_s < WALK_S {
            // They stood where they start from, and walked off: what went before ended there.
            if let Some(last) = out.last_mut()
                && last.kind == OutcomeKind::Stopped
            {
                last.to_s = seconds(s, arrival(m, &stands[i])).max(last.to_s);
            }
            continue;
        }
        if let Some(last) = out.last_mut()
            && from_s - last.to_s < WALK_BACK_S
        {
            (last.to_s, last.kind) = (to_s.max(last.to_s), kind);
        } else if to_s - from_s >= LEAST_S {
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

/// Of these stands those that begin anew. What no shot ends ends with all standing where they are;
/// who comes to the places to start from before that has come there in the run of play.
fn anew(
    m: &Motion,
    stands: &[Stand],
    starts: Vec<usize>,
    shots: &[(f64, f64, OutcomeKind)],
) -> Vec<usize> {
    let s = m.session;
    let mut out: Vec<usize> = Vec::with_capacity(starts.len());
    for i in starts {
        let goes_on = out.last().is_some_and(|last| {
            let (from, to) = (s.time(stands[*last].to), s.time(stands[i].from));
            m.player_noise < STANDS_SEEN_M
                && i == last + 1
                && !shots.iter().any(|x| x.0 > from && x.0 < to)
        });
        if !goes_on {
            out.push(i);
        }
    }
    out
}

/// Stands from which a repetition starts: those in the places that the session comes back to
/// most often, of either hand, the ball in somebody's hands. A repetition's stops on the way
/// return only as often as that repetition does.
fn start_stands(m: &Motion, story: &BallStory, stands: &[Stand]) -> Vec<usize> {
    let s = m.session;
    let held = |st: &Stand| {
        let t = s.time(st.to);
        story
            .spells
            .iter()
            .any(|sp| sp.from_s <= t + 0.5 && sp.to_s >= t - 1.0)
    };
    let usable: Vec<usize> = (0..stands.len())
        .filter(|i| held(&stands[*i]) && front(&stands[*i]))
        .collect();
    let alike = |a: usize, b: usize| {
        let (a, b) = (&stands[a], &stands[b]);
        let ball = |flip: f64| match (a.ball, b.ball) {
            (Some(p), Some(q)) => dist([p[0], flip * p[1]], q) < SAME_BALL,
            _ => true,
        };
        (ball(1.0) && apart(&a.places, &b.places) < SAME_PLACES)
            || (ball(-1.0) && apart(&mirrored(&a.places), &b.places) < SAME_PLACES)
    };
    let visits: Vec<usize> = usable
        .iter()
        .map(|a| usable.iter().filter(|b| alike(*a, **b)).count())
        .collect();
    let most = visits.iter().copied().max().unwrap_or(0);
    let starts: Vec<usize> = usable
        .iter()
        .zip(&visits)
        .filter(|(_, v)| **v as f64 >= OFTEN * most as f64)
        .map(|x| *x.0)
        .collect();
    // A sway in the middle of a stand does not begin anything.
    let mut out: Vec<usize> = Vec::with_capacity(starts.len());
    for i in starts {
        if let Some(last) = out.last_mut()
            && s.time(stands[i].from) - s.time(stands[*last].to) < SWAY_S
            && apart(&stands[i].places, &stands[*last].places) < SWAY_M
        {
            *last = i;
        } else {
            out.push(i);
        }
    }
    out
}

/// Mean place of the ball over the last half second before a frame.
fn ball_at(m: &Motion, frame: usize) -> Option<[f64; 2]> {
    let from = frame.saturating_sub((0.5 * m.session.rate_hz) as usize);
    let (mut sum, mut n) = ([0.0; 2], 0.0);
    for b in (from..=frame).filter_map(|f| m.ball_seen(f)) {
        sum = [sum[0] + b[0], sum[1] + b[1]];
        n += 1.0;
    }
    (n > 0.0).then(|| [sum[0] / n, sum[1] / n])
}

fn mirrored(places: &[[f64; 2]]) -> Vec<[f64; 2]> {
    places.iter().map(|p| [p[0], -p[1]]).collect()
}

/// Frame at which the last of team 0 came within [`ARRIVED_M`] of where he then stands.
fn arrival(m: &Motion, st: &Stand) -> f64 {
    let s = m.session;
    let settle = (st.from + (0.8 * s.rate_hz) as usize).min(st.to);
    let back = st.from.saturating_sub((2.5 * s.rate_hz) as usize);
    s.roster(0)
        .filter_map(|i| {
            let (mut sum, mut n) = ([0.0; 2], 0.0);
            for p in (st.from..=settle).filter_map(|f| s.tracks[i].at(f)) {
                sum = [sum[0] + p.x, sum[1] + p.y];
                n += 1.0;
            }
            let rest = [sum[0] / n, sum[1] / n];
            (back..=st.from).rev().find(|f| {
                m.player(i, *f)
                    .is_some_and(|k| dist(k.pos, rest) > ARRIVED_M)
            })
        })
        .max()
        .map_or(st.from, |f| f + 1) as f64
}

/// When the quickest of team 0 about a frame left his place, seconds.
fn departure(m: &Motion, frame: usize) -> f64 {
    let s = m.session;
    let about = s.time(frame);
    let look = (frame + (0.15 * s.rate_hz) as usize).min(s.frames() - 1);
    let mover = s
        .roster(0)
        .filter_map(|i| Some((i, norm(m.player(i, look)?.vel))))
        .max_by(|a, b| a.1.total_cmp(&b.1));
    mover
        .and_then(|(i, _)| left(m, i, (about - BEFORE_S, about + AFTER_S)))
        .unwrap_or(about)
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
        player_half: (((0.5 + m.player_noise) * s.rate_hz).round() as usize).max(2),
        ..*m
    };
    let h = calm.player_half as f64;
    let error = m.player_noise * s.rate_hz / (h * (h + 1.0) * (2.0 * h + 1.0) / 3.0).sqrt();
    // The fastest of five standing players looks this fast through noise alone (Rayleigh); the
    // slow part of the noise drifts by about its own size in a second.
    let limit = params
        .stand_mps
        .hypot(2.2 * error.hypot(0.85 * m.player_noise));
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

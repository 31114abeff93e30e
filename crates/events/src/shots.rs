//! Shots: the ball comes to a ring that nobody's hands are at.

use crate::control::OVER_HANDS;
use crate::flight::{Bounds, Hand, Pace, fit};
use crate::motion::{Motion, dist};
use crate::params::ValidParams;
use crate::touches::{HAND_SPREAD, LONGEST_S, Touch, between};
use setdrift_court::End;

/// A shot at a ring. Times in frames.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Shot {
    pub release: f64,
    pub ring: f64,
    pub end: End,
    /// Least distance of the ball from the ring's centre seen from above, metres.
    pub miss: f64,
    /// Greatest height seen, metres.
    pub peak: Option<f64>,
    /// Whether it went in, where the ball's way tells.
    pub made: Option<bool>,
}

/// A ball this high near the ring is a try, metres: the ring is at 3.05 m (FIBA Official
/// Basketball Rules, Art. 2), and sensors err.
const HIGH: f64 = 2.45;
/// Height that a ball on its way up passes just after it left the hands, metres.
const LEAVES: f64 = 2.2;

/// Median time from the hands to the ring, and from the ring to hands, seconds: a ball thrown
/// from 2.2 m over the ring takes 0.5 (from under it) to 1.1 s (from behind the arc) by free
/// fall; caroms are common practice.
const SHOT_S: f64 = 0.75;
const CAROM_S: f64 = 0.8;

/// Reach of the arms from the middle of the body, seen from above, metres (common practice).
const ARM: f64 = 0.95;

/// Ring centre of an end in the court frame.
pub(crate) fn ring(m: &Motion, end: End) -> [f64; 2] {
    let r = m.session.court.ring().to_court(&m.session.court, end);
    [r.x, r.y]
}

/// Closest approach to a ring.
struct Visit {
    miss: f64,
    frame: usize,
    end: End,
}

fn visit(m: &Motion, from: usize, to: usize, counts: impl Fn(usize) -> bool) -> Option<Visit> {
    let mut best: Option<Visit> = None;
    for f in from..=to {
        let Some(b) = m.ball(f) else { continue };
        if !counts(f) {
            continue;
        }
        for end in [End::Left, End::Right] {
            let d = dist(b.pos, ring(m, end));
            if best.as_ref().is_none_or(|v| d < v.miss) {
                best = Some(Visit {
                    miss: d,
                    frame: f,
                    end,
                });
            }
        }
    }
    best
}

/// The shot that ends a touch, if one does.
pub(crate) fn shot(m: &Motion, p: &ValidParams, touch: Touch, next: Option<Touch>) -> Option<Shot> {
    let rate = m.session.rate_hz;
    let last = m.session.frames() - 1;
    // A lay-up may look held up to the ring, so look into the touch's end too.
    let from = (touch.to - 1.2 * rate).max(touch.from).max(0.0) as usize;
    let stop = next.map_or(touch.to + LONGEST_S * rate, |n| {
        n.from.min(touch.to + LONGEST_S * rate)
    });
    let to = ((stop + 0.2 * rate) as usize).min(last);
    if from > to {
        return None;
    }
    let heights = (from..=to).filter_map(|f| m.ball_height(f)).count();
    if 2 * heights > to - from {
        let high = |f: usize| m.ball_height(f).is_some_and(|z| z > HIGH);
        let v = visit(m, from, to, high)?;
        if v.miss > 1.0 + 1.5 * m.ball_noise {
            return None;
        }
        // Back down to where it was last in somebody's reach.
        let up = (touch.from.max(0.0) as usize..v.frame)
            .rev()
            .find(|f| m.ball_height(*f).is_some_and(|z| z < LEAVES))? as f64;
        let peak = (from..=to)
            .filter_map(|f| m.ball_height(f))
            .fold(0.0, f64::max);
        let release = ((up - 0.16 * rate).max(touch.from), up + 0.04 * rate);
        return Some(time(m, touch, &v, release, Some(peak)).0);
    }
    let v = visit(m, from, to, |_| true)?;
    let players = &m.session.players;
    let at_ring = |n: Touch| {
        m.player(n.player, v.frame)
            .is_some_and(|k| dist(k.pos, ring(m, v.end)) < 1.4)
    };
    let opponents = next.is_some_and(|n| players[n.player].team != players[touch.player].team);
    let lag = next.map_or(f64::INFINITY, |n| (n.from - touch.to) / rate);
    if v.miss > 0.5 + 1.2 * m.ball_noise {
        return None;
    }
    let at = v.frame as f64;
    let release = (
        (touch.to - 0.8 * rate).max(touch.from).min(at),
        (touch.to + 0.4 * rate).min(at),
    );
    let (shot, rms) = time(m, touch, &v, release, None);
    // A team-mate under the ring may be taking a pass.
    let pass = next
        .filter(|n| at_ring(*n) && !opponents && lag < 1.2)
        .and_then(|n| between(m, p, touch, n));
    if pass.is_some_and(|f| f.rms < 1.05 * rms) {
        return None;
    }
    Some(shot)
}

/// When the ball of a shot comes into a player's hands, frames: it leaves the ring in a straight
/// line as seen from above.
pub(crate) fn rebound(m: &Motion, shot: &Shot, next: Touch) -> f64 {
    let rate = m.session.rate_hz;
    let rough = next.from.max(shot.ring);
    if rough - shot.ring > 2.0 * rate || next.to <= shot.ring {
        return rough;
    }
    // Not in the hands while it is above them or out of their reach.
    let latest = (rough + 0.6 * rate).min(next.to.max(rough));
    let away = |f: usize| {
        m.ball_height(f).is_some_and(|z| z > OVER_HANDS)
            || matches!((m.ball(f), m.player(next.player, f)),
                (Some(b), Some(k)) if dist(b.pos, k.pos) > ARM + m.ball_noise)
    };
    let low = (shot.ring.ceil() as usize..=latest as usize)
        .rev()
        .find(|f| away(*f))
        .map_or(shot.ring, |f| f as f64);
    let bounds = Bounds {
        release: (shot.ring, shot.ring + 0.1 * rate),
        catch: (low.max((rough - 0.35 * rate).min(latest)), latest),
        data: (
            shot.ring.max(0.0) as usize,
            ((rough + 1.0 * rate).min(next.to) as usize).max(shot.ring as usize),
        ),
        met: None,
    };
    fit(
        m,
        Hand::Place(ring(m, shot.end)),
        Hand::Player(next.player),
        bounds,
        HAND_SPREAD,
        Pace::Time(CAROM_S),
    )
    .map_or(rough, |f| f.catch)
}

fn time(
    m: &Motion,
    touch: Touch,
    v: &Visit,
    release: (f64, f64),
    peak: Option<f64>,
) -> (Shot, f64) {
    let rate = m.session.rate_hz;
    let at = v.frame as f64;
    let last = (m.session.frames() - 1) as f64;
    let release = (release.0.min(release.1), release.1);
    let arrival = (
        (at - 0.4 * rate).max(release.0),
        (at + 0.3 * rate).min(last),
    );
    let found = fit(
        m,
        Hand::Player(touch.player),
        Hand::Place(ring(m, v.end)),
        Bounds {
            release,
            catch: arrival,
            data: (
                (release.0 - 0.5 * rate).max(touch.from).max(0.0) as usize,
                (at + 0.15 * rate).min(last).max(release.1) as usize,
            ),
            met: None,
        },
        HAND_SPREAD,
        Pace::Time(SHOT_S),
    );
    let (release, ring) = found.map_or((release.1.min(at), at), |f| (f.release, f.catch));
    let rms = found.map_or(f64::INFINITY, |f| f.rms);
    let shot = Shot {
        release,
        ring,
        end: v.end,
        miss: v.miss,
        peak,
        made: made(m, ring, v.end),
    };
    (shot, rms)
}

/// A ball through the net falls straight down; one off the ring leaves it. Judged by the mean
/// place from a third of a second to nearly a second after the ring (free fall from 3.05 m to the
/// floor takes 0.8 s).
fn made(m: &Motion, at: f64, end: End) -> Option<bool> {
    let rate = m.session.rate_hz;
    let from = (at + 0.3 * rate) as usize;
    let to = (at + 0.85 * rate) as usize;
    let (mut x, mut n) = ([0.0; 2], 0.0);
    for f in from..=to {
        if let Some(b) = m.ball_seen(f) {
            x[0] += b[0];
            x[1] += b[1];
            n += 1.0;
        }
    }
    if n < 3.0 {
        return None;
    }
    let far = dist([x[0] / n, x[1] / n], ring(m, end));
    let error = 1.5 * m.ball_noise / f64::sqrt(n);
    if far < 0.5 + error {
        Some(true)
    } else if far > 0.75 + error {
        Some(false)
    } else {
        None
    }
}

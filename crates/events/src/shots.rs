//! Shots: the ball comes to a ring that nobody's hands are at.

use crate::course::Ctl;
use crate::decode::Run;
use crate::flight::{Bounds, Hand, Pace, fit};
use crate::motion::{Motion, dist};
use crate::touches::{HAND_SPREAD, LONGEST_S, Touch};
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

/// Height that a ball on its way up passes just after it left the hands, metres.
const LEAVES: f64 = 2.2;

/// Median time from the hands to the ring, and from the ring to hands, seconds: a ball thrown
/// from 2.2 m over the ring takes 0.5 (from under it) to 1.1 s (from behind the arc) by free
/// fall; caroms are common practice.
const SHOT_S: f64 = 0.75;

/// Ring centre of an end in the court frame.
pub(crate) fn ring(m: &Motion, end: End) -> [f64; 2] {
    let r = m.session.court.ring().to_court(&m.session.court, end);
    [r.x, r.y]
}

/// The nearest ring and how far its centre is, seen from above, metres.
pub(crate) fn nearest_ring(m: &Motion, at: [f64; 2]) -> (End, f64) {
    let [left, right] = [End::Left, End::Right].map(|e| (e, dist(at, ring(m, e))));
    if right.1 < left.1 { right } else { left }
}

/// The shot that ends a touch, if the course goes from it to a ring before `until` (frames).
pub(crate) fn shot(m: &Motion, touch: Touch, until: f64, runs: &[Run]) -> Option<Shot> {
    let rate = m.session.rate_hz;
    let first = runs.partition_point(|r| (r.to as f64) <= touch.to);
    let at_ring = runs[first..]
        .iter()
        .take_while(|r| (r.from as f64) < until && (r.from as f64) < touch.to + LONGEST_S * rate)
        .find_map(|r| match r.ctl {
            Ctl::Off(end) => Some((r, end, false)),
            Ctl::Down(end) => Some((r, end, true)),
            _ => None,
        });
    let (run, end, down) = at_ring?;
    let at = run.from as f64;
    let last = (m.session.frames() - 1) as f64;
    let peak = (touch.to as usize..=run.to)
        .filter_map(|f| m.ball_height(f))
        .fold(None, |a: Option<f64>, z| Some(a.map_or(z, |a| a.max(z))));
    // With height: back down to where it was last in somebody's reach.
    let up = (touch.from.max(0.0) as usize..run.from)
        .rev()
        .find(|f| m.ball_height(*f).is_some_and(|z| z < LEAVES))
        .filter(|up| *up as f64 > touch.to - 0.8 * rate);
    let release = match up {
        Some(up) => (
            (up as f64 - 0.16 * rate).max(touch.from),
            (up as f64 + 0.08 * rate).min(at),
        ),
        None => (
            (touch.to - 0.4 * rate).max(touch.from),
            (touch.to + 0.4 * rate).min(at),
        ),
    };
    let release = (release.0.min(release.1), release.1);
    let arrival = (
        (at - 0.3 * rate).max(release.0),
        (at + 0.3 * rate).min(last),
    );
    let found = fit(
        m,
        Hand::Player(touch.player),
        Hand::Place(ring(m, end)),
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
    let (release, at) = found.map_or((touch.to.min(at), at), |f| (f.release, f.catch));
    let miss = m
        .ball(at.round() as usize)
        .map_or(f64::NAN, |b| dist(b.pos, ring(m, end)));
    Some(Shot {
        release,
        ring: at,
        end,
        miss,
        peak,
        made: made(m, at, end).or(Some(down)),
    })
}

/// A ball through the net falls straight down; one off the ring leaves it. Judged by the mean
/// place from a third of a second to nearly a second after the ring (free fall from 3.05 m to the
/// floor takes 0.8 s).
fn made(m: &Motion, at: f64, end: End) -> Option<bool> {
    let rate = m.session.rate_hz;
    if falls(m, at) == Some(false) {
        return Some(false);
    }
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

/// Time after the ring in which a ball through it falls freely, seconds.
const FALLS_S: (f64, f64) = (0.2, 0.6);
/// A ball that is in the mean this much higher then has come off the ring, metres.
const ABOVE_M: f64 = 0.7;

/// Whether the ball falls as freely as one through the net (4.9 t² in t seconds), where heights
/// tell.
fn falls(m: &Motion, at: f64) -> Option<bool> {
    let rate = m.session.rate_hz;
    let top = m.session.court.measures().ring_height;
    let (mut above, mut n) = (0.0, 0.0);
    for f in (at + FALLS_S.0 * rate).ceil() as usize..=(at + FALLS_S.1 * rate) as usize {
        if let Some(z) = m.ball_height(f) {
            let t = (f as f64 - at) / rate;
            above += z - (top - 4.903 * t * t);
            n += 1.0;
        }
    }
    (n >= 3.0).then(|| above / n < ABOVE_M + m.ball_noise / f64::sqrt(n))
}

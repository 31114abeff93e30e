//! When a player came to a stand, or pushed off from one.
//!
//! A hinge fit (Hudson 1966, J. Amer. Statist. Assoc. 61, 1097–1129): on his way in a straight
//! line, braking evenly, then at rest. Speeds of single frames would not do: at 10 Hz and 0.35 m
//! they are wrong by as much as a walk.

use crate::assumed::fresh;
use crate::motion::Motion;
use crate::story::seconds;
use setdrift_tracks::Known;

/// A player slower than this stands, m/s: half a walk (common practice, no published source).
pub(crate) const STANDS: f64 = 0.5;
/// How long before the contact he may have come to a stand, seconds.
const BACK_S: f64 = 3.0;
/// He stands on for so long after it, seconds: a user is past within that.
const ON_S: f64 = 0.25;
/// He stood for so long at least before he pushed off, seconds.
const STOOD_S: f64 = 0.8;
/// How much of the way before it is looked at, seconds: earlier he may have turned.
const WAY_S: f64 = 0.8;
/// The samples that are looked at begin so long before the contact, seconds.
pub const LOOKS_BACK_S: f64 = BACK_S + WAY_S;
/// Times for braking that are tried, seconds: from a walk, from a run (common practice).
const BRAKES_S: [f64; 3] = [0.25, 0.5, 0.8];
/// What the model of a straight way leaves out, metres.
const SWAY_M: f64 = 0.1;
/// And of standing about for longer, waiting for the word.
const LOITER_M: f64 = 0.3;
/// Between moments tried, seconds.
const STEP_S: f64 = 0.04;
/// A slower approach than this is none, m/s.
const LEAST_MPS: f64 = 0.8;

/// When a player's speed last fell below [`STANDS`] before a contact, session seconds, no earlier
/// than [`BACK_S`] before it: the middle of what the samples leave possible. `None` when he was
/// still moving at the contact, or too little of him was seen.
///
/// Costs moments × braking times × samples, about 60 × 3 × 4 s of frames.
pub(crate) fn stood(m: &Motion, player: usize, contact_s: f64) -> Option<f64> {
    let seen = samples(m, player, (contact_s - LOOKS_BACK_S, contact_s + ON_S))?;
    stand(&seen, variance(m), m.session.rate_hz, contact_s)
}

/// When a player came to a stand before `contact_s`, seconds: his speed last fell below 0.5 m/s,
/// the middle of what the samples leave possible. `None` when he was still moving at the contact or
/// the samples tell nothing.
///
/// `samples`: times in seconds and places in metres, measured ones only, from [`LOOKS_BACK_S`]
/// before the contact on; those later than a quarter of a second after it are passed over.
/// `noise`: their variance per axis, m². `rate_hz`: samples per second.
///
/// Costs moments × braking times × samples, about 60 × 3 × 4 s of frames.
#[must_use]
pub fn stand(samples: &[(f64, [f64; 2])], noise: f64, rate_hz: f64, contact_s: f64) -> Option<f64> {
    let at: Vec<_> = samples
        .iter()
        .map(|(t, p)| (t - contact_s, *p))
        .filter(|(t, _)| (-LOOKS_BACK_S..=ON_S).contains(t))
        .collect();
    let noise = noise + SWAY_M * SWAY_M;
    let found = middle(
        &at,
        (noise, rate_hz),
        (-BACK_S, ON_S),
        |rest, brake, speed| {
            // Braked evenly, he is slower than the limit this long before he rests.
            rest - brake * (STANDS / speed.max(LEAST_MPS)).min(1.0)
        },
    )?;
    (found < 0.0).then_some(contact_s + found)
}

/// Variance of a player's measured places per axis, m².
fn variance(m: &Motion) -> f64 {
    m.player_split.0 + m.player_split.1
}

/// When a player pushed off from where he stood, session seconds, between two times: the same
/// fit, with time running backward. `None` when too little of him was seen.
pub(crate) fn left(m: &Motion, player: usize, (from_s, to_s): (f64, f64)) -> Option<f64> {
    let seen = samples(m, player, (from_s - STOOD_S, to_s + WAY_S))?;
    let at: Vec<_> = seen.iter().map(|(t, p)| (to_s - t, *p)).collect();
    let noise = variance(m) + LOITER_M * LOITER_M;
    let rate_hz = m.session.rate_hz;
    middle(&at, (noise, rate_hz), (0.0, to_s - from_s), |rest, _, _| {
        rest
    })
    .map(|t| to_s - t)
}

/// Measured places between two times.
fn samples(m: &Motion, player: usize, (from_s, to_s): (f64, f64)) -> Option<Vec<(f64, [f64; 2])>> {
    let s = m.session;
    let track = s.tracks.get(player)?;
    let out: Vec<_> = (s.frame_at(from_s)..=s.frame_at(to_s).min(s.frames() - 1))
        .filter(|f| track.known[*f] == Known::Measured)
        .map(|f| (seconds(s, f as f64), [track.x[f], track.y[f]]))
        .collect();
    (out.len() >= 5).then_some(out)
}

/// The middle of the times, by `tell` from the beginning of rest, the braking time and the speed,
/// that the samples leave possible with the rest beginning within two times. `noise` is the variance
/// of the samples, with what the model of a straight way and of rest leaves out, m².
fn middle(
    samples: &[(f64, [f64; 2])],
    (noise, rate_hz): (f64, f64),
    (from, to): (f64, f64),
    tell: impl Fn(f64, f64, f64) -> f64,
) -> Option<f64> {
    let fresh = fresh(rate_hz);
    let mut tried: Vec<(f64, f64)> = Vec::new();
    let steps = ((to - from) / STEP_S) as usize;
    for k in 0..=steps {
        let rest = from + STEP_S * k as f64;
        for brake in BRAKES_S {
            let Some((misfit, speed)) = fit(samples, rest, brake, noise) else {
                continue;
            };
            let weak = if speed < LEAST_MPS && rest > from {
                4.0
            } else {
                0.0
            };
            tried.push((tell(rest, brake, speed), fresh * misfit + weak));
        }
    }
    let best = tried.iter().map(|t| t.1).fold(f64::INFINITY, f64::min);
    tried.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = tried.iter().map(|t| (best - t.1).exp()).sum();
    let mut sum = 0.0;
    tried
        .iter()
        .find(|t| {
            sum += (best - t.1).exp();
            sum >= 0.5 * total
        })
        .map(|t| t.0)
}

/// Misfit in nats of a way that ends at `rest`, and the speed before braking, m/s. Samples from
/// before [`WAY_S`] count what a perfect model would leave.
fn fit(samples: &[(f64, [f64; 2])], rest: f64, brake: f64, var: f64) -> Option<(f64, f64)> {
    let from = rest - brake - WAY_S;
    let (mut n, mut g1, mut g2, mut before) = (0.0, 0.0, 0.0, 0.0);
    let (mut y1, mut gy, mut yy) = ([0.0; 2], [0.0; 2], 0.0);
    for (t, p) in samples {
        if *t < from {
            before += 1.0;
            continue;
        }
        let ahead = (rest - t).max(0.0);
        let g = if ahead < brake {
            ahead * ahead / (2.0 * brake)
        } else {
            ahead - brake / 2.0
        };
        n += 1.0;
        g1 += g;
        g2 += g * g;
        for a in 0..2 {
            y1[a] += p[a];
            gy[a] += g * p[a];
            yy += p[a] * p[a];
        }
    }
    if n < 5.0 {
        return None;
    }
    let det = n * g2 - g1 * g1;
    let mut sse = yy;
    let mut speed = 0.0f64;
    for a in 0..2 {
        let c = if det > 1e-9 {
            (n * gy[a] - g1 * y1[a]) / det
        } else {
            0.0
        };
        let p0 = (y1[a] - c * g1) / n;
        sse -= p0 * y1[a] + c * gy[a];
        speed = speed.hypot(c);
    }
    Some((sse.max(0.0) / (2.0 * var) + before, speed))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A runner at 4 m/s who brakes evenly for half a second rests where the misfit is least.
    #[test]
    fn the_beginning_of_rest_is_found_on_a_clean_way() {
        let (rest, brake) = (-1.2, 0.5);
        let samples: Vec<(f64, [f64; 2])> = (0..100)
            .map(|k| {
                let t = -3.6 + 0.04 * f64::from(k);
                let ahead = f64::max(rest - t, 0.0);
                let left = if ahead < brake {
                    ahead * ahead / (2.0 * brake)
                } else {
                    ahead - brake / 2.0
                };
                (t, [-4.0 * left, 1.0 + 0.5 * left])
            })
            .collect();
        let best = (0..60)
            .map(|k| -3.0 + 0.05 * f64::from(k))
            .map(|t| (fit(&samples, t, brake, 0.01).unwrap(), t))
            .min_by(|a, b| a.0.0.total_cmp(&b.0.0))
            .unwrap();
        assert!((best.1 - rest).abs() < 0.06, "{best:?}");
        assert!((best.0.1 - 4.0_f64.hypot(0.5)).abs() < 0.1, "{best:?}");
    }
}

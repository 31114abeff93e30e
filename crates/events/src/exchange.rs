//! When a ball went from hand to hand: the change point of whose it is.
//!
//! Until a moment the ball is about the giver's body, from then on about the taker's. Either way
//! its offset is Gaussian: a constant that wanders, what outlasts a frame (posture, the sensors'
//! slow errors; first-order autoregressive), and white noise. A Kalman filter forward in time
//! gives the likelihood of all samples up to each moment under the giver, one backward in time
//! that of all after it under the taker (prediction error decomposition: Schweppe 1965, IEEE
//! Trans. Inf. Theory 11, 61–70). With a hazard of handing over while the two are within reach that is the posterior
//! of a single change point (Hinkley 1970, Biometrika 57, 1–17, with a prior). Linear in frames.

use crate::assumed::{AHEAD, TREMBLE, WILD, fresh};
use crate::bodies::bridged;
use crate::densest::{densest, mean};
use crate::flight::FIDGET;
use crate::motion::{Kin, Motion, SLOW_S, dist};
use crate::params::ValidParams;
use crate::touches::Touch;

/// The ball changes hands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Exchange {
    /// When, frames.
    pub frame: f64,
    /// How far apart the two bodies are then, metres.
    pub apart: f64,
}

/// How long before and after the rough change of control the ball may change hands, seconds.
const BEFORE_S: f64 = 1.6;
pub(crate) const AFTER_S: f64 = 0.6;
/// Time in the hands beyond that which is looked at, seconds.
const HANDS_S: f64 = 0.5;
/// How long before the rough change of control anything is looked at, seconds.
pub(crate) const LOOKS_BACK_S: f64 = BEFORE_S + HANDS_S;
/// How often the ball is handed over within reach, a second: on arrival. And out of reach.
const WITHIN: f64 = 4.0;
const BEYOND: f64 = 0.01;
/// Share of the greatest hand-off distance within which the ball is given, and how blurred that
/// is, metres (common practice, no published source).
const GIVEN: f64 = 0.68;
const BLURRED: f64 = 0.1;
/// Spread that a held ball's offset gains within a second, metres per axis, besides what comes
/// and goes: the dribble is picked up, the holder turns (common practice).
const WANDER: f64 = 0.22;
/// Moments this near are as good as each other, seconds.
const ABOUT_S: f64 = 0.25;
/// How late the change shows in the mean, seconds: the hands meet before the ball goes along.
/// Measured over two simulators.
const LATE_S: f64 = 0.06;

/// The likeliest change from one touch to the next, or `None` where either body is not known.
pub(crate) fn exchange(m: &Motion, p: &ValidParams, a: Touch, b: Touch) -> Option<Exchange> {
    let rate = m.session.rate_hz;
    let last = (m.session.frames() - 1) as f64;
    let from = (a.to - BEFORE_S * rate).max(a.from).max(0.0);
    let to = (b.from + AFTER_S * rate).min(b.to).min(last);
    let first = (from - HANDS_S * rate).max(a.from).max(0.0) as usize;
    let end = (to + HANDS_S * rate).min(b.to).min(last) as usize;
    let bodies = |player: usize| -> Option<Vec<Kin>> {
        (first..=end).map(|f| bridged(m, player, f)).collect()
    };
    let (giver, taker) = (bodies(a.player)?, bodies(b.player)?);
    let offsets = |body: &[Kin]| -> Vec<Option<[f64; 2]>> {
        body.iter()
            .zip(first..)
            .map(|(k, f)| {
                let ball = m.ball_seen(f)?;
                Some([0, 1].map(|i| ball[i] - k.pos[i] - AHEAD * k.vel[i]))
            })
            .collect()
    };
    let filter = Filter::new(m, p);
    let until = filter.support(offsets(&giver).into_iter());
    let mut since = filter.support(offsets(&taker).into_iter().rev());
    since.reverse();
    let apart: Vec<f64> = giver
        .windows(2)
        .zip(taker.windows(2))
        .map(|(g, t)| (dist(g[0].pos, t[0].pos) + dist(g[1].pos, t[1].pos)) / 2.0)
        .collect();
    let width = BLURRED + m.player_error();
    let mut waited = 0.0;
    let mut moments: Vec<(f64, f64, f64)> = Vec::with_capacity(apart.len());
    for (k, &d) in apart.iter().enumerate() {
        let hazard = WITHIN / (1.0 + ((d - GIVEN * p.hand_off_m) / width).exp()) + BEYOND;
        let at = (first + k) as f64 + 0.5;
        if at >= from - 0.5 && at <= to + 0.5 {
            moments.push((at, until[k] + since[k + 1] + hazard.ln() - waited, d));
        }
        waited += hazard / rate;
    }
    let top = moments
        .iter()
        .map(|x| x.1)
        .fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = moments.iter().map(|x| (x.1 - top).exp()).collect();
    let window = densest(&weights, (ABOUT_S * rate) as usize)?;
    let at = mean(&weights, &window, |k| moments[k].0);
    Some(Exchange {
        frame: (at - LATE_S * rate).max(a.from),
        apart: mean(&weights, &window, |k| moments[k].2),
    })
}

/// The ball's offset from the body that holds it; both axes share their variances.
struct Filter {
    /// What the constant part of the offset gains a frame, and what the slow part keeps.
    wander: f64,
    keep: f64,
    /// Variances per axis of the constant part, the slow part, and the white noise; square metres.
    hold: f64,
    slow: f64,
    white: f64,
    /// Share of a sample's evidence that is new.
    fresh: f64,
}

impl Filter {
    fn new(m: &Motion, p: &ValidParams) -> Self {
        let rate = m.session.rate_hz;
        let smoothed = m.player_split.0 / (2 * m.player_half + 1) as f64;
        Self {
            wander: WANDER * WANDER / rate,
            keep: (-1.0 / (rate * SLOW_S)).exp(),
            hold: p.hold_spread_m.powi(2),
            slow: m.player_split.1 + m.ball_split.1 + FIDGET * FIDGET,
            white: m.ball_split.0 + smoothed + TREMBLE * TREMBLE,
            fresh: fresh(rate),
        }
    }

    /// Log likelihood of the offsets up to each, nats.
    fn support(&self, offsets: impl Iterator<Item = Option<[f64; 2]>>) -> Vec<f64> {
        // Means per axis and covariance of the constant and the slow part.
        let mut mean = [[0.0; 2]; 2];
        let (mut cc, mut cs, mut ss) = (self.hold, 0.0, self.slow);
        let mut sum = 0.0;
        let mut out = Vec::new();
        for (k, offset) in offsets.enumerate() {
            if k > 0 {
                for x in &mut mean {
                    x[1] *= self.keep;
                }
                cc += self.wander;
                cs *= self.keep;
                ss = self.keep * self.keep * (ss - self.slow) + self.slow;
            }
            if let Some(y) = offset {
                let var = cc + 2.0 * cs + ss + self.white;
                let e = [0, 1].map(|i| y[i] - mean[i][0] - mean[i][1]);
                let sq = (e[0] * e[0] + e[1] * e[1]) / (2.0 * var);
                sum -= self.fresh * ((std::f64::consts::TAU * var).ln() + sq.min(WILD));
                if sq <= WILD {
                    let (gc, gs) = ((cc + cs) / var, (cs + ss) / var);
                    for (x, e) in mean.iter_mut().zip(e) {
                        x[0] += gc * e;
                        x[1] += gs * e;
                    }
                    let (a, b) = (cc + cs, cs + ss);
                    cc -= gc * a;
                    cs -= gc * b;
                    ss -= gs * b;
                }
            }
            out.push(sum);
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing;
    use setdrift_tracks::{Known, Session, Track};

    /// One stands with the ball, the other runs past at 3.5 m/s, 0.7 m away, and takes it along
    /// at `given` seconds; seen 20 times a second with errors of up to 0.1 m, `unseen` frames of
    /// the runner not at all.
    fn session(given: f64, unseen: usize) -> Session {
        let mut x = 5u64;
        let mut error = || {
            x = x.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            0.2 * ((x >> 11) as f64 / (1u64 << 53) as f64 - 0.5)
        };
        let mut track = |at: &dyn Fn(f64) -> [f64; 2]| {
            let places: Vec<[f64; 2]> = (0..160)
                .map(|k| at(f64::from(k) / 20.0).map(|v| v + error()))
                .collect();
            Track {
                x: places.iter().map(|p| p[0]).collect(),
                y: places.iter().map(|p| p[1]).collect(),
                z: None,
                known: vec![Known::Measured; 160],
            }
        };
        let runner = |t: f64| [3.5 * (t - 4.0), 0.7];
        let mut tracks = vec![track(&|_| [0.0, 0.0]), track(&runner)];
        let ball = track(&|t| {
            if t < given {
                [0.3, 0.1]
            } else {
                let [x, y] = runner(t);
                [x + 0.4, y - 0.3]
            }
        });
        tracks[1].known[80 - unseen / 2..80 + unseen / 2].fill(Known::Unknown);
        testing::session(
            20.0,
            tracks.into_iter().map(|t| (0, t)).collect(),
            Some(ball),
        )
    }

    fn found(session: &Session) -> Option<Exchange> {
        let touch = |player, from, to| Touch { player, from, to };
        exchange(
            &Motion::new(session),
            &ValidParams::default(),
            touch(0, 0.0, 88.0),
            touch(1, 89.0, 159.0),
        )
    }

    #[test]
    fn the_ball_is_given_when_it_begins_to_go_along() {
        for given in [3.85, 4.0, 4.1] {
            let x = found(&session(given, 0)).unwrap();
            let late = x.frame / 20.0 + LATE_S - given;
            assert!(late.abs() < 0.15, "{given} {x:?}");
            assert!((0.5..1.0).contains(&x.apart), "{x:?}");
        }
    }

    #[test]
    fn a_hole_in_a_track_is_bridged_and_a_long_one_is_not_guessed_at() {
        let x = found(&session(4.0, 20)).unwrap();
        assert!((x.frame / 20.0 + LATE_S - 4.0).abs() < 0.15, "{x:?}");
        assert_eq!(found(&session(4.0, 100)), None);
    }
}

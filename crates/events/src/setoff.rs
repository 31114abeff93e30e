//! When a player who has the ball set out.
//!
//! A body strives for a while, and then keeps the speed it has gained. Until the moment at which it sets
//! out it stands or goes on as it went. Given the moment and how long it strives everything is
//! linear, so place, speed beforehand and effort are integrated out in closed form under noise that
//! wanders ([`crate::linear`]); the rest is summed over a grid. Where the ball's height is known it
//! speaks too: held at the waist before and dribbled after, or dribbled all along.

use crate::assumed::fresh;
use crate::bodies::bridged;
use crate::grid;
use crate::linear::{Belief, Data, Hypothesis, Noise};
use crate::motion::{Motion, norm, sub};
use setdrift_tracks::Known;

/// Between entries of a table of ways, seconds.
const TABLE_S: f64 = 0.01;
/// Moments tried lie this far apart, seconds, and from so long before to so long after the speed
/// of being under way is reached.
const STEP_S: f64 = 0.04;
const EARLY_S: f64 = 1.2;
const LATE_S: f64 = 1.0;
/// How much is looked at before and after those, seconds.
const BEFORE_S: f64 = 0.6;
const AFTER_S: f64 = 0.4;

/// For how long he speeds up, and how quickly the force for it builds up, seconds: a step, a
/// few, a sprint; at once, or as in a stroll (common practice, no published source).
const SPEEDS_UP_S: [f64; 3] = [0.35, 0.7, 1.2];
const FORCE_S: [f64; 2] = [0.05, 0.2];
/// Effort along the way that he then goes, m/s²: mean, spread along and across.
const EFFORT: Belief = Belief {
    mean: 2.5,
    along: 2.0,
    across: 1.6,
};
/// Speed beforehand, m/s per axis, and share: of who stands, is on the move, comes to a stop.
const BEFOREHAND: [(f64, f64); 3] = [(0.15, 0.5), (1.2, 0.25), (2.0, 0.25)];
/// Time in which who comes to a stop loses his speed, seconds.
const STOPPING_S: f64 = 0.35;
/// Samples without which nothing is told.
const LEAST: usize = 8;
/// Moments less probable than the best by this factor (natural logarithm) are left out.
const NEGLIGIBLE: f64 = 10.0;
/// Restlessness of a body, m/s².
const RESTLESS: f64 = 0.6;
/// Sway of a body over its feet, metres, and time in which it and slow noise change, seconds.
const SWAY_M: f64 = 0.035;
const SWAY_S: f64 = 0.4;

/// Mean height of a held and of a dribbled ball, and spreads, metres (common practice).
const HELD_Z: (f64, f64) = (1.1, 0.2);
const DRIBBLED_Z: (f64, f64) = (0.55, 0.3);
/// The hand goes with the ball for so long when it is put on the floor, seconds.
const PUSHES_S: [f64; 4] = [0.0, 0.05, 0.1, 0.15];
/// Share of dribbles that go on from a dribble on the spot.
const LIVE: f64 = 0.4;

/// The frame at which a player set out with the ball who is under way at a frame, has had the ball
/// since `since` and moves until `stop`: the middle of what the samples leave possible, and no sooner
/// than he has the ball; and its standard deviation, seconds. `None` where too little of him was seen.
///
/// Costs moments × responses × samples, about 50 × 6 × 3 s of frames.
pub(crate) fn set_out(
    m: &Motion,
    responses: &Responses,
    player: usize,
    since: f64,
    (under_way, stop): (usize, usize),
) -> Option<(f64, f64)> {
    let s = m.session;
    let rate = s.rate_hz;
    let about = under_way as f64;
    let first = (about - (EARLY_S + BEFORE_S) * rate).max(0.0) as usize;
    let last = ((about + (LATE_S + AFTER_S) * rate) as usize)
        .min(stop)
        .min(s.frames() - 1);
    let track = s.tracks.get(player)?;
    let samples: Vec<(f64, [f64; 2])> = (first..=last)
        .filter(|f| track.known[*f] == Known::Measured)
        .map(|f| ((f as f64 - about) / rate, [track.x[f], track.y[f]]))
        .collect();
    let (a, b) = (m.player(player, under_way)?, bridged(m, player, last)?);
    let way = sub(b.pos, a.pos);
    let far = norm(way).max(1e-6);
    let noise = Noise {
        white: m.player_split.0.sqrt(),
        colour: SWAY_M.hypot(m.player_split.1.sqrt()),
        colour_s: SWAY_S,
        restless: (RESTLESS, RESTLESS),
        since: 0.0,
    };
    let toward = (way[0] / far, way[1] / far);
    let heights = Heights::new(m, since, (first, last), about);
    let (at, sd_s) = middle(&samples, toward, &noise, responses, &heights)?;
    Some(((about + at * rate).max(since), sd_s))
}

/// The middle of the moments that samples leave possible, seconds from where he is under way, and their
/// standard deviation about it.
fn middle(
    samples: &[(f64, [f64; 2])],
    toward: (f64, f64),
    noise: &Noise,
    responses: &Responses,
    heights: &Heights,
) -> Option<(f64, f64)> {
    let begin = samples.first()?.0;
    if samples.len() < LEAST {
        return None;
    }
    let d = Data::new(samples.iter().copied(), toward, noise);
    let steady = d.course(|t| t - begin);
    let stopping = d.course(|t| STOPPING_S * (1.0 - (-(t - begin) / STOPPING_S).exp()));
    let courses = [&steady, &steady, &stopping];
    let place = Hypothesis::place(&d);
    let befores: [(Hypothesis, f64); 3] = std::array::from_fn(|i| {
        let (sd, share) = BEFOREHAND[i];
        let before = place.with(courses[i], Belief::about_zero(sd), &[]);
        (before, share.ln())
    });
    let steps = ((EARLY_S + LATE_S) / STEP_S).round() as usize;
    let mut tried: Vec<(f64, f64)> = Vec::with_capacity(12 * (steps + 1));
    let peak = grid::search(steps + 1, NEGLIGIBLE, f64::NEG_INFINITY, |k, floor| {
        let at = -EARLY_S + STEP_S * k as f64;
        let spoken = heights.speak(at);
        let mut best = f64::NEG_INFINITY;
        for response in &responses.0 {
            let main = d.course(|t| response.way(t - at));
            let (with_steady, with_stopping) = (main.with(&steady), main.with(&stopping));
            let cross = [with_steady, with_steady, with_stopping];
            for ((before, log_share), cross) in befores.iter().zip(cross) {
                let moved = before.with(&main, EFFORT, &[cross]);
                let w = moved.log_evidence() + log_share + spoken;
                if w > floor {
                    best = best.max(w);
                    tried.push((at, w));
                }
            }
        }
        best
    });
    tried.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = tried.iter().map(|t| (t.1 - peak).exp()).sum();
    let mut sum = 0.0;
    let at = tried.iter().find(|t| {
        sum += (t.1 - peak).exp();
        sum >= 0.5 * total
    })?;
    let square = |t: &(f64, f64)| (t.1 - peak).exp() * (t.0 - at.0).powi(2);
    Some((at.0, (tried.iter().map(square).sum::<f64>() / total).sqrt()))
}

/// How bodies answer an effort of 1 m/s².
pub(crate) struct Responses(Vec<Response>);

/// Way in metres after every [`TABLE_S`].
struct Response(Vec<f64>);

impl Responses {
    pub fn new() -> Self {
        let n = ((EARLY_S + LATE_S + AFTER_S) / TABLE_S) as usize + 3;
        let one = |long: f64, force: f64| {
            Response(
                (0..n)
                    .map(|k| way(k as f64 * TABLE_S, long, force))
                    .collect(),
            )
        };
        Self(
            SPEEDS_UP_S
                .into_iter()
                .flat_map(|long| FORCE_S.into_iter().map(move |force| one(long, force)))
                .collect(),
        )
    }
}

impl Response {
    fn way(&self, t: f64) -> f64 {
        if t <= 0.0 {
            return 0.0;
        }
        let x = t / TABLE_S;
        let k = (x as usize).min(self.0.len() - 2);
        self.0[k] + (x - k as f64) * (self.0[k + 1] - self.0[k])
    }
}

/// Way after `t` seconds of who speeds up with 1 m/s² for `long` seconds and then keeps his speed,
/// the force for it building up and dying away as a first-order lag of `force` seconds, metres.
fn way(t: f64, long: f64, force: f64) -> f64 {
    let even = |t: f64| {
        if t <= 0.0 {
            0.0
        } else {
            0.5 * t * t - force * t + force * force * (1.0 - (-t / force).exp())
        }
    };
    even(t) - even(t - long)
}

/// What the ball's height says of when it was put on the floor.
struct Heights {
    /// Moment and log odds that it was dribbled rather than held, up to and with each sample.
    sums: Vec<(f64, f64)>,
}

impl Heights {
    fn new(m: &Motion, since: f64, (first, last): (usize, usize), about: f64) -> Self {
        let rate = m.session.rate_hz;
        let fresh = fresh(rate);
        let error = m.ball_split.0 + m.ball_split.1;
        let log = |z: f64, (mean, spread): (f64, f64)| {
            let var = spread * spread + error;
            -(z - mean).powi(2) / (2.0 * var) - 0.5 * var.ln()
        };
        let mut sum = 0.0;
        let from = first.max(since.ceil() as usize);
        let sums = (from..=last)
            .filter_map(|f| Some((f, m.ball_height(f)?)))
            .map(|(f, z)| {
                sum += fresh * (log(z, DRIBBLED_Z) - log(z, HELD_Z)).clamp(-3.0, 3.0);
                ((f as f64 - about) / rate, sum)
            })
            .collect();
        Self { sums }
    }

    /// Log likelihood of a dribble that began at a moment, up to a constant.
    fn speak(&self, at: f64) -> f64 {
        let Some(all) = self.sums.last().map(|s| s.1) else {
            return 0.0;
        };
        let before = |push: f64| {
            let k = self.sums.partition_point(|s| s.0 < at + push);
            if k == 0 { 0.0 } else { self.sums[k - 1].1 }
        };
        // Held before and dribbled after, or dribbled all along; the other is held all along.
        let share = ((1.0 - LIVE) / PUSHES_S.len() as f64).ln();
        let put = PUSHES_S.map(|p| all - before(p) + share);
        let live = all + LIVE.ln();
        let top = put.iter().copied().fold(live, f64::max);
        top + (put.iter().map(|p| (p - top).exp()).sum::<f64>() + (live - top).exp()).ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_closed_form_solves_the_equations() {
        for (long, force) in [(0.35, 0.05), (1.2, 0.2)] {
            let (mut f, mut v, mut x) = (0.0, 0.0, 0.0);
            let h = 1e-5;
            for i in 0..200_000 {
                let t = f64::from(i) * h;
                if i % 10_000 == 0 {
                    assert!((way(t, long, force) - x).abs() < 1e-4, "{long} {force} {t}");
                }
                let wanted = if t < long { 1.0 } else { 0.0 };
                x += v * h;
                v += f * h;
                f += (wanted - f) / force * h;
            }
        }
    }

    /// Samples at 25 Hz of one who stands, then speeds up by `effort` until he goes at 3 m/s.
    fn runner(start: f64, effort: f64) -> Vec<(f64, [f64; 2])> {
        (-45..36)
            .map(|k| {
                let t = 0.04 * f64::from(k);
                let on = (t - start).max(0.0);
                let long = 3.0 / effort;
                let x = 0.5 * effort * on.min(long).powi(2) + 3.0 * (on - long).max(0.0);
                (t, [5.0 - 0.6 * x, 1.0 + 0.8 * x])
            })
            .collect()
    }

    const NOISE: Noise = Noise {
        white: 0.05,
        colour: 0.05,
        colour_s: 0.4,
        restless: (RESTLESS, RESTLESS),
        since: 0.0,
    };

    /// How quickly force builds up is not known, nor which of a slow start is restlessness: single starts
    /// are a fifth of a second off at most, and not all to one side.
    #[test]
    fn slow_and_quick_starts_are_found_without_height() {
        let none = Heights { sums: Vec::new() };
        let errors = [(-0.4, 2.5), (-0.2, 4.5), (0.1, 4.5), (-0.7, 1.5)].map(|(start, effort)| {
            let samples = runner(start, effort);
            let found = middle(&samples, (-0.6, 0.8), &NOISE, &Responses::new(), &none);
            found.unwrap().0 - start
        });
        assert!(errors.iter().all(|e| e.abs() < 0.2), "{errors:?}");
        assert!(errors.iter().sum::<f64>().abs() < 0.2, "{errors:?}");
    }

    #[test]
    fn the_noisier_the_track_the_less_sure() {
        let none = Heights { sums: Vec::new() };
        let sd = |white: f64| {
            let noise = Noise { white, ..NOISE };
            let found = middle(
                &runner(-0.2, 3.0),
                (-0.6, 0.8),
                &noise,
                &Responses::new(),
                &none,
            );
            found.unwrap().1
        };
        let (clear, poor) = (sd(0.02), sd(0.35));
        assert!(
            clear > 0.05 && poor > 1.15 * clear && poor < 0.4,
            "{clear} {poor}"
        );
    }

    /// Who dribbles only a while after he has set out is told when the ball leaves his hands.
    #[test]
    fn the_height_of_the_ball_tells_when_it_was_put_on_the_floor() {
        let mut sum = 0.0;
        let sums = (-45..36)
            .map(|k| {
                let t = 0.04 * f64::from(k);
                sum += if t < -0.1 { -2.0 } else { 1.0 };
                (t, sum)
            })
            .collect();
        let noise = Noise {
            white: 0.3,
            ..NOISE
        };
        let tell = |heights: &Heights| {
            middle(
                &runner(-0.4, 2.5),
                (-0.6, 0.8),
                &noise,
                &Responses::new(),
                heights,
            )
            .unwrap()
            .0
        };
        assert!(tell(&Heights { sums }) > -0.25);
        assert!(tell(&Heights { sums: Vec::new() }) < -0.25);
    }
}

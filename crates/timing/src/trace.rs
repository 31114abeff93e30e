//! One player's samples over a stretch of time, as the declared offence sees them: attack frame,
//! and mirrored back when the option was run to the other hand.

use setdrift_court::{AttackPoint, Court, End};
use setdrift_recognise::model::Hand;
use setdrift_tracks::{Known, Session, Track};

/// From the court frame to the frame in which the playbook is written, and back.
#[derive(Debug, Clone, Copy)]
pub struct Frame<'a> {
    /// The floor.
    pub court: &'a Court,
    /// The end attacked.
    pub end: End,
    /// Whether the run was mirrored.
    pub hand: Hand,
}

impl Frame<'_> {
    /// A place as declared, of a place on the floor.
    #[must_use]
    pub fn declared(&self, p: setdrift_court::CourtPoint) -> AttackPoint {
        let q = p.to_attack(self.court, self.end);
        match self.hand {
            Hand::Right => q,
            Hand::Left => q.mirrored(),
        }
    }
}

/// One sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// Session time, seconds.
    pub t: f64,
    /// As [`AttackPoint::x`], metres.
    pub x: f64,
    /// As [`AttackPoint::y`], metres.
    pub y: f64,
    /// Whether the sensor gave it; otherwise it was filled in from both sides.
    pub measured: bool,
}

/// Samples of one player in time order; unknown frames are absent.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Trace {
    /// The samples.
    pub samples: Vec<Sample>,
}

/// Place and velocity at a moment, by least squares over the samples about it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Local {
    /// Where, metres.
    pub at: AttackPoint,
    /// Velocity along `x` and `y`, m/s.
    pub velocity: (f64, f64),
    /// Standard deviation of `at` per axis for a sample noise of 1 m per axis.
    pub place_gain: f64,
    /// Standard deviation of `velocity` per axis, 1/s, for a sample noise of 1 m per axis.
    pub speed_gain: f64,
}

impl Local {
    /// Speed, m/s.
    #[must_use]
    pub fn speed(&self) -> f64 {
        self.velocity.0.hypot(self.velocity.1)
    }
}

impl Trace {
    /// A track's known samples from `from_s` to `to_s`, both included.
    #[must_use]
    pub fn of(session: &Session, track: &Track, frame: Frame<'_>, from_s: f64, to_s: f64) -> Self {
        if from_s.is_nan() || to_s.is_nan() || to_s < from_s {
            return Self::default();
        }
        let samples = (session.frame_at(from_s)..=session.frame_at(to_s))
            .filter_map(|i| {
                let t = session.time(i);
                if t < from_s - 1e-9 || t > to_s + 1e-9 {
                    return None;
                }
                let p = frame.declared(track.at(i)?);
                let measured = track.known[i] == Known::Measured;
                Some(Sample {
                    t,
                    x: p.x,
                    y: p.y,
                    measured,
                })
            })
            .collect();
        Self { samples }
    }

    /// The samples with `from_s <= t <= to_s`.
    #[must_use]
    pub fn between(&self, from_s: f64, to_s: f64) -> &[Sample] {
        let a = self.samples.partition_point(|s| s.t < from_s - 1e-9);
        let b = self.samples.partition_point(|s| s.t <= to_s + 1e-9);
        &self.samples[a..b.max(a)]
    }

    /// Place and velocity at `t`: a straight line through the samples within `half` seconds.
    /// `None` where fewer than three samples are near or none lies within `half / 2` of `t`, so
    /// that a gap is never bridged.
    #[must_use]
    pub fn local(&self, t: f64, half: f64) -> Option<Local> {
        let near = self.between(t - half, t + half);
        if near.len() < 3 || !near.iter().any(|s| (s.t - t).abs() <= half / 2.0 + 1e-9) {
            return None;
        }
        let n = near.len() as f64;
        let tm = near.iter().map(|s| s.t).sum::<f64>() / n;
        let xm = near.iter().map(|s| s.x).sum::<f64>() / n;
        let ym = near.iter().map(|s| s.y).sum::<f64>() / n;
        let (mut tt, mut tx, mut ty) = (0.0, 0.0, 0.0);
        for s in near {
            let d = s.t - tm;
            tt += d * d;
            tx += d * (s.x - xm);
            ty += d * (s.y - ym);
        }
        if tt <= 0.0 {
            return None;
        }
        let (vx, vy) = (tx / tt, ty / tt);
        let d = t - tm;
        Some(Local {
            at: AttackPoint::new(xm + vx * d, ym + vy * d),
            velocity: (vx, vy),
            place_gain: (1.0 / n + d * d / tt).sqrt(),
            speed_gain: (1.0 / tt).sqrt(),
        })
    }

    /// Share of `frames` that carry a measured sample, 0..=1.
    #[must_use]
    pub fn measured_share(&self, from_s: f64, to_s: f64, rate_hz: f64) -> f64 {
        let frames = ((to_s - from_s) * rate_hz).floor() + 1.0;
        if frames < 1.0 {
            return 0.0;
        }
        let n = self
            .between(from_s, to_s)
            .iter()
            .filter(|s| s.measured)
            .count();
        (n as f64 / frames).min(1.0)
    }

    /// Sample noise per axis, metres: the scaled median of absolute second differences, which a
    /// person's own acceleration barely touches (white noise has a second difference of
    /// variance 6σ²; 0.6745 is the median of |N(0,1)|). `None` under eight neighbouring triples.
    #[must_use]
    pub fn noise(&self, rate_hz: f64) -> Option<f64> {
        let step = 1.5 / rate_hz;
        let mut d: Vec<f64> = self
            .samples
            .windows(3)
            .filter(|w| {
                w.iter().all(|s| s.measured) && w[1].t - w[0].t < step && w[2].t - w[1].t < step
            })
            .flat_map(|w| {
                [
                    (w[2].x - 2.0 * w[1].x + w[0].x).abs(),
                    (w[2].y - 2.0 * w[1].y + w[0].y).abs(),
                ]
            })
            .collect();
        if d.len() < 16 {
            return None;
        }
        d.sort_by(f64::total_cmp);
        Some(d[d.len() / 2] / 0.6745 / 6.0_f64.sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(n: usize, rate: f64) -> Trace {
        Trace {
            samples: (0..n)
                .map(|i| {
                    let t = i as f64 / rate;
                    Sample {
                        t,
                        x: 1.0 + 2.0 * t,
                        y: 3.0 - t,
                        measured: true,
                    }
                })
                .collect(),
        }
    }

    #[test]
    fn a_straight_run_is_read_exactly() {
        let l = line(40, 20.0).local(0.975, 0.25).unwrap();
        assert!((l.at.x - 2.95).abs() < 1e-12 && (l.at.y - 2.025).abs() < 1e-12);
        assert!((l.velocity.0 - 2.0).abs() < 1e-12 && (l.velocity.1 + 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_gap_is_not_bridged() {
        let mut t = line(40, 20.0);
        t.samples.retain(|s| !(0.8..=1.2).contains(&s.t));
        assert!(t.local(1.0, 0.3).is_none());
        assert!(t.local(0.7, 0.3).is_some());
        assert!((t.measured_share(0.5, 1.5, 20.0) - 12.0 / 21.0).abs() < 0.05);
    }

    #[test]
    fn noise_is_the_standard_deviation_of_white_noise() {
        let mut rng = crate::random::Rng::new(3);
        let mut t = line(4000, 20.0);
        for s in &mut t.samples {
            s.x += 0.25 * rng.normal();
            s.y += 0.25 * rng.normal();
        }
        let n = t.noise(20.0).unwrap();
        assert!((n - 0.25).abs() < 0.01, "{n}");
    }
}

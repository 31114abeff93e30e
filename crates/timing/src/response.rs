//! How a body answers an effort: the way it makes per unit of acceleration striven for.

use crate::profile::Profile;

/// A body's answer to an effort of 1 m/s² from time 0 on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Response {
    /// `v' = f − v/speed_s`, `f' = (1 − f)/force_s`: speed against a resistance that grows with it
    /// (a runner's first-order lag, Furusawa, Hill & Parkinson 1927, Proc. R. Soc. B 102; value from
    /// memory), and a force that takes time to build up; the two constants differ, seconds.
    Lag {
        /// Time constant of the speed.
        speed_s: f64,
        /// Time constant of the force.
        force_s: f64,
    },
    /// From rest to rest in `long_s` seconds, with a peak acceleration of 1 m/s².
    Rest {
        /// The course.
        profile: Profile,
        /// Its duration.
        long_s: f64,
    },
}

/// Weights of the two lags' exponentials, where both lags differ.
fn lag_weights(speed_s: f64, force_s: f64) -> (f64, f64) {
    let apart = speed_s - force_s;
    (speed_s * speed_s / apart, force_s * speed_s / apart)
}

impl Response {
    /// Way made by time `t`, metres.
    #[must_use]
    pub fn way(&self, t: f64) -> f64 {
        if t <= 0.0 {
            return 0.0;
        }
        match *self {
            Self::Lag { speed_s, force_s } => {
                let (s, f) = (speed_s, force_s);
                let (a, b) = lag_weights(s, f);
                s * t - a * s * (1.0 - (-t / s).exp()) + b * f * (1.0 - (-t / f).exp())
            }
            Self::Rest { profile, long_s } => {
                profile.progress(t / long_s) * long_s * long_s / profile.peak_acceleration()
            }
        }
    }

    /// Speed at time `t`, m/s.
    #[must_use]
    pub fn speed(&self, t: f64) -> f64 {
        if t <= 0.0 {
            return 0.0;
        }
        match *self {
            Self::Lag { speed_s, force_s } => {
                let (s, f) = (speed_s, force_s);
                let (a, b) = lag_weights(s, f);
                s - a * (-t / s).exp() + b * (-t / f).exp()
            }
            Self::Rest { profile, long_s } => {
                profile.speed(t / long_s) * long_s / profile.peak_acceleration()
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_closed_form_solves_the_equations() {
        for (speed_s, force_s) in [(0.3, 0.04), (0.7, 0.2), (2.0, 0.45), (0.3, 0.45)] {
            let r = Response::Lag { speed_s, force_s };
            let (mut f, mut v, mut x) = (0.0, 0.0, 0.0);
            let h = 1e-5;
            for i in 0..120_000 {
                let t = f64::from(i) * h;
                if i % 10_000 == 0 {
                    assert!((r.way(t) - x).abs() < 1e-4, "{r:?} way at {t}");
                    assert!((r.speed(t) - v).abs() < 1e-4, "{r:?} speed at {t}");
                }
                x += v * h;
                v += (f - v / speed_s) * h;
                f += (1.0 - f) / force_s * h;
            }
        }
    }

    #[test]
    fn from_rest_to_rest_peaks_at_one() {
        for profile in Profile::ALL {
            let r = Response::Rest {
                profile,
                long_s: 1.7,
            };
            let h = 1e-4;
            let peak = (1..8000)
                .map(|i| f64::from(i) * h)
                .map(|t| (r.way(t + h) - 2.0 * r.way(t) + r.way(t - h)) / (h * h))
                .fold(0.0, f64::max);
            assert!((peak - 1.0).abs() < 5e-3, "{profile:?} {peak}");
            assert!(((r.way(0.6 + h) - r.way(0.6 - h)) / (2.0 * h) - r.speed(0.6)).abs() < 1e-3);
        }
    }
}

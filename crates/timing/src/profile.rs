//! Movement models: how far along its way a movement from rest to rest is, as a share of its
//! duration. The onset is where a model leaves zero.

/// The course of a movement from rest to rest over one unit of time and one of length.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Profile {
    /// `10u³ - 15u⁴ + 6u⁵`: least jerk between two rests (Flash & Hogan 1985, J. Neurosci. 5(7)).
    MinimumJerk,
    /// Full acceleration to the middle, full braking after it: least time for a bounded force.
    BangBang,
    /// Constant acceleration over the first 0.3, cruise, constant braking over the last 0.3.
    Cruise,
    /// As `Cruise` with the acceleration itself swelling and fading (speed `3z² - 2z³`).
    SoftCruise,
    /// Speed that rises as `1 - exp(-u/τ)` with τ = 0.15 (a runner against a resistance that
    /// grows with speed: Furusawa, Hill & Parkinson 1927, Proc. R. Soc. B 102; value from memory)
    /// and falls evenly over the last 0.25.
    Sprint,
}

/// Share of the duration a cruising model takes to gain its speed, and to lose it.
const RAMP: f64 = 0.3;
const SOFT_RAMP: f64 = 0.35;
/// Time constant of a sprint's speed, and the share of the duration in which it stops.
const TAU: f64 = 0.15;
const STOP: f64 = 0.25;

impl Profile {
    /// All models, in a fixed order.
    pub const ALL: [Self; 5] = [
        Self::MinimumJerk,
        Self::BangBang,
        Self::Cruise,
        Self::SoftCruise,
        Self::Sprint,
    ];

    /// Share of the way covered at a share `u` of the duration: 0 before the onset, 1 after the
    /// end.
    #[must_use]
    pub fn progress(self, u: f64) -> f64 {
        if u <= 0.0 {
            return 0.0;
        }
        if u >= 1.0 {
            return 1.0;
        }
        match self {
            Self::MinimumJerk => u * u * u * (10.0 + u * (6.0 * u - 15.0)),
            Self::BangBang => {
                if u < 0.5 {
                    2.0 * u * u
                } else {
                    1.0 - 2.0 * (1.0 - u) * (1.0 - u)
                }
            }
            Self::Cruise => ramped(u, RAMP, |z| z * z / 2.0),
            Self::SoftCruise => ramped(u, SOFT_RAMP, |z| z * z * z * (1.0 - z / 2.0)),
            Self::Sprint => sprint(u),
        }
    }

    /// Belief in the model before any sample is seen; the two textbook extremes lead, the
    /// others follow. Sums to 1.
    #[must_use]
    pub fn prior(self) -> f64 {
        match self {
            Self::MinimumJerk => 0.2,
            Self::BangBang => 0.35,
            Self::Cruise => 0.15,
            Self::SoftCruise => 0.1,
            Self::Sprint => 0.2,
        }
    }

    /// Greatest speed for a way of 1 in a time of 1.
    #[must_use]
    pub fn peak_speed(self) -> f64 {
        match self {
            Self::MinimumJerk => 1.875,
            Self::BangBang => 2.0,
            Self::Cruise => 1.0 / (1.0 - RAMP),
            Self::SoftCruise => 1.0 / (1.0 - SOFT_RAMP),
            Self::Sprint => sprint_top() * (1.0 - (-(1.0 - STOP) / TAU).exp()),
        }
    }

    /// Greatest acceleration for a way of 1 in a time of 1.
    #[must_use]
    pub fn peak_acceleration(self) -> f64 {
        match self {
            // 10 / sqrt(3), where the third derivative of the polynomial is zero.
            Self::MinimumJerk => 5.773_502_691_896_258,
            Self::BangBang => 4.0,
            Self::Cruise => self.peak_speed() / RAMP,
            Self::SoftCruise => 1.5 * self.peak_speed() / SOFT_RAMP,
            Self::Sprint => sprint_top() / TAU,
        }
    }
}

/// Gain speed over `ramp` (its integral given, 1/2 at 1), cruise, lose it the same way.
fn ramped(u: f64, ramp: f64, gain: impl Fn(f64) -> f64) -> f64 {
    let speed = 1.0 / (1.0 - ramp);
    if u < ramp {
        speed * ramp * gain(u / ramp)
    } else if u <= 1.0 - ramp {
        speed * (u - ramp / 2.0)
    } else {
        1.0 - speed * ramp * gain((1.0 - u) / ramp)
    }
}

/// The speed a sprint over a way of 1 in a time of 1 strives for.
fn sprint_top() -> f64 {
    let run = 1.0 - STOP;
    let rise = run - TAU * (1.0 - (-run / TAU).exp());
    let fall = 0.5 * STOP * (1.0 - (-run / TAU).exp());
    1.0 / (rise + fall)
}

fn sprint(u: f64) -> f64 {
    let (top, run) = (sprint_top(), 1.0 - STOP);
    if u <= run {
        return top * (u - TAU * (1.0 - (-u / TAU).exp()));
    }
    let left = 1.0 - u;
    1.0 - top * (1.0 - (-run / TAU).exp()) * left * left / (2.0 * STOP)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn minimum_jerk_is_the_published_polynomial() {
        // Flash & Hogan 1985, eq. for a point-to-point movement; value from memory.
        for i in 0..=20 {
            let u = f64::from(i) / 20.0;
            let closed = 10.0 * u.powi(3) - 15.0 * u.powi(4) + 6.0 * u.powi(5);
            assert!((Profile::MinimumJerk.progress(u) - closed).abs() < 1e-14);
        }
    }

    #[test]
    fn stated_peaks_are_those_of_the_curves() {
        let h = 1e-4;
        for p in Profile::ALL {
            let (mut v, mut a) = (0.0_f64, 0.0_f64);
            let mut before = 0.0;
            let mut u = h;
            while u < 1.0 - h {
                let (l, m, r) = (p.progress(u - h), p.progress(u), p.progress(u + h));
                assert!(m >= before, "{p:?} goes back at {u}");
                before = m;
                v = v.max((r - l) / (2.0 * h));
                a = a.max((r - 2.0 * m + l) / (h * h));
                u += h;
            }
            assert!((v - p.peak_speed()).abs() < 2e-3, "{p:?} speed {v}");
            assert!(
                (a - p.peak_acceleration()).abs() < 2e-2,
                "{p:?} acceleration {a}"
            );
        }
    }
}

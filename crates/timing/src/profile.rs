//! Movement models: how far along its way a movement from rest to rest is, as a share of its
//! duration. The onset is where a model leaves zero.

/// The course of a movement from rest to rest over one unit of time and one of length.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Profile {
    /// `10u³ - 15u⁴ + 6u⁵`: least jerk between two rests (Flash & Hogan 1985, J. Neurosci. 5(7)).
    MinimumJerk,
    /// Full acceleration to the middle, full braking after it: least time for a bounded force.
    BangBang,
}

impl Profile {
    /// Both, in a fixed order.
    pub const ALL: [Self; 2] = [Self::MinimumJerk, Self::BangBang];

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
        }
    }

    /// Speed at a share `u` of the duration, for a way of 1 in a time of 1.
    #[must_use]
    pub fn speed(self, u: f64) -> f64 {
        if !(0.0..=1.0).contains(&u) {
            return 0.0;
        }
        match self {
            Self::MinimumJerk => 30.0 * u * u * (1.0 - u) * (1.0 - u),
            Self::BangBang => 4.0 * u.min(1.0 - u),
        }
    }

    /// Greatest speed for a way of 1 in a time of 1.
    #[must_use]
    pub fn peak_speed(self) -> f64 {
        match self {
            Self::MinimumJerk => 1.875,
            Self::BangBang => 2.0,
        }
    }

    /// Greatest acceleration for a way of 1 in a time of 1.
    #[must_use]
    pub fn peak_acceleration(self) -> f64 {
        match self {
            // 10 / sqrt(3), where the third derivative of the polynomial is zero.
            Self::MinimumJerk => 5.773_502_691_896_258,
            Self::BangBang => 4.0,
        }
    }
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
                let slope = (r - l) / (2.0 * h);
                assert!((slope - p.speed(u)).abs() < 1e-3, "{p:?} speed at {u}");
                v = v.max(slope);
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

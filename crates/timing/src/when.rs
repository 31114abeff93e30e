//! The verdict on a lag: early, on time, late, from its probability against the window.

use crate::model::When;

/// Distribution function of the standard normal, by Abramowitz & Stegun 7.1.26 (error under
/// 1.5e-7).
#[must_use]
pub fn normal_cdf(z: f64) -> f64 {
    let x = z.abs() / std::f64::consts::SQRT_2;
    let t = 1.0 / (1.0 + 0.327_591_1 * x);
    let poly = t
        * (0.254_829_592
            + t * (-0.284_496_736
                + t * (1.421_413_741 + t * (-1.453_152_027 + t * 1.061_405_429))));
    let half = 0.5 * poly * (-x * x).exp();
    if z >= 0.0 { 1.0 - half } else { half }
}

/// Judges a lag with standard deviation `sd_s` against a window. Early and late are said only
/// with probability `sure` or more, so a lag on the edge counts as on time; where on time is
/// itself unlikely (a window much narrower than the uncertainty) there is no verdict.
#[must_use]
pub fn judge(lag_s: f64, sd_s: f64, window_s: (f64, f64), sure: f64) -> When {
    let sd = sd_s.max(1e-9);
    let early = normal_cdf((window_s.0 - lag_s) / sd);
    let late = 1.0 - normal_cdf((window_s.1 - lag_s) / sd);
    if early >= sure {
        When::Early
    } else if late >= sure {
        When::Late
    } else if 1.0 - early - late >= 0.3 {
        When::OnTime
    } else {
        When::CannotTell
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distribution_function_has_the_tabled_values() {
        // Standard normal table: 0.8413, 0.9772, 0.6554 (z = 0.4).
        assert!((normal_cdf(1.0) - 0.841_344_7).abs() < 1e-6);
        assert!((normal_cdf(-2.0) - 0.022_750_1).abs() < 1e-6);
        assert!((normal_cdf(0.4) - 0.655_421_7).abs() < 1e-6);
    }

    #[test]
    fn edges_have_hysteresis() {
        let w = (0.0, 0.5);
        assert_eq!(judge(0.52, 0.1, w, 0.65), When::OnTime);
        assert_eq!(judge(0.55, 0.1, w, 0.65), When::Late);
        assert_eq!(judge(-0.05, 0.1, w, 0.65), When::Early);
        assert_eq!(judge(0.52, 0.01, w, 0.65), When::Late);
        assert_eq!(judge(0.05, 0.4, (0.0, 0.1), 0.65), When::CannotTell);
    }
}

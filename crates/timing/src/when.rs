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

/// A moment's posterior as weighed points.
#[derive(Debug, Clone, PartialEq)]
pub struct Density {
    /// Time and weight, by time; the weights sum to 1.
    points: Vec<(f64, f64)>,
}

/// Width of the bins into which points are gathered, seconds.
const BIN: f64 = 0.01;

impl Density {
    /// Of points with weights in any order, not all 0.
    #[must_use]
    pub fn of(points: impl Iterator<Item = (f64, f64)>) -> Self {
        let mut all: Vec<(f64, f64)> = points.filter(|p| p.0.is_finite() && p.1 > 0.0).collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let total: f64 = all.iter().map(|p| p.1).sum();
        let mut out: Vec<(f64, f64)> = Vec::new();
        for (t, w) in all {
            let w = w / total;
            match out.last_mut() {
                Some(b) if t - b.0 < BIN => {
                    let sum = b.1 + w;
                    b.0 += (t - b.0) * w / sum;
                    b.1 = sum;
                }
                _ => out.push((t, w)),
            }
        }
        Self { points: out }
    }

    /// A moment known exactly.
    #[must_use]
    pub fn at(t: f64) -> Self {
        Self {
            points: vec![(t, 1.0)],
        }
    }

    /// Mean and standard deviation, seconds.
    #[must_use]
    pub fn moments(&self) -> (f64, f64) {
        let mean: f64 = self.points.iter().map(|p| p.0 * p.1).sum();
        let var: f64 = self.points.iter().map(|p| p.1 * (p.0 - mean).powi(2)).sum();
        (mean, var.max(1e-8).sqrt())
    }
}

/// Where a start is expected, and how much that is believed before the track is seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// Earliest and latest start that is declared, seconds of the session.
    pub window_s: (f64, f64),
    /// Probability that the start falls between them.
    pub inside: f64,
    /// Seconds over which starts outside thin out, by a factor e, over and above an even share.
    pub thins_s: f64,
}

/// Stretch over which starts that have nothing to do with the window are spread, seconds.
const ANYWHERE: f64 = 6.0;

impl Expected {
    /// Logarithm of the density at a moment: even within the window, thinning outside, and a tenth
    /// spread evenly.
    #[must_use]
    pub fn log_density(&self, t: f64) -> f64 {
        let (from, to) = self.window_s;
        let outside = (1.0 - self.inside - 0.1).max(0.0);
        let near = if t < from {
            0.5 * outside / self.thins_s * (-(from - t) / self.thins_s).exp()
        } else if t > to {
            0.5 * outside / self.thins_s * (-(t - to) / self.thins_s).exp()
        } else {
            self.inside / (to - from).max(0.1)
        };
        (near + 0.1 / ANYWHERE).ln()
    }
}

/// Judges a start against a window. `density` is the posterior of the start, `cue_s` and `cue_sd_s`
/// the cue. Early and late are said only with probability `sure` or more, so a lag on the edge
/// counts as on time; where no verdict reaches `least` there is none.
#[must_use]
pub fn judge(
    density: &Density,
    (cue_s, cue_sd_s): (f64, f64),
    window_s: (f64, f64),
    (sure, least): (f64, f64),
) -> When {
    let sd = cue_sd_s.max(1e-9);
    let over = |edge: f64| -> f64 {
        let far = |t: f64| normal_cdf((t - cue_s - edge) / sd);
        density.points.iter().map(|p| p.1 * far(p.0)).sum()
    };
    let (early, late) = (1.0 - over(window_s.0), over(window_s.1));
    if early >= sure {
        When::Early
    } else if late >= sure {
        When::Late
    } else if 1.0 - early - late >= least {
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
        let said =
            |lag: f64, sd: f64, w| judge(&Density::at(10.0 + lag), (10.0, sd), w, (0.65, 0.3));
        assert_eq!(said(0.52, 0.1, w), When::OnTime);
        assert_eq!(said(0.55, 0.1, w), When::Late);
        assert_eq!(said(-0.05, 0.1, w), When::Early);
        assert_eq!(said(0.52, 0.01, w), When::Late);
        assert_eq!(said(0.05, 0.4, (0.0, 0.1)), When::CannotTell);
    }

    #[test]
    fn what_is_expected_sums_to_one() {
        let e = Expected {
            window_s: (2.0, 2.6),
            inside: 0.6,
            thins_s: 0.5,
        };
        let sum: f64 = (0..60_000)
            .map(|i| e.log_density(-10.0 + f64::from(i) * 4e-4).exp() * 4e-4)
            .sum();
        // The even share is over its own stretch, not over the 24 s summed here.
        assert!((sum - (0.9 + 0.1 * 24.0 / ANYWHERE)).abs() < 2e-3, "{sum}");
    }

    #[test]
    fn points_are_gathered_without_moving_their_mean() {
        let d = Density::of([(1.0, 1.0), (1.004, 3.0), (2.0, 4.0)].into_iter());
        let (mean, sd) = d.moments();
        assert!((mean - (1.0 + 3.0 * 1.004 + 8.0) / 8.0).abs() < 1e-12);
        assert!((sd - 0.5).abs() < 2e-3);
    }
}

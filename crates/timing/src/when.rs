//! The verdict on a lag: early, on time, late, from its probability against the window.

use crate::model::When;
use std::f64::consts::PI;

/// The posterior of a moment or a lag as weighed points.
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

    /// Time and weight, by time; the weights sum to 1.
    #[must_use]
    pub fn points(&self) -> &[(f64, f64)] {
        &self.points
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
    /// The cue, where there is one, seconds of the session.
    pub cue_s: Option<f64>,
    /// Probability that the start falls between them.
    pub inside: f64,
    /// Seconds over which starts outside thin out, by a factor e, over and above an even share.
    pub thins_s: f64,
}

/// Stretch over which starts that have nothing to do with the window are spread, seconds.
const ANYWHERE: f64 = 6.0;

/// Seconds from a cue to what answers it, mean and standard deviation: simple reactions take 0.20 to 0.25 s,
/// choice reactions 0.30 to 0.45 s (values from memory).
const REACTION_S: (f64, f64) = (0.33, 0.1);
/// Share of the starts within a window that holds [`REACTION_S`] which are reactions; the others are even.
const REACTS: f64 = 0.5;

impl Expected {
    /// Logarithm of the density of a movement that begins at `began`, with a jab or without, and leads the
    /// declared way from `start` on: within the window even, and more where it would answer the cue;
    /// thinning outside, and a tenth spread evenly.
    #[must_use]
    pub fn log_density(&self, began: f64, start: f64) -> f64 {
        let (from, to) = self.window_s;
        let outside = (1.0 - self.inside - 0.1).max(0.0);
        let (mean, sd) = REACTION_S;
        let reaction = self
            .cue_s
            .map(|c| c + mean)
            .filter(|at| (from..=to).contains(at));
        let reacts = if reaction.is_some() { REACTS } else { 0.0 };
        let near = if start < from {
            0.5 * outside / self.thins_s * (-(from - start) / self.thins_s).exp()
        } else if start > to {
            0.5 * outside / self.thins_s * (-(start - to) / self.thins_s).exp()
        } else {
            (1.0 - reacts) * self.inside / (to - from).max(0.1)
        };
        let reaction = reaction.map_or(0.0, |at| {
            let z = (began - at) / sd;
            reacts * self.inside * (-0.5 * z * z).exp() / (sd * (2.0 * PI).sqrt())
        });
        (near + reaction + 0.1 / ANYWHERE).ln()
    }
}

/// Judges a lag, of which `lag` is the posterior, against a window. Early and late are said only with
/// probability `sure` or more, so a lag on the edge counts as on time; where no verdict reaches
/// `least` there is none.
#[must_use]
pub fn judge(lag: &Density, window_s: (f64, f64), (sure, least): (f64, f64)) -> When {
    let share = |is: &dyn Fn(f64) -> bool| -> f64 {
        lag.points.iter().filter(|p| is(p.0)).map(|p| p.1).sum()
    };
    let (early, late) = (share(&|t| t < window_s.0), share(&|t| t > window_s.1));
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
    fn edges_have_hysteresis() {
        let window = (0.0, 0.5);
        let said = |lag: f64, sd: f64, w| {
            let normal = (-300..=300).map(|i| {
                let z = f64::from(i) * 0.01;
                (lag + z * sd, (-0.5 * z * z).exp())
            });
            judge(&Density::of(normal), w, (0.65, 0.3))
        };
        assert_eq!(said(0.52, 0.1, window), When::OnTime);
        assert_eq!(said(0.55, 0.1, window), When::Late);
        assert_eq!(said(-0.05, 0.1, window), When::Early);
        assert_eq!(said(0.52, 0.01, window), When::Late);
        assert_eq!(said(0.05, 0.4, (0.0, 0.1)), When::CannotTell);
    }

    #[test]
    fn what_is_expected_sums_to_one() {
        for cue_s in [None, Some(2.1), Some(1.0)] {
            let e = Expected {
                window_s: (2.0, 2.6),
                cue_s,
                inside: 0.6,
                thins_s: 0.5,
            };
            let sum: f64 = (0..60_000)
                .map(|i| -10.0 + f64::from(i) * 4e-4)
                .map(|t| e.log_density(t, t).exp() * 4e-4)
                .sum();
            // The even share is over its own stretch, not over the 24 s summed here.
            assert!((sum - (0.9 + 0.1 * 24.0 / ANYWHERE)).abs() < 2e-3, "{sum}");
        }
    }

    #[test]
    fn a_cue_is_rather_answered_by_a_reaction_where_the_window_holds_one() {
        let e = |cue_s| Expected {
            window_s: (2.0, 3.0),
            cue_s,
            inside: 0.5,
            thins_s: 0.7,
        };
        let at = |cue_s, t| e(cue_s).log_density(t, t);
        assert!(at(Some(2.0), 2.33) > at(Some(2.0), 2.8) + 1.0);
        assert_eq!(at(Some(1.0), 2.33), at(None, 2.8));
        // The jab is what answers, not the cut after it.
        assert!(e(Some(2.0)).log_density(2.33, 2.65) > at(Some(2.0), 2.65) + 1.0);
    }

    #[test]
    fn points_are_gathered_without_moving_their_mean() {
        let d = Density::of([(1.0, 1.0), (1.004, 3.0), (2.0, 4.0)].into_iter());
        let (mean, sd) = d.moments();
        assert!((mean - (1.0 + 3.0 * 1.004 + 8.0) / 8.0).abs() < 1e-12);
        assert!((sd - 0.5).abs() < 2e-3);
    }
}

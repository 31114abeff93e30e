//! Smoothing without delay: local polynomials by least squares.
//!
//! Savitzky and Golay 1964, Analytical Chemistry 36(8), 1627–1639; end points by the same
//! polynomial evaluated off the centre (Gorry 1990, Analytical Chemistry 62, 570–573).

use super::{Cleaning, onset};
use crate::session::{Known, Track};
use serde::Serialize;

/// Least-squares polynomial filter of an odd window.
#[derive(Debug, Clone, PartialEq)]
pub struct SavitzkyGolay {
    half: usize,
    /// Row `p`: weights of the window's samples for the value at its place `p`.
    weights: Vec<Vec<f64>>,
}

impl SavitzkyGolay {
    /// A filter of `window` samples (odd, at least 3) and polynomials of `order` (below `window`).
    /// `None` for anything else.
    #[must_use]
    pub fn new(window: usize, order: usize) -> Option<Self> {
        if window.is_multiple_of(2) || !(3..=255).contains(&window) || order >= window || order > 8
        {
            return None;
        }
        let half = window / 2;
        // Gram polynomials over -half..=half: orthogonal, so that no system is to be solved.
        let grid: Vec<f64> = (0..window).map(|i| i as f64 - half as f64).collect();
        let mut basis: Vec<Vec<f64>> = Vec::with_capacity(order + 1);
        for k in 0..=order {
            let mut p: Vec<f64> = match k {
                0 => vec![1.0; window],
                _ => basis[k - 1].iter().zip(&grid).map(|(b, x)| b * x).collect(),
            };
            // Twice is enough for orthogonality to rounding (Giraud et al. 2005).
            for _ in 0..2 {
                for b in &basis {
                    let c: f64 = p.iter().zip(b).map(|(p, b)| p * b).sum();
                    for (p, b) in p.iter_mut().zip(b) {
                        *p -= c * b;
                    }
                }
            }
            let norm = p.iter().map(|v| v * v).sum::<f64>().sqrt();
            basis.push(p.iter().map(|v| v / norm).collect());
        }
        let weights = (0..window)
            .map(|at| {
                (0..window)
                    .map(|i| basis.iter().map(|b| b[at] * b[i]).sum())
                    .collect()
            })
            .collect();
        Some(Self { half, weights })
    }

    /// Number of samples in the window.
    #[must_use]
    pub fn window(&self) -> usize {
        2 * self.half + 1
    }

    /// Weights for the value at place `at` of the window (the centre is `window() / 2`).
    #[must_use]
    pub fn weights(&self, at: usize) -> &[f64] {
        &self.weights[at.min(2 * self.half)]
    }

    /// Smooth a stretch; shorter than the window it stays as it is.
    #[must_use]
    pub fn smooth(&self, values: &[f64]) -> Vec<f64> {
        let (n, w) = (values.len(), self.window());
        if n < w {
            return values.to_vec();
        }
        let dot = |weights: &[f64], from: usize| -> f64 {
            weights
                .iter()
                .zip(&values[from..from + w])
                .map(|(a, b)| a * b)
                .sum()
        };
        let mut out = Vec::with_capacity(n);
        out.extend((0..self.half).map(|at| dot(&self.weights[at], 0)));
        let centre = &self.weights[self.half];
        out.extend((0..=n - w).map(|from| dot(centre, from)));
        out.extend((self.half + 1..w).map(|at| dot(&self.weights[at], n - w)));
        out
    }

    /// Gain at a frequency given as a share of the sampling rate, 0..=0.5.
    #[must_use]
    pub fn gain(&self, frequency: f64) -> f64 {
        let centre = &self.weights[self.half];
        let turn = 2.0 * std::f64::consts::PI * frequency;
        centre
            .iter()
            .enumerate()
            .map(|(i, c)| c * (turn * (i as f64 - self.half as f64)).cos())
            .sum()
    }

    /// Smooth every measured stretch of a track in place.
    pub(super) fn apply(&self, track: &mut Track) {
        let mut i = 0;
        while i < track.len() {
            if track.known[i] != Known::Measured {
                i += 1;
                continue;
            }
            let from = i;
            while i < track.len() && track.known[i] == Known::Measured {
                i += 1;
            }
            let x = self.smooth(&track.x[from..i]);
            let y = self.smooth(&track.y[from..i]);
            track.x[from..i].copy_from_slice(&x);
            track.y[from..i].copy_from_slice(&y);
        }
    }
}

/// What smoothing was done, and what it does to movement.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Smoothing {
    /// Window, frames; 0 where nothing was smoothed.
    pub window: usize,
    /// Degree of the polynomials.
    pub order: usize,
    /// Window, seconds.
    pub window_s: f64,
    /// Delay, seconds: none, as the window is symmetric.
    pub delay_s: f64,
    /// Frequency at which the gain has fallen to 1/√2, Hz; half the rate where nothing is smoothed.
    pub bandwidth_hz: f64,
    /// What is left of white noise: ratio of standard deviations.
    pub noise_ratio: f64,
    /// Nothing of a movement shows earlier or later than this, seconds: half the window.
    pub reach_s: f64,
    /// By how much at most the beginning of a movement is moved, seconds, earlier or later: where
    /// displacement or speed crosses what a beginning is noticed by, for movements from a step aside
    /// to a sprint (docs/method-cleaning.md). Without noise; noise adds scatter, no bias beyond this.
    pub onset_bound_s: f64,
    #[serde(skip)]
    filter: Option<SavitzkyGolay>,
}

impl Smoothing {
    /// Degree 2: a window of quadratics follows constant acceleration exactly.
    const ORDER: usize = 2;

    /// The smoothing that settings ask for at a frame rate. With fewer than five frames in the
    /// window, quadratics would give back the samples themselves, so nothing is done.
    #[must_use]
    pub fn for_rate(settings: &Cleaning, rate_hz: f64) -> Self {
        let most = (settings.window * rate_hz + 1e-9).floor() as usize;
        let window = if most % 2 == 1 {
            most
        } else {
            most.saturating_sub(1)
        };
        let filter = (settings.smooth && window >= 5)
            .then(|| SavitzkyGolay::new(window.min(255), Self::ORDER))
            .flatten();
        let Some(f) = filter else {
            return Self {
                window: 0,
                order: 0,
                window_s: 0.0,
                delay_s: 0.0,
                bandwidth_hz: rate_hz / 2.0,
                noise_ratio: 1.0,
                reach_s: 0.0,
                onset_bound_s: 0.0,
                filter: None,
            };
        };
        let (mut low, mut high) = (0.0, 0.5);
        while high - low > 1e-6 {
            let mid = (low + high) / 2.0;
            if f.gain(mid) > std::f64::consts::FRAC_1_SQRT_2 {
                low = mid;
            } else {
                high = mid;
            }
        }
        let squares: f64 = f.weights(f.half).iter().map(|w| w * w).sum();
        Self {
            window: f.window(),
            order: Self::ORDER,
            window_s: f.window() as f64 / rate_hz,
            delay_s: 0.0,
            bandwidth_hz: low * rate_hz,
            noise_ratio: squares.sqrt(),
            reach_s: f.half as f64 / rate_hz,
            onset_bound_s: onset::shift(Some(&f), rate_hz),
            filter: Some(f),
        }
    }

    pub(super) fn filter(&self) -> Option<&SavitzkyGolay> {
        self.filter.as_ref()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Savitzky and Golay 1964, table I, quadratic and cubic smoothing (with the corrections of
    /// Steinier, Termonia and Deltour 1972, which leave these columns as they were).
    #[test]
    fn printed_table() {
        let table: [(&[f64], f64); 4] = [
            (&[-3.0, 12.0, 17.0, 12.0, -3.0], 35.0),
            (&[-2.0, 3.0, 6.0, 7.0, 6.0, 3.0, -2.0], 21.0),
            (
                &[-21.0, 14.0, 39.0, 54.0, 59.0, 54.0, 39.0, 14.0, -21.0],
                231.0,
            ),
            (
                &[
                    -36.0, 9.0, 44.0, 69.0, 84.0, 89.0, 84.0, 69.0, 44.0, 9.0, -36.0,
                ],
                429.0,
            ),
        ];
        for (printed, norm) in table {
            for order in [2, 3] {
                let f = SavitzkyGolay::new(printed.len(), order).unwrap();
                for (w, p) in f.weights(printed.len() / 2).iter().zip(printed) {
                    assert!((w - p / norm).abs() < 1e-14, "{w} {p}/{norm}");
                }
            }
        }
        // Table II, quartic and quintic: 7 points over 231.
        let f = SavitzkyGolay::new(7, 4).unwrap();
        let printed = [5.0, -30.0, 75.0, 131.0, 75.0, -30.0, 5.0];
        for (w, p) in f.weights(3).iter().zip(printed) {
            assert!((w - p / 231.0).abs() < 1e-14);
        }
    }

    #[test]
    fn quadratics_pass_unchanged_to_the_ends() {
        let f = SavitzkyGolay::new(7, 2).unwrap();
        let v: Vec<f64> = (0..20).map(|i| 0.3 * f64::from(i * i) - 2.0).collect();
        for (a, b) in f.smooth(&v).iter().zip(&v) {
            assert!((a - b).abs() < 1e-10);
        }
        assert_eq!(f.smooth(&v[..6]), v[..6]);
    }

    #[test]
    fn effect_at_25_hz() {
        let s = Smoothing::for_rate(&Cleaning::default(), 25.0);
        assert_eq!(s.window, 7);
        // Sum of squared weights of the 7-point quadratic is its centre weight, 7/21.
        assert!((s.noise_ratio - (7.0_f64 / 21.0).sqrt()).abs() < 1e-12);
        assert!((s.reach_s - 0.12).abs() < 1e-12);
        for rate in [20.0, 25.0, 30.0, 50.0, 100.0] {
            let s = Smoothing::for_rate(&Cleaning::default(), rate);
            println!(
                "{rate} Hz: {} frames, onsets moved by {:.4} s",
                s.window, s.onset_bound_s
            );
            // A quarter of what the timing of cues aims at (0.02 s) would still be unseen.
            assert!(s.onset_bound_s > 0.0 && s.onset_bound_s < 0.02, "{s:?}");
        }
        assert_eq!(Smoothing::for_rate(&Cleaning::default(), 10.0).window, 0);
    }
}

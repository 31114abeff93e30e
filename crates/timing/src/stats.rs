//! Medians, quantiles and seeded bootstrap intervals.

use crate::random::Rng;

/// Resamples of a bootstrap. At 2,000 the end of a 95 % interval moves by about 2 % of its
/// width from seed to seed.
pub const RESAMPLES: usize = 2000;
/// Fewest values from which an interval is made.
pub const FEWEST: usize = 5;

/// A quantile of sorted values by linear interpolation (Hyndman & Fan 1996, definition 7);
/// `None` for no values. `q` in 0..=1.
#[must_use]
pub fn quantile(sorted: &[f64], q: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let h = q.clamp(0.0, 1.0) * last as f64;
    let i = (h.floor() as usize).min(last);
    let j = (i + 1).min(last);
    Some(sorted[i] + (h - i as f64) * (sorted[j] - sorted[i]))
}

/// Median of values in any order; `None` for no values.
#[must_use]
pub fn median(values: &[f64]) -> Option<f64> {
    quantile(&sorted(values), 0.5)
}

/// Values in rising order.
#[must_use]
pub fn sorted(values: &[f64]) -> Vec<f64> {
    let mut v = values.to_vec();
    v.sort_by(f64::total_cmp);
    v
}

/// Percentile bootstrap interval (Efron 1979) of a statistic of sorted values, covering `level`;
/// `None` under [`FEWEST`] values. The same seed gives the same interval.
#[must_use]
pub fn bootstrap(
    values: &[f64],
    level: f64,
    seed: u64,
    statistic: impl Fn(&[f64]) -> Option<f64>,
) -> Option<(f64, f64)> {
    if values.len() < FEWEST {
        return None;
    }
    let mut rng = Rng::new(seed);
    let mut stats = Vec::with_capacity(RESAMPLES);
    let mut draw = vec![0.0; values.len()];
    for _ in 0..RESAMPLES {
        for d in &mut draw {
            *d = values[rng.below(values.len())];
        }
        draw.sort_by(f64::total_cmp);
        stats.push(statistic(&draw)?);
    }
    stats.sort_by(f64::total_cmp);
    let tail = 0.5 * (1.0 - level);
    Some((quantile(&stats, tail)?, quantile(&stats, 1.0 - tail)?))
}

/// Percentile bootstrap 95 % interval of the median.
#[must_use]
pub fn median_interval(values: &[f64], seed: u64) -> Option<(f64, f64)> {
    bootstrap(values, 0.95, seed, |v| quantile(v, 0.5))
}

/// Interquartile range; `None` for no values.
#[must_use]
pub fn spread(values: &[f64]) -> Option<f64> {
    let v = sorted(values);
    Some(quantile(&v, 0.75)? - quantile(&v, 0.25)?)
}

/// Wilson's 95 % interval (1927) of a share of `k` in `n`; `None` for `n == 0`.
#[must_use]
pub fn wilson(k: usize, n: usize) -> Option<(f64, f64)> {
    if n == 0 || k > n {
        return None;
    }
    let z = 1.959_963_984_540_054;
    let (k, n) = (k as f64, n as f64);
    let p = k / n;
    let middle = p + z * z / (2.0 * n);
    let half = z * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    let whole = 1.0 + z * z / n;
    // At none and at all the end is 0 and 1 exactly; rounding would miss it by a hair.
    let low = if k == 0.0 {
        0.0
    } else {
        (middle - half) / whole
    };
    let high = if k == n { 1.0 } else { (middle + half) / whole };
    Some((low, high))
}

/// Median of the slopes of all pairs (Theil 1950, Sen 1968), pairs with equal `x` left out;
/// `None` where no pair differs in `x`.
#[must_use]
pub fn theil_sen(points: &[(f64, f64)]) -> Option<f64> {
    let mut slopes = Vec::new();
    for (i, a) in points.iter().enumerate() {
        for b in &points[i + 1..] {
            if a.0 != b.0 {
                slopes.push((b.1 - a.1) / (b.0 - a.0));
            }
        }
    }
    median(&slopes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn median_of_even_and_odd() {
        assert_eq!(median(&[3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(median(&[4.0, 1.0, 2.0, 3.0]), Some(2.5));
        assert_eq!(median(&[]), None);
    }

    #[test]
    fn quantiles_follow_definition_seven() {
        // Worked by hand: h = q (n - 1).
        let v = [1.0, 2.0, 4.0, 8.0];
        assert_eq!(quantile(&v, 0.5), Some(3.0));
        assert_eq!(quantile(&v, 0.25), Some(1.75));
        assert_eq!(quantile(&v, 1.0), Some(8.0));
        assert_eq!(quantile(&[], 0.5), None);
    }

    #[test]
    fn a_share_has_wilsons_interval() {
        // 0 of 10: upper end z² / (n + z²) = 3.8415 / 13.8415.
        let (lo, hi) = wilson(0, 10).unwrap();
        assert_eq!(lo, 0.0);
        assert!((hi - 0.277_53).abs() < 1e-4, "{hi}");
        assert_eq!(wilson(0, 0), None);
        assert_eq!(wilson(7, 7).unwrap().1, 1.0);
    }

    #[test]
    fn one_wild_point_does_not_turn_the_slope() {
        let p = [(0.0, 0.0), (1.0, 1.0), (2.0, 2.0), (3.0, 40.0), (4.0, 4.0)];
        assert_eq!(theil_sen(&p), Some(1.0));
        assert_eq!(theil_sen(&[(1.0, 2.0), (1.0, 3.0)]), None);
    }

    #[test]
    fn small_samples_have_no_interval() {
        assert_eq!(median_interval(&[0.1, 0.2, 0.3, 0.4], 1), None);
        let i = median_interval(&[0.1, 0.2, 0.3, 0.4, 0.5], 1).unwrap();
        assert!(i.0 <= 0.3 && i.1 >= 0.3 && i.0 >= 0.1 && i.1 <= 0.5);
    }
}

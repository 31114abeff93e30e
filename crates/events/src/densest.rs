//! One moment for a posterior over many: the mean within the window that holds the most of it. The
//! likeliest single moment jumps, and the mean of all lies between peaks where there are two.

use std::ops::Range;

/// The first window of `about` steps to either side of a step that holds the most of `weights`,
/// which are evenly spaced and not negative, cut off at the ends. `None` where there are none.
pub(crate) fn densest(weights: &[f64], about: usize) -> Option<Range<usize>> {
    let mut most: Option<(f64, Range<usize>)> = None;
    for k in 0..weights.len() {
        let near = k.saturating_sub(about)..(k + about + 1).min(weights.len());
        let sum = weights[near.clone()].iter().sum();
        if most.as_ref().is_none_or(|m| sum > m.0) {
            most = Some((sum, near));
        }
    }
    most.map(|m| m.1)
}

/// The mean of `value` over a window by weight.
pub(crate) fn mean(weights: &[f64], window: &Range<usize>, value: impl Fn(usize) -> f64) -> f64 {
    let (mut sum, mut at) = (0.0, 0.0);
    for k in window.clone() {
        sum += weights[k];
        at += weights[k] * value(k);
    }
    at / sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_broad_hill_outweighs_a_higher_needle() {
        let weights = [0.0, 5.0, 0.0, 0.0, 2.0, 3.0, 2.0, 0.0];
        let window = densest(&weights, 1).unwrap();
        assert_eq!(window, 4..7);
        assert_eq!(mean(&weights, &window, |k| k as f64), 5.0);
        assert_eq!(densest(&weights, 0), Some(1..2));
        assert_eq!(densest(&[], 3), None);
    }
}

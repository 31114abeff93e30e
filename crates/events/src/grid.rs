//! Looking along a grid for where the probability is.

/// Every how many points are tried first.
const COARSE: usize = 4;

/// Weighs the points of a grid, `0..points`: every fourth first, then, twice, those between which one
/// beside them does not put out of the question. Returns the greatest weight, or `peak` if that is greater.
///
/// `weigh` is told a point, and what a hypothesis must exceed to matter: what does not is neither within
/// `negligible` of the peak nor a reason to look about it. Weights are natural logarithms; a peak
/// narrower than two points can be missed.
pub fn search(
    points: usize,
    negligible: f64,
    mut peak: f64,
    mut weigh: impl FnMut(usize, f64) -> f64,
) -> f64 {
    let mut found = vec![f64::NEG_INFINITY; points];
    let mut at = |k: usize, peak: &mut f64, found: &mut [f64]| {
        found[k] = weigh(k, *peak - (COARSE / 2) as f64 * negligible);
        *peak = peak.max(found[k]);
    };
    for k in (0..points).step_by(COARSE) {
        at(k, &mut peak, &mut found);
    }
    for apart in [COARSE / 2, COARSE / 4] {
        for k in (apart..points).step_by(2 * apart) {
            let after = found.get(k + apart).copied();
            let near = found[k - apart].max(after.unwrap_or(f64::NEG_INFINITY));
            if near > peak - apart as f64 * negligible {
                at(k, &mut peak, &mut found);
            }
        }
    }
    peak
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_that_is_not_negligible_is_weighed_and_little_else() {
        for (middle, width) in [(50.3, 2.0), (50.3, 6.0), (1.0, 3.0), (98.0, 3.0)] {
            let weight = |k: usize| -0.5 * ((k as f64 - middle) / width).powi(2);
            let mut tried = Vec::new();
            let peak = search(100, 12.0, f64::NEG_INFINITY, |k, _| {
                tried.push(k);
                weight(k)
            });
            let greatest = (0..100).map(weight).fold(f64::NEG_INFINITY, f64::max);
            assert!((peak - greatest).abs() < 1e-12);
            let matter = |k: &usize| weight(*k) > peak - 12.0;
            assert!((0..100).filter(matter).all(|k| tried.contains(&k)));
            let wide = (2.0 * 7.0 * width) as usize;
            assert!(tried.len() <= 25 + wide, "{} of {wide}", tried.len());
            tried.sort_unstable();
            assert!(tried.windows(2).all(|w| w[0] < w[1]), "each once");
        }
    }

    #[test]
    fn what_is_told_not_to_matter_changes_nothing() {
        let weight = |k: usize| -0.5 * ((k as f64 - 20.0) / 2.5).powi(2);
        let run = |told: bool| {
            let mut kept = Vec::new();
            let peak = search(60, 12.0, f64::NEG_INFINITY, |k, floor| {
                let w = weight(k);
                if told && w <= floor {
                    return f64::NEG_INFINITY;
                }
                kept.push((k, w));
                w
            });
            kept.retain(|(_, w)| *w > peak - 12.0);
            kept
        };
        assert_eq!(run(true), run(false));
    }
}

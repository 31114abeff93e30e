//! Intervals, the trend test and the guard against many tests at once.

use crate::rng::Rng;

/// Two-sided 97.5 % point of Student's t distribution: the value that 95 % lie within on either
/// side of 0.
///
/// The distribution for whole degrees of freedom is a finite sum (Abramowitz & Stegun 1964, 26.7.3
/// and 26.7.4); the point is found by bisection. Infinite for 0 degrees of freedom.
#[must_use]
pub fn t_quantile_975(degrees: usize) -> f64 {
    if degrees == 0 {
        return f64::INFINITY;
    }
    let (mut low, mut high) = (1.0, 13.0);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if t_within(middle, degrees) < 0.95 {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

/// Probability that |t| is below `t`.
fn t_within(t: f64, degrees: usize) -> f64 {
    let angle = (t / (degrees as f64).sqrt()).atan();
    let (sin, cos) = angle.sin_cos();
    let even = degrees.is_multiple_of(2);
    // Terms rise by cos² · k / (k + 1): from cos (odd) or 1 (even) to the power degrees − 2.
    let mut term = if even { 1.0 } else { cos };
    let mut sum = if degrees == 1 { 0.0 } else { term };
    let mut k = if even { 1 } else { 2 };
    while k + 1 < degrees {
        term *= cos * cos * k as f64 / (k + 1) as f64;
        sum += term;
        k += 2;
    }
    if even {
        sin * sum
    } else {
        2.0 / std::f64::consts::PI * (angle + sin * sum)
    }
}

/// Greatest radius of the 95 % confidence region of a mean in the plane (Hotelling 1931, Ann. Math.
/// Stat. 2, 360–378): the long half-axis of its ellipse. `None` under three points.
///
/// `r² = λ/n · 2(n − 1)/(n − 2) · F`, with λ the greater eigenvalue of the sample covariance and F
/// the 95 % point of the F distribution with 2 and n − 2 degrees of freedom, which for two is
/// `(n − 2)/2 · (0.05^(−2/(n − 2)) − 1)`.
#[must_use]
pub fn region_radius(points: &[[f64; 2]]) -> Option<f64> {
    let n = points.len() as f64;
    if points.len() < 3 {
        return None;
    }
    let [xx, xy, yy] = covariance(points);
    let centre = f64::midpoint(xx, yy);
    let lambda = centre + ((xx - yy) / 2.0).hypot(xy);
    let f = (n - 2.0) / 2.0 * (0.05_f64.powf(-2.0 / (n - 2.0)) - 1.0);
    Some((lambda / n * 2.0 * (n - 1.0) / (n - 2.0) * f).sqrt())
}

/// Half-width of the 95 % t interval of the mean along its own direction. `None` under three
/// points.
pub(crate) fn half_width(points: &[[f64; 2]]) -> Option<f64> {
    let n = points.len();
    if n < 3 {
        return None;
    }
    let [mx, my] = mean(points);
    let length = mx.hypot(my);
    let (ux, uy) = if length > 0.0 {
        (mx / length, my / length)
    } else {
        (1.0, 0.0)
    };
    let [xx, xy, yy] = covariance(points);
    let variance = ux * ux * xx + 2.0 * ux * uy * xy + uy * uy * yy;
    Some(t_quantile_975(n - 1) * (variance.max(0.0) / n as f64).sqrt())
}

/// Mean of points; 0 of none.
pub(crate) fn mean(points: &[[f64; 2]]) -> [f64; 2] {
    let n = points.len().max(1) as f64;
    let sum = points
        .iter()
        .fold([0.0; 2], |s, p| [s[0] + p[0], s[1] + p[1]]);
    [sum[0] / n, sum[1] / n]
}

/// Sample covariance of at least two points: xx, xy, yy.
fn covariance(points: &[[f64; 2]]) -> [f64; 3] {
    let [mx, my] = mean(points);
    let sums = points.iter().fold([0.0; 3], |s, p| {
        let (dx, dy) = (p[0] - mx, p[1] - my);
        [s[0] + dx * dx, s[1] + dx * dy, s[2] + dy * dy]
    });
    sums.map(|s| s / (points.len() - 1) as f64)
}

/// Adjusted p-values (Benjamini & Hochberg 1995, J. R. Stat. Soc. B 57, 289–300), in the order given:
/// calling those of at most 0.05 keeps the expected share of false calls at 5 %.
#[must_use]
pub fn adjusted(p: &[f64]) -> Vec<f64> {
    let n = p.len();
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&a, &b| p[b].total_cmp(&p[a]));
    let mut q = vec![1.0; n];
    let mut least: f64 = 1.0;
    for (k, &i) in order.iter().enumerate() {
        least = least.min(p[i] * n as f64 / (n - k) as f64);
        q[i] = least;
    }
    q
}

/// Offsets of one run by frame, out and to the right, metres; `None` where unknown.
pub(crate) type Offsets = Vec<Option<[f64; 2]>>;

/// Straight-line change of a place over sessions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Slope {
    pub frame: usize,
    pub per_session: [f64; 2],
    pub p: f64,
}

/// After so many chance results as great as the real one, the test need go no further (Besag &
/// Clifford 1991, Biometrika 78, 301–304).
const ENOUGH: usize = 20;

/// Tests whether places change with the session, at the frame where they do so most.
///
/// `offsets[run][frame]` is the run's offset, `sessions[run]` its session's number. At each frame
/// known in at least `least` runs a line is fitted to the offsets over the session number; the
/// statistic is the greatest ratio, over frames, of explained to residual mean square. `p` is the
/// share of random orders of the runs in which it is as great, so looking at all frames is
/// allowed for. `None` when no frame has enough runs or all are of one session.
pub(crate) fn trend(
    offsets: &[Offsets],
    sessions: &[f64],
    least: usize,
    permutations: usize,
    seed: u64,
) -> Option<Slope> {
    let frames = offsets.iter().map(Vec::len).max().unwrap_or(0);
    let columns: Vec<(usize, Column)> = (0..frames)
        .filter_map(|f| Some((f, Column::new(offsets, f, least)?)))
        .collect();
    let mut order = sessions.to_vec();
    let greatest = |order: &[f64]| {
        columns
            .iter()
            .filter_map(|(f, c)| c.fit(order).map(|(ratio, slope)| (ratio, *f, slope)))
            .reduce(|a, b| if b.0 > a.0 { b } else { a })
    };
    let (real, frame, per_session) = greatest(sessions)?;
    let mut rng = Rng::new(seed);
    let (mut as_great, mut drawn) = (0, 0);
    while drawn < permutations && as_great < ENOUGH {
        rng.shuffle(&mut order);
        drawn += 1;
        if greatest(&order).is_some_and(|g| g.0 >= real * (1.0 - 1e-12)) {
            as_great += 1;
        }
    }
    // Stopped early the share itself is the estimate; otherwise the real order counts as one.
    let p = if as_great == ENOUGH {
        as_great as f64 / drawn as f64
    } else {
        (as_great + 1) as f64 / (drawn + 1) as f64
    };
    Some(Slope {
        frame,
        per_session,
        p,
    })
}

/// The offsets of one frame, less their mean.
struct Column {
    runs: Vec<usize>,
    centred: Vec<[f64; 2]>,
    total: f64,
}

impl Column {
    fn new(offsets: &[Offsets], frame: usize, least: usize) -> Option<Self> {
        let known: Vec<(usize, [f64; 2])> = offsets
            .iter()
            .enumerate()
            .filter_map(|(run, o)| Some((run, (*o.get(frame)?)?)))
            .collect();
        if known.len() < least.max(4) {
            return None;
        }
        let places: Vec<[f64; 2]> = known.iter().map(|k| k.1).collect();
        let [mx, my] = mean(&places);
        let centred: Vec<[f64; 2]> = places.iter().map(|p| [p[0] - mx, p[1] - my]).collect();
        Some(Self {
            runs: known.iter().map(|k| k.0).collect(),
            total: centred.iter().map(|c| c[0] * c[0] + c[1] * c[1]).sum(),
            centred,
        })
    }

    /// Ratio of explained to residual mean square, and the slope; `None` where all runs known here
    /// are of one session.
    fn fit(&self, sessions: &[f64]) -> Option<(f64, [f64; 2])> {
        let n = self.runs.len() as f64;
        let middle = self.runs.iter().map(|&r| sessions[r]).sum::<f64>() / n;
        let mut spread = 0.0;
        let mut cross = [0.0; 2];
        for (&run, c) in self.runs.iter().zip(&self.centred) {
            let x = sessions[run] - middle;
            spread += x * x;
            cross[0] += x * c[0];
            cross[1] += x * c[1];
        }
        if spread <= 0.0 {
            return None;
        }
        let explained = (cross[0] * cross[0] + cross[1] * cross[1]) / spread;
        // A millimetre of residual keeps perfect fits finite.
        let residual = (self.total - explained).max(0.0) / (2.0 * (n - 2.0)) + 1e-6;
        Some((
            explained / 2.0 / residual,
            [cross[0] / spread, cross[1] / spread],
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Student's t, 97.5 % points as printed in statistical tables (Fisher & Yates, Table III;
    /// values from memory, and checked with scipy in tests/reference/drift).
    #[test]
    fn t_points_of_the_printed_table() {
        for (df, t) in [
            (1, 12.706),
            (2, 4.303),
            (3, 3.182),
            (4, 2.776),
            (5, 2.571),
            (10, 2.228),
            (30, 2.042),
            (120, 1.980),
        ] {
            let found = t_quantile_975(df);
            assert!((found - t).abs() < 6e-4, "{df}: {found}");
        }
    }

    /// Benjamini & Hochberg 1995, section 3.2: 15 tests of which four are called at 5 %.
    #[test]
    fn published_example_of_many_tests() {
        let p = [
            0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262,
            0.5719, 0.6528, 0.7590, 1.0000,
        ];
        let called = adjusted(&p).iter().filter(|q| **q <= 0.05).count();
        assert_eq!(called, 4);
    }

    fn noisy(runs: usize, slope: f64, seed: u64) -> (Vec<Offsets>, Vec<f64>) {
        let mut rng = Rng::new(seed);
        let mut noise = || (rng.below(2001) as f64 - 1000.0) / 1000.0;
        let sessions: Vec<f64> = (0..runs).map(|r| (r % 3) as f64).collect();
        let offsets = sessions
            .iter()
            .map(|s| {
                let run = [noise() * 0.5, noise() * 0.5];
                (0..12)
                    .map(|f| {
                        let moved = if f < 4 { slope * s } else { 0.0 };
                        Some([run[0] + moved + noise() * 0.2, run[1] + noise() * 0.2])
                    })
                    .collect()
            })
            .collect();
        (offsets, sessions)
    }

    #[test]
    fn a_real_change_is_found_where_it_is() {
        let (offsets, sessions) = noisy(24, 0.5, 3);
        let t = trend(&offsets, &sessions, 6, 4999, 1).unwrap();
        assert!(t.p < 0.001, "{t:?}");
        assert!(t.frame < 4 && (t.per_session[0] - 0.5).abs() < 0.2, "{t:?}");
    }

    /// Without change, small p-values are as rare as they say: of 200 tests at 10 % about 20 are
    /// below (within four standard deviations of a binomial count, 3 to 37).
    #[test]
    fn chance_is_called_as_often_as_it_says() {
        let below = (0..200)
            .filter(|&seed| {
                let (offsets, sessions) = noisy(18, 0.0, 1000 + seed);
                trend(&offsets, &sessions, 6, 199, seed).unwrap().p <= 0.1
            })
            .count();
        assert!((3..=37).contains(&below), "{below}");
    }

    #[test]
    fn nothing_to_test_is_none() {
        let (offsets, _) = noisy(6, 0.0, 1);
        assert_eq!(trend(&offsets, &[1.0; 6], 4, 99, 1), None);
        assert_eq!(trend(&[], &[], 4, 99, 1), None);
        assert_eq!(region_radius(&[[0.0; 2]; 2]), None);
    }
}

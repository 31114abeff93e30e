//! Against brute force: every path of tiny cases, every option.

#![allow(clippy::unwrap_used, reason = "a test may fail by panicking")]

mod patterns;

use patterns::patterns;
use proptest::prelude::*;
use setdrift_warp::{
    Absolute, CostFn, Dtw, Error, Gaps, LocalCost, Move, Multivariate, Real, References, Series,
    Squared, Window,
};

/// Whether a cell lies in the window, from its published definition.
fn inside(window: Window, i: usize, j: usize, n: usize, m: usize) -> bool {
    let (i, j, n, m) = (i as f64, j as f64, n as f64, m as f64);
    match window {
        Window::Full => true,
        Window::SakoeChiba { radius } => (i - j).abs() <= radius as f64,
        Window::Widened { radius } => {
            let radius = radius as f64;
            j - i >= -radius - (n - m).max(0.0) && j - i <= radius + (m - n).max(0.0)
        }
        Window::Slanted { radius } => {
            let middle = if n > 1.0 {
                i * (m - 1.0) / (n - 1.0)
            } else {
                0.0
            };
            (j - middle).abs() <= radius + 1e-9
        }
        Window::Itakura { max_slope } => {
            if n == 1.0 || m == 1.0 {
                return true;
            }
            let (x, y) = (i / (n - 1.0), j / (m - 1.0));
            let fine = |x: f64, y: f64| y <= max_slope * x + 1e-9 && y >= x / max_slope - 1e-9;
            fine(x, y) && fine(1.0 - x, 1.0 - y)
        }
    }
}

/// Least cost over all paths, by walking every one of them.
struct Walk<'a> {
    costs: &'a [Vec<f64>],
    window: Window,
    moves: &'a [Move],
    open_end: bool,
    least: f64,
    paths: usize,
}

impl Walk<'_> {
    fn go(&mut self, i: usize, j: usize, cost: f64) {
        let (n, m) = (self.costs.len(), self.costs[0].len());
        if !inside(self.window, i, j, n, m) {
            return;
        }
        if i + 1 == n && (self.open_end || j + 1 == m) {
            self.least = self.least.min(cost);
            self.paths += 1;
        }
        for step in self.moves {
            let (to_i, to_j) = (i + step.origin.0, j + step.origin.1);
            if to_i < n && to_j < m {
                let passed: f64 = step
                    .cells
                    .iter()
                    .map(|c| c.weight * self.costs[to_i - c.query][to_j - c.reference])
                    .sum();
                self.go(to_i, to_j, cost + passed);
            }
        }
    }
}

fn windows() -> impl Strategy<Value = Window> {
    prop_oneof![
        Just(Window::Full),
        (0usize..4).prop_map(|radius| Window::SakoeChiba { radius }),
        (0usize..4).prop_map(|radius| Window::Widened { radius }),
        (0u8..8).prop_map(|quarters| Window::Slanted {
            radius: f64::from(quarters) / 4.0
        }),
        (4u8..16).prop_map(|quarters| Window::Itakura {
            max_slope: f64::from(quarters) / 4.0
        }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn least_over_all_paths(
        n in 1usize..=5,
        m in 1usize..=5,
        cells in prop::collection::vec(0u8..9, 25),
        pattern in 0usize..11,
        window in windows(),
        open_begin in any::<bool>(),
        open_end in any::<bool>(),
    ) {
        let costs: Vec<Vec<f64>> = (0..n).map(|i| (0..m).map(|j| f64::from(cells[i * 5 + j])).collect()).collect();
        let steps = patterns().swap_remove(pattern);
        let mut walk =
            Walk { costs: &costs, window, moves: steps.moves(), open_end, least: f64::INFINITY, paths: 0 };
        for (begin, &cost) in costs[0].iter().enumerate().take(if open_begin { m } else { 1 }) {
            walk.go(0, begin, cost);
        }
        let dtw = Dtw::squared().window(window).steps(steps.clone()).open_begin(open_begin).open_end(open_end).check().unwrap();
        let mut rows = CostFn::new(n, m, |i, j| costs[i][j]);
        let found = dtw.align_costs(&mut rows);
        if walk.paths == 0 {
            prop_assert_eq!(found, Err(Error::NoPath { query: n, reference: m }));
            prop_assert_eq!(dtw.distance_costs(&mut rows), Err(Error::NoPath { query: n, reference: m }));
            return Ok(());
        }
        let found = found.unwrap();
        prop_assert!((found.distance - walk.least).abs() < 1e-9);
        prop_assert_eq!(dtw.distance_costs(&mut rows).unwrap(), found.distance);
        // An exact bound neither loses the answer nor lets a worse one by.
        prop_assert_eq!(dtw.distance_costs_within(&mut rows, found.distance).unwrap(), Some(found.distance));
        prop_assert_eq!(dtw.distance_costs_within(&mut rows, found.distance - 0.1).unwrap_or(None), None);
        // The path is one of those walked, and costs what it says.
        prop_assert!(adds_up(&found.path, &costs, steps.moves(), found.distance));
        prop_assert!(open_begin || found.path[0] == (0, 0));
        prop_assert_eq!(found.path[0].0, 0);
        let last = *found.path.last().unwrap();
        prop_assert!(last.0 == n - 1 && (open_end || last.1 == m - 1));
    }

    #[test]
    fn series_costs_are_sums_over_dimensions(
        n in 1usize..=40,
        m in 1usize..=40,
        dims in 1usize..=5,
        values in prop::collection::vec(-50i8..50, 400),
        radius in 0usize..10,
    ) {
        let frames = |len: usize, from: usize| -> Vec<f64> {
            (0..len * dims).map(|at| f64::from(values[from + at]) / 4.0).collect()
        };
        let (x, y) = (frames(n, 0), frames(m, 200));
        let (a, b) = (Series::from_frames(&x, dims).unwrap(), Series::from_frames(&y, dims).unwrap());
        let window = Window::Widened { radius };
        // Quarters square and add without rounding.
        let square = |d: usize, i: usize, j: usize| (x[i * dims + d] - y[j * dims + d]).powi(2);
        let dtw = Dtw::squared().window(window).check().unwrap();
        let rows = |i: usize, j: usize| (0..dims).map(|d| square(d, i, j)).sum::<f64>();
        let expected = dtw.distance_costs(&mut CostFn::new(n, m, rows)).unwrap();
        prop_assert_eq!(dtw.distance(&a, &b).unwrap(), expected);
        prop_assert_eq!(dtw.distance(&b, &a).unwrap(), expected);
        prop_assert_eq!(dtw.align(&a, &b).unwrap().distance, expected);
        let single = |values: &[f64]| Series::from_frames(&values.iter().map(|&v| v as f32).collect::<Vec<_>>(), dims).unwrap();
        prop_assert_eq!(f64::from(dtw.distance(&single(&x), &single(&y)).unwrap()), expected);

        let apart = Dtw::squared().window(window).multivariate(Multivariate::Independent).check().unwrap();
        let sum: f64 = (0..dims)
            .map(|d| dtw.distance_costs(&mut CostFn::new(n, m, |i, j| square(d, i, j))).unwrap())
            .sum();
        prop_assert_eq!(apart.distance(&a, &b).unwrap(), sum);
        prop_assert_eq!(apart.distance_within(&a, &b, sum).unwrap(), Some(sum));
        prop_assert_eq!(apart.distance_within(&a, &b, sum - 0.01).unwrap(), None);
        prop_assert!(sum <= expected);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    /// The costs of unknown coordinates, written out from their definition.
    #[test]
    fn gaps_by_their_definition(
        n in 1usize..=25,
        m in 1usize..=25,
        dims in 1usize..=5,
        values in prop::collection::vec(prop_oneof![4 => (-50i8..50).prop_map(Some), 1 => Just(None)], 250),
        rescale in any::<bool>(),
        price in 0u8..20,
    ) {
        let price = f64::from(price) / 4.0;
        let value = |at: usize| values[at].map(|value| f64::from(value) / 4.0);
        let (x, y) = (|d: usize, i: usize| value(i * dims + d), |d: usize, j: usize| value(125 + j * dims + d));
        let local = |i: usize, j: usize| {
            let known: Vec<f64> = (0..dims).filter_map(|d| Some((x(d, i)? - y(d, j)?).powi(2))).collect();
            let sum: f64 = known.iter().sum();
            match (rescale, known.len()) {
                (true, 0) => price,
                (true, known) => sum * (dims as f64 / known as f64),
                (false, known) => sum + price * (dims - known) as f64,
            }
        };
        let gaps = if rescale { Gaps::Rescale { none_known: price } } else { Gaps::Cost(price) };
        let dtw = Dtw::squared().gaps(gaps).check().unwrap();
        let expected = dtw.distance_costs(&mut CostFn::new(n, m, local)).unwrap();
        let frames = |len: usize, from: usize| {
            let values: Vec<f64> = (from..from + len * dims).map(|at| value(at).unwrap_or(f64::NAN)).collect();
            Series::from_frames_with_gaps(&values, dims).unwrap()
        };
        let (a, b) = (frames(n, 0), frames(m, 125));
        // Quarters add without rounding; what is rescaled is summed in the same order.
        prop_assert_eq!(dtw.align(&a, &b).unwrap().distance, expected);
        prop_assert_eq!(dtw.distance(&a, &b).unwrap(), expected);
        prop_assert_eq!(dtw.distance(&b, &a).unwrap(), expected);
        let many = [b.clone(), a.clone(), b];
        let found = dtw.distances(&a, &References::new(&many).unwrap()).unwrap();
        prop_assert_eq!((found[0], found[2]), (expected, expected));
    }
}

/// Whether some sequence of moves makes this path at this cost.
fn adds_up(path: &[(usize, usize)], costs: &[Vec<f64>], moves: &[Move], cost: f64) -> bool {
    let (last, before) = path.split_last().unwrap();
    if before.is_empty() {
        return (costs[last.0][last.1] - cost).abs() < 1e-9;
    }
    moves.iter().any(|step| {
        let cells = step.cells.iter().rev();
        let fits = before.len() >= step.cells.len()
            && path.iter().rev().zip(cells.clone()).all(|(at, cell)| {
                *at == (
                    last.0.wrapping_sub(cell.query),
                    last.1.wrapping_sub(cell.reference),
                )
            });
        let rest = &path[..path.len() - if fits { step.cells.len() } else { 0 }];
        let passed: f64 = if fits {
            cells
                .map(|c| c.weight * costs[last.0 - c.query][last.1 - c.reference])
                .sum()
        } else {
            return false;
        };
        let origin = (
            last.0.wrapping_sub(step.origin.0),
            last.1.wrapping_sub(step.origin.1),
        );
        rest.last() == Some(&origin) && adds_up(rest, costs, moves, cost - passed)
    })
}

/// Local costs written out plainly.
#[test]
fn local_costs() {
    use setdrift_warp::{Capped, CappedSquared, Euclidean, Huber};
    fn one<T: Real, C: LocalCost<T>>(cost: C, differences: &[f64]) -> f64 {
        let query: Vec<T> = differences.iter().map(|&d| T::from_f64(d)).collect();
        let zero = vec![T::ZERO; query.len()];
        let dims = query.len();
        let dtw = Dtw::with_cost(cost).check().unwrap();
        let series = |values: &[T]| Series::from_frames(values, dims).unwrap();
        dtw.distance(&series(&query), &series(&zero))
            .unwrap()
            .to_f64()
    }
    let d = [3.0, -4.0, 0.5];
    assert_eq!(one::<f64, _>(Squared, &d), 25.25);
    assert_eq!(one::<f32, _>(Absolute, &d), 7.5);
    assert_eq!(one::<f64, _>(Euclidean, &d), 25.25f64.sqrt());
    assert_eq!(one::<f64, _>(CappedSquared::new(10.0).unwrap(), &d), 19.25);
    assert_eq!(one::<f64, _>(Capped::new(Squared, 10.0).unwrap(), &d), 10.0);
    // d² within delta, delta·(2|d| − delta) beyond: 2·(6 − 2) + 2·(8 − 2) + 0.25.
    assert_eq!(one::<f64, _>(Huber::new(2.0).unwrap(), &d), 20.25);
}

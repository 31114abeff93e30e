//! Examples worked in the literature and in other libraries' documentation, each cited.

#![allow(clippy::unwrap_used, reason = "a test may fail by panicking")]

use setdrift_warp::{Absolute, CostFn, Dtw, Measure, Series, SlopeConstraint, StepPattern, Window};

fn series(values: &[f64]) -> Series<f64> {
    Series::univariate(values).unwrap()
}

/// Müller, Fundamentals of Music Processing (2015), exercise on subsequence DTW (value from
/// memory, recomputed with a plain dynamic program).
#[test]
fn mueller_subsequence() {
    let dtw = Dtw::with_cost(Absolute)
        .open_begin(true)
        .open_end(true)
        .check()
        .unwrap();
    let (x, y) = (
        series(&[3.0, 0.0, 6.0]),
        series(&[2.0, 4.0, 0.0, 4.0, 0.0, 0.0, 5.0, 2.0]),
    );
    let found = dtw.align(&x, &y).unwrap();
    assert_eq!(found.distance, 2.0);
    assert_eq!(found.path, [(0, 3), (1, 4), (1, 5), (2, 6)]);
    let best = dtw.matches(&x, &y, 1, f64::INFINITY).unwrap();
    assert_eq!((best[0].reference.clone(), best[0].distance), (3..7, 2.0));
    // The last row of the table, read off one open end at a time.
    for (end, expected) in [7.0, 5.0, 7.0, 3.0, 7.0, 7.0, 2.0, 6.0]
        .into_iter()
        .enumerate()
    {
        let part = y.slice(0..end + 1).unwrap();
        let here = Dtw::with_cost(Absolute).open_begin(true).check().unwrap();
        assert_eq!(here.distance(&x, &part).unwrap(), expected);
    }
}

/// Müller, Fundamentals of Music Processing (2015), section 3.2 (value from memory, recomputed).
#[test]
fn mueller_global() {
    let dtw = Dtw::with_cost(Absolute).check().unwrap();
    let (x, y) = (
        series(&[1.0, 3.0, 9.0, 2.0, 1.0]),
        series(&[2.0, 0.0, 0.0, 8.0, 7.0, 2.0]),
    );
    assert_eq!(dtw.distance(&x, &y).unwrap(), 9.0);
}

/// From course notes on DTW; recomputed.
#[test]
fn course_notes() {
    let dtw = Dtw::with_cost(Absolute).check().unwrap();
    let x = series(&[0.0, 4.0, 4.0, 0.0, -4.0, -4.0, 0.0]);
    let y = series(&[1.0, 3.0, 4.0, 3.0, 1.0, -1.0, -2.0, -1.0, 0.0]);
    assert_eq!(dtw.distance(&x, &y).unwrap(), 10.0);
}

/// The example of dtaidistance's documentation.
#[test]
fn dtaidistance_documentation() {
    let x = series(&[0.0, 0.0, 1.0, 2.0, 1.0, 0.0, 1.0, 0.0, 0.0]);
    let y = series(&[0.0, 1.0, 2.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]);
    let root = Dtw::squared().measure(Measure::Root).check().unwrap();
    assert!((root.distance(&x, &y).unwrap() - std::f64::consts::SQRT_2).abs() < 1e-8);
    assert_eq!(
        Dtw::with_cost(Absolute)
            .check()
            .unwrap()
            .distance(&x, &y)
            .unwrap(),
        2.0
    );
}

/// The example of aeon's documentation of `dtw_distance`.
#[test]
fn aeon_documentation() {
    let dtw = Dtw::squared().check().unwrap();
    let x: Vec<f64> = (1..=10).map(f64::from).collect();
    let y: Vec<f64> = (11..=20).map(f64::from).collect();
    assert_eq!(dtw.distance(&series(&x), &series(&y)).unwrap(), 768.0);
}

/// The hand-checkable example of dtw-python (Giorgino 2009, J. Stat. Soft. 31(7)): a matrix of
/// ones with a clear path of zeros, its corner cut by 0.01.
#[test]
fn giorgino_hand_checkable() {
    let cost = |i: usize, j: usize| match (i, j) {
        (1, 4) => 0.01,
        (1, _) | (_, 4) => 0.0,
        _ => 1.0,
    };
    let with = |steps| Dtw::squared().steps(steps).check().unwrap();
    let symmetric = with(StepPattern::symmetric(SlopeConstraint::Zero));
    let found = symmetric.align_costs(&mut CostFn::new(6, 6, cost)).unwrap();
    assert_eq!(found.distance, 2.0);
    assert_eq!(
        found.path,
        [
            (0, 0),
            (1, 1),
            (1, 2),
            (1, 3),
            (2, 4),
            (3, 4),
            (4, 4),
            (5, 4),
            (5, 5)
        ]
    );
    let asymmetric = with(StepPattern::query_once());
    assert_eq!(
        asymmetric
            .distance_costs(&mut CostFn::new(6, 6, cost))
            .unwrap(),
        2.0
    );
}

/// Sakoe & Chiba 1978: without warping, the symmetric form weighs each frame of both series once,
/// so its normalised distance is the mean local cost; both forms obey their slope constraint.
#[test]
fn sakoe_chiba_weights() {
    let x = series(&[1.0, 5.0, 2.0, 8.0]);
    let y = series(&[1.5, 5.5, 2.5, 8.5]);
    for slope in [
        SlopeConstraint::Zero,
        SlopeConstraint::Half,
        SlopeConstraint::One,
        SlopeConstraint::Two,
    ] {
        for steps in [
            StepPattern::symmetric(slope),
            StepPattern::asymmetric(slope),
        ] {
            let dtw = Dtw::with_cost(Absolute)
                .steps(steps)
                .window(Window::SakoeChiba { radius: 0 })
                .measure(Measure::Normalised)
                .check()
                .unwrap();
            let found = dtw.align(&x, &y).unwrap();
            // The first cell weighs 1 in both forms.
            let symmetric =
                dtw.params().step_pattern().normalisation() == setdrift_warp::Normalisation::Both;
            let expected = if symmetric { 0.5 * 7.0 / 8.0 } else { 0.5 };
            assert!((found.distance - expected).abs() < 1e-12);
            assert_eq!(found.path, [(0, 0), (1, 1), (2, 2), (3, 3)]);
        }
    }
}

//! Gaps, errors, subsequences, pairs and averages.

#![allow(clippy::unwrap_used, reason = "a test may fail by panicking")]

use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

use setdrift_warp::{
    Absolute, Barycentre, Condensed, Control, CostFn, Dtw, Error, Gaps, Huber, Measure,
    Multivariate, Series, SlopeConstraint, StepPattern, Window, pairwise,
};

const NAN: f64 = f64::NAN;

fn series(values: &[f64]) -> Series<f64> {
    Series::univariate(values).unwrap()
}

/// Deterministic noise.
fn noise(len: usize, mut seed: u64) -> Vec<f64> {
    let mut next = || {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (seed >> 40) as f64 / (1u64 << 24) as f64 - 0.5
    };
    (0..len).map(|_| next()).collect()
}

#[test]
fn gaps_cost_what_is_asked() {
    let a = Series::from_frames_with_gaps(&[1.0, NAN, 2.0, 5.0, NAN, NAN], 2).unwrap();
    let b = Series::from_frames(&[2.0, 3.0, 2.0, 3.0, 0.0, 0.0], 2).unwrap();
    let diagonal = Window::SakoeChiba { radius: 0 };
    let with = |gaps| Dtw::squared().window(diagonal).gaps(gaps).check().unwrap();
    // Known: 1, then 0 + 4; unknown: one coordinate, then two.
    assert_eq!(with(Gaps::Cost(0.0)).distance(&a, &b).unwrap(), 5.0);
    assert_eq!(with(Gaps::Cost(0.5)).distance(&a, &b).unwrap(), 6.5);
    assert_eq!(
        with(Gaps::Rescale { none_known: 7.0 })
            .distance(&a, &b)
            .unwrap(),
        2.0 + 4.0 + 7.0
    );
    assert_eq!(with(Gaps::Cost(0.5)).distance(&b, &a).unwrap(), 6.5);
    assert!(Dtw::squared().gaps(Gaps::Cost(-1.0)).check().is_err());
}

#[test]
fn series_refuse_bad_values() {
    assert_eq!(Series::<f64>::univariate(&[]), Err(Error::EmptySeries));
    assert_eq!(
        Series::from_frames(&[1.0, 2.0], 0),
        Err(Error::NoDimensions)
    );
    assert_eq!(
        Series::from_frames(&[1.0, 2.0, 3.0], 2),
        Err(Error::RaggedFrames { values: 3, dims: 2 })
    );
    assert!(matches!(
        Series::from_frames(&[1.0, 2.0, 3.0, NAN], 2),
        Err(Error::NotFinite {
            frame: 1,
            dim: 1,
            ..
        })
    ));
    let infinite = Series::from_frames_with_gaps(&[1.0, NAN, f64::INFINITY, 2.0], 2);
    assert!(matches!(
        infinite,
        Err(Error::NotFinite {
            frame: 1,
            dim: 0,
            ..
        })
    ));
    let good = series(&[1.0, 2.0]);
    assert_eq!(good.slice(1..1), Err(Error::EmptySeries));
    assert!(good.slice(1..3).is_err());
}

#[test]
fn comparisons_refuse_what_cannot_be_compared() {
    let (one, two) = (
        series(&[1.0, 2.0]),
        Series::from_frames(&[1.0, 2.0], 2).unwrap(),
    );
    let dtw = Dtw::squared().check().unwrap();
    assert_eq!(
        dtw.distance(&one, &two),
        Err(Error::DimensionMismatch {
            query: 1,
            reference: 2
        })
    );
    assert!(dtw.align(&one, &two).is_err() && dtw.matches(&one, &two, 1, f64::INFINITY).is_err());
    assert!(
        dtw.pairwise(&[one.clone(), two], Control::default())
            .is_err()
    );
    let narrow = Dtw::squared()
        .window(Window::SakoeChiba { radius: 1 })
        .check()
        .unwrap();
    let long = series(&[0.0; 5]);
    assert_eq!(
        narrow.distance(&one, &long),
        Err(Error::NoPath {
            query: 2,
            reference: 5
        })
    );
    assert_eq!(
        narrow.align(&one, &long).map(|_| ()),
        Err(Error::NoPath {
            query: 2,
            reference: 5
        })
    );
    let steep = Dtw::squared()
        .steps(StepPattern::symmetric(SlopeConstraint::One))
        .check()
        .unwrap();
    assert_eq!(
        steep.distance(&one, &long),
        Err(Error::NoPath {
            query: 2,
            reference: 5
        })
    );
    for bad in [-1.0, NAN] {
        let mut rows = CostFn::new(3, 3, |i, j| if (i, j) == (1, 2) { bad } else { 0.0 });
        let found = dtw.align_costs(&mut rows);
        assert!(matches!(
            found,
            Err(Error::LocalCost {
                query: 1,
                reference: 2,
                ..
            })
        ));
    }
    assert_eq!(
        dtw.distance_costs(&mut CostFn::new(0, 3, |_, _| 0.0)),
        Err(Error::EmptySeries)
    );
}

#[test]
fn options_refuse_what_does_not_go_together() {
    let independent = Dtw::squared().multivariate(Multivariate::Independent);
    assert!(independent.clone().open_end(true).check().is_err());
    let normalised = Dtw::squared().measure(Measure::Normalised);
    assert!(normalised.clone().check().is_err());
    let symmetric = normalised
        .clone()
        .steps(StepPattern::symmetric(SlopeConstraint::Zero));
    assert!(symmetric.clone().check().is_ok());
    assert!(symmetric.open_begin(true).check().is_err());
    assert!(
        normalised
            .steps(StepPattern::query_once())
            .open_begin(true)
            .check()
            .is_ok()
    );
    assert!(Huber::new(0.0).is_err());
    assert!(
        Dtw::squared()
            .window(Window::Slanted { radius: NAN })
            .check()
            .is_err()
    );
    assert!(
        Dtw::squared()
            .window(Window::Itakura { max_slope: 0.5 })
            .check()
            .is_err()
    );
    let two = Series::from_frames(&[1.0, 2.0], 2).unwrap();
    assert!(independent.check().unwrap().align(&two, &two).is_err());
}

#[test]
fn single_frames_and_huge_radii_are_fine() {
    let (one, many) = (series(&[1.0]), series(&[0.0, 3.0, 1.0]));
    let radius = usize::MAX;
    for window in [
        Window::Full,
        Window::SakoeChiba { radius },
        Window::Widened { radius: 0 },
        Window::Itakura { max_slope: 1.0 },
    ] {
        let dtw = Dtw::with_cost(Absolute).window(window).check().unwrap();
        assert_eq!(dtw.distance(&one, &many).unwrap(), 3.0);
        assert_eq!(dtw.distance(&many, &one).unwrap(), 3.0);
        assert_eq!(
            dtw.align(&one, &many).unwrap().path,
            [(0, 0), (0, 1), (0, 2)]
        );
        assert_eq!(dtw.distance(&one, &one).unwrap(), 0.0);
    }
}

#[test]
fn matches_do_not_overlap_and_come_best_first() {
    let query = series(&[0.0, 3.0, 1.0]);
    let mut long = noise(60, 7);
    for (at, lift) in [(10, 0.0), (30, 0.2), (45, 0.1)] {
        for (offset, value) in [0.0, 3.0, 1.0].into_iter().enumerate() {
            long[at + offset] = value + lift;
        }
    }
    let long = series(&long);
    let dtw = Dtw::with_cost(Absolute).check().unwrap();
    let found = dtw.matches(&query, &long, 3, f64::INFINITY).unwrap();
    // The planted ones are found in order of their lift; each is a closed alignment of its stretch.
    for (one, at) in found.iter().zip([10, 45, 30]) {
        assert!(one.reference.contains(&(at + 1)));
        let stretch = long.slice(one.reference.clone()).unwrap();
        assert!((dtw.distance(&query, &stretch).unwrap() - one.distance).abs() < 1e-12);
    }
    let all = dtw.matches(&query, &long, 60, f64::INFINITY).unwrap();
    let mut taken = [false; 60];
    for one in &all {
        for frame in one.reference.clone() {
            assert!(!std::mem::replace(&mut taken[frame], true));
        }
    }
    assert!(
        all.windows(2)
            .all(|pair| pair[0].distance <= pair[1].distance)
    );
    assert!(
        taken.iter().all(|&taken| taken),
        "one query frame can take one reference frame, so none is left"
    );
    let few = dtw.matches(&query, &long, 60, all[4].distance).unwrap();
    assert_eq!(few[..], all[..few.len()]);
    assert!(few.len() >= 5);
}

#[test]
fn pairs_are_the_same_on_any_number_of_threads() {
    let all: Vec<Series<f64>> = (0..30)
        .map(|k| Series::from_frames(&noise(2 * (20 + k), k as u64), 2).unwrap())
        .collect();
    let dtw = Dtw::squared()
        .window(Window::Widened { radius: 4 })
        .check()
        .unwrap();
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| dtw.pairwise(&all, Control::default()).unwrap())
    };
    let (one, three) = (on(1), on(3));
    assert_eq!(one, three);
    for i in 0..30 {
        for j in 0..30 {
            let expected = (i != j).then(|| dtw.distance(&all[i.min(j)], &all[i.max(j)]).unwrap());
            assert_eq!(one.get(i, j), expected);
        }
    }
    assert_eq!(one.get(3, 30), None);
    for few in 0..2 {
        assert!(
            dtw.pairwise(&all[..few], Control::default())
                .unwrap()
                .values()
                .is_empty()
        );
    }
}

#[test]
fn pairs_report_progress_and_stop() {
    let cancel = AtomicBool::new(false);
    let seen = Mutex::new(Vec::new());
    let progress = |done: usize, total: usize| seen.lock().unwrap().push((done, total));
    let control = Control {
        cancel: Some(&cancel),
        progress: Some(&progress),
    };
    let all = pairwise(40, control, |i, j| Ok((i * 100 + j) as f64)).unwrap();
    assert_eq!(all.values().len(), 780);
    assert_eq!(all.get(17, 3), Some(317.0));
    assert_eq!(seen.lock().unwrap().iter().max(), Some(&(780, 780)));
    let stopping = |_: usize, _: usize| {
        cancel.store(true, Ordering::Relaxed);
        Ok(0.0)
    };
    assert_eq!(pairwise(400, control, stopping), Err(Error::Cancelled));
    cancel.store(false, Ordering::Relaxed);
    let failing = |i: usize, j: usize| {
        if i + j > 30 {
            Err(Error::NoPath {
                query: i,
                reference: j,
            })
        } else {
            Ok(0.0)
        }
    };
    assert_eq!(
        pairwise(40, control, failing),
        Err(Error::NoPath {
            query: 0,
            reference: 31
        })
    );
}

#[test]
fn pairs_of_series_report_progress_and_stop() {
    let all: Vec<Series<f64>> = (0..70).map(|k| series(&noise(10 + k, k as u64))).collect();
    let total = 70 * 69 / 2;
    for window in [Window::Full, Window::Slanted { radius: 80.0 }] {
        let dtw = Dtw::squared().window(window).check().unwrap();
        let cancel = AtomicBool::new(false);
        let seen = Mutex::new(Vec::new());
        let progress = |done: usize, total: usize| seen.lock().unwrap().push((done, total));
        let control = Control {
            cancel: Some(&cancel),
            progress: Some(&progress),
        };
        dtw.pairwise(&all, control).unwrap();
        assert_eq!(seen.lock().unwrap().iter().max(), Some(&(total, total)));
        cancel.store(true, Ordering::Relaxed);
        assert_eq!(dtw.pairwise(&all, control), Err(Error::Cancelled));
        // Asked to stop half-way.
        cancel.store(false, Ordering::Relaxed);
        let stop = |done: usize, _: usize| cancel.store(done > 0, Ordering::Relaxed);
        let control = Control {
            progress: Some(&stop),
            ..control
        };
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(1)
            .build()
            .unwrap();
        let stopped = pool.install(|| dtw.pairwise(&all, control));
        assert_eq!(stopped, Err(Error::Cancelled));
    }
}

#[test]
fn averages_are_the_same_on_any_number_of_threads() {
    let all: Vec<Series<f32>> = (0..23)
        .map(|k| {
            let values: Vec<f32> = noise(3 * (20 + k), k as u64)
                .into_iter()
                .map(|v| v as f32)
                .collect();
            Series::from_frames(&values, 3).unwrap()
        })
        .collect();
    let dtw = Dtw::with_cost(Huber::new(0.2f32).unwrap()).check().unwrap();
    let weights: Vec<f64> = (0..23).map(|k| 0.1 + f64::from(k)).collect();
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| {
            Barycentre::default()
                .fit(&dtw, &all[5], &all, Some(&weights))
                .unwrap()
        })
    };
    assert_eq!(on(1), on(4));
}

#[test]
fn medoid_has_the_least_sum() {
    let all = Condensed::from_values(4, vec![1.0, 5.0, 6.0, 4.0, 5.0, 1.0]).unwrap();
    assert_eq!(all.medoid(), Some(1));
    assert!(Condensed::from_values(4, vec![1.0; 5]).is_err());
    assert_eq!(
        Condensed::<f64>::from_values(0, vec![]).unwrap().medoid(),
        None
    );
}

#[test]
fn averaging_lowers_the_inertia_and_obeys_weights() {
    let base = noise(40, 3);
    let all: Vec<Series<f64>> = (0..6)
        .map(|k| {
            let extra = noise(40, 10 + k);
            let values: Vec<f64> = base.iter().zip(&extra).map(|(b, e)| b + 0.2 * e).collect();
            Series::from_frames(&values, 2).unwrap()
        })
        .collect();
    let dtw = Dtw::squared()
        .window(Window::Widened { radius: 3 })
        .check()
        .unwrap();
    let average = Barycentre::default()
        .fit(&dtw, &all[0], &all, None)
        .unwrap();
    assert!(
        average
            .inertia
            .windows(2)
            .all(|pair| pair[1] <= pair[0] + 1e-12)
    );
    assert!(average.inertia[average.inertia.len() - 1] < 0.9 * average.inertia[0]);
    let sum: f64 = all
        .iter()
        .map(|one| dtw.distance(&average.centre, one).unwrap())
        .sum();
    assert!((sum - average.inertia[average.inertia.len() - 1]).abs() < 1e-9);

    // All the weight on one series makes it the average; equal weights change nothing.
    let only = Barycentre::default()
        .fit(&dtw, &all[0], &all, Some(&[0.0, 0.0, 1.0, 0.0, 0.0, 0.0]))
        .unwrap();
    assert!(only.inertia[only.inertia.len() - 1] < 0.5 * only.inertia[0]);
    let alone = Barycentre::default()
        .fit(&dtw, &all[0], &all[2..3], None)
        .unwrap();
    assert_eq!(only.centre, alone.centre);
    let alike = Barycentre::default()
        .fit(&dtw, &all[0], &all, Some(&[2.0; 6]))
        .unwrap();
    for frame in 0..20 {
        let (a, b) = (
            alike.centre.get(frame, 1).unwrap(),
            average.centre.get(frame, 1).unwrap(),
        );
        assert!((a - b).abs() < 1e-9);
    }
    for bad in [&[1.0; 5][..], &[0.0; 6], &[1.0, 1.0, 1.0, 1.0, 1.0, -1.0]] {
        assert!(
            Barycentre::default()
                .fit(&dtw, &all[0], &all, Some(bad))
                .is_err()
        );
    }
    assert!(Barycentre::default().fit(&dtw, &all[0], &[], None).is_err());
}

#[test]
fn averaging_leaves_unknown_values_out() {
    let dtw = Dtw::squared()
        .window(Window::SakoeChiba { radius: 0 })
        .check()
        .unwrap();
    let with_gaps = |values: &[f64]| Series::from_frames_with_gaps(values, 1).unwrap();
    let all = [with_gaps(&[1.0, NAN, NAN]), with_gaps(&[3.0, 4.0, NAN])];
    let average = Barycentre::default()
        .fit(&dtw, &series(&[0.0, 0.0, 9.0]), &all, None)
        .unwrap();
    assert_eq!(average.centre.to_frames(), [2.0, 4.0, 9.0]);
    let deviation = average.deviation.to_frames();
    assert_eq!(deviation[..2], [1.0, 0.0]);
    assert!(deviation[2].is_nan());
}

//! Kernels, batches, bounds and searches against the plain table, bit for bit.

#![allow(clippy::unwrap_used, reason = "a test may fail by panicking")]

mod patterns;

use patterns::patterns;
use proptest::prelude::*;
use setdrift_warp::{
    Absolute, Capped, CappedSquared, Control, Dtw, Envelope, Error, Euclidean, Gaps, Huber,
    LocalCost, Measure, Multivariate, Neighbour, Real, References, Series, SlopeConstraint,
    Squared, StepPattern, Window,
};

/// A few series of 1 to 70 frames.
fn collection() -> impl Strategy<Value = (usize, Vec<Vec<f64>>)> {
    (1usize..=6, 1usize..=40).prop_flat_map(|(dims, count)| {
        let one = (1usize..=70, -1000i32..1000).prop_map(move |(len, seed)| {
            let mut state = seed as u64 ^ 0x9e37_79b9_7f4a_7c15;
            let mut walk = 0.0;
            (0..len * dims)
                .map(|_| {
                    state = state
                        .wrapping_mul(6_364_136_223_846_793_005)
                        .wrapping_add(1_442_695_040_888_963_407);
                    walk += (state >> 40) as f64 / (1u64 << 24) as f64 - 0.5;
                    walk
                })
                .collect()
        });
        (Just(dims), prop::collection::vec(one, count))
    })
}

fn bands() -> impl Strategy<Value = Window> {
    prop_oneof![
        Just(Window::Full),
        (0usize..80).prop_map(|radius| Window::SakoeChiba { radius }),
        (0usize..40).prop_map(|radius| Window::Widened { radius }),
    ]
}

fn agree<T: Real, C: LocalCost<T>>(dtw: &Dtw<C>, series: &[Series<T>], independent: bool) {
    let references = References::new(series).unwrap();
    let mut missing = None;
    for (i, query) in series.iter().enumerate() {
        let expected: Vec<Result<T, Error>> = series
            .iter()
            .map(|one| {
                if !independent {
                    return dtw.align(query, one).map(|found| found.distance);
                }
                (0..query.dims()).try_fold(T::ZERO, |sum, dim| {
                    let (query, one) = (query.dimension(dim).unwrap(), one.dimension(dim).unwrap());
                    Ok(sum + dtw.align(&query, &one)?.distance)
                })
            })
            .collect();
        for (j, (one, expected)) in series.iter().zip(&expected).enumerate() {
            assert_eq!(&dtw.distance(query, one), expected);
            if let Ok(distance) = expected {
                let less = T::from_f64(distance.to_f64() * 0.999 - 1e-6);
                assert_eq!(
                    dtw.distance_within(query, one, *distance),
                    Ok(Some(*distance))
                );
                assert_eq!(dtw.distance_within(query, one, less), Ok(None));
            } else if i < j && missing.is_none() {
                missing = Some(expected.clone());
            }
        }
        match expected.iter().cloned().collect::<Result<Vec<T>, Error>>() {
            Err(error) => {
                assert_eq!(dtw.distances(query, &references), Err(error.clone()));
                assert_eq!(dtw.nearest(query, &references, 1), Err(error));
            }
            Ok(expected) => {
                assert_eq!(dtw.distances(query, &references).unwrap(), expected);
                for (j, one) in series.iter().enumerate() {
                    assert!(dtw.ends_bound(query, one).unwrap() <= expected[j]);
                    let around_query = Envelope::of_query(dtw, query, one.len()).unwrap();
                    assert!(dtw.keogh_bound(&around_query, one).unwrap() <= expected[j]);
                    let around_reference = Envelope::of_reference(dtw, one, query.len()).unwrap();
                    assert!(dtw.keogh_bound(&around_reference, query).unwrap() <= expected[j]);
                    check_cascade(dtw, query, one);
                }
                let mut ranked: Vec<Neighbour<T>> = expected
                    .iter()
                    .enumerate()
                    .map(|(index, &distance)| Neighbour { index, distance })
                    .collect();
                ranked.sort_by(|a, b| {
                    a.distance
                        .partial_cmp(&b.distance)
                        .unwrap()
                        .then(a.index.cmp(&b.index))
                });
                for count in [0, 1, 3, series.len() + 1] {
                    let found = dtw.nearest(query, &references, count).unwrap();
                    assert_eq!(found, ranked[..count.min(series.len())]);
                }
            }
        }
    }
    let pairs = dtw.pairwise(series, Control::default());
    match missing {
        Some(error) => assert_eq!(pairs.map(|_| ()), error.map(|_| ())),
        None => {
            let pairs = pairs.unwrap();
            for i in 0..series.len() {
                for j in i + 1..series.len() {
                    assert_eq!(
                        pairs.get(i, j),
                        Some(dtw.distance(&series[i], &series[j]).unwrap())
                    );
                }
            }
        }
    }
}

/// The cascade is the greatest bound, or the first that exceeds the limit.
fn check_cascade<T: Real, C: LocalCost<T>>(dtw: &Dtw<C>, query: &Series<T>, one: &Series<T>) {
    let ends = dtw.ends_bound(query, one).unwrap();
    let around_reference = Envelope::of_reference(dtw, one, query.len()).unwrap();
    let about_reference = dtw.keogh_bound(&around_reference, query).unwrap();
    let around_query = Envelope::of_query(dtw, query, one.len()).unwrap();
    let about_query = dtw.keogh_bound(&around_query, one).unwrap();
    let two = ends.most(about_reference);
    let all = two.most(about_query);
    let cascade = |limit| dtw.cascade_bound(query, one, limit).unwrap();
    assert_eq!(cascade(T::INFINITY), all);
    assert_eq!(cascade(two), all);
    assert_eq!(cascade(ends), if two > ends { two } else { all });
    assert_eq!(cascade(T::ZERO - T::ONE), ends);
}

/// One value in `every` unknown, not the same in all series; none with an `every` of 0.
fn with_gaps<T: Real>(values: &[Vec<f64>], dims: usize, every: usize) -> Vec<Series<T>> {
    let known = |k: usize, at: usize| every == 0 || !(at * 7 + k * 3 + 1).is_multiple_of(every);
    let one = |(k, one): (usize, &Vec<f64>)| {
        let values: Vec<T> = one
            .iter()
            .enumerate()
            .map(|(at, &value)| {
                if known(k, at) {
                    T::from_f64(value)
                } else {
                    T::NAN
                }
            })
            .collect();
        Series::from_frames_with_gaps(&values, dims).unwrap()
    };
    values.iter().enumerate().map(one).collect()
}

fn gap_rule() -> impl Strategy<Value = Gaps> {
    prop_oneof![
        Just(Gaps::Cost(0.0)),
        Just(Gaps::Cost(0.3)),
        Just(Gaps::Rescale { none_known: 0.7 }),
    ]
}

fn both<C: LocalCost<f32> + LocalCost<f64>>(
    cost: C,
    window: Window,
    independent: bool,
    gaps: (usize, Gaps),
    dims: usize,
    values: &[Vec<f64>],
) {
    let multivariate = if independent {
        Multivariate::Independent
    } else {
        Multivariate::Dependent
    };
    let dtw = Dtw::with_cost(cost)
        .window(window)
        .multivariate(multivariate)
        .gaps(gaps.1)
        .check()
        .unwrap();
    agree::<f64, _>(&dtw, &with_gaps(values, dims, gaps.0), independent);
    agree::<f32, _>(&dtw, &with_gaps(values, dims, gaps.0), independent);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn every_way_to_a_distance_gives_the_same_bits(
        (dims, values) in collection(),
        window in bands(),
        independent in any::<bool>(),
        cost in 0usize..2,
        unknown in prop_oneof![Just(0usize), 2usize..20],
        gaps in gap_rule(),
    ) {
        let gaps = (unknown, gaps);
        match cost {
            0 => both(Squared, window, independent, gaps, dims, &values),
            _ => both(Euclidean, window, independent, gaps, dims, &values),
        }
    }

    /// A distance alone takes the shorter series as the table's columns; the alignment does not.
    #[test]
    fn distances_and_alignments_agree_for_all_steps_and_windows(
        (dims, values) in collection(),
        window in prop_oneof![
            bands(),
            (0.0f64..30.0).prop_map(|radius| Window::Slanted { radius }),
            (1.0f64..4.0).prop_map(|max_slope| Window::Itakura { max_slope }),
        ],
        unknown in prop_oneof![Just(0usize), 2usize..20],
        gaps in gap_rule(),
    ) {
        let series: Vec<Series<f64>> = with_gaps(&values, dims, unknown);
        for steps in patterns() {
            let dtw = Dtw::squared().window(window).steps(steps).gaps(gaps).check().unwrap();
            for query in series.iter().take(3) {
                for one in &series {
                    let expected = dtw.align(query, one).map(|found| found.distance);
                    prop_assert_eq!(dtw.distance(query, one), expected.clone());
                    if let Ok(distance) = expected {
                        prop_assert_eq!(dtw.distance_within(query, one, distance), Ok(Some(distance)));
                        prop_assert_eq!(dtw.distance_within(query, one, distance * 0.999 - 1e-6), Ok(None));
                    }
                }
            }
        }
    }

    #[test]
    fn bounds_hold_for_other_costs_windows_and_steps(
        (dims, values) in collection(),
        slanted in 0.0f64..20.0,
        gap in prop_oneof![Just(0usize), 2usize..9],
        rescale in any::<bool>(),
    ) {
        let series: Vec<Series<f64>> = with_gaps(&values, dims, gap);
        let gaps = if rescale { Gaps::Rescale { none_known: 0.3 } } else { Gaps::Cost(0.2) };
        let symmetric = StepPattern::symmetric(SlopeConstraint::Zero);
        for window in [Window::Slanted { radius: slanted }, Window::Full] {
            for steps in [StepPattern::unweighted(), symmetric.clone()] {
                hold(&Dtw::with_cost(Huber::new(0.5).unwrap()).window(window).steps(steps.clone()).gaps(gaps).check().unwrap(), &series);
                hold(&Dtw::with_cost(CappedSquared::new(0.5).unwrap()).window(window).steps(steps.clone()).gaps(gaps).check().unwrap(), &series);
                let capped = Capped::new(Absolute, 0.7).unwrap();
                hold(&Dtw::with_cost(capped).window(window).steps(steps).gaps(gaps).measure(Measure::Root).check().unwrap(), &series);
            }
        }
    }
}

fn hold<C: LocalCost<f64>>(dtw: &Dtw<C>, series: &[Series<f64>]) {
    let references = References::new(series).unwrap();
    for query in series.iter().take(4) {
        let all = dtw.distances(query, &references);
        for (j, one) in series.iter().enumerate() {
            let Ok(distance) = dtw.distance(query, one) else {
                assert!(all.is_err());
                continue;
            };
            assert_eq!(dtw.align(query, one).unwrap().distance, distance);
            if let Ok(all) = &all {
                assert_eq!(all[j], distance);
            }
            assert!(dtw.ends_bound(query, one).unwrap() <= distance);
            let around_query = Envelope::of_query(dtw, query, one.len()).unwrap();
            assert!(dtw.keogh_bound(&around_query, one).unwrap() <= distance);
            let around_reference = Envelope::of_reference(dtw, one, query.len()).unwrap();
            assert!(dtw.keogh_bound(&around_reference, query).unwrap() <= distance);
            check_cascade(dtw, query, one);
        }
    }
}

/// Without bounds or kernels the search still answers.
#[test]
fn nearest_without_kernels() {
    let series: Vec<Series<f64>> = (0..9)
        .map(|k| Series::univariate(&[f64::from(k), f64::from(k % 4), 1.0]).unwrap())
        .collect();
    let dtw = Dtw::squared()
        .steps(StepPattern::query_once())
        .open_end(true)
        .check()
        .unwrap();
    let references = References::new(&series).unwrap();
    let found = dtw.nearest(&series[4], &references, 9).unwrap();
    let mut expected: Vec<(f64, usize)> = (0..9)
        .map(|index| (dtw.distance(&series[4], &series[index]).unwrap(), index))
        .collect();
    expected.sort_by(|a, b| a.partial_cmp(b).unwrap());
    let found: Vec<(f64, usize)> = found.iter().map(|one| (one.distance, one.index)).collect();
    assert_eq!(found, expected);
    assert!(dtw.ends_bound(&series[0], &series[1]).is_err());
    assert!(References::<f64>::new(&[]).unwrap().is_empty());
    assert!(
        dtw.nearest(&series[0], &References::new(&[]).unwrap(), 2)
            .unwrap()
            .is_empty()
    );
}

/// LB_Keogh by hand, radius 2: the envelope on the second series, the first the query, gives 1;
/// the other way round 0 (recomputed with a plain program, no published source).
#[test]
fn keogh_bound_by_hand() {
    let x = Series::univariate(&[0.0, 0.0, 1.0, 2.0, 1.0, 0.0, 1.0, 0.0, 0.0]).unwrap();
    let y = Series::univariate(&[0.0, 1.0, 2.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]).unwrap();
    let dtw = Dtw::squared()
        .window(Window::SakoeChiba { radius: 2 })
        .check()
        .unwrap();
    let envelope = Envelope::of_reference(&dtw, &y, 9).unwrap();
    assert!((dtw.keogh_bound(&envelope, &x).unwrap() - 1.0f64).abs() < 1e-12);
    let envelope = Envelope::of_reference(&dtw, &x, 9).unwrap();
    assert_eq!(dtw.keogh_bound(&envelope, &y).unwrap(), 0.0);
    assert!(dtw.keogh_bound(&envelope, &y.slice(0..4).unwrap()).is_err());
    assert!(Envelope::of_reference(&dtw, &x, 0).is_err());
    assert!(matches!(
        Envelope::of_reference(&dtw, &x, 90),
        Err(Error::NoPath {
            query: 90,
            reference: 9
        })
    ));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Matches one by one, each the best open-ended alignment within what is left.
    #[test]
    fn matches_are_the_best_of_what_is_left(
        (dims, values) in collection(),
        count in 1usize..6,
        tenths in 3u8..20,
        unknown in prop_oneof![Just(0usize), 2usize..20],
        gaps in gap_rule(),
    ) {
        let joined: Vec<f64> = values.iter().flatten().copied().collect();
        let query = with_gaps::<f64>(&values[..1], dims, unknown).remove(0);
        let long = with_gaps::<f64>(&[joined], dims, unknown).remove(0);
        for steps in [StepPattern::unweighted(), StepPattern::query_once()] {
            let dtw = Dtw::squared().steps(steps).measure(Measure::Root).gaps(gaps);
            let open = dtw.clone().open_begin(true).open_end(true).check().unwrap();
            let dtw = dtw.check().unwrap();
            let mut free: Vec<(usize, usize)> = vec![(0, long.len())];
            let mut expected = Vec::new();
            let mut limit = f64::INFINITY;
            while expected.len() < count {
                let within = |&(from, to): &(usize, usize)| {
                    let found = open.align(&query, &long.slice(from..to).unwrap()).ok()?;
                    let (first, last) = (found.path[0].1, found.path[found.path.len() - 1].1);
                    Some((found.distance, from + last + 1, from + first, (from, to)))
                };
                let best = free.iter().filter_map(within).reduce(|a, b| if (b.0, b.1) < (a.0, a.1) { b } else { a });
                let Some((distance, end, begin, stretch)) = best else { break };
                if expected.is_empty() {
                    limit = distance * f64::from(tenths) / 5.0;
                }
                if distance > limit {
                    break;
                }
                free.retain(|one| *one != stretch);
                free.extend([(stretch.0, begin), (end, stretch.1)].into_iter().filter(|one| one.0 < one.1));
                expected.push((begin..end, distance));
            }
            let found = dtw.matches(&query, &long, count, limit).unwrap();
            let found: Vec<_> = found.into_iter().map(|one| (one.reference, one.distance)).collect();
            prop_assert_eq!(found, expected);
        }
    }
}

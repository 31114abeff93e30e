//! Whatever is put in, the answer is a value or an error: no panic, no number that is not one.

#![allow(clippy::unwrap_used, reason = "a test may fail by panicking")]

use proptest::prelude::*;
use setdrift_warp::connected::{
    Decoder, Filler, FillerCost, Grammar, HubId, Settings, Tempo, Word, WordId,
};
use setdrift_warp::{
    Barycentre, Capped, CappedSquared, Cell, Condensed, Control, CostFn, Dtw, DtwParams, Envelope,
    Error, Gaps, Huber, LocalCost, Measure, Move, Multivariate, Normalisation, Real, References,
    Series, SlopeConstraint, StepPattern, Window, pairwise,
};

/// Numbers that break things.
fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => -10.0..10.0f64,
        1 => Just(f64::NAN),
        1 => prop::sample::select(vec![
            0.0, -0.0, f64::INFINITY, f64::NEG_INFINITY, f64::MAX, f64::MIN, f64::MIN_POSITIVE, 5e-324,
            -1.0, 1e-9, 3e38, -3e38, 1e154, 1e200, f64::EPSILON,
        ]),
    ]
}

fn size() -> impl Strategy<Value = usize> {
    prop_oneof![
        6 => 0usize..9,
        1 => 30usize..50,
        1 => prop::sample::select(vec![255, 256, usize::MAX, usize::MAX / 2, u32::MAX as usize]),
    ]
}

fn window() -> impl Strategy<Value = Window> {
    prop_oneof![
        Just(Window::Full),
        size().prop_map(|radius| Window::SakoeChiba { radius }),
        size().prop_map(|radius| Window::Widened { radius }),
        number().prop_map(|radius| Window::Slanted { radius }),
        number().prop_map(|max_slope| Window::Itakura { max_slope }),
    ]
}

fn steps() -> impl Strategy<Value = Option<StepPattern>> {
    let slope = prop::sample::select(vec![
        SlopeConstraint::Zero,
        SlopeConstraint::Half,
        SlopeConstraint::One,
        SlopeConstraint::Two,
    ]);
    let cell = (0usize..4, 0usize..4, number()).prop_map(|(query, reference, weight)| Cell {
        query,
        reference,
        weight,
    });
    let one = ((size(), size()), prop::collection::vec(cell, 0..4));
    let custom = prop::collection::vec(one, 0..4).prop_map(|moves| {
        let moves = moves
            .into_iter()
            .map(|(origin, cells)| Move { origin, cells });
        StepPattern::custom(moves.collect(), Normalisation::Reference).ok()
    });
    prop_oneof![
        3 => Just(Some(StepPattern::unweighted())),
        1 => Just(Some(StepPattern::query_once())),
        1 => Just(Some(StepPattern::itakura())),
        1 => slope.clone().prop_map(|slope| Some(StepPattern::symmetric(slope))),
        1 => slope.prop_map(|slope| Some(StepPattern::asymmetric(slope))),
        2 => custom,
    ]
}

/// Options, good and bad.
#[derive(Debug, Clone)]
struct Options {
    window: Window,
    steps: Option<StepPattern>,
    gaps: Gaps,
    measure: Measure,
    independent: bool,
    open: (bool, bool),
}

fn options() -> impl Strategy<Value = Options> {
    let gaps = prop_oneof![
        number().prop_map(Gaps::Cost),
        number().prop_map(|none_known| Gaps::Rescale { none_known }),
        Just(Gaps::default()),
    ];
    let measure = prop::sample::select(vec![Measure::Cost, Measure::Root, Measure::Normalised]);
    (
        window(),
        steps(),
        gaps,
        measure,
        any::<bool>(),
        any::<(bool, bool)>(),
    )
        .prop_map(
            |(window, steps, gaps, measure, independent, open)| Options {
                window,
                steps,
                gaps,
                measure,
                independent,
                open,
            },
        )
}

impl Options {
    fn of<C>(&self, params: DtwParams<C>) -> Result<Dtw<C>, Error> {
        let multivariate = if self.independent {
            Multivariate::Independent
        } else {
            Multivariate::Dependent
        };
        params
            .window(self.window)
            .steps(self.steps.clone().unwrap_or_default())
            .gaps(self.gaps)
            .measure(self.measure)
            .multivariate(multivariate)
            .open_begin(self.open.0)
            .open_end(self.open.1)
            .check()
    }
}

/// A finite number of 0 or more, or an error.
fn sound<T: Real>(found: Result<T, Error>) {
    if let Ok(value) = found {
        assert!(value.is_finite() && value >= T::ZERO, "{value:?}");
    }
}

fn every_call<T: Real, C: LocalCost<T>>(
    dtw: &Dtw<C>,
    series: &[Series<T>],
    limit: T,
    count: usize,
) {
    let query = &series[0];
    for one in series {
        sound(dtw.distance(query, one));
        if let Ok(Some(found)) = dtw.distance_within(query, one, limit) {
            assert!(found <= limit);
        }
        if let Ok(found) = dtw.align(query, one) {
            assert!(found.distance.is_finite());
            assert!(
                found
                    .path
                    .iter()
                    .all(|at| at.0 < query.len() && at.1 < one.len())
            );
            assert_eq!(dtw.distance(query, one), Ok(found.distance));
        }
        let mut end = one.len();
        for found in dtw
            .matches(query, one, count.min(5), limit)
            .unwrap_or_default()
        {
            assert!(found.distance.is_finite() && found.distance <= limit);
            assert!(
                found.reference.start < found.reference.end && found.reference.end <= one.len()
            );
            end = end.min(found.reference.end);
        }
        assert!(end > 0);
        for len in [0, 1, query.len(), count] {
            if len > 1000 && len < usize::MAX / 4 {
                continue; // it would be kept
            }
            if let Ok(envelope) = Envelope::of_reference(dtw, one, len) {
                let _ = dtw.keogh_bound(&envelope, query);
            }
            if let Ok(envelope) = Envelope::of_query(dtw, query, len) {
                let _ = dtw.keogh_bound(&envelope, one);
            }
        }
        let bound = dtw.cascade_bound(query, one, limit);
        if let (Ok(bound), Ok(distance)) = (bound, dtw.distance(query, one)) {
            assert!(bound <= distance);
        }
    }
    if let Ok(references) = References::new(series) {
        let _ = dtw
            .distances(query, &references)
            .map(|all| all.into_iter().for_each(|one| sound(Ok(one))));
        let nearest = dtw.nearest(query, &references, count);
        let _ = nearest.map(|all| all.into_iter().for_each(|one| sound(Ok(one.distance))));
    }
    if let Ok(all) = dtw.pairwise(series, Control::default()) {
        all.values().iter().for_each(|&value| sound(Ok(value)));
    }
    let average = Barycentre {
        max_rounds: count.min(3),
        tolerance: limit.to_f64(),
    };
    let weights: Vec<f64> = series
        .iter()
        .map(|one| one.get(0, 0).unwrap_or(limit).to_f64())
        .collect();
    for weights in [None, Some(&weights[..])] {
        if let Ok(average) = average.fit(dtw, query, series, weights) {
            assert_eq!(average.centre.len(), query.len());
            assert!(average.inertia.iter().all(|inertia| inertia.is_finite()));
            let known = |series: &Series<T>| {
                series
                    .to_frames()
                    .into_iter()
                    .all(|value| value.is_unknown() || value.is_finite())
            };
            assert!(known(&average.centre) && known(&average.deviation));
        }
    }
}

fn some_series<T: Real>(values: &[Vec<f64>], dims: &[usize]) -> Vec<Series<T>> {
    let one = |(values, &dims): (&Vec<f64>, &usize)| {
        let values: Vec<T> = values.iter().map(|&value| T::from_f64(value)).collect();
        let plain = Series::from_frames(&values, dims);
        plain
            .or_else(|_| Series::from_frames_with_gaps(&values, dims))
            .ok()
    };
    values.iter().zip(dims).filter_map(one).collect()
}

/// Each local cost in one number type, since every call is compiled anew for each.
fn with_cost(
    options: &Options,
    values: &[Vec<f64>],
    dims: &[usize],
    cost: u8,
    numbers: (f64, f64),
    count: usize,
) -> Result<(), Error> {
    let (double, single) = (
        some_series::<f64>(values, dims),
        some_series::<f32>(values, dims),
    );
    if double.is_empty() || single.is_empty() {
        return Ok(());
    }
    let (limit, parameter) = numbers;
    match cost {
        0 => every_call(&options.of(Dtw::squared())?, &double, limit, count),
        1 => {
            let huber = Huber::new(parameter as f32)?;
            every_call(
                &options.of(Dtw::with_cost(huber))?,
                &single,
                limit as f32,
                count,
            );
        }
        _ => {
            let capped = Capped::new(CappedSquared::new(parameter)?, parameter)?;
            every_call(&options.of(Dtw::with_cost(capped))?, &double, limit, count);
        }
    }
    Ok(())
}

fn maybe() -> impl Strategy<Value = Option<f32>> {
    prop_oneof![2 => Just(None), 2 => Just(Some(0.5f32)), 1 => number().prop_map(|cost| Some(cost as f32))]
}

fn word() -> impl Strategy<Value = Word> {
    let stay = prop_oneof![Just(None), size().prop_map(Some)];
    // The sizes are kept small enough to be laid out, or too large to be tried.
    let len = prop_oneof![8 => 0usize..9, 1 => Just(usize::MAX), 1 => Just(1usize << 33)];
    (
        len,
        size(),
        stay,
        any::<bool>(),
        (maybe(), maybe(), maybe(), maybe(), maybe(), maybe()),
    )
        .prop_map(|(len, max_skip, max_stay, wait_at_end, costs)| Word {
            len,
            tempo: Tempo {
                max_skip,
                max_stay: max_stay.filter(|stay| !(1000..1 << 40).contains(stay)),
            },
            wait_at_end,
            from_start: costs.0,
            from_filler: costs.1,
            exit: costs.2,
            at_end: costs.3,
            broken: costs.4,
            broken_at_end: costs.5,
        })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3000))]

    #[test]
    fn comparing(
        options in options(),
        values in prop::collection::vec(prop::collection::vec(number(), 0..12), 1..6),
        dims in prop::collection::vec(prop_oneof![6 => Just(1usize), 3 => Just(2), 1 => size()], 6),
        cost in 0u8..3,
        numbers in (number(), number()),
        count in size(),
    ) {
        let _ = with_cost(&options, &values, &dims, cost, numbers, count);
    }

    #[test]
    fn costs_by_row(options in options(), n in 0usize..9, m in 0usize..9, cells in prop::collection::vec(number(), 64), limit in number()) {
        let Ok(dtw) = options.of(Dtw::squared()) else { return Ok(()) };
        for huge in [n, usize::MAX] {
            let mut rows = CostFn::new(n, if huge == n { m } else { huge }, |i, j| cells[(i * 8 + j) % 64]);
            sound(dtw.distance_costs(&mut rows));
            let _ = dtw.distance_costs_within(&mut rows, limit);
            let _ = dtw.align_costs(&mut rows);
        }
    }

    #[test]
    fn decoding(
        words in prop::collection::vec(word(), 0..5),
        edges in prop::collection::vec((size(), size(), number(), any::<bool>()), 0..5),
        hubs in prop::collection::vec((size(), 0usize..3, number(), any::<bool>()), 0..5),
        frames in 0usize..9,
        cells in prop::collection::vec(prop_oneof![20 => 0.0..9.0f64, 1 => number()], 97),
        filler in prop::option::of((prop::collection::vec(number(), 0..9), number(), number(), any::<bool>())),
        abandon in prop::option::of(number()),
    ) {
        let mut grammar = Grammar::new();
        for word in words {
            grammar.word(word);
        }
        grammar.hub();
        for (from, to, cost, broken) in edges {
            if broken {
                grammar.edge_even_broken(WordId(from), WordId(to), cost as f32);
            } else {
                grammar.edge(WordId(from), WordId(to), cost as f32);
            }
        }
        for (word, hub, cost, into) in hubs {
            if into {
                grammar.into_hub(WordId(word), HubId(hub), cost as f32);
            } else {
                grammar.out_of_hub(HubId(hub), WordId(word), cost as f32);
            }
        }
        let Ok(grammar) = grammar.check() else { return Ok(()) };
        let Ok(mut decoder) = Decoder::new(&grammar) else { return Ok(()) };
        let single = |values: Vec<f64>| values.into_iter().map(|value| value as f32).collect::<Vec<f32>>();
        let filler = filler.map(|(costs, from_start, from_word, constant)| Filler {
            cost: if constant { FillerCost::Constant(from_word as f32) } else { FillerCost::PerFrame(single(costs)) },
            from_start: from_start as f32,
            from_word: from_word as f32,
        });
        let settings = Settings { filler, abandon_above: abandon.map(|cost| cost as f32) };
        let mut fill = |t: usize, word: WordId, out: &mut [f32]| {
            for (j, out) in out.iter_mut().enumerate() {
                *out = cells[(t * 31 + word.0 * 7 + j) % 97] as f32;
            }
        };
        for len in [frames, usize::MAX] {
            if let Ok(Some(found)) = decoder.decode(len, &mut fill, &settings) {
                prop_assert_eq!(found.segments.last().map(|last| last.end), Some(len));
                prop_assert!(!found.total.is_nan() && found.total >= 0.0);
            }
        }
    }
}

#[test]
fn what_cannot_be_kept_is_an_error() {
    let huge = |_: usize, _: usize| -> Result<f64, Error> { Ok(0.0) };
    assert!(matches!(
        pairwise(1 << 31, Control::default(), huge),
        Err(Error::OutOfMemory { .. })
    ));
    assert!(matches!(
        pairwise(usize::MAX, Control::default(), huge),
        Err(Error::TooLarge { .. })
    ));
    assert!(Condensed::from_values(usize::MAX, vec![0.0]).is_err());
    let dtw = Dtw::squared().check().unwrap();
    let mut costs = CostFn::new(1 << 21, 1 << 21, |_, _| 0.0);
    assert!(matches!(
        dtw.align_costs(&mut costs),
        Err(Error::TooLarge { .. })
    ));
    let one = Series::univariate(&[1.0]).unwrap();
    assert!(matches!(
        Envelope::of_reference(&dtw, &one, usize::MAX),
        Err(Error::TooLarge { .. })
    ));
}

#[test]
fn costs_beyond_the_number_type_are_an_error() {
    let far = |value: f32| Series::univariate(&[value, 0.0, value]).unwrap();
    let all = [far(3e38), far(-3e38), far(0.0), far(1.0)];
    let squared = Dtw::squared().check().unwrap();
    let overflow = Error::Overflow {
        query: 3,
        reference: 3,
    };
    assert_eq!(squared.distance(&all[0], &all[1]), Err(overflow.clone()));
    assert_eq!(
        squared.align(&all[0], &all[1]).map(|_| ()),
        Err(overflow.clone())
    );
    assert_eq!(squared.distance_within(&all[0], &all[1], 9.0), Ok(None));
    assert_eq!(
        squared.pairwise(&all, Control::default()),
        Err(overflow.clone())
    );
    let references = References::new(&all).unwrap();
    assert_eq!(
        squared.distances(&all[2], &references),
        Err(overflow.clone())
    );
    // Those that can be told apart are found; the rest are not made up.
    let found = squared.nearest(&all[2], &references, 2).unwrap();
    assert_eq!(
        found.iter().map(|one| one.index).collect::<Vec<_>>(),
        [2, 3]
    );
    assert_eq!(
        squared.nearest(&all[2], &references, 3),
        Err(overflow.clone())
    );
    let steep = Dtw::squared()
        .steps(StepPattern::symmetric(SlopeConstraint::One))
        .check()
        .unwrap();
    assert_eq!(steep.distance(&all[0], &all[1]), Err(overflow.clone()));
    // The whole of it may be found in the one frame that is near, so it is not beyond.
    let near = far(0.0);
    assert!(squared.matches(&near, &all[0], 1, f32::INFINITY).is_ok());
    let apart = Series::univariate(&[3e38f32]).unwrap();
    let mirrored = Series::univariate(&[-3e38f32, -3e38]).unwrap();
    assert!(matches!(
        squared.matches(&apart, &mirrored, 1, f32::INFINITY),
        Err(Error::Overflow {
            query: 1,
            reference: 2
        })
    ));
    assert_eq!(squared.matches(&apart, &mirrored, 1, 5.0), Ok(vec![]));
    // A capped cost does not overflow, but the mean of such values' deviations does.
    let capped = Dtw::with_cost(CappedSquared::new(1.0).unwrap())
        .check()
        .unwrap();
    assert_eq!(capped.distance(&all[0], &all[1]), Ok(2.0));
    let ends = [
        Series::univariate(&[1.7e308]).unwrap(),
        Series::univariate(&[-1.7e308]).unwrap(),
    ];
    let capped = Dtw::with_cost(CappedSquared::new(1.0).unwrap())
        .check()
        .unwrap();
    let average = Barycentre::default().fit(&capped, &ends[0], &ends, None);
    assert_eq!(
        average,
        Err(Error::Overflow {
            query: 1,
            reference: 1
        })
    );
}

#[test]
fn limits_must_be_numbers() {
    let one = Series::univariate(&[1.0, 2.0]).unwrap();
    let dtw = Dtw::squared().check().unwrap();
    let bad = |error: Error| matches!(error, Error::Parameter { name: "limit", .. });
    assert!(bad(dtw.distance_within(&one, &one, f64::NAN).unwrap_err()));
    assert!(bad(dtw.matches(&one, &one, 1, f64::NAN).unwrap_err()));
    assert!(bad(dtw.cascade_bound(&one, &one, f64::NAN).unwrap_err()));
    let mut costs = CostFn::new(2, 2, |_, _| 0.0);
    assert!(bad(dtw
        .distance_costs_within(&mut costs, f64::NAN)
        .unwrap_err()));
}

//! The same bits whatever the instruction set. `tests/reference/warp/check.sh` runs this file with
//! the kernels compiled for AVX-512, for AVX2 alone and for plain numbers; the sums below were
//! made with the first, and say nothing of what is right, only that nothing differs.

#![allow(clippy::unwrap_used, reason = "a test may fail by panicking")]

use setdrift_warp::connected::{Decoder, Filler, Grammar, Settings, Word, WordId};
use setdrift_warp::{
    Barycentre, Control, Dtw, Envelope, Gaps, Huber, LocalCost, Real, References, Series,
    SlopeConstraint, StepPattern, Window,
};

/// Fowler, Noll & Vo's hash (FNV-1a, 64 bits) of every number's bits.
struct Sum(u64);

impl Sum {
    fn add<T: Real>(&mut self, value: T) {
        for byte in value.to_f64().to_bits().to_le_bytes() {
            self.0 = (self.0 ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
        }
    }
}

/// Random walks, of 33 to 80 frames, in three dimensions; every `gap`-th value unknown.
fn collection<T: Real>(gap: usize) -> Vec<Series<T>> {
    let mut state = 5u64;
    let mut draw = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 40) as f64 / (1u64 << 24) as f64 - 0.5
    };
    let mut one = |k: usize| {
        let mut walk = [0.0; 3];
        let values: Vec<T> = (0..(33 + k * 29 % 48) * 3)
            .map(|at| {
                walk[at % 3] += draw();
                let unknown = gap > 0 && at % gap == 0;
                if unknown {
                    T::NAN
                } else {
                    T::from_f64(walk[at % 3])
                }
            })
            .collect();
        Series::from_frames_with_gaps(&values, 3).unwrap()
    };
    (0..21).map(&mut one).collect()
}

fn add_all<T: Real, C: LocalCost<T>>(sum: &mut Sum, dtw: &Dtw<C>, series: &[Series<T>]) {
    let pairs = dtw.pairwise(series, Control::default()).unwrap();
    pairs.values().iter().for_each(|&value| sum.add(value));
    for one in dtw
        .distances(&series[3], &References::new(series).unwrap())
        .unwrap()
    {
        sum.add(one);
    }
    for one in &series[..5] {
        sum.add(dtw.distance(&series[9], one).unwrap());
        sum.add(dtw.align(&series[9], one).unwrap().distance);
        let envelope = Envelope::of_reference(dtw, one, series[9].len()).unwrap();
        sum.add(dtw.keogh_bound(&envelope, &series[9]).unwrap());
    }
}

fn everything<T: Real>() -> u64 {
    let mut sum = Sum(0xcbf2_9ce4_8422_2325);
    for gap in [0, 7] {
        let all = collection::<T>(gap);
        for window in [
            Window::Full,
            Window::Widened { radius: 5 },
            Window::Slanted { radius: 9.0 },
        ] {
            let plain = Dtw::squared().window(window);
            add_all(&mut sum, &plain.clone().check().unwrap(), &all);
            let gaps = Gaps::Rescale { none_known: 0.4 };
            add_all(&mut sum, &plain.clone().gaps(gaps).check().unwrap(), &all);
            let steps = StepPattern::symmetric(SlopeConstraint::Zero);
            add_all(&mut sum, &plain.steps(steps).check().unwrap(), &all);
            let gaps = Gaps::Cost(0.2);
            let huber = Huber::new(T::from_f64(0.3)).unwrap();
            let huber = Dtw::with_cost(huber).window(window).gaps(gaps);
            add_all(&mut sum, &huber.check().unwrap(), &all);
        }
        let dtw = Dtw::squared().check().unwrap();
        for found in dtw.matches(&all[0], &all[1], 3, T::INFINITY).unwrap() {
            sum.add(found.distance);
            sum.add(found.reference.start as f64);
        }
        let average = Barycentre::default()
            .fit(&dtw, &all[2], &all, None)
            .unwrap();
        average
            .centre
            .to_frames()
            .into_iter()
            .for_each(|value| sum.add(value));
        average.inertia.into_iter().for_each(|value| sum.add(value));
    }
    let all = collection::<T>(0);
    let mut grammar = Grammar::new();
    let ids: Vec<WordId> = (0..6).map(|_| grammar.word(Word::new(20))).collect();
    for &from in &ids {
        for &to in &ids {
            grammar.edge(from, to, T::ONE);
        }
    }
    let grammar = grammar.check().unwrap();
    let mut costs = |t: usize, word: WordId, out: &mut [T]| {
        for (j, out) in out.iter_mut().enumerate() {
            let apart = all[20].get(t, 0).unwrap() - all[word.0].get(j, 0).unwrap();
            *out = apart.abs();
        }
    };
    let filler = Filler::constant(T::from_f64(0.25));
    let settings = Settings {
        filler: Some(filler),
        ..Settings::default()
    };
    let mut decoder = Decoder::new(&grammar).unwrap();
    let found = decoder
        .decode(all[20].len(), &mut costs, &settings)
        .unwrap()
        .unwrap();
    sum.add(found.total);
    for segment in found.segments {
        sum.add(segment.cost);
        sum.add(segment.start as f64);
    }
    sum.0
}

#[test]
fn nothing_differs_between_instruction_sets() {
    assert_eq!(everything::<f32>(), 7_478_780_815_390_454_586);
    assert_eq!(everything::<f64>(), 1_005_448_569_499_598_109);
}

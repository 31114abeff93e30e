//! Every way to a distance, in cells a second; `tests/reference/warp/bench.sh` sets them beside other libraries.

#![allow(clippy::unwrap_used, reason = "a bench may fail by panicking")]

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use setdrift_warp::connected::{Decoder, Filler, Grammar, Settings, Tempo, Word, WordId};
use setdrift_warp::{Control, Dtw, Real, References, Series, Window};

const DIMS: usize = 12;

fn walk<T: Real>(frames: usize, seed: u64) -> Series<T> {
    let mut state = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15);
    let mut values = vec![0.0; frames * DIMS];
    for at in 0..values.len() {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let before = if at >= DIMS { values[at - DIMS] } else { 0.0 };
        values[at] = before + (state >> 40) as f64 / (1u64 << 24) as f64 - 0.5;
    }
    let values: Vec<T> = values.into_iter().map(T::from_f64).collect();
    Series::from_frames(&values, DIMS).unwrap()
}

fn distances<T: Real>(criterion: &mut Criterion, number: &str) {
    let series: Vec<Series<T>> = (0..32).map(|k| walk(128, k)).collect();
    let references = References::new(&series).unwrap();
    let (query, long) = (walk::<T>(60, 1), walk::<T>(10_000, 2));
    for (name, window, cells) in [
        ("full", Window::Full, 128 * 128),
        (
            "banded",
            Window::SakoeChiba { radius: 12 },
            128 * 25 - 12 * 13,
        ),
    ] {
        let dtw = Dtw::squared().window(window).check().unwrap();
        let mut group = criterion.benchmark_group(format!("{number} {name}"));
        group.throughput(Throughput::Elements(cells));
        group.bench_function("one pair", |b| {
            b.iter(|| dtw.distance(&series[0], &series[1]));
        });
        group.bench_function("path", |b| b.iter(|| dtw.align(&series[0], &series[1])));
        group.throughput(Throughput::Elements(32 * cells));
        group.bench_function("one against many", |b| {
            b.iter(|| dtw.distances(&series[0], &references));
        });
        group.bench_function("nearest", |b| {
            b.iter(|| dtw.nearest(&series[0], &references, 1));
        });
        group.throughput(Throughput::Elements(16 * 31 * cells));
        group.bench_function("pairwise", |b| {
            b.iter(|| dtw.pairwise(&series, Control::default()));
        });
    }
    let dtw = Dtw::squared().check().unwrap();
    let mut group = criterion.benchmark_group(format!("{number} subsequence"));
    group.throughput(Throughput::Elements(600_000));
    group.bench_function("60 in 10,000", |b| {
        b.iter(|| dtw.matches(&query, &long, 1, T::INFINITY));
    });
}

/// Cells are query frames × reference frames of all words; the costs are ready made.
fn connected(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("connected");
    for words in [300, 3000] {
        let mut grammar = Grammar::new();
        let tempo = Tempo {
            max_skip: 1,
            max_stay: Some(2),
        };
        let ids: Vec<WordId> = (0..words)
            .map(|_| {
                grammar.word(Word {
                    tempo,
                    broken: Some(5.0),
                    broken_at_end: Some(5.0),
                    ..Word::new(30)
                })
            })
            .collect();
        for (k, &from) in ids.iter().enumerate() {
            for step in 1..=5 {
                grammar.edge(from, ids[(k + step * 17) % ids.len()], 1.0);
            }
        }
        let grammar = grammar.check().unwrap();
        let mut decoder = Decoder::new(&grammar).unwrap();
        let costs: Vec<f32> = walk::<f32>(4096, 3)
            .to_frames()
            .iter()
            .map(|value| value.abs())
            .collect();
        let settings = Settings {
            filler: Some(Filler::constant(8.0)),
            ..Settings::default()
        };
        group.throughput(Throughput::Elements(200 * 30 * words));
        group.bench_function(BenchmarkId::new("200 frames, words of 30", words), |b| {
            b.iter(|| {
                let mut fill = |t: usize, word: WordId, out: &mut [f32]| {
                    let from = (t * 131 + word.0 * 31) % (costs.len() - 64);
                    out.copy_from_slice(&costs[from..from + out.len()]);
                };
                decoder.decode(200, &mut fill, &settings)
            });
        });
    }
}

fn all(criterion: &mut Criterion) {
    distances::<f32>(criterion, "f32");
    distances::<f64>(criterion, "f64");
    connected(criterion);
}

criterion_group!(benches, all);
criterion_main!(benches);

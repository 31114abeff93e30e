//! Million cells a second of every way to a distance, one line each: what, number, value.
//!
//! Seconds are those the thread had the processor, so that what else the machine does weighs little;
//! for several threads, seconds of the clock. `tests/reference/warp/bench.sh` runs it beside other
//! libraries and prints ratios.

#![allow(clippy::print_stdout, reason = "an example that is called by a script")]

use std::hint::black_box;
use std::time::Instant;

use cpu_time::ThreadTime;
use rayon::prelude::*;
use setdrift_warp::{Control, Dtw, Real, References, Result, Series, Window};

const DIMS: usize = 12;
const RADIUS: usize = 12;

/// Deterministic random walks; with gaps, a tenth of the values is unknown, in runs of six.
fn walk<T: Real>(frames: usize, seed: u64, gaps: bool) -> Result<Series<T>> {
    let mut state = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15);
    let mut values = vec![0.0; frames * DIMS];
    for at in 0..values.len() {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let before = if at >= DIMS { values[at - DIMS] } else { 0.0 };
        values[at] = before + (state >> 40) as f64 / (1u64 << 24) as f64 - 0.5;
    }
    let unknown = |at: usize| gaps && (at / DIMS + 7 * (at % DIMS) + seed as usize) % 60 < 6;
    let values: Vec<T> = values
        .into_iter()
        .enumerate()
        .map(|(at, value)| {
            if unknown(at) {
                T::NAN
            } else {
                T::from_f64(value)
            }
        })
        .collect();
    Series::from_frames_with_gaps(&values, DIMS)
}

/// Cells inside the window.
fn cells(window: Window, n: usize, m: usize) -> f64 {
    let radius = match window {
        Window::Widened { radius } => radius,
        _ => return (n * m) as f64,
    };
    let (below, above) = (radius + n.saturating_sub(m), radius + m.saturating_sub(n));
    (0..n)
        .map(|i| {
            (i + above + 1)
                .min(m)
                .saturating_sub(i.saturating_sub(below))
        })
        .sum::<usize>() as f64
}

/// Best of several runs, in seconds of this thread and of the clock.
fn best(mut run: impl FnMut() -> Result<()>) -> Result<(f64, f64)> {
    let mut least = (f64::INFINITY, f64::INFINITY);
    for _ in 0..40 {
        let (clock, thread) = (Instant::now(), ThreadTime::now());
        run()?;
        least.0 = least.0.min(thread.elapsed().as_secs_f64());
        least.1 = least.1.min(clock.elapsed().as_secs_f64());
    }
    Ok(least)
}

/// Takes a result that only its making was wanted of.
fn consume<R>(result: R) {
    black_box(result);
}

fn report(what: &str, number: &str, window: Window, cells: f64, seconds: f64) {
    let window = if window == Window::Full {
        "full"
    } else {
        "banded"
    };
    println!("{what} {window}\t{number}\t{:.0}", cells / seconds / 1e6);
}

fn bench<T: Real>(number: &str, gaps: bool) -> Result<()> {
    let name = |what: &str| match what.trim_end_matches(',') {
        plain if gaps => format!("{plain}, gaps,"),
        _ => what.to_owned(),
    };
    let even: Vec<Series<T>> = (0..64).map(|k| walk(128, k, gaps)).collect::<Result<_>>()?;
    let uneven: Vec<Series<T>> = (0..240)
        .map(|k| walk(60 + (k as usize * 37) % 141, k, gaps))
        .collect::<Result<_>>()?;
    for window in [Window::Full, Window::Widened { radius: RADIUS }] {
        let dtw = Dtw::squared().window(window).check()?;
        let one = cells(window, 128, 128);
        let few = &even[..16];
        let (seconds, _) = best(|| {
            few.iter()
                .try_for_each(|other| dtw.distance(&even[0], other).map(consume))
        })?;
        report(&name("one pair"), number, window, one * 16.0, seconds);
        let (seconds, _) = best(|| {
            few.iter()
                .try_for_each(|other| dtw.align(&even[0], other).map(consume))
        })?;
        report(&name("one path"), number, window, one * 16.0, seconds);
        let references = References::new(&even)?;
        let (seconds, _) = best(|| dtw.distances(&even[0], &references).map(consume))?;
        report(
            &name("one against many"),
            number,
            window,
            one * 64.0,
            seconds,
        );
        let total: f64 = (0..uneven.len())
            .flat_map(|i| (i + 1..uneven.len()).map(move |j| (i, j)))
            .map(|(i, j)| cells(window, uneven[i].len(), uneven[j].len()))
            .sum();
        for threads in [1, 2] {
            let pool = rayon::ThreadPoolBuilder::new()
                .num_threads(threads)
                .build()
                .map_err(|_| setdrift_warp::Error::Cancelled)?;
            let (seconds, clock) =
                pool.install(|| best(|| dtw.pairwise(&uneven, Control::default()).map(consume)))?;
            if threads == 1 {
                let what = name("pairwise, lengths 60-200,");
                report(&what, number, window, total, seconds);
            }
            let what = format!("pairwise by the clock, threads {threads},");
            report(&name(&what), number, window, total, clock);
        }
    }
    let (query, long) = (walk::<T>(60, 1, gaps)?, walk::<T>(10_000, 2, gaps)?);
    let dtw = Dtw::squared().check()?;
    let (seconds, _) = best(|| dtw.matches(&query, &long, 1, T::INFINITY).map(consume))?;
    let what = name("subsequence, 60 in 10,000,");
    report(&what, number, Window::Full, 600_000.0, seconds);
    Ok(())
}

/// What two threads make of work that shares nothing: the machine's own scaling.
fn plain_loop() -> Result<f64> {
    let work = |seed: u64| {
        let mut state = seed;
        let mut sum = 0.0;
        for _ in 0..20_000 {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            sum += (state >> 40) as f64;
        }
        black_box(sum)
    };
    let mut seconds = [0.0; 2];
    for threads in [1, 2] {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .map_err(|_| setdrift_warp::Error::Cancelled)?;
        (_, seconds[threads - 1]) = pool.install(|| {
            best(|| {
                (0..64u64).into_par_iter().for_each(|seed| {
                    black_box(work(seed));
                });
                Ok(())
            })
        })?;
    }
    Ok(seconds[0] / seconds[1])
}

fn main() -> Result<()> {
    for gaps in [false, true] {
        bench::<f32>("f32", gaps)?;
        bench::<f64>("f64", gaps)?;
    }
    println!(
        "plain parallel loop, 2 threads over 1\tratio\t{:.2}",
        plain_loop()?
    );
    Ok(())
}

//! What a distance without its path allocates: rows of the shorter series, never the table.
//!
//! Every byte ever asked for is counted, given back or not, so this bounds the memory in use.

#![allow(clippy::unwrap_used, reason = "a test may fail by panicking")]

use std::alloc::System;

use setdrift_warp::{
    Dtw, DtwParams, Gaps, Multivariate, Series, SlopeConstraint, Squared, StepPattern, Window,
};
use stats_alloc::{INSTRUMENTED_SYSTEM, Region, StatsAlloc};

#[global_allocator]
static ALLOCATOR: &StatsAlloc<System> = &INSTRUMENTED_SYSTEM;

fn walk(frames: usize, gaps: bool) -> Series<f64> {
    let values: Vec<f64> = (0..frames * 2)
        .map(|at| {
            if gaps && at % 5 == 0 {
                f64::NAN
            } else {
                ((at * 7919) % 101) as f64 / 50.0
            }
        })
        .collect();
    Series::from_frames_with_gaps(&values, 2).unwrap()
}

/// Bytes allocated while `run` runs.
fn bytes(run: impl FnOnce()) -> usize {
    let region = Region::new(ALLOCATOR);
    run();
    region.change().bytes_allocated
}

#[test]
fn a_distance_is_kept_in_rows_of_the_shorter_series() {
    let (short, long) = (40, 4000);
    let options: Vec<(&str, DtwParams<Squared>)> = vec![
        ("plain", Dtw::squared()),
        (
            "banded",
            Dtw::squared().window(Window::Widened { radius: 9 }),
        ),
        (
            "slanted",
            Dtw::squared().window(Window::Slanted { radius: 200.0 }),
        ),
        (
            "weighted",
            Dtw::squared().steps(StepPattern::symmetric(SlopeConstraint::Zero)),
        ),
        (
            "asymmetric",
            Dtw::squared().steps(StepPattern::asymmetric(SlopeConstraint::Zero)),
        ),
        (
            "independent",
            Dtw::squared().multivariate(Multivariate::Independent),
        ),
        (
            "rescaled gaps",
            Dtw::squared().gaps(Gaps::Rescale { none_known: 1.0 }),
        ),
    ];
    let plain = Dtw::squared().check().unwrap();
    let (a, b) = (walk(short, false), walk(long, false));
    let table = bytes(|| assert!(plain.align(&a, &b).is_ok()));
    assert!(table > short * long, "what is counted shows a table");
    for gaps in [false, true] {
        let (a, b) = (walk(short, gaps), walk(long, gaps));
        for (name, params) in &options {
            let dtw = params.clone().check().unwrap();
            for (query, reference) in [(&a, &b), (&b, &a)] {
                let used = bytes(|| assert!(dtw.distance(query, reference).is_ok()));
                // A row of the longer series alone would be 32,000 bytes; the table 160,000.
                assert!(used < 8000, "{name}: {used} bytes");
            }
        }
    }
}

//! Whether a verdict's confidence can be taken at its word: of those said at 0.9, about 90 % are
//! right.

use setdrift_recognise::model::{Reading, Run, What};

/// A true run is found when a verdict of its option shares this much with it (intersection over
/// union).
const SAME: f64 = 0.5;
/// Upper ends of the classes.
const CLASSES: [f64; 7] = [0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0];

/// A verdict on an option.
#[derive(Debug, Clone, Copy)]
pub struct Judged {
    /// As said.
    pub confidence: f64,
    /// Whether it is right.
    pub right: bool,
}

/// Every verdict on an option, against true runs: option, from, to.
#[must_use]
pub fn judged(readings: &[Reading], truth: &[(usize, f64, f64)]) -> Vec<Judged> {
    let segments = readings.iter().flat_map(|r| &r.segments);
    let runs = segments.filter_map(|s| match &s.what {
        What::Option(run) => Some((s.from_s, s.to_s, run.as_ref())),
        _ => None,
    });
    runs.map(|(from, to, run): (f64, f64, &Run)| Judged {
        confidence: run.confidence,
        right: truth.iter().any(|(option, a, b)| {
            let common = to.min(*b) - from.max(*a);
            *option == run.option && common >= SAME * (to.max(*b) - from.min(*a))
        }),
    })
    .collect()
}

/// Per class that has verdicts: how many, mean confidence said, share right.
#[must_use]
pub fn classes(all: &[Judged]) -> Vec<(usize, f64, f64)> {
    let of = |class: usize| {
        let here: Vec<&Judged> = all
            .iter()
            .filter(|j| CLASSES.partition_point(|to| *to < j.confidence) == class)
            .collect();
        let n = here.len();
        let said = here.iter().map(|j| j.confidence).sum::<f64>() / n.max(1) as f64;
        let right = here.iter().filter(|j| j.right).count() as f64 / n.max(1) as f64;
        (n, said, right)
    };
    (0..CLASSES.len())
        .map(of)
        .filter(|(n, ..)| *n > 0)
        .collect()
}

/// Mean squared difference between confidence and outcome (Brier 1950, Monthly Weather Review 78,
/// 1-3).
#[must_use]
pub fn brier(all: &[Judged]) -> f64 {
    let error = |j: &Judged| (j.confidence - f64::from(u8::from(j.right))).powi(2);
    all.iter().map(error).sum::<f64>() / all.len().max(1) as f64
}

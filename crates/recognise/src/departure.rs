//! When a run that was broken off was left.
//!
//! Who leaves an option is a tolerance away from it only half a second later or more. So the run's
//! last frames are laid beside an even course of the step that everyone leaves at one frame, each
//! drifting away from it at an even pace of their own: a line that is broken there, and the frame that
//! leaves the least squares is taken. Whoever goes on as if nothing had happened drifts at no pace,
//! and says nothing.

use crate::{
    decode::Found,
    scene::{Scene, TEMPOS},
};

/// Frames before and after the bound at hand that are looked at.
const BEFORE: usize = 10;
const AFTER: usize = 6;

/// Fewest frames on either side of the one looked for.
const FEWEST: usize = 3;

impl Scene<'_> {
    /// The first frame at which `run`, whose end is known to half a second or so, was no longer run.
    /// Frames up to `until` are not another option's. `None` where too little of it is left.
    pub fn left(&self, run: &Found, until: usize) -> Option<usize> {
        let key = run.key?;
        let from = run.end.saturating_sub(BEFORE).max(run.start);
        let about = from..until.min(run.end + AFTER);
        let anchor = f64::from(*run.alignment.get(from - run.start)?);
        let first = from + FEWEST;
        let last = (run.end + 2).min(about.end.checked_sub(FEWEST)?);
        if first > last {
            return None;
        }
        let bases: Vec<[Vec<f64>; 2]> = (first..=last)
            .map(|leaves| basis(about.len(), leaves - from))
            .collect();
        let mut totals = vec![0.0; bases.len() * TEMPOS.len()];
        for body in self.bodies(key) {
            let seen = self.seen(key, body, about.clone());
            for (tempo, totals) in TEMPOS.iter().zip(totals.chunks_mut(bases.len())) {
                let mut off = Vec::with_capacity(about.len());
                for (frame, seen) in seen.iter().enumerate() {
                    let place = self.place(key.template, body.role, anchor + tempo * frame as f64);
                    let d = seen.zip(place).map(|(p, q)| (p.x - q.x, p.y - q.y));
                    // What is unknown is as far off as what was known last.
                    off.push(d.or(off.last().copied()).unwrap_or_default());
                }
                for (total, basis) in totals.iter_mut().zip(&bases) {
                    *total += body.weight * left_over(&off, basis);
                }
            }
        }
        let best = (0..totals.len()).min_by(|a, b| totals[*a].total_cmp(&totals[*b]))?;
        Some(first + best % bases.len())
    }
}

/// An orthonormal basis of what distances may be, frame by frame: the same at all frames, and the time
/// since the frame at which everyone leaves (Gram and Schmidt).
fn basis(frames: usize, leaves: usize) -> [Vec<f64>; 2] {
    let level = vec![1.0 / (frames as f64).sqrt(); frames];
    let since = (0..frames).map(|frame| frame.saturating_sub(leaves) as f64);
    let mean = since.clone().sum::<f64>() / frames as f64;
    let slope: Vec<f64> = since.map(|since| since - mean).collect();
    let length = slope.iter().map(|a| a * a).sum::<f64>().sqrt();
    [level, slope.into_iter().map(|a| a / length).collect()]
}

/// Sum of squares that the basis does not explain.
fn left_over(off: &[(f64, f64)], basis: &[Vec<f64>; 2]) -> f64 {
    let all: f64 = off.iter().map(|(x, y)| x * x + y * y).sum();
    let explained = |basis: &Vec<f64>| {
        let sums = off.iter().zip(basis);
        let (x, y) = sums.fold((0.0, 0.0), |(x, y), (d, b)| (x + d.0 * b, y + d.1 * b));
        x * x + y * y
    };
    all - basis.iter().map(explained).sum::<f64>()
}

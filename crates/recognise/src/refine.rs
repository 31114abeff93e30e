//! Where a run really begins and ends.
//!
//! The decoder keeps to an option until staying costs more than going off script, which is late:
//! players who leave need a second to get that far. And a wait before a step costs nothing, so it
//! may be counted to the step it precedes. Both are mended here, on the alignment found.

use crate::{
    decode::{Found, Search},
    templates::{Kind, Templates},
};

/// A role or the ball that is this far from where it stood has begun to move, metres.
const MOVED_M: f64 = 0.4;

/// Moves boundaries between runs and what is around them; parts keep their order and cover the
/// same frames.
pub fn refine(
    search: &Search<'_>,
    templates: &Templates,
    leave: f64,
    mut parts: Vec<Found>,
) -> Vec<Found> {
    for i in 0..parts.len() {
        if parts[i].key.is_some_and(|k| is_step(templates, k.template)) {
            trim_lead_in(templates, &mut parts, i);
            if parts.get(i + 1).is_some_and(|next| next.key.is_none()) {
                trim_end(search, leave, &mut parts, i);
            }
            if i > 0 && parts[i - 1].key.is_none() {
                trim_start(search, leave, &mut parts, i);
            }
        }
    }
    parts.retain(|p| p.end > p.start);
    parts
}

fn is_step(templates: &Templates, template: usize) -> bool {
    matches!(templates.list[template].kind, Kind::Step(_))
}

/// Gives the wait before a step's first movement, beyond what the step itself declares, to the
/// part before it.
fn trim_lead_in(templates: &Templates, parts: &mut [Found], i: usize) {
    let Some(key) = parts[i].key else { return };
    let (before, rest) = parts.split_at_mut(i);
    let (Some(before), Some(run)) = (before.last_mut(), rest.first_mut()) else {
        return;
    };
    if before.key.is_none() {
        return;
    }
    let still = still_frames(templates, key.template);
    let Some(moves) = run.alignment.iter().position(|r| *r as usize >= still) else {
        return;
    };
    let excess = moves.saturating_sub(still);
    if excess > 0 && excess < run.alignment.len() {
        let last = before.alignment.last().copied().unwrap_or(0);
        before.alignment.extend(std::iter::repeat_n(last, excess));
        before.end += excess;
        run.alignment.drain(..excess);
        run.start += excess;
    }
}

/// Reference frames before anyone has moved.
fn still_frames(templates: &Templates, template: usize) -> usize {
    let t = &templates.list[template];
    let frames = &templates.frames[t.first..t.first + t.len];
    let first = &frames[0];
    frames
        .iter()
        .position(|f| {
            let body = f
                .roles
                .iter()
                .zip(&first.roles)
                .any(|(a, b)| a.distance(*b) > MOVED_M);
            let ball = f
                .ball
                .zip(first.ball)
                .is_some_and(|(a, b)| a.distance(b) > MOVED_M);
            body || ball
        })
        .unwrap_or(t.len)
}

/// Ends a run before off-script movement where its cost rose for good: the boundary `b` with the
/// least `sum of costs before b + leave * frames after b`.
fn trim_end(search: &Search<'_>, leave: f64, parts: &mut [Found], i: usize) {
    let all = search.costs(&parts[i]);
    let mut costs = &all[..];
    // Once its end is reached nothing of a run is left.
    if parts[i].complete
        && let Some(last) = parts[i].alignment.last()
        && let Some(reached) = parts[i].alignment.iter().position(|r| r == last)
    {
        costs = &all[..=reached];
    }
    let mut best = (f64::INFINITY, costs.len());
    let mut before: f64 = costs.iter().sum();
    for b in (1..=costs.len()).rev() {
        let total = before + leave * (costs.len() - b) as f64;
        if total < best.0 {
            best = (total, b);
        }
        before -= costs[b - 1];
    }
    let cut = best.1;
    let removed: f64 = all[cut..].iter().sum();
    let run = &mut parts[i];
    let reached = run.alignment[..cut].last().copied();
    // The last tenth of a minimum-jerk movement is less than a hundredth of its way.
    let last = run.alignment.last().copied().unwrap_or(0);
    run.complete &= reached.is_some_and(|r| r + last / 10 >= last);
    run.alignment.truncate(cut);
    run.cost -= removed;
    run.end = run.start + cut;
    parts[i + 1].start = parts[i].end;
}

/// Begins a run after off-script movement where its cost has fallen for good.
fn trim_start(search: &Search<'_>, leave: f64, parts: &mut [Found], i: usize) {
    let costs = search.costs(&parts[i]);
    let mut best = (f64::INFINITY, 0);
    let mut after: f64 = costs.iter().sum();
    for (b, cost) in costs.iter().enumerate() {
        let total = after + leave * b as f64;
        if total < best.0 {
            best = (total, b);
        }
        after -= cost;
    }
    let cut = best.1;
    let run = &mut parts[i];
    run.alignment.drain(..cut);
    run.cost -= costs[..cut].iter().sum::<f64>();
    run.start += cut;
    parts[i - 1].end = parts[i].start;
}

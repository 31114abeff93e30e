//! Where a run really begins and ends.
//!
//! The decoder keeps to an option until staying costs more than going off script, which is late:
//! players who leave need a second to get that far. And a wait before a step costs nothing, so it
//! may be counted to the step it precedes. Both are mended here, on the alignment found.

use crate::{
    decode::{Found, Search},
    templates::{Frame, Kind, Templates},
};

/// A role or the ball that is this far from where it stood has begun to move, metres.
const MOVED_M: f64 = 0.4;

/// Who is this near to where he goes has arrived, metres (our choice: optical noise).
const ARRIVED_M: f64 = 0.1;

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
            let followed = i + 1 < parts.len();
            if !followed {
                let end = parts[i].end;
                parts.push(nothing(end));
            }
            if parts[i + 1].key.is_none() {
                // Where the possession ends nobody left, but arriving ends a run there too.
                let leave = followed.then_some(leave);
                trim_end(search, templates, leave, &mut parts, i);
            }
            if i > 0 && parts[i - 1].key.is_none() {
                trim_start(search, leave, &mut parts, i);
            }
        }
    }
    parts.retain(|p| p.end > p.start);
    parts
}

/// No frames of off-script movement.
fn nothing(at: usize) -> Found {
    Found {
        key: None,
        start: at,
        end: at,
        complete: true,
        cost: 0.0,
        alignment: Vec::new(),
    }
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
    let frames = rows(templates, template);
    let moved = frames.iter().position(|f| apart(f, &frames[0], MOVED_M));
    moved.unwrap_or(frames.len())
}

/// The reference frame from which on everyone is where the template ends.
fn arrival(templates: &Templates, template: usize) -> u32 {
    let frames = rows(templates, template);
    let last = &frames[frames.len() - 1];
    let on_the_way = frames.iter().rposition(|f| apart(f, last, ARRIVED_M));
    on_the_way.map_or(0, |f| f as u32 + 1)
}

fn rows(templates: &Templates, template: usize) -> &[Frame] {
    let t = &templates.list[template];
    &templates.frames[t.first..t.first + t.len]
}

/// Whether anyone or the ball is somewhere else.
fn apart(a: &Frame, b: &Frame, by: f64) -> bool {
    let mut bodies = a.roles.iter().zip(&b.roles);
    let ball = a.ball.zip(b.ball);
    bodies.any(|(a, b)| a.distance(*b) > by) || ball.is_some_and(|(a, b)| a.distance(b) > by)
}

/// Ends a run where everyone has arrived, or, before off-script movement, where its cost rose above
/// `leave` for good.
fn trim_end(
    search: &Search<'_>,
    templates: &Templates,
    leave: Option<f64>,
    parts: &mut [Found],
    i: usize,
) {
    let Some(key) = parts[i].key else { return };
    let arrival = arrival(templates, key.template);
    let all = search.costs(&parts[i]);
    let mut costs = &all[..];
    // Once everyone has arrived nothing of a run is left.
    if parts[i].complete
        && let Some(arrived) = parts[i].alignment.iter().position(|r| *r >= arrival)
    {
        costs = &all[..=arrived];
    }
    let cut = leave.map_or(costs.len(), |leave| left_at(costs, leave));
    let removed: f64 = all[cut..].iter().sum();
    let run = &mut parts[i];
    let reached = run.alignment[..cut].last().copied();
    run.complete &= reached.is_some_and(|r| r >= arrival);
    run.alignment.truncate(cut);
    run.cost -= removed;
    run.end = run.start + cut;
    parts[i + 1].start = parts[i].end;
}

/// The boundary `b` with the least `sum of costs before b + leave * frames after b`.
fn left_at(costs: &[f64], leave: f64) -> usize {
    let mut best = (f64::INFINITY, costs.len());
    let mut before: f64 = costs.iter().sum();
    for b in (1..=costs.len()).rev() {
        let total = before + leave * (costs.len() - b) as f64;
        if total < best.0 {
            best = (total, b);
        }
        before -= costs[b - 1];
    }
    best.1
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

//! Where a run really begins and ends.
//!
//! The decoder keeps to an option until staying costs more than going off script, which is late:
//! players who leave need a second to get that far. And a wait before a step costs nothing, so it
//! may be counted to the step it precedes. Both are mended here, on the alignment found.

use crate::{
    decode::{Found, Key, Search},
    params::ValidParams,
    scene::Scene,
    templates::{Frame, Kind, Templates},
};
use setdrift_playbook::graph::RATE_HZ;

/// A role or the ball that is this far from where it stood has begun to move, metres.
const MOVED_M: f64 = 0.4;

/// Who is this near to where he goes has arrived, metres: a foot (our choice; who is further still
/// walks, who is nearer shifts his feet).
const ARRIVED_M: f64 = 0.3;

/// Moves boundaries between runs and what is around them; parts keep their order and cover the
/// same frames.
pub fn refine(
    search: &Search<'_>,
    scene: &Scene<'_>,
    params: &ValidParams,
    mut parts: Vec<Found>,
) -> Vec<Found> {
    let templates = scene.templates;
    for i in 0..parts.len() {
        if parts[i].key.is_some_and(|k| is_step(templates, k.template)) {
            if i > 0 && parts[i - 1].key.is_none() {
                trim_start(search, params.leave, &mut parts, i);
            }
            trim_lead_in(templates, &mut parts, i);
            begin(search, scene, &mut parts, i);
            if i + 1 == parts.len() {
                let end = parts[i].end;
                parts.push(nothing(end));
            }
            if parts[i + 1].key.is_none() {
                trim_end(search, scene, params, &mut parts, i);
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

/// Begins a step where its movement does.
fn begin(search: &Search<'_>, scene: &Scene<'_>, parts: &mut [Found], i: usize) {
    let (before, rest) = parts.split_at_mut(i);
    let (Some(before), Some(run)) = (before.last_mut(), rest.first_mut()) else {
        return;
    };
    let Some(at) = scene.begun(before, run) else {
        return;
    };
    let (later, earlier) = (at.saturating_sub(run.start), run.start.saturating_sub(at));
    run.alignment.drain(..later);
    run.alignment.splice(..0, std::iter::repeat_n(0, earlier));
    run.start = at;
    run.cost = search.costs(run).iter().sum();
    if before.key.is_some() {
        let last = before.alignment.last().copied().unwrap_or(0);
        before.alignment.resize(at - before.start, last);
        before.cost = search.costs(before).iter().sum();
    }
    before.end = at;
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

/// Ends a run where everyone has arrived; before off-script movement, where its cost rose above
/// `leave` for good; where the possession ends, where the ball left it for good.
fn trim_end(
    search: &Search<'_>,
    scene: &Scene<'_>,
    params: &ValidParams,
    parts: &mut [Found],
    i: usize,
) {
    let Some(key) = parts[i].key else { return };
    let over = i + 2 == parts.len() && parts[i + 1].start == parts[i + 1].end;
    let all = search.costs(&parts[i]);
    let arrival = arrival(scene.templates, key.template);
    let arrived = parts[i].alignment.iter().position(|r| *r >= arrival);
    let arrived = arrived.filter(|_| parts[i].complete);
    let cut = if over {
        let left = ball_left_at(scene, params, &parts[i], key);
        // Too short to be evidence of anything else, what is left of a possession is still the run's.
        let long = |at: usize| (all.len() - at) as f64 / RATE_HZ >= params.least_evidence_s;
        match arrived {
            Some(at) if left < all.len() || long(at) => left.min(at + 1),
            _ => left,
        }
    } else {
        left_at(arrived.map_or(&all, |at| &all[..=at]), params.leave)
    };
    let removed: f64 = all[cut..].iter().sum();
    let run = &mut parts[i];
    let reached = run.alignment[..cut].last().copied();
    run.complete &= reached.is_some_and(|r| r >= arrival);
    run.alignment.truncate(cut);
    run.cost -= removed;
    run.end = run.start + cut;
    parts[i + 1].start = parts[i].end;
}

/// Where the ball went further from its place than its tolerance for good: a shot that the run does
/// not declare is in the air.
fn ball_left_at(scene: &Scene<'_>, params: &ValidParams, run: &Found, key: Key) -> usize {
    let off = scene.off(run, key, scene.ball(key)).into_iter();
    // At most as far above the threshold as below it, so that it counts how long the ball was off.
    let cost = |off: f64| (off / params.ball_tolerance_m).powi(2).min(2.0);
    let costs: Vec<f64> = off.map(|off| off.map_or(1.0, cost)).collect();
    left_at(&costs, 1.0)
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

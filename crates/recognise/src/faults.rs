//! What was wrong with a run, in words with numbers.

use crate::{
    decode::{Found, Key},
    model::{Fault, Hand, StepRun},
    roles::Assignment,
    scene::{Body, Scene},
    verdict::Context,
};
use setdrift_court::{AttackPoint, spot, spot_names};
use setdrift_events::model::EventKind;
use setdrift_playbook::graph::{ActionKind, NodeIx};

/// A pass or hand-off may be this far outside its step and still be the step's, seconds: steps
/// meet at passes, and the warping path places the meeting to a few frames.
const SLACK_S: f64 = 0.7;

/// Root-mean-square deviation of each role over a step, metres; `None` where unknown.
pub fn deviation(scene: &Scene<'_>, f: &Found, key: Key) -> Vec<Option<f64>> {
    let rows = scene.assignments[key.assignment].iter().enumerate();
    rows.map(|(role, row)| {
        let off = scene.off(f, key, Body::of(role, (*row)?));
        let (sum, n) = off
            .into_iter()
            .flatten()
            .fold((0.0, 0), |(sum, n), d| (sum + d * d, n + 1));
        (n > 0).then(|| (sum / f64::from(n)).sqrt())
    })
    .collect()
}

/// A place with the hand undone: as if the run were as declared.
pub fn as_declared(p: AttackPoint, hand: Hand) -> AttackPoint {
    match hand {
        Hand::Right => p,
        Hand::Left => p.mirrored(),
    }
}

/// Roles that never came to where the step ends, from the moment its end was reached to the
/// moment it was left; each at its nearest.
pub fn out_of_place(
    ctx: &Context<'_>,
    node: NodeIx,
    step: &StepRun,
    key: Key,
    assignment: &Assignment,
) -> Vec<Fault> {
    if !step.complete {
        return Vec::new();
    }
    let mut faults: Vec<(f64, Fault)> = assignment
        .iter()
        .enumerate()
        .filter_map(|(role, row)| out_of_place_role(ctx, node, step, key, role, (*row)?))
        .collect();
    faults.sort_by(|a, b| b.0.total_cmp(&a.0));
    faults.into_iter().map(|(_, f)| f).collect()
}

fn out_of_place_role(
    ctx: &Context<'_>,
    node: NodeIx,
    step: &StepRun,
    key: Key,
    role: usize,
    row: usize,
) -> Option<(f64, Fault)> {
    let motion = &ctx.graph.nodes[node].motion;
    let last = step.path.last()?.1;
    let declared = motion.roles[role][last as usize];
    let at_end = step.path.iter().filter(|(_, r)| *r == last);
    let seen = at_end.filter_map(|(t, _)| {
        let p = ctx.scene.query.paths[row]
            .get(ctx.scene.query.frame(*t))
            .copied()
            .flatten()?;
        Some((*t, as_declared(p, key.hand)))
    });
    let (time_s, actual) =
        seen.min_by(|a, b| a.1.distance(declared).total_cmp(&b.1.distance(declared)))?;
    let off = actual.distance(declared);
    if off <= motion.tolerance[role] * ctx.params.fault_tolerances {
        return None;
    }
    let unit = ctx.graph.unit;
    let text = format!(
        "{} was {:.0} {unit} {} {} at the end of step {}",
        ctx.graph.roles[role],
        unit.from_metres(off),
        direction(declared, actual),
        place_name(ctx, declared, key.hand),
        ctx.graph.nodes[node].step + 1,
    );
    let player = Some(ctx.scene.query.players[row]);
    Some((
        off,
        Fault {
            time_s,
            role: Some(role),
            player,
            text,
        },
    ))
}

/// Declared passes and hand-offs that the ball events do not show, where the ball is known.
pub fn missing_ball_actions(
    ctx: &Context<'_>,
    node: NodeIx,
    step: &StepRun,
    assignment: &Assignment,
) -> Vec<Fault> {
    if !step.complete || !ball_known(ctx, step) {
        return Vec::new();
    }
    let player = |role: usize| assignment[role].map(|row| ctx.scene.query.players[row]);
    let mut faults = Vec::new();
    for action in &ctx.graph.nodes[node].actions {
        let to = match action.kind {
            ActionKind::Pass { to, .. } | ActionKind::HandOff { to } => to,
            _ => continue,
        };
        let (Some(giver), Some(taker)) = (player(action.role), player(to)) else {
            continue;
        };
        let seen = ctx.story.events.iter().any(|e| {
            let near = e.time_s >= step.from_s - SLACK_S && e.time_s <= step.to_s + SLACK_S;
            near && match e.kind {
                EventKind::Pass { from, to, .. } | EventKind::HandOff { from, to } => {
                    from == giver && to == taker
                }
                _ => false,
            }
        });
        if !seen {
            let word = if matches!(action.kind, ActionKind::HandOff { .. }) {
                "hand-off"
            } else {
                "pass"
            };
            faults.push(Fault {
                time_s: step.to_s,
                role: Some(action.role),
                player: Some(giver),
                text: format!(
                    "the {word} from {} to {} in step {} did not happen",
                    ctx.graph.roles[action.role],
                    ctx.graph.roles[to],
                    ctx.graph.nodes[node].step + 1,
                ),
            });
        }
    }
    faults
}

/// Whether the ball is known for most of a step, so that its absence from events means something.
fn ball_known(ctx: &Context<'_>, step: &StepRun) -> bool {
    if ctx.story.spells.is_empty() {
        return false;
    }
    let known = step
        .path
        .iter()
        .filter(|(t, _)| {
            ctx.scene
                .query
                .ball
                .get(ctx.scene.query.frame(*t))
                .copied()
                .flatten()
                .is_some()
        })
        .count();
    known * 10 >= step.path.len() * 8
}

/// Which way one is off, as a coach says it: above is further from the end line.
fn direction(declared: AttackPoint, actual: AttackPoint) -> &'static str {
    let (up, right) = (actual.x - declared.x, actual.y - declared.y);
    if up.abs() >= right.abs() {
        if up > 0.0 { "above" } else { "below" }
    } else if declared.y.abs() < 1.0 {
        if right > 0.0 { "right of" } else { "left of" }
    } else if right * declared.y > 0.0 {
        "wide of"
    } else {
        "inside"
    }
}

/// The named spot at a declared place (mirrored back when run left), or plain words.
fn place_name(ctx: &Context<'_>, declared: AttackPoint, hand: Hand) -> String {
    let real = as_declared(declared, hand);
    spot_names()
        .filter_map(|n| spot(&ctx.graph.court, n))
        .map(|(n, p)| (n, p.distance(real)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .filter(|(_, d)| *d < 1.2)
        .map_or_else(
            || "the declared place".to_owned(),
            |(n, _)| format!("the {n}"),
        )
}

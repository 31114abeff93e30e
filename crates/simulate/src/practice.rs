//! A practice on a half court: walk-throughs, live repetitions alone, and against a scout team.

use crate::ball::Hold;
use crate::finish::Ended;
use crate::game::{Occasion, check, done, lineup};
use crate::possession::{Chain, Plan, Playing, ball_role, cast, chain, to_places};
use crate::script::Cast;
use crate::session::{Period, World};
use crate::settings::{Settings, SettingsError, within};
use crate::sim::{Guard, Sim};
use crate::tasks::go;
use crate::truth::{TruePossession, Truth};
use crate::vec2::v2;
use serde::{Deserialize, Serialize};
use setdrift_court::End;
use setdrift_playbook::graph::Graph;

/// What is done in a practice.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PracticeSettings {
    /// Chains of options that are walked through.
    pub walk_throughs: usize,
    /// Repetitions of each in a row.
    pub in_a_row: usize,
    /// Live repetitions without opponents.
    pub alone: usize,
    /// Live repetitions against the scout team.
    pub against: usize,
}

impl Default for PracticeSettings {
    fn default() -> Self {
        Self {
            walk_throughs: 4,
            in_a_row: 3,
            alone: 8,
            against: 8,
        }
    }
}

/// A practice; [`Settings::mix`] gives the share of left hands, breaks and longer chains.
///
/// # Errors
/// [`SettingsError`] when a setting is out of range or the players cannot fill the roles.
pub fn simulate_practice(
    graph: &Graph,
    occasion: &Occasion,
    settings: &Settings,
    practice: &PracticeSettings,
    seed: u64,
) -> Result<(World, Truth), SettingsError> {
    check(graph, occasion, settings)?;
    within(
        "practice.walk_throughs",
        practice.walk_throughs as f64,
        0.0,
        100.0,
    )?;
    within("practice.in_a_row", practice.in_a_row as f64, 1.0, 20.0)?;
    within("practice.alone", practice.alone as f64, 0.0, 400.0)?;
    within("practice.against", practice.against as f64, 0.0, 400.0)?;
    let mut sim = Sim::new(&graph.court, settings, occasion.players.clone(), seed);
    sim.offence = 0;
    sim.end = End::Right;
    let mut head = occasion.head(graph, true);
    enter(&mut sim, graph, 0)?;
    let first = sim.five(0)[0];
    sim.give(first);
    sim.run_for(2.0);
    for _ in 0..practice.walk_throughs {
        let (nodes, cast) = draw(&mut sim, graph, 2)?;
        for _ in 0..practice.in_a_row {
            let plan = Plan {
                no_shot: sim.rng.chance(0.5),
                walk: true,
                ..Plan::default()
            };
            repeat(&mut sim, graph, plan, &nodes, &cast);
        }
    }
    swap_five(&mut sim, graph)?;
    for k in 0..practice.alone + practice.against {
        let against = k >= practice.alone;
        if k == practice.alone {
            swap_five(&mut sim, graph)?;
            enter(&mut sim, graph, 1)?;
        }
        let (nodes, cast) = draw(&mut sim, graph, 3)?;
        let breaks = sim.rng.chance(settings.mix.broken_off);
        let plan = Plan {
            break_in: breaks.then_some(0),
            ..Plan::default()
        };
        if against {
            sim.match_up();
            sim.guard = Guard::Set;
        }
        repeat(&mut sim, graph, plan, &nodes, &cast);
    }
    sim.run_for(2.0);
    head.periods.push(Period {
        from_s: 0.0,
        to_s: sim.now(),
        end: End::Right,
    });
    Ok(done(sim, head, seed))
}

fn enter(sim: &mut Sim<'_>, graph: &Graph, team: usize) -> Result<(), SettingsError> {
    for (k, p) in lineup(sim, graph, team)?.into_iter().enumerate() {
        let x = sim.rng.range(6.0, 11.0);
        let at = sim.to_court(v2(x, -5.0 + 2.5 * k as f64));
        sim.enter(p, at);
    }
    Ok(())
}

/// Another five takes over; the ball goes to one of them.
fn swap_five(sim: &mut Sim<'_>, graph: &Graph) -> Result<(), SettingsError> {
    sim.guard = Guard::Off;
    for p in sim.five(0) {
        sim.bodies[p] = None;
    }
    sim.ball.hold = Hold::Loose;
    enter(sim, graph, 0)?;
    sim.run_for(6.0);
    Ok(())
}

fn draw(sim: &mut Sim<'_>, graph: &Graph, most: usize) -> Result<(Chain, Cast), SettingsError> {
    let nodes = chain(graph, &mut sim.rng, &sim.ran, sim.set.mix.chain, most);
    if nodes.is_empty() {
        return Err(SettingsError::Cast(
            "the playbook has no option to begin with".into(),
        ));
    }
    let five = sim.five(0);
    let players = cast(sim, graph, &five, None)?;
    let left = sim.rng.chance(sim.set.mix.left);
    Ok((nodes, Cast { players, left }))
}

/// One repetition: walk to the places, wait for the word, go.
fn repeat(sim: &mut Sim<'_>, graph: &Graph, plan: Plan, nodes: &Chain, cast: &Cast) {
    let dead_from = sim.now();
    let first = nodes[0].0;
    let handler = cast.players[ball_role(graph, first)];
    fetch_ball(sim, handler);
    let pace = sim.rng.range(1.2, 1.9);
    to_places(sim, graph, first, cast, pace, false);
    let wait = sim.rng.range(1.2, 3.5);
    sim.run_for(wait);
    sim.truth.dead.push((dead_from, sim.now()));
    let (began, possession) = (sim.now(), sim.truth.possessions.len());
    let (actions, spans) = (sim.truth.actions.len(), sim.truth.spans.len());
    let playing = Playing { graph, possession };
    let ended = playing.repetition(sim, &plan, nodes.clone(), cast.clone());
    sim.clear_screens();
    // It begins when the first of them moves, and so does what they run.
    let onsets = sim.truth.actions[actions..]
        .iter()
        .filter_map(|a| a.onset_s);
    let first = onsets.fold(f64::MAX, f64::min);
    let from_s = if first < ended.at() { first } else { began };
    if let Some(span) = sim.truth.spans.get_mut(spans) {
        span.from_s = span.from_s.max(from_s);
    }
    let to_s = match ended {
        Ended::Stopped { .. } => come_to_rest(sim),
        _ => ended.at(),
    };
    sim.truth.possessions.push(TruePossession {
        team: 0,
        from_s,
        to_s,
        end: sim.end,
        outcome: ended.name().to_owned(),
        points: ended.points(),
        walk_through: plan.walk,
        second_chances: 0,
    });
    let pause = sim.rng.range(1.0, 2.5);
    sim.run_for(pause);
    sim.halt(0);
    sim.halt(1);
}

/// Runs on until all of the offence stand; returns when that was.
fn come_to_rest(sim: &mut Sim<'_>) -> f64 {
    let latest = sim.now() + 4.0;
    let five = sim.five(0);
    while sim.now() < latest && five.iter().any(|p| sim.body(*p).vel.len() > 0.5) {
        sim.tick();
    }
    sim.now()
}

/// Someone picks the ball up and gives it to the one who is to begin.
fn fetch_ball(sim: &mut Sim<'_>, to: usize) {
    let near = |sim: &Sim<'_>| {
        let ball = sim.ball.pos;
        sim.five(0)
            .into_iter()
            .min_by(|a, b| sim.pos(*a).dist(ball).total_cmp(&sim.pos(*b).dist(ball)))
    };
    let mut holder = sim.ball.holder();
    // A defender who has it lets it go; the offence begins again.
    if holder.is_some_and(|h| sim.players[h].team != 0) {
        sim.ball.hold = Hold::Loose;
        holder = None;
    }
    if holder.is_none()
        && let Some(p) = near(sim)
    {
        let t = sim.now();
        while sim.pos(p).dist(sim.ball.pos) > 0.6 && sim.now() < t + 12.0 {
            if sim.body(p).remaining() < 0.1 {
                let at = sim.ball.pos;
                let secs = sim.pos(p).dist(at) / 1.8;
                go(sim, p, vec![at], secs.max(0.5));
            }
            sim.tick();
        }
        sim.give(p);
        holder = Some(p);
    }
    let Some(h) = holder.filter(|h| *h != to) else {
        return;
    };
    sim.pick_up();
    let t = sim.now();
    while sim.pos(h).dist(sim.pos(to)) > 6.5 && sim.now() < t + 8.0 {
        if sim.body(h).remaining() < 0.1 {
            let at = sim.pos(to);
            go(sim, h, vec![at], 3.0);
        }
        sim.tick();
    }
    sim.body_mut(h).stand();
    sim.run_for(0.4);
    if sim.pos(h).dist(sim.pos(to)) < 1.2 {
        sim.hand_off(h, to);
    } else {
        sim.start_pass(h, to, None, false);
        while sim.passing() {
            sim.tick();
        }
    }
    sim.picked_up = None;
}

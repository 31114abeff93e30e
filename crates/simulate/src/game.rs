//! A game: possessions of both teams in turn, two periods, changing ends.

use crate::finish::{Ended, Shot, finish, inbound, lay_down};
use crate::improvise::Improvisation;
use crate::possession::{Plan, Playing, cast};
use crate::rng::Rng;
use crate::session::{Period, ResultLine, SimPlayer, SimulatedSession, World};
use crate::settings::{Settings, SettingsError};
use crate::sim::{Guard, Sim};
use crate::tags::tag;
use crate::tasks::{Act, Manner, Start, Step, StepEnd, Task, go};
use crate::truth::{TruePossession, Truth};
use crate::vec2::v2;
use serde::{Deserialize, Serialize};
use setdrift_court::{End, spot};
use setdrift_playbook::graph::Graph;

/// Who plays, and when.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Occasion {
    /// Name of the session.
    pub id: String,
    /// `YYYY-MM-DD`.
    pub date: String,
    /// Audited team and opponents: id and name.
    pub teams: [(String, String); 2],
    /// Players of both; at least as many a side as the playbook has roles.
    pub players: Vec<SimPlayer>,
}

impl Occasion {
    pub(crate) fn head(&self, graph: &Graph, practice: bool) -> SimulatedSession {
        SimulatedSession {
            id: self.id.clone(),
            date: self.date.clone(),
            practice,
            teams: self.teams.to_vec(),
            court: graph.court.clone(),
            rate_hz: crate::session::WORLD_HZ,
            players: self.players.clone(),
            tracks: Vec::new(),
            ball: crate::session::Samples::default(),
            periods: Vec::new(),
            results: Vec::new(),
            tags: Vec::new(),
        }
    }
}

/// Checks that playbook, players and settings go together.
pub(crate) fn check(
    graph: &Graph,
    occasion: &Occasion,
    settings: &Settings,
) -> Result<(), SettingsError> {
    settings.check()?;
    let n = graph.roles.len();
    if n < 3 {
        return Err(SettingsError::Cast(format!(
            "the playbook has {n} roles: simulation needs three to five"
        )));
    }
    for team in 0..2 {
        let have = occasion.players.iter().filter(|p| p.team == team).count();
        if have < n {
            return Err(SettingsError::Cast(format!(
                "team {} has {have} players where the playbook has {n} roles",
                occasion.teams[team].0
            )));
        }
    }
    for h in &settings.habits {
        if !occasion.players.iter().any(|p| p.id == h.player) {
            return Err(SettingsError::Unknown {
                name: "habits.player",
                value: h.player.clone(),
                place: "the roster",
            });
        }
    }
    for d in &settings.drifts {
        if graph.option(&d.option).is_none() {
            return Err(SettingsError::Unknown {
                name: "drifts.option",
                value: d.option.clone(),
                place: "the playbook",
            });
        }
        if graph.role(&d.role).is_none() {
            return Err(SettingsError::Unknown {
                name: "drifts.role",
                value: d.role.clone(),
                place: "the playbook's roles",
            });
        }
    }
    Ok(())
}

/// A five that can fill the roles, drawn from a team.
pub(crate) fn lineup(
    sim: &mut Sim<'_>,
    graph: &Graph,
    team: usize,
) -> Result<Vec<usize>, SettingsError> {
    let all: Vec<usize> = (0..sim.players.len())
        .filter(|&i| sim.players[i].team == team)
        .collect();
    let n = graph.roles.len();
    let mut last = None;
    for _ in 0..400 {
        let mut five = all.clone();
        sim.rng.shuffle(&mut five);
        five.truncate(n);
        five.sort_unstable();
        if team != 0 {
            return Ok(five);
        }
        match cast(sim, graph, &five, None) {
            Ok(_) => return Ok(five),
            Err(e) => last = Some(e),
        }
    }
    Err(last.unwrap_or_else(|| SettingsError::Cast("no five can be drawn".into())))
}

fn plans(settings: &Settings, rng: &mut Rng) -> Vec<Plan> {
    let mix = &settings.mix;
    let mut made: Vec<Option<Option<Improvisation>>> = Vec::new();
    for (kind, n) in &mix.improvised {
        made.extend(std::iter::repeat_n(Some(Some(*kind)), *n));
    }
    made.extend(std::iter::repeat_n(Some(None), mix.scrambles));
    made.resize(mix.possessions.max(made.len()), None);
    rng.shuffle(&mut made);
    made.into_iter()
        .map(|made_up| {
            let mut p = Plan {
                made_up,
                options: 4,
                early: rng.chance(mix.early_offence),
                ..Plan::default()
            };
            if rng.chance(mix.broken_off) {
                p.break_in = Some(usize::from(rng.chance(0.35)));
            }
            if made_up.is_some() {
                let u = rng.unit();
                p.instead = u < 0.35;
                p.options = 1;
                p.break_in = (u < 0.7).then_some(0);
            }
            p
        })
        .collect()
}

/// A game of both teams, with as many possessions of the audited team as the settings say.
///
/// # Errors
/// [`SettingsError`] when a setting is out of range or the players cannot fill the roles.
pub fn simulate_game(
    graph: &Graph,
    occasion: &Occasion,
    settings: &Settings,
    seed: u64,
) -> Result<(World, Truth), SettingsError> {
    check(graph, occasion, settings)?;
    let mut sim = Sim::new(&graph.court, settings, occasion.players.clone(), seed);
    let mut head = occasion.head(graph, false);
    let plans = plans(settings, &mut sim.rng);
    let half = plans.len().div_ceil(2);
    let mut todo = plans.into_iter();
    for (period, end) in [End::Right, End::Left].into_iter().enumerate() {
        let from_s = sim.now();
        start_period(&mut sim, graph, period % 2, end)?;
        let mut left = half;
        while left > 0 {
            let done = if sim.offence == 0 {
                let Some(plan) = todo.next() else { break };
                left -= 1;
                ours(&mut sim, graph, plan)?
            } else {
                theirs(&mut sim)
            };
            head.results.push(written(&mut sim, done));
            change(&mut sim, graph, end, done)?;
        }
        sim.run_for(1.0);
        head.periods.push(Period {
            from_s,
            to_s: sim.now(),
            end,
        });
        for b in &mut sim.bodies {
            *b = None;
        }
        sim.guard = Guard::Off;
        sim.ball.hold = crate::ball::Hold::Loose;
        if period == 0 {
            sim.run_for(6.0);
        }
    }
    Ok(done(sim, head, seed))
}

/// Puts the world, the truth and what people wrote down together.
pub(crate) fn done(sim: Sim<'_>, mut head: SimulatedSession, seed: u64) -> (World, Truth) {
    let mut truth = sim.truth;
    truth.screens.sort_by(|a, b| a.set_s.total_cmp(&b.set_s));
    let mut rng = Rng::new(seed, 0x7A6);
    head.tags = tag(&truth, &mut rng);
    let world = World {
        head,
        players: sim.rec,
        ball: sim.rec_ball,
    };
    (world, truth)
}

fn start_period(
    sim: &mut Sim<'_>,
    graph: &Graph,
    first: usize,
    end: End,
) -> Result<(), SettingsError> {
    sim.offence = first;
    sim.end = if first == 0 { end } else { end.other() };
    for team in 0..2 {
        let five = lineup(sim, graph, team)?;
        for (k, p) in five.into_iter().enumerate() {
            // Both stand about the half-court line, each nearer to its own basket.
            let x = if team == sim.offence { 15.0 } else { 12.0 } + sim.rng.range(0.0, 2.5);
            let y = -5.0 + 2.4 * k as f64 + sim.rng.range(-0.6, 0.6);
            let at = sim.to_court(v2(x, y));
            sim.enter(p, at);
        }
    }
    sim.guard = Guard::Off;
    sim.run_for(1.0);
    let side = sim.to_court(v2(14.0, 7.9));
    sim.match_up();
    sim.guard = Guard::Back;
    inbound(sim, side, 2.0);
    Ok(())
}

fn ours(sim: &mut Sim<'_>, graph: &Graph, plan: Plan) -> Result<Ended, SettingsError> {
    let (from_s, possession) = (sim.now(), sim.truth.possessions.len());
    let rebounds = sim.truth.rebounds.len();
    sim.match_up();
    sim.guard = Guard::Back;
    let playing = Playing { graph, possession };
    let ended = playing.offence(sim, plan)?;
    close(sim, from_s, ended, rebounds);
    Ok(ended)
}

fn close(sim: &mut Sim<'_>, from_s: f64, ended: Ended, rebounds: usize) {
    sim.clear_screens();
    let again = sim.truth.rebounds[rebounds..]
        .iter()
        .filter(|r| r.offensive)
        .count();
    sim.truth.possessions.push(TruePossession {
        team: sim.offence,
        from_s,
        to_s: ended.at(),
        end: sim.end,
        outcome: ended.name().to_owned(),
        points: ended.points(),
        walk_through: false,
        second_chances: again as u32,
    });
}

/// The opponents' possession: up the floor, a few passes and cuts, and a shot.
fn theirs(sim: &mut Sim<'_>) -> Ended {
    let (from_s, possession) = (sim.now(), sim.truth.possessions.len());
    let rebounds = sim.truth.rebounds.len();
    sim.match_up();
    sim.guard = Guard::Back;
    let mut ended = generic(sim, possession);
    if ended.is_none() {
        loop {
            match finish(sim, possession) {
                Shot::Ended(e) => {
                    ended = Some(e);
                    break;
                }
                Shot::Again(_) => sim.run_for(0.2),
            }
        }
    }
    let ended = ended.unwrap_or(Ended::Stopped { at: sim.now() });
    close(sim, from_s, ended, rebounds);
    ended
}

fn generic(sim: &mut Sim<'_>, _possession: usize) -> Option<Ended> {
    let names = [
        "top",
        "right wing",
        "left wing",
        "left block",
        "right corner",
    ];
    let mut five = sim.five(sim.offence);
    let h = sim.ball.holder()?;
    five.retain(|p| *p != h);
    sim.rng.shuffle(&mut five);
    five.insert(0, h);
    if sim.picked_up != Some(h) {
        sim.start_dribble(h);
    }
    let pace = sim.rng.range(2.7, 3.7);
    for (p, name) in five.iter().zip(names) {
        let at = spot(sim.court, name).map_or(v2(7.0, 0.0), |(_, p)| v2(p.x, p.y));
        let to = at + v2(sim.rng.around(0.0, 0.5), sim.rng.around(0.0, 0.5));
        let to = sim.to_court(to);
        let secs = sim.pos(*p).dist(to) / pace;
        go(sim, *p, vec![to], secs.max(0.5));
    }
    let t = sim.now();
    while five.iter().any(|p| sim.body(*p).remaining() > 1.0) && sim.now() < t + 9.0 {
        sim.tick();
    }
    sim.guard = Guard::Set;
    let mut with = h;
    for _ in 0..1 + sim.rng.below(3) {
        let others: Vec<usize> = five.iter().copied().filter(|p| *p != with).collect();
        let near = others.into_iter().min_by(|a, b| {
            sim.pos(*a)
                .dist(sim.pos(with))
                .total_cmp(&sim.pos(*b).dist(sim.pos(with)))
        })?;
        let mover = five[sim.rng.below(five.len())];
        let mut tasks = Vec::new();
        let pass = Act::Pass {
            to: near,
            arc: None,
            slack: 2.0,
            stolen_by: sim
                .man
                .iter()
                .find(|(_, a)| *a == near)
                .map(|(d, _)| *d)
                .filter(|_| sim.rng.chance(0.06)),
        };
        let after = sim.rng.range(0.4, 1.2);
        tasks.push(Task::new(with, pass, Start::At(after)));
        if mover != with && mover != near {
            let to = v2(sim.rng.range(1.5, 8.5), sim.rng.range(-6.5, 6.5));
            let path = vec![sim.to_court(to)];
            let act = Act::Move {
                path,
                secs: 1.8,
                jab: false,
                off: None,
            };
            let mut task = Task::new(mover, act, Start::At(0.5));
            task.manner = Manner::After(0.0);
            tasks.push(task);
        }
        let mut step = Step {
            tasks,
            secs: 1.8,
            from_s: 0.0,
        };
        if let StepEnd::Stolen(_) = step.play(sim, None) {
            return Some(Ended::Stolen { at: sim.now() });
        }
        with = near;
    }
    None
}

/// The line a scorer writes: a little late, to the tenth.
fn written(sim: &mut Sim<'_>, ended: Ended) -> ResultLine {
    let late = sim.rng.around(0.3, 0.3);
    ResultLine {
        time_s: ((ended.at() + late) * 10.0).round() / 10.0,
        team: sim.offence,
        kind: ended.name().to_owned(),
        points: ended.points(),
    }
}

/// The ball changes sides.
fn change(sim: &mut Sim<'_>, graph: &Graph, end: End, ended: Ended) -> Result<(), SettingsError> {
    let old = sim.offence;
    sim.halt(old);
    sim.offence = 1 - old;
    // Baskets are defended where they are; the new offence goes to the other.
    let under = sim.ring();
    sim.end = if sim.offence == 0 { end } else { end.other() };
    match ended {
        Ended::Made { .. } => {
            sim.guard = Guard::Off;
            sim.run_for(0.8);
            lay_down(sim);
            sim.match_up();
            let out = under.x.signum() * (sim.court.measures().length / 2.0 + 0.5);
            let wait = sim.rng.range(1.2, 2.2);
            let y = if sim.rng.chance(0.5) { 2.2 } else { -2.2 };
            retreat(sim);
            inbound(sim, v2(out, y), wait);
        }
        Ended::Out { .. } | Ended::Stopped { .. } => {
            sim.guard = Guard::Off;
            lay_down(sim);
            sim.run_for(1.0);
            if sim.rng.chance(0.5) {
                substitute(sim, graph)?;
            }
            let m = sim.court.measures();
            let b = sim.ball.pos;
            let side = if b.y < 0.0 { -1.0 } else { 1.0 };
            let at = v2(b.x.clamp(-9.0, 9.0), side * (m.width / 2.0 + 0.4));
            let wait = sim.rng.range(3.0, 5.0);
            sim.match_up();
            retreat(sim);
            inbound(sim, at, wait);
        }
        Ended::Missed { .. } | Ended::Stolen { .. } => {}
    }
    Ok(())
}

/// The team that lost the ball jogs back.
fn retreat(sim: &mut Sim<'_>) {
    for p in sim.five(1 - sim.offence) {
        let at = v2(sim.rng.range(6.0, 11.0), sim.rng.range(-4.5, 4.5));
        let to = sim.to_court(at);
        let secs = sim.pos(p).dist(to) / 3.0;
        go(sim, p, vec![to], secs.max(0.6));
    }
}

/// One or two of each team change; who comes in is first seen at the sideline.
fn substitute(sim: &mut Sim<'_>, graph: &Graph) -> Result<(), SettingsError> {
    for team in 0..2 {
        let now = sim.five(team);
        // A five that differs in at most two, so that play goes on.
        for _ in 0..60 {
            let next = lineup(sim, graph, team)?;
            let new: Vec<usize> = next.iter().copied().filter(|p| !now.contains(p)).collect();
            let old: Vec<usize> = now.iter().copied().filter(|p| !next.contains(p)).collect();
            if new.is_empty() || new.len() > 2 {
                continue;
            }
            for (k, (n, o)) in new.into_iter().zip(old).enumerate() {
                let place = sim.pos(o);
                sim.bodies[o] = None;
                let y = -sim.court.measures().width / 2.0 - 0.3;
                let x = if team == 0 { -2.5 } else { 2.5 } + 0.8 * k as f64;
                sim.enter(n, v2(x, y));
                go(sim, n, vec![place], 2.5);
            }
            break;
        }
    }
    Ok(())
}

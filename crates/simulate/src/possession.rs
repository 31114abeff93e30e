//! One possession of the audited team: up the floor, into the set, through the options, and out.

use crate::finish::{Ended, Shot, finish, shoot};
use crate::improvise::{Improvisation, improvise};
use crate::place::off_by;
use crate::rng::Rng;
use crate::script::{Cast, Order, shift};
use crate::settings::SettingsError;
use crate::sim::{Guard, Sim};
use crate::tasks::{Act, Step, StepEnd, go, settle_ball};
use crate::truth::{Did, OptionRun, Span, TrueAction, TrueStep};
use crate::vec2::{V2, v2};
use setdrift_court::AttackPoint;
use setdrift_playbook::graph::{ActionKind, Edge, Graph, NodeIx, RoleIx};

/// What is to happen in a possession.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Plan {
    /// Made up: which (`None` scrambles).
    pub(crate) made_up: Option<Option<Improvisation>>,
    /// It comes instead of any option.
    pub(crate) instead: bool,
    /// Break off in the option of this number.
    pub(crate) break_in: Option<usize>,
    /// Go into it without waiting for the set.
    pub(crate) early: bool,
    /// End with the last option, without a shot (walk-throughs, drills).
    pub(crate) no_shot: bool,
    /// At walking pace, with stops.
    pub(crate) walk: bool,
    /// Not more options than this.
    pub(crate) options: usize,
}

/// A chain of nodes with the refill on the way into each.
pub(crate) type Chain = Vec<(NodeIx, Option<Vec<RoleIx>>)>;

/// A walk through the graph: whole options, one after the other.
///
/// What was run least so far (`ran`, by option) is chosen most, as staffs see to it.
pub(crate) fn chain(graph: &Graph, rng: &mut Rng, ran: &[usize], go_on: f64, most: usize) -> Chain {
    let ran = |node: NodeIx| ran.get(graph.nodes[node].option).copied().unwrap_or(0);
    let mut out: Chain = Vec::new();
    if graph.starts.is_empty() {
        return out;
    }
    let mut at = graph.starts[rng.below(graph.starts.len())];
    out.push((at, None));
    let mut options = 1;
    loop {
        let here = &graph.nodes[at];
        let edges: Vec<_> = graph
            .edges
            .iter()
            .filter(|e| {
                let to = &graph.nodes[e.to];
                e.from == at
                    && if here.last {
                        to.step == 0
                    } else {
                        to.option == here.option && to.step == here.step + 1
                    }
            })
            .collect();
        if edges.is_empty() {
            return out;
        }
        if here.last {
            if options >= most || !rng.chance(go_on) {
                return out;
            }
            options += 1;
        }
        let weight = |e: &&Edge| {
            let n = 1.0 + ran(e.to) as f64;
            1.0 / (n * n)
        };
        let mut mark = rng.unit() * edges.iter().map(weight).sum::<f64>();
        let pick = edges.iter().position(|e| {
            mark -= weight(e);
            mark <= 0.0
        });
        let e = edges[pick.unwrap_or(edges.len() - 1)];
        out.push((e.to, e.refill.clone()));
        at = e.to;
    }
}

/// The role that has the ball when a node begins.
pub(crate) fn ball_role(graph: &Graph, node: NodeIx) -> RoleIx {
    let m = &graph.nodes[node].motion;
    (0..graph.roles.len())
        .min_by(|a, b| {
            let d = |r: usize| m.roles[r][0].distance(m.ball[0]);
            d(*a).total_cmp(&d(*b))
        })
        .unwrap_or(0)
}

/// Who takes which role: any way the roster allows; `first` gets `role` if he may.
pub(crate) fn cast(
    sim: &mut Sim<'_>,
    graph: &Graph,
    five: &[usize],
    prefer: Option<(usize, RoleIx)>,
) -> Result<Vec<usize>, SettingsError> {
    let may = |p: usize, r: RoleIx| {
        let roles = &sim.players[p].roles;
        roles.is_empty() || roles.contains(&graph.roles[r])
    };
    let n = graph.roles.len();
    let mut all: Vec<Vec<usize>> = Vec::new();
    let mut stack: Vec<Vec<usize>> = vec![Vec::new()];
    while let Some(part) = stack.pop() {
        if part.len() == n {
            all.push(part);
            continue;
        }
        for &p in five {
            if !part.contains(&p) && may(p, part.len()) {
                let mut more = part.clone();
                more.push(p);
                stack.push(more);
            }
        }
    }
    if let Some((p, r)) = prefer
        && all.iter().any(|c| c[r] == p)
    {
        all.retain(|c| c[r] == p);
    }
    if all.is_empty() {
        let names: Vec<&str> = five.iter().map(|&p| sim.players[p].id.as_str()).collect();
        return Err(SettingsError::Cast(format!(
            "players {} cannot fill the roles {}: allow more roles in the roster",
            names.join(", "),
            graph.roles.join(", ")
        )));
    }
    let k = sim.rng.below(all.len());
    Ok(all.swap_remove(k))
}

/// The player who dribbles next without a pass before it.
fn dribbles_next(
    graph: &Graph,
    nodes: &[(NodeIx, Option<Vec<RoleIx>>)],
    cast: &Cast,
) -> Option<usize> {
    for (n, refill) in nodes {
        // After a refill it takes a pass or a new start; enough to look as far as that.
        if refill.is_some() {
            return None;
        }
        let node = &graph.nodes[*n];
        let first = node
            .actions
            .iter()
            .filter(|a| {
                matches!(
                    a.kind,
                    ActionKind::Pass { .. }
                        | ActionKind::HandOff { .. }
                        | ActionKind::Dribble { .. }
                )
            })
            .min_by_key(|a| a.from);
        if let Some(a) = first {
            return matches!(a.kind, ActionKind::Dribble { .. }).then(|| cast.players[a.role]);
        }
    }
    None
}

/// Everyone to the places from which a node begins.
pub(crate) fn to_places(
    sim: &mut Sim<'_>,
    graph: &Graph,
    node: NodeIx,
    cast: &Cast,
    pace: f64,
    early: bool,
) {
    let from = sim.now();
    let handler = cast.players[ball_role(graph, node)];
    for (role, &p) in cast.players.iter().enumerate() {
        let at = graph.nodes[node].motion.roles[role][0];
        let d = shift(sim, graph, node, role);
        let bias = sim.builds[p].bias;
        let bias = if cast.left { v2(bias.x, -bias.y) } else { bias };
        let sd = sim.set.paths.end_m;
        let off = bias + v2(sim.rng.around(0.0, sd), sim.rng.around(0.0, sd));
        let to = cast.place(AttackPoint::new(at.x + d.x, at.y + d.y)) + off;
        let to = sim.to_court(to);
        let way = sim.pos(p).dist(to);
        let speed = pace * sim.rng.range(0.85, 1.2) * if p == handler { 0.85 } else { 1.0 };
        if p == handler
            && way > 2.0
            && pace > 2.0
            && sim.ball.holder() == Some(p)
            && sim.picked_up != Some(p)
        {
            sim.start_dribble(p);
        }
        go(sim, p, vec![to], (way / speed).max(0.5));
    }
    loop {
        sim.tick();
        let late = cast
            .players
            .iter()
            .filter(|&&p| sim.body(p).remaining() > 0.7)
            .count();
        let ball_there = sim.body(handler).remaining() < if early { 2.0 } else { 0.7 };
        let far = cast.players.iter().any(|&p| sim.body(p).remaining() > 2.5);
        let early = early && !far;
        let waited = sim.now() - from;
        if ball_there && (late == 0 || (early && late <= 2)) || waited > 14.0 {
            return;
        }
    }
}

pub(crate) struct Playing<'g> {
    pub(crate) graph: &'g Graph,
    pub(crate) possession: usize,
}

enum Went {
    On,
    Broken,
    Stolen,
}

impl Playing<'_> {
    fn span(&self, sim: &mut Sim<'_>, from_s: f64, what: Did) {
        let to_s = sim.now();
        if to_s > from_s + 1e-9 {
            sim.truth.spans.push(Span {
                from_s,
                to_s,
                possession: self.possession,
                what,
            });
        }
    }

    /// Plays the audited team's possession from the moment it has the ball.
    pub(crate) fn offence(&self, sim: &mut Sim<'_>, plan: Plan) -> Result<Ended, SettingsError> {
        let mut plan = plan;
        let mut chances = 0;
        loop {
            let from = sim.now();
            let Some(h) = sim.ball.holder() else {
                return Ok(Ended::Stopped { at: from });
            };
            let nodes = chain(
                self.graph,
                &mut sim.rng,
                &sim.ran,
                sim.set.mix.chain,
                plan.options.max(1),
            );
            let Some(&(first, _)) = nodes.first() else {
                return Err(SettingsError::Cast(
                    "the playbook has no option to begin with".into(),
                ));
            };
            let role = ball_role(self.graph, first);
            let five = sim.five(sim.offence);
            let players = cast(sim, self.graph, &five, Some((h, role)))?;
            let left = sim.rng.chance(sim.set.mix.left);
            let cast = Cast { players, left };
            let handler = cast.players[role];
            if sim.guard != Guard::Off {
                sim.guard = Guard::Back;
            }
            if handler != h {
                self.outlet(sim, h, handler);
            }
            let pace = sim.rng.range(2.8, 3.8);
            to_places(sim, self.graph, first, &cast, pace, plan.early);
            if sim.guard != Guard::Off {
                sim.guard = Guard::Set;
            }
            self.span(sim, from, Did::Transition);
            settle_ball(sim, dribbles_next(self.graph, &nodes, &cast));
            let set_from = sim.now();
            let wait = if plan.early {
                0.0
            } else {
                sim.rng.range(0.5, 1.8)
            };
            sim.run_for(wait);
            self.span(sim, set_from, Did::Set);
            let shot = match self.body(sim, &plan, nodes, cast) {
                Went::Stolen => return Ok(Ended::Stolen { at: sim.now() }),
                Went::On | Went::Broken => finish(sim, self.possession),
            };
            let mut again = match shot {
                Shot::Ended(e) => return Ok(e),
                Shot::Again(p) => p,
            };
            chances += 1;
            // Straight back up, or out again for a new start.
            while chances < 4 && (sim.rng.chance(0.5) || chances > 1) {
                let back = sim.now();
                let shot = shoot(sim, again);
                self.span(sim, back, Did::Finish);
                match shot {
                    Shot::Ended(e) => return Ok(e),
                    Shot::Again(p) => again = p,
                }
                chances += 1;
            }
            if chances >= 4 {
                return Ok(Ended::Stopped { at: sim.now() });
            }
            plan = Plan {
                options: 1,
                early: sim.rng.chance(0.3),
                ..Plan::default()
            };
        }
    }

    /// The part between the set and the shot.
    fn body(&self, sim: &mut Sim<'_>, plan: &Plan, nodes: Chain, cast: Cast) -> Went {
        let made_up = |sim: &mut Sim<'_>| match plan.made_up {
            Some(kind) => match improvise(sim, kind, self.possession) {
                StepEnd::Stolen(_) => Went::Stolen,
                _ => Went::On,
            },
            None => Went::On,
        };
        if plan.instead {
            return made_up(sim);
        }
        match self.options(sim, plan, nodes, cast) {
            Went::Stolen => Went::Stolen,
            Went::On | Went::Broken => made_up(sim),
        }
    }

    /// The player with the ball gets it to the one who is to bring it up.
    fn outlet(&self, sim: &mut Sim<'_>, from: usize, to: usize) {
        let mid = sim.pos(from).lerp(sim.pos(to), 0.75);
        if sim.pos(from).dist(sim.pos(to)) > 5.0 {
            go(sim, to, vec![mid], 1.5);
        }
        let start = sim.now();
        sim.run_for(0.4);
        while (sim.pos(from).dist(sim.pos(to)) > 6.0 || sim.pos(from).dist(sim.pos(to)) < 1.5)
            && sim.now() < start + 3.0
        {
            if sim.body(to).remaining() < 0.1 {
                let side = sim.pos(from) + v2(1.5, 2.0);
                go(sim, to, vec![side], 1.0);
            }
            sim.tick();
        }
        sim.start_pass(from, to, None, false);
        while sim.passing() {
            sim.tick();
        }
    }

    /// Runs the chain's options, writing the truth of each.
    fn options(&self, sim: &mut Sim<'_>, plan: &Plan, nodes: Chain, mut cast: Cast) -> Went {
        let t = sim.set.timing.tempo;
        let mut number = 0;
        let mut i = 0;
        let mut standing = Vec::new();
        while i < nodes.len() {
            let option = self.graph.nodes[nodes[i].0].option;
            let until = (i + 1..nodes.len())
                .find(|&k| self.graph.nodes[nodes[k].0].step == 0)
                .unwrap_or(nodes.len());
            if let Some(refill) = &nodes[i].1 {
                cast.players = refill.iter().map(|&old| cast.players[old]).collect();
            }
            if number > 0 && sim.rng.chance(sim.set.timing.pauses) {
                let from = sim.now();
                let (low, high) = sim.set.timing.pause_s;
                let wait = sim.rng.range(low, high);
                sim.run_for(wait);
                self.span(sim, from, Did::Wait);
            }
            let tempo = sim.rng.range(t.0, t.1) * if plan.walk { 1.9 } else { 1.0 };
            let broken = plan.break_in == Some(number);
            let break_step = if broken {
                i + sim.rng.below(until - i)
            } else {
                usize::MAX
            };
            let from_s = sim.now();
            let mut run = OptionRun {
                option: self.graph.options[option].id.clone(),
                hand: cast.hand().to_owned(),
                players: cast.players.clone(),
                steps: Vec::new(),
                complete: false,
            };
            let mut end = StepEnd::Done;
            for k in i..until {
                if plan.walk && k > i && sim.rng.chance(0.5) {
                    let stop = sim.rng.range(0.6, 3.0);
                    sim.run_for(stop);
                }
                let order = Order {
                    graph: self.graph,
                    node: nodes[k].0,
                    next: nodes.get(k + 1),
                    cast: &cast,
                    tempo,
                    since: from_s,
                    live: !plan.walk,
                };
                let step_from = sim.now();
                let mut step = order.step(sim);
                step.tasks.splice(0..0, standing.drain(..));
                // Enough of it is seen that a person would call it begun.
                let cut = (k == break_step).then(|| step.secs * sim.rng.range(0.35, 0.8));
                end = step.play(sim, cut);
                run.steps.push(TrueStep {
                    node: nodes[k].0,
                    from_s: step_from,
                    to_s: sim.now(),
                    complete: end == StepEnd::Done,
                });
                self.write_actions(sim, nodes[k].0, &cast, &step);
                standing = step.standing();
                if end != StepEnd::Done {
                    break;
                }
                settle_ball(sim, dribbles_next(self.graph, &nodes[k + 1..], &cast));
            }
            run.complete = end == StepEnd::Done;
            sim.ran.resize(self.graph.options.len(), 0);
            sim.ran[option] += usize::from(run.complete);
            self.span(sim, from_s, Did::Option(run));
            match end {
                StepEnd::Done => {}
                StepEnd::Broken | StepEnd::Failed => {
                    sim.clear_screens();
                    return Went::Broken;
                }
                StepEnd::Stolen(_) => {
                    sim.clear_screens();
                    return Went::Stolen;
                }
            }
            number += 1;
            i = until;
        }
        sim.clear_screens();
        Went::On
    }

    fn write_actions(&self, sim: &mut Sim<'_>, node: NodeIx, cast: &Cast, step: &Step) {
        // The run's span is pushed when it ends, and nothing is pushed before it.
        let span = sim.truth.spans.len();
        let end = sim.now();
        for task in &step.tasks {
            let Some(action) = task.action else { continue };
            let declared = &self.graph.nodes[node].actions[action];
            let cue_s = task.cue_s.filter(|_| declared.cue.is_some());
            let class = declared.cue.as_ref().and_then(|c| {
                let cue = cue_s?;
                Some(match task.onset_s {
                    // Play went on without him: not the same as play being stopped before he
                    // could go.
                    None if task.left_out() || end - cue > c.to_s + 0.3 => "never",
                    None => return None,
                    Some(on) if on - cue < c.from_s => "early",
                    Some(on) if on - cue > c.to_s => "late",
                    Some(_) => "on-time",
                })
            });
            let as_declared = |p: V2| {
                let p = sim.to_attack(p);
                AttackPoint::new(p.x, if cast.left { -p.y } else { p.y })
            };
            // A movement still under way when the step ends is taken where it is then.
            let running = task.onset_s.is_some() && task.done_s.is_none();
            let (done_s, place) = if running && !matches!(task.act, Act::Screen { .. }) {
                (Some(end), Some(sim.pos(task.player)))
            } else {
                (task.done_s, task.place)
            };
            let place = place.map(as_declared);
            let off_by = declared
                .placements
                .iter()
                .map(|p| place.and_then(|at| off_by(&self.graph.court, p, at)))
                .collect();
            sim.truth.actions.push(TrueAction {
                span,
                node,
                action,
                role: declared.role,
                player: task.player,
                cue_s,
                onset_s: task.onset_s,
                jab_s: task.jab_s,
                moving: task.moving,
                class: class.map(str::to_owned),
                done_s,
                place,
                off_by,
            });
        }
    }

    /// A repetition in practice, from standing at the places of the chain's first node.
    pub(crate) fn repetition(
        &self,
        sim: &mut Sim<'_>,
        plan: &Plan,
        nodes: Chain,
        cast: Cast,
    ) -> Ended {
        match self.body(sim, plan, nodes, cast) {
            Went::Stolen => Ended::Stolen { at: sim.now() },
            Went::On | Went::Broken if plan.no_shot => Ended::Stopped { at: sim.now() },
            Went::On | Went::Broken => match finish(sim, self.possession) {
                Shot::Ended(e) => e,
                Shot::Again(_) => Ended::Missed { at: sim.now() },
            },
        }
    }
}

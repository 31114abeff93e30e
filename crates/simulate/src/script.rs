//! From a node of the playbook's graph to the tasks of real people.

use crate::ball::Arc;
use crate::sim::{Ev, Sim};
use crate::tasks::{Act, CueOn, Manner, Start, Step, Task};
use crate::vec2::{V2, path_len, v2};
use setdrift_court::AttackPoint;
use setdrift_playbook::graph::{
    ActionKind, Cue, CueEvent, CutKind, Graph, NodeIx, PassKind, RATE_HZ, RoleIx,
};

/// A run of an option by five players to one hand.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Cast {
    /// Player per role.
    pub(crate) players: Vec<usize>,
    pub(crate) left: bool,
}

impl Cast {
    /// A declared place, mirrored for the hand, in the attack frame. Coordinates are taken to the
    /// micrometre, so that the last bit of a platform's sine cannot matter.
    pub(crate) fn place(&self, p: AttackPoint) -> V2 {
        let fix = |v: f64| (v * 1e6).round() / 1e6;
        v2(fix(p.x), fix(if self.left { -p.y } else { p.y }))
    }

    pub(crate) fn hand(&self) -> &'static str {
        if self.left { "left" } else { "right" }
    }
}

/// A step of an option made ready to be played.
pub(crate) struct Order<'a> {
    pub(crate) graph: &'a Graph,
    pub(crate) node: NodeIx,
    /// The node to come with the refill on the way, where known.
    pub(crate) next: Option<&'a (NodeIx, Option<Vec<RoleIx>>)>,
    pub(crate) cast: &'a Cast,
    /// Factor on nominal durations.
    pub(crate) tempo: f64,
    /// When the run began; cues before do not count.
    pub(crate) since: f64,
    /// Whether the steps' mistakes are those of a game (walk-throughs have few).
    pub(crate) live: bool,
}

impl Order<'_> {
    fn shift(&self, sim: &Sim<'_>, node: NodeIx, role: RoleIx) -> V2 {
        shift(sim, self.graph, node, role)
    }

    /// Reference path of a role between two frames, as people will run it, court frame.
    fn path(
        &self,
        sim: &mut Sim<'_>,
        role: RoleIx,
        from: usize,
        to: usize,
        end_off: V2,
    ) -> Vec<V2> {
        let node = &self.graph.nodes[self.node];
        let frames = &node.motion.roles[role];
        let last = frames.len() - 1;
        let (from, to) = (from.min(last), to.min(last));
        let mut ix: Vec<usize> = (from..to).step_by(3).skip(1).collect();
        ix.push(to);
        let now = self.shift(sim, self.node, role);
        let then = match self.next {
            Some((n, refill)) if node.last => {
                let becomes = |r: &Vec<RoleIx>| r.iter().position(|old| *old == role);
                let role = refill.as_ref().map_or(Some(role), becomes).unwrap_or(role);
                self.shift(sim, *n, role)
            }
            _ => now,
        };
        let mut declared: Vec<V2> = ix
            .iter()
            .map(|&k| {
                let s = k as f64 / last.max(1) as f64;
                let p = frames[k];
                let d = now.lerp(then, s);
                self.cast.place(AttackPoint::new(p.x + d.x, p.y + d.y))
            })
            .collect();
        // The path bows to one side and ends where this player on this day ends.
        let first = self.cast.place(frames[from]);
        let way = path_len(&declared) + first.dist(declared[0]);
        let bow = sim.rng.around(0.0, sim.set.paths.bow) * way;
        let across = (declared[declared.len() - 1] - first).unit().left();
        let n = declared.len() as f64;
        for (k, p) in declared.iter_mut().enumerate() {
            let s = (k + 1) as f64 / n;
            *p += end_off * s + across * (bow * 4.0 * s * (1.0 - s));
        }
        declared.into_iter().map(|p| sim.to_court(p)).collect()
    }

    /// The step's tasks, in the order in which they begin.
    pub(crate) fn step(&self, sim: &mut Sim<'_>) -> Step {
        let node = &self.graph.nodes[self.node];
        let mut order: Vec<usize> = (0..node.actions.len()).collect();
        order.sort_by_key(|&a| (node.actions[a].from, a));
        let mut tasks = Vec::new();
        let mut moved = vec![false; self.graph.roles.len()];
        for a in order {
            let action = &node.actions[a];
            let role = action.role;
            let player = self.cast.players[role];
            let nominal = (action.to.saturating_sub(action.from) as f64 / RATE_HZ).max(0.3);
            let within = 1.0 + sim.rng.around(0.0, sim.set.timing.tempo_within);
            let secs = nominal * self.tempo * within;
            let act = self.act(sim, a, secs);
            moved[role] |= !matches!(act, Act::Pass { .. } | Act::HandOff { .. } | Act::Hold);
            let (start, manner) = match &action.cue {
                Some(cue) => self.cued(sim, action.from, cue, player),
                None => {
                    let at = action.from as f64 / RATE_HZ * self.tempo;
                    // Nobody starts on the dot.
                    let own = sim.rng.range(0.0, 0.22) + sim.rng.around(0.0, 0.05).abs();
                    (Start::At(at + own), Manner::After(0.0))
                }
            };
            let mut task = Task::new(player, act, start);
            task.manner = manner;
            task.action = Some(a);
            tasks.push(task);
        }
        // Those who are only drawn somewhere else by the reference go there too.
        for (role, moved) in moved.into_iter().enumerate() {
            let frames = &node.motion.roles[role];
            let ends = (frames[0], frames[frames.len() - 1]);
            if moved || ends.0.distance(ends.1) < 0.6 {
                continue;
            }
            let off = self.end_off(sim, role);
            let path = self.path(sim, role, 0, frames.len() - 1, off);
            let secs = node.motion.duration_s() * self.tempo;
            let act = Act::Move {
                path,
                secs,
                jab: false,
                off: None,
            };
            let at = sim.rng.range(0.05, 0.4);
            tasks.push(Task::new(self.cast.players[role], act, Start::At(at)));
        }
        Step {
            tasks,
            secs: node.motion.duration_s() * self.tempo,
            from_s: 0.0,
        }
    }

    fn end_off(&self, sim: &mut Sim<'_>, role: RoleIx) -> V2 {
        let bias = sim.builds[self.cast.players[role]].bias;
        let bias = if self.cast.left {
            v2(bias.x, -bias.y)
        } else {
            bias
        };
        let sd = sim.set.paths.end_m;
        bias + v2(sim.rng.around(0.0, sd), sim.rng.around(0.0, sd))
    }

    fn act(&self, sim: &mut Sim<'_>, a: usize, secs: f64) -> Act {
        let node = &self.graph.nodes[self.node];
        let action = &node.actions[a];
        let role = action.role;
        let who = |r: RoleIx| self.cast.players[r];
        let end = self.end_off(sim, role);
        match &action.kind {
            ActionKind::Pass { to, kind } => {
                let arc = match kind {
                    PassKind::Any => None,
                    PassKind::Chest | PassKind::Skip => Some(Arc::Chest),
                    PassKind::Bounce => Some(Arc::Bounce),
                    PassKind::Lob => Some(Arc::Lob),
                };
                // As open as the reference has him at the release, and a stride more.
                let frames = &node.motion.roles[*to];
                let from = action.from.min(frames.len() - 1);
                let left: f64 = frames[from..].windows(2).map(|w| w[0].distance(w[1])).sum();
                let thief = sim
                    .man
                    .iter()
                    .find(|(_, m)| *m == who(*to))
                    .map(|(d, _)| *d)
                    .filter(|_| sim.guard != crate::sim::Guard::Off);
                let stolen = self.live && sim.rng.chance(sim.set.ball.stolen);
                Act::Pass {
                    to: who(*to),
                    arc,
                    slack: left + 0.7,
                    stolen_by: thief.filter(|_| stolen),
                }
            }
            ActionKind::HandOff { to } => Act::HandOff { to: who(*to) },
            ActionKind::Dribble { .. } => {
                let path = self.path(sim, role, action.from, action.to, end * 0.7);
                Act::Dribble { path, secs }
            }
            ActionKind::Screen { user, .. } => {
                let mut off = end * 0.5;
                if self.live && sim.rng.chance(sim.set.paths.off_place) {
                    let (low, high) = sim.set.paths.off_place_m;
                    // Short of the place: out towards where the screener came from, or wide.
                    let frames = &node.motion.roles[role];
                    let at = frames[action.to.min(frames.len() - 1)];
                    let wide = v2(0.25, if at.y < 0.0 { -1.0 } else { 1.0 }).unit();
                    let wide = if self.cast.left {
                        v2(wide.x, -wide.y)
                    } else {
                        wide
                    };
                    off = wide * sim.rng.range(low, high);
                }
                let path = self.path(sim, role, action.from, action.to, off);
                Act::Screen {
                    user: who(*user),
                    path,
                    secs,
                }
            }
            ActionKind::Cut { kind, off, .. } => {
                let path = self.path(sim, role, action.from, action.to, end);
                let jab =
                    self.live && *kind == CutKind::BackCut && sim.rng.chance(sim.set.timing.jabs);
                Act::Move {
                    path,
                    secs,
                    jab,
                    off: off.map(who),
                }
            }
            ActionKind::Leave { .. } | ActionKind::Post { .. } => {
                let path = self.path(sim, role, action.from, action.to, end * 0.7);
                Act::Move {
                    path,
                    secs,
                    jab: false,
                    off: None,
                }
            }
            ActionKind::Hold | ActionKind::Shot => Act::Hold,
        }
    }

    fn cued(&self, sim: &mut Sim<'_>, from: usize, cue: &Cue, player: usize) -> (Start, Manner) {
        let giver = self.cast.players[cue.role];
        let on = match &cue.event {
            CueEvent::Passes => CueOn::Event(Ev::Passes),
            CueEvent::Catches => CueOn::Event(Ev::Catches),
            CueEvent::Dribbles => CueOn::Event(Ev::Dribbles),
            CueEvent::Screens => CueOn::Event(Ev::Screens),
            CueEvent::HandsOff => CueOn::Event(Ev::HandsOff),
            CueEvent::Cuts => CueOn::Event(Ev::Cuts),
            CueEvent::Reaches { place, .. } => {
                let p = self.cast.place(*place);
                CueOn::Reaches(sim.to_court(p))
            }
        };
        let here = self.graph.nodes[self.node]
            .actions
            .iter()
            .any(|a| gives(a.role, &a.kind, cue));
        let since = if here { sim.now() } else { self.since };
        let nominal = from as f64 / RATE_HZ * self.tempo;
        let start = Start::Cue {
            player: giver,
            on,
            since,
            fallback: nominal + 3.0,
        };
        let t = &sim.set.timing;
        let habit = sim
            .set
            .habits
            .iter()
            .find(|h| h.player == sim.players[player].id);
        let (late, late_by, early) = habit.map_or((t.late, t.late_by_s, t.early), |h| {
            (h.late, h.late_by_s, h.early)
        });
        let react = sim.rng.around(t.reaction_s, t.reaction_sd_s).max(0.16);
        // A window that opens later is waited for.
        let react = if cue.from_s + 0.05 > react {
            cue.from_s + sim.rng.range(0.1, 0.6) * (cue.to_s - cue.from_s)
        } else {
            react
        };
        let u = sim.rng.unit();
        let manner = if !self.live || u >= late + early + t.never {
            Manner::After(react)
        } else if u < late {
            Manner::After(react + sim.rng.range(late_by.0, late_by.1))
        } else if u < late + early {
            Manner::Early(sim.rng.range(0.02, 0.22))
        } else {
            Manner::Never
        };
        (start, manner)
    }
}

/// How far a role has drifted from its declared place in the option of a node, as declared.
pub(crate) fn shift(sim: &Sim<'_>, graph: &Graph, node: NodeIx, role: RoleIx) -> V2 {
    let id = &graph.options[graph.nodes[node].option].id;
    sim.set
        .drifts
        .iter()
        .filter(|d| d.option == *id && d.role == graph.roles[role])
        .fold(V2::default(), |s, d| s + v2(d.out_m, d.right_m))
}

fn gives(role: RoleIx, kind: &ActionKind, cue: &Cue) -> bool {
    match (&cue.event, kind) {
        (CueEvent::Passes, ActionKind::Pass { .. })
        | (CueEvent::Dribbles, ActionKind::Dribble { .. })
        | (CueEvent::Screens, ActionKind::Screen { .. })
        | (CueEvent::HandsOff, ActionKind::HandOff { .. })
        | (CueEvent::Cuts, ActionKind::Cut { .. } | ActionKind::Leave { .. }) => role == cue.role,
        (CueEvent::Catches, ActionKind::Pass { to, .. } | ActionKind::HandOff { to }) => {
            *to == cue.role
        }
        (CueEvent::Reaches { .. }, k) => {
            role == cue.role && !matches!(k, ActionKind::Pass { .. } | ActionKind::HandOff { .. })
        }
        _ => false,
    }
}

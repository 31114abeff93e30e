//! What players make up: five patterns of their own, and plain scrambling.

use crate::sim::{Ev, Guard, Sim};
use crate::tasks::{Act, CueOn, Manner, Start, Step, StepEnd, Task};
use crate::truth::{Did, Span};
use crate::vec2::{V2, v2};
use serde::{Deserialize, Serialize};
use setdrift_court::spot;

/// A pattern that is in no playbook.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Improvisation {
    /// From the wing: pass to the slot, cut to the basket, get it back.
    GiveAndGo,
    /// A screen on the ball above the top, drive to the far side, roll.
    HighBallScreen,
    /// Ball to the post, passer screens for the next, who cuts over it.
    PostSplit,
    /// All others clear to the far side; drive from the wing.
    ClearOut,
    /// Drive along the end line; far-side player drifts to his corner for the pass.
    BaselineDrift,
}

impl Improvisation {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::GiveAndGo,
        Self::HighBallScreen,
        Self::PostSplit,
        Self::ClearOut,
        Self::BaselineDrift,
    ];

    /// Name in the truth file.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::GiveAndGo => "give-and-go",
            Self::HighBallScreen => "high-ball-screen",
            Self::PostSplit => "post-split",
            Self::ClearOut => "clear-out",
            Self::BaselineDrift => "baseline-drift",
        }
    }
}

/// Plans one improvisation in the attack frame, right-handed; `side` −1 mirrors it.
struct Plan<'s, 'a> {
    sim: &'s mut Sim<'a>,
    side: f64,
    free: Vec<usize>,
    tempo: f64,
}

impl Plan<'_, '_> {
    /// A place with a person's inaccuracy, court frame.
    fn at(&mut self, x: f64, y: f64) -> V2 {
        let sd = self.sim.set.paths.end_m;
        let p = v2(
            (x + self.sim.rng.around(0.0, sd)).max(0.3),
            (y + self.sim.rng.around(0.0, sd)) * self.side,
        );
        self.sim.to_court(p)
    }

    fn spot(&mut self, name: &str) -> V2 {
        let p = spot(self.sim.court, name).map_or(v2(6.0, 0.0), |(_, p)| v2(p.x, p.y));
        self.at(p.x, p.y)
    }

    /// The nearest of those not cast yet to a place.
    fn pick(&mut self, x: f64, y: f64) -> usize {
        let p = self.sim.to_court(v2(x, y * self.side));
        let k = (0..self.free.len())
            .min_by(|a, b| {
                let d = |i: usize| self.sim.pos(self.free[i]).dist(p);
                d(*a).total_cmp(&d(*b))
            })
            .unwrap_or(0);
        self.free.remove(k)
    }

    fn pick_spot(&mut self, name: &str) -> usize {
        let p = spot(self.sim.court, name).map_or(v2(6.0, 0.0), |(_, p)| v2(p.x, p.y));
        self.pick(p.x, p.y)
    }

    fn run(&mut self, player: usize, path: Vec<V2>, secs: f64, after: f64) -> Task {
        let at = after * self.tempo + self.sim.rng.range(0.0, 0.3);
        let act = Act::Move {
            path,
            secs: secs * self.tempo,
            jab: false,
            off: None,
        };
        Task::new(player, act, Start::At(at))
    }

    /// Begins a fresh movement on a cue within the step.
    fn on(&mut self, act: Act, player: usize, giver: usize, ev: Ev) -> Task {
        let t = &self.sim.set.timing;
        let lag = self.sim.rng.around(t.reaction_s, t.reaction_sd_s).max(0.16);
        let start = Start::Cue {
            player: giver,
            on: CueOn::Event(ev),
            since: self.sim.now(),
            fallback: 4.0,
        };
        let mut task = Task::new(player, act, start);
        task.manner = Manner::After(lag);
        task
    }

    fn dribble(&self, player: usize, path: Vec<V2>, secs: f64, after: f64) -> Task {
        let secs = secs * self.tempo;
        Task::new(player, Act::Dribble { path, secs }, Start::At(after))
    }

    fn pass(from: usize, to: usize, slack: f64, after: f64) -> Task {
        let act = Act::Pass {
            to,
            arc: None,
            slack,
            stolen_by: None,
        };
        Task::new(from, act, Start::At(after))
    }

    fn step(&self, secs: f64, tasks: Vec<Task>) -> Step {
        Step {
            tasks,
            secs: secs * self.tempo,
            from_s: 0.0,
        }
    }

    /// The rest spread on the far side.
    fn far_side(&mut self, names: &[&str], secs: f64) -> Vec<Task> {
        let mut tasks = Vec::new();
        for name in names {
            if self.free.is_empty() {
                break;
            }
            let who = self.pick_spot(name);
            let to = self.spot(name);
            tasks.push(self.run(who, vec![to], secs, 0.0));
        }
        tasks
    }

    fn steps(&mut self, kind: Improvisation, h: usize) -> (Vec<Step>, Vec<usize>) {
        match kind {
            Improvisation::GiveAndGo => {
                let x = self.pick_spot("right slot");
                let (wing, slot) = (self.spot("right wing"), self.spot("right slot"));
                let mut one = vec![self.dribble(h, vec![wing], 1.8, 0.0)];
                one.push(self.run(x, vec![slot], 1.6, 0.0));
                one.extend(self.far_side(&["left slot", "left corner", "left dunker spot"], 1.8));
                let cut = vec![self.at(4.6, 3.6), self.at(2.3, 1.0)];
                let secs = 1.5 * self.tempo;
                let give = Self::pass(h, x, 0.6, 0.1);
                let act = Act::Move {
                    path: cut,
                    secs,
                    jab: false,
                    off: None,
                };
                let go = self.on(act, h, h, Ev::Passes);
                let mut back = Self::pass(x, h, 1.6, 0.0);
                back.start = Start::Cue {
                    player: h,
                    on: CueOn::Event(Ev::Cuts),
                    since: self.sim.now(),
                    fallback: 4.0,
                };
                back.manner = Manner::After(0.5 * self.tempo);
                let two = self.step(2.4, vec![give, go, back]);
                (vec![self.step(1.8, one), two], vec![h, x])
            }
            Improvisation::HighBallScreen => {
                let q = self.pick(5.8, 0.0);
                let (start, place) = (self.at(9.2, 1.6), self.at(8.1, 0.3));
                let mut tasks = vec![self.dribble(h, vec![start], 1.4, 0.0)];
                let act = Act::Screen {
                    user: h,
                    path: vec![place],
                    secs: 1.5 * self.tempo,
                };
                tasks.push(Task::new(q, act, Start::At(0.2)));
                tasks.extend(self.far_side(&["right corner", "left corner", "right wing"], 1.8));
                let path = vec![self.at(8.3, -0.9), self.at(5.0, -2.8)];
                let secs = 1.5 * self.tempo;
                tasks.push(self.on(Act::Dribble { path, secs }, h, q, Ev::Screens));
                let roll = vec![self.at(2.4, 0.6)];
                let secs = 1.6 * self.tempo;
                let act = Act::Move {
                    path: roll,
                    secs,
                    jab: false,
                    off: None,
                };
                tasks.push(self.on(act, q, q, Ev::Screens));
                (vec![self.step(4.2, tasks)], vec![h, q])
            }
            Improvisation::PostSplit => {
                let p = self.pick_spot("right block");
                let n = self.pick_spot("right slot");
                let (post, wing, slot) = (
                    self.at(3.2, 2.9),
                    self.spot("right wing"),
                    self.spot("right slot"),
                );
                let mut one = vec![self.dribble(h, vec![wing], 1.7, 0.0)];
                one.push(self.run(p, vec![post], 1.6, 0.0));
                one.push(self.run(n, vec![slot], 1.5, 0.0));
                one.extend(self.far_side(&["left slot", "left corner"], 1.6));
                let feed = Self::pass(h, p, 0.5, 0.2);
                let act = Act::Screen {
                    user: n,
                    path: vec![self.at(5.9, 4.3)],
                    secs: 1.2 * self.tempo,
                };
                let screen = self.on(act, h, h, Ev::Passes);
                let path = vec![self.at(5.5, 4.8), self.at(2.0, 4.2), self.at(1.4, 1.2)];
                let secs = 2.2 * self.tempo;
                let act = Act::Move {
                    path,
                    secs,
                    jab: false,
                    off: Some(h),
                };
                let cut = self.on(act, n, h, Ev::Screens);
                let path = vec![self.at(7.8, 2.0)];
                let secs = 1.4 * self.tempo;
                let act = Act::Move {
                    path,
                    secs,
                    jab: false,
                    off: None,
                };
                let pop = self.on(act, h, h, Ev::Screens);
                let two = self.step(4.0, vec![feed, screen, cut, pop]);
                (vec![self.step(1.8, one), two], vec![h, p, n])
            }
            Improvisation::ClearOut => {
                let wing = self.at(5.6, 6.0);
                let mut one = vec![self.dribble(h, vec![wing], 1.7, 0.0)];
                one.extend(self.far_side(
                    &["left slot", "left wing", "left corner", "left dunker spot"],
                    2.0,
                ));
                let drive = vec![self.at(4.3, 3.6), self.at(2.2, 1.2)];
                let two = vec![self.dribble(h, drive, 1.5, 0.9)];
                (vec![self.step(2.2, one), self.step(2.4, two)], vec![h])
            }
            Improvisation::BaselineDrift => {
                let c = self.pick_spot("left wing");
                let (start, wing) = (self.at(3.9, 6.6), self.at(4.2, -6.3));
                let mut one = vec![self.dribble(h, vec![start], 1.7, 0.0)];
                one.push(self.run(c, vec![wing], 1.7, 0.0));
                one.extend(self.far_side(&["right slot", "left slot", "left block"], 1.8));
                let drive = vec![self.at(1.2, 5.0), self.at(0.9, 2.6)];
                let go = self.dribble(h, drive, 1.5, 0.2);
                let path = vec![self.at(1.2, -7.0)];
                let secs = 1.5 * self.tempo;
                let act = Act::Move {
                    path,
                    secs,
                    jab: false,
                    off: None,
                };
                let drift = self.on(act, c, h, Ev::Dribbles);
                let kick = Self::pass(h, c, 0.9, 0.6);
                (
                    vec![self.step(1.9, one), self.step(2.6, vec![go, drift, kick])],
                    vec![h, c],
                )
            }
        }
    }

    /// A few seconds without a plan.
    fn scramble(&mut self, h: usize) -> Vec<Step> {
        let mut steps = Vec::new();
        let mut with = h;
        for _ in 0..2 + self.sim.rng.below(2) {
            let mut tasks = Vec::new();
            for p in self.free.clone().into_iter().chain([h]) {
                if p != with && self.sim.rng.chance(0.7) {
                    let x = self.sim.rng.range(1.5, 9.0);
                    let y = self.sim.rng.range(-6.5, 6.5);
                    let to = self.at(x, y);
                    let secs = self.sim.rng.range(1.2, 2.5);
                    let after = self.sim.rng.range(0.0, 0.8);
                    tasks.push(self.run(p, vec![to], secs, after));
                }
            }
            let others: Vec<usize> = self.free.iter().copied().chain([h]).collect();
            let to = others[self.sim.rng.below(others.len())];
            if self.sim.rng.chance(0.5) && self.sim.picked_up != Some(with) {
                let x = self.sim.rng.range(3.0, 8.5);
                let y = self.sim.rng.range(-5.5, 5.5);
                let p = self.at(x, y);
                tasks.push(self.dribble(with, vec![p], 1.6, 0.1));
            }
            if to != with {
                tasks.push(Self::pass(with, to, 2.0, 0.8));
                with = to;
            }
            steps.push(self.step(2.2, tasks));
        }
        steps
    }
}

/// Plays an improvisation (or scrambles, for `None`) from wherever the players are, and writes
/// it into the truth.
pub(crate) fn improvise(
    sim: &mut Sim<'_>,
    kind: Option<Improvisation>,
    possession: usize,
) -> StepEnd {
    let Some(h) = sim.ball.holder() else {
        return StepEnd::Failed;
    };
    let from_s = sim.now();
    if sim.guard != Guard::Off {
        sim.guard = Guard::Set;
    }
    // Played to the side on which the ball is.
    let y = sim.to_attack(sim.pos(h)).y;
    let right = if y.abs() > 1.0 {
        y > 0.0
    } else {
        sim.rng.chance(0.5)
    };
    let tempo = sim.rng.range(0.9, 1.2);
    let free: Vec<usize> = sim
        .five(sim.offence)
        .into_iter()
        .filter(|p| *p != h)
        .collect();
    // A picked-up ball has to be passed before anything with a dribble can be played.
    if sim.picked_up == Some(h) {
        sim.picked_up = None;
    }
    let mut plan = Plan {
        sim,
        side: if right { 1.0 } else { -1.0 },
        free,
        tempo,
    };
    let (steps, players) = match kind {
        Some(k) => plan.steps(k, h),
        None => (plan.scramble(h), vec![h]),
    };
    let mut end = StepEnd::Done;
    for mut step in steps {
        end = step.play(sim, None);
        if end != StepEnd::Done {
            break;
        }
    }
    sim.clear_screens();
    sim.truth.spans.push(Span {
        from_s,
        to_s: sim.now(),
        possession,
        what: Did::OffScript {
            name: kind.map_or("scramble", Improvisation::name).to_owned(),
            hand: if right { "right" } else { "left" }.to_owned(),
            players,
        },
    });
    end
}

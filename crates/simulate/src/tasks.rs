//! What players set out to do in a step, and how it goes.

use crate::ball::{Arc, Hold};
use crate::body::Intent;
use crate::sim::{Ev, Sim};
use crate::vec2::{V2, path_len, v2};

/// What a task waits for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum CueOn {
    Event(Ev),
    /// Court-frame place.
    Reaches(V2),
}

/// When a task may begin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Start {
    /// Seconds after the step's start.
    At(f64),
    /// On another's doing.
    Cue {
        player: usize,
        on: CueOn,
        /// Events before this time do not count.
        since: f64,
        /// Begin at this time after the step's start if the cue has not come.
        fallback: f64,
    },
}

/// How a player answers a cue.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Manner {
    /// So long after it, seconds.
    After(f64),
    /// On seeing it come, so long after that, seconds.
    Early(f64),
    /// Not at all.
    Never,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Act {
    Move {
        path: Vec<V2>,
        secs: f64,
        jab: bool,
        /// Waits for this screener to stand.
        off: Option<usize>,
    },
    Dribble {
        path: Vec<V2>,
        secs: f64,
    },
    Pass {
        to: usize,
        arc: Option<Arc>,
        /// The receiver may have so much way left at the release, metres.
        slack: f64,
        /// The defender who gets it instead.
        stolen_by: Option<usize>,
    },
    HandOff {
        to: usize,
    },
    Screen {
        user: usize,
        path: Vec<V2>,
        secs: f64,
    },
    Hold,
}

impl Act {
    fn on_ball(&self) -> bool {
        matches!(
            self,
            Self::Pass { .. } | Self::HandOff { .. } | Self::Dribble { .. }
        )
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum State {
    Waiting,
    Due(f64),
    Jabbing(f64),
    Running(f64),
    Done,
    Skipped,
}

/// A task with its course.
#[derive(Debug, Clone)]
pub(crate) struct Task {
    pub(crate) player: usize,
    /// Node action it comes from: index in the node.
    pub(crate) action: Option<usize>,
    pub(crate) act: Act,
    pub(crate) start: Start,
    pub(crate) manner: Manner,
    state: State,
    announced: bool,
    ready_at: Option<f64>,
    last_try: f64,
    pub(crate) cue_s: Option<f64>,
    pub(crate) onset_s: Option<f64>,
    pub(crate) jab_s: Option<f64>,
    pub(crate) moving: bool,
    pub(crate) done_s: Option<f64>,
    /// Court-frame place when done.
    pub(crate) place: Option<V2>,
}

impl Task {
    pub(crate) fn new(player: usize, act: Act, start: Start) -> Self {
        Self {
            player,
            action: None,
            act,
            start,
            manner: Manner::After(0.0),
            state: State::Waiting,
            announced: false,
            ready_at: None,
            last_try: 0.0,
            cue_s: None,
            onset_s: None,
            jab_s: None,
            moving: false,
            done_s: None,
            place: None,
        }
    }

    /// Whether the player decided not to go.
    pub(crate) fn left_out(&self) -> bool {
        self.state == State::Skipped
    }

    /// Whether it is a screen that has been set and not been left.
    fn stands(&self) -> bool {
        matches!(self.act, Act::Screen { .. })
            && matches!(self.state, State::Running(_))
            && self.done_s.is_some()
    }

    fn over(&self) -> bool {
        matches!(self.state, State::Done | State::Skipped)
    }

    /// What others would see coming.
    fn event(&self) -> Ev {
        match self.act {
            Act::Pass { .. } => Ev::Passes,
            Act::HandOff { .. } => Ev::HandsOff,
            Act::Dribble { .. } => Ev::Dribbles,
            Act::Screen { .. } => Ev::Screens,
            Act::Move { .. } | Act::Hold => Ev::Cuts,
        }
    }
}

/// How a step ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum StepEnd {
    Done,
    /// Stopped on purpose before it was done.
    Broken,
    /// It could not be done.
    Failed,
    /// An opponent has the ball.
    Stolen(usize),
}

/// A step under way.
pub(crate) struct Step {
    pub(crate) tasks: Vec<Task>,
    /// Expected length, seconds.
    pub(crate) secs: f64,
    pub(crate) from_s: f64,
}

/// Before this long before it happens, a player shows what he is about to do, seconds.
const SHOWS: f64 = 0.45;
/// Within reach for a hand-off, metres.
const REACH: f64 = 0.85;

impl Step {
    /// Plays the step, up to `break_at` seconds if given.
    pub(crate) fn play(&mut self, sim: &mut Sim<'_>, break_at: Option<f64>) -> StepEnd {
        self.from_s = sim.now();
        loop {
            for i in 0..self.tasks.len() {
                self.advance(sim, i);
            }
            sim.tick();
            let t = sim.now() - self.from_s;
            let holder = sim.ball.holder();
            if let Some(h) = holder.filter(|&h| sim.players[h].team != sim.offence) {
                return StepEnd::Stolen(h);
            }
            let open_ball = self.tasks.iter().any(|k| k.act.on_ball() && !k.over());
            let quiet = !open_ball && !sim.passing();
            if quiet && self.tasks.iter().all(|k| k.over() || k.stands()) {
                return StepEnd::Done;
            }
            // Nobody waits for stragglers for ever, and for a screen a little longer.
            let coming = self.tasks.iter().any(|k| {
                matches!((&k.act, k.state), (Act::Screen { .. }, State::Running(_))) && !k.stands()
            });
            if quiet && t > self.secs + if coming { 2.5 } else { 1.2 } {
                return StepEnd::Done;
            }
            if t > self.secs * 1.5 + 6.0 && !sim.passing() {
                return StepEnd::Failed;
            }
            if let Some(b) = break_at
                && t >= b
                && holder.is_some()
            {
                return StepEnd::Broken;
            }
        }
    }

    /// Screens that still stand when the step ends go on into the next.
    pub(crate) fn standing(&self) -> Vec<Task> {
        let stand = self.tasks.iter().filter(|k| k.stands()).cloned();
        stand.map(|k| Task { action: None, ..k }).collect()
    }

    /// Whether a task of `player` before task `i` still keeps him busy.
    fn busy(&self, sim: &Sim<'_>, i: usize) -> bool {
        let me = &self.tasks[i];
        self.tasks[..i].iter().any(|k| {
            if k.player != me.player || k.over() {
                return false;
            }
            match (k.state, &k.act) {
                (State::Running(_), Act::Move { .. } | Act::Dribble { .. }) => {
                    sim.body(k.player).remaining() > 0.9
                }
                _ => true,
            }
        })
    }

    fn cue_time(&self, sim: &Sim<'_>, player: usize, on: CueOn, since: f64) -> Option<f64> {
        match on {
            CueOn::Event(ev) => sim
                .log
                .iter()
                .find(|h| h.player == player && h.ev == ev && !h.intent && h.t >= since - 1e-9)
                .map(|h| h.t),
            CueOn::Reaches(p) => (sim.pos(player).dist(p) < 0.75).then(|| sim.now()),
        }
    }

    fn cue_intent(&self, sim: &Sim<'_>, player: usize, on: CueOn, since: f64) -> Option<f64> {
        match on {
            CueOn::Event(ev) => sim
                .log
                .iter()
                .find(|h| h.player == player && h.ev == ev && h.intent && h.t >= since - 1e-9)
                .map(|h| h.t),
            CueOn::Reaches(p) => (sim.pos(player).dist(p) < 2.4
                && sim.body(player).vel.len() > 1.0)
                .then(|| sim.now()),
        }
    }

    fn advance(&mut self, sim: &mut Sim<'_>, i: usize) {
        let now = sim.now();
        if let Start::Cue {
            player, on, since, ..
        } = self.tasks[i].start
            && self.tasks[i].cue_s.is_none()
        {
            self.tasks[i].cue_s = self.cue_time(sim, player, on, since);
        }
        match self.tasks[i].state {
            State::Waiting => {
                if let Some(due) = self.due(sim, i) {
                    let k = &mut self.tasks[i];
                    k.state = if k.manner == Manner::Never {
                        State::Skipped
                    } else {
                        State::Due(due.max(now))
                    };
                }
            }
            State::Due(at) => {
                if now >= at - SHOWS && !self.tasks[i].announced {
                    self.tasks[i].announced = true;
                    sim.happen(self.tasks[i].player, self.tasks[i].event(), true);
                }
                if now >= at && !self.busy(sim, i) {
                    self.begin(sim, i, at);
                }
            }
            State::Jabbing(until) => self.jab(sim, i, until),
            State::Running(since) => self.run(sim, i, since),
            State::Done | State::Skipped => {}
        }
    }

    fn due(&self, sim: &Sim<'_>, i: usize) -> Option<f64> {
        let k = &self.tasks[i];
        match k.start {
            Start::At(after) => Some(self.from_s + after),
            Start::Cue {
                player,
                on,
                since,
                fallback,
            } => {
                let late = sim.now() >= self.from_s + fallback;
                match k.manner {
                    Manner::Early(after) => {
                        let seen = self.cue_intent(sim, player, on, since);
                        // A cue that was over before it could be seen coming is answered late.
                        seen.or(k.cue_s).map(|t| t + after)
                    }
                    // The jab takes its time, and is begun so that the cut is not late for it.
                    Manner::After(lag) if matches!(k.act, Act::Move { jab: true, .. }) => {
                        k.cue_s.map(|t| t + (lag - 0.35).max(0.03))
                    }
                    Manner::After(lag) => k.cue_s.map(|t| t + lag),
                    Manner::Never => k.cue_s,
                }
                .or_else(|| late.then(|| sim.now()))
            }
        }
    }

    fn begin(&mut self, sim: &mut Sim<'_>, i: usize, due: f64) {
        let now = sim.now();
        let player = self.tasks[i].player;
        match self.tasks[i].act.clone() {
            Act::Move {
                path,
                secs,
                jab,
                off,
            } => {
                if let Some(s) = off
                    && matches!(self.tasks[i].start, Start::At(_))
                    && now < due + 1.6
                    && self.screen_coming(sim, s)
                {
                    return;
                }
                let k = &mut self.tasks[i];
                k.moving = sim.body(player).vel.len() > 0.7;
                if jab && !k.moving {
                    let b = sim.body_mut(player);
                    let away = (b.pos - path[path.len().min(2) - 1]).unit();
                    let to = b.pos + away * 0.45;
                    b.go(vec![to], 1.5);
                    k.jab_s = Some(now);
                    k.state = State::Jabbing(now + 0.32);
                    return;
                }
                k.onset_s = Some(now);
                k.state = State::Running(now);
                sim.happen(player, Ev::Cuts, false);
                let path = self.through_screen(sim, i, path, off);
                go(sim, player, path, secs);
            }
            Act::Screen { path, secs, .. } => {
                let k = &mut self.tasks[i];
                k.moving = sim.body(player).vel.len() > 0.7;
                k.onset_s = Some(now);
                k.state = State::Running(now);
                go(sim, player, path, secs);
            }
            Act::Dribble { path, secs } => {
                if sim.ball.holder() != Some(player) {
                    return;
                }
                let k = &mut self.tasks[i];
                k.moving = sim.body(player).vel.len() > 0.7;
                k.onset_s = Some(now);
                k.state = State::Running(now);
                sim.start_dribble(player);
                go(sim, player, path, secs);
            }
            Act::Pass {
                to,
                arc,
                slack,
                stolen_by,
            } => {
                if sim.ball.holder() != Some(player) {
                    return;
                }
                let waited = now - due.max(self.from_s);
                let clear = sim.pos(player).dist(sim.pos(to)) > 1.6 || waited > 1.5;
                let open = self.way_left(sim, to) <= slack || waited > 2.5;
                if !(clear && open) {
                    return;
                }
                let ready = match self.tasks[i].ready_at {
                    Some(t) => t,
                    None => {
                        // Seeing him open takes a moment, unless it was seen coming.
                        let look = if waited < 0.02 {
                            0.0
                        } else {
                            sim.rng.range(0.1, 0.35)
                        };
                        self.tasks[i].ready_at = Some(now + look);
                        now + look
                    }
                };
                if now < ready {
                    return;
                }
                sim.start_pass(player, stolen_by.unwrap_or(to), arc, false);
                let k = &mut self.tasks[i];
                k.onset_s = Some(now);
                k.state = State::Running(now);
            }
            Act::HandOff { .. } => {
                if sim.ball.holder() == Some(player) {
                    self.tasks[i].state = State::Running(now);
                }
            }
            Act::Hold => {
                let k = &mut self.tasks[i];
                k.state = State::Done;
                k.done_s = Some(now);
                k.place = Some(sim.pos(player));
            }
        }
    }

    fn screen_coming(&self, sim: &Sim<'_>, screener: usize) -> bool {
        self.tasks.iter().any(|k| {
            k.player == screener
                && match (&k.act, k.state) {
                    (Act::Screen { .. }, State::Waiting | State::Due(_)) => true,
                    (Act::Screen { .. }, State::Running(_)) => sim.body(screener).remaining() > 0.9,
                    _ => false,
                }
        })
    }

    /// Bends a path so that it passes by the screener where he really stands.
    fn through_screen(
        &self,
        sim: &Sim<'_>,
        i: usize,
        mut path: Vec<V2>,
        off: Option<usize>,
    ) -> Vec<V2> {
        let Some(s) = off else { return path };
        let stand = match &sim.body(s).intent {
            Intent::Go { path, .. } => path[path.len() - 1],
            _ => sim.pos(s),
        };
        let me = sim.pos(self.tasks[i].player);
        let n = path.len();
        let near = (0..n).min_by(|a, b| path[*a].dist(stand).total_cmp(&path[*b].dist(stand)));
        if let Some(j) = near.filter(|&j| path[j].dist(stand) < 2.2) {
            // Shoulder to shoulder: as near to the screener as bodies allow.
            let from_stand = path[j] - stand;
            let side = if from_stand.len() > 0.15 {
                from_stand.unit()
            } else {
                (path[n - 1] - me).unit().left()
            };
            let touch = stand + side * 0.65;
            if j + 1 == n {
                path.insert(j, touch);
            } else {
                path[j] = touch;
            }
        }
        path
    }

    /// Way a player still has in this step, metres: what he runs and what he has yet to begin.
    fn way_left(&self, sim: &Sim<'_>, player: usize) -> f64 {
        let mut left = 0.0;
        for k in self
            .tasks
            .iter()
            .filter(|k| k.player == player && !k.over())
        {
            left += match (&k.act, k.state) {
                (Act::Move { .. } | Act::Screen { .. }, State::Running(_)) => {
                    sim.body(player).remaining()
                }
                (Act::Move { path, .. } | Act::Screen { path, .. }, _) => {
                    sim.pos(player).dist(path[0]) + path_len(path)
                }
                _ => 0.0,
            };
        }
        left
    }

    fn jab(&mut self, sim: &mut Sim<'_>, i: usize, until: f64) {
        let now = sim.now();
        if now < until {
            return;
        }
        let player = self.tasks[i].player;
        let Act::Move {
            path, secs, off, ..
        } = self.tasks[i].act.clone()
        else {
            return;
        };
        if self.tasks[i].last_try == 0.0 {
            self.tasks[i].last_try = now;
            let path = self.through_screen(sim, i, path, off);
            go(sim, player, path, secs);
            return;
        }
        let b = sim.body(player);
        let dir = match &b.intent {
            Intent::Go { path, next, .. } => (path[*next] - b.pos).unit(),
            _ => v2(0.0, 0.0),
        };
        if b.vel.dot(dir) > 0.0 {
            sim.happen(player, Ev::Cuts, false);
            let k = &mut self.tasks[i];
            k.onset_s = Some(now);
            k.state = State::Running(now);
        }
    }

    fn run(&mut self, sim: &mut Sim<'_>, i: usize, since: f64) {
        let now = sim.now();
        let player = self.tasks[i].player;
        let done = match self.tasks[i].act.clone() {
            // On his way to a hand-off he still has his own way before him.
            Act::Move { .. } | Act::Dribble { .. } => {
                let b = sim.body(player);
                !matches!(b.intent, Intent::Mark { .. }) && b.remaining() < 0.5
            }
            Act::Screen { user, .. } => return self.run_screen(sim, i, user),
            Act::Pass { .. } => !sim.passing(),
            Act::HandOff { to } => return self.run_hand_off(sim, i, to, since),
            Act::Hold => true,
        };
        if done {
            let at = match self.tasks[i].act {
                Act::Pass { to, .. } => sim.pos(to),
                _ => sim.pos(player),
            };
            let k = &mut self.tasks[i];
            k.done_s = Some(now);
            k.place = Some(at);
            k.state = State::Done;
        }
    }

    fn run_screen(&mut self, sim: &mut Sim<'_>, i: usize, user: usize) {
        let now = sim.now();
        let player = self.tasks[i].player;
        let Some(set) = self.tasks[i].done_s else {
            if matches!(sim.body(player).intent, Intent::Stand { .. })
                && sim.body(player).vel.len() < 0.5
            {
                sim.set_screen(player, user);
                self.tasks[i].done_s = Some(now);
                self.tasks[i].place = Some(sim.pos(player));
            }
            return;
        };
        let Some((nearest, gap)) = sim.came_by(player) else {
            self.tasks[i].state = State::Done;
            return;
        };
        let passed = nearest < 1.5 && gap > nearest + 0.7;
        let stood = now - set;
        if (passed && stood > 0.35) || stood > 2.6 {
            sim.leave_screen(player);
            self.tasks[i].state = State::Done;
        }
    }

    fn run_hand_off(&mut self, sim: &mut Sim<'_>, i: usize, to: usize, since: f64) {
        let now = sim.now();
        let player = self.tasks[i].player;
        let (giver, taker) = (sim.pos(player), sim.pos(to));
        let running = self.tasks.iter().position(|k| {
            k.player == to
                && matches!(k.act, Act::Move { .. })
                && matches!(k.state, State::Running(_))
        });
        let to_come = self.tasks.iter().any(|k| {
            k.player == to
                && matches!(k.act, Act::Move { .. })
                && matches!(k.state, State::Waiting | State::Due(_) | State::Jabbing(_))
        });
        if giver.dist(taker) <= REACH {
            sim.hand_off(player, to);
            let k = &mut self.tasks[i];
            k.onset_s = Some(now);
            k.done_s = Some(now);
            k.place = Some(giver);
            k.state = State::Done;
            if let Some(r) = running
                && let Act::Move { path, secs, .. } = self.tasks[r].act.clone()
            {
                // On with the rest of the way, from the point abreast of the giver.
                let near = (0..path.len())
                    .min_by(|a, b| path[*a].dist(taker).total_cmp(&path[*b].dist(taker)))
                    .unwrap_or(0);
                let rest = path[(near + 1).min(path.len() - 1)..].to_vec();
                let share = (path_len(&rest) / path_len(&path).max(0.1)).clamp(0.2, 1.0);
                go(sim, to, rest, secs * share);
            } else if !to_come {
                sim.body_mut(to).stand();
            }
            return;
        }
        if !to_come || now - since > 2.5 {
            let at = giver + (taker - giver).unit() * 0.55;
            let vel = sim.body(player).vel;
            sim.body_mut(to).intent = Intent::Mark {
                at,
                vel,
                cruise: 3.6,
            };
        }
    }
}

/// Sends a player along a path in about so many seconds.
pub(crate) fn go(sim: &mut Sim<'_>, player: usize, path: Vec<V2>, secs: f64) {
    let b = sim.body_mut(player);
    let way = b.pos.dist(path[0]) + path_len(&path);
    // Getting under way and stopping takes its share of the time.
    let cruise = (1.3 * way / secs.max(0.3)).clamp(0.9, b.build.top * 0.92);
    b.go(path, cruise);
}

/// The last moment of a dribble: the ball is held or goes on bouncing.
pub(crate) fn settle_ball(sim: &mut Sim<'_>, dribbles_next: Option<usize>) {
    if let Hold::Dribbled { by } = sim.ball.hold
        && dribbles_next != Some(by)
        && sim.rng.chance(0.6)
    {
        sim.pick_up();
    }
}

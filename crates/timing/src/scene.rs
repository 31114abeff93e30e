//! One run of an option with everything an audit of it looks at.

use crate::align::{left_at, reached_at};
use crate::cues::Start;
use crate::params::ValidParams;
use crate::trace::{Frame, Trace};
use setdrift_events::model::{BallStory, Event, EventKind, Possession};
use setdrift_playbook::graph::{Action, ActionKind, CueEvent, Graph, Node, RoleIx};
use setdrift_recognise::model::{Run, StepRun};
use setdrift_tracks::Session;
use std::cell::RefCell;
use std::collections::BTreeMap;

/// Noise per axis taken for a track too short to show its own, metres.
const NOISE_UNKNOWN: f64 = 0.25;
/// Least noise believed, metres: tracks smoothed or rounded look better than they are.
const NOISE_LEAST: f64 = 0.03;
/// How far beyond the possession tracks are looked at, seconds.
const MARGIN: f64 = 1.5;

/// A run and its surroundings.
pub struct Scene<'a> {
    /// The session.
    pub session: &'a Session,
    /// The playbook.
    pub graph: &'a Graph,
    /// Ball events of the session.
    pub story: &'a BallStory,
    /// The possession.
    pub possession: &'a Possession,
    /// The run.
    pub run: &'a Run,
    /// Index of the segment in the reading.
    pub segment: usize,
    /// Start and end of the segment, seconds.
    pub span_s: (f64, f64),
    /// From the floor to the playbook's frame.
    pub frame: Frame<'a>,
    /// One trace per role.
    pub traces: Vec<Trace>,
    /// Sample noise per role and axis, metres.
    pub noise: Vec<f64>,
    /// What of the noise wanders, per role and axis, metres.
    pub colour: Vec<f64>,
    /// Settings.
    pub params: &'a ValidParams,
    /// Starts of movements already looked for.
    starts: RefCell<BTreeMap<Asked, Start>>,
}

/// By what a start was looked for.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
pub struct Asked {
    /// Index of the step in the run.
    pub step: usize,
    /// The action, by where it stands in the graph.
    pub action: *const Action,
    /// Bits of the cue's time, where there is one.
    pub cue: Option<u64>,
    /// Bits of the moment about which, and of its standard deviation.
    pub about: (u64, u64),
}

impl<'a> Scene<'a> {
    /// The scene of a run, or `None` where the run names players, nodes or an option that are
    /// not in the session or the graph.
    #[must_use]
    pub fn new(
        session: &'a Session,
        graph: &'a Graph,
        story: &'a BallStory,
        possession: &'a Possession,
        (segment, run, span_s): (usize, &'a Run, (f64, f64)),
        (wandering, params): (&[f64], &'a ValidParams),
    ) -> Option<Self> {
        graph.options.get(run.option)?;
        if run.players.len() != graph.roles.len()
            || run
                .players
                .iter()
                .flatten()
                .any(|p| *p >= session.tracks.len())
            || run.steps.iter().any(|s| s.node >= graph.nodes.len())
        {
            return None;
        }
        let frame = Frame {
            court: &session.court,
            end: possession.end,
            hand: run.hand,
        };
        let traces: Vec<Trace> = run
            .players
            .iter()
            .map(|p| {
                let Some(p) = p else {
                    return Trace::default();
                };
                Trace::of(
                    session,
                    &session.tracks[*p],
                    frame,
                    possession.from_s - MARGIN,
                    possession.to_s + MARGIN,
                )
            })
            .collect();
        let noise = traces
            .iter()
            .map(|t| {
                t.noise(session.rate_hz)
                    .map_or(NOISE_UNKNOWN, |n| n.max(NOISE_LEAST))
            })
            .collect();
        let colour = run
            .players
            .iter()
            .map(|p| p.and_then(|p| wandering.get(p).copied()).unwrap_or(0.0))
            .collect();
        Some(Self {
            session,
            graph,
            story,
            possession,
            run,
            segment,
            span_s,
            frame,
            traces,
            noise,
            colour,
            params,
            starts: RefCell::default(),
        })
    }

    /// The start that was asked for, looked for once.
    pub fn once(&self, asked: Asked, look: impl FnOnce() -> Start) -> Start {
        let known = self.starts.borrow().get(&asked).cloned();
        known.unwrap_or_else(|| {
            let start = look();
            self.starts.borrow_mut().insert(asked, start.clone());
            start
        })
    }

    /// The node of a step of the run.
    #[must_use]
    pub fn node(&self, step: &StepRun) -> &'a Node {
        &self.graph.nodes[step.node]
    }

    /// The player in a role.
    #[must_use]
    pub fn player(&self, role: RoleIx) -> Option<usize> {
        self.run.players.get(role).copied().flatten()
    }

    /// A role's name and its player: `2 (11 Odell)`.
    #[must_use]
    pub fn who(&self, role: RoleIx) -> String {
        let name = self.graph.roles.get(role).map_or("?", String::as_str);
        match self.player(role).and_then(|p| self.session.players.get(p)) {
            Some(p) => format!("{name} ({})", p.label()),
            None => name.to_owned(),
        }
    }

    /// Standard deviation of an event's time, seconds: a frame, and the noise at the 4 m/s at
    /// which ball and hand part (common practice, no published source).
    #[must_use]
    pub fn event_sd(&self, role: RoleIx) -> f64 {
        let noise = self.noise.get(role).copied().unwrap_or(NOISE_UNKNOWN);
        (1.0 / self.session.rate_hz).hypot(noise / 4.0)
    }

    /// Standard deviation of the moment at which a player came to a stand, seconds: his noise, all of
    /// it, at the 0.9 m/s at which he still moves (errors measured against simulated games).
    #[must_use]
    pub fn stand_sd(&self, role: RoleIx) -> f64 {
        let noise = self.noise.get(role).copied().unwrap_or(NOISE_UNKNOWN);
        let colour = self.colour.get(role).copied().unwrap_or(0.0);
        (1.0 / self.session.rate_hz).hypot(noise.hypot(colour) / 0.9)
    }

    /// The actions of the run in order, with the step each belongs to.
    pub fn actions(&self) -> impl Iterator<Item = (usize, &'a StepRun, &'a Action)> + '_ {
        let run: &'a Run = self.run;
        let graph: &'a Graph = self.graph;
        run.steps
            .iter()
            .enumerate()
            .flat_map(move |(i, s)| graph.nodes[s.node].actions.iter().map(move |a| (i, s, a)))
    }

    /// The last action of a role at or before step `at` whose kind is `of`.
    pub fn last_action(
        &self,
        role: RoleIx,
        at: usize,
        of: impl Fn(&ActionKind) -> bool,
    ) -> Option<(usize, &'a StepRun, &'a Action)> {
        self.actions()
            .filter(|(i, _, a)| *i <= at && a.role == role && of(&a.kind))
            .last()
    }

    /// When, by the warping path, `role` should do `event`: from the action of the run that makes
    /// it, the nearest at or before step `at`, else after it.
    #[must_use]
    pub fn expected(&self, role: RoleIx, event: &CueEvent, at: usize) -> Option<f64> {
        let mut best: Option<(usize, f64)> = None;
        for (i, step, action) in self.actions() {
            let time = match (&action.kind, event) {
                (ActionKind::Pass { .. }, CueEvent::Passes)
                | (ActionKind::HandOff { .. }, CueEvent::HandsOff)
                | (ActionKind::Dribble { .. }, CueEvent::Dribbles)
                | (ActionKind::Cut { .. } | ActionKind::Leave { .. }, CueEvent::Cuts)
                    if action.role == role =>
                {
                    left_at(step, action.from)
                }
                (ActionKind::Screen { .. }, CueEvent::Screens) if action.role == role => {
                    reached_at(step, action.to)
                }
                (ActionKind::Pass { to, .. } | ActionKind::HandOff { to }, CueEvent::Catches)
                    if *to == role =>
                {
                    reached_at(step, action.to)
                }
                (_, CueEvent::Reaches { place, .. }) if action.role == role => {
                    let row = self.node(step).motion.roles.get(role);
                    row.and_then(|r| r.get(action.to))
                        .filter(|end| end.distance(*place) <= 2.0)
                        .and_then(|_| reached_at(step, action.to))
                }
                _ => None,
            };
            let Some(time) = time else { continue };
            let rank = if i <= at { at - i } else { 100 + i };
            if best.is_none_or(|b| rank < b.0) {
                best = Some((rank, time));
            }
        }
        best.map(|b| b.1)
    }

    /// The event nearest to `expected` for which `time` gives a time, within reach and inside
    /// the possession.
    pub fn nearest_event(
        &self,
        expected: f64,
        time: impl Fn(&EventKind, f64) -> Option<f64>,
    ) -> Option<(&'a Event, f64)> {
        let reach = self.params.event_reach_s;
        let story: &'a BallStory = self.story;
        let mut best: Option<(&'a Event, f64)> = None;
        for e in &story.events {
            let Some(t) = time(&e.kind, e.time_s) else {
                continue;
            };
            if (t - expected).abs() > reach
                || t < self.possession.from_s - 0.5
                || t > self.possession.to_s + 0.5
            {
                continue;
            }
            if best.is_none_or(|b| (t - expected).abs() < (b.1 - expected).abs()) {
                best = Some((e, t));
            }
        }
        best
    }
}

//! A small world with known truth: people move by textbook profiles from place to place, a
//! sensor sees them with noise and dropouts, and the reading of what was run is given.
#![allow(dead_code, reason = "each test file uses a part")]
#![allow(clippy::unwrap_used, reason = "a test may stop")]

use setdrift_court::{AttackPoint, Court, End, LengthUnit};
use setdrift_events::model::{
    BallStory, Event, EventKind, Outcome, Pace, Possession, Source, Start,
};
use setdrift_playbook::graph::{
    Action, ActionKind, Expectation, Graph, Motion, Node, PassKind, PlayOption,
};
use setdrift_recognise::model::{Hand, Reading, Run, Segment, StepRun, Verdict, What};
use setdrift_timing::profile::Profile;
use setdrift_timing::random::Rng;
use setdrift_tracks::{
    EndSpan, Known, OutcomeKind, Player, Session, SessionKind, SessionParts, Team, Track,
};

/// A sensor: rate, noise per axis, share of samples lost.
#[derive(Debug, Clone, Copy)]
pub struct Sensor {
    pub name: &'static str,
    pub rate_hz: f64,
    pub noise_m: f64,
    pub lost: f64,
    /// Correlation of the noise from frame to frame, 0..1.
    pub colour: f64,
}

pub const OPTICAL: Sensor = Sensor {
    name: "optical 25 Hz 0.10 m",
    rate_hz: 25.0,
    noise_m: 0.10,
    lost: 0.0,
    colour: 0.0,
};
pub const RADIO_20: Sensor = Sensor {
    name: "radio 20 Hz 0.25 m",
    rate_hz: 20.0,
    noise_m: 0.25,
    lost: 0.03,
    colour: 0.0,
};
pub const RADIO_10: Sensor = Sensor {
    name: "radio 10 Hz 0.35 m",
    rate_hz: 10.0,
    noise_m: 0.35,
    lost: 0.08,
    colour: 0.0,
};
pub const SENSORS: [Sensor; 3] = [OPTICAL, RADIO_20, RADIO_10];

/// One movement: when it begins, how long it takes, where it ends.
#[derive(Debug, Clone, Copy)]
pub struct Move {
    pub from_s: f64,
    pub long_s: f64,
    pub to: AttackPoint,
    pub profile: Profile,
}

pub fn go(from_s: f64, long_s: f64, to: AttackPoint) -> Move {
    Move {
        from_s,
        long_s,
        to,
        profile: Profile::MinimumJerk,
    }
}

/// The pass that sets off what is judged: from role 1 to role 3, one second into the step.
pub fn pass() -> Action {
    Action {
        role: 0,
        kind: ActionKind::Pass {
            to: 2,
            kind: PassKind::Any,
        },
        from: 10,
        to: 14,
        cue: None,
        placements: vec![],
        text: "1 passes to 3".into(),
    }
}

/// A role's course: where it starts and its movements in order.
#[derive(Debug, Clone)]
pub struct Course {
    pub start: AttackPoint,
    pub moves: Vec<Move>,
    /// Natural frequency of a critically damped follower of the places given, 1/s; without one
    /// the body is where it should be.
    pub eager: Option<f64>,
}

impl Course {
    pub fn still(start: AttackPoint) -> Self {
        Self {
            start,
            moves: vec![],
            eager: None,
        }
    }

    pub fn moving(start: AttackPoint, moves: Vec<Move>) -> Self {
        Self {
            start,
            moves,
            eager: None,
        }
    }

    pub fn at(&self, t: f64) -> AttackPoint {
        let Some(w) = self.eager else {
            return self.wanted(t);
        };
        // One stride of the step response `1 - (1 + wt) exp(-wt)` at a time.
        let h = 0.01;
        let (mut p, mut v) = (self.start, (0.0, 0.0));
        for i in 0..(t / h).round().max(0.0) as usize {
            let q = self.wanted((i as f64 + 0.5) * h);
            let a = (
                w * w * (q.x - p.x) - 2.0 * w * v.0,
                w * w * (q.y - p.y) - 2.0 * w * v.1,
            );
            v = (v.0 + a.0 * h, v.1 + a.1 * h);
            p = AttackPoint::new(p.x + v.0 * h, p.y + v.1 * h);
        }
        p
    }

    fn wanted(&self, t: f64) -> AttackPoint {
        let mut p = self.start;
        for m in &self.moves {
            let u = (t - m.from_s) / m.long_s;
            // What a follower chases moves evenly.
            let share = if self.eager.is_some() {
                u.clamp(0.0, 1.0)
            } else {
                m.profile.progress(u)
            };
            p = p.lerp(m.to, share);
        }
        p
    }
}

/// What really happened, and how it was seen.
pub struct World {
    pub sensor: Sensor,
    pub seed: u64,
    pub end: End,
    pub hand: Hand,
    pub long_s: f64,
    /// Per role, in the declared frame.
    pub courses: Vec<Course>,
    pub ball: Option<Course>,
    /// `players[role]`: session index.
    pub players: Vec<usize>,
    /// Role and stretch that no sensor saw.
    pub hidden: Vec<(usize, f64, f64)>,
}

impl World {
    pub fn new(sensor: Sensor, courses: Vec<Course>) -> Self {
        let n = courses.len();
        Self {
            sensor,
            seed: 1,
            end: End::Right,
            hand: Hand::Right,
            long_s: 10.0,
            courses,
            ball: None,
            players: (0..n).collect(),
            hidden: vec![],
        }
    }

    fn place(&self, court: &Court, p: AttackPoint) -> setdrift_court::CourtPoint {
        let p = match self.hand {
            Hand::Right => p,
            Hand::Left => p.mirrored(),
        };
        p.to_court(court, self.end)
    }

    /// The place of a role on the floor without noise.
    pub fn truth(&self, role: usize, t: f64) -> setdrift_court::CourtPoint {
        self.place(&Court::fiba(), self.courses[role].at(t))
    }

    pub fn session(&self) -> Session {
        let court = Court::fiba();
        let s = self.sensor;
        let mut rng = Rng::new(self.seed);
        let frames = (self.long_s * s.rate_hz) as usize + 1;
        let mut see = |course: &Course, hidden: &[(f64, f64)], noise: f64| {
            let mut track = Track::default();
            let mut slow = (0.0, 0.0);
            for i in 0..frames {
                let t = i as f64 / s.rate_hz;
                let p = self.place(&court, course.at(t));
                let lost = rng.unit() < s.lost || hidden.iter().any(|h| t >= h.0 && t <= h.1);
                let fresh = noise * (1.0 - s.colour * s.colour).sqrt();
                slow.0 = s.colour * slow.0 + fresh * rng.normal();
                slow.1 = s.colour * slow.1 + fresh * rng.normal();
                let (nx, ny) = slow;
                track.x.push(if lost { 0.0 } else { p.x + nx });
                track.y.push(if lost { 0.0 } else { p.y + ny });
                track.known.push(if lost {
                    Known::Unknown
                } else {
                    Known::Measured
                });
            }
            track
        };
        let mut tracks = vec![Track::default(); self.courses.len()];
        for (role, course) in self.courses.iter().enumerate() {
            let hidden: Vec<(f64, f64)> = self
                .hidden
                .iter()
                .filter(|h| h.0 == role)
                .map(|h| (h.1, h.2))
                .collect();
            tracks[self.players[role]] = see(course, &hidden, s.noise_m);
        }
        let ball = self.ball.as_ref().map(|b| see(b, &[], s.noise_m));
        Session::new(SessionParts {
            id: "world".into(),
            date: Some("2026-01-10".into()),
            kind: SessionKind::Game,
            opponent: Some("Quarry Lane Otters".into()),
            court,
            rate_hz: s.rate_hz,
            start_s: 0.0,
            teams: vec![Team {
                id: "herons".into(),
                name: "Marrow Bay Herons".into(),
            }],
            players: (0..tracks.len())
                .map(|i| Player {
                    id: format!("p{i}"),
                    team: 0,
                    number: Some(format!("{}", 4 + i)),
                    name: None,
                    roles: vec![],
                })
                .collect(),
            tracks,
            ball,
            ends: vec![EndSpan {
                from_s: 0.0,
                to_s: self.long_s + 1.0,
                end: self.end,
            }],
        })
        .unwrap()
    }

    pub fn possession(&self) -> Possession {
        Possession {
            number: 1,
            from_s: 0.0,
            to_s: self.long_s,
            team: 0,
            end: self.end,
            attackers: self.players.clone(),
            defenders: vec![],
            set_s: Some(0.0),
            start: Start::Repetition,
            result: Outcome {
                kind: OutcomeKind::Stopped,
                points: None,
                source: Source::Given,
            },
            second_chances: 0,
            pace: Pace::HalfCourt,
        }
    }

    /// A story with these events; places are those of the acting role.
    pub fn story(&self, events: Vec<(f64, usize, EventKind)>) -> BallStory {
        BallStory {
            events: events
                .into_iter()
                .map(|(time_s, role, kind)| Event {
                    kind,
                    time_s,
                    place: self.truth(role, time_s),
                    confidence: 1.0,
                    evidence: String::new(),
                })
                .collect(),
            ..BallStory::default()
        }
    }

    pub fn pass(&self, from: usize, to: usize, at: f64, catch_s: f64) -> (f64, usize, EventKind) {
        let kind = EventKind::Pass {
            from: self.players[from],
            to: self.players[to],
            catch_s,
            catch_place: self.truth(to, catch_s),
            flight: None,
        };
        (at, from, kind)
    }

    /// A reading that found the option's steps at these times.
    pub fn reading(&self, graph: &Graph, spans: &[(f64, f64)], verdict: Verdict) -> Reading {
        let steps = spans
            .iter()
            .enumerate()
            .map(|(node, &(from_s, to_s))| {
                let frames = graph.nodes[node].motion.frames();
                let n = ((to_s - from_s) * 10.0).round() as usize;
                let path = (0..=n)
                    .map(|i| {
                        let share = i as f64 / n.max(1) as f64;
                        let f = (share * (frames - 1) as f64).round() as u32;
                        (from_s + i as f64 / 10.0, f)
                    })
                    .collect();
                StepRun {
                    node,
                    from_s,
                    to_s,
                    complete: true,
                    path,
                    deviation: vec![None; self.courses.len()],
                }
            })
            .collect();
        let run = Run {
            option: 0,
            hand: self.hand,
            players: self.players.iter().map(|p| Some(*p)).collect(),
            steps,
            verdict,
            faults: vec![],
            cost: 0.1,
            runner_up: None,
            margin: 1.0,
            confidence: 0.9,
        };
        let from_s = spans[0].0;
        let to_s = spans[spans.len() - 1].1;
        Reading {
            possession: 1,
            segments: vec![Segment {
                from_s,
                to_s,
                what: What::Option(Box::new(run)),
            }],
            limits: vec![],
        }
    }
}

/// A step as declared: nominal courses over `long_s`, and its actions.
pub struct Step {
    pub long_s: f64,
    pub courses: Vec<Course>,
    pub actions: Vec<Action>,
}

/// A playbook of one option.
pub fn graph(steps: Vec<Step>, expect: Vec<Expectation>) -> Graph {
    let n = steps.len();
    let roles = steps[0].courses.len();
    let nodes = steps
        .into_iter()
        .enumerate()
        .map(|(i, s)| {
            let frames = (s.long_s * 10.0).round() as usize + 1;
            let row = |c: &Course| (0..frames).map(|f| c.at(f as f64 / 10.0)).collect();
            Node {
                option: 0,
                step: i,
                last: i + 1 == n,
                motion: Motion {
                    roles: s.courses.iter().map(row).collect(),
                    ball: vec![AttackPoint::default(); frames],
                    tolerance: vec![1.2; roles],
                },
                actions: s.actions,
            }
        })
        .collect();
    Graph {
        name: "Lantern".into(),
        court: Court::fiba(),
        unit: LengthUnit::Foot,
        roles: (1..=roles).map(|r| r.to_string()).collect(),
        formations: vec![],
        options: vec![PlayOption {
            id: "wick".into(),
            title: "Wick".into(),
            series: None,
            steps: n,
            expect,
            returns: None,
            read: None,
        }],
        nodes,
        edges: vec![],
        starts: vec![0],
        declared: setdrift_playbook::graph::Declared::default(),
    }
}

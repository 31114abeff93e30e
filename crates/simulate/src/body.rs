//! One body: it wants a velocity, and gets there as fast as legs allow.

use crate::rng::Rng;
use crate::settings::BodySettings;
use crate::vec2::{V2, path_len, v2};

/// What a player is about at the moment.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Intent {
    /// Stays about a place.
    Stand { at: V2 },
    /// Runs along a path and stops at its end.
    Go {
        path: Vec<V2>,
        next: usize,
        cruise: f64,
    },
    /// Keeps up with a moving place.
    Mark { at: V2, vel: V2, cruise: f64 },
}

/// Traits that differ between players.
#[derive(Debug, Clone)]
pub(crate) struct Build {
    pub(crate) accel: f64,
    pub(crate) brake: f64,
    pub(crate) top: f64,
    pub(crate) response: f64,
    pub(crate) force: f64,
    pub(crate) hold: f64,
    /// Personal bias of places, metres, in the attack frame.
    pub(crate) bias: V2,
}

#[derive(Debug, Clone)]
pub(crate) struct Body {
    pub(crate) pos: V2,
    pub(crate) vel: V2,
    acc: V2,
    pub(crate) facing: V2,
    pub(crate) intent: Intent,
    pub(crate) build: Build,
    sway: V2,
    sway_drive: V2,
    wander: V2,
    shoved: V2,
}

/// Closer than this to the end of a path, a runner has arrived, metres.
const ARRIVED: f64 = 0.22;

impl Body {
    pub(crate) fn new(pos: V2, build: Build) -> Self {
        Self {
            pos,
            vel: V2::default(),
            acc: V2::default(),
            facing: v2(1.0, 0.0),
            intent: Intent::Stand { at: pos },
            build,
            sway: V2::default(),
            sway_drive: V2::default(),
            wander: V2::default(),
            shoved: V2::default(),
        }
    }

    /// The tracked point.
    pub(crate) fn seen(&self) -> V2 {
        self.pos + self.sway
    }

    pub(crate) fn stand(&mut self) {
        self.intent = Intent::Stand { at: self.pos };
    }

    /// Runs along a path whose first point is left out when it is where the body is.
    pub(crate) fn go(&mut self, path: Vec<V2>, cruise: f64) {
        if path.is_empty() {
            return;
        }
        let cruise = cruise.clamp(0.5, self.build.top);
        self.intent = Intent::Go {
            path,
            next: 0,
            cruise,
        };
    }

    /// Way still to run, metres; 0 when standing.
    pub(crate) fn remaining(&self) -> f64 {
        match &self.intent {
            Intent::Go { path, next, .. } => {
                path.get(*next).map_or(0.0, |p| self.pos.dist(*p))
                    + path_len(path.get(*next..).unwrap_or(&[]))
            }
            _ => 0.0,
        }
    }

    fn wanted(&mut self) -> (V2, f64) {
        let here = self.pos;
        let brake = self.build.brake;
        match &mut self.intent {
            Intent::Stand { at } => {
                let d = *at + self.wander - here;
                let far = d.len();
                let speed = if far < 0.10 {
                    0.0
                } else {
                    (far * 1.4).min(1.1)
                };
                (d.unit() * speed, 2.2)
            }
            Intent::Mark { at, vel, cruise } => {
                let d = *at - here;
                // A slide to stay in place is softer than a chase.
                let limit = self.build.accel * (0.35 + 0.35 * d.len()).min(1.0);
                ((*vel + d * 1.8).at_most(*cruise), limit)
            }
            Intent::Go { path, next, cruise } => {
                while *next + 1 < path.len() {
                    let along = (path[*next + 1] - path[*next]).unit();
                    let passed = (here - path[*next]).dot(along) > 0.0;
                    if here.dist(path[*next]) < 0.45 || (passed && here.dist(path[*next]) < 1.2) {
                        *next += 1;
                    } else {
                        break;
                    }
                }
                let left = here.dist(path[*next]) + path_len(&path[*next..]);
                let speed = cruise.min(
                    (2.0 * brake * (0.32 + 0.13 * *cruise).min(1.0) * (left - 0.05).max(0.0))
                        .sqrt(),
                );
                // Nobody starts a walk like a sprint.
                let effort = (0.32 + 0.13 * *cruise).min(1.0);
                (
                    (path[*next] - here).unit() * speed,
                    self.build.accel * effort,
                )
            }
        }
    }

    /// Moves on by `dt` seconds; `push` is a velocity others force on the body.
    pub(crate) fn step(&mut self, dt: f64, push: V2, look: V2, s: &BodySettings, rng: &mut Rng) {
        let (want, limit) = self.wanted();
        let force = ((want - self.vel) * (1.0 / self.build.response)).at_most(limit);
        // A slower effort is not started with full force.
        self.acc += (force - self.acc) * (dt / self.build.force).min(1.0);
        self.vel += self.acc * dt;
        self.vel = self.vel.at_most(self.build.top);
        // A shove is taken up by the body within a tenth of a second.
        self.shoved += (push.at_most(1.6) - self.shoved) * (dt / 0.1);
        self.pos += (self.vel + self.shoved) * dt;
        if let Intent::Go { path, next, .. } = &self.intent {
            let end = path[path.len() - 1];
            if *next + 1 == path.len() && self.pos.dist(end) < ARRIVED && self.vel.len() < 1.0 {
                self.intent = Intent::Stand { at: end };
                self.wander = V2::default();
            }
        }
        let towards = if self.vel.len() > 1.2 {
            self.vel.unit()
        } else {
            look
        };
        self.facing = (self.facing + (towards - self.facing) * (dt / 0.25)).unit();
        // A trunk over its feet moves smoothly: the driving noise is filtered once more. The factor
        // makes up for the variance lost: time / (time + filter) for an exponential spectrum.
        let filter = 0.5 * s.sway_s;
        let drive = s.sway_m * 1.5_f64.sqrt();
        self.sway_drive = ornstein(self.sway_drive, drive, s.sway_s, dt, rng);
        self.sway += (self.sway_drive - self.sway) * (dt / filter);
        self.wander = ornstein(self.wander, s.wander_m, s.wander_s, dt, rng);
    }
}

/// One step of an Ornstein–Uhlenbeck process (Euler–Maruyama).
pub(crate) fn ornstein(x: V2, sd: f64, time: f64, dt: f64, rng: &mut Rng) -> V2 {
    let kick = sd * (2.0 * dt / time).sqrt();
    x * (1.0 - dt / time) + v2(rng.normal(), rng.normal()) * kick
}

//! Parameters of ball control estimated from the user's own tracks.
//!
//! Viterbi training, the hard form of expectation maximisation (segmental k-means: Juang & Rabiner
//! 1990, IEEE Trans. ASSP 38(9), 1639–1641): decode with the parameters at hand, estimate them
//! anew from what was decoded, and again until nothing changes by more than one in a hundred.

use crate::assumed::AHEAD;
use crate::model::{BallStory, EventKind};
use crate::motion::Motion;
use crate::params::{Params, ValidParams};
use crate::story::ball_story;
use serde::Serialize;
use setdrift_tracks::Session;

/// Rounds after which it stops in any case.
const ROUNDS: usize = 8;
/// Fewer observations estimate nothing.
const LEAST: usize = 30;
/// Share of change below which a round was the last.
const SETTLED: f64 = 0.01;

/// An estimate of one parameter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Estimate {
    /// Name of the field of [`Params`].
    pub field: &'static str,
    /// Its default.
    pub default: f64,
    /// The estimate, within the parameter's range; `None` when there was too little to see, and
    /// the default stays.
    pub found: Option<f64>,
    /// What it rests on: spells, frames or passes.
    pub samples: usize,
}

/// Estimated parameters.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fitted {
    /// All parameters, estimated or default.
    pub params: Params,
    /// One per parameter that can be estimated.
    pub estimates: Vec<Estimate>,
    /// Rounds it took.
    pub rounds: usize,
    /// Whether the last round changed less than one in a hundred.
    pub settled: bool,
}

/// Estimates how long the ball is held, how far from the body, and how fast it is passed, from
/// sessions with a ball; sessions without one are passed over. Linear in frames.
#[must_use]
pub fn fit(sessions: &[&Session]) -> Fitted {
    let defaults = Params::default();
    let mut params = defaults;
    let mut rounds = 0;
    loop {
        rounds += 1;
        let valid = params.check().unwrap_or_default();
        let mut seen = Seen::default();
        for s in sessions.iter().filter(|s| s.ball.is_some()) {
            seen.add(s, &ball_story(s, &valid), &valid);
        }
        let before = params;
        let estimates = seen.estimates(&defaults);
        for e in &estimates {
            let value = e.found.unwrap_or(e.default);
            match e.field {
                "hold_s" => params.hold_s = value,
                "hold_spread_m" => params.hold_spread_m = value,
                _ => params.pass_speed_mps = value,
            }
        }
        let change = |a: f64, b: f64| (a / b - 1.0).abs();
        let settled = change(params.hold_s, before.hold_s) < SETTLED
            && change(params.hold_spread_m, before.hold_spread_m) < SETTLED
            && change(params.pass_speed_mps, before.pass_speed_mps) < SETTLED;
        if settled || rounds == ROUNDS {
            return Fitted {
                params,
                estimates,
                rounds,
                settled,
            };
        }
    }
}

/// What the estimates rest on.
#[derive(Debug, Default)]
struct Seen {
    held_s: Vec<f64>,
    /// Squared offsets per axis, sensor noise taken off, square metres.
    offset: f64,
    frames: usize,
    speeds: Vec<f64>,
}

impl Seen {
    fn add(&mut self, session: &Session, story: &BallStory, params: &ValidParams) {
        let m = Motion::new(session);
        let noise = m.ball_split.0
            + m.ball_split.1
            + m.player_split.1
            + m.player_split.0 / (2 * m.player_half + 1) as f64;
        for sp in &story.spells {
            self.held_s.push(sp.to_s - sp.from_s);
            for f in session.frame_at(sp.from_s)..=session.frame_at(sp.to_s) {
                let (Some(b), Some(k)) = (m.ball_seen(f), m.player(sp.player, f)) else {
                    continue;
                };
                let d = [0, 1].map(|a| b[a] - k.pos[a] - AHEAD * k.vel[a]);
                let sq = (d[0] * d[0] + d[1] * d[1]) / 2.0;
                // A sample far outside reach is the sensor's, not the hands'.
                if sq < 9.0 * (params.hold_spread_m.powi(2) + noise) {
                    self.offset += sq - noise;
                    self.frames += 1;
                }
            }
        }
        for e in &story.events {
            if let EventKind::Pass {
                catch_s,
                catch_place,
                ..
            } = e.kind
                && catch_s > e.time_s
            {
                let far = (catch_place.x - e.place.x).hypot(catch_place.y - e.place.y);
                self.speeds.push(far / (catch_s - e.time_s));
            }
        }
    }

    fn estimates(&mut self, defaults: &Params) -> Vec<Estimate> {
        let enough = |n: usize| n >= LEAST;
        // Exponential: its mean; log-normal: its median.
        let held = self.held_s.iter().sum::<f64>() / self.held_s.len().max(1) as f64;
        self.speeds.sort_by(f64::total_cmp);
        let speed = self.speeds.get(self.speeds.len() / 2).copied();
        let spread = (self.offset / self.frames.max(1) as f64).max(0.0).sqrt();
        vec![
            Estimate {
                field: "hold_s",
                default: defaults.hold_s,
                found: enough(self.held_s.len()).then_some(held.clamp(0.5, 10.0)),
                samples: self.held_s.len(),
            },
            Estimate {
                field: "hold_spread_m",
                default: defaults.hold_spread_m,
                found: enough(self.frames).then_some(spread.clamp(0.1, 1.2)),
                samples: self.frames,
            },
            Estimate {
                field: "pass_speed_mps",
                default: defaults.pass_speed_mps,
                found: speed
                    .filter(|_| enough(self.speeds.len()))
                    .map(|v| v.clamp(4.0, 16.0)),
                samples: self.speeds.len(),
            },
        ]
    }
}

//! The clean world as it was, and what a sensor makes of it.

use crate::rng::Rng;
use crate::settings::{SettingsError, within};
use crate::vec2::V2;
use serde::{Deserialize, Serialize};
use setdrift_court::{Court, End};

/// Frames per second of the clean world: a multiple of every usual sensor rate.
pub const WORLD_HZ: f64 = 100.0;

/// A player of a simulated session.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SimPlayer {
    /// Unique id.
    pub id: String,
    /// Team index; 0 is the audited team.
    pub team: usize,
    /// Shirt number.
    pub number: String,
    /// Invented surname.
    pub name: String,
    /// Roles the player may take; empty for any.
    pub roles: Vec<String>,
}

/// A stretch during which team 0 attacks one end.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Period {
    /// From, seconds.
    pub from_s: f64,
    /// To, seconds.
    pub to_s: f64,
    /// The end team 0 attacks.
    pub end: End,
}

/// A line of the event file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ResultLine {
    /// Time as written down, seconds.
    pub time_s: f64,
    /// Team index.
    pub team: usize,
    /// `made`, `missed`, `turnover`, `foul` or `stopped`.
    pub kind: String,
    /// Points scored.
    pub points: u32,
}

/// A line of the tag file: what a person said was run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TagLine {
    /// From, seconds.
    pub from_s: f64,
    /// To, seconds.
    pub to_s: f64,
    /// Option key.
    pub option: String,
    /// `right` or `left`.
    pub hand: String,
}

/// One object's samples. Where `present` is false the coordinates mean nothing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Samples {
    /// Court-frame x, metres.
    pub x: Vec<f64>,
    /// Court-frame y, metres.
    pub y: Vec<f64>,
    /// Height, metres; empty when the sensor has none (and for players).
    pub z: Vec<f64>,
    /// Whether the sensor gave a sample.
    pub present: Vec<bool>,
}

/// A session: positions of players of both teams and of the ball, per frame, with what people
/// wrote down beside it. Frame `i` is at `i / rate_hz` seconds.
#[derive(Debug, Clone, PartialEq)]
pub struct SimulatedSession {
    /// Name of the session.
    pub id: String,
    /// `YYYY-MM-DD`.
    pub date: String,
    /// Whether it is a practice.
    pub practice: bool,
    /// Names of the teams: id and name.
    pub teams: Vec<(String, String)>,
    /// The floor.
    pub court: Court,
    /// Frames per second.
    pub rate_hz: f64,
    /// Players of both teams.
    pub players: Vec<SimPlayer>,
    /// One per player.
    pub tracks: Vec<Samples>,
    /// The ball.
    pub ball: Samples,
    /// Which end team 0 attacks when.
    pub periods: Vec<Period>,
    /// The event file.
    pub results: Vec<ResultLine>,
    /// A person's tags.
    pub tags: Vec<TagLine>,
}

/// What a tracking system does to the world.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SensorModel {
    /// Frames per second: 1 to 100, a divisor of 100.
    pub rate_hz: f64,
    /// Noise of a player's position, standard deviation per axis, metres.
    pub noise_m: f64,
    /// Noise of the ball's position, standard deviation per axis, metres.
    pub ball_noise_m: f64,
    /// Share of the noise's variance that is white; the rest wanders with `colour_s`.
    pub white: f64,
    /// Time constant of the coloured noise, seconds.
    pub colour_s: f64,
    /// Share of samples lost.
    pub lost: f64,
    /// Mean length of a burst of lost samples, seconds.
    pub burst_s: f64,
    /// Whether the ball's height is given.
    pub height: bool,
}

impl SensorModel {
    /// No noise, no loss, at 100 frames per second.
    #[must_use]
    pub fn perfect() -> Self {
        Self {
            rate_hz: WORLD_HZ,
            noise_m: 0.0,
            ball_noise_m: 0.0,
            white: 1.0,
            colour_s: 0.2,
            lost: 0.0,
            burst_s: 0.3,
            height: true,
        }
    }

    /// Optical, 25 Hz, 0.10 m (0.08–0.09 m published: Linke et al. 2020).
    #[must_use]
    pub fn optical() -> Self {
        Self {
            rate_hz: 25.0,
            noise_m: 0.10,
            ball_noise_m: 0.10,
            white: 0.5,
            colour_s: 0.3,
            ..Self::perfect()
        }
    }

    /// Radio, 20 Hz, 0.25 m, 3 % lost in bursts (0.03–0.21 m published for good set-ups:
    /// Pino-Ortega et al. 2020).
    #[must_use]
    pub fn radio_20() -> Self {
        Self {
            rate_hz: 20.0,
            noise_m: 0.25,
            ball_noise_m: 0.25,
            white: 0.5,
            colour_s: 0.4,
            lost: 0.03,
            burst_s: 0.4,
            height: true,
        }
    }

    /// Radio, 10 Hz, 0.35 m, 8 % lost in bursts, no height (0.37 ± 0.24 m published for a poor
    /// set-up: Perrat et al. 2015).
    #[must_use]
    pub fn radio_10() -> Self {
        Self {
            rate_hz: 10.0,
            noise_m: 0.35,
            ball_noise_m: 0.35,
            white: 0.5,
            colour_s: 0.5,
            lost: 0.08,
            burst_s: 0.6,
            height: false,
        }
    }

    /// Checks every number.
    ///
    /// # Errors
    /// [`SettingsError::Range`] for the first number out of range.
    pub fn check(&self) -> Result<(), SettingsError> {
        within("sensor.rate_hz", self.rate_hz, 1.0, WORLD_HZ)?;
        let step = (WORLD_HZ / self.rate_hz).round();
        within(
            "sensor.rate_hz (as a divisor of 100)",
            self.rate_hz,
            WORLD_HZ / step,
            WORLD_HZ / step,
        )?;
        within("sensor.noise_m", self.noise_m, 0.0, 2.0)?;
        within("sensor.ball_noise_m", self.ball_noise_m, 0.0, 2.0)?;
        within("sensor.white", self.white, 0.0, 1.0)?;
        within("sensor.colour_s", self.colour_s, 0.01, 30.0)?;
        within("sensor.lost", self.lost, 0.0, 0.9)?;
        within("sensor.burst_s", self.burst_s, 0.01, 30.0)
    }
}

/// The world as it truly was, at [`WORLD_HZ`].
#[derive(Debug, Clone, PartialEq)]
pub struct World {
    /// Everything but positions; its tracks are empty.
    pub(crate) head: SimulatedSession,
    /// Position of each player, `None` while off the floor.
    pub(crate) players: Vec<Vec<Option<V2>>>,
    pub(crate) ball: Vec<(V2, f64)>,
}

impl World {
    /// Number of clean frames.
    #[must_use]
    pub fn frames(&self) -> usize {
        self.ball.len()
    }

    /// True position of a player at a clean frame, court frame, metres.
    #[must_use]
    pub fn player(&self, player: usize, frame: usize) -> Option<(f64, f64)> {
        let p = (*self.players.get(player)?.get(frame)?)?;
        Some((p.x, p.y))
    }

    /// True position and height of the ball at a clean frame, court frame, metres.
    #[must_use]
    pub fn ball(&self, frame: usize) -> Option<(f64, f64, f64)> {
        self.ball.get(frame).map(|(p, z)| (p.x, p.y, *z))
    }

    /// The session as a sensor sees it. The same seed gives the same noise.
    ///
    /// # Errors
    /// [`SettingsError::Range`] when the model is out of range.
    pub fn sense(&self, model: &SensorModel, seed: u64) -> Result<SimulatedSession, SettingsError> {
        model.check()?;
        let step = (WORLD_HZ / model.rate_hz).round() as usize;
        let mut out = self.head.clone();
        out.rate_hz = model.rate_hz;
        out.tracks = self
            .players
            .iter()
            .enumerate()
            .map(|(i, track)| {
                let mut noise = Noise::new(model, model.noise_m, seed, i as u64 + 1);
                let mut s = Samples::default();
                for p in track.iter().step_by(step) {
                    let (n, _) = noise.next();
                    let lost = noise.lost();
                    let seen = p.filter(|_| !lost).map(|p| p + n);
                    s.x.push(seen.map_or(0.0, |p| p.x));
                    s.y.push(seen.map_or(0.0, |p| p.y));
                    s.present.push(seen.is_some());
                }
                s
            })
            .collect();
        let mut noise = Noise::new(model, model.ball_noise_m, seed, 0);
        let mut s = Samples::default();
        for (p, z) in self.ball.iter().step_by(step) {
            let (n, nz) = noise.next();
            let lost = noise.lost();
            s.x.push(if lost { 0.0 } else { p.x + n.x });
            s.y.push(if lost { 0.0 } else { p.y + n.y });
            if model.height {
                s.z.push(if lost { 0.0 } else { (z + nz).max(0.0) });
            }
            s.present.push(!lost);
        }
        out.ball = s;
        Ok(out)
    }
}

struct Noise<'a> {
    model: &'a SensorModel,
    sd: f64,
    rng: Rng,
    slow: [f64; 3],
    keep: f64,
    lost: bool,
}

impl<'a> Noise<'a> {
    fn new(model: &'a SensorModel, sd: f64, seed: u64, stream: u64) -> Self {
        let mut rng = Rng::new(seed, 0x5E45_0000 + stream);
        let slow = std::array::from_fn(|_| rng.normal());
        Self {
            model,
            sd,
            slow,
            keep: libm::exp(-1.0 / (model.rate_hz * model.colour_s)),
            lost: false,
            rng,
        }
    }

    /// First-order autoregressive noise plus white noise, together of the declared variance.
    fn next(&mut self) -> (V2, f64) {
        let fresh = (1.0 - self.keep * self.keep).sqrt();
        let (white, slow) = (self.model.white.sqrt(), (1.0 - self.model.white).sqrt());
        let mut out = [0.0; 3];
        for (o, s) in out.iter_mut().zip(&mut self.slow) {
            *s = self.keep * *s + fresh * self.rng.normal();
            *o = self.sd * (white * self.rng.normal() + slow * *s);
        }
        (
            V2 {
                x: out[0],
                y: out[1],
            },
            out[2],
        )
    }

    /// A two-state chain with the declared share and mean burst length (Gilbert 1960).
    fn lost(&mut self) -> bool {
        let out = (1.0 / (self.model.rate_hz * self.model.burst_s)).min(1.0);
        let into = out * self.model.lost / (1.0 - self.model.lost);
        let p = if self.lost { 1.0 - out } else { into };
        self.lost = self.rng.chance(p);
        self.lost
    }
}

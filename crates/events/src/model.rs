//! The plain data that later stages read. Times are session time in seconds, players are indices
//! into the session's player list, places are in the court frame in metres.

use serde::{Deserialize, Serialize};
use setdrift_court::{CourtPoint, End};
use setdrift_tracks::OutcomeKind;

/// Index into the session's players.
pub type PlayerIx = usize;

/// Everything found about the ball, in time order.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct BallStory {
    /// Who controlled the ball when; spells do not overlap. Empty without a ball.
    pub spells: Vec<Spell>,
    /// Events on and off the ball, by time.
    pub events: Vec<Event>,
    /// Abilities lost for want of data, in words.
    pub limits: Vec<String>,
}

/// A stretch during which one player controls the ball.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Spell {
    /// Who.
    pub player: PlayerIx,
    /// Catch or pick-up, seconds.
    pub from_s: f64,
    /// Release or loss, seconds.
    pub to_s: f64,
}

/// An event.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Event {
    /// What.
    pub kind: EventKind,
    /// When it happened (for a pass: the release), seconds.
    pub time_s: f64,
    /// Where: the player's place (for a pass: the passer's).
    pub place: CourtPoint,
    /// 0..=1.
    pub confidence: f64,
    /// What the verdict rests on, in words with numbers.
    pub evidence: String,
}

/// Kinds of event.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "event")]
pub enum EventKind {
    /// From one player's hand to a team-mate's.
    Pass {
        /// Passer.
        from: PlayerIx,
        /// Receiver.
        to: PlayerIx,
        /// Catch, seconds.
        catch_s: f64,
        /// Where it was caught.
        catch_place: CourtPoint,
        /// Kind where height allows: `chest`, `bounce`, `lob`.
        flight: Option<Flight>,
    },
    /// Given over within arm's reach.
    HandOff {
        /// Giver.
        from: PlayerIx,
        /// Taker.
        to: PlayerIx,
    },
    /// The holder puts the ball on the floor and goes.
    DribbleStart {
        /// Who.
        player: PlayerIx,
        /// Standard deviation of the moment, seconds; 0 where it is known otherwise than from tracks.
        sd_s: f64,
    },
    /// The dribble ends with the ball in the hands.
    PickUp {
        /// Who.
        player: PlayerIx,
    },
    /// A shot at the basket.
    Shot {
        /// Who.
        player: PlayerIx,
        /// When the ball is at the ring, seconds.
        ring_s: f64,
        /// Whether it went in, where the ball's way after the ring tells.
        made: Option<bool>,
    },
    /// First control after a shot.
    Rebound {
        /// Who.
        player: PlayerIx,
    },
    /// Control goes to the other team without a shot.
    Turnover {
        /// Who lost it, where known.
        lost_by: Option<PlayerIx>,
        /// Who won it, where known.
        won_by: Option<PlayerIx>,
    },
    /// The ball leaves the floor or rests.
    DeadBall,
    /// A screen.
    Screen {
        /// Who sets it.
        screener: PlayerIx,
        /// The team-mate it frees.
        user: PlayerIx,
        /// The defender it holds, where defenders are in the data.
        screened: Option<PlayerIx>,
        /// Whether the screener stood still at contact.
        set: bool,
        /// When the screener came to a stand: its speed last fell below 0.5 m/s before the
        /// contact, session seconds, no earlier than 3 s before it. `None` when it was still
        /// moving then, or too little of it was seen.
        #[serde(default)]
        stood: Option<f64>,
        /// Direction from the screener to the screened defender (without defenders: to the
        /// user) at contact, radians in the court frame, −π..=π.
        angle: f64,
    },
    /// The ball crossed a line of the floor.
    OutOfBounds {
        /// Who touched it last, where known.
        last: Option<PlayerIx>,
    },
    /// A dribbler went at least a few strides towards the basket attacked.
    Drive {
        /// Who.
        player: PlayerIx,
        /// When the drive ended, seconds.
        to_s: f64,
    },
    /// A player without the ball starts to move with purpose.
    CutOnset {
        /// Who.
        player: PlayerIx,
        /// When the movement ended, seconds.
        to_s: f64,
    },
    /// A player comes to a stop.
    Arrival {
        /// Who.
        player: PlayerIx,
        /// Nearest named spot of the court within 1.5 m, as the playbook writes it.
        spot: Option<String>,
    },
}

/// Kinds of pass that height tells apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Flight {
    /// Straight.
    Chest,
    /// Touches the floor on the way.
    Bounce,
    /// Rises well above both players.
    Lob,
}

/// One possession, or one repetition in practice.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Possession {
    /// Number in the session, from 1.
    pub number: usize,
    /// Start: control is gained (a repetition: the first movement), seconds.
    pub from_s: f64,
    /// End: the basket, the opponents' control, the whistle (a repetition: the ball at the ring,
    /// or the end of the last movement), seconds.
    pub to_s: f64,
    /// Index of the team in attack.
    pub team: usize,
    /// End attacked.
    pub end: End,
    /// The attackers on the floor.
    pub attackers: Vec<PlayerIx>,
    /// The defenders on the floor; empty where there are none in the data.
    pub defenders: Vec<PlayerIx>,
    /// From when on all attackers are in the front court, seconds; `None` when never.
    pub set_s: Option<f64>,
    /// How it began.
    pub start: Start,
    /// How it ended.
    pub result: Outcome,
    /// Offensive rebounds in it.
    pub second_chances: u32,
    /// On the run or against a set defence.
    pub pace: Pace,
}

/// Whether a possession was played on the run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Pace {
    /// Over before all attackers were in the front court, or within a few seconds of it.
    Transition,
    /// Against a set defence.
    HalfCourt,
    /// Not known.
    #[default]
    Unknown,
}

/// How a possession began.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Start {
    /// Ball won in play.
    Live,
    /// From out of bounds or after a score.
    DeadBall,
    /// A repetition in practice.
    Repetition,
    /// Not known.
    Unknown,
}

/// How a possession ended.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Outcome {
    /// `made`, `missed`, `turnover`, `foul`, `stopped`, or unknown.
    pub kind: OutcomeKind,
    /// Points scored, where known.
    pub points: Option<u32>,
    /// Where this comes from.
    pub source: Source,
}

/// Where a fact comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Source {
    /// The event file.
    Given,
    /// Worked out from the tracks.
    Inferred,
}

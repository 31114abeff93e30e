//! The plain data that later stages read.

use serde::{Deserialize, Serialize};
use setdrift_court::AttackPoint;

/// Names one off-script segment among many sessions.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct StretchId {
    /// Session id.
    pub session: String,
    /// Number of the possession in the session.
    pub possession: usize,
    /// Index of the segment in the reading.
    pub segment: usize,
}

/// An off-script stretch, ready to be compared: attack frame, 10 Hz.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Stretch {
    /// Which.
    pub id: StretchId,
    /// From, session seconds.
    pub from_s: f64,
    /// To, session seconds.
    pub to_s: f64,
    /// Player ids, one per row of `paths`.
    pub players: Vec<String>,
    /// `paths[player][frame]`; `None` where unknown.
    pub paths: Vec<Vec<Option<AttackPoint>>>,
    /// `ball[frame]`; `None` where unknown.
    pub ball: Vec<Option<AttackPoint>>,
    /// Events in the stretch in trade words, by time: `pass`, `hand-off`, `screen` …
    pub events: Vec<String>,
    /// Points scored on the possession, where known.
    pub points: Option<u32>,
}

/// A group of off-script stretches that are alike.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Group {
    /// Letter for people: `A`, `B` …, by size.
    pub name: String,
    /// In trade words.
    pub description: String,
    /// Members, the medoid first.
    pub members: Vec<StretchId>,
    /// Mean paths of the five (attack frame, 10 Hz), rows aligned to the medoid's.
    pub mean: Vec<Vec<AttackPoint>>,
    /// Mean path of the ball; empty without one.
    pub ball: Vec<AttackPoint>,
    /// Player ids with how often each took part in the main movement, most often first.
    pub players: Vec<(String, usize)>,
    /// Mean distance between members, metres per player.
    pub spread_m: f64,
    /// Share of resamples in which the group comes back, 0..=1.
    pub stability: f64,
    /// Possessions with a known result, and points scored on them.
    pub results: (usize, u32),
}

/// What the grouping found, with the parameters the data chose.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Grouping {
    /// Groups by size.
    pub groups: Vec<Group>,
    /// Stretches that are like no other.
    pub noise: Vec<StretchId>,
    /// Neighbourhood radius, metres per player.
    pub radius_m: f64,
    /// Least number of stretches in a neighbourhood.
    pub least: usize,
}

/// Executed against declared, for one role in one step.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RoleDrift {
    /// Option key.
    pub option: String,
    /// Step, from 1.
    pub step: usize,
    /// Role name.
    pub role: String,
    /// Declared path, attack frame as declared, 10 Hz.
    pub declared: Vec<AttackPoint>,
    /// Mean executed path over all sessions, frame by frame.
    pub mean: Vec<AttackPoint>,
    /// Per session in date order.
    pub sessions: Vec<SessionDrift>,
    /// The line for people, where the change is more than chance.
    pub finding: Option<String>,
}

/// One session's part of a [`RoleDrift`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SessionDrift {
    /// Session id.
    pub session: String,
    /// Date, where known.
    pub date: Option<String>,
    /// Number of runs.
    pub runs: usize,
    /// Mean place at the frame where executed and declared differ most, attack frame.
    pub place: AttackPoint,
    /// Mean signed offset from the declared path there: further from the end line, metres.
    pub out_m: f64,
    /// The same to the right, metres.
    pub right_m: f64,
    /// Half-width of the 95 % interval of the offset's length, metres; `None` under 3 runs.
    pub half_width_m: Option<f64>,
}

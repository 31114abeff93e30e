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
    /// The same events with who and where, by time.
    pub moves: Vec<Move>,
    /// Points scored on the possession, where known.
    pub points: Option<u32>,
}

/// An event of a stretch, tied to its rows so that it can be compared whoever did it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Move {
    /// What.
    pub kind: MoveKind,
    /// Row of [`Stretch::paths`] of the player who does it.
    pub row: usize,
    /// Row of the team-mate it is done with or for.
    pub with: Option<usize>,
    /// Frame of the stretch at which it begins.
    pub frame: usize,
    /// Where it begins, attack frame.
    pub place: AttackPoint,
    /// Where it ends, for a pass: the catch.
    pub to: Option<AttackPoint>,
}

/// Kinds of [`Move`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MoveKind {
    /// Pass to a team-mate.
    Pass,
    /// Given over within arm's reach.
    HandOff,
    /// Puts the ball on the floor and goes.
    Dribble,
    /// Goes towards the basket with the ball.
    Drive,
    /// Screen for the player with the ball.
    BallScreen,
    /// Screen for a player without the ball.
    OffBallScreen,
    /// Shot.
    Shot,
}

/// How a member of a group lies on the group's mean.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fit {
    /// For each row of the mean, the row of the member.
    pub rows: Vec<usize>,
    /// Whether the member is taken to the other side of the floor.
    pub mirrored: bool,
    /// Distance from the medoid, metres per player; 0 for the medoid.
    pub distance_m: f64,
}

/// A group of off-script stretches that are alike.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Group {
    /// Letter for people: `A`, `B` …, by size.
    pub name: String,
    /// In trade words.
    pub description: String,
    /// Members, the medoid first, then by their distance from it.
    pub members: Vec<StretchId>,
    /// How each member lies on the mean, in the order of `members`.
    pub fits: Vec<Fit>,
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
    /// Mean silhouette width at the chosen radius, −1..=1; 0 without groups.
    pub silhouette: f64,
    /// The radii tried, metres per player, each with its mean silhouette width: the curve the
    /// choice rests on.
    pub tried: Vec<(f64, f64)>,
    /// What could not be done and why, in words.
    pub limits: Vec<String>,
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
    /// Radius of the 95 % confidence region of the mean at each frame, metres; `None` where fewer
    /// than three runs are known.
    pub region_m: Vec<Option<f64>>,
    /// Frame of `declared` at which executed and declared differ most.
    pub frame: usize,
    /// Change over the sessions, where there are enough runs in two or more sessions.
    pub trend: Option<Trend>,
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

/// How the offset of a [`RoleDrift`] changes from session to session.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Trend {
    /// Frame of the declared path at which the change is greatest.
    pub frame: usize,
    /// Change per session, further from the end line, metres.
    pub out_m: f64,
    /// Change per session, to the right, metres.
    pub right_m: f64,
    /// Share of random orders of the runs in which a change this great appears, 0..=1.
    pub p: f64,
    /// The same, allowing for the number of roles and steps looked at (Benjamini–Hochberg).
    pub q: f64,
}

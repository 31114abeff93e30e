//! The plain data that later stages read. Times are session time in seconds.

use serde::{Deserialize, Serialize};
use setdrift_court::AttackPoint;

/// Where in the results a check belongs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Place {
    /// Number of the possession in the session.
    pub possession: usize,
    /// Index of the segment in the reading.
    pub segment: usize,
    /// Node of the graph.
    pub node: usize,
    /// Index of the action in the node; for an expectation, its index in the option.
    pub action: usize,
}

/// Verdict on when a player went.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum When {
    /// Before the window.
    Early,
    /// In the window.
    OnTime,
    /// After the window.
    Late,
    /// Did not go.
    Never,
    /// The data do not tell.
    CannotTell,
}

/// One cue, judged once.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CueCheck {
    /// Which action of which run.
    pub place: Place,
    /// The mover (session index).
    pub player: usize,
    /// The mover's role.
    pub role: usize,
    /// The action as declared.
    pub text: String,
    /// When the cue came, where it was found.
    pub cue_s: Option<f64>,
    /// When the player went, where it was found.
    pub onset_s: Option<f64>,
    /// `onset - cue`, seconds.
    pub lag_s: Option<f64>,
    /// One standard deviation of the lag from rate and noise, seconds.
    pub uncertainty_s: Option<f64>,
    /// The declared window, seconds after the cue.
    pub window_s: (f64, f64),
    /// Verdict.
    pub when: When,
    /// A jab before the true movement, seconds, where there was one.
    pub jab_s: Option<f64>,
    /// What the verdict rests on, or why there is none.
    pub evidence: String,
}

/// Verdict on where.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kept {
    /// As declared.
    Yes,
    /// Not as declared.
    No,
    /// The data do not tell.
    CannotTell,
}

/// One placement or expectation, judged once.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlacementCheck {
    /// Which action (or expectation) of which run.
    pub place: Place,
    /// The player concerned, where it is one.
    pub player: Option<usize>,
    /// Role concerned, where it is one.
    pub role: Option<usize>,
    /// As declared.
    pub text: String,
    /// When it was judged, seconds.
    pub time_s: f64,
    /// Where the player was, in the attack frame with the run's hand undone (as declared).
    pub at: Option<AttackPoint>,
    /// How far off, metres (or a count); positive is outside what was declared.
    pub off_by: Option<f64>,
    /// Verdict.
    pub kept: Kept,
    /// What it rests on, in words with numbers.
    pub evidence: String,
}

/// What one session's audit found.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Audit {
    /// Cues.
    pub cues: Vec<CueCheck>,
    /// Placements and expectations.
    pub placements: Vec<PlacementCheck>,
}

/// Lags of one player at one cue, over all runs given.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LagSummary {
    /// Option key.
    pub option: String,
    /// The action as declared.
    pub text: String,
    /// Player's id, the same over sessions; `None` for all players.
    pub player: Option<String>,
    /// How often each verdict: early, on time, late, never, cannot tell.
    pub counts: [usize; 5],
    /// Median lag, seconds, where any was measured.
    pub median_s: Option<f64>,
    /// Bootstrap 95 % interval of the median, seconds; `None` under 5 lags.
    pub interval_s: Option<(f64, f64)>,
    /// Interquartile range, seconds.
    pub spread_s: Option<f64>,
    /// The declared window, seconds.
    pub window_s: (f64, f64),
}

//! What people wrote down beside the tracks: possession results and hand tags.

use serde::{Deserialize, Serialize};

/// Kinds of outcome.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum OutcomeKind {
    /// A basket.
    Made,
    /// A shot without a basket.
    Missed,
    /// Ball lost without a shot.
    Turnover,
    /// Free throws or side ball.
    Foul,
    /// Stopped by the staff, or by the end of the period.
    Stopped,
    /// Not known.
    Unknown,
}

/// One line of an event file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GivenResult {
    /// When the possession ended, session seconds.
    pub time_s: f64,
    /// Team id as in the session.
    pub team: String,
    /// What happened.
    pub kind: OutcomeKind,
    /// Points scored, where given.
    pub points: Option<u32>,
}

/// One line of a tag file: a person says what was run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Tag {
    /// From, session seconds.
    pub from_s: f64,
    /// To, session seconds.
    pub to_s: f64,
    /// Option key of the playbook.
    pub option: String,
    /// `right` or `left`, where the person said.
    pub hand: Option<String>,
}

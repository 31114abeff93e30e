//! All that one run of the pipeline found, as plain data: the one thing tables and page are made of.

use setdrift_drift::model::{Grouping, RoleDrift, Stretch};
use setdrift_events::model::{BallStory, Possession};
use setdrift_playbook::graph::Graph;
use setdrift_recognise::model::Reading;
use setdrift_timing::model::{Audit, LagSummary};
use setdrift_tracks::{Quality, Session};

/// One session with what was found in it.
#[derive(Debug, Clone, PartialEq)]
pub struct SessionResults {
    /// The cleaned tracks.
    pub session: Session,
    /// Ball events.
    pub story: BallStory,
    /// Possessions of the audited team, in time order.
    pub possessions: Vec<Possession>,
    /// One reading per possession, in the same order.
    pub readings: Vec<Reading>,
    /// Cues and placements.
    pub audit: Audit,
    /// What could not be judged in this session and why.
    pub limits: Vec<String>,
    /// How good the tracks are, and which verdicts they support.
    pub quality: Quality,
}

/// One run of the pipeline over one or more sessions.
#[derive(Debug, Clone, PartialEq)]
pub struct Results {
    /// The playbook that was compared with.
    pub graph: Graph,
    /// Sessions in date order.
    pub sessions: Vec<SessionResults>,
    /// Off-script stretches of all sessions.
    pub stretches: Vec<Stretch>,
    /// Groups among them.
    pub grouping: Grouping,
    /// Executed against declared.
    pub drift: Vec<RoleDrift>,
    /// Lags per option, action and player over all sessions.
    pub lags: Vec<LagSummary>,
}

//! All that one run of the pipeline found, as plain data: the one thing tables and page are made of.

use setdrift_drift::model::{Grouping, RoleDrift, Stretch};
use setdrift_events::model::{BallStory, Possession};
use setdrift_playbook::graph::Graph;
use setdrift_recognise::model::Reading;
use setdrift_timing::model::{Audit, LagSummary};
use setdrift_tracks::{Quality, Session, Track};

/// How much is known of a possession.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coverage {
    /// Share of its attackers' frames that is known, 0..=1.
    pub attackers: f64,
    /// Share of its frames in which the ball is known, 0..=1; none without a ball in the data.
    pub ball: Option<f64>,
}

impl Coverage {
    /// Of a stretch of a session, seconds, and those who attack in it; `on_floor` is how many
    /// usually do, some of whom may be quite unknown.
    #[must_use]
    pub fn of(
        session: &Session,
        (from_s, to_s): (f64, f64),
        attackers: &[usize],
        on_floor: usize,
    ) -> Self {
        let (from, to) = (session.frame_at(from_s), session.frame_at(to_s));
        let frames = (to + 1 - from) as f64;
        let known = |t: &Track| (from..=to).filter(|f| t.at(*f).is_some()).count() as f64 / frames;
        let each = attackers.iter().filter_map(|i| session.tracks.get(*i));
        let sum: f64 = each.map(known).sum();
        let all = on_floor.max(attackers.len()).max(1);
        Self {
            attackers: sum / all as f64,
            ball: session.ball.as_ref().map(known),
        }
    }
}

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
    /// How much is known of each possession, in the same order.
    pub coverage: Vec<Coverage>,
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

//! Moments to look at again.

use crate::model::{CueCheck, PlacementCheck};
use serde::{Deserialize, Serialize};

/// A stretch of one session's tracks, to be shown or cut from the video.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Clip {
    /// Session id.
    pub session: String,
    /// Number of the possession in the session.
    pub possession: usize,
    /// From, session seconds.
    pub from_s: f64,
    /// The moment itself, session seconds.
    pub moment_s: f64,
    /// To, session seconds.
    pub to_s: f64,
    /// What is to be seen.
    pub evidence: String,
}

/// Seconds shown before and after the moment.
const BEFORE: f64 = 3.0;
const AFTER: f64 = 3.0;

impl Clip {
    fn about(session: &str, possession: usize, first: f64, last: f64, evidence: &str) -> Self {
        Self {
            session: session.to_owned(),
            possession,
            from_s: first - BEFORE,
            moment_s: last,
            to_s: last + AFTER,
            evidence: evidence.to_owned(),
        }
    }

    /// The clip of a cue, from before the earlier of cue and start to after the later; `None`
    /// where neither is known.
    #[must_use]
    pub fn of_cue(session: &str, c: &CueCheck) -> Option<Self> {
        let (first, last) = match (c.cue_s, c.onset_s) {
            (Some(a), Some(b)) => (a.min(b), a.max(b)),
            (Some(a), None) => (a, a + c.window_s.1.max(0.0)),
            (None, Some(b)) => (b, b),
            (None, None) => return None,
        };
        Some(Self::about(
            session,
            c.place.possession,
            first,
            last,
            &c.evidence,
        ))
    }

    /// The clip of a placement.
    #[must_use]
    pub fn of_placement(session: &str, p: &PlacementCheck) -> Self {
        Self::about(session, p.place.possession, p.time_s, p.time_s, &p.evidence)
    }
}

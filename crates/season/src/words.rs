//! The words that tables, terminal and page share for one and the same thing.

use setdrift_events::model::{EventKind, Pace, Source, Start};
use setdrift_playbook::graph::Graph;
use setdrift_recognise::model::{Hand, Reading, Verdict, What};
pub use setdrift_timing::clock;
use setdrift_timing::model::{Kept, When};
use setdrift_tracks::{OutcomeKind, SessionKind};

/// Game or practice.
#[must_use]
pub fn kind(kind: SessionKind) -> &'static str {
    match kind {
        SessionKind::Game => "game",
        SessionKind::Practice => "practice",
    }
}

/// How a possession began.
#[must_use]
pub fn start(start: Start) -> &'static str {
    match start {
        Start::Live => "live",
        Start::DeadBall => "dead ball",
        Start::Repetition => "repetition",
        Start::Unknown => "unknown",
    }
}

/// How a possession ended.
#[must_use]
pub fn outcome(kind: OutcomeKind) -> &'static str {
    match kind {
        OutcomeKind::Made => "made",
        OutcomeKind::Missed => "missed",
        OutcomeKind::Turnover => "turnover",
        OutcomeKind::Foul => "foul",
        OutcomeKind::Stopped => "stopped",
        OutcomeKind::Unknown => "unknown",
    }
}

/// On the run, or against a set defence.
#[must_use]
pub fn pace(pace: Pace) -> &'static str {
    match pace {
        Pace::Transition => "transition",
        Pace::HalfCourt => "half court",
        Pace::Unknown => "unknown",
    }
}

/// Where a fact comes from.
#[must_use]
pub fn source(source: Source) -> &'static str {
    match source {
        Source::Given => "given",
        Source::Inferred => "inferred",
    }
}

/// Which hand.
#[must_use]
pub fn hand(hand: Hand) -> &'static str {
    match hand {
        Hand::Right => "right",
        Hand::Left => "left",
    }
}

/// Verdict on a run.
#[must_use]
pub fn verdict(verdict: Verdict) -> String {
    match verdict {
        Verdict::Ran => "ran".to_owned(),
        Verdict::RanWithFaults => "ran with faults".to_owned(),
        Verdict::BrokenOff { step } => format!("broken off at step {step}"),
    }
}

/// Verdict on when.
#[must_use]
pub fn when(when: When) -> &'static str {
    match when {
        When::Early => "early",
        When::OnTime => "on time",
        When::Late => "late",
        When::Never => "never",
        When::CannotTell => "cannot tell",
    }
}

/// Verdict on where.
#[must_use]
pub fn kept(kept: Kept) -> &'static str {
    match kept {
        Kept::Yes => "kept",
        Kept::No => "not kept",
        Kept::CannotTell => "cannot tell",
    }
}

/// What a segment is.
#[must_use]
pub fn what(what: &What) -> &'static str {
    match what {
        What::Option(_) => "option",
        What::Set { .. } => "set",
        What::OffScript => "off script",
        What::NotEnoughData { .. } => "not enough data",
    }
}

/// A possession in one line: its segments in order.
#[must_use]
pub fn sentence(graph: &Graph, reading: &Reading) -> String {
    let parts = reading.segments.iter().map(|s| match &s.what {
        What::Option(run) => {
            format!(
                "{} ({})",
                graph.options[run.option].title,
                verdict(run.verdict)
            )
        }
        What::Set { formation } => format!("in {formation}"),
        other => what(other).to_owned(),
    });
    parts.collect::<Vec<_>>().join(", ")
}

/// An event's name and people.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EventWords {
    /// Name.
    pub name: &'static str,
    /// Who.
    pub player: Option<usize>,
    /// To or for whom.
    pub other: Option<usize>,
    /// Catch of a pass, seconds.
    pub catch_s: Option<f64>,
}

/// Names an event and its people.
#[must_use]
pub fn event(kind: &EventKind) -> EventWords {
    let one = |name, player| EventWords {
        name,
        player,
        other: None,
        catch_s: None,
    };
    match *kind {
        EventKind::Pass {
            from, to, catch_s, ..
        } => EventWords {
            name: "pass",
            player: Some(from),
            other: Some(to),
            catch_s: Some(catch_s),
        },
        EventKind::HandOff { from, to } => EventWords {
            other: Some(to),
            ..one("hand-off", Some(from))
        },
        EventKind::DribbleStart { player, .. } => one("dribble", Some(player)),
        EventKind::PickUp { player } => one("pick-up", Some(player)),
        EventKind::Shot { player, .. } => one("shot", Some(player)),
        EventKind::Rebound { player } => one("rebound", Some(player)),
        EventKind::Turnover { lost_by, won_by } => EventWords {
            other: won_by,
            ..one("turnover", lost_by)
        },
        EventKind::DeadBall => one("dead ball", None),
        EventKind::Screen { screener, user, .. } => EventWords {
            other: Some(user),
            ..one("screen", Some(screener))
        },
        EventKind::OutOfBounds { last } => one("out of bounds", last),
        EventKind::Drive { player, .. } => one("drive", Some(player)),
        EventKind::CutOnset { player, .. } => one("cut", Some(player)),
        EventKind::Arrival { player, .. } => one("arrival", Some(player)),
    }
}

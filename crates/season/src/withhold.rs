//! What the quality sheet says the data does not support is not judged, whatever a stage found.

use crate::results::Coverage;
use setdrift_events::model::{BallStory, Event, EventKind, Possession, Source};
use setdrift_playbook::graph::{CueEvent, Graph};
use setdrift_recognise::model::{Reading, What};
use setdrift_timing::model::{Audit, CueCheck, Kept, When};
use setdrift_tracks::{LEAST_KNOWN, Level, OutcomeKind, Quality, Session, Track, VerdictKind};

/// What the ball did is said where it is known within so many seconds of the moment (our choice: half
/// of the shortest flight of a pass across a lane).
const SIGHT_S: f64 = 0.25;

/// Whether the data supports a kind of verdict at all.
pub fn allows(quality: &Quality, kind: VerdictKind) -> bool {
    refusal(quality, kind).is_none()
}

fn refusal(quality: &Quality, kind: VerdictKind) -> Option<&str> {
    let s = quality.support(kind)?;
    (s.level == Level::No).then_some(s.reason.as_str())
}

/// What was found in a session, before anything of it is taken back.
pub struct FoundIn<'a> {
    /// The session.
    pub session: &'a Session,
    /// Its sheet.
    pub quality: &'a Quality,
    /// Ball events.
    pub story: &'a mut BallStory,
    /// Possessions.
    pub possessions: &'a mut [Possession],
    /// Their readings.
    pub readings: &'a mut [Reading],
    /// Cues and placements.
    pub audit: &'a mut Audit,
}

impl FoundIn<'_> {
    /// Takes back every verdict that the data does not support: of the whole session by its sheet,
    /// and of single possessions and moments where the players or the ball are unknown. Returns how
    /// much is known of each possession.
    pub fn withhold(self, graph: &Graph) -> Vec<Coverage> {
        let on_floor = self.quality.sides.first().map_or(0, |s| s.on_floor);
        let known: Vec<Coverage> = self
            .possessions
            .iter()
            .map(|p| Coverage::of(self.session, (p.from_s, p.to_s), &p.attackers, on_floor))
            .collect();
        of_session(self.quality, graph, self.readings, self.audit);
        of_possessions(&known, self.possessions, self.readings, self.audit);
        if let Some(ball) = &self.session.ball {
            let sight = Sight {
                session: self.session,
                ball,
            };
            sight.of_cues(graph, self.audit);
            of_ball(&sight, self.quality, self.story, self.possessions);
        }
        known
    }
}

/// Where the ball is known.
struct Sight<'a> {
    session: &'a Session,
    ball: &'a Track,
}

impl Sight<'_> {
    fn at(&self, time_s: f64) -> bool {
        let (from, to) = (
            self.session.frame_at(time_s - SIGHT_S),
            self.session.frame_at(time_s + SIGHT_S),
        );
        (from..=to).any(|f| self.ball.at(f).is_some())
    }

    /// Whether the moments an event claims are seen. Events of players alone always are.
    fn of(&self, event: &Event) -> bool {
        let (needs, other) = match event.kind {
            EventKind::Pass { catch_s, .. } => (true, Some(catch_s)),
            EventKind::Shot { ring_s, .. } => (true, Some(ring_s)),
            _ => (by_ball(&event.kind), None),
        };
        !needs || (self.at(event.time_s) && other.is_none_or(|t| self.at(t)))
    }

    fn of_cues(&self, graph: &Graph, audit: &mut Audit) {
        for cue in &mut audit.cues {
            if let Some(t) = cue.cue_s
                && cue.when != When::CannotTell
                && on_a_pass(graph, cue)
                && !self.at(t)
            {
                take_back(cue, "the ball is unknown when the cue comes");
            }
        }
    }
}

/// Whether an event is of the ball.
fn by_ball(kind: &EventKind) -> bool {
    !matches!(
        kind,
        EventKind::Screen { .. } | EventKind::CutOnset { .. } | EventKind::Arrival { .. }
    )
}

fn take_back(cue: &mut CueCheck, reason: &str) {
    cue.when = When::CannotTell;
    cue.lag_s = None;
    reason.clone_into(&mut cue.evidence);
}

/// Possessions of which more is unknown than known.
fn of_possessions(
    known: &[Coverage],
    possessions: &mut [Possession],
    readings: &mut [Reading],
    audit: &mut Audit,
) {
    for ((k, p), reading) in known.iter().zip(possessions).zip(readings) {
        if k.attackers >= LEAST_KNOWN {
            continue;
        }
        let reason = format!(
            "possession {}: attackers known {:.0} % of it, below {:.0} %",
            p.number,
            100.0 * k.attackers,
            100.0 * LEAST_KNOWN
        );
        for segment in &mut reading.segments {
            segment.what = What::NotEnoughData {
                missing: 1.0 - k.attackers,
            };
        }
        audit.cues.retain(|c| c.place.possession != p.number);
        audit.placements.retain(|c| c.place.possession != p.number);
        reading.limits.push(reason);
    }
}

/// Events and results by the ball where it is unknown, or where the sheet says no to their kind.
fn of_ball(
    sight: &Sight<'_>,
    quality: &Quality,
    story: &mut BallStory,
    possessions: &mut [Possession],
) {
    let no_passes = refusal(quality, VerdictKind::Passes);
    let no_shots = refusal(quality, VerdictKind::Shots);
    let refused = |kind: &EventKind| match kind {
        EventKind::Shot { .. } | EventKind::Rebound { .. } => no_shots.is_some(),
        kind => no_passes.is_some() && by_ball(kind),
    };
    let (kept, gone): (Vec<Event>, Vec<Event>) = std::mem::take(&mut story.events)
        .into_iter()
        .partition(|e| !refused(&e.kind) && sight.of(e));
    story.events = kept;
    for p in possessions {
        let ends = |e: &&Event| e.time_s >= p.from_s && e.time_s <= p.to_s + SIGHT_S;
        // A result may also be told by what came after, which a sheet's no takes back as well.
        let refused = match p.result.kind {
            OutcomeKind::Made | OutcomeKind::Missed => no_shots.is_some(),
            OutcomeKind::Turnover => no_passes.is_some(),
            _ => false,
        };
        let unseen = gone.iter().filter(ends).any(|e| match p.result.kind {
            OutcomeKind::Made | OutcomeKind::Missed => matches!(e.kind, EventKind::Shot { .. }),
            OutcomeKind::Turnover => matches!(e.kind, EventKind::Turnover { .. }),
            _ => false,
        });
        if (refused || unseen) && p.result.source == Source::Inferred {
            p.result.kind = OutcomeKind::Unknown;
            p.result.points = None;
        }
    }
    let unseen = gone.iter().filter(|e| !refused(&e.kind)).count();
    if unseen > 0 {
        let s = if unseen == 1 { "" } else { "s" };
        story.limits.push(format!(
            "{unseen} ball event{s} left out: the ball is unknown at their moment"
        ));
    }
    story.limits.extend(
        [no_passes, no_shots]
            .into_iter()
            .flatten()
            .map(str::to_owned),
    );
}

/// Takes back every verdict of a kind that the sheet says no to, with its reason.
fn of_session(quality: &Quality, graph: &Graph, readings: &mut [Reading], audit: &mut Audit) {
    if let Some(reason) = refusal(quality, VerdictKind::Option) {
        let missing = quality.sides.first().map_or(1.0, |s| 1.0 - s.coverage);
        for reading in readings {
            for segment in &mut reading.segments {
                segment.what = What::NotEnoughData { missing };
            }
            reading.limits.push(reason.to_owned());
        }
        audit.cues.clear();
        audit.placements.clear();
        return;
    }
    let lag = refusal(quality, VerdictKind::CueLag);
    let release = refusal(quality, VerdictKind::Release);
    for cue in &mut audit.cues {
        let reason = lag.or_else(|| release.filter(|_| on_a_pass(graph, cue)));
        if let Some(reason) = reason
            && cue.when != When::CannotTell
        {
            take_back(cue, reason);
        }
    }
    if let Some(reason) = refusal(quality, VerdictKind::Placement) {
        for check in &mut audit.placements {
            check.kept = Kept::CannotTell;
            check.off_by = None;
            reason.clone_into(&mut check.evidence);
        }
    }
}

/// Whether what a cue waits for is known by the ball alone.
fn on_a_pass(graph: &Graph, cue: &CueCheck) -> bool {
    let action = graph
        .nodes
        .get(cue.place.node)
        .and_then(|n| n.actions.get(cue.place.action));
    action.and_then(|a| a.cue.as_ref()).is_some_and(|c| {
        matches!(
            c.event,
            CueEvent::Passes | CueEvent::Catches | CueEvent::Dribbles | CueEvent::HandsOff
        )
    })
}

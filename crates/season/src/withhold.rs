//! What the quality sheet says the data does not support is not judged, whatever a stage found.

use setdrift_playbook::graph::{CueEvent, Graph};
use setdrift_recognise::model::{Reading, What};
use setdrift_timing::model::{Audit, CueCheck, Kept, When};
use setdrift_tracks::{Level, Quality, VerdictKind};

/// Whether the data supports a kind of verdict at all.
pub fn allows(quality: &Quality, kind: VerdictKind) -> bool {
    refusal(quality, kind).is_none()
}

fn refusal(quality: &Quality, kind: VerdictKind) -> Option<&str> {
    let s = quality.support(kind)?;
    (s.level == Level::No).then_some(s.reason.as_str())
}

/// Takes back every verdict of a kind that the sheet says no to, with its reason.
pub fn withhold(quality: &Quality, graph: &Graph, readings: &mut [Reading], audit: &mut Audit) {
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
            cue.when = When::CannotTell;
            cue.lag_s = None;
            reason.clone_into(&mut cue.evidence);
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

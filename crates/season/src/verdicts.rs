//! What the audit adds to the verdicts: a run that left a cue or a placement unkept ran with faults.

use setdrift_recognise::model::{Fault, Reading, Run, Verdict, What};
use setdrift_timing::model::{Audit, Kept, Place, When};

/// Adds cues early, late or never and placements not kept to the faults of their runs.
pub fn add_audit(readings: &mut [Reading], audit: &Audit) {
    for cue in &audit.cues {
        let word = match cue.when {
            When::Early => "early",
            When::Late => "late",
            When::Never => "never went",
            When::OnTime | When::CannotTell => continue,
        };
        let by = cue
            .lag_s
            .map_or_else(String::new, |lag| format!(" ({lag:+.1} s after the cue)"));
        let fault = Fault {
            time_s: cue.onset_s.or(cue.cue_s).unwrap_or_default(),
            role: Some(cue.role),
            player: Some(cue.player),
            text: format!("{word}: {}{by}", cue.text),
        };
        add(readings, cue.place, fault);
    }
    for check in audit.placements.iter().filter(|c| c.kept == Kept::No) {
        let fault = Fault {
            time_s: check.time_s,
            role: check.role,
            player: check.player,
            text: format!("{}: {}", check.text, check.evidence),
        };
        add(readings, check.place, fault);
    }
}

fn add(readings: &mut [Reading], place: Place, fault: Fault) {
    if let Some(run) = run_at(readings, place) {
        run.faults.push(fault);
        if run.verdict == Verdict::Ran {
            run.verdict = Verdict::RanWithFaults;
        }
    }
}

fn run_at(readings: &mut [Reading], place: Place) -> Option<&mut Run> {
    let reading = readings
        .iter_mut()
        .find(|r| r.possession == place.possession)?;
    match &mut reading.segments.get_mut(place.segment)?.what {
        What::Option(run) => Some(run),
        _ => None,
    }
}

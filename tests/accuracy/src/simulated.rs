//! The truth of simulated sessions as possessions and labels.

use setdrift_events::model::{Outcome, Pace, Possession, Source, Start};
use setdrift_playbook::graph::Graph;
use setdrift_recognise::model::{Reading, What};
use setdrift_recognise::score::{Label, Score, ScoreError};
use setdrift_simulate::Truth;
use setdrift_tracks::{OutcomeKind, Session};

/// The audited team's true possessions, as `events` would say them.
#[must_use]
pub fn possessions(s: &Session, truth: &Truth) -> Vec<Possession> {
    let mut out = Vec::new();
    for p in truth.possessions.iter().filter(|p| p.team == 0) {
        let mid = s.frame_at((p.from_s + p.to_s) / 2.0);
        let on = |team| {
            s.roster(team)
                .filter(|i| s.tracks[*i].at(mid).is_some())
                .collect()
        };
        out.push(Possession {
            number: out.len() + 1,
            from_s: p.from_s,
            to_s: p.to_s,
            team: 0,
            end: p.end,
            attackers: on(0),
            defenders: on(1),
            set_s: None,
            start: Start::Unknown,
            result: Outcome {
                kind: OutcomeKind::Unknown,
                points: None,
                source: Source::Inferred,
            },
            second_chances: p.second_chances,
            pace: Pace::Unknown,
        });
    }
    out
}

/// Adds one true possession to a score at 10 Hz. `readings` are those found, with bounds of their
/// own: a frame that none of them covers is said to be off script. Frames at which either label
/// would be right (standing in the formation or between options) are left out.
///
/// # Errors
/// [`ScoreError`] never, unless this is broken.
pub fn add(
    score: &mut Score,
    graph: &Graph,
    truth: &Truth,
    possession: &Possession,
    readings: &[Reading],
) -> Result<(), ScoreError> {
    let (mut is, mut said): (Vec<Label>, Vec<Label>) = (Vec::new(), Vec::new());
    let frames = ((possession.to_s - possession.from_s) * 10.0) as usize;
    for i in 0..frames {
        let t = possession.from_s + i as f64 / 10.0;
        let Some(label) = truth.label_at(t) else {
            continue;
        };
        is.push(graph.option(label));
        let mut segments = readings.iter().flat_map(|r| &r.segments);
        said.push(segments.find_map(|s| match &s.what {
            What::Option(run) if t >= s.from_s && t < s.to_s => Some(run.option),
            _ => None,
        }));
    }
    score.add(&is, &said)
}

//! The audit of a session: every run of every possession.

use crate::cues::{Heard, cue_checks};
use crate::habits::{Answer, weigh};
use crate::model::{Audit, PlacementCheck};
use crate::params::ValidParams;
use crate::scene::Scene;
use rayon::prelude::*;
use setdrift_events::model::{BallStory, Possession};
use setdrift_playbook::graph::Graph;
use setdrift_recognise::model::{Reading, What};
use setdrift_tracks::{Session, noise_of};

/// Audits every run of a session against the playbook.
///
/// `readings` belong to `possessions` by their number; a reading without its possession, or a
/// run that does not fit session and graph, is passed over. Checks come in the order of readings,
/// segments, steps and actions, whatever the thread count.
#[must_use]
pub fn audit(
    session: &Session,
    graph: &Graph,
    story: &BallStory,
    possessions: &[Possession],
    readings: &[Reading],
    params: &ValidParams,
) -> Audit {
    let wandering = wandering(session);
    let parts: Vec<(Vec<Heard>, Vec<PlacementCheck>)> = readings
        .par_iter()
        .map(|reading| {
            let mut out = (vec![], vec![]);
            let Some(possession) = possessions.iter().find(|p| p.number == reading.possession)
            else {
                return out;
            };
            for (i, segment) in reading.segments.iter().enumerate() {
                let What::Option(run) = &segment.what else {
                    continue;
                };
                let span = (segment.from_s, segment.to_s);
                if let Some(scene) = Scene::new(
                    session,
                    graph,
                    story,
                    possession,
                    (i, run, span),
                    (&wandering, params),
                ) {
                    out.0.extend(cue_checks(&scene));
                    out.1.extend(crate::placements::placement_checks(&scene));
                    out.1
                        .extend(crate::expectations::expectation_checks(&scene));
                }
            }
            out
        })
        .collect();
    let (mut heard, mut all) = (vec![], Audit::default());
    for (cues, placements) in parts {
        heard.extend(cues);
        all.placements.extend(placements);
    }
    let answers: Vec<&Answer> = heard
        .iter()
        .filter_map(|h| Some(&h.answer.as_ref()?.0))
        .collect();
    let mut weighed = weigh(&answers).into_iter();
    all.cues = heard
        .into_iter()
        .map(|h| {
            let own = h.answer.as_ref().and_then(|_| weighed.next());
            h.concluded(own.as_ref(), params)
        })
        .collect();
    all
}

/// Standard deviation per axis of what wanders in each player's noise, metres; 0 where it does not
/// show.
fn wandering(session: &Session) -> Vec<f64> {
    session
        .tracks
        .par_iter()
        .map(|t| {
            let (white, all) = noise_of(t, session.rate_hz);
            let colour = (all * all - white * white).max(0.0).sqrt();
            if colour.is_finite() { colour } else { 0.0 }
        })
        .collect()
}

//! The truth of simulated sessions as possessions and labels.

use setdrift_events::model::{Outcome, Pace, Possession, Source, Start};
use setdrift_playbook::graph::Graph;
use setdrift_recognise::model::{Hand, Reading, What};
use setdrift_recognise::score::{Label, Score, ScoreError};
use setdrift_simulate::{Did, SensorModel, Settings, Truth, simulate_game};
use setdrift_tracks::{OutcomeKind, Session};

/// A game of the simulator under a sensor.
///
/// # Errors
/// In words; any error here is a bug.
pub fn game(graph: &Graph, sensor: &SensorModel, seed: u64) -> Result<(Session, Truth), String> {
    let occasion = setdrift_simulated::measured_occasion(&format!("game-{seed}"));
    let said = |e: &dyn std::fmt::Display| e.to_string();
    let (world, truth) =
        simulate_game(graph, &occasion, &Settings::default(), seed).map_err(|e| said(&e))?;
    let sensed = world.sense(sensor, seed + 1).map_err(|e| said(&e))?;
    let session = setdrift_simulated::session(&sensed).map_err(|e| said(&e))?;
    Ok((session, truth))
}

/// True runs of the audited team: option, from, to.
#[must_use]
pub fn true_runs(graph: &Graph, truth: &Truth) -> Vec<(usize, f64, f64)> {
    let spans = truth.spans.iter().filter_map(|s| match &s.what {
        Did::Option(run) => Some((graph.option(&run.option)?, s.from_s, s.to_s)),
        _ => None,
    });
    spans.collect()
}

/// True runs that are said by half or more, and those of them with every role and the hand right.
#[must_use]
pub fn roles_right(graph: &Graph, truth: &Truth, readings: &[Reading]) -> [usize; 2] {
    let mut counts = [0, 0];
    for span in &truth.spans {
        let Did::Option(is) = &span.what else {
            continue;
        };
        let mut segments = readings.iter().flat_map(|r| &r.segments);
        let said = segments.find_map(|s| match &s.what {
            What::Option(run) if graph.option(&is.option) == Some(run.option) => {
                let common = s.to_s.min(span.to_s) - s.from_s.max(span.from_s);
                (common > 0.5 * (span.to_s - span.from_s)).then_some(run)
            }
            _ => None,
        });
        let Some(said) = said else { continue };
        let hand = (said.hand == Hand::Left) == (is.hand == "left");
        let mut roles = said.players.iter().zip(&is.players);
        counts[0] += 1;
        counts[1] += usize::from(hand && roles.all(|(a, b)| *a == Some(*b)));
    }
    counts
}

/// The audited team's true possessions, as `events` would say them.
#[must_use]
pub fn possessions(s: &Session, truth: &Truth) -> Vec<Possession> {
    let mut out = Vec::new();
    for p in truth.possessions.iter().filter(|p| p.team == 0) {
        // A sensor that loses someone for a moment does not send him off.
        let mid = (p.from_s + p.to_s) / 2.0;
        let around = s.frame_at(mid - 2.0)..s.frame_at(mid + 2.0);
        let seen = |i: &usize| around.clone().any(|f| s.tracks[*i].at(f).is_some());
        let on = |team| s.roster(team).filter(seen).collect();
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

/// True and said labels of one true possession at 10 Hz. `readings` are those found, with bounds of
/// their own: a frame that none of them covers is said to be off script. Frames at which either
/// label would be right (standing in the formation or between options) are left out.
#[must_use]
pub fn labels(
    graph: &Graph,
    truth: &Truth,
    possession: &Possession,
    readings: &[Reading],
) -> (Vec<Label>, Vec<Label>) {
    let at = |t: f64| {
        let label = truth.label_at(t)?;
        let mut segments = readings.iter().flat_map(|r| &r.segments);
        let said = segments.find_map(|s| match &s.what {
            What::Option(run) if t >= s.from_s && t < s.to_s => Some(run.option),
            _ => None,
        });
        Some((graph.option(label), said))
    };
    times(possession).filter_map(at).unzip()
}

/// Of one label per frame, those of frames that [`labels`] keeps.
#[must_use]
pub fn kept(truth: &Truth, possession: &Possession, said: &[Label]) -> Vec<Label> {
    let all = times(possession).zip(said);
    all.filter_map(|(t, l)| truth.label_at(t).map(|_| *l))
        .collect()
}

fn times(possession: &Possession) -> impl Iterator<Item = f64> {
    let from = possession.from_s;
    let frames = ((possession.to_s - from) * 10.0) as usize;
    (0..frames).map(move |i| from + i as f64 / 10.0)
}

/// Adds one true possession to a score, as [`labels`].
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
    let (is, said) = labels(graph, truth, possession, readings);
    score.add(&is, &said)
}

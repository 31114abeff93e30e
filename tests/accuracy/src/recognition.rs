//! Recognition against known truth: frame accuracy, segmental F1, edit score, roles and hand.

use crate::other_world::{Made, TrueRun};
use rayon::prelude::*;
use setdrift_events::model::BallStory;
use setdrift_playbook::graph::Graph;
use setdrift_recognise::{
    Recogniser, ValidParams,
    model::{Hand, Reading, Run, What},
    score::{Label, Score, ScoreError},
};

/// Counts over many possessions.
#[derive(Debug, Clone, Default)]
pub struct Tally {
    /// Frame and segment scores.
    pub score: Score,
    /// True runs that a reading overlaps by half with the right option.
    pub matched: usize,
    /// Of those, with every role and the hand right.
    pub roles_right: usize,
    /// Off-script frames: true and said, said, true.
    pub off: [usize; 3],
}

impl Tally {
    /// Adds one possession.
    ///
    /// # Errors
    /// [`ScoreError`] when labellings differ in length.
    pub fn add(&mut self, made: &Made, reading: &Reading) -> Result<(), ScoreError> {
        let said = labels(made, reading);
        self.score.add(&made.labels, &said)?;
        for (truth, said) in made.labels.iter().zip(&said) {
            self.off[0] += usize::from(truth.is_none() && said.is_none());
            self.off[1] += usize::from(said.is_none());
            self.off[2] += usize::from(truth.is_none());
        }
        for truth in &made.runs {
            if let Some(run) = best_match(truth, reading) {
                self.matched += 1;
                let hand = (run.hand == Hand::Left) == truth.left;
                let roles = run
                    .players
                    .iter()
                    .zip(&truth.players)
                    .all(|(a, b)| *a == Some(*b));
                self.roles_right += usize::from(hand && roles);
            }
        }
        Ok(())
    }
}

/// The reading's option labels at 10 Hz, as many as the truth's.
#[must_use]
pub fn labels(made: &Made, reading: &Reading) -> Vec<Label> {
    let mut said = vec![None; made.labels.len()];
    for s in &reading.segments {
        if let What::Option(run) = &s.what {
            for (i, l) in said.iter_mut().enumerate() {
                let t = made.possession.from_s + i as f64 / 10.0;
                if t >= s.from_s - 1e-9 && t < s.to_s - 1e-9 {
                    *l = Some(run.option);
                }
            }
        }
    }
    // The possession's end belongs to its last segment.
    if let (Some(last), Some(s)) = (said.last_mut(), reading.segments.last())
        && let What::Option(run) = &s.what
    {
        *last = Some(run.option);
    }
    said
}

fn best_match<'a>(truth: &TrueRun, reading: &'a Reading) -> Option<&'a Run> {
    reading.segments.iter().find_map(|s| {
        let common = truth.to_s.min(s.to_s) - truth.from_s.max(s.from_s);
        match &s.what {
            What::Option(run)
                if run.option == truth.option && common > 0.5 * (truth.to_s - truth.from_s) =>
            {
                Some(run.as_ref())
            }
            _ => None,
        }
    })
}

/// Reads every possession, bounds given.
///
/// # Errors
/// In words; any error here is a bug.
pub fn read(graph: &Graph, made: &[Made], params: &ValidParams) -> Result<Vec<Reading>, String> {
    let recogniser = Recogniser::new(graph, params);
    made.par_iter()
        .map(|m| {
            let story = BallStory::default();
            let possessions = [m.possession.clone()];
            recogniser
                .read(&m.session, &story, &possessions)
                .map_err(|e| e.to_string())?
                .pop()
                .ok_or_else(|| "no reading".to_owned())
        })
        .collect()
}

/// Reads every possession and counts.
///
/// # Errors
/// In words; any error here is a bug.
pub fn measure(graph: &Graph, made: &[Made], params: &ValidParams) -> Result<Tally, String> {
    let mut tally = Tally::default();
    for (m, r) in made.iter().zip(&read(graph, made, params)?) {
        tally.add(m, r).map_err(|e| e.to_string())?;
    }
    Ok(tally)
}

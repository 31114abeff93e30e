//! Thresholds of recognition from a person's tags: which would have agreed best, judged on tags that
//! had no say in the choice.

use crate::{
    agreement::{Known, TagError, compared, known, labels},
    pipeline::{Input, PipelineError, cut, read},
    settings::{SettingsError, SettingsFile},
};
use setdrift_playbook::graph::Graph;
use setdrift_recognise::score::Score;
use setdrift_tracks::Tag;
use std::collections::BTreeMap;

/// Costs of a frame off script that are tried, beside the one in use.
const OFF_SCRIPT: [f64; 6] = [0.8, 1.1, 1.4, 1.8, 2.2, 2.8];
/// Factors on the tolerances that are tried, beside the one in use.
const TOLERANCE_SCALE: [f64; 4] = [0.7, 0.85, 1.2, 1.5];
/// Parts into which tags of fewer sessions than this are dealt out.
const FOLDS: usize = 5;

/// One setting that was tried.
#[derive(Debug, Clone, PartialEq)]
pub struct Tried {
    /// Cost of a frame off script.
    pub off_script: f64,
    /// Factor on tolerances.
    pub tolerance_scale: f64,
    /// Frame accuracy over all tags.
    pub accuracy: f64,
    /// Segmental F1 at 50 % over all tags.
    pub f1: Option<f64>,
}

/// What the tags speak for.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    /// Every setting tried; the one in use first.
    pub tried: Vec<Tried>,
    /// Into how many parts the tags were dealt: sessions, or possessions in turn.
    pub folds: usize,
    /// Frame accuracy of the setting in use on all parts.
    pub in_use: f64,
    /// Frame accuracy on each part of the setting that was best on the others, taken together: what
    /// calibrating is worth on tags that had no say in it.
    pub held_out: f64,
    /// The settings that agree best with all tags, the rest as in use.
    pub best: SettingsFile,
}

/// Why nothing could be calibrated.
#[derive(Debug, thiserror::Error)]
pub enum CalibrateError {
    /// The tags.
    #[error(transparent)]
    Tags(#[from] TagError),
    /// A stage.
    #[error(transparent)]
    Pipeline(#[from] PipelineError),
    /// The settings.
    #[error(transparent)]
    Settings(#[from] SettingsError),
    /// Too little to choose by and to judge by.
    #[error(
        "{stretches} tagged stretches: expected at least {FOLDS}, to choose by some and judge by others"
    )]
    TooFew {
        /// How many there are.
        stretches: usize,
    },
}

/// Tries settings on every session with tags (session ids with their tags). `progress` is told of
/// each setting done, out of [`candidates`].
///
/// # Errors
/// [`CalibrateError`]: tags that cannot be compared with, or fewer than five stretches of them.
pub fn calibrate(
    inputs: &[Input],
    tags: &BTreeMap<String, Vec<Tag>>,
    graph: &Graph,
    in_use: &SettingsFile,
    progress: &dyn Fn(),
) -> Result<Calibration, CalibrateError> {
    let settings = in_use.clone().check()?;
    let mut sessions = Vec::new();
    for input in inputs {
        let id = &input.session.id;
        let Some(tags) = tags.get(id).filter(|tags| !tags.is_empty()) else {
            continue;
        };
        let truth: Vec<Known> = known(graph, id, tags)?;
        let (story, found) = cut(&input.session, &input.given, &settings);
        sessions.push((input, truth, story, found));
    }
    if sessions.is_empty() {
        return Err(TagError::None.into());
    }
    let by_session = sessions.len() >= FOLDS;
    let folds = if by_session { sessions.len() } else { FOLDS };
    let mut scores: Vec<Vec<Score>> = Vec::new();
    let candidates = candidates(in_use);
    for candidate in &candidates {
        let settings = candidate.clone().check()?;
        let mut parts = vec![Score::default(); folds];
        let mut stretches = 0;
        for (s, (input, truth, story, found)) in sessions.iter().enumerate() {
            // Which stretches are compared may not depend on what is tried.
            let compared = compared(found, truth);
            let readings = read(&input.session, graph, story, &mut found.clone(), &settings)?;
            for stretch in compared {
                let (is, said) = labels(truth, &readings, stretch);
                let part = if by_session { s } else { stretches % folds };
                // Both are made from the same frames.
                let _ = parts[part].add(&is, &said);
                stretches += 1;
            }
        }
        if stretches < FOLDS {
            return Err(CalibrateError::TooFew { stretches });
        }
        scores.push(parts);
        progress();
    }
    Ok(judged(&candidates, &scores))
}

/// The settings tried: the one in use, then each of the two thresholds changed alone.
pub fn candidates(in_use: &SettingsFile) -> Vec<SettingsFile> {
    let mut all = vec![in_use.clone()];
    for off_script in OFF_SCRIPT {
        let mut one = in_use.clone();
        one.recognition.off_script = off_script;
        one.recognition.leave = in_use.recognition.leave.min(off_script);
        all.push(one);
    }
    for scale in TOLERANCE_SCALE {
        let mut one = in_use.clone();
        one.recognition.tolerance_scale = scale;
        all.push(one);
    }
    all.retain(|one| one.clone().check().is_ok());
    all
}

/// Right frames and frames of some parts.
fn frames(parts: &[Score], which: impl Fn(usize) -> bool) -> (usize, usize) {
    let mut sum = (0, 0);
    for (_, part) in parts.iter().enumerate().filter(|(i, _)| which(*i)) {
        for ((is, said), n) in part.confusion() {
            sum.0 += if is == said { *n } else { 0 };
            sum.1 += n;
        }
    }
    sum
}

fn share((right, all): (usize, usize)) -> f64 {
    right as f64 / all.max(1) as f64
}

/// The candidate with the most right frames in some parts; of equals the first.
fn best(scores: &[Vec<Score>], which: impl Fn(usize) -> bool + Copy) -> usize {
    (0..scores.len())
        .rev()
        .max_by_key(|c| frames(&scores[*c], which).0)
        .unwrap_or(0)
}

fn judged(candidates: &[SettingsFile], scores: &[Vec<Score>]) -> Calibration {
    let folds = scores.first().map_or(0, Vec::len);
    let mut held_out = (0, 0);
    for fold in 0..folds {
        let chosen = best(scores, |part| part != fold);
        let (right, all) = frames(&scores[chosen], |part| part == fold);
        held_out = (held_out.0 + right, held_out.1 + all);
    }
    let tried = candidates.iter().zip(scores).map(|(c, parts)| {
        let mut all = Score::default();
        for part in parts {
            all.merge(part);
        }
        Tried {
            off_script: c.recognition.off_script,
            tolerance_scale: c.recognition.tolerance_scale,
            accuracy: share(frames(parts, |_| true)),
            f1: all.f1()[2],
        }
    });
    Calibration {
        tried: tried.collect(),
        folds,
        in_use: share(frames(&scores[0], |_| true)),
        held_out: share(held_out),
        best: candidates[best(scores, |_| true)].clone(),
    }
}

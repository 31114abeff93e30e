//! How well a labelling agrees with another: frame accuracy, edit score, segmental F1 (Lea,
//! Flynn, Vidal, Reiter & Hager 2017, CVPR) and Cohen's kappa (Cohen 1960, Educational and
//! Psychological Measurement 20(1), 37–46).
//!
//! A labelling is one label per frame; `None` is background.

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A label, or background.
pub type Label = Option<usize>;

/// Why two labellings cannot be compared.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("labellings differ in length: truth has {truth} frames, prediction {predicted}")]
pub struct ScoreError {
    /// Frames of the truth.
    pub truth: usize,
    /// Frames of the prediction.
    pub predicted: usize,
}

/// A maximal run of one label, background left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    /// The label.
    pub label: usize,
    /// First frame.
    pub start: usize,
    /// One past the last frame.
    pub end: usize,
}

/// Running counts over any number of sequences, so that scores can be taken over a whole set.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Score {
    frames: usize,
    right: usize,
    edits: Vec<f64>,
    /// Per threshold: true positives, false positives, false negatives.
    f1: [[usize; 3]; 3],
    /// Frames by (truth, prediction).
    confusion: BTreeMap<(Label, Label), usize>,
}

/// Overlap thresholds of the segmental F1.
pub const OVERLAPS: [f64; 3] = [0.10, 0.25, 0.50];

impl Score {
    /// Adds one sequence.
    ///
    /// # Errors
    /// [`ScoreError`] when the lengths differ.
    pub fn add(&mut self, truth: &[Label], predicted: &[Label]) -> Result<(), ScoreError> {
        if truth.len() != predicted.len() {
            return Err(ScoreError {
                truth: truth.len(),
                predicted: predicted.len(),
            });
        }
        self.frames += truth.len();
        for (t, p) in truth.iter().zip(predicted) {
            self.right += usize::from(t == p);
            *self.confusion.entry((*t, *p)).or_default() += 1;
        }
        let (ts, ps) = (stretches(truth), stretches(predicted));
        self.edits.push(edit_score(&ts, &ps));
        for (slot, overlap) in self.f1.iter_mut().zip(OVERLAPS) {
            let hits = hits(&ts, &ps, overlap);
            slot[0] += hits;
            slot[1] += ps.len() - hits;
            slot[2] += ts.len() - hits;
        }
        Ok(())
    }

    /// Adds the counts of another score.
    pub fn merge(&mut self, other: &Self) {
        self.frames += other.frames;
        self.right += other.right;
        self.edits.extend_from_slice(&other.edits);
        for (slot, more) in self.f1.iter_mut().zip(&other.f1) {
            for (n, more) in slot.iter_mut().zip(more) {
                *n += more;
            }
        }
        for (labels, more) in &other.confusion {
            *self.confusion.entry(*labels).or_default() += more;
        }
    }

    /// Share of frames with the right label, 0..=1; `None` without frames.
    #[must_use]
    pub fn frame_accuracy(&self) -> Option<f64> {
        (self.frames > 0).then(|| self.right as f64 / self.frames as f64)
    }

    /// Mean edit score over sequences, 0..=100; `None` without sequences.
    #[must_use]
    pub fn edit(&self) -> Option<f64> {
        (!self.edits.is_empty()).then(|| self.edits.iter().sum::<f64>() / self.edits.len() as f64)
    }

    /// Segmental F1 at [`OVERLAPS`], 0..=1 each; `None` where neither side has a segment.
    #[must_use]
    pub fn f1(&self) -> [Option<f64>; 3] {
        self.f1.map(|[tp, fp, fn_]| {
            let all = 2 * tp + fp + fn_;
            (all > 0).then(|| 2.0 * tp as f64 / all as f64)
        })
    }

    /// Cohen's kappa over frames, background as a label of its own; `None` where chance alone
    /// would agree everywhere.
    #[must_use]
    pub fn kappa(&self) -> Option<f64> {
        let n = self.frames as f64;
        let observed = self.frame_accuracy()?;
        let mut truth: BTreeMap<Label, usize> = BTreeMap::new();
        let mut predicted: BTreeMap<Label, usize> = BTreeMap::new();
        for ((t, p), count) in &self.confusion {
            *truth.entry(*t).or_default() += count;
            *predicted.entry(*p).or_default() += count;
        }
        let chance: f64 = truth
            .iter()
            .map(|(l, c)| *c as f64 / n * (predicted.get(l).copied().unwrap_or(0) as f64 / n))
            .sum();
        (chance < 1.0).then(|| (observed - chance) / (1.0 - chance))
    }

    /// Frames by (truth, prediction).
    #[must_use]
    pub fn confusion(&self) -> &BTreeMap<(Label, Label), usize> {
        &self.confusion
    }
}

/// Maximal runs of a labelling, background left out.
#[must_use]
pub fn stretches(labels: &[Label]) -> Vec<Stretch> {
    let mut found: Vec<Stretch> = Vec::new();
    for (i, label) in labels.iter().enumerate() {
        let Some(label) = *label else { continue };
        match found.last_mut() {
            Some(s) if s.end == i && s.label == label => s.end = i + 1,
            _ => found.push(Stretch {
                label,
                start: i,
                end: i + 1,
            }),
        }
    }
    found
}

/// `100 (1 - Levenshtein(labels) / longer)`; 100 for two empty lists.
fn edit_score(truth: &[Stretch], predicted: &[Stretch]) -> f64 {
    let longer = truth.len().max(predicted.len());
    if longer == 0 {
        return 100.0;
    }
    let mut row: Vec<usize> = (0..=predicted.len()).collect();
    for (i, t) in truth.iter().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, p) in predicted.iter().enumerate() {
            let replace = diagonal + usize::from(t.label != p.label);
            diagonal = row[j + 1];
            row[j + 1] = replace.min(row[j] + 1).min(diagonal + 1);
        }
    }
    100.0 * (1.0 - row[predicted.len()] as f64 / longer as f64)
}

/// Predicted segments whose best same-label overlap is at least `overlap` with a truth segment
/// that no earlier prediction took.
fn hits(truth: &[Stretch], predicted: &[Stretch], overlap: f64) -> usize {
    let mut used = vec![false; truth.len()];
    let mut count = 0;
    for p in predicted {
        let mut best: Option<(usize, f64)> = None;
        for (i, t) in truth.iter().enumerate().filter(|(_, t)| t.label == p.label) {
            let common = p.end.min(t.end).saturating_sub(p.start.max(t.start));
            let union = (p.end - p.start) + (t.end - t.start) - common;
            let iou = common as f64 / union as f64;
            if best.is_none_or(|(_, b)| iou > b) {
                best = Some((i, iou));
            }
        }
        if let Some((i, iou)) = best
            && iou >= overlap
            && !used[i]
        {
            used[i] = true;
            count += 1;
        }
    }
    count
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(s: &str) -> Vec<Label> {
        s.bytes()
            .map(|b| (b != b'.').then_some(b as usize))
            .collect()
    }

    fn score(truth: &str, predicted: &str) -> Score {
        let mut s = Score::default();
        s.add(&labels(truth), &labels(predicted)).unwrap();
        s
    }

    /// Worked by hand from the definitions of Lea et al. 2017: truth AAAAABBBBBCCCCC, predicted
    /// AAABBBBBBBCCACC. Accuracy 12/15; segments ABC against ABCAC, so edit 100 (1 - 2/5); at
    /// 10 and 25 % three of five predictions hit, 2*3/(5+3); at 50 % the first C (2/5) misses.
    #[test]
    fn worked_example() {
        let s = score("AAAAABBBBBCCCCC", "AAABBBBBBBCCACC");
        assert!((s.frame_accuracy().unwrap() - 0.80).abs() < 1e-12);
        assert!((s.edit().unwrap() - 60.0).abs() < 1e-12);
        let f1 = s.f1().map(Option::unwrap);
        assert!((f1[0] - 0.75).abs() < 1e-12);
        assert!((f1[1] - 0.75).abs() < 1e-12);
        assert!((f1[2] - 0.50).abs() < 1e-12);
    }

    /// Cohen 1960's table form worked by hand: 20 both yes, 5 and 10 off, 15 both no:
    /// observed 0.70, chance 0.50, kappa 0.40.
    #[test]
    fn kappa_by_hand() {
        let mut t = vec![Some(1); 25];
        t.extend(vec![Some(0); 25]);
        let mut p = vec![Some(1); 20];
        p.extend(vec![Some(0); 5]);
        p.extend(vec![Some(1); 10]);
        p.extend(vec![Some(0); 15]);
        let mut s = Score::default();
        s.add(&t, &p).unwrap();
        assert!((s.kappa().unwrap() - 0.40).abs() < 1e-12);
    }

    #[test]
    fn background_is_no_segment() {
        let s = score("..AA..", "..AA..");
        assert_eq!(s.f1()[2], Some(1.0));
        assert_eq!(score("....", "....").f1()[0], None);
        assert_eq!(score("....", "....").edit(), Some(100.0));
    }

    #[test]
    fn lengths_must_agree() {
        assert!(Score::default().add(&labels("AA"), &labels("A")).is_err());
    }
}

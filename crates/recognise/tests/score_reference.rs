//! Scores against scikit-learn 1.8.0 (accuracy, kappa, confusion) and rapidfuzz 3.14.3 (edit distance)
//! on random labellings, made by tests/reference/score/make.py and remade in CI.
#![allow(clippy::unwrap_used, missing_docs)]

use serde::Deserialize;
use setdrift_recognise::score::{Label, Score};

#[derive(Deserialize)]
struct Case {
    truth: Vec<i64>,
    said: Vec<i64>,
    accuracy: f64,
    kappa: f64,
    labels: Vec<i64>,
    confusion: Vec<Vec<usize>>,
    distance: usize,
    longer: usize,
}

fn label(l: i64) -> Label {
    usize::try_from(l).ok()
}

#[test]
fn scores_are_those_of_the_reference_libraries() {
    let text = include_str!("../../../tests/reference/score/values.json");
    let cases: Vec<Case> = serde_json::from_str(text).unwrap();
    assert_eq!(cases.len(), 200);
    for c in &cases {
        let of = |l: &[i64]| -> Vec<Label> { l.iter().map(|l| label(*l)).collect() };
        let mut score = Score::default();
        score.add(&of(&c.truth), &of(&c.said)).unwrap();
        assert!((score.frame_accuracy().unwrap() - c.accuracy).abs() < 1e-9);
        assert!((score.kappa().unwrap() - c.kappa).abs() < 1e-9);
        let edit = if c.longer == 0 {
            100.0
        } else {
            100.0 * (1.0 - c.distance as f64 / c.longer as f64)
        };
        assert!((score.edit().unwrap() - edit).abs() < 1e-9);
        for (is, row) in c.labels.iter().zip(&c.confusion) {
            for (said, n) in c.labels.iter().zip(row) {
                let key = (label(*is), label(*said));
                assert_eq!(score.confusion().get(&key).copied().unwrap_or(0), *n);
            }
        }
    }
}

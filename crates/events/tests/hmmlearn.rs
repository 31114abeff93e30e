//! Viterbi and forward–backward against hmmlearn 0.3.3 on ten random models; values made by
//! `tests/reference/events/make.py`.
#![allow(clippy::unwrap_used)]

use serde::Deserialize;
use setdrift_events::hmm::Chain;

#[derive(Deserialize)]
struct Case {
    start: Vec<f64>,
    transition: Vec<Vec<f64>>,
    emission: Vec<Vec<f64>>,
    seen: Vec<usize>,
    path: Vec<usize>,
    path_log_probability: f64,
    log_likelihood: f64,
    posterior: Vec<Vec<f64>>,
}

fn ln(v: &[f64]) -> Vec<f64> {
    v.iter().map(|x| x.ln()).collect()
}

#[test]
fn as_hmmlearn_on_random_models() {
    let text = include_str!("../../../tests/reference/events/values.json");
    let cases: Vec<Case> = serde_json::from_str(text).unwrap();
    assert_eq!(cases.len(), 10);
    for c in cases {
        let transition: Vec<Vec<f64>> = c.transition.iter().map(|r| ln(r)).collect();
        let chain = Chain::new(ln(&c.start), &transition);
        let emission: Vec<Vec<f64>> = c
            .seen
            .iter()
            .map(|s| c.emission.iter().map(|row| row[*s].ln()).collect())
            .collect();
        let (path, score) = chain.viterbi(&emission);
        assert!((score - c.path_log_probability).abs() < 1e-9);
        // Equally probable paths exist (two looks alike, swapped), so the path itself is judged
        // by its probability, worked out here from the model.
        let worth = |path: &[usize]| {
            let steps = path.windows(2).map(|w| c.transition[w[0]][w[1]].ln());
            let looks = path.iter().zip(&emission).map(|(s, e)| e[*s]);
            c.start[path[0]].ln() + steps.sum::<f64>() + looks.sum::<f64>()
        };
        assert_eq!(path.len(), c.path.len());
        assert!((worth(&path) - worth(&c.path)).abs() < 1e-9);
        let (posterior, total) = chain.posterior(&emission);
        assert!((total - c.log_likelihood).abs() < 1e-9);
        for (a, b) in posterior.iter().flatten().zip(c.posterior.iter().flatten()) {
            assert!((a - b).abs() < 1e-9, "{a} against {b}");
        }
    }
}

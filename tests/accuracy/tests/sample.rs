//! Recognition on the bundled scenario, true possession bounds given.
#![allow(clippy::unwrap_used)]

use setdrift_accuracy::simulated::{add, possessions, session};
use setdrift_events::model::BallStory;
use setdrift_recognise::score::Score;
use setdrift_recognise::{Params, recognise};
use setdrift_simulate::sample;

/// The bars of the main job: frame accuracy of option labels at least 0.90 in the practice and
/// 0.85 in the games.
#[test]
fn options_of_the_sample_are_recognised() {
    let text = include_str!("../../../sample-tracks/lantern.toml");
    let graph = setdrift_playbook::load_str(text, "lantern.toml")
        .unwrap()
        .graph;
    let params = Params::default().check().unwrap();
    for (s, truth) in sample::sessions(&graph).unwrap() {
        let read = session(&s).unwrap();
        let possessions = possessions(&read, &truth);
        let story = BallStory::default();
        let readings = recognise(&read, &graph, &story, &possessions, &params).unwrap();
        let mut score = Score::default();
        for (p, r) in possessions.iter().zip(&readings) {
            add(&mut score, &graph, &truth, p, r).unwrap();
        }
        let accuracy = score.frame_accuracy().unwrap();
        println!(
            "{}: frames {accuracy:.3}, F1 {:?}, edit {:?}",
            s.id,
            score.f1(),
            score.edit()
        );
        for ((t, said), n) in score.confusion() {
            if t != said && *n > 30 {
                let name = |l: &Option<usize>| l.map_or("-", |o| graph.options[o].id.as_str());
                println!(
                    "   {} said {}: {:.1} s",
                    name(t),
                    name(said),
                    *n as f64 / 10.0
                );
            }
        }
        let bar = if s.practice { 0.90 } else { 0.85 };
        assert!(accuracy >= bar, "{}: {accuracy:.3} under {bar}", s.id);
    }
}

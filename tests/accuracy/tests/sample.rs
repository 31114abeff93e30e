//! Recognition on the bundled scenario, true possession bounds given.
#![allow(clippy::unwrap_used)]

use setdrift_accuracy::simulated::{add, possessions};
use setdrift_events::model::BallStory;
use setdrift_recognise::score::Score;
use setdrift_recognise::{Params, Recogniser};
use setdrift_season::pipeline::{Input, review};
use setdrift_season::settings::Settings;
use setdrift_simulate::{TruthFile, sample};
use setdrift_simulated::session;
use setdrift_tracks::SessionKind;
use std::{fs, path::Path};

/// The bars of the main job: frame accuracy of option labels at least 0.90 in the practice and
/// 0.85 in the games.
#[test]
fn options_of_the_sample_are_recognised() {
    let text = include_str!("../../../sample-tracks/lantern.toml");
    let graph = setdrift_playbook::load_str(text, "lantern.toml")
        .unwrap()
        .graph;
    let params = Params::default().check().unwrap();
    let recogniser = Recogniser::new(&graph, &params);
    for (s, truth) in sample::sessions(&graph).unwrap() {
        let read = session(&s).unwrap();
        let possessions = possessions(&read, &truth);
        let story = BallStory::default();
        let readings = recogniser.read(&read, &story, &possessions).unwrap();
        let mut score = Score::default();
        for (p, r) in possessions.iter().zip(&readings) {
            add(&mut score, &graph, &truth, p, std::slice::from_ref(r)).unwrap();
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

/// The same bars over the whole job: the bundled files, read, cleaned, cut and recognised, against
/// the truth that lies beside them.
#[test]
fn the_whole_job_on_the_bundled_files_keeps_the_bars() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-tracks");
    let book = fs::read_to_string(folder.join("lantern.toml")).unwrap();
    let graph = setdrift_playbook::load_str(&book, "lantern.toml")
        .unwrap()
        .graph;
    let inputs = setdrift_tracks::sources(&folder)
        .unwrap()
        .iter()
        .map(|s| s.open().unwrap())
        .map(|l| Input {
            session: l.session,
            given: l.results,
            limits: vec![],
            quality: l.quality,
        })
        .collect();
    let settings = Settings::standard().unwrap();
    let results = review(inputs, graph, &settings, &|_| {}).unwrap();
    assert_eq!(results.sessions.len(), 4);
    for s in &results.sessions {
        let id = &s.session.id;
        let text = fs::read_to_string(folder.join(format!("truth/{id}.json"))).unwrap();
        let file: TruthFile = serde_json::from_str(&text).unwrap();
        let mut score = Score::default();
        for p in possessions(&s.session, &file.truth) {
            add(&mut score, &results.graph, &file.truth, &p, &s.readings).unwrap();
        }
        let accuracy = score.frame_accuracy().unwrap();
        println!("{id}, whole job: frames {accuracy:.3}, F1 {:?}", score.f1());
        let bar = if s.session.kind == SessionKind::Practice {
            0.90
        } else {
            0.85
        };
        assert!(accuracy >= bar, "{id}: {accuracy:.3} under {bar}");
    }
}

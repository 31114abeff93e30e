//! How right recognition is where its truth is known, possession bounds given. `cargo run -p
//! setdrift-accuracy` prints the whole table.
#![allow(clippy::unwrap_used)]

use setdrift_accuracy::other_world::{Made, World, make};
use setdrift_accuracy::recognition::{Tally, read};
use setdrift_accuracy::reliability::{Judged, classes, judged};
use setdrift_accuracy::simulated;
use setdrift_events::model::BallStory;
use setdrift_playbook::graph::Graph;
use setdrift_recognise::score::Score;
use setdrift_recognise::{Params, recognise};
use setdrift_simulate::SensorModel;

fn graph(text: &str) -> Graph {
    setdrift_playbook::load_str(text, "playbook").unwrap().graph
}

/// A playbook of twenty options, written after recognition's model, in a world of other bodies: at
/// least 0.93, 0.92, 0.90 of frames, F1@50 of 0.94, 0.93, 0.91, roles and hand right in 98, 98, 97 %,
/// off-script time found with recall and precision 0.89, at three sensors.
#[test]
fn another_playbook_in_another_world() {
    let g = graph(include_str!("../playbooks/breakwater.toml"));
    let params = Params::default().check().unwrap();
    for (world, frames, f1, roles) in [
        (World::OPTICAL, 0.93, 0.94, 0.98),
        (World::RADIO, 0.92, 0.93, 0.98),
        (World::POOR, 0.90, 0.91, 0.97),
    ] {
        let made: Vec<Made> = (400..430).map(|s| make(&g, &world, s).unwrap()).collect();
        let mut tally = Tally::default();
        for (m, r) in made.iter().zip(&read(&g, &made, &params).unwrap()) {
            tally.add(m, r).unwrap();
        }
        let [both, said, is] = tally.off.map(|n| n as f64);
        let got = [
            tally.score.frame_accuracy().unwrap(),
            tally.score.f1()[2].unwrap(),
            tally.roles_right as f64 / tally.matched as f64,
            both / is,
            both / said,
        ];
        println!("{} Hz: {got:.3?}", world.rate_hz);
        for (got, least) in got.iter().zip([frames, f1, roles, 0.89, 0.89]) {
            assert!(*got >= least, "{} Hz: {got} under {least}", world.rate_hz);
        }
    }
}

/// In the simulator's games, defenders and improvisations included, recognition does not yet reach
/// what is wanted (frames 0.96, 0.95, 0.93; F1@50 0.97, 0.96, 0.94); this keeps what it reaches. And
/// confidence may be taken at its word: in every class of at least forty verdicts the share that is
/// right is within 0.08 of what was said.
#[test]
fn games_of_the_simulator() {
    let g = setdrift_simulated::lantern().unwrap();
    let params = Params::default().check().unwrap();
    let story = BallStory::default();
    let mut all: Vec<Judged> = Vec::new();
    for (sensor, frames, f1) in [
        (SensorModel::optical(), 0.88, 0.90),
        (SensorModel::radio_20(), 0.88, 0.88),
        (SensorModel::radio_10(), 0.86, 0.87),
    ] {
        let mut score = Score::default();
        for seed in [950, 951] {
            let (session, truth) = simulated::game(&g, &sensor, seed).unwrap();
            let possessions = simulated::possessions(&session, &truth);
            let readings = recognise(&session, &g, &story, &possessions, &params).unwrap();
            all.extend(judged(&readings, &simulated::true_runs(&g, &truth)));
            for (p, r) in possessions.iter().zip(&readings) {
                simulated::add(&mut score, &g, &truth, p, std::slice::from_ref(r)).unwrap();
            }
        }
        let got = (score.frame_accuracy().unwrap(), score.f1()[2].unwrap());
        println!(
            "{} Hz: frames {:.3}, F1@50 {:.3}",
            sensor.rate_hz, got.0, got.1
        );
        assert!(
            got.0 >= frames && got.1 >= f1,
            "{} Hz: {got:?}",
            sensor.rate_hz
        );
    }
    for (n, said, right) in classes(&all) {
        println!("{n} verdicts said at {said:.3}: {right:.3} right");
        assert!(
            n < 40 || (said - right).abs() <= 0.08,
            "{n} at {said:.3}: {right:.3}"
        );
    }
}

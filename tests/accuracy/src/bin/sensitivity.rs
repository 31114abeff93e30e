//! Prints what each setting of recognition does to its rightness when it is changed alone.
//!
//! `cargo run -p setdrift-accuracy --bin sensitivity -- [POSSESSIONS]`
#![expect(
    clippy::print_stdout,
    reason = "printing the table is what this program is for"
)]

use setdrift_accuracy::other_world::{Made, World, make};
use setdrift_accuracy::{recognition::measure, simulated};
use setdrift_events::model::BallStory;
use setdrift_playbook::graph::Graph;
use setdrift_recognise::{Params, Recogniser, score::Score};
use setdrift_simulate::{SensorModel, Truth};
use setdrift_tracks::Session;
use std::{env, fs};

/// A setting, a value below its default and one above.
type Change = (&'static str, fn(&mut Params, f64), f64, f64);

const CHANGES: [Change; 16] = [
    ("off_script", |p, v| p.off_script = v, 1.1, 2.2),
    ("cap", |p, v| p.cap = v, 3.0, 6.0),
    ("tolerance_scale", |p, v| p.tolerance_scale = v, 0.75, 1.33),
    ("timing_s", |p, v| p.timing_s = v, 0.0, 0.3),
    ("ball_tolerance_m", |p, v| p.ball_tolerance_m = v, 1.2, 2.7),
    ("ball_weight", |p, v| p.ball_weight = v, 0.5, 2.0),
    ("entry", |p, v| p.entry = v, 2.0, 8.0),
    ("entry_mid_series", |p, v| p.entry_mid_series = v, 4.0, 16.0),
    ("entry_set", |p, v| p.entry_set = v, 1.0, 4.0),
    ("off_roster", |p, v| p.off_roster = v, 3.0, 12.0),
    ("break_off", |p, v| p.break_off = v, 2.0, 8.0),
    ("leave", |p, v| p.leave = v, 0.4, 0.9),
    ("fastest", |p, v| p.fastest = v as u32, 1.0, 3.0),
    ("slowest", |p, v| p.slowest = v as u32, 2.0, 5.0),
    ("least_evidence_s", |p, v| p.least_evidence_s = v, 0.5, 2.0),
    ("most_missing", |p, v| p.most_missing = v, 0.2, 0.6),
];

struct Data {
    lantern: Graph,
    unseen: Graph,
    made: Vec<Made>,
    game: (Session, Truth),
}

fn main() -> Result<(), String> {
    let count: u64 = env::args()
        .nth(1)
        .map_or(Ok(30), |a| a.parse())
        .map_err(|e| format!("{e}"))?;
    let graph = |path: &str| -> Result<Graph, String> {
        let text = fs::read_to_string(path).map_err(|e| format!("{path}: {e}"))?;
        let compiled = setdrift_playbook::load_str(&text, path).map_err(|e| e.to_string())?;
        Ok(compiled.graph)
    };
    let (lantern, unseen) = (
        graph("sample-tracks/lantern.toml")?,
        graph("tests/accuracy/playbooks/breakwater.toml")?,
    );
    let made = (700..700 + count)
        .map(|seed| make(&unseen, &World::RADIO, seed).map_err(|e| e.to_string()))
        .collect::<Result<_, _>>()?;
    let game = simulated::game(&lantern, &SensorModel::radio_20(), 970)?;
    let data = Data {
        lantern,
        unseen,
        made,
        game,
    };
    println!(
        "                          other world      simulated game\nsetting           value   frames  F1@50    frames  F1@50"
    );
    row(&data, "as by default", None, &Params::default())?;
    for (name, set, low, high) in CHANGES {
        for value in [low, high] {
            let mut params = Params::default();
            set(&mut params, value);
            row(&data, name, Some(value), &params)?;
        }
    }
    Ok(())
}

fn row(data: &Data, name: &str, value: Option<f64>, params: &Params) -> Result<(), String> {
    let params = params.check().map_err(|e| e.to_string())?;
    let other = measure(&data.unseen, &data.made, &params)?.score;
    let (session, truth) = &data.game;
    let possessions = simulated::possessions(session, truth);
    let story = BallStory::default();
    let readings = Recogniser::new(&data.lantern, &params)
        .read(session, &story, &possessions)
        .map_err(|e| e.to_string())?;
    let mut game = Score::default();
    for (p, r) in possessions.iter().zip(&readings) {
        simulated::add(&mut game, &data.lantern, truth, p, std::slice::from_ref(r))
            .map_err(|e| e.to_string())?;
    }
    let numbers = |s: &Score| {
        let f1 = s.f1()[2].unwrap_or(0.0);
        format!("{:.3}   {f1:.3}", s.frame_accuracy().unwrap_or(0.0))
    };
    let value = value.map_or(String::new(), |v| v.to_string());
    println!(
        "{name:<17} {value:>5}   {}    {}",
        numbers(&other),
        numbers(&game)
    );
    Ok(())
}

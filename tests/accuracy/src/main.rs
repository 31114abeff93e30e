//! Prints how often setdrift is right on tracks whose truth is known, possession bounds given.
//!
//! `cargo run -p setdrift-accuracy -- [PLAYBOOK [POSSESSIONS [GAMES]]]`
#![expect(
    clippy::print_stdout,
    reason = "printing the table is what this program is for"
)]

use setdrift_accuracy::{
    baseline::{self, Reject},
    other_world::{Made, World, make},
    recognition::{Tally, read},
    reliability::{Judged, brier, classes, judged},
    simulated,
};
use setdrift_events::model::BallStory;
use setdrift_playbook::graph::Graph;
use setdrift_recognise::{Params, Recogniser, ValidParams, score::Score};
use setdrift_simulate::SensorModel;
use std::{env, fs};

fn main() -> Result<(), String> {
    let mut args = env::args().skip(1);
    let path = args
        .next()
        .unwrap_or_else(|| "sample-tracks/lantern.toml".to_owned());
    let mut number = |usual: u64| {
        args.next()
            .map_or(Ok(usual), |a| a.parse())
            .map_err(|e| format!("{e}"))
    };
    let (possessions, games) = (number(60)?, number(3)?);
    let source = fs::read_to_string(&path).map_err(|e| format!("{path}: {e}"))?;
    let graph = setdrift_playbook::load_str(&source, &path)
        .map_err(|e| e.to_string())?
        .graph;
    let params = Params::default().check().map_err(|e| e.to_string())?;
    println!(
        "{path}: {} options, {} nodes",
        graph.options.len(),
        graph.nodes.len()
    );
    let mut all = Vec::new();
    println!("\nA world unlike the simulator's, {possessions} possessions");
    heading();
    for (name, world) in [
        ("optical 25 Hz 0.10 m", World::OPTICAL),
        ("radio 20 Hz 0.25 m", World::RADIO),
        ("radio 10 Hz 0.35 m", World::POOR),
    ] {
        other(&graph, name, &world, possessions, &params, &mut all)?;
    }
    reliability("that world", &all);
    all.clear();
    println!("\nThe simulator's games, {games} of them");
    heading();
    for (name, sensor) in [
        ("optical 25 Hz 0.10 m", SensorModel::optical()),
        ("radio 20 Hz 0.25 m", SensorModel::radio_20()),
        ("radio 10 Hz 0.35 m", SensorModel::radio_10()),
    ] {
        games_of(&graph, name, &sensor, games, &params, &mut all)?;
    }
    reliability("these games", &all);
    Ok(())
}

fn heading() {
    println!(
        "                        frames  F1@10  F1@25  F1@50  edit   roles  off script: recall precision"
    );
}

fn line(name: &str, score: &Score, rest: &str) {
    let f1 = score.f1().map(|f| f.unwrap_or(0.0));
    println!(
        "{name:<22}  {:.3}   {:.3}  {:.3}  {:.3}  {:5.1}  {rest}",
        score.frame_accuracy().unwrap_or(0.0),
        f1[0],
        f1[1],
        f1[2],
        score.edit().unwrap_or(0.0),
    );
}

fn share(a: usize, b: usize) -> f64 {
    a as f64 / b.max(1) as f64
}

fn other(
    graph: &Graph,
    name: &str,
    world: &World,
    count: u64,
    params: &ValidParams,
    all: &mut Vec<Judged>,
) -> Result<(), String> {
    let made = (0..count)
        .map(|seed| make(graph, world, seed).map_err(|e| e.to_string()))
        .collect::<Result<Vec<Made>, _>>()?;
    let readings = read(graph, &made, params)?;
    let mut tally = Tally::default();
    let mut plain = [Score::default(), Score::default()];
    for (m, r) in made.iter().zip(&readings) {
        tally.add(m, r).map_err(|e| e.to_string())?;
        let truth: Vec<_> = m
            .runs
            .iter()
            .map(|r| (r.option, r.from_s, r.to_s))
            .collect();
        all.extend(judged(std::slice::from_ref(r), &truth));
        for (score, reject) in plain.iter_mut().zip(RULES) {
            let said = baseline::labels(&m.session, graph, &m.possession, reject);
            score
                .add(&m.labels, &said[..m.labels.len()])
                .map_err(|e| e.to_string())?;
        }
    }
    let [both, said, is] = tally.off;
    let rest = format!(
        "{:.3}              {:.3}     {:.3}",
        share(tally.roles_right, tally.matched),
        share(both, is),
        share(both, said)
    );
    line(name, &tally.score, &rest);
    line("  sliding window", &plain[0], "");
    line("  with 10 % rule", &plain[1], "");
    Ok(())
}

/// The plain window is believed up to 3 square metres a body, 1.7 m root mean square: chosen once, not
/// searched for.
const RULES: [Reject; 2] = [Reject::Above(3.0), Reject::TenPercentBelowMean];

fn games_of(
    graph: &Graph,
    name: &str,
    sensor: &SensorModel,
    count: u64,
    params: &ValidParams,
    all: &mut Vec<Judged>,
) -> Result<(), String> {
    let (mut score, mut off) = (Score::default(), [0; 3]);
    let mut plain = [Score::default(), Score::default()];
    let recogniser = Recogniser::new(graph, params);
    for seed in 0..count {
        let (session, truth) = simulated::game(graph, sensor, 900 + seed)?;
        let possessions = simulated::possessions(&session, &truth);
        let story = BallStory::default();
        let readings = recogniser
            .read(&session, &story, &possessions)
            .map_err(|e| e.to_string())?;
        all.extend(judged(&readings, &simulated::true_runs(graph, &truth)));
        for (p, r) in possessions.iter().zip(&readings) {
            let (is, said) = simulated::labels(graph, &truth, p, std::slice::from_ref(r));
            for (a, b) in is.iter().zip(&said) {
                off[0] += usize::from(a.is_none() && b.is_none());
                off[1] += usize::from(b.is_none());
                off[2] += usize::from(a.is_none());
            }
            score.add(&is, &said).map_err(|e| e.to_string())?;
            for (score, reject) in plain.iter_mut().zip(RULES) {
                let said = baseline::labels(&session, graph, p, reject);
                let said = simulated::kept(&truth, p, &said);
                score.add(&is, &said).map_err(|e| e.to_string())?;
            }
        }
    }
    let rest = format!(
        "                   {:.3}     {:.3}",
        share(off[0], off[2]),
        share(off[0], off[1])
    );
    line(name, &score, &rest);
    line("  sliding window", &plain[0], "");
    line("  with 10 % rule", &plain[1], "");
    Ok(())
}

fn reliability(of: &str, all: &[Judged]) {
    println!(
        "\nConfidence of {} verdicts in {of} (Brier score {:.3})\n  runs   said  right",
        all.len(),
        brier(all)
    );
    for (n, said, right) in classes(all) {
        println!("  {n:>4}  {said:.3}  {right:.3}");
    }
}

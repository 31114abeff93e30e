//! Prints how often setdrift is right on tracks whose truth is known.
//!
//! `cargo run -p setdrift-accuracy -- [PLAYBOOK [POSSESSIONS]]`
#![expect(
    clippy::print_stdout,
    reason = "printing the table is what this program is for"
)]

use setdrift_accuracy::{
    other_world::{World, make},
    recognition::measure,
};
use setdrift_recognise::Params;
use std::{env, fs, process::ExitCode};

fn main() -> Result<ExitCode, String> {
    let mut args = env::args().skip(1);
    let path = args
        .next()
        .unwrap_or_else(|| "sample-tracks/lantern.toml".to_owned());
    let count: u64 = args
        .next()
        .map_or(Ok(200), |a| a.parse())
        .map_err(|e| format!("{e}"))?;
    let source = fs::read_to_string(&path).map_err(|e| format!("{path}: {e}"))?;
    let loaded = setdrift_playbook::load_str(&source, &path).map_err(|e| format!("{e:?}"))?;
    let graph = loaded.graph;
    println!(
        "{path}: {} options, {} nodes",
        graph.options.len(),
        graph.nodes.len()
    );
    println!("world     frames   F1@10  F1@25  F1@50  edit   roles  off-script recall/precision");
    for (name, world) in [
        ("optical", World::OPTICAL),
        ("radio", World::RADIO),
        ("poor", World::POOR),
    ] {
        let made = (0..count)
            .map(|seed| make(&graph, &world, seed).map_err(|e| e.to_string()))
            .collect::<Result<Vec<_>, _>>()?;
        let params = Params::default().check().map_err(|e| e.to_string())?;
        let tally = measure(&graph, &made, &params)?;
        let f1 = tally.score.f1().map(|f| f.unwrap_or(0.0));
        let share = |a: usize, b: usize| a as f64 / b.max(1) as f64;
        println!(
            "{name:<9} {:.3}    {:.3}  {:.3}  {:.3}  {:5.1}  {:.3}  {:.3}/{:.3}",
            tally.score.frame_accuracy().unwrap_or(0.0),
            f1[0],
            f1[1],
            f1[2],
            tally.score.edit().unwrap_or(0.0),
            share(tally.roles_right, tally.matched),
            share(tally.off[0], tally.off[2]),
            share(tally.off[0], tally.off[1]),
        );
    }
    Ok(ExitCode::SUCCESS)
}

//! Simulated games with known truth.
#![allow(
    dead_code,
    clippy::unwrap_used,
    reason = "helpers of tests, each file of which uses its part"
)]

use setdrift_playbook::graph::Graph;
use setdrift_simulate::{Occasion, Settings, SimPlayer, World, simulate_game};

pub fn graph() -> Graph {
    let text = include_str!("../../../../sample-tracks/lantern.toml");
    setdrift_playbook::load_str(text, "lantern.toml")
        .unwrap()
        .graph
}

pub fn world(graph: &Graph, seed: u64) -> World {
    let people = |team: usize, prefix: &str| -> Vec<SimPlayer> {
        (0..8)
            .map(|i| SimPlayer {
                id: format!("{prefix}{i}"),
                team,
                number: i.to_string(),
                name: format!("{prefix} {i}"),
                roles: vec![],
            })
            .collect()
    };
    let mut players = people(0, "H");
    players.extend(people(1, "O"));
    let occasion = Occasion {
        id: "made".into(),
        date: "2026-10-03".into(),
        teams: [
            ("herons".into(), "Marrow Bay Herons".into()),
            ("otters".into(), "Quarry Lane Otters".into()),
        ],
        players,
    };
    simulate_game(graph, &occasion, &Settings::default(), seed)
        .unwrap()
        .0
}

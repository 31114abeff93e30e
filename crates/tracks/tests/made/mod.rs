//! Simulated games with known truth.
#![allow(
    dead_code,
    clippy::unwrap_used,
    reason = "helpers of tests, each file of which uses its part"
)]

use setdrift_playbook::graph::Graph;
use setdrift_simulate::{Settings, World, simulate_game};
use setdrift_simulated::{lantern, occasion};

pub fn graph() -> Graph {
    lantern().unwrap()
}

pub fn world(graph: &Graph, seed: u64) -> World {
    simulate_game(graph, &occasion(), &Settings::default(), seed)
        .unwrap()
        .0
}

//! The club of the sample, with players enough for any test: their offence, and an occasion to play it.

use setdrift_playbook::Diagnostics;
use setdrift_playbook::graph::Graph;
use setdrift_simulate::{Occasion, SimPlayer};

/// The sample's playbook.
///
/// # Errors
/// What is wrong with it; never, unless the sample is broken.
pub fn lantern() -> Result<Graph, Diagnostics> {
    let text = include_str!("../../../sample-tracks/lantern.toml");
    Ok(setdrift_playbook::load_str(text, "lantern.toml")?.graph)
}

/// A day on which two teams of eight meet; anyone may have any role. What the simulator makes of a seed
/// depends on who plays, so measurements name their occasion.
#[must_use]
pub fn occasion() -> Occasion {
    let player = |i: usize| {
        let (team, n) = (i / 8, i % 8);
        let side = ["H", "O"][team];
        (format!("{side}{n}"), n, format!("{side} {n}"))
    };
    meeting("made", "2026-10-03", player)
}

/// The same with other players, on which ball events and recognition are measured.
#[must_use]
pub fn measured_occasion(id: &str) -> Occasion {
    let player = |i: usize| (format!("p{i}"), 4 + i, format!("Name{i}"));
    meeting(id, "2026-01-10", player)
}

/// `player` gives id, number and name of the first eight, at home, and of the others.
fn meeting(id: &str, date: &str, player: impl Fn(usize) -> (String, usize, String)) -> Occasion {
    let player = |i: usize| {
        let (id, number, name) = player(i);
        SimPlayer {
            id,
            team: i / 8,
            number: number.to_string(),
            name,
            roles: vec![],
        }
    };
    Occasion {
        id: id.into(),
        date: date.into(),
        teams: [
            ("herons".into(), "Marrow Bay Herons".into()),
            ("otters".into(), "Quarry Lane Otters".into()),
        ],
        players: (0..16).map(player).collect(),
    }
}

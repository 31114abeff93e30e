//! The bundled scenario: the invented Marrow Bay Herons in one practice and in three games
//! against the Quarry Lane Otters.
//!
//! Over the games the Herons make things up in five ways, 8, 6, 4, 3 and 2 times; 11 Quillard
//! leaves late more often than not, 5 Vellin leaves early; and the far-side wing starts the zipper
//! entry 0.5, 0.9 and 1.3 m higher than declared.

use crate::improvise::Improvisation;
use crate::{
    Habit, Occasion, PracticeSettings, RoleShift, SensorModel, Settings, SettingsError, SimPlayer,
    SimulatedSession, Truth, simulate_game, simulate_practice,
};
use setdrift_playbook::graph::Graph;

/// The option and role that drift over the games, and by how much in each, metres.
pub const DRIFT: (&str, &str, [f64; 3]) = ("zipper", "3", [0.5, 0.9, 1.3]);

/// Improvisations with how often each occurs in each game.
pub const MADE_UP: [(Improvisation, [usize; 3]); 5] = [
    (Improvisation::GiveAndGo, [3, 3, 2]),
    (Improvisation::HighBallScreen, [2, 2, 2]),
    (Improvisation::PostSplit, [1, 2, 1]),
    (Improvisation::ClearOut, [1, 1, 1]),
    (Improvisation::BaselineDrift, [1, 0, 1]),
];

const HERONS: [(&str, &str, &[&str]); 10] = [
    ("3", "Tarrow", &["1", "2"]),
    ("5", "Vellin", &["1", "2"]),
    ("8", "Osmarck", &["1", "2", "3"]),
    ("11", "Quillard", &["2", "3"]),
    ("14", "Brenholt", &["3", "4"]),
    ("15", "Halvane", &["3", "4"]),
    ("21", "Dorrick", &["3", "4"]),
    ("23", "Sefwick", &["4", "5"]),
    ("32", "Murrowby", &["5"]),
    ("44", "Grenlow", &["5"]),
];

const OTTERS: [(&str, &str); 10] = [
    ("1", "Pellamar"),
    ("4", "Wexholt"),
    ("7", "Ardwin"),
    ("10", "Coppick"),
    ("12", "Fenmoor"),
    ("13", "Lutterby"),
    ("20", "Stavely"),
    ("24", "Brackish"),
    ("33", "Hollin"),
    ("50", "Yarrowdale"),
];

const SCOUTS: [(&str, &str); 6] = [
    ("60", "Thorrin"),
    ("61", "Ellaby"),
    ("62", "Marwick"),
    ("63", "Dunnock"),
    ("64", "Rusholt"),
    ("65", "Caverly"),
];

fn herons() -> Vec<SimPlayer> {
    HERONS
        .iter()
        .map(|(number, name, roles)| SimPlayer {
            id: format!("H{number:0>2}"),
            team: 0,
            number: (*number).to_owned(),
            name: (*name).to_owned(),
            roles: roles.iter().map(|r| (*r).to_owned()).collect(),
        })
        .collect()
}

fn others(prefix: &str, list: &[(&str, &str)]) -> Vec<SimPlayer> {
    list.iter()
        .map(|(number, name)| SimPlayer {
            id: format!("{prefix}{number:0>2}"),
            team: 1,
            number: (*number).to_owned(),
            name: (*name).to_owned(),
            roles: Vec::new(),
        })
        .collect()
}

fn occasion(id: &str, date: &str, other: (&str, &str), against: Vec<SimPlayer>) -> Occasion {
    let mut players = herons();
    players.extend(against);
    Occasion {
        id: id.to_owned(),
        date: date.to_owned(),
        teams: [
            ("herons".to_owned(), "Marrow Bay Herons".to_owned()),
            (other.0.to_owned(), other.1.to_owned()),
        ],
        players,
    }
}

fn settings() -> Settings {
    let habits = vec![
        Habit {
            player: "H11".to_owned(),
            late: 0.60,
            late_by_s: (0.5, 1.0),
            early: 0.0,
        },
        Habit {
            player: "H05".to_owned(),
            late: 0.05,
            late_by_s: (0.4, 0.8),
            early: 0.35,
        },
    ];
    Settings {
        habits,
        ..Settings::default()
    }
}

/// The whole scenario: the practice first, then the games by date, as sensors saw them.
///
/// # Errors
/// [`SettingsError`] when the playbook has no option `zipper` or roles the roster cannot fill.
pub fn sessions(graph: &Graph) -> Result<Vec<(SimulatedSession, Truth)>, SettingsError> {
    let mut out = Vec::new();
    let practice = occasion(
        "practice",
        "2026-09-28",
        ("scouts", "Herons scout team"),
        others("S", &SCOUTS),
    );
    let reps = PracticeSettings {
        walk_throughs: 4,
        in_a_row: 3,
        alone: 8,
        against: 8,
    };
    let (world, truth) = simulate_practice(graph, &practice, &settings(), &reps, 20_260_928)?;
    // Practice is tracked with radio, thinned to 10 Hz.
    let radio = SensorModel {
        rate_hz: 10.0,
        noise_m: 0.15,
        ball_noise_m: 0.15,
        lost: 0.01,
        ..SensorModel::radio_20()
    };
    out.push((world.sense(&radio, 1)?, truth));
    let games = [
        ("game-1", "2026-10-03"),
        ("game-2", "2026-10-17"),
        ("game-3", "2026-11-07"),
    ];
    for (k, (id, date)) in games.into_iter().enumerate() {
        let game = occasion(
            id,
            date,
            ("otters", "Quarry Lane Otters"),
            others("O", &OTTERS),
        );
        let mut s = settings();
        s.mix.possessions = 23;
        s.mix.chain = 0.8;
        s.mix.improvised = MADE_UP.iter().map(|(kind, n)| (*kind, n[k])).collect();
        s.drifts = vec![RoleShift {
            option: DRIFT.0.to_owned(),
            role: DRIFT.1.to_owned(),
            out_m: DRIFT.2[k],
            right_m: 0.0,
        }];
        let (world, truth) = simulate_game(graph, &game, &s, 20_261_300 + k as u64)?;
        out.push((world.sense(&SensorModel::optical(), 2 + k as u64)?, truth));
    }
    Ok(out)
}

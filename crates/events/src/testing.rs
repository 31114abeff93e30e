//! Sessions for the tests of modules.

use setdrift_court::Court;
use setdrift_simulate::{SensorModel, Settings, simulate_game};
use setdrift_tracks::{Known, Player, Session, SessionKind, SessionParts, Team, Track};

/// A track of so many frames at 10 Hz that is measured where `at` gives a place.
pub(crate) fn track(frames: u32, at: impl Fn(f64) -> Option<[f64; 2]>) -> Track {
    let at: Vec<Option<[f64; 2]>> = (0..frames).map(|f| at(f64::from(f) / 10.0)).collect();
    let axis = |k: usize| at.iter().map(|p| p.map_or(0.0, |p| p[k])).collect();
    Track {
        x: axis(0),
        y: axis(1),
        z: None,
        known: at
            .iter()
            .map(|p| p.map_or(Known::Unknown, |_| Known::Measured))
            .collect(),
    }
}

/// Two teams on a FIBA court; one player per track, of the team that stands beside it.
pub(crate) fn session(rate_hz: f64, tracks: Vec<(usize, Track)>, ball: Option<Track>) -> Session {
    let (teams, tracks): (Vec<usize>, Vec<Track>) = tracks.into_iter().unzip();
    Session::new(SessionParts {
        id: "one".into(),
        date: None,
        kind: SessionKind::Game,
        opponent: None,
        court: Court::fiba(),
        rate_hz,
        start_s: 0.0,
        teams: (0..2)
            .map(|t| Team {
                id: format!("t{t}"),
                name: format!("team {t}"),
            })
            .collect(),
        players: (0..)
            .zip(teams)
            .map(|(p, team)| Player {
                id: format!("p{p}"),
                team,
                number: None,
                name: None,
                roles: vec![],
            })
            .collect(),
        tracks,
        ball,
        ends: vec![],
    })
    .unwrap()
}

/// A game of the simulator of so many possessions a team.
pub(crate) fn game(sensor: &SensorModel, seed: u64, possessions: usize) -> Session {
    let mut settings = Settings::default();
    settings.mix.possessions = possessions;
    let graph = setdrift_simulated::lantern().unwrap();
    let occasion = setdrift_simulated::measured_occasion("made");
    let (world, _) = simulate_game(&graph, &occasion, &settings, seed).unwrap();
    setdrift_simulated::session(&world.sense(sensor, seed + 1).unwrap()).unwrap()
}

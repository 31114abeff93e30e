//! Sessions for the tests of modules.

use setdrift_court::Court;
use setdrift_tracks::{Player, Session, SessionKind, SessionParts, Team, Track};

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

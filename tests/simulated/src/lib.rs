//! Sessions of the simulator as the stages read them: one conversion for every test that needs it.

use setdrift_simulate::{Samples, SimulatedSession};
use setdrift_tracks::{
    EndSpan, Known, Player, Session, SessionError, SessionKind, SessionParts, Team, Track,
};

fn track(s: &Samples) -> Track {
    // Where nothing is known the coordinates are zero, as a track promises.
    let seen = |v: &[f64]| {
        v.iter()
            .zip(&s.present)
            .map(|(v, p)| if *p { *v } else { 0.0 })
            .collect()
    };
    Track {
        x: seen(&s.x),
        y: seen(&s.y),
        z: (!s.z.is_empty()).then(|| seen(&s.z)),
        known: s
            .present
            .iter()
            .map(|p| if *p { Known::Measured } else { Known::Unknown })
            .collect(),
    }
}

/// A simulated session as a session, without cleaning. Player indices stay as they are.
///
/// # Errors
/// [`SessionError`] never, unless the simulator is broken.
pub fn session(s: &SimulatedSession) -> Result<Session, SessionError> {
    Session::new(SessionParts {
        id: s.id.clone(),
        date: Some(s.date.clone()),
        kind: if s.practice {
            SessionKind::Practice
        } else {
            SessionKind::Game
        },
        opponent: s.teams.get(1).map(|t| t.1.clone()),
        court: s.court.clone(),
        rate_hz: s.rate_hz,
        start_s: 0.0,
        teams: s
            .teams
            .iter()
            .map(|(id, name)| Team {
                id: id.clone(),
                name: name.clone(),
            })
            .collect(),
        players: s
            .players
            .iter()
            .map(|p| Player {
                id: p.id.clone(),
                team: p.team,
                number: Some(p.number.clone()),
                name: Some(p.name.clone()),
                roles: p.roles.clone(),
            })
            .collect(),
        tracks: s.tracks.iter().map(track).collect(),
        ball: Some(track(&s.ball)),
        ends: s
            .periods
            .iter()
            .map(|p| EndSpan {
                from_s: p.from_s,
                to_s: p.to_s,
                end: p.end,
            })
            .collect(),
    })
}

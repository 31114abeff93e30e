//! Sessions of the simulator as the stages read them: one conversion for every test that needs it.

mod club;

pub use club::{lantern, measured_occasion, occasion};

use setdrift_simulate::{Samples, SimulatedSession};
use setdrift_tracks::{
    EndSpan, Known, Player, RawTracks, Session, SessionError, SessionKind, SessionParts, Team,
    Track,
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

fn kind(s: &SimulatedSession) -> SessionKind {
    if s.practice {
        SessionKind::Practice
    } else {
        SessionKind::Game
    }
}

fn teams(s: &SimulatedSession) -> Vec<Team> {
    s.teams
        .iter()
        .map(|(id, name)| Team {
            id: id.clone(),
            name: name.clone(),
        })
        .collect()
}

fn players(s: &SimulatedSession) -> Vec<Player> {
    s.players
        .iter()
        .map(|p| Player {
            id: p.id.clone(),
            team: p.team,
            number: Some(p.number.clone()),
            name: Some(p.name.clone()),
            roles: p.roles.clone(),
        })
        .collect()
}

fn ends(s: &SimulatedSession) -> Vec<EndSpan> {
    s.periods
        .iter()
        .map(|p| EndSpan {
            from_s: p.from_s,
            to_s: p.to_s,
            end: p.end,
        })
        .collect()
}

/// A simulated session as a session, without cleaning. Player indices stay as they are.
///
/// # Errors
/// [`SessionError`] never, unless the simulator is broken.
pub fn session(s: &SimulatedSession) -> Result<Session, SessionError> {
    Session::new(SessionParts {
        id: s.id.clone(),
        date: Some(s.date.clone()),
        kind: kind(s),
        opponent: s.teams.get(1).map(|t| t.1.clone()),
        court: s.court.clone(),
        rate_hz: s.rate_hz,
        start_s: 0.0,
        teams: teams(s),
        players: players(s),
        tracks: s.tracks.iter().map(track).collect(),
        ball: Some(track(&s.ball)),
        ends: ends(s),
    })
}

/// A simulated session as its sensor would hand it over, before cleaning: samples at their own
/// times, none where nothing was seen. Player indices stay as they are.
#[must_use]
pub fn raw(s: &SimulatedSession, per_side: usize) -> RawTracks {
    let seen = |o: &Samples| {
        let at: Vec<usize> = (0..o.present.len()).filter(|i| o.present[*i]).collect();
        let pick = |v: &[f64]| at.iter().map(|i| v[*i]).collect();
        setdrift_tracks::Samples {
            t: at.iter().map(|i| *i as f64 / s.rate_hz).collect(),
            x: pick(&o.x),
            y: pick(&o.y),
            z: (!o.z.is_empty()).then(|| pick(&o.z)),
        }
    };
    RawTracks {
        id: s.id.clone(),
        date: Some(s.date.clone()),
        kind: kind(s),
        opponent: s.teams.get(1).map(|t| t.1.clone()),
        court: s.court.clone(),
        per_side,
        teams: teams(s),
        players: players(s),
        samples: s.tracks.iter().map(seen).collect(),
        ball: Some(seen(&s.ball)),
        rate_hz: Some(s.rate_hz),
        exchanges: Vec::new(),
        ends: ends(s),
    }
}

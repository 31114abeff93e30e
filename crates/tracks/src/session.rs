//! The session: what every later stage reads. Uniform frames, court frame, metres and seconds.

use serde::{Deserialize, Serialize};
use setdrift_court::{Court, CourtPoint, End};

/// What is known of one sample of one track.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[repr(u8)]
pub enum Known {
    /// The sensor gave it.
    Measured,
    /// A short gap, filled from both sides.
    Filled,
    /// Not known; the coordinates at this frame mean nothing.
    Unknown,
}

/// One object's path over the frames of a session.
///
/// All vectors are `frames` long. Where `known` is [`Known::Unknown`] the coordinates are zero.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Track {
    /// Court-frame `x`, metres.
    pub x: Vec<f64>,
    /// Court-frame `y`, metres.
    pub y: Vec<f64>,
    /// Height above the floor, metres, where the data has it (the ball).
    pub z: Option<Vec<f64>>,
    /// What is known at each frame.
    pub known: Vec<Known>,
}

impl Track {
    /// Position at a frame, or `None` where it is unknown or past the end.
    #[must_use]
    pub fn at(&self, frame: usize) -> Option<CourtPoint> {
        match self.known.get(frame) {
            None | Some(Known::Unknown) => None,
            Some(_) => Some(CourtPoint::new(self.x[frame], self.y[frame])),
        }
    }

    /// Height at a frame, metres, or `None` where unknown or not given.
    #[must_use]
    pub fn height(&self, frame: usize) -> Option<f64> {
        self.at(frame)?;
        self.z
            .as_ref()
            .and_then(|z| z.get(frame))
            .copied()
            .filter(|h| h.is_finite())
    }

    /// Number of frames.
    #[must_use]
    pub fn len(&self) -> usize {
        self.known.len()
    }

    /// Whether there is no frame at all.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.known.is_empty()
    }

    /// Share of frames that are not unknown, 0..=1; 0 for an empty track.
    #[must_use]
    pub fn coverage(&self) -> f64 {
        if self.is_empty() {
            return 0.0;
        }
        let known = self.known.iter().filter(|k| **k != Known::Unknown).count();
        known as f64 / self.len() as f64
    }
}

/// A team of a session. Team 0 is the team whose offence is audited.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Team {
    /// Name as the files write it.
    pub id: String,
    /// Name for people.
    pub name: String,
}

/// A player of a session.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Player {
    /// Name as the files write it; unique in the session.
    pub id: String,
    /// Index into [`SessionParts::teams`].
    pub team: usize,
    /// Shirt number, where known.
    pub number: Option<String>,
    /// Name for people, where known.
    pub name: Option<String>,
    /// Roles of the playbook the player may take; empty means any.
    pub roles: Vec<String>,
}

impl Player {
    /// What to call the player in text: `7 Odell`, `7`, or the id.
    #[must_use]
    pub fn label(&self) -> String {
        match (&self.number, &self.name) {
            (Some(n), Some(name)) => format!("{n} {name}"),
            (Some(n), None) => n.clone(),
            (None, Some(name)) => name.clone(),
            (None, None) => self.id.clone(),
        }
    }
}

/// Practice or game.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum SessionKind {
    /// Against opponents, by the clock.
    Game,
    /// On a half court, perhaps without opponents.
    Practice,
}

/// For a stretch of time, the end that team 0 attacks.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct EndSpan {
    /// From, session time in seconds.
    pub from_s: f64,
    /// To, session time in seconds.
    pub to_s: f64,
    /// The end team 0 attacks.
    pub end: End,
}

/// One practice or game on uniform frames, in the court frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Session {
    parts: SessionParts,
    frames: usize,
}

/// The plain data of a [`Session`]; [`Session::new`] checks it.
#[derive(Debug, Clone, PartialEq)]
pub struct SessionParts {
    /// Short unique name, used for folders and tables.
    pub id: String,
    /// Date as `YYYY-MM-DD`, where known.
    pub date: Option<String>,
    /// Practice or game.
    pub kind: SessionKind,
    /// Opponent's name, where there is one.
    pub opponent: Option<String>,
    /// The floor.
    pub court: Court,
    /// Frames per second, above 0.
    pub rate_hz: f64,
    /// Session time of frame 0, seconds.
    pub start_s: f64,
    /// Teams; 0 is the one whose offence is audited.
    pub teams: Vec<Team>,
    /// Players of all teams.
    pub players: Vec<Player>,
    /// One track per player, in the order of `players`, all of equal length.
    pub tracks: Vec<Track>,
    /// The ball's track, where the data has one.
    pub ball: Option<Track>,
    /// The ends team 0 attacks over time; empty when not known.
    pub ends: Vec<EndSpan>,
}

/// Why parts do not make a session.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SessionError {
    /// The rate is not a positive number.
    #[error("frame rate is {0}: expected a number above 0 and at most 1000 per second")]
    Rate(f64),
    /// Tracks and players do not pair up.
    #[error("{players} players but {tracks} tracks")]
    Count {
        /// Number of players.
        players: usize,
        /// Number of tracks.
        tracks: usize,
    },
    /// A track's length differs from the others'.
    #[error("track of `{object}` has {found} frames where {expected} were expected")]
    Length {
        /// The player's id, or `ball`.
        object: String,
        /// Its length.
        found: usize,
        /// The length of the first track.
        expected: usize,
    },
    /// A player names a team that does not exist.
    #[error("player `{player}` names team number {team}, but there are {teams} teams")]
    Team {
        /// The player's id.
        player: String,
        /// The team index given.
        team: usize,
        /// How many there are.
        teams: usize,
    },
    /// No object has a single frame.
    #[error("the session has no frames")]
    Empty,
}

impl Session {
    /// A session from its parts.
    ///
    /// # Errors
    /// [`SessionError`] where the parts contradict each other.
    pub fn new(parts: SessionParts) -> Result<Self, SessionError> {
        if !(parts.rate_hz > 0.0 && parts.rate_hz <= 1000.0) {
            return Err(SessionError::Rate(parts.rate_hz));
        }
        if parts.players.len() != parts.tracks.len() {
            return Err(SessionError::Count {
                players: parts.players.len(),
                tracks: parts.tracks.len(),
            });
        }
        let frames = parts
            .tracks
            .first()
            .or(parts.ball.as_ref())
            .map_or(0, Track::len);
        let named = parts
            .players
            .iter()
            .map(|p| p.id.as_str())
            .zip(&parts.tracks)
            .chain(parts.ball.as_ref().map(|b| ("ball", b)));
        for (object, t) in named {
            let lens = [
                t.x.len(),
                t.y.len(),
                t.known.len(),
                t.z.as_ref().map_or(frames, Vec::len),
            ];
            if let Some(&found) = lens.iter().find(|l| **l != frames) {
                return Err(SessionError::Length {
                    object: object.to_owned(),
                    found,
                    expected: frames,
                });
            }
        }
        for p in &parts.players {
            if p.team >= parts.teams.len() {
                return Err(SessionError::Team {
                    player: p.id.clone(),
                    team: p.team,
                    teams: parts.teams.len(),
                });
            }
        }
        if frames == 0 {
            return Err(SessionError::Empty);
        }
        Ok(Self { parts, frames })
    }

    /// The plain data back.
    #[must_use]
    pub fn into_parts(self) -> SessionParts {
        self.parts
    }

    /// Number of frames, above 0.
    #[must_use]
    pub fn frames(&self) -> usize {
        self.frames
    }

    /// Session time of a frame, seconds.
    #[must_use]
    pub fn time(&self, frame: usize) -> f64 {
        self.parts.start_s + frame as f64 / self.parts.rate_hz
    }

    /// The frame nearest to a session time, clamped to the session.
    #[must_use]
    pub fn frame_at(&self, time_s: f64) -> usize {
        let f = ((time_s - self.parts.start_s) * self.parts.rate_hz).round();
        if f.is_nan() || f <= 0.0 {
            0
        } else {
            (f as usize).min(self.frames - 1)
        }
    }

    /// The end team 0 attacks at a time, where known.
    #[must_use]
    pub fn end_at(&self, time_s: f64) -> Option<End> {
        self.parts
            .ends
            .iter()
            .find(|s| time_s >= s.from_s && time_s < s.to_s)
            .map(|s| s.end)
    }

    /// Indices of the players of a team, in order.
    pub fn roster(&self, team: usize) -> impl Iterator<Item = usize> + '_ {
        self.parts
            .players
            .iter()
            .enumerate()
            .filter(move |(_, p)| p.team == team)
            .map(|(i, _)| i)
    }
}

impl std::ops::Deref for Session {
    type Target = SessionParts;

    fn deref(&self) -> &SessionParts {
        &self.parts
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parts() -> SessionParts {
        let track = Track {
            x: vec![0.0, 1.0],
            y: vec![0.0, 0.0],
            z: None,
            known: vec![Known::Measured, Known::Unknown],
        };
        SessionParts {
            id: "s".into(),
            date: None,
            kind: SessionKind::Practice,
            opponent: None,
            court: Court::fiba(),
            rate_hz: 10.0,
            start_s: 5.0,
            teams: vec![Team {
                id: "a".into(),
                name: "A".into(),
            }],
            players: vec![Player {
                id: "p".into(),
                team: 0,
                number: None,
                name: None,
                roles: vec![],
            }],
            tracks: vec![track],
            ball: None,
            ends: vec![EndSpan {
                from_s: 5.0,
                to_s: 6.0,
                end: End::Left,
            }],
        }
    }

    #[test]
    fn times_and_frames_agree() {
        let s = Session::new(parts()).unwrap();
        assert_eq!(s.frame_at(s.time(1)), 1);
        assert_eq!(s.frame_at(f64::NAN), 0);
        assert_eq!(s.end_at(5.5), Some(End::Left));
        assert_eq!(s.end_at(6.0), None);
        assert_eq!(s.tracks[0].at(1), None);
    }

    #[test]
    fn contradictions_are_errors() {
        let mut p = parts();
        p.tracks[0].y.pop();
        assert!(matches!(
            Session::new(p),
            Err(SessionError::Length { found: 1, .. })
        ));
        let mut p = parts();
        p.rate_hz = f64::NAN;
        assert!(matches!(Session::new(p), Err(SessionError::Rate(_))));
    }
}

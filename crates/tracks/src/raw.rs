//! Tracks as the sensor gave them, but in the court frame, metres and seconds: mapped, not cleaned.

use crate::session::{EndSpan, Player, SessionKind, Team};
use setdrift_court::Court;

/// Positions of one object at its own times, in the order of time.
///
/// All vectors have one length; every number is finite except heights, where NaN is "not given".
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Samples {
    /// Session time, seconds, strictly increasing.
    pub t: Vec<f64>,
    /// Court-frame x, metres.
    pub x: Vec<f64>,
    /// Court-frame y, metres.
    pub y: Vec<f64>,
    /// Height, metres, where the data has any.
    pub z: Option<Vec<f64>>,
}

impl Samples {
    /// Number of samples.
    #[must_use]
    pub fn len(&self) -> usize {
        self.t.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.t.is_empty()
    }
}

/// A file read through its mapping: what `clean` turns into a session, and what the writers write.
#[derive(Debug, Clone, PartialEq)]
pub struct RawTracks {
    /// Short unique name.
    pub id: String,
    /// `YYYY-MM-DD`.
    pub date: Option<String>,
    /// Practice or game.
    pub kind: SessionKind,
    /// Opponent's name.
    pub opponent: Option<String>,
    /// The floor.
    pub court: Court,
    /// Players of one side on the floor at most.
    pub per_side: usize,
    /// Teams; 0 is the one whose offence is audited.
    pub teams: Vec<Team>,
    /// Players, by team and then by id.
    pub players: Vec<Player>,
    /// One per player.
    pub samples: Vec<Samples>,
    /// The ball.
    pub ball: Option<Samples>,
    /// Frames per second of the sensor, where said.
    pub rate_hz: Option<f64>,
    /// Ends team 0 attacks.
    pub ends: Vec<EndSpan>,
    /// What a person said of exchanged identities; `samples` are as they are after that.
    pub exchanges: Vec<Exchange>,
}

/// What a person says of two players' identities.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exchange {
    /// The two, as indices of players.
    pub players: (usize, usize),
    /// Session time from which each was the other, seconds.
    pub from_s: f64,
    /// Until when, where not to the end.
    pub to_s: Option<f64>,
    /// False where nobody was exchanged, whatever it looks like.
    pub happened: bool,
}

impl RawTracks {
    /// First and last sample's time, or `None` without samples.
    #[must_use]
    pub fn span(&self) -> Option<(f64, f64)> {
        let all = || {
            self.samples
                .iter()
                .chain(&self.ball)
                .filter(|s| !s.is_empty())
        };
        let from = all().map(|s| s.t[0]).min_by(f64::total_cmp)?;
        let to = all().map(|s| s.t[s.len() - 1]).max_by(f64::total_cmp)?;
        Some((from, to))
    }
}

//! Which team has the ball, as the way that all players run tells it.
//!
//! Ten players know who has the ball: they stand in the half that its team attacks, or are on
//! their way there. Nothing here looks at the ball.

use crate::motion::Motion;
use setdrift_court::End;
use setdrift_tracks::Known;

/// How far ahead the players' way is looked at, seconds: they turn within a reaction time and
/// need another half second to get under way.
const AHEAD_S: f64 = 1.6;
/// Log odds for each metre that the players are past the half-court line in the mean, and for
/// each m/s of their mean velocity. Logistic regression over tracks of two simulators at
/// 10 Hz, seeds 11 to 14.
const PLACE: f64 = 0.86;
const WAY: f64 = 4.66;
/// The most that a second of it says, nats: players may also press, loiter or fall back early,
/// and what they do in one second they do in the next.
const MOST: f64 = 2.0;
/// Share of what that mixture says which counts: players turn after a rebound, not before it. From
/// two simulators, seeds 501 to 524.
const EITHER: f64 = 0.5;
/// Fewer players than this tell nothing.
const LEAST: usize = 4;

/// The players' way at a frame.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Flow {
    /// The end that team 0 attacks, where the tracks say it.
    pub end: Option<End>,
    /// Nats a second for team 0.
    says: f64,
    /// Nats a second for a ball that is nobody's: of either team as likely, by [`EITHER`].
    pub none: f64,
}

impl Flow {
    /// Looks at a frame.
    pub fn look(&mut self, m: &Motion, frame: usize) {
        let s = m.session;
        self.end = s.end_at(s.time(frame));
        (self.says, self.none) = (0.0, 0.0);
        let Some(end) = self.end else { return };
        let to = frame + (AHEAD_S * s.rate_hz).round() as usize;
        if to >= s.frames() {
            return;
        }
        let (mut place, mut way, mut n) = (0.0, 0.0, [0; 2]);
        for (t, p) in s.tracks.iter().zip(&s.players) {
            if t.known[frame] != Known::Unknown && t.known[to] != Known::Unknown {
                place += t.x[frame];
                way += t.x[to] - t.x[frame];
                n[p.team.min(1)] += 1;
            }
        }
        if n[0] + n[1] < LEAST || n[0] == 0 || n[1] == 0 {
            return;
        }
        let all = (n[0] + n[1]) as f64;
        let ahead = if end == End::Right { 1.0 } else { -1.0 };
        let seconds = (to - frame) as f64 / s.rate_hz;
        let odds = ahead * (PLACE * place + WAY * way / seconds) / all;
        self.says = odds.clamp(-MOST, MOST);
        let s = self.says.abs();
        self.none = EITHER * (s + (0.5 * (1.0 + (-2.0 * s).exp())).ln());
    }

    /// Nats a second for a team.
    pub fn speaks_for(&self, team: usize) -> f64 {
        if team == 0 { self.says } else { -self.says }
    }
}

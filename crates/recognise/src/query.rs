//! One possession as a query: the attackers and the ball in the attack frame at the playbook's
//! frame rate.

use setdrift_court::AttackPoint;
use setdrift_events::model::Possession;
use setdrift_playbook::graph::RATE_HZ;
use setdrift_tracks::{Session, Track};

/// A possession resampled to [`RATE_HZ`].
#[derive(Debug, Clone)]
pub struct Query {
    /// Session time of frame 0, seconds.
    pub from_s: f64,
    /// Session time at which the possession ends, seconds.
    pub to_s: f64,
    /// Session indices of the attackers, one per row of `paths`.
    pub players: Vec<usize>,
    /// `paths[player][frame]`; `None` where unknown.
    pub paths: Vec<Vec<Option<AttackPoint>>>,
    /// `ball[frame]`; `None` where unknown or without a ball.
    pub ball: Vec<Option<AttackPoint>>,
}

impl Query {
    /// Resamples a possession by linear interpolation; a sample between a known and an unknown
    /// frame is unknown.
    #[must_use]
    pub fn new(session: &Session, possession: &Possession) -> Self {
        let span = (possession.to_s - possession.from_s).max(0.0);
        let frames = (span * RATE_HZ + 1e-6).floor() as usize + 1;
        let times: Vec<f64> = (0..frames)
            .map(|t| possession.from_s + t as f64 / RATE_HZ)
            .collect();
        let sample = |track: &Track| {
            times
                .iter()
                .map(|&t| sample_at(session, track, possession, t))
                .collect()
        };
        Self {
            from_s: possession.from_s,
            to_s: possession.to_s,
            players: possession.attackers.clone(),
            paths: possession
                .attackers
                .iter()
                .map(|&p| {
                    session
                        .tracks
                        .get(p)
                        .map_or_else(|| vec![None; frames], &sample)
                })
                .collect(),
            ball: session
                .ball
                .as_ref()
                .map_or_else(|| vec![None; frames], sample),
        }
    }

    /// Number of frames, at least 1.
    #[must_use]
    pub fn frames(&self) -> usize {
        self.ball.len()
    }

    /// Whether the ball is known at any frame.
    #[must_use]
    pub fn has_ball(&self) -> bool {
        self.ball.iter().any(Option::is_some)
    }

    /// Session time of a frame, seconds. The frame after the last is the possession's end.
    #[must_use]
    pub fn time(&self, frame: usize) -> f64 {
        if frame >= self.frames() {
            self.to_s
        } else {
            self.from_s + frame as f64 / RATE_HZ
        }
    }

    /// The frame nearest to a session time.
    #[must_use]
    pub fn frame(&self, time_s: f64) -> usize {
        ((time_s - self.from_s) * RATE_HZ).round().max(0.0) as usize
    }

    /// Share of the attackers' samples that are unknown in `from..to`, 0..=1.
    #[must_use]
    pub fn missing(&self, from: usize, to: usize) -> f64 {
        let all = self.paths.len() * to.saturating_sub(from);
        if all == 0 {
            return 1.0;
        }
        let unknown: usize = self
            .paths
            .iter()
            .map(|p| p[from..to].iter().filter(|s| s.is_none()).count())
            .sum();
        unknown as f64 / all as f64
    }
}

fn sample_at(
    session: &Session,
    track: &Track,
    possession: &Possession,
    time_s: f64,
) -> Option<AttackPoint> {
    let position = (time_s - session.start_s) * session.rate_hz;
    if position < -0.5 || position > track.len() as f64 - 0.5 {
        return None;
    }
    let low = (position + 1e-9).floor().max(0.0) as usize;
    let share = (position - low as f64).clamp(0.0, 1.0);
    let to_attack = |f: usize| Some(track.at(f)?.to_attack(&session.court, possession.end));
    let a = to_attack(low.min(track.len().checked_sub(1)?))?;
    if share < 1e-6 || low + 1 >= track.len() {
        return Some(a);
    }
    Some(a.lerp(to_attack(low + 1)?, share))
}

//! How good the data is, and which verdicts it supports.

mod side;
mod support;

pub use side::SideQuality;
pub use support::{LEAST_KNOWN, Level, Support, VerdictKind};

use crate::clean::{Cleaning, Smoothing, noise_of};
use crate::session::{Known, Session, Track};
use serde::Serialize;

/// Quality of one object's track.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct ObjectQuality {
    /// Its id.
    pub id: String,
    /// Its team; none for the ball.
    pub team: Option<String>,
    /// Share of frames measured, 0..=1.
    pub measured: f64,
    /// Share of frames filled, 0..=1.
    pub filled: f64,
    /// Standard deviation of position noise per axis from frame to frame, metres, of the samples as
    /// they came; NaN with too few.
    pub noise_m: f64,
    /// The same with what wanders over about half a second, metres, before smoothing; NaN for the
    /// ball and with too few samples.
    pub error_m: f64,
    /// Gaps of up to a minute left unknown between two known frames. Longer ones are absences: a
    /// player on the bench.
    pub gaps: usize,
    /// The longest of them, seconds.
    pub longest_gap_s: f64,
    /// Samples cut because they could only be reached too fast.
    pub jumps_cut: usize,
    /// Samples cut as single-sample spikes.
    pub spikes_cut: usize,
    /// Exchanges of identity undone.
    pub swaps_mended: usize,
    /// Exchanges of identity in doubt.
    pub swaps_doubtful: usize,
    /// Time left unknown for doubtful exchanges, seconds.
    pub doubt_s: f64,
    /// Time off the floor (on the bench), seconds.
    pub off_floor_s: f64,
    /// Time left unknown while another player of the side was going off, seconds.
    pub substitution_s: f64,
    /// 95th percentile of speed over quarter seconds, m/s; NaN where nothing moves long enough.
    pub speed_p95: f64,
}

impl ObjectQuality {
    /// Fill in what the finished track tells.
    pub(crate) fn describe(&mut self, track: &Track, rate_hz: f64) {
        let n = track.len().max(1) as f64;
        let count = |k: Known| track.known.iter().filter(|v| **v == k).count() as f64 / n;
        self.measured = count(Known::Measured);
        self.filled = count(Known::Filled);
        let mut last: Option<usize> = None;
        for (i, k) in track.known.iter().enumerate() {
            if *k == Known::Unknown {
                continue;
            }
            if let Some(l) = last
                && i - l > 1
                && (i - l - 1) as f64 <= side::BREAK_S * rate_hz
            {
                self.gaps += 1;
                self.longest_gap_s = self.longest_gap_s.max((i - l - 1) as f64 / rate_hz);
            }
            last = Some(i);
        }
        let mut speeds = quarter_second_speeds(track, rate_hz);
        self.speed_p95 = if speeds.is_empty() {
            f64::NAN
        } else {
            let at = (speeds.len() - 1) * 95 / 100;
            *speeds.select_nth_unstable_by(at, f64::total_cmp).1
        };
    }
}

/// Speeds over steps of a quarter of a second, m/s: displacement over the step, one per frame with
/// both ends known.
#[must_use]
pub fn quarter_second_speeds(track: &Track, rate_hz: f64) -> Vec<f64> {
    let step = (0.25 * rate_hz).round().max(1.0) as usize;
    let span = step as f64 / rate_hz;
    let known = |i: usize| track.known[i] != Known::Unknown;
    (step..track.len())
        .filter(|i| known(i - step) && known(*i))
        .map(|i| {
            let (dx, dy) = (
                track.x[i] - track.x[i - step],
                track.y[i] - track.y[i - step],
            );
            (dx * dx + dy * dy).sqrt() / span
        })
        .collect()
}

/// A place where a tracker seems to have exchanged two players.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Swap {
    /// The two (session indices).
    pub players: (usize, usize),
    /// When, session time in seconds: the first moment of the exchanged stretch.
    pub time_s: f64,
    /// How far apart the two were then, metres.
    pub apart_m: f64,
    /// How much likelier exchanged than not, as a power of ten; NaN where a person said so.
    pub odds_log10: f64,
    /// Whether it was undone.
    pub mended: bool,
    /// Whether a person said what happened here, in the mapping.
    pub by_hand: bool,
    /// How long both were left unknown for it, seconds.
    pub unknown_s: f64,
}

impl Swap {
    /// Neither undone nor judged by a person.
    #[must_use]
    pub fn in_doubt(&self) -> bool {
        !self.mended && !self.by_hand
    }
}

/// A stretch in which two players are so near each other that, in this noise, their tracks would look
/// much the same had they been exchanged: not ruled out by a thousand to one. Or one in which either of
/// two who were near each other before or after it was unseen for one to five seconds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Meeting {
    /// The two (session indices).
    pub players: (usize, usize),
    /// From, session time in seconds.
    pub from_s: f64,
    /// To, session time in seconds.
    pub to_s: f64,
    /// How much likelier exchanged than not, as a power of ten; negative where less, 0 where one was
    /// unseen.
    pub odds_log10: f64,
}

/// Quality of a session.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Quality {
    /// Rate of the sensor, samples per second.
    pub source_hz: f64,
    /// Robust standard deviation of the steps between samples, seconds.
    pub jitter_s: f64,
    /// Frames per second of the session.
    pub rate_hz: f64,
    /// Length, seconds.
    pub length_s: f64,
    /// Cleaning steps that were switched off, as a mapping names their switches.
    pub switched_off: Vec<&'static str>,
    /// What smoothing was done.
    pub smoothing: Smoothing,
    /// One per player, in the session's order.
    pub players: Vec<ObjectQuality>,
    /// The ball's.
    pub ball: Option<ObjectQuality>,
    /// Share of the known ball frames that have a height, 0..=1.
    pub ball_height: f64,
    /// One per team, in the session's order: how many are on the floor, and how well known.
    pub sides: Vec<SideQuality>,
    /// Exchanged identities, undone or in doubt, by time.
    pub swaps: Vec<Swap>,
    /// Where an exchange would not show, by time.
    pub meetings: Vec<Meeting>,
    /// Which verdicts the data supports, one per kind.
    pub supports: Vec<Support>,
}

impl Quality {
    pub(crate) fn new(
        session: &Session,
        source_hz: f64,
        jitter_s: f64,
        (cleaning, smoothing): (&Cleaning, Smoothing),
        players: Vec<ObjectQuality>,
        ball: Option<ObjectQuality>,
        (swaps, meetings): (Vec<Swap>, Vec<Meeting>),
    ) -> Self {
        let mut quality = Self {
            source_hz,
            jitter_s,
            rate_hz: session.rate_hz,
            length_s: session.frames() as f64 / session.rate_hz,
            switched_off: cleaning.switched_off(),
            smoothing,
            players,
            ball,
            ball_height: session.ball.as_ref().map_or(0.0, height_share),
            sides: side::sides(session),
            swaps,
            meetings,
            supports: Vec::new(),
        };
        quality.supports = support::supports(session, &quality);
        quality
    }

    /// The quality of a session that came uncleaned, from its frames alone.
    #[must_use]
    pub fn of(session: &Session) -> Self {
        let sheet = |id: &str, team: Option<usize>, track: &Track| {
            let mut s = ObjectQuality {
                id: id.to_owned(),
                team: team.map(|t| session.teams[t].id.clone()),
                ..ObjectQuality::default()
            };
            (s.noise_m, s.error_m) = noise_of(track, session.rate_hz);
            s.describe(track, session.rate_hz);
            s
        };
        let players = session
            .players
            .iter()
            .zip(&session.tracks)
            .map(|(p, t)| sheet(&p.id, Some(p.team), t))
            .collect();
        let ball = session.ball.as_ref().map(|t| ObjectQuality {
            error_m: f64::NAN,
            ..sheet("ball", None, t)
        });
        let none = Cleaning::none();
        let smoothing = Smoothing::for_rate(&none, session.rate_hz);
        Self::new(
            session,
            session.rate_hz,
            0.0,
            (&none, smoothing),
            players,
            ball,
            (Vec::new(), Vec::new()),
        )
    }

    /// Position error per axis of the players as a whole, metres: the median over those seen long
    /// enough; NaN where none was.
    #[must_use]
    pub fn error_m(&self) -> f64 {
        let mut all: Vec<f64> = self
            .players
            .iter()
            .map(|p| p.error_m)
            .filter(|e| e.is_finite())
            .collect();
        if all.is_empty() {
            return f64::NAN;
        }
        all.sort_by(f64::total_cmp);
        all[all.len() / 2]
    }

    /// What the data allows of one kind of verdict.
    #[must_use]
    pub fn support(&self, kind: VerdictKind) -> Option<&Support> {
        self.supports.iter().find(|s| s.kind == kind)
    }
}

fn height_share(ball: &Track) -> f64 {
    let known = (0..ball.len()).filter(|f| ball.at(*f).is_some()).count();
    let high = (0..ball.len())
        .filter(|f| ball.height(*f).is_some())
        .count();
    if known == 0 {
        0.0
    } else {
        high as f64 / known as f64
    }
}

//! How good the data is, and which verdicts it supports.

use crate::clean::Smoothing;
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
    /// Standard deviation of position noise per axis, metres; NaN with too few samples.
    pub noise_m: f64,
    /// Gaps left unknown between two known frames.
    pub gaps: usize,
    /// The longest of them, seconds.
    pub longest_gap_s: f64,
    /// Samples cut because they could only be reached too fast.
    pub jumps_cut: usize,
    /// Samples cut as single-sample spikes.
    pub spikes_cut: usize,
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
    (step..track.len())
        .filter_map(|i| Some(track.at(i - step)?.distance(track.at(i)?) / span))
        .collect()
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
    /// What smoothing was done.
    pub smoothing: Smoothing,
    /// One per player, in the session's order.
    pub players: Vec<ObjectQuality>,
    /// The ball's.
    pub ball: Option<ObjectQuality>,
}

impl Quality {
    pub(crate) fn new(
        session: &Session,
        source_hz: f64,
        jitter_s: f64,
        smoothing: Smoothing,
        players: Vec<ObjectQuality>,
        ball: Option<ObjectQuality>,
    ) -> Self {
        Self {
            source_hz,
            jitter_s,
            rate_hz: session.rate_hz,
            length_s: session.frames() as f64 / session.rate_hz,
            smoothing,
            players,
            ball,
        }
    }
}

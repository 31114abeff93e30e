//! Uniform frames from samples at their own times.

use crate::error::Problem;
use crate::raw::{RawTracks, Samples};
use crate::session::{Known, Track};

/// The frames of a session.
#[derive(Debug, Clone, Copy)]
pub(super) struct Axis {
    pub(super) start: f64,
    pub(super) rate_hz: f64,
    /// Rate of the sensor.
    pub(super) source_hz: f64,
    pub(super) frames: usize,
}

impl Axis {
    /// The frame nearest to a session time.
    pub(super) fn frame(&self, time_s: f64) -> usize {
        let place = ((time_s - self.start) * self.rate_hz).round().max(0.0);
        (place as usize).min(self.frames.saturating_sub(1))
    }
}

/// A sensor's rate and how evenly it keeps it.
pub(super) struct Rate {
    pub(super) rate_hz: f64,
    pub(super) jitter_s: f64,
}

/// Rates that cameras and sensors have although they are no whole number (SMPTE ST 12-1).
const BROADCAST: [f64; 3] = [24_000.0 / 1001.0, 30_000.0 / 1001.0, 60_000.0 / 1001.0];

/// The sensor's rate: as said, else from the median step of the object with most samples.
pub(super) fn find_rate(raw: &RawTracks) -> Result<Rate, Problem> {
    let longest = raw
        .samples
        .iter()
        .chain(&raw.ball)
        .max_by_key(|s| s.len())
        .ok_or(Problem::NoPlayers)?;
    let mut steps: Vec<f64> = longest.t.windows(2).map(|w| w[1] - w[0]).collect();
    if steps.is_empty() {
        return match raw.rate_hz {
            Some(rate_hz) => Ok(Rate {
                rate_hz,
                jitter_s: 0.0,
            }),
            None => Err(Problem::Rate {
                why: "no object has two positions".into(),
            }),
        };
    }
    let usual = median(&mut steps);
    // Times rounded to milliseconds make single steps wrong, but not the mean of those without gaps.
    let (sum, n) = steps
        .iter()
        .filter(|s| **s < 1.5 * usual)
        .fold((0.0, 0.0), |(sum, n), s| (sum + s, n + 1.0));
    let step = if n > 0.0 { sum / n } else { usual };
    for s in &mut steps {
        *s = (*s - step).abs();
    }
    let jitter_s = 1.4826 * median(&mut steps);
    let rate_hz = match raw.rate_hz {
        Some(r) => r,
        None => nominal(1.0 / step),
    };
    if !(0.5..=1000.0).contains(&rate_hz) {
        return Err(Problem::Rate {
            why: format!("the usual step between two positions is {step} s"),
        });
    }
    Ok(Rate { rate_hz, jitter_s })
}

/// The nominal rate a measured one stands for.
fn nominal(rate: f64) -> f64 {
    /// Broadcast rates differ from whole ones by 0.1 %.
    const NEAR: f64 = 2e-4;
    let whole = rate.round();
    if whole > 0.0 && (rate - whole).abs() < NEAR * whole {
        return whole;
    }
    BROADCAST
        .iter()
        .copied()
        .find(|b| (rate - b).abs() < NEAR * b)
        .unwrap_or(rate)
}

pub(super) fn median(values: &mut [f64]) -> f64 {
    let mid = values.len() / 2;
    *values.select_nth_unstable_by(mid, f64::total_cmp).1
}

/// Put samples on frames. A sample on a frame's time is taken as it is; between two samples no
/// farther apart than one and a half steps of the sensor or of the frames, the frame lies on the
/// straight line between them (off a parabola by at most `a h² / 8`); other frames are unknown.
pub(super) fn to_frames(samples: &Samples, kept: &[bool], axis: Axis) -> Track {
    /// Share of a frame by which a sample may be off its time and still be taken as it is.
    const ON_TIME: f64 = 0.02;
    let n = axis.frames;
    let mut track = Track {
        x: vec![0.0; n],
        y: vec![0.0; n],
        z: samples.z.as_ref().map(|_| vec![f64::NAN; n]),
        known: vec![Known::Unknown; n],
    };
    let bridge = 1.5 / axis.rate_hz.min(axis.source_hz);
    let mut last: Option<usize> = None;
    let mut set = |frame: usize, x: f64, y: f64, z: Option<f64>| {
        track.x[frame] = x;
        track.y[frame] = y;
        track.known[frame] = Known::Measured;
        if let (Some(to), Some(z)) = (&mut track.z, z) {
            to[frame] = z;
        }
    };
    let height = |i: usize| samples.z.as_ref().map(|z| z[i]);
    for (i, _) in kept.iter().enumerate().filter(|(_, k)| **k) {
        let place = (samples.t[i] - axis.start) * axis.rate_hz;
        let nearest = place.round();
        let on_time = (place - nearest).abs() <= ON_TIME;
        if let Some(before) = last
            && samples.t[i] - samples.t[before] <= bridge
        {
            // Frames strictly between the two samples, except those taken as they are.
            let from = (samples.t[before] - axis.start) * axis.rate_hz;
            let mut k = (from + ON_TIME).floor() + 1.0;
            while k < place - ON_TIME {
                let share = (k - from) / (place - from);
                let mix = |v: &[f64]| v[before] + (v[i] - v[before]) * share;
                if k >= 0.0 && (k as usize) < n {
                    set(
                        k as usize,
                        mix(&samples.x),
                        mix(&samples.y),
                        samples.z.as_deref().map(mix),
                    );
                }
                k += 1.0;
            }
        }
        if on_time && nearest >= 0.0 && (nearest as usize) < n {
            set(nearest as usize, samples.x[i], samples.y[i], height(i));
        }
        last = Some(i);
    }
    track
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nominal_rates() {
        assert_eq!(nominal(24.9995), 25.0);
        assert_eq!(nominal(29.97), 30_000.0 / 1001.0);
        assert_eq!(nominal(19.98), 19.98);
        assert_eq!(nominal(10.0), 10.0);
    }

    #[test]
    fn samples_on_time_are_exact_and_others_between() {
        let s = Samples {
            t: vec![1.0, 1.1, 1.15, 1.25, 1.6],
            x: vec![0.1, 0.2, 0.3, 0.5, 9.0],
            y: vec![0.0; 5],
            z: None,
        };
        let axis = Axis {
            start: 1.0,
            rate_hz: 10.0,
            source_hz: 10.0,
            frames: 7,
        };
        let t = to_frames(&s, &[true; 5], axis);
        assert_eq!(t.x[..2], [0.1, 0.2]);
        assert!((t.x[2] - 0.4).abs() < 1e-12);
        assert_eq!(t.known[3], Known::Unknown);
        assert_eq!(t.x[6], 9.0);
    }
}

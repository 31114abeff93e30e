//! How noisy a track is: from frame to frame, and over half a second.

use super::filter::{At, Filter, Meeting, Motion};
use super::grid::median;
use crate::raw::Samples;
use crate::session::{Known, Track};

/// Standard deviation of the position noise per axis, metres, from third differences of evenly
/// spaced samples: for white noise their variance is 20 σ², and what a human does within four
/// samples hardly shows in them. NaN with fewer than eight samples. Noise that a sensor's own
/// filter has smoothed away is not seen.
pub(super) fn white(s: &Samples) -> f64 {
    const MOST: usize = 20_000;
    let n = s.len();
    if n < 8 {
        return f64::NAN;
    }
    let step = (n / MOST).max(1);
    let mut d = Vec::with_capacity(2 * (n / step));
    for i in (3..n).step_by(step) {
        let (a, b) = (s.t[i] - s.t[i - 1], s.t[i - 2] - s.t[i - 3]);
        let c = s.t[i - 1] - s.t[i - 2];
        if (a - b).abs() > 0.1 * a || (a - c).abs() > 0.1 * a {
            continue;
        }
        for v in [&s.x, &s.y] {
            d.push((v[i] - 3.0 * v[i - 1] + 3.0 * v[i - 2] - v[i - 3]).abs());
        }
    }
    if d.len() < 8 {
        return f64::NAN;
    }
    1.4826 * median(&mut d) / 20.0_f64.sqrt()
}

/// Standard deviation of the position error per axis, metres, with what wanders over about half a
/// second: the noise at which both sides of a moment, each followed by a Kalman filter for people's
/// movement, fit together likeliest. NaN where the track is too short. What wanders more slowly than
/// people move cannot be told from their movement.
///
/// `from` is where to begin, the noise from frame to frame.
pub(super) fn wandering(track: &Track, rate_hz: f64, from: f64) -> f64 {
    /// Windows looked at, evenly over the track, and their length, seconds.
    const WINDOWS: usize = 40;
    const LONG_S: f64 = 3.0;
    /// What is just beginning to be seen fits anything, seconds.
    const EDGE_S: f64 = 0.5;
    /// Steps of a fifth of an octave about, from a half of `from` to twenty times it.
    const STEP: f64 = 1.15;
    const STEPS: i32 = 22;
    let long = (LONG_S * rate_hz).ceil() as usize;
    let edge = ((EDGE_S * rate_hz) as usize).max(1);
    let step = (track.len() / WINDOWS).max(long);
    let windows: Vec<Vec<At>> = (0..track.len())
        .step_by(step)
        .map(|at| {
            (at..(at + long).min(track.len()))
                .filter(|f| track.known[*f] == Known::Measured)
                .map(|frame| At {
                    frame,
                    p: [track.x[frame], track.y[frame]],
                })
                .collect()
        })
        .filter(|w: &Vec<At>| w.len() > 2 * edge + 2)
        .collect();
    if windows.is_empty() || !from.is_finite() {
        return f64::NAN;
    }
    let misfit = |noise: f64| {
        let filter = Filter::new(Motion::of_people(1, noise), rate_hz, long);
        let (mut sum, mut n) = (0.0, 0.0);
        for seen in &windows {
            for (before, after) in &filter.sides(seen)[edge..seen.len() - edge] {
                let m = Meeting::of(before, after);
                sum += m.kept + m.log_det;
                n += 1.0;
            }
        }
        sum / n
    };
    let start = from.max(0.005);
    let at = |i: i32| start * STEP.powi(i);
    // Downhill from the start: the misfit has one valley.
    let mut here: (i32, f64) = (0, misfit(at(0)));
    for direction in [1, -1] {
        while here.0.abs() < STEPS {
            let next = here.0 + direction;
            let value = misfit(at(next));
            if value >= here.1 {
                break;
            }
            here = (next, value);
        }
        if here.0 != 0 {
            break;
        }
    }
    // The valley's floor by a parabola through three steps.
    let (l, r) = (misfit(at(here.0 - 1)), misfit(at(here.0 + 1)));
    let bend = l - 2.0 * here.1 + r;
    let off = if bend > 0.0 {
        ((l - r) / (2.0 * bend)).clamp(-0.5, 0.5)
    } else {
        0.0
    };
    at(here.0) * STEP.powf(off)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn noise_from_frame_to_frame_is_found() {
        for sigma in [0.02, 0.1, 0.3] {
            let found = white(&super::super::jumps::walk(5000, sigma));
            assert!((found / sigma - 1.0).abs() < 0.05, "{found} for {sigma}");
        }
    }
}

//! Short gaps, filled from both sides.

use super::Cleaning;
use crate::session::{Known, Track};

/// Where both sides are farther apart than a player runs in the time, the gap hides an error of the
/// sensor and stays unknown, m/s. Above any speed in play (value from memory).
const FASTEST: f64 = 9.0;

/// Fill gaps no longer than `longest` seconds between two known frames. A player's gap is filled
/// by the cubic that keeps position and speed on both sides (exact for constant acceleration), the
/// ball's by a straight line, since a ball is caught and thrown within a gap.
pub(super) fn short_gaps(
    track: &mut Track,
    rate_hz: f64,
    longest: f64,
    keep_speed: bool,
    settings: &Cleaning,
) {
    let n = track.len();
    let mut i = 0;
    while i < n {
        if track.known[i] != Known::Unknown {
            i += 1;
            continue;
        }
        let from = i;
        while i < n && track.known[i] == Known::Unknown {
            i += 1;
        }
        let span = (i - from + 1) as f64 / rate_hz;
        if from == 0 || i == n || span > longest + 1e-9 {
            continue;
        }
        let (a, b) = (from - 1, i);
        let far = (track.x[b] - track.x[a]).hypot(track.y[b] - track.y[a]);
        if keep_speed && far / span > FASTEST {
            continue;
        }
        fill(track, a, b, rate_hz, keep_speed, settings);
    }
}

fn fill(
    track: &mut Track,
    a: usize,
    b: usize,
    rate_hz: f64,
    keep_speed: bool,
    settings: &Cleaning,
) {
    let span = (b - a) as f64 / rate_hz;
    let slopes = if keep_speed {
        let s = |v: &[f64], at, step| slope(v, &track.known, at, step, rate_hz);
        let all = [
            s(&track.x, a, -1),
            s(&track.x, b, 1),
            s(&track.y, a, -1),
            s(&track.y, b, 1),
        ];
        match all {
            [Some(ax), Some(bx), Some(ay), Some(by)]
                if ax.hypot(ay).max(bx.hypot(by)) <= settings.max_speed =>
            {
                Some([ax, bx, ay, by])
            }
            _ => None,
        }
    } else {
        None
    };
    for k in a + 1..b {
        let u = (k - a) as f64 / (b - a) as f64;
        let line = |v: &[f64]| v[a] + (v[b] - v[a]) * u;
        let (x, y) = match slopes {
            None => (line(&track.x), line(&track.y)),
            Some([ax, bx, ay, by]) => {
                // Cubic Hermite basis.
                let h00 = (1.0 + 2.0 * u) * (1.0 - u) * (1.0 - u);
                let h10 = u * (1.0 - u) * (1.0 - u) * span;
                let h01 = u * u * (3.0 - 2.0 * u);
                let h11 = u * u * (u - 1.0) * span;
                (
                    h00 * track.x[a] + h10 * ax + h01 * track.x[b] + h11 * bx,
                    h00 * track.y[a] + h10 * ay + h01 * track.y[b] + h11 * by,
                )
            }
        };
        let z = track.z.as_deref().map(line);
        track.x[k] = x;
        track.y[k] = y;
        if let (Some(to), Some(z)) = (&mut track.z, z) {
            to[k] = z;
        }
        track.known[k] = Known::Filled;
    }
}

/// Speed at a known frame, from a straight line through up to 0.2 s of measured frames in
/// direction `step`; `None` with fewer than three.
fn slope(v: &[f64], known: &[Known], at: usize, step: isize, rate_hz: f64) -> Option<f64> {
    const OVER_S: f64 = 0.2;
    let most = (OVER_S * rate_hz).round().max(3.0) as isize;
    let mut points: Vec<(f64, f64)> = Vec::new();
    for k in 0..=most {
        let i = at.checked_add_signed(k * step)?;
        if known.get(i) != Some(&Known::Measured) {
            break;
        }
        points.push(((k * step) as f64 / rate_hz, v[i]));
    }
    if points.len() < 3 {
        return None;
    }
    let n = points.len() as f64;
    let (mt, mv) = points
        .iter()
        .fold((0.0, 0.0), |m, p| (m.0 + p.0 / n, m.1 + p.1 / n));
    let (num, den) = points.iter().fold((0.0, 0.0), |s, p| {
        (s.0 + (p.0 - mt) * (p.1 - mv), s.1 + (p.0 - mt) * (p.0 - mt))
    });
    Some(num / den)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_gaps_follow_the_path_and_long_ones_stay() {
        let n = 100;
        let mut t = Track {
            x: (0..n).map(|i| 0.1 * i as f64).collect(),
            y: vec![1.0; n],
            z: None,
            known: vec![Known::Measured; n],
        };
        for i in (20..25).chain(50..80) {
            super::super::forget(&mut t, i);
        }
        short_gaps(&mut t, 25.0, 0.5, true, &Cleaning::default());
        assert!(
            (20..25).all(|i| t.known[i] == Known::Filled && (t.x[i] - 0.1 * i as f64).abs() < 1e-9)
        );
        assert!((50..80).all(|i| t.known[i] == Known::Unknown));
    }
}

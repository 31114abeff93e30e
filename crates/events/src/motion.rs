//! Positions and velocities by local straight lines, and how noisy the tracks are.

use setdrift_tracks::{Known, Session, Track};

/// Position and velocity in the court frame, metres and m/s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Kin {
    pub pos: [f64; 2],
    pub vel: [f64; 2],
}

pub(crate) fn sub(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0] - b[0], a[1] - b[1]]
}

pub(crate) fn norm(a: [f64; 2]) -> f64 {
    // Metres and m/s: nothing that squaring could lose.
    (a[0] * a[0] + a[1] * a[1]).sqrt()
}

pub(crate) fn dist(a: [f64; 2], b: [f64; 2]) -> f64 {
    norm(sub(a, b))
}

/// Weight of a filled sample beside a measured one: it repeats its neighbours.
const FILLED: f64 = 0.2;

/// Kinematics of a session's tracks.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Motion<'a> {
    pub session: &'a Session,
    /// Half window for players, frames.
    pub player_half: usize,
    /// Half window for the ball, frames.
    pub ball_half: usize,
    /// Sensor noise per axis, metres.
    pub player_noise: f64,
    /// Sensor noise of the ball per axis, metres.
    pub ball_noise: f64,
    /// Variances per axis of players' and the ball's noise, square metres: white, and slow.
    pub player_split: (f64, f64),
    pub ball_split: (f64, f64),
}

impl<'a> Motion<'a> {
    pub fn new(session: &'a Session) -> Self {
        let rate = session.rate_hz;
        let mut each: Vec<f64> = session
            .tracks
            .iter()
            .filter_map(|t| noise(t, rate))
            .collect();
        each.sort_by(f64::total_cmp);
        let player_noise = each.get(each.len() / 2).copied().unwrap_or(FLOOR);
        let ball_noise = session
            .ball
            .as_ref()
            .and_then(|b| noise(b, rate))
            .unwrap_or(FLOOR)
            // The ball also bounces and changes hands; the sensor is taken to be the players'.
            .min(1.5 * player_noise)
            * SLOW_TOO;
        let mut parts: Vec<(f64, f64)> = session
            .tracks
            .iter()
            .filter_map(|t| split(t, rate))
            .collect();
        parts.sort_by(|a, b| (a.0 + a.1).total_cmp(&(b.0 + b.1)));
        let player_split = parts
            .get(parts.len() / 2)
            .copied()
            .unwrap_or((FLOOR * FLOOR, FLOOR * FLOOR));
        let ball_split = session
            .ball
            .as_ref()
            .and_then(|b| split(b, rate))
            // The ball's own changes of pace look like slow noise: its sensor is taken to be the
            // players'.
            .map_or(player_split, |b| {
                let ratio = (b.0 / player_split.0).clamp(0.5, 2.0);
                (ratio * player_split.0, ratio * player_split.1)
            });
        // Noisier tracks need longer windows; 0.25 to 0.4 s keeps cuts apart.
        let player_s = (0.22 + 0.5 * player_noise).min(0.4);
        let frames = |s: f64| ((s * rate).round() as usize).max(1);
        Self {
            session,
            player_half: frames(player_s),
            ball_half: frames(0.12).max(2),
            player_noise,
            ball_noise,
            player_split,
            ball_split,
        }
    }

    pub fn player(&self, player: usize, frame: usize) -> Option<Kin> {
        local_line(
            self.session.tracks.get(player)?,
            frame,
            self.player_half,
            self.session.rate_hz,
        )
    }

    pub fn ball(&self, frame: usize) -> Option<Kin> {
        local_line(
            self.session.ball.as_ref()?,
            frame,
            self.ball_half,
            self.session.rate_hz,
        )
    }

    /// The ball where the sensor saw it.
    pub fn ball_seen(&self, frame: usize) -> Option<[f64; 2]> {
        let b = self.session.ball.as_ref()?;
        (*b.known.get(frame)? == Known::Measured).then(|| [b.x[frame], b.y[frame]])
    }

    /// Whether the sensor gives the ball's height at all.
    pub fn sees_height(&self) -> bool {
        self.session.ball.as_ref().is_some_and(|b| b.z.is_some())
    }

    pub fn ball_height(&self, frame: usize) -> Option<f64> {
        self.session.ball.as_ref()?.height(frame)
    }

    /// Standard deviation per axis of a player's smoothed position, metres.
    pub fn player_error(&self) -> f64 {
        // The slow part does not average out over a window.
        self.player_noise * (1.0 / (2 * self.player_half + 1) as f64 + SLOW_SHARE).sqrt()
    }
}

/// Distance of two players' places.
pub(crate) fn gap(m: &Motion, a: usize, b: usize, frame: usize) -> Option<f64> {
    Some(dist(m.player(a, frame)?.pos, m.player(b, frame)?.pos))
}

/// Least squares line through the known samples of a window about `frame`.
fn local_line(track: &Track, frame: usize, half: usize, rate: f64) -> Option<Kin> {
    if *track.known.get(frame)? == Known::Unknown {
        return None;
    }
    let from = frame.saturating_sub(half);
    let to = (frame + half).min(track.known.len() - 1);
    let places = track.x[from..=to].iter().zip(&track.y[from..=to]);
    let (mut w, mut t1, mut t2) = (0.0, 0.0, 0.0);
    let mut s = [[0.0; 2]; 2];
    let mut off = from as f64 - frame as f64;
    for ((x, y), known) in places.zip(&track.known[from..=to]) {
        let t = off / rate;
        off += 1.0;
        let weight = match known {
            Known::Measured => 1.0,
            Known::Filled => FILLED,
            Known::Unknown => continue,
        };
        let lever = weight * t;
        w += weight;
        t1 += lever;
        t2 += lever * t;
        s[0][0] += weight * x;
        s[0][1] += weight * y;
        s[1][0] += lever * x;
        s[1][1] += lever * y;
    }
    let det = w * t2 - t1 * t1;
    if det <= 1e-9 {
        return Some(Kin {
            pos: [track.x[frame], track.y[frame]],
            vel: [0.0; 2],
        });
    }
    let line = |a: usize| {
        (
            (t2 * s[0][a] - t1 * s[1][a]) / det,
            (w * s[1][a] - t1 * s[0][a]) / det,
        )
    };
    let (x, vx) = line(0);
    let (y, vy) = line(1);
    Some(Kin {
        pos: [x, y],
        vel: [vx, vy],
    })
}

/// Tracking noise is partly slow (filters, occlusion, body posture), and differences over a tenth
/// of a second do not see that part. Its variance is taken as half of what they see; common
/// practice, no published source.
const SLOW_SHARE: f64 = 0.5;
const SLOW_TOO: f64 = 1.22;

/// Least noise assumed, metres: bodies are not points.
const FLOOR: f64 = 0.05;

/// Time in which slow noise changes, seconds, for telling it from white noise. Common practice,
/// no published source.
pub(crate) const SLOW_S: f64 = 0.35;

/// White and slow noise, square metres: third differences over one frame see the white part,
/// those over a fifth of a second also what changes within that time.
fn split(track: &Track, rate: f64) -> Option<(f64, f64)> {
    let short = (0.04 * rate).round().max(1.0);
    let long = (0.2 * rate).round().max(short + 1.0);
    // Share of first-order autoregressive noise that shows in third differences.
    let seen = |step: f64| {
        let r = (-step / rate / SLOW_S).exp();
        (20.0 - 30.0 * r + 12.0 * r * r - 2.0 * r * r * r) / 20.0
    };
    let a = third(track, short as usize)?.powi(2);
    let b = third(track, long as usize)?.powi(2);
    let slow = ((b - a) / (seen(long) - seen(short))).max(0.0);
    let white = a - seen(short) * slow;
    if white < 0.0 {
        return Some((FLOOR * FLOOR, a / seen(short)));
    }
    Some((white.max(FLOOR * FLOOR), slow.max(FLOOR * FLOOR)))
}

/// Noise per axis from third differences over steps of about 0.1 s, metres: for white noise their
/// variance is 20 σ² (sum of squared binomials 1, 3, 3, 1), while human jerk adds centimetres.
fn noise(track: &Track, rate: f64) -> Option<f64> {
    let step = ((0.1 * rate).round() as usize).max(1);
    Some(third(track, step)?.max(FLOOR))
}

/// Spread of third differences over a step, scaled to that of white noise.
fn third(track: &Track, step: usize) -> Option<f64> {
    let mut diffs = Vec::new();
    let every = (track.len() / 20_000).max(1);
    for k in (0..track.len().saturating_sub(3 * step)).step_by(every) {
        let at = [k, k + step, k + 2 * step, k + 3 * step];
        if at.iter().any(|i| track.known[*i] != Known::Measured) {
            continue;
        }
        for v in [&track.x, &track.y] {
            diffs.push((v[at[3]] - 3.0 * v[at[2]] + 3.0 * v[at[1]] - v[at[0]]).abs());
        }
    }
    if diffs.len() < 20 {
        return None;
    }
    let mid = diffs.len() / 2;
    let (_, median, _) = diffs.select_nth_unstable_by(mid, f64::total_cmp);
    // 0.6745: median of |N(0, 1)|.
    Some(*median / 0.6745 / 20f64.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_run_is_found_exactly_across_a_hole() {
        let n = 20;
        let mut t = Track {
            x: (0..n).map(|i| f64::from(i) * 0.1).collect(),
            y: vec![2.0; n as usize],
            z: None,
            known: vec![Known::Measured; n as usize],
        };
        t.known[9] = Known::Unknown;
        t.x[9] = 0.0;
        let k = local_line(&t, 10, 3, 10.0).unwrap();
        assert!((k.pos[0] - 1.0).abs() < 1e-12 && (k.vel[0] - 1.0).abs() < 1e-12);
        assert!(local_line(&t, 9, 3, 10.0).is_none());
    }

    #[test]
    fn noise_of_a_known_spread() {
        let mut x = 7u64;
        let mut uniform = || {
            x = x.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            (x >> 11) as f64 / (1u64 << 53) as f64
        };
        let mut gauss = || (0..12).map(|_| uniform()).sum::<f64>() - 6.0;
        let n = 4000;
        let t = Track {
            x: (0..n)
                .map(|i| f64::from(i) * 0.05 + 0.3 * gauss())
                .collect(),
            y: (0..n).map(|_| 0.3 * gauss()).collect(),
            z: None,
            known: vec![Known::Measured; n as usize],
        };
        let s = noise(&t, 10.0).unwrap();
        assert!((s - 0.3).abs() < 0.02, "{s}");
    }
}

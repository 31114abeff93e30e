//! When a ball that went in came to the ring: from then on it is below it, until it is fetched.

use crate::assumed::{WILD, fresh};
use crate::densest::{densest, mean};
use crate::motion::{Motion, SLOW_S, dist};
use crate::shots::ring;
use setdrift_court::End;

/// A ball through the net falls to the floor in 0.79 s, and is below the ring for as long, seconds.
const FALLS_S: f64 = 0.8;
/// Nobody stands below the ring with the ball for long: nats a look.
const HELD: f64 = -0.7;
/// How far from the ring's middle it falls and bounces, per axis, metres.
const BELOW_M: f64 = 0.25;
/// Spread of places about the ring that the ball has when it is elsewhere, per axis, metres.
const ELSEWHERE_M: f64 = 2.5;
/// It is as near to the ring for so long before it is in it, seconds.
const NEARS_S: f64 = 0.2;
/// The time at which it is told to have been there errs by this, seconds.
const ERRS_S: f64 = 0.7;
/// Told is the middle of what is likely within this, seconds.
const ABOUT_S: f64 = 0.4;

/// The time in a stretch at which the ball most likely came to the ring of `end` to fall through
/// it, seconds, and by how much that is likelier than that it never did, nats. `team` attacks there,
/// and the shot is told to have been at the ring at `told_s`; `hold_spread_m` as in [`crate::Params`].
/// `None` where the stretch is empty.
pub(crate) fn settled(
    m: &Motion,
    hold_spread_m: f64,
    end: End,
    team: usize,
    told_s: f64,
    (from_s, to_s): (f64, f64),
) -> Option<(f64, f64)> {
    let s = m.session;
    let (from, to) = (s.frame_at(from_s), s.frame_at(to_s));
    let falls = (FALLS_S * s.rate_hz).round() as usize;
    let last = (to + 3 * falls).min(s.frames() - 1);
    if to_s < from_s {
        return None;
    }
    let says: Vec<f64> = (from..=last)
        .map(|f| below(m, hold_spread_m, end, team, f))
        .collect();
    // What the samples from each frame on say until the ball is fetched, whenever that is likeliest.
    let mut stays = vec![0.0; says.len() + 1];
    for k in (0..says.len()).rev() {
        stays[k] = f64::max(stays[k + 1] + says[k], 0.0);
    }
    let mut sums = vec![0.0; says.len() + 1];
    for k in 0..says.len() {
        sums[k + 1] = sums[k] + says[k];
    }
    let odds: Vec<f64> = (0..=to - from)
        .map(|k| {
            let fallen = (k + falls).min(says.len());
            let off = (s.time(from + k) - told_s) / ERRS_S;
            sums[fallen] - sums[k] + stays[fallen] - (off * off).ln_1p()
        })
        .collect();
    let best = odds.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let about = (ABOUT_S * s.rate_hz).round() as usize;
    let weights: Vec<f64> = odds.iter().map(|o| (o - best).exp()).collect();
    let window = densest(&weights, about)?;
    let at = mean(&weights, &window, |k| k as f64);
    Some((s.time(from) + at / s.rate_hz + NEARS_S, best))
}

/// Logarithm of a normal density over both axes, without what is the same for all.
fn density(apart: f64, var: f64) -> f64 {
    -apart * apart / (2.0 * var) - var.ln()
}

/// What a frame's sample says for a ball below the ring rather than in somebody's hands or
/// elsewhere, nats.
fn below(m: &Motion, hold_spread_m: f64, end: End, team: usize, frame: usize) -> f64 {
    let Some(ball) = m.ball_seen(frame) else {
        return 0.0;
    };
    let noise = m.ball_split.0 + m.ball_split.1;
    let far = dist(ball, ring(m, end));
    let hands = noise + hold_spread_m.powi(2) + m.player_error().powi(2);
    let mates = (0..m.session.players.len()).filter(|i| m.session.players[*i].team == team);
    let elsewhere = mates
        .filter_map(|i| Some(HELD + density(dist(ball, m.player(i, frame)?.pos), hands)))
        .fold(density(far, noise + ELSEWHERE_M * ELSEWHERE_M), f64::max);
    // An error that lasts counts once.
    let fresh = fresh(m.session.rate_hz);
    let slow = 1.0 / (1.0 + SLOW_S * m.session.rate_hz * m.ball_split.1 / noise);
    let says = density(far, noise + BELOW_M * BELOW_M) - elsewhere;
    (fresh * slow * says).clamp(-WILD, WILD)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{self, track};

    /// A shot from 5 m that is at the right ring (12.425 m from the middle) at 4 s and comes off it;
    /// a second goes in at 7 s.
    fn ball(t: f64) -> Option<[f64; 2]> {
        Some(match t {
            t if t < 3.0 => [7.4, 0.0],
            t if t < 4.0 => [7.4 + 5.0 * (t - 3.0), 0.0],
            t if t < 5.0 => [12.4, 3.0 * (t - 4.0)],
            t if t < 6.4 => [12.4, 3.0],
            t if t < 7.0 => [12.4, 5.0 * (7.0 - t)],
            _ => [12.4, 0.0],
        })
    }

    fn see(ball: impl Fn(f64) -> Option<[f64; 2]>, told_s: f64) -> (f64, f64) {
        let s = testing::session(
            10.0,
            vec![(0, track(120, |_| Some([7.0, 0.3])))],
            Some(track(120, ball)),
        );
        let hold_spread_m = crate::Params::default().hold_spread_m;
        let m = Motion::new(&s);
        settled(&m, hold_spread_m, End::Right, 0, told_s, (2.5, 9.0)).unwrap()
    }

    #[test]
    fn the_ball_that_stays_below_the_ring_has_come_for_good() {
        let (at_s, nats) = see(ball, 4.0);
        assert!((at_s - 7.0).abs() < 0.25 && nats > 5.0, "{at_s} {nats}");
        let (_, miss) = see(|t| ball(t.min(6.0)), 4.0);
        assert!(miss < 3.0, "{miss}");
    }

    #[test]
    fn out_of_sight_it_has_come_in_the_middle() {
        let hole = |t: f64| ball(t).filter(|_| !(6.5..8.5).contains(&t));
        let (at_s, _) = see(hole, 7.5);
        assert!((at_s - 7.5).abs() < 0.4, "{at_s}");
    }
}

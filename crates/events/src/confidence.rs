//! How sure it is that a player had the ball: posterior probability by forward–backward.
//!
//! A small hidden Markov chain over the player told and those nearest to the ball meanwhile
//! (Rabiner 1989, section III.B), with one look every fifth of a second: errors outlast a frame.

use crate::hmm::Chain;
use crate::motion::{Motion, dist};
use crate::params::ValidParams;
use crate::touches::Touch;

/// Looks a second.
const LOOKS: f64 = 5.0;
/// Most looks at one touch.
const MOST: usize = 40;
/// Others considered.
const OTHERS: usize = 3;
/// One wild sample decides nothing, nats.
const WILD: f64 = 8.0;

/// Mean posterior probability, over a touch, that its player has the ball; 0.05..=0.99, and a
/// half where nothing was seen.
pub(crate) fn held(m: &Motion, p: &ValidParams, touch: &Touch) -> f64 {
    let rate = m.session.rate_hz;
    let from = touch.from.round().max(0.0) as usize;
    let to = (touch.to.round() as usize).clamp(from, from + (MOST as f64 / LOOKS * rate) as usize);
    let step = ((rate / LOOKS).round() as usize).max(1);
    let looks: Vec<usize> = (from..=to.min(m.session.frames() - 1))
        .step_by(step)
        .filter(|f| m.ball_seen(*f).is_some())
        .collect();
    let away =
        |player: usize, frame: usize| Some(dist(m.player(player, frame)?.pos, m.ball_seen(frame)?));
    let mean = |player: usize| {
        let all: Vec<f64> = looks.iter().filter_map(|f| away(player, *f)).collect();
        (!all.is_empty()).then(|| all.iter().sum::<f64>() / all.len() as f64)
    };
    let mut others: Vec<(f64, usize)> = (0..m.session.players.len())
        .filter(|i| *i != touch.player)
        .filter_map(|i| Some((mean(i)?, i)))
        .collect();
    if looks.is_empty() || mean(touch.player).is_none() {
        return 0.5;
    }
    others.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    others.truncate(OTHERS);
    let states: Vec<usize> = std::iter::once(touch.player)
        .chain(others.into_iter().map(|o| o.1))
        .collect();
    let n = states.len();
    let go = (step as f64 / rate / p.hold_s).min(0.5);
    let row = |a: usize| {
        (0..n)
            .map(|b| {
                if a == b {
                    (1.0 - go).ln()
                } else {
                    (go / n as f64).ln()
                }
            })
            .collect::<Vec<f64>>()
    };
    let chain = Chain::new(vec![0.0; n], &(0..n).map(row).collect::<Vec<_>>());
    let var = p.hold_spread_m.powi(2) + m.ball_split.0 + m.ball_split.1 + m.player_split.1;
    let emission: Vec<Vec<f64>> = looks
        .iter()
        .map(|f| {
            states
                .iter()
                .map(|i| away(*i, *f).map_or(-WILD / 2.0, |d| -(d * d / (2.0 * var)).min(WILD)))
                .collect()
        })
        .collect();
    let (posterior, _) = chain.posterior(&emission);
    let sum: f64 = posterior.iter().map(|r| r[0]).sum();
    (sum / posterior.len() as f64).clamp(0.05, 0.99)
}

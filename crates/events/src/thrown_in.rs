//! When a ball thrown in is caught, where the ball or who catches it is out of sight and the fit of
//! its flight has too little to go by.

use crate::assumed::SPEED_SPREAD;
use crate::densest::{densest, mean};
use crate::flight::FIDGET;
use crate::model::Spell;
use crate::motion::Motion;
use crate::params::ValidParams;

/// Time before the thrower lets go and after the catch, as they are told, that is looked at, seconds.
const BEFORE_S: f64 = 0.5;
const AFTER_S: f64 = 0.5;
/// Nobody looks further, seconds: a thrower has five seconds (FIBA Official Basketball Rules, Art. 17).
const LONGEST_S: f64 = 6.0;
/// Out of sight for this long is too little to go by, seconds.
const UNSEEN_S: f64 = 0.35;
/// Spread of a velocity after the catch per axis, m/s.
const CARRIED: f64 = 2.5;
/// Told is the middle of what is likely within this, seconds.
const ABOUT_S: f64 = 0.4;

/// When the ball that `thrower` throws in is caught, seconds: as told where ball and catcher are
/// seen, or where it took too long to tell. Over the release and the catch the ball stays at a place,
/// flies straight and goes on at an even pace; told is the catch about which the most of what is
/// possible lies.
pub(crate) fn caught_s(m: &Motion, p: &ValidParams, thrower: Spell, catcher: Spell) -> f64 {
    let s = m.session;
    let told = catcher.from_s;
    // Since before he let go, and before the ball was lost from sight in his hands.
    let held = s.frame_at(thrower.from_s);
    let sight = (held..=s.frame_at(thrower.to_s))
        .rev()
        .find(|f| m.ball_seen(*f).is_some());
    let lost_s = sight.map_or(thrower.to_s, |f| s.time(f));
    let first = s.frame_at((thrower.to_s.min(lost_s) - BEFORE_S).max(thrower.from_s));
    let last = s.frame_at((told + AFTER_S).min(catcher.to_s));
    let hole = |seen: &dyn Fn(usize) -> bool, from: usize| {
        let (mut run, mut most) = (0, 0);
        for f in from..=last {
            run = if seen(f) { 0 } else { run + 1 };
            most = most.max(run);
        }
        most as f64 / s.rate_hz
    };
    let ball = hole(&|f| m.ball_seen(f).is_some(), first);
    let body = hole(
        &|f| m.player(catcher.player, f).is_some(),
        s.frame_at(thrower.to_s),
    );
    let (from, to) = (s.time(first), s.time(last));
    if ball.max(body) < UNSEEN_S || last < first + 3 || to - from > LONGEST_S {
        return told;
    }
    let seen: Vec<(f64, [f64; 2])> = (first..=last)
        .filter_map(|f| Some((s.time(f), m.ball_seen(f)?)))
        .collect();
    let noise = m.ball_split.0 + m.ball_split.1;
    let var = noise + FIDGET * FIDGET;
    let step = (0.5 / s.rate_hz).max(0.05);
    let many = ((to - from) / step) as usize;
    if many < 2 {
        return told;
    }
    let place = |k: usize| from + step * k as f64;
    let hands = |i: usize, t: f64| {
        let at = m.player(i, s.frame_at(t))?.pos;
        Some((at, p.hold_spread_m.powi(2) + m.player_error().powi(2)))
    };
    let throwers: Vec<_> = (0..many).map(|r| hands(thrower.player, place(r))).collect();
    // What each catch has over all releases, nats.
    let mass: Vec<f64> = (2..=many)
        .map(|c| {
            let to = hands(catcher.player, place(c));
            let costs: Vec<f64> = (0..c)
                .map(|r| {
                    let times = (place(r), place(c));
                    cost(&seen, times, var, p.pass_speed_mps, [throwers[r], to])
                })
                .collect();
            let least = costs.iter().copied().fold(f64::INFINITY, f64::min);
            costs.iter().map(|c| (least - c).exp()).sum::<f64>().ln() - least
        })
        .collect();
    let top = mass.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = mass.iter().map(|x| (x - top).exp()).collect();
    densest(&weights, (ABOUT_S / step).round() as usize)
        .map_or(told, |window| mean(&weights, &window, |k| place(k + 2)))
}

/// What speaks against a release and a catch, nats: place, catch and velocity after it are the
/// likeliest for them.
fn cost(
    seen: &[(f64, [f64; 2])],
    (r, c): (f64, f64),
    var: f64,
    pass_mps: f64,
    bodies: [Option<([f64; 2], f64)>; 2],
) -> f64 {
    // Normal equations of where it is thrown from, where it is caught, and its velocity then.
    let mut a = [[0.0; 3]; 3];
    let mut y = [[0.0; 3]; 2];
    let mut yy = 0.0;
    let mut add = |h: [f64; 3], at: [f64; 2], var: f64| {
        for i in 0..3 {
            for j in 0..3 {
                a[i][j] += h[i] * h[j] / var;
            }
            for k in 0..2 {
                y[k][i] += h[i] * at[k] / var;
            }
        }
        yy += (at[0] * at[0] + at[1] * at[1]) / var;
    };
    for (t, at) in seen {
        let h = if *t < r {
            [1.0, 0.0, 0.0]
        } else if *t < c {
            let f = (t - r) / (c - r);
            [1.0 - f, f, 0.0]
        } else {
            [0.0, 1.0, t - c]
        };
        add(h, *at, var);
    }
    add([0.0, 0.0, 1.0], [0.0; 2], CARRIED * CARRIED);
    for (h, body) in [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]].into_iter().zip(bodies) {
        if let Some((at, var)) = body {
            add(h, at, var);
        }
    }
    // Places anywhere on the floor.
    add([1.0, 0.0, 0.0], [0.0; 2], 400.0);
    add([0.0, 1.0, 0.0], [0.0; 2], 400.0);
    let (x, z) = (solve(a, y[0]), solve(a, y[1]));
    let fit: f64 = (0..3).map(|i| x[i] * y[0][i] + z[i] * y[1][i]).sum();
    let speed = (x[1] - x[0]).hypot(z[1] - z[0]) / (c - r);
    let pace = (speed.max(0.3) / pass_mps).ln() / SPEED_SPREAD;
    0.5 * (yy - fit) + 0.5 * pace * pace + (c - r).ln()
}

/// Solution of three equations with a symmetric positive definite matrix, by elimination.
fn solve(mut a: [[f64; 3]; 3], mut y: [f64; 3]) -> [f64; 3] {
    for i in 0..3 {
        let pivot = a[i];
        for k in i + 1..3 {
            let f = a[k][i] / pivot[i];
            for (x, p) in a[k].iter_mut().zip(pivot) {
                *x -= f * p;
            }
            y[k] -= f * y[i];
        }
    }
    for i in (0..3).rev() {
        for k in i + 1..3 {
            y[i] -= a[i][k] * y[k];
        }
        y[i] /= a[i][i];
    }
    y
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{self, track};

    /// Thrown at 3 s from behind the end line, caught at 3.5 s 4 m inside, carried off at 2 m/s.
    fn ball(t: f64) -> [f64; 2] {
        match t {
            t if t < 3.0 => [14.5, 2.0],
            t if t < 3.5 => [14.5 - 8.0 * (t - 3.0), 2.0],
            _ => [10.5 - 2.0 * (t - 3.5), 2.0],
        }
    }

    fn told(
        catcher: &dyn Fn(f64) -> Option<[f64; 2]>,
        ball: &dyn Fn(f64) -> Option<[f64; 2]>,
    ) -> f64 {
        let thrower = track(80, |_| Some([14.5, 2.3]));
        let players = vec![(0, thrower), (0, track(80, catcher))];
        let s = testing::session(10.0, players, Some(track(80, ball)));
        let spell = |player, from_s, to_s| Spell {
            player,
            from_s,
            to_s,
        };
        caught_s(
            &Motion::new(&s),
            &ValidParams::default(),
            spell(0, 1.0, 3.0),
            spell(1, 4.6, 7.0),
        )
    }

    #[test]
    fn the_ball_tells_where_the_catcher_is_out_of_sight_and_the_middle_where_the_ball_is() {
        let seen = |t: f64| Some(if t < 3.5 { [10.4, 2.3] } else { ball(t) });
        let there = |t: f64| Some(ball(t));
        assert_eq!(told(&seen, &there), 4.6);
        let lost = |t: f64| seen(t).filter(|_| !(3.2..4.6).contains(&t));
        let at_s = told(&lost, &there);
        assert!((at_s - 3.5).abs() < 0.15, "{at_s}");
        let hole = |t: f64| there(t).filter(|_| !(3.05..4.55).contains(&t));
        let at_s = told(&seen, &hole);
        assert!((at_s - 4.0).abs() < 0.45, "{at_s}");
    }
}

//! Position and speed on both sides of a moment, by a Kalman filter run towards it from each side.
//!
//! Movement is Singer's: accelerations that fade within a time constant (Singer 1970, IEEE
//! Transactions on Aerospace and Electronic Systems 6(4), 473–483, with the discrete matrices
//! given there).

/// Positions at their times; both axes are filtered with one covariance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct At {
    /// Seconds.
    pub(super) t: f64,
    /// Metres.
    pub(super) p: [f64; 2],
}

/// How an object moves and how well it is seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Motion {
    /// Standard deviation of the acceleration per axis, m/s².
    pub(super) acceleration: f64,
    /// Its time constant, seconds.
    pub(super) fade_s: f64,
    /// Standard deviation of a position per axis, metres.
    pub(super) noise: f64,
    /// Standard deviation of the speed per axis before anything is seen, m/s.
    pub(super) speed: f64,
}

/// What is known of position, speed and acceleration: a mean per axis, one covariance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct State {
    pub(super) mean: [[f64; 3]; 2],
    pub(super) cov: [[f64; 3]; 3],
}

impl State {
    /// Distance from zero, metres: how far apart two players are whose difference this is.
    pub(super) fn apart(&self) -> f64 {
        self.mean[0][0].hypot(self.mean[1][0])
    }
}

type Matrix = [[f64; 3]; 3];

/// Standard deviation of a player's acceleration per axis, m/s². Efforts above 3.5 to 4 m/s² count
/// as of high intensity (Tuttle et al. 2024, Ibáñez et al. 2024).
const ACCELERATION: f64 = 3.0;
/// How long an acceleration lasts, seconds: a step or two (common practice, no published source).
const FADE_S: f64 = 0.4;
/// Standard deviation of a player's speed per axis, m/s: 95 % of it under 4 m/s in open data (Yamada
/// et al. 2025).
const SPEED: f64 = 3.0;

impl Motion {
    /// Of one player, or of the difference of two, seen with `noise` metres per axis.
    pub(super) fn of_people(players: usize, noise: f64) -> Self {
        let root = (players as f64).sqrt();
        Self {
            acceleration: root * ACCELERATION,
            fade_s: FADE_S,
            noise,
            speed: root * SPEED,
        }
    }

    fn start(&self, first: At) -> State {
        let mut cov = [[0.0; 3]; 3];
        cov[0][0] = self.noise * self.noise;
        cov[1][1] = self.speed * self.speed;
        cov[2][2] = self.acceleration * self.acceleration;
        State {
            mean: first.p.map(|p| [p, 0.0, 0.0]),
            cov,
        }
    }

    /// Transition over `t` seconds and what it adds to the covariance.
    fn step(&self, t: f64) -> (Matrix, Matrix) {
        let a = 1.0 / self.fade_s;
        let (at, e) = (a * t, (-a * t).exp());
        let e2 = e * e;
        let f = [
            [1.0, t, (at - 1.0 + e) / (a * a)],
            [0.0, 1.0, (1.0 - e) / a],
            [0.0, 0.0, e],
        ];
        let scale = 2.0 * a * self.acceleration * self.acceleration;
        let q11 = (1.0 - e2 + 2.0 * at + 2.0 * at.powi(3) / 3.0 - 2.0 * at * at - 4.0 * at * e)
            / (2.0 * a.powi(5));
        let q12 = (e2 + 1.0 - 2.0 * e + 2.0 * at * e - 2.0 * at + at * at) / (2.0 * a.powi(4));
        let q13 = (1.0 - e2 - 2.0 * at * e) / (2.0 * a.powi(3));
        let q22 = (4.0 * e - 3.0 - e2 + 2.0 * at) / (2.0 * a.powi(3));
        let q23 = (e2 + 1.0 - 2.0 * e) / (2.0 * a * a);
        let q33 = (1.0 - e2) / (2.0 * a);
        // Where steps are very short, rounding may leave a variance just under zero.
        let q = [
            [q11.max(0.0), q12, q13],
            [q12, q22.max(0.0), q23],
            [q13, q23, q33],
        ];
        (f, q.map(|row| row.map(|v| scale * v)))
    }

    /// What is known `t` seconds on, unless anything is seen.
    pub(super) fn predict(&self, s: &State, t: f64) -> State {
        let (f, q) = self.step(t);
        let mean = s
            .mean
            .map(|m| std::array::from_fn(|i| (0..3).map(|k| f[i][k] * m[k]).sum()));
        let half: Matrix = std::array::from_fn(|i| {
            std::array::from_fn(|j| (0..3).map(|k| f[i][k] * s.cov[k][j]).sum())
        });
        let cov = std::array::from_fn(|i| {
            std::array::from_fn(|j| (0..3).map(|k| half[i][k] * f[j][k]).sum::<f64>() + q[i][j])
        });
        State { mean, cov }
    }

    fn see(&self, s: &mut State, p: [f64; 2]) {
        let total = s.cov[0][0] + self.noise * self.noise;
        let gain: [f64; 3] = std::array::from_fn(|i| s.cov[i][0] / total);
        for (m, p) in s.mean.iter_mut().zip(p) {
            let off = p - m[0];
            for (m, g) in m.iter_mut().zip(gain) {
                *m += g * off;
            }
        }
        let row = s.cov[0];
        for (cov, g) in s.cov.iter_mut().zip(gain) {
            for (c, r) in cov.iter_mut().zip(row) {
                *c -= g * r;
            }
        }
    }

    /// At each place of `seen`, what it and all before it tell.
    pub(super) fn forward(&self, seen: &[At]) -> Vec<State> {
        let mut out: Vec<State> = Vec::with_capacity(seen.len());
        for (i, s) in seen.iter().enumerate() {
            let state = match out.last() {
                None => self.start(*s),
                Some(last) => {
                    let mut next = self.predict(last, s.t - seen[i - 1].t);
                    self.see(&mut next, s.p);
                    next
                }
            };
            out.push(state);
        }
        out
    }

    /// At each place of `seen`, what it and all after it tell.
    pub(super) fn backward(&self, seen: &[At]) -> Vec<State> {
        let turned: Vec<At> = seen.iter().rev().map(|s| At { t: -s.t, p: s.p }).collect();
        let mut out = self.forward(&turned);
        out.reverse();
        for s in &mut out {
            for m in &mut s.mean {
                m[1] = -m[1];
            }
            for (i, j) in [(0, 1), (1, 0), (1, 2), (2, 1)] {
                s.cov[i][j] = -s.cov[i][j];
            }
        }
        out
    }
}

/// What the two sides of a moment say of an exchange there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Meeting {
    /// Squared distance of the two sides as they stand, in standard deviations (four degrees of
    /// freedom).
    pub(super) kept: f64,
    /// The same with one side turned round, as an exchange would have it.
    pub(super) exchanged: f64,
    /// Logarithm of the determinant of the covariance of either, over both axes.
    pub(super) log_det: f64,
}

impl Meeting {
    /// Of the difference of two players' positions: `before` the moment, predicted to it, and
    /// `after` it. Exchanging the two players turns the difference round.
    pub(super) fn of(before: &State, after: &State) -> Self {
        let s = |i: usize, j: usize| before.cov[i][j] + after.cov[i][j];
        let det = s(0, 0) * s(1, 1) - s(0, 1) * s(1, 0);
        let norm =
            |p: f64, v: f64| (s(1, 1) * p * p - 2.0 * s(0, 1) * p * v + s(0, 0) * v * v) / det;
        let sum = |sign: f64| {
            before
                .mean
                .iter()
                .zip(&after.mean)
                .map(|(b, a)| norm(b[0] + sign * a[0], b[1] + sign * a[1]))
                .sum()
        };
        Self {
            kept: sum(-1.0),
            exchanged: sum(1.0),
            log_det: 2.0 * det.ln(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MOTION: Motion = Motion {
        acceleration: 3.0,
        fade_s: 0.4,
        noise: 0.1,
        speed: 6.0,
    };

    /// Over short steps Singer's covariance is that of a constant jerk's white noise,
    /// `2 a σ² [T⁵/20, T⁴/8, T³/6, T³/3, T²/2, T]` (Bar-Shalom, Li and Kirubarajan 2001, eq. 6.2.3-9,
    /// number from memory).
    #[test]
    fn short_steps_have_the_known_limit() {
        let t = 0.01;
        let (f, q) = MOTION.step(t);
        let scale = 2.0 / MOTION.fade_s * 9.0;
        let limit = [
            [t.powi(5) / 20.0, t.powi(4) / 8.0, t.powi(3) / 6.0],
            [t.powi(4) / 8.0, t.powi(3) / 3.0, t * t / 2.0],
            [t.powi(3) / 6.0, t * t / 2.0, t],
        ];
        for i in 0..3 {
            for j in 0..3 {
                assert!(
                    (q[i][j] / (scale * limit[i][j]) - 1.0).abs() < 0.05,
                    "{i} {j}"
                );
            }
        }
        assert!((f[0][2] / (t * t / 2.0) - 1.0).abs() < 0.02);
    }

    #[test]
    fn both_directions_find_a_straight_run() {
        let seen: Vec<At> = (0..60)
            .map(|i| At {
                t: f64::from(i) * 0.04,
                p: [2.0 * f64::from(i) * 0.04, -1.0],
            })
            .collect();
        let (f, b) = (MOTION.forward(&seen), MOTION.backward(&seen));
        for s in [f[59], b[0]] {
            assert!((s.mean[0][1] - 2.0).abs() < 0.02, "{:?}", s.mean);
            assert!(s.mean[1][1].abs() < 1e-9);
        }
        let m = Meeting::of(&MOTION.predict(&f[29], 0.04), &b[30]);
        assert!(m.kept < 0.01 && m.exchanged > 100.0, "{m:?}");
    }
}

//! Position and speed on both sides of a moment, by a Kalman filter run towards it from each side.
//!
//! Movement is Singer's: accelerations that fade within a time constant (Singer 1970, IEEE
//! Transactions on Aerospace and Electronic Systems 6(4), 473–483, with the discrete matrices
//! given there).

/// A position at its frame; both axes are filtered with one covariance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct At {
    pub(super) frame: usize,
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

    fn start(&self, first: [f64; 2]) -> State {
        let mut cov = [[0.0; 3]; 3];
        cov[0][0] = self.noise * self.noise;
        cov[1][1] = self.speed * self.speed;
        cov[2][2] = self.acceleration * self.acceleration;
        State {
            mean: first.map(|p| [p, 0.0, 0.0]),
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
}

/// A mean after a transition, unless anything is seen.
fn ahead(mean: &[[f64; 3]; 2], f: &Matrix) -> [[f64; 3]; 2] {
    mean.map(|m| std::array::from_fn(|i| (0..3).map(|k| f[i][k] * m[k]).sum()))
}

fn spread(cov: &Matrix, (f, q): &(Matrix, Matrix)) -> Matrix {
    let half: Matrix =
        std::array::from_fn(|i| std::array::from_fn(|j| (0..3).map(|k| f[i][k] * cov[k][j]).sum()));
    std::array::from_fn(|i| {
        std::array::from_fn(|j| (0..3).map(|k| half[i][k] * f[j][k]).sum::<f64>() + q[i][j])
    })
}

/// What seeing does to a covariance, and how far a mean then follows what is seen.
fn narrow(cov: &Matrix, noise: f64) -> (Matrix, [f64; 3]) {
    let total = cov[0][0] + noise * noise;
    let gain: [f64; 3] = std::array::from_fn(|i| cov[i][0] / total);
    let seen = std::array::from_fn(|i| std::array::from_fn(|j| cov[i][j] - gain[i] * cov[0][j]));
    (seen, gain)
}

fn follow(mean: &mut [[f64; 3]; 2], gain: [f64; 3], p: [f64; 2]) {
    for (m, p) in mean.iter_mut().zip(p) {
        let off = p - m[0];
        for (m, g) in m.iter_mut().zip(gain) {
            *m += g * off;
        }
    }
}

/// One position of an unbroken stretch: covariances depend on its place alone, not on what is seen.
#[derive(Debug, Clone, Copy)]
struct Regular {
    before: Matrix,
    seen: Matrix,
    gain: [f64; 3],
}

/// A filter on the frames of a session.
#[derive(Debug, Clone)]
pub(super) struct Filter {
    motion: Motion,
    frame_s: f64,
    /// Transition over one frame.
    step: (Matrix, Matrix),
    regular: Vec<Regular>,
}

impl Filter {
    /// `usual` is the number of positions most stretches have; longer ones cost more.
    pub(super) fn new(motion: Motion, rate_hz: f64, usual: usize) -> Self {
        let step = motion.step(1.0 / rate_hz);
        let start = motion.start([0.0; 2]).cov;
        let mut regular: Vec<Regular> = Vec::with_capacity(usual.max(1));
        regular.push(Regular {
            before: start,
            seen: start,
            gain: [0.0; 3],
        });
        while regular.len() < usual {
            let before = spread(&regular[regular.len() - 1].seen, &step);
            let (seen, gain) = narrow(&before, motion.noise);
            regular.push(Regular { before, seen, gain });
        }
        Self {
            motion,
            frame_s: 1.0 / rate_hz,
            step,
            regular,
        }
    }

    /// At each place, in the order given: what all before it tell of it, and the same once it is seen.
    fn run(&self, seen: impl Iterator<Item = At>, mut each: impl FnMut(State, State)) {
        let mut last: Option<(usize, State)> = None;
        let mut unbroken = true;
        for (i, at) in seen.enumerate() {
            let (before, now) = match last {
                None => {
                    let s = self.motion.start(at.p);
                    (s, s)
                }
                Some((frame, from)) => {
                    let frames = at.frame.abs_diff(frame);
                    unbroken &= frames == 1;
                    let long;
                    let step = if frames == 1 {
                        &self.step
                    } else {
                        long = self.motion.step(frames as f64 * self.frame_s);
                        &long
                    };
                    let mut mean = ahead(&from.mean, &step.0);
                    let known = if unbroken { self.regular.get(i) } else { None };
                    let r = known.copied().unwrap_or_else(|| {
                        let before = spread(&from.cov, step);
                        let (seen, gain) = narrow(&before, self.motion.noise);
                        Regular { before, seen, gain }
                    });
                    let before = State {
                        mean,
                        cov: r.before,
                    };
                    follow(&mut mean, r.gain, at.p);
                    (before, State { mean, cov: r.seen })
                }
            };
            each(before, now);
            last = Some((at.frame, now));
        }
    }

    /// At each place of `seen`: what all before it tell of it (at the first, itself), and what it
    /// and all after it tell.
    pub(super) fn sides(&self, seen: &[At]) -> Vec<(State, State)> {
        let mut out: Vec<(State, State)> = Vec::with_capacity(seen.len());
        self.run(seen.iter().copied(), |before, now| out.push((before, now)));
        let mut i = seen.len();
        self.run(seen.iter().rev().copied(), |_, mut now| {
            i -= 1;
            for m in &mut now.mean {
                m[1] = -m[1];
            }
            for (a, b) in [(0, 1), (1, 0), (1, 2), (2, 1)] {
                now.cov[a][b] = -now.cov[a][b];
            }
            out[i].1 = now;
        });
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
        let filter = Filter::new(MOTION, 25.0, 40);
        let seen: Vec<At> = (0..60)
            .map(|frame| At {
                frame,
                p: [2.0 * frame as f64 * 0.04, -1.0],
            })
            .collect();
        let sides = filter.sides(&seen);
        for s in [sides[59].0, sides[0].1] {
            assert!((s.mean[0][1] - 2.0).abs() < 0.02, "{:?}", s.mean);
            assert!(s.mean[1][1].abs() < 1e-9);
        }
        let m = Meeting::of(&sides[30].0, &sides[30].1);
        assert!(m.kept < 0.01 && m.exchanged > 100.0, "{m:?}");
    }

    /// What was worked out beforehand is what is worked out on the way.
    #[test]
    fn unbroken_stretches_are_as_any_other() {
        let seen: Vec<At> = (0..80)
            .filter(|f| *f < 50 || *f > 56)
            .map(|frame| At {
                frame,
                p: [(frame as f64 * 0.3).sin(), (frame as f64 * 0.2).cos()],
            })
            .collect();
        let [long, short] = [200, 1].map(|usual| Filter::new(MOTION, 25.0, usual).sides(&seen));
        assert_eq!(long, short);
    }
}

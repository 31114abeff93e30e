//! A course of the ball up to a frame: its state, its Kalman filter, and the best of many.

use setdrift_court::End;

/// A state of the ball.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ctl {
    /// In a player's hands or dribbled.
    Held(usize),
    /// In the air, let go by a player.
    Air(usize),
    /// Off a ring after a miss.
    Off(End),
    /// Through a ring.
    Down(End),
    /// In play, nobody's.
    Loose,
    /// Out of play or resting.
    Dead,
}

/// A course and its filter. Both axes share their variances.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Course {
    pub ctl: Ctl,
    /// Frame at which the state was entered.
    pub since: usize,
    /// Log probability, the best course's taken off.
    pub score: f64,
    /// Offset from the body when held, else place; metres.
    pub x: [f64; 2],
    /// Velocity when not held, m/s.
    pub v: [f64; 2],
    /// Variances of `x`, of both together, of `v`.
    pub p: [f64; 3],
    /// Where a flight began; where a held ball is.
    pub start: [f64; 2],
    /// What came before: index of a link, or [`NONE`].
    pub past: u32,
    /// The state just left and since when it lasted, until that is written down as a link.
    pub left: Option<(Ctl, usize)>,
}

/// No link.
pub(crate) const NONE: u32 = u32::MAX;

impl Course {
    /// Place and velocity `dt` seconds later. `push` is the spread of the change of velocity over
    /// a second, m/s; `brake` the share of the velocity lost a second; `drift` the variance that
    /// the place gains a second.
    pub fn fly(&self, dt: f64, push: f64, brake: f64, drift: f64) -> Self {
        let keep = (-brake * dt).exp();
        let mut s = *self;
        for k in 0..2 {
            s.x[k] = self.x[k] + dt * self.v[k];
            s.v[k] = keep * self.v[k];
        }
        let [a, b, c] = self.p;
        s.p = [
            a + 2.0 * dt * b + dt * dt * c + drift * dt,
            keep * (b + dt * c),
            keep * keep * c + push * push * dt,
        ];
        s
    }

    /// Whether two courses cannot but go on alike: all that what is to come may rest on is the same to
    /// the last bit. When a ball came into hands, or came to lie free, is never asked again.
    pub fn goes_on_as(&self, other: &Self) -> bool {
        let all = |c: &Self| {
            let [x, y] = c.x;
            let [v, w] = c.v;
            let [a, b, d] = c.p;
            [x, y, v, w, a, b, d, c.start[0], c.start[1], c.score].map(f64::to_bits)
        };
        self.ctl == other.ctl
            && (self.since == other.since
                || matches!(self.ctl, Ctl::Held(_) | Ctl::Loose | Ctl::Dead))
            && all(self) == all(other)
    }

    /// The filter after a sample that differs from `x` by `e` and has variance `s` about it.
    pub fn learn(&mut self, e: [f64; 2], s: f64) {
        let (g, h) = (self.p[0] / s, self.p[1] / s);
        for (k, e) in e.into_iter().enumerate() {
            self.x[k] += g * e;
            self.v[k] += h * e;
        }
        self.p = [
            self.p[0] * (1.0 - g),
            self.p[1] * (1.0 - g),
            self.p[2] - h * self.p[1],
        ];
    }
}

/// Courses kept per player whose ball is in the air: they differ in the moment of release. Fewer
/// leave no room for a throw at the end of a dribble, in which flights were begun as well.
const FLIGHTS: usize = 6;

/// The best courses that end in each state.
#[derive(Debug)]
pub(crate) struct Pool {
    slots: Vec<Option<Course>>,
    /// The score in each slot, minus infinity where there is none.
    scores: Vec<f64>,
    players: usize,
    top: f64,
}

impl Pool {
    pub fn new(players: usize) -> Self {
        let slots = players * (1 + FLIGHTS) + 6;
        Self {
            slots: vec![None; slots],
            scores: vec![f64::NEG_INFINITY; slots],
            players,
            top: f64::NEG_INFINITY,
        }
    }

    /// The best score so far.
    pub fn top(&self) -> f64 {
        self.top
    }

    /// The score that a course of a state must exceed to be kept.
    pub fn least(&self, ctl: Ctl) -> f64 {
        self.scores[self.worst(ctl)]
    }

    /// The first slot of a state with the lowest score.
    fn worst(&self, ctl: Ctl) -> usize {
        let range = self.range(ctl);
        let mut worst = range.start;
        for i in range {
            if self.scores[i] < self.scores[worst] {
                worst = i;
            }
        }
        worst
    }

    fn range(&self, ctl: Ctl) -> std::ops::Range<usize> {
        let n = self.players;
        let one = |i: usize| i..i + 1;
        let end = |e: End| usize::from(e == End::Right);
        match ctl {
            Ctl::Held(i) => one(i),
            Ctl::Air(i) => n + FLIGHTS * i..n + FLIGHTS * (i + 1),
            Ctl::Off(e) => one(n * (1 + FLIGHTS) + end(e)),
            Ctl::Down(e) => one(n * (1 + FLIGHTS) + 2 + end(e)),
            Ctl::Loose => one(n * (1 + FLIGHTS) + 4),
            Ctl::Dead => one(n * (1 + FLIGHTS) + 5),
        }
    }

    /// Takes a course in if it is better than the worst kept of its state.
    pub fn offer(&mut self, c: Course) {
        let worst = self.worst(c.ctl);
        if c.score > self.scores[worst] {
            self.slots[worst] = Some(c);
            self.scores[worst] = c.score;
            self.top = self.top.max(c.score);
        }
    }

    /// Takes out all courses that are no further than `beam` behind the best, in order of state,
    /// their scores counted from it.
    pub fn drain(&mut self, beam: f64, out: &mut Vec<Course>) {
        out.clear();
        for (slot, score) in self.slots.iter_mut().zip(&mut self.scores) {
            if *score == f64::NEG_INFINITY {
                continue;
            }
            *score = f64::NEG_INFINITY;
            if let Some(c) = slot.take()
                && c.score >= self.top - beam
            {
                out.push(Course {
                    score: c.score - self.top,
                    ..c
                });
            }
        }
        self.top = f64::NEG_INFINITY;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn course(ctl: Ctl, score: f64) -> Course {
        Course {
            ctl,
            since: 0,
            score,
            x: [0.0; 2],
            v: [0.0; 2],
            p: [1.0, 0.0, 100.0],
            start: [0.0; 2],
            past: NONE,
            left: None,
        }
    }

    #[test]
    fn one_course_a_hand_and_six_flights_are_kept() {
        let mut pool = Pool::new(2);
        for s in 0..8 {
            pool.offer(course(Ctl::Held(1), -f64::from(s)));
            pool.offer(course(Ctl::Air(0), -1.0 - f64::from(s)));
        }
        let mut out = Vec::new();
        pool.drain(30.0, &mut out);
        assert_eq!(out.len(), 1 + FLIGHTS);
        assert_eq!(out[0].score, 0.0);
        pool.offer(course(Ctl::Loose, -50.0));
        pool.offer(course(Ctl::Dead, -10.0));
        pool.drain(30.0, &mut out);
        assert_eq!(out.len(), 1);
    }

    /// A filter that sees a straight flight ends with its velocity.
    #[test]
    fn the_filter_learns_a_constant_velocity() {
        let mut c = course(Ctl::Air(0), 0.0);
        for k in 1..=25 {
            c = c.fly(0.04, 0.1, 0.0, 0.0);
            let seen = [0.04 * f64::from(k) * 8.0, 0.04 * f64::from(k) * -3.0];
            c.learn([seen[0] - c.x[0], seen[1] - c.x[1]], c.p[0] + 1e-4);
        }
        assert!((c.v[0] - 8.0).abs() < 0.05 && (c.v[1] + 3.0).abs() < 0.05);
    }
}

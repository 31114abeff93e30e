//! Release and catch between frames: the ball follows one pair of hands, then a straight line,
//! then the other pair of hands; both times are those that leave the least unexplained.
//!
//! A hinge fit (Hudson 1966, J. Amer. Statist. Assoc. 61, 1097–1129: fitting segmented curves
//! whose join points have to be estimated), with the hands' offsets as nuisance parameters.

use crate::assumed::{SPEED_SPREAD, TIME_SPREAD, fresh};
use crate::motion::Motion;

/// One end of a flight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Hand {
    /// A player, by index.
    Player(usize),
    /// A fixed place: the ring.
    Place([f64; 2]),
}

/// What is known of a flight beforehand, as the median of a log-normal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Pace {
    /// Horizontal speed, m/s: passes.
    Speed(f64),
    /// Time in the air, seconds: what goes up to a ring or comes down from it.
    Time(f64),
}

/// Frames within which to look.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Bounds {
    /// Earliest and latest release, frames.
    pub release: (f64, f64),
    /// Earliest and latest catch, frames.
    pub catch: (f64, f64),
    /// First and last frame of data used.
    pub data: (usize, usize),
    /// When two players came within arm's reach of each other: who comes for the ball takes it
    /// then rather than later.
    pub met: Option<f64>,
}

/// The best fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Fit {
    /// Release, frames.
    pub release: f64,
    /// Catch, frames.
    pub catch: f64,
    /// Where the ball left and came, metres.
    pub left: [f64; 2],
    pub came: [f64; 2],
    /// Root mean square residual per axis, metres.
    pub rms: f64,
    /// Samples used.
    pub samples: usize,
}

/// Times during which the arms speed the ball up before it leaves them, seconds (common
/// practice: a chest pass is pushed over half an arm's length).
const PUSHES: [f64; 4] = [0.0, 0.06, 0.12, 0.18];
/// Spread of these times, seconds.
const PUSH_SPREAD: f64 = 0.10;

/// Mean time from coming within reach to the ball's changing hands, and scale of doing so before
/// it, seconds (common practice: it is given on arrival).
const LINGER: f64 = 0.30;
const HASTE: f64 = 0.10;

/// Fastest pass, m/s, horizontally: above the fastest two-handed throws (common practice).
const FASTEST: f64 = 20.0;

/// Moments tried at first lie this far apart, and at last, seconds.
const COARSE_S: f64 = 0.08;
const FINE_S: f64 = 0.015;
/// Times this much less likely than the best are given up, nats, and so are all but the best
/// [`MOST_CELLS`].
const POSSIBLE: f64 = 8.0;
const MOST_CELLS: usize = 40;
/// Times this near are as good as each other, seconds.
const ABOUT_S: f64 = 0.15;

/// A release and a catch.
#[derive(Debug, Clone, Copy)]
struct Cell {
    cost: f64,
    release: f64,
    catch: f64,
    push: f64,
}

struct Sample {
    t: f64,
    ball: [f64; 2],
    /// The ball less the body that gives it and less the one that takes it, metres.
    off: [[f64; 2]; 2],
}

struct Problem {
    samples: Vec<Sample>,
    first: usize,
    a: Vec<[f64; 2]>,
    b: Vec<[f64; 2]>,
    /// Variance per axis of a sample in a hand and in the air, square metres.
    held: f64,
    air: f64,
    /// Inverse variance of a hand's offset.
    ridge: [f64; 2],
    rate: f64,
    pace: Pace,
    met: Option<f64>,
    /// Share of a sample's evidence that is new.
    fresh: f64,
}

/// The ball wanders in the hands: dribble, fakes, swinging arms; metres per axis.
pub(crate) const FIDGET: f64 = 0.18;
/// Who has caught a ball turns with it, and turns before throwing: how fast its offset changes at
/// an even pace, m/s per axis, and for how long, seconds (common practice: half a turn with the
/// ball half a metre before the body takes as long).
const TURN: f64 = 0.9;
const TURN_S: f64 = 0.5;
/// A flight is straight to within this, metres: drag and bounces.
const STRAIGHT: f64 = 0.06;

/// Fits release and catch, or `None` where there is too little to see.
pub(crate) fn fit(
    m: &Motion,
    from: Hand,
    to: Hand,
    bounds: Bounds,
    hold_spread: f64,
    pace: Pace,
) -> Option<Fit> {
    let (first, last) = bounds.data;
    if last < first {
        return None;
    }
    let (a, b) = (path(m, from, first, last)?, path(m, to, first, last)?);
    let samples: Vec<Sample> = (first..=last)
        .filter_map(|k| {
            let ball = m.ball_seen(k)?;
            let off = [&a, &b].map(|p| [ball[0] - p[k - first][0], ball[1] - p[k - first][1]]);
            Some(Sample {
                t: k as f64,
                ball,
                off,
            })
        })
        .collect();
    if samples.len() < 4 {
        return None;
    }
    let noise = m.ball_noise.powi(2);
    let held = noise + m.player_error().powi(2) + FIDGET.powi(2);
    let spread = |h: Hand| match h {
        Hand::Player(_) => 1.0 / hold_spread.powi(2),
        Hand::Place(_) => 1.0 / 0.05,
    };
    let rate = m.session.rate_hz;
    let p = Problem {
        samples,
        first,
        a,
        b,
        held,
        air: noise + STRAIGHT.powi(2),
        ridge: [spread(from), spread(to)],
        rate,
        pace,
        met: bounds.met,
        fresh: fresh(rate),
    };
    let pushes: &[f64] = match to {
        Hand::Player(_) => &PUSHES,
        Hand::Place(_) => &PUSHES[..1],
    };
    let (release, catch, push) = p.search(bounds, pushes)?;
    let hands = p.solve(release, catch, push);
    let sse = p.residual(&hands, release, catch, push);
    let [oa, ob] = hands.offset;
    let a = p.at(&p.a, release);
    let b = p.at(&p.b, catch);
    Some(Fit {
        release,
        catch,
        left: [a[0] + oa[0], a[1] + oa[1]],
        came: [b[0] + ob[0], b[1] + ob[1]],
        rms: (sse / (2.0 * p.samples.len() as f64)).sqrt(),
        samples: p.samples.len(),
    })
}

/// A hand's path over the window, holes bridged at an even pace.
fn path(m: &Motion, hand: Hand, first: usize, last: usize) -> Option<Vec<[f64; 2]>> {
    let i = match hand {
        Hand::Place(p) => return Some(vec![p; last - first + 1]),
        Hand::Player(i) => i,
    };
    let mut out: Vec<[f64; 2]> = Vec::with_capacity(last - first + 1);
    let mut before: Option<[f64; 2]> = None;
    for k in first..=last {
        let Some(now) = m.player(i, k).map(|k| k.pos) else {
            continue;
        };
        let hole = k - first - out.len();
        let from = before.unwrap_or(now);
        for h in 1..=hole {
            let f = h as f64 / (hole + 1) as f64;
            out.push([
                from[0] + f * (now[0] - from[0]),
                from[1] + f * (now[1] - from[1]),
            ]);
        }
        out.push(now);
        before = Some(now);
    }
    out.resize(last - first + 1, before?);
    Some(out)
}

impl Problem {
    fn at(&self, path: &[[f64; 2]], t: f64) -> [f64; 2] {
        let x = (t - self.first as f64).clamp(0.0, (path.len() - 1) as f64);
        let k = (x as usize).min(path.len().saturating_sub(2));
        let f = x - k as f64;
        let p = path[k];
        let q = path[(k + 1).min(path.len() - 1)];
        [p[0] + (q[0] - p[0]) * f, p[1] + (q[1] - p[1]) * f]
    }

    /// The release and the catch about which the most of what the samples leave possible lies
    /// within [`ABOUT_S`], and the likeliest push there. Cells of both times are halved as long as
    /// few enough of them can hold the truth.
    fn search(&self, bounds: Bounds, pushes: &[f64]) -> Option<(f64, f64, f64)> {
        let mut step = (COARSE_S * self.rate).max(0.5);
        let ((r_low, r_high), (c_low, c_high)) = (bounds.release, bounds.catch);
        let grid = |low: f64, high: f64| {
            let n = ((high - low) / step).ceil().max(0.0) as usize;
            (0..=n).map(move |i| (low + i as f64 * step).min(high))
        };
        let mut cells: Vec<Cell> = Vec::new();
        for r in grid(r_low, r_high) {
            for c in grid(c_low, c_high).filter(|c| *c >= r) {
                cells.push(self.cell(r, c, &pushes[..1]));
            }
        }
        while cells.len() < 4 * MOST_CELLS && step > FINE_S * self.rate {
            cells.sort_by(|a, b| a.cost.total_cmp(&b.cost));
            let best = cells.first()?.cost;
            let keep = cells.partition_point(|c| c.cost < best + POSSIBLE);
            cells.truncate(keep.clamp(9, MOST_CELLS));
            let quarter = step / 4.0;
            let mut finer = Vec::with_capacity(4 * cells.len());
            for cell in &cells {
                for (i, j) in [(-1.0, -1.0), (-1.0, 1.0), (1.0, -1.0), (1.0, 1.0)] {
                    let r = (cell.release + i * quarter).clamp(r_low, r_high);
                    let c = (cell.catch + j * quarter).clamp(c_low, c_high);
                    if c >= r {
                        finer.push(self.cell(r, c, pushes));
                    }
                }
            }
            cells = finer;
            step /= 2.0;
        }
        let best = cells.iter().map(|c| c.cost).fold(f64::INFINITY, f64::min);
        let about = ABOUT_S * self.rate;
        let weigh = |c: &Cell| (best - c.cost).exp();
        let mut most: Option<(f64, f64, f64, f64)> = None;
        for a in &cells {
            let (mut sum, mut r, mut c) = (0.0, 0.0, 0.0);
            for b in &cells {
                if (a.release - b.release).abs() < about && (a.catch - b.catch).abs() < about {
                    let w = weigh(b);
                    sum += w;
                    r += w * b.release;
                    c += w * b.catch;
                }
            }
            if most.is_none_or(|m| sum > m.0) {
                most = Some((sum, r / sum, c / sum, a.push));
            }
        }
        most.map(|m| (m.1, m.2.max(m.1), m.3))
    }

    fn cell(&self, release: f64, catch: f64, pushes: &[f64]) -> Cell {
        let mut best = Cell {
            cost: f64::INFINITY,
            release,
            catch,
            push: 0.0,
        };
        for push in pushes {
            let push = push * self.rate;
            let cost = self.cost(release, catch, push);
            if cost < best.cost {
                best = Cell { cost, push, ..best };
            }
        }
        best
    }

    /// What speaks against two times, nats.
    fn cost(&self, r: f64, c: f64, push: f64) -> f64 {
        let hands = self.solve(r, c, push);
        let [oa, ob] = hands.offset;
        let a = self.at(&self.a, r);
        let b = self.at(&self.b, c);
        let length = (b[0] + ob[0] - a[0] - oa[0]).hypot(b[1] + ob[1] - a[1] - oa[1]);
        let seconds = (c - r + push / 2.0) / self.rate;
        let speed = length / seconds.max(0.02);
        let mut cost = self.fresh * hands.misfit;
        if speed > FASTEST {
            cost += 10.0 * (speed - FASTEST);
        }
        let z = match self.pace {
            Pace::Speed(median) => (speed.max(0.3) / median).ln() / SPEED_SPREAD,
            Pace::Time(median) => (seconds.max(0.05) / median).ln() / TIME_SPREAD,
        };
        cost += 0.5 * z * z;
        if let Some(met) = self.met {
            let wait = ((r + c) / 2.0 - met) / self.rate;
            cost += if wait > 0.0 {
                wait / LINGER
            } else {
                -wait / HASTE
            };
        }
        let late = push / self.rate / PUSH_SPREAD;
        cost + 0.5 * late * late
    }

    /// The hands for given times. Over `push` frames before the release the ball gains its speed
    /// evenly; in the hands its offset changes at an even pace for [`TURN_S`] next to the flight.
    fn solve(&self, r: f64, c: f64, push: f64) -> Hands {
        let pa = self.at(&self.a, r);
        let pb = self.at(&self.b, c);
        let (mut aa, mut ab, mut bb) = (self.ridge[0], 0.0, self.ridge[1]);
        let (mut ya, mut yb, mut yy) = ([0.0; 2], [0.0; 2], 0.0);
        let mut turns = [Turn::new(); 2];
        let mut log_var = 0.0;
        let [held, air] = [self.held, self.air].map(|v| [1.0 / v, v.ln()]);
        let most = TURN_S * self.rate;
        for s in &self.samples {
            let side = self.side(s.t, r, c, push);
            let (wa, wb) = side.shares();
            let (y, [w, log]) = match side {
                Side::Before => (s.off[0], held),
                Side::After => (s.off[1], held),
                Side::Between(f) => (
                    [
                        s.ball[0] - pa[0] - (pb[0] - pa[0]) * f,
                        s.ball[1] - pa[1] - (pb[1] - pa[1]) * f,
                    ],
                    air,
                ),
            };
            log_var += log;
            aa += w * wa * wa;
            ab += w * wa * wb;
            bb += w * wb * wb;
            for k in 0..2 {
                ya[k] += w * wa * y[k];
                yb[k] += w * wb * y[k];
                yy += w * y[k] * y[k];
            }
            match side {
                Side::Before => turns[0].see(w, (r - push - s.t).min(most) / self.rate, y),
                Side::After => turns[1].see(w, (s.t - c).min(most) / self.rate, y),
                Side::Between(_) => {}
            }
        }
        // The turns leave the normal equations first: each meets one offset only.
        for (turn, (diag, y)) in turns.iter().zip([(&mut aa, &mut ya), (&mut bb, &mut yb)]) {
            *diag -= turn.h * turn.h / turn.hh;
            for (y, hy) in y.iter_mut().zip(turn.hy) {
                *y -= turn.h * hy / turn.hh;
                yy -= hy * hy / turn.hh;
            }
        }
        let det = aa * bb - ab * ab;
        let mut hands = Hands::default();
        let mut quad = yy;
        for k in 0..2 {
            let a = (bb * ya[k] - ab * yb[k]) / det;
            let b = (aa * yb[k] - ab * ya[k]) / det;
            // At the optimum the ridges' own costs are part of this.
            quad -= a * ya[k] + b * yb[k];
            hands.offset[0][k] = a;
            hands.offset[1][k] = b;
            for (side, o) in [a, b].into_iter().enumerate() {
                let turn = &turns[side];
                hands.turn[side][k] = (turn.hy[k] - turn.h * o) / turn.hh;
            }
        }
        hands.misfit = 0.5 * quad + log_var;
        hands
    }

    fn side(&self, t: f64, r: f64, c: f64, push: f64) -> Side {
        if t <= r - push {
            return Side::Before;
        }
        if t >= c {
            return Side::After;
        }
        let whole = c - r + push / 2.0;
        Side::Between(if t < r {
            (t - r + push).powi(2) / (2.0 * push * whole)
        } else {
            (t - r + push / 2.0) / whole
        })
    }

    /// Squared distances of the samples from a fit, square metres, summed.
    fn residual(&self, hands: &Hands, r: f64, c: f64, push: f64) -> f64 {
        let most = TURN_S * self.rate;
        let end = |path: &[[f64; 2]], t: f64, side: usize, h: f64| {
            let p = self.at(path, t);
            let (o, k) = (hands.offset[side], hands.turn[side]);
            [p[0] + o[0] + h * k[0], p[1] + o[1] + h * k[1]]
        };
        let from = end(&self.a, r, 0, 0.0);
        let to = end(&self.b, c, 1, 0.0);
        let mut sum = 0.0;
        for s in &self.samples {
            let p = match self.side(s.t, r, c, push) {
                Side::Before => end(&self.a, s.t, 0, (r - push - s.t).min(most) / self.rate),
                Side::After => end(&self.b, s.t, 1, (s.t - c).min(most) / self.rate),
                Side::Between(f) => [
                    from[0] + f * (to[0] - from[0]),
                    from[1] + f * (to[1] - from[1]),
                ],
            };
            sum += (p[0] - s.ball[0]).powi(2) + (p[1] - s.ball[1]).powi(2);
        }
        sum
    }
}

/// Where a sample lies on the way from hands to hands.
#[derive(Debug, Clone, Copy)]
enum Side {
    Before,
    /// Share of the flight that is done.
    Between(f64),
    After,
}

impl Side {
    /// How much of each hand's offset a sample shows.
    fn shares(self) -> (f64, f64) {
        match self {
            Self::Before => (1.0, 0.0),
            Self::Between(f) => (1.0 - f, f),
            Self::After => (0.0, 1.0),
        }
    }
}

/// The ball about the body of giver and taker.
#[derive(Debug, Clone, Copy, Default)]
struct Hands {
    /// What the fit leaves unexplained, nats.
    misfit: f64,
    /// Offsets at the release and at the catch, metres.
    offset: [[f64; 2]; 2],
    /// How they change away from the flight, m/s.
    turn: [[f64; 2]; 2],
}

/// Sums of the normal equations for a turn.
#[derive(Debug, Clone, Copy)]
struct Turn {
    h: f64,
    hh: f64,
    hy: [f64; 2],
}

impl Turn {
    fn new() -> Self {
        Self {
            h: 0.0,
            hh: 1.0 / (TURN * TURN),
            hy: [0.0; 2],
        }
    }

    fn see(&mut self, w: f64, h: f64, y: [f64; 2]) {
        self.h += w * h;
        self.hh += w * h * h;
        for (sum, y) in self.hy.iter_mut().zip(y) {
            *sum += w * h * y;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Who has caught a ball turns with it at once: that is not taken for the end of the flight.
    #[test]
    fn a_turn_after_the_catch_is_not_part_of_the_flight() {
        let rate = 25.0;
        let (release, catch) = (25.0, 35.0);
        let (a, b) = ([0.0, 0.0], [4.6, 0.0]);
        let ball = |t: f64| {
            if t < release {
                [0.4, 0.0]
            } else if t < catch {
                [0.4 + 3.8 * (t - release) / (catch - release), 0.0]
            } else {
                let turned = ((t - catch) / rate).min(TURN_S);
                [4.2 + 1.4 * turned, 0.9 * turned]
            }
        };
        let samples = (0..61)
            .map(|k| {
                let p = ball(f64::from(k));
                Sample {
                    t: f64::from(k),
                    ball: p,
                    off: [a, b].map(|c| [p[0] - c[0], p[1] - c[1]]),
                }
            })
            .collect();
        let problem = Problem {
            samples,
            first: 0,
            a: vec![a; 61],
            b: vec![b; 61],
            held: 0.04,
            air: 0.0136,
            ridge: [5.0; 2],
            rate,
            pace: Pace::Speed(9.0),
            met: None,
            fresh: 0.48,
        };
        let bounds = Bounds {
            release: (15.0, 35.0),
            catch: (25.0, 50.0),
            data: (0, 60),
            met: None,
        };
        let (r, c, push) = problem.search(bounds, &PUSHES).unwrap();
        assert!(
            (r - release).abs() < 1.5 && (c - catch).abs() < 1.5,
            "{r} {c}"
        );
        let hands = problem.solve(r, c, push);
        assert!(
            hands.turn[1][0] > 0.7 && hands.turn[1][1] > 0.4,
            "{hands:?}"
        );
    }
}

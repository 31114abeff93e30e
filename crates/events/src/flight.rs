//! Release and catch between frames: the ball follows one pair of hands, then a straight line,
//! then the other pair of hands; both times are those that leave the least unexplained.
//!
//! A hinge fit (Hudson 1966, J. Amer. Statist. Assoc. 61, 1097–1129: fitting segmented curves
//! whose join points have to be estimated), with the hands' offsets as nuisance parameters.

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

#[derive(Debug, Clone, Copy)]
struct Best {
    cost: f64,
    release: f64,
    catch: f64,
    push: f64,
}

struct Sample {
    t: f64,
    ball: [f64; 2],
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
const FIDGET: f64 = 0.18;
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
    let samples: Vec<Sample> = (first..=last)
        .filter_map(|k| {
            Some(Sample {
                t: k as f64,
                ball: m.ball_seen(k)?,
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
        a: path(m, from, first, last)?,
        b: path(m, to, first, last)?,
        held,
        air: noise + STRAIGHT.powi(2),
        ridge: [spread(from), spread(to)],
        rate,
        pace,
        met: bounds.met,
        fresh: (12.0 / rate).min(1.0),
    };
    let pushes: &[f64] = match to {
        Hand::Player(_) => &PUSHES,
        Hand::Place(_) => &PUSHES[..1],
    };
    // Coarse to fine over both times.
    let mut step = (0.08 * rate).max(0.5);
    let mut best: Option<Best> = None;
    let (r_low, r_high) = bounds.release;
    let (c_low, c_high) = bounds.catch;
    let grid = |low: f64, high: f64, step: f64| {
        let n = ((high - low) / step).ceil().max(0.0) as usize;
        (0..=n).map(move |i| (low + i as f64 * step).min(high))
    };
    for r in grid(r_low, r_high, step) {
        for c in grid(c_low, c_high, step) {
            p.improve(&mut best, r, c, 0.0);
        }
    }
    while step > 0.02 * rate / 2.0 {
        let Best {
            release: r0,
            catch: c0,
            ..
        } = best?;
        let half = step / 2.0;
        for i in -2..=2 {
            for j in -2..=2 {
                let r = (r0 + f64::from(i) * half).clamp(r_low, r_high);
                let c = (c0 + f64::from(j) * half).clamp(c_low, c_high);
                for push in pushes {
                    p.improve(&mut best, r, c, push * rate);
                }
            }
        }
        step = half;
    }
    let Best {
        release,
        catch,
        push,
        ..
    } = best?;
    let (_, sse, oa, ob) = p.solve(release, catch, push);
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

/// A hand's path over the window, holes bridged by the nearest known place.
fn path(m: &Motion, hand: Hand, first: usize, last: usize) -> Option<Vec<[f64; 2]>> {
    match hand {
        Hand::Place(p) => Some(vec![p; last - first + 1]),
        Hand::Player(i) => {
            let known: Vec<Option<[f64; 2]>> = (first..=last)
                .map(|k| m.player(i, k).map(|k| k.pos))
                .collect();
            let mut near = known.iter().flatten().next().copied()?;
            Some(
                known
                    .into_iter()
                    .map(|p| {
                        near = p.unwrap_or(near);
                        near
                    })
                    .collect(),
            )
        }
    }
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

    fn improve(&self, best: &mut Option<Best>, r: f64, c: f64, push: f64) {
        if c < r {
            return;
        }
        let (misfit, _, oa, ob) = self.solve(r, c, push);
        let a = self.at(&self.a, r);
        let b = self.at(&self.b, c);
        let length = (b[0] + ob[0] - a[0] - oa[0]).hypot(b[1] + ob[1] - a[1] - oa[1]);
        let seconds = (c - r + push / 2.0) / self.rate;
        let speed = length / seconds.max(0.02);
        let mut cost = self.fresh * misfit;
        if speed > FASTEST {
            cost += 10.0 * (speed - FASTEST);
        }
        let z = match self.pace {
            Pace::Speed(median) => (speed.max(0.3) / median).ln() / 0.45,
            Pace::Time(median) => (seconds.max(0.05) / median).ln() / 0.4,
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
        cost += 0.5 * late * late;
        if best.is_none_or(|b| cost < b.cost) {
            *best = Some(Best {
                cost,
                release: r,
                catch: c,
                push,
            });
        }
    }

    /// Misfit in nats, squared residuals in square metres and best offsets of both hands for
    /// given times. Over `push` frames before the release the ball gains its speed evenly.
    fn solve(&self, r: f64, c: f64, push: f64) -> (f64, f64, [f64; 2], [f64; 2]) {
        let pa = self.at(&self.a, r);
        let pb = self.at(&self.b, c);
        let (mut aa, mut ab, mut bb) = (self.ridge[0], 0.0, self.ridge[1]);
        let (mut ya, mut yb, mut yy) = ([0.0; 2], [0.0; 2], 0.0);
        let (mut plain, mut plain_y) = ([0.0; 3], [[0.0; 2]; 2]);
        let (mut plain_yy, mut log_var) = (0.0, 0.0);
        let logs = [self.held.ln(), self.air.ln()];
        for s in &self.samples {
            let (wa, wb, base, var, log) = if s.t <= r - push {
                (1.0, 0.0, self.at(&self.a, s.t), self.held, logs[0])
            } else if s.t >= c {
                (0.0, 1.0, self.at(&self.b, s.t), self.held, logs[0])
            } else {
                let whole = c - r + push / 2.0;
                let f = if s.t < r {
                    (s.t - r + push).powi(2) / (2.0 * push * whole)
                } else {
                    (s.t - r + push / 2.0) / whole
                };
                (
                    1.0 - f,
                    f,
                    [pa[0] + (pb[0] - pa[0]) * f, pa[1] + (pb[1] - pa[1]) * f],
                    self.air,
                    logs[1],
                )
            };
            let w = 1.0 / var;
            log_var += log;
            let y = [s.ball[0] - base[0], s.ball[1] - base[1]];
            aa += w * wa * wa;
            ab += w * wa * wb;
            bb += w * wb * wb;
            plain[0] += wa * wa;
            plain[1] += wa * wb;
            plain[2] += wb * wb;
            for k in 0..2 {
                ya[k] += w * wa * y[k];
                yb[k] += w * wb * y[k];
                yy += w * y[k] * y[k];
                plain_y[0][k] += wa * y[k];
                plain_y[1][k] += wb * y[k];
                plain_yy += y[k] * y[k];
            }
        }
        let det = aa * bb - ab * ab;
        let mut oa = [0.0; 2];
        let mut ob = [0.0; 2];
        let mut quad = yy;
        let mut sse = plain_yy;
        for k in 0..2 {
            oa[k] = (bb * ya[k] - ab * yb[k]) / det;
            ob[k] = (aa * yb[k] - ab * ya[k]) / det;
            // At the optimum the ridge's own cost is part of this.
            quad -= oa[k] * ya[k] + ob[k] * yb[k];
            sse += -2.0 * (oa[k] * plain_y[0][k] + ob[k] * plain_y[1][k])
                + plain[0] * oa[k] * oa[k]
                + 2.0 * plain[1] * oa[k] * ob[k]
                + plain[2] * ob[k] * ob[k];
        }
        (0.5 * quad + log_var, sse.max(0.0), oa, ob)
    }
}

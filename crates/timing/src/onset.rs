//! When a movement began, by fitting movement models to the samples.
//!
//! Samples are modelled as `p0 + drift·t + earlier·e(t) + way·s((t - onset) / duration)` plus
//! noise: a slow drift, at most one earlier movement (an arrival, a shuffle, a jab away), and
//! the movement itself, `s` one of [`Profile::ALL`]. Given onset, duration, profile and the
//! earlier movement's times, everything else is linear and is integrated out in closed form
//! (variable projection, Golub & Pereyra 1973, with normal priors instead of bare least
//! squares); the rest is summed over a grid. What comes out is the posterior of the onset: its
//! mean, and its standard deviation, which holds the doubt about the profile as well as the
//! noise.

use crate::linear::{Centred, Course, Fitted, fit_linear};
use crate::profile::Profile;
use crate::trace::Sample;

/// What the fit may believe beforehand, in SI units.
#[derive(Debug, Clone, PartialEq)]
pub struct Prior {
    /// Standard deviation of the drift per axis, m/s.
    pub drift: f64,
    /// Standard deviation of an earlier movement per axis, metres.
    pub earlier: f64,
    /// Standard deviation of the way per axis, metres.
    pub way: f64,
    /// Probability that there was an earlier movement, between 0 and 1.
    pub earlier_share: f64,
    /// Acceleration above which a movement becomes implausible, m/s².
    pub acceleration: f64,
    /// Speed above which a movement becomes implausible, m/s.
    pub speed: f64,
}

impl Default for Prior {
    fn default() -> Self {
        Self {
            drift: 0.2,
            earlier: 1.0,
            way: 5.0,
            earlier_share: 0.3,
            acceleration: 6.0,
            speed: 7.0,
        }
    }
}

/// A movement before the movement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Earlier {
    /// When it began, in the samples' time.
    pub from_s: f64,
    /// When it ended.
    pub to_s: f64,
    /// Its way, metres.
    pub way: (f64, f64),
    /// Probability that there was one, given the samples.
    pub probability: f64,
}

/// A fitted onset.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Onset {
    /// Posterior mean of the onset, in the samples' time.
    pub time_s: f64,
    /// Posterior standard deviation, seconds.
    pub sd_s: f64,
    /// Way of the movement, metres, as the most probable model has it.
    pub way: (f64, f64),
    /// Peak speed of that model, m/s.
    pub peak_speed: f64,
    /// Residual standard deviation per axis, metres.
    pub noise_m: f64,
    /// The earlier movement of the most probable model that has one.
    pub earlier: Option<Earlier>,
}

/// Where the fit may look.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Search {
    /// Earliest onset considered, in the samples' time.
    pub from_s: f64,
    /// Latest onset considered.
    pub to_s: f64,
    /// Unit vector the movement goes along, at least roughly.
    pub toward: (f64, f64),
    /// Sample noise per axis known beforehand, metres, above 0.
    pub noise_m: f64,
    /// Samples per second.
    pub rate_hz: f64,
}

/// Durations a movement may have, seconds.
const SHORTEST: f64 = 0.45;
const LONGEST: f64 = 4.5;
/// Coarse grid: durations tried, and seconds between onsets tried.
const DURATIONS: usize = 9;
const ONSET_STEP: f64 = 0.1;
/// Fine grid: points along each side.
const FINE: usize = 13;
/// Grid points less probable than the best by this factor (natural log) are left out.
const NEGLIGIBLE: f64 = 9.0;
/// Models refined, of all profiles and earlier movements.
const REFINED: usize = 8;

/// Durations and gaps to the onset of earlier movements tried, seconds.
const EARLIER_LONG: [f64; 5] = [0.3, 0.45, 0.65, 0.95, 1.4];
const EARLIER_GAP: [f64; 3] = [0.0, 0.15, 0.4];

/// Least cosine between the fitted way and the declared direction.
const CONE: f64 = 0.3;

/// Penalty for what no person does: half a squared excess over the limit, in tenths of it.
fn implausible(value: f64, limit: f64) -> f64 {
    let over = (value - limit).max(0.0) / (0.15 * limit);
    0.5 * over * over
}

/// A choice of profile and of the earlier movement's duration and gap to the onset, seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Model {
    profile: Profile,
    earlier: Option<(f64, f64)>,
}

/// A grid over onset and log duration.
#[derive(Debug, Clone, Copy)]
struct Grid {
    onset: (f64, f64, usize),
    log_long: (f64, f64, usize),
}

impl Grid {
    fn onsets(&self) -> impl Iterator<Item = f64> + '_ {
        spread(self.onset)
    }
    fn longs(&self) -> impl Iterator<Item = f64> + '_ {
        spread(self.log_long).map(f64::exp)
    }
    fn cell(&self) -> f64 {
        step(self.onset) * step(self.log_long)
    }
}

fn step((from, to, n): (f64, f64, usize)) -> f64 {
    (to - from) / (n.max(2) - 1) as f64
}

fn spread(range: (f64, f64, usize)) -> impl Iterator<Item = f64> {
    let h = step(range);
    (0..range.2).map(move |i| range.0 + i as f64 * h)
}

/// A grid point: log weight, onset, log duration.
type Point = (f64, f64, f64);

struct Fit<'a> {
    d: Centred,
    search: &'a Search,
    prior: &'a Prior,
    noise: f64,
}

impl Fit<'_> {
    fn main(&self, profile: Profile, onset: f64, long: f64) -> Course {
        self.d.course(|t| profile.progress((t - onset) / long))
    }

    fn earlier(&self, onset: f64, (long, gap): (f64, f64)) -> Course {
        let from = onset - gap - long;
        self.d
            .course(|t| Profile::MinimumJerk.progress((t - from) / long))
    }

    fn weigh(&self, model: Model, long: f64, f: &Fitted) -> f64 {
        let size = f.way.0.hypot(f.way.1);
        let along = f.way.0 * self.search.toward.0 + f.way.1 * self.search.toward.1;
        if along < CONE * size || size <= 0.0 {
            return f64::NEG_INFINITY;
        }
        let share = self.prior.earlier_share.clamp(1e-6, 1.0 - 1e-6);
        let before = match model.earlier {
            None => (1.0 - share).ln(),
            Some(_) => (share / (EARLIER_LONG.len() * EARLIER_GAP.len()) as f64).ln(),
        };
        let acceleration = model.profile.peak_acceleration() * size / (long * long);
        let speed = model.profile.peak_speed() * size / long;
        f.log_likelihood + before + model.profile.prior().ln()
            - implausible(acceleration, self.prior.acceleration)
            - implausible(speed, self.prior.speed)
    }

    /// Log weights of all models over the coarse grid, earlier movements sharing the courses.
    fn coarse(&self, grid: &Grid) -> Vec<(Model, Vec<Point>, f64)> {
        let choices: Vec<Option<(f64, f64)>> = std::iter::once(None)
            .chain(
                EARLIER_LONG
                    .iter()
                    .flat_map(|l| EARLIER_GAP.iter().map(move |g| Some((*l, *g)))),
            )
            .collect();
        let mut out: Vec<(Model, Vec<Point>, f64)> = choices
            .iter()
            .flat_map(|e| {
                Profile::ALL.iter().map(move |p| Model {
                    profile: *p,
                    earlier: *e,
                })
            })
            .map(|m| (m, Vec::new(), f64::INFINITY))
            .collect();
        for onset in grid.onsets() {
            let earliers: Vec<Option<Course>> = choices
                .iter()
                .map(|c| c.map(|c| self.earlier(onset, c)))
                .collect();
            for (pi, profile) in Profile::ALL.iter().enumerate() {
                for long in grid.longs() {
                    let course = self.main(*profile, onset, long);
                    for (ei, e) in earliers.iter().enumerate() {
                        let slot = &mut out[ei * Profile::ALL.len() + pi];
                        let f = fit_linear(&self.d, e.as_ref(), &course, self.noise, self.prior);
                        let w = self.weigh(slot.0, long, &f);
                        if w.is_finite() {
                            slot.2 = slot.2.min(f.residual);
                            slot.1.push((w, onset, long.ln()));
                        }
                    }
                }
            }
        }
        out
    }

    fn fine(&self, model: Model, grid: &Grid) -> Vec<Point> {
        let mut out = Vec::with_capacity(FINE * FINE);
        for onset in grid.onsets() {
            let e = model.earlier.map(|c| self.earlier(onset, c));
            for long in grid.longs() {
                let course = self.main(model.profile, onset, long);
                let f = fit_linear(&self.d, e.as_ref(), &course, self.noise, self.prior);
                let w = self.weigh(model, long, &f);
                if w.is_finite() {
                    out.push((w, onset, long.ln()));
                }
            }
        }
        out
    }

    /// Zooms in until the grid resolves the peak; the points of the last grid and its cell size.
    fn refine(&self, model: Model, coarse: &[Point], grid: &Grid) -> (Vec<Point>, f64) {
        let mut points = coarse.to_vec();
        let mut grid = *grid;
        for _ in 0..3 {
            let next = self.around(&points, &grid);
            let shrunk = next.cell() < 0.5 * grid.cell();
            points = self.fine(model, &next);
            grid = next;
            if !shrunk {
                break;
            }
        }
        (points, grid.cell())
    }

    /// The box that holds what is not negligible, one step wider.
    fn around(&self, points: &[Point], grid: &Grid) -> Grid {
        let top = points.iter().map(|p| p.0).fold(f64::NEG_INFINITY, f64::max);
        let kept = points.iter().filter(|p| p.0 > top - NEGLIGIBLE);
        let (mut o, mut l) = (
            (f64::INFINITY, f64::NEG_INFINITY),
            (f64::INFINITY, f64::NEG_INFINITY),
        );
        for p in kept {
            o = (o.0.min(p.1), o.1.max(p.1));
            l = (l.0.min(p.2), l.1.max(p.2));
        }
        let (ho, hl) = (step(grid.onset), step(grid.log_long));
        Grid {
            onset: (
                (o.0 - ho).max(self.search.from_s),
                (o.1 + ho).min(self.search.to_s),
                FINE,
            ),
            log_long: (
                (l.0 - hl).max(SHORTEST.ln()),
                (l.1 + hl).min(LONGEST.ln()),
                FINE,
            ),
        }
    }
}

/// Fits the onset of a movement.
///
/// `samples` in time order, measured ones only. Returns `None` with fewer than eight samples, or
/// where no movement along `toward` explains them.
#[must_use]
pub fn fit_onset(samples: &[Sample], search: &Search, prior: &Prior) -> Option<Onset> {
    if samples.len() < 8 || search.to_s <= search.from_s {
        return None;
    }
    let mut fit = Fit {
        d: Centred::new(samples),
        search,
        prior,
        noise: search.noise_m,
    };
    let n = ((search.to_s - search.from_s) / ONSET_STEP).ceil() as usize + 1;
    let grid = Grid {
        onset: (search.from_s, search.to_s, n.max(2)),
        log_long: (SHORTEST.ln(), LONGEST.ln(), DURATIONS),
    };
    let mut models = fit.coarse(&grid);
    models.retain(|m| !m.1.is_empty());
    let top = |points: &[Point]| points.iter().map(|p| p.0).fold(f64::NEG_INFINITY, f64::max);
    // Best first; equal ones stay in their fixed order.
    models.sort_by(|a, b| top(&b.1).total_cmp(&top(&a.1)));
    models.truncate(REFINED);
    let first = models.first()?;
    let (seen, blur) = fit.residual_noise(first.0, &first.1, &grid);
    fit.noise = blur;

    let refined: Vec<(Model, Vec<Point>, f64)> = models
        .iter()
        .map(|(m, points, _)| {
            let (points, cell) = fit.refine(*m, points, &grid);
            (*m, points, cell)
        })
        .filter(|r| !r.1.is_empty())
        .collect();
    let peak = refined
        .iter()
        .map(|r| top(&r.1))
        .fold(f64::NEG_INFINITY, f64::max);
    let (mut mass, mut first, mut second, mut earlier_mass) = (0.0, 0.0, 0.0, 0.0);
    for (m, points, cell) in &refined {
        for (w, onset, _) in points {
            let v = (w - peak).exp() * cell;
            let t = onset - search.from_s;
            mass += v;
            first += v * t;
            second += v * t * t;
            if m.earlier.is_some() {
                earlier_mass += v;
            }
        }
    }
    if mass <= 0.0 {
        return None;
    }
    let mean = first / mass;
    let best = |with: Option<bool>| {
        refined
            .iter()
            .filter(|r| with.is_none_or(|w| r.0.earlier.is_some() == w))
            .flat_map(|r| r.1.iter().map(move |p| (r.0, *p)))
            .max_by(|a, b| a.1.0.total_cmp(&b.1.0))
    };
    let linear = |model: Model, p: Point| {
        let e = model.earlier.map(|c| fit.earlier(p.1, c));
        let course = fit.main(model.profile, p.1, p.2.exp());
        fit_linear(&fit.d, e.as_ref(), &course, fit.noise, prior)
    };
    let (model, point) = best(None)?;
    let way = linear(model, point).way;
    let earlier = best(Some(true)).and_then(|(m, p)| {
        let (long, gap) = m.earlier?;
        Some(Earlier {
            from_s: p.1 - gap - long,
            to_s: p.1 - gap,
            way: linear(m, p).earlier,
            probability: earlier_mass / mass,
        })
    });
    Some(Onset {
        time_s: search.from_s + mean,
        sd_s: (second / mass - mean * mean).max(1e-8).sqrt(),
        way,
        peak_speed: model.profile.peak_speed() * way.0.hypot(way.1) / point.2.exp(),
        noise_m: seen,
        earlier,
    })
}

impl Fit<'_> {
    /// Residual standard deviation per axis under the most probable coarse model, refined once,
    /// and that of white noise which would blur as much: real residuals lean on their
    /// neighbours (a sensor's own filter, a body's sway), which hides an onset more than their
    /// size says. For a lag-one correlation r that factor is sqrt((1 + r) / (1 - r)).
    fn residual_noise(&self, model: Model, coarse: &[Point], grid: &Grid) -> (f64, f64) {
        let near = self.around(coarse, grid);
        let mut best: Option<(Fitted, f64, f64)> = None;
        for onset in near.onsets() {
            let e = model.earlier.map(|c| self.earlier(onset, c));
            for long in near.longs() {
                let course = self.main(model.profile, onset, long);
                let f = fit_linear(&self.d, e.as_ref(), &course, self.noise, self.prior);
                if best.as_ref().is_none_or(|b| f.residual < b.0.residual) {
                    best = Some((f, onset, long));
                }
            }
        }
        let Some((f, onset, long)) = best else {
            return (self.search.noise_m, self.search.noise_m);
        };
        // Two axes, each with offset, drift and way; onset, duration and profile are shared.
        let n = self.d.t.len();
        let free = (2 * n).saturating_sub(9).max(1) as f64;
        // The window is short: neither trust it alone nor let it fall under what the track shows.
        let size = (f.residual / free)
            .sqrt()
            .clamp(self.search.noise_m * 0.8, self.search.noise_m * 2.5)
            .max(1e-4);
        let e = model.earlier.map(|c| self.earlier(onset, c));
        let course = self.main(model.profile, onset, long);
        let (mut lag, mut own) = (0.0, 1e-12);
        for row in f.residuals(&self.d, e.as_ref(), &course) {
            lag += row.windows(2).map(|w| w[0] * w[1]).sum::<f64>();
            own += row.iter().map(|r| r * r).sum::<f64>();
        }
        // A fit with p free numbers pulls the correlation down by about p / n.
        let r = (lag / own + 4.5 / n as f64).clamp(0.0, 0.8);
        (size, size * ((1.0 + r) / (1.0 - r)).sqrt())
    }
}

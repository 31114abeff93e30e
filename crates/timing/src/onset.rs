//! When a movement began, by fitting movement models to the samples.
//!
//! Samples are modelled as `p0 + drift·t + earlier·e(t) + way·s(u) + bow·s(u)²` plus noise, with
//! `u = (t - onset) / duration`: a slow drift or a run already under way, at most one earlier
//! movement (an arrival, a shuffle, a jab away), and the movement itself along a path that may
//! bend, `s` one of [`Profile::ALL`]. Given onset, duration, profile and the
//! earlier movement's times, everything else is linear and is integrated out in closed form
//! (variable projection, Golub & Pereyra 1973, with normal priors instead of bare least
//! squares); the rest is summed over a grid. What comes out is the posterior of the onset: its
//! mean, and its standard deviation, which holds the doubt about the profile as well as the
//! noise.

use crate::linear::{Course, Data, Fitted, Main, Noise, Sizes, fit_linear};
use crate::profile::Profile;
use crate::trace::Sample;

/// What the fit may believe beforehand, in SI units.
#[derive(Debug, Clone, PartialEq)]
pub struct Prior {
    /// Standard deviation of the drift of a player who stands, per axis, m/s.
    pub drift: f64,
    /// The same for a player who is on the move already.
    pub running: f64,
    /// Probability that the player is on the move already, between 0 and 1.
    pub running_share: f64,
    /// Sway of a body about its course, standard deviation per axis, metres.
    pub sway: f64,
    /// Time constant of the sway, seconds.
    pub sway_s: f64,
    /// Standard deviation of the bow of the way per axis, metres.
    pub bow: f64,
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
            drift: 0.3,
            running: 1.5,
            running_share: 0.1,
            sway: 0.1,
            sway_s: 0.4,
            bow: 0.8,
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
    /// Time of the first sample.
    pub seen_s: f64,
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
const EARLIER_GAP: [f64; 4] = [-0.25, 0.0, 0.2, 0.4];
/// An earlier movement that overlaps the movement and does not lead away from it (cosine above
/// this) is its beginning: a cut that sets out round a defender.
const FLOWS: f64 = -0.2;

/// Least cosine between the fitted way and the declared direction.
const CONE: f64 = 0.3;

/// Penalty for what no person does: half a squared excess over the limit, in tenths of it.
fn implausible(value: f64, limit: f64) -> f64 {
    let over = (value - limit).max(0.0) / (0.15 * limit);
    0.5 * over * over
}

/// What the player did before.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Before {
    /// Stood, or drifted slowly.
    Still,
    /// Was on the move already.
    Running,
    /// Made another movement: its duration and its gap to the onset, seconds.
    Earlier(f64, f64),
}

impl Before {
    fn all() -> impl Iterator<Item = Self> {
        let earlier = EARLIER_LONG
            .iter()
            .flat_map(|l| EARLIER_GAP.iter().map(move |g| Self::Earlier(*l, *g)));
        [Self::Still, Self::Running].into_iter().chain(earlier)
    }

    fn is_earlier(self) -> bool {
        matches!(self, Self::Earlier(..))
    }
}

/// A choice of profile and of what came before.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Model {
    profile: Profile,
    before: Before,
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

/// A grid point: log weight, onset of the movement, log duration, and when the player set out,
/// which is sooner than the onset where an earlier movement flows into it.
type Point = (f64, f64, f64, f64);

struct Fit<'a> {
    d: Data,
    search: &'a Search,
    prior: &'a Prior,
}

impl Fit<'_> {
    fn main(&self, profile: Profile, onset: f64, long: f64) -> Main {
        self.d.main(|t| profile.progress((t - onset) / long))
    }

    fn earlier(&self, onset: f64, before: Before) -> Option<Course> {
        let Before::Earlier(long, gap) = before else {
            return None;
        };
        let from = onset - gap - long;
        Some(
            self.d
                .course(|t| Profile::MinimumJerk.progress((t - from) / long)),
        )
    }

    fn linear(&self, before: Before, earlier: Option<&Course>, main: &Main) -> Fitted {
        let p = self.prior;
        let sizes = Sizes {
            drift: if before == Before::Running {
                p.running
            } else {
                p.drift
            },
            way: p.way,
            bow: p.bow,
            earlier: p.earlier,
        };
        fit_linear(&self.d, earlier, main, &sizes)
    }

    /// When the player set out.
    fn start(&self, before: Before, onset: f64, f: &Fitted) -> f64 {
        let Before::Earlier(long, gap) = before else {
            return onset;
        };
        let (e, w) = (f.earlier, f.way);
        let sizes = e.0.hypot(e.1) * w.0.hypot(w.1);
        let from = onset - gap - long;
        if gap < 0.0 && e.0 * w.0 + e.1 * w.1 > FLOWS * sizes && from >= self.search.seen_s {
            from
        } else {
            onset
        }
    }

    /// The fit of one model at one point.
    fn at(&self, model: Model, onset: f64, long: f64) -> Fitted {
        let e = self.earlier(onset, model.before);
        self.linear(
            model.before,
            e.as_ref(),
            &self.main(model.profile, onset, long),
        )
    }

    fn weigh(&self, model: Model, long: f64, f: &Fitted) -> f64 {
        let size = f.way.0.hypot(f.way.1);
        let along = f.way.0 * self.search.toward.0 + f.way.1 * self.search.toward.1;
        if along < CONE * size || size <= 0.0 {
            return f64::NEG_INFINITY;
        }
        let (earlier, running) = (self.prior.earlier_share, self.prior.running_share);
        let choices = (EARLIER_LONG.len() * EARLIER_GAP.len()) as f64;
        let before = match model.before {
            Before::Still => 1.0 - earlier - running,
            Before::Running => running,
            Before::Earlier(..) => earlier / choices,
        }
        .max(1e-9)
        .ln();
        let acceleration = model.profile.peak_acceleration() * size / (long * long);
        let speed = model.profile.peak_speed() * size / long;
        f.log_likelihood + before + model.profile.prior().ln()
            - implausible(acceleration, self.prior.acceleration)
            - implausible(speed, self.prior.speed)
    }

    /// Log weights of all models over the coarse grid, earlier movements sharing the courses.
    fn coarse(&self, grid: &Grid) -> Vec<(Model, Vec<Point>)> {
        let choices: Vec<Before> = Before::all().collect();
        let mut out: Vec<(Model, Vec<Point>)> = choices
            .iter()
            .flat_map(|b| {
                Profile::ALL.iter().map(move |p| Model {
                    profile: *p,
                    before: *b,
                })
            })
            .map(|m| (m, Vec::new()))
            .collect();
        for onset in grid.onsets() {
            let earliers: Vec<Option<Course>> =
                choices.iter().map(|b| self.earlier(onset, *b)).collect();
            for (pi, profile) in Profile::ALL.iter().enumerate() {
                for long in grid.longs() {
                    let main = self.main(*profile, onset, long);
                    for (ei, e) in earliers.iter().enumerate() {
                        let slot = &mut out[ei * Profile::ALL.len() + pi];
                        let f = self.linear(slot.0.before, e.as_ref(), &main);
                        let w = self.weigh(slot.0, long, &f);
                        if w.is_finite() {
                            let start = self.start(slot.0.before, onset, &f);
                            slot.1.push((w, onset, long.ln(), start));
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
            let e = self.earlier(onset, model.before);
            for long in grid.longs() {
                let main = self.main(model.profile, onset, long);
                let f = self.linear(model.before, e.as_ref(), &main);
                let w = self.weigh(model, long, &f);
                if w.is_finite() {
                    let start = self.start(model.before, onset, &f);
                    out.push((w, onset, long.ln(), start));
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
    let noise = Noise {
        white: search.noise_m,
        sway: prior.sway,
        sway_s: prior.sway_s,
    };
    let mut fit = Fit {
        d: Data::new(samples, &noise),
        search,
        prior,
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
    let factor = fit.excess(first.0, &first.1, &grid);
    let noise = Noise {
        white: noise.white * factor,
        sway: noise.sway * factor,
        ..noise
    };
    fit.d = Data::new(samples, &noise);

    let refined: Vec<(Model, Vec<Point>, f64)> = models
        .iter()
        .map(|(m, points)| {
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
        for (w, _, _, start) in points {
            let v = (w - peak).exp() * cell;
            let t = start - search.from_s;
            mass += v;
            first += v * t;
            second += v * t * t;
            if m.before.is_earlier() {
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
            .filter(|r| with.is_none_or(|w| r.0.before.is_earlier() == w))
            .flat_map(|r| r.1.iter().map(move |p| (r.0, *p)))
            .max_by(|a, b| a.1.0.total_cmp(&b.1.0))
    };
    let linear = |model: Model, p: Point| fit.at(model, p.1, p.2.exp());
    let (model, point) = best(None)?;
    let way = linear(model, point).way;
    let earlier = best(Some(true)).and_then(|(m, p)| {
        let Before::Earlier(long, gap) = m.before else {
            return None;
        };
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
        noise_m: noise.white,
        earlier,
    })
}

impl Fit<'_> {
    /// By how much the noise exceeds what was taken, under the most probable coarse model,
    /// refined once. Whitened residuals that still lean on their neighbours hide an onset more
    /// than their size says: for a lag-one correlation r by a factor sqrt((1 + r) / (1 - r)).
    fn excess(&self, model: Model, coarse: &[Point], grid: &Grid) -> f64 {
        let near = self.around(coarse, grid);
        let mut best: Option<(Fitted, f64, f64)> = None;
        for onset in near.onsets() {
            for long in near.longs() {
                let f = self.at(model, onset, long);
                if best.as_ref().is_none_or(|b| f.residual < b.0.residual) {
                    best = Some((f, onset, long));
                }
            }
        }
        let Some((f, onset, long)) = best else {
            return 1.0;
        };
        // Two axes, each with offset, drift, way and bow; onset, duration and profile are shared.
        let n = self.d.len();
        let free = (2 * n).saturating_sub(11).max(1) as f64;
        // The window is short: neither trust it alone nor let it fall under what the track shows.
        let size = (f.residual / free).sqrt().clamp(0.8, 2.5);
        let e = self.earlier(onset, model.before);
        let main = self.main(model.profile, onset, long);
        let (mut lag, mut own) = (0.0, 1e-12);
        for row in f.residuals(&self.d, e.as_ref(), &main) {
            lag += row.windows(2).map(|w| w[0] * w[1]).sum::<f64>();
            own += row.iter().map(|r| r * r).sum::<f64>();
        }
        // A fit with p free numbers pulls the correlation down by about p / n.
        let r = (lag / own + 4.5 / n as f64).clamp(0.0, 0.8);
        size * ((1.0 + r) / (1.0 - r)).sqrt()
    }
}

//! When a movement began, by weighing what a body may have done against the samples.
//!
//! A body strives, and moves as `response.rs` says. Until the onset it stands, is about to stop, runs
//! on, or makes a jab the other way; from the onset it strives along the declared direction, and may
//! later strive otherwise (a turn, braking). All the while it is restless, and the sensor's noise is
//! white with a part that wanders. Given the moments and the response everything is linear, so place,
//! speed beforehand and efforts are integrated out in closed form; the rest is summed over a grid.
//! What comes out is the posterior of the onset, which holds the doubt about all of that.

use crate::profile::Profile;
use crate::response::Response;
use crate::trace::Sample;
use crate::when::{Density, Expected};
use setdrift_events::grid;
use setdrift_events::linear::{Belief, Course, Data, Hypothesis, MOST, Noise};

/// What the fit may believe beforehand, in SI units.
#[derive(Debug, Clone, PartialEq)]
pub struct Prior {
    /// Effort with which people set out, mean along the declared direction, m/s².
    pub effort: f64,
    /// Its standard deviation along.
    pub effort_along: f64,
    /// Its standard deviation across.
    pub effort_across: f64,
    /// Mean change of effort later on, against the movement: braking, a turn, m/s².
    pub braking: f64,
    /// Standard deviation of that change per axis, m/s².
    pub later: f64,
    /// Standard deviation of the drift of a player who stands, per axis, m/s.
    pub drift: f64,
    /// The same for a player who is on the move already.
    pub running: f64,
    /// Probability that the player is on the move and goes on, 0..0.5.
    pub running_share: f64,
    /// Probability that the player is just stopping, 0..0.5.
    pub stopping_share: f64,
    /// Probability of a jab before a back cut, and before any other movement, 0..0.3.
    pub jab_share: (f64, f64),
    /// Sway of a body over its feet, standard deviation per axis, metres.
    pub sway: f64,
    /// Time constant of sway and of the noise that wanders, seconds.
    pub sway_s: f64,
    /// Restless acceleration of a calm, a restless and a very restless player, m/s².
    pub restless: (f64, f64, f64),
    /// The same of a player who is about something else until he goes, m/s².
    pub busy: f64,
    /// The same once the movement has begun: bends and changes of pace, m/s².
    pub under_way: f64,
}

impl Default for Prior {
    fn default() -> Self {
        Self {
            effort: 3.0,
            effort_along: 1.6,
            effort_across: 1.6,
            braking: 1.0,
            later: 5.0,
            drift: 0.15,
            running: 1.5,
            running_share: 0.15,
            stopping_share: 0.2,
            jab_share: (0.3, 0.03),
            sway: 0.035,
            sway_s: 0.4,
            restless: (0.1, 0.35, 1.0),
            busy: 2.5,
            under_way: 0.8,
        }
    }
}

/// A jab before the movement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Jab {
    /// When it began, in the samples' time.
    pub from_s: f64,
    /// How far it led, metres.
    pub way: f64,
    /// Probability that there was one, given the samples.
    pub probability: f64,
}

/// A fitted onset.
#[derive(Debug, Clone, PartialEq)]
pub struct Onset {
    /// Posterior mean of the onset, in the samples' time.
    pub time_s: f64,
    /// Posterior standard deviation, seconds.
    pub sd_s: f64,
    /// The whole posterior.
    pub density: Density,
    /// Greatest speed within the samples as the most probable hypothesis has it, m/s.
    pub peak_speed: f64,
    /// The jab of the most probable hypothesis that has one.
    pub jab: Option<Jab>,
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
    /// White noise of a sample per axis, metres, above 0.
    pub white_m: f64,
    /// Noise that wanders, per axis, metres.
    pub colour_m: f64,
    /// Where the start is expected; `None` for nowhere in particular.
    pub expected: Option<Expected>,
    /// Where the movement starts as declared, in the samples' frame; `None` for anywhere.
    pub start: Option<(f64, f64)>,
    /// Probability of a jab first, 0..0.3.
    pub jab_share: f64,
}

/// Seconds between onsets tried.
const GRID: f64 = 0.04;
/// Time constants of speed and force tried, seconds.
const SPEED: [f64; 3] = [0.4, 1.0, 4.0];
/// Force builds up within a tenth to a third of a second, and is believed the less the slower.
const FORCE: [(f64, f64); 3] = [(0.05, 0.45), (0.15, 0.3), (0.4, 0.25)];
/// Durations of movements from rest to rest tried, seconds.
const LONG: [f64; 6] = [0.9, 1.3, 1.75, 2.2, 2.8, 3.6];

/// Belief that one of these is what is seen.
const REST: f64 = 0.4;

/// All responses with what is believed of each; sums to 1.
fn responses() -> impl Iterator<Item = (Response, f64)> {
    let lag = SPEED.into_iter().flat_map(move |speed_s| {
        FORCE.into_iter().map(move |(force_s, share)| {
            let share = (1.0 - REST) * share / SPEED.len() as f64;
            (Response::Lag { speed_s, force_s }, share)
        })
    });
    let rest = Profile::ALL.into_iter().flat_map(move |profile| {
        LONG.into_iter().map(move |long_s| {
            (
                Response::Rest { profile, long_s },
                REST / (Profile::ALL.len() * LONG.len()) as f64,
            )
        })
    });
    lag.chain(rest)
}

/// From the onset to a later effort, and from a jab to the onset, seconds.
const LATER: [f64; 3] = [0.5, 0.9, 1.3];
/// Durations of jabs tried, seconds. A jab is a step from rest to rest, back to back with the cut.
const JAB: [f64; 2] = [0.45, 0.65];
/// Jabs that are turned into the cut without a stop: seconds to the turn.
const TURNED: [f64; 2] = [0.24, 0.36];
/// Effort of those, and its standard deviations along and across, m/s².
const TURNED_EFFORT: Belief = Belief {
    mean: -2.4,
    along: 1.0,
    across: 0.8,
};
/// How far the body goes away in a jab, its standard deviations along and across, metres: half a
/// step; common practice, no published source.
const JAB_WAY: Belief = Belief {
    mean: -0.3,
    along: 0.25,
    across: 0.2,
};
/// What those who set out hard add to the effort, m/s², and their share: from 3.5 to 4 m/s² on is high
/// intensity, sprinters reach 6 and more (value from memory).
const HARD: (f64, f64) = (2.4, 0.08);
/// Time constant of stopping, seconds.
const STOPPING: f64 = 0.35;
/// Hypotheses less probable than the best by this factor (natural log) are left out.
const NEGLIGIBLE: f64 = 12.0;
/// Least cosine between the effort and the declared direction.
const CONE: f64 = 0.3;

/// What the player did before.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Before {
    Still,
    /// Stood, and sets out hard.
    Hard,
    Stopping,
    Running,
    /// A jab of so many seconds, from rest to rest.
    Jab(f64),
    /// A jab that is turned into the cut after so many seconds.
    Turned(f64),
}

impl Before {
    fn is_jab(self) -> bool {
        matches!(self, Self::Jab(_) | Self::Turned(_))
    }

    /// When the first movement began: the jab, where there is one.
    fn began(self, onset: f64) -> f64 {
        match self {
            Self::Jab(long) | Self::Turned(long) => onset - long,
            Self::Still | Self::Hard | Self::Stopping | Self::Running => onset,
        }
    }
}

/// One hypothesis, weighed.
#[derive(Clone, Copy)]
struct Weighed {
    weight: f64,
    /// When the cut began: moment of its effort, samples' time.
    onset: f64,
    response: Response,
    before: Before,
    later: Option<f64>,
    /// Means of its terms' coefficients, along and across.
    of: [(f64, f64); MOST],
}

impl Weighed {
    fn effort(&self) -> (f64, f64) {
        self.of[1]
    }

    /// Speed along and across by the efforts alone, `t` after the onset.
    fn speed(&self, t: f64) -> (f64, f64) {
        let mut v = (0.0, 0.0);
        let mut add = |w: (f64, f64), t: f64| {
            let s = self.response.speed(t);
            v.0 += w.0 * s;
            v.1 += w.1 * s;
        };
        add(self.effort(), t);
        if let Before::Turned(gap) = self.before {
            add(self.of[2], t + gap);
        }
        if let Some(l) = self.later {
            let jab = usize::from(self.before.is_jab());
            add(self.of[2 + jab], t - l);
        }
        v
    }

    /// Until when a jab turned into the cut leads away, seconds after the onset: until the speed along turns
    /// positive.
    fn turns_after(&self) -> f64 {
        let w = self.effort();
        (0..50)
            .map(|i| f64::from(i) * 0.01)
            .find(|t| {
                let v = self.speed(*t);
                v.0 * w.0 + v.1 * w.1 > 0.0
            })
            .unwrap_or(0.5)
    }
}

struct Fit<'a> {
    search: &'a Search,
    prior: &'a Prior,
}

impl Fit<'_> {
    /// All hypotheses of one onset under one kind of noise whose weight is over `floor`.
    fn weigh(
        &self,
        samples: &[Sample],
        noise: &Noise,
        log_prior: f64,
        floor: f64,
        out: &mut Vec<Weighed>,
    ) {
        let p = self.prior;
        let onset = noise.since;
        let places = samples.iter().map(|s| (s.t, [s.x, s.y]));
        let d = Data::new(places, self.search.toward, noise);
        let first = samples[0].t;
        let steady = d.course(|t| t - first);
        let stopping = d.course(|t| STOPPING * (1.0 - (-(t - first) / STOPPING).exp()));
        let jabs = self.search.jab_share;
        // Where a jab is unlikely, one stands for all.
        let jabbed: &[Before] = if jabs < 0.1 {
            &[Before::Turned(TURNED[1])]
        } else {
            &[
                Before::Jab(JAB[0]),
                Before::Jab(JAB[1]),
                Before::Turned(TURNED[0]),
                Before::Turned(TURNED[1]),
            ]
        };
        let standing = 1.0 - p.running_share - p.stopping_share - jabs;
        let place = Hypothesis::place(&d);
        let speeds = [
            (&steady, p.drift),
            (&steady, p.running),
            (&stopping, p.running),
        ];
        let [drifting, running, coming_to_a_stop] =
            speeds.map(|(v, sd)| (v, place.with(v, Belief::about_zero(sd), &[])));
        let mut befores = vec![
            (Before::Still, standing - HARD.1, drifting),
            (Before::Hard, HARD.1, drifting),
            (Before::Stopping, p.stopping_share, coming_to_a_stop),
            (Before::Running, p.running_share, running),
        ];
        befores.extend(
            jabbed
                .iter()
                .map(|j| (*j, jabs / jabbed.len() as f64, drifting)),
        );
        // A step from rest to rest is the same whatever comes after it.
        let stepped =
            |long: f64| d.course(|t| Profile::MinimumJerk.progress((t - onset + long) / long));
        let steps: Vec<Option<Course>> = befores
            .iter()
            .map(|b| match b.0 {
                Before::Jab(long) => Some(stepped(long)),
                _ => None,
            })
            .collect();
        for (response, share) in responses() {
            let whole = matches!(response, Response::Rest { .. });
            let from = |moment: f64| d.course(|t| response.way(t - moment));
            let main = from(onset);
            let later: Vec<(f64, Course)> = if whole {
                vec![]
            } else {
                LATER.iter().map(|l| (*l, from(onset + l))).collect()
            };
            let with_main: Vec<f64> = later.iter().map(|l| main.with(&l.1)).collect();
            for ((before, likely, (v, speed)), step) in befores.iter().zip(&steps) {
                let more = match before {
                    Before::Hard => HARD.0,
                    Before::Turned(_) => -TURNED_EFFORT.mean,
                    Before::Still | Before::Stopping | Before::Running | Before::Jab(_) => 0.0,
                };
                let effort = Belief {
                    mean: p.effort + more,
                    along: p.effort_along,
                    across: p.effort_across,
                };
                let turned = match before {
                    Before::Turned(gap) => Some(from(onset - gap)),
                    _ => None,
                };
                let jab = match (step, &turned) {
                    (Some(j), _) => Some((j, JAB_WAY)),
                    (None, Some(j)) => Some((j, TURNED_EFFORT)),
                    (None, None) => None,
                };
                let mut moved = speed.with(&main, effort, &[main.with(v)]);
                if let Some((j, belief)) = jab {
                    moved = moved.with(j, belief, &[j.with(v), j.with(&main)]);
                }
                let expected = self.search.expected.as_ref();
                let belief = (share * likely).max(1e-12).ln()
                    + log_prior
                    + expected.map_or(0.0, |e| e.log_density(before.began(onset), onset));
                let mut take = |h: &Hypothesis, later: Option<f64>| {
                    let weight = h.log_evidence() + belief;
                    if weight <= floor {
                        return;
                    }
                    let of = h.coefficients();
                    if of[1].0 >= CONE * of[1].0.hypot(of[1].1) {
                        out.push(Weighed {
                            weight,
                            onset,
                            response,
                            before: *before,
                            later,
                            of,
                        });
                    }
                };
                take(&moved, None);
                let again = Belief {
                    mean: -p.braking,
                    along: p.later,
                    across: p.later,
                };
                for ((l, c), with_main) in later.iter().zip(&with_main) {
                    let products = [c.with(v), *with_main, jab.map_or(0.0, |(j, _)| c.with(j))];
                    take(&moved.with(c, again, &products), Some(*l));
                }
            }
        }
    }
}

/// How far from the declared start a movement may begin without a word, and what more weighs as
/// one standard deviation, metres: people stand off their places by a stride, and who is farther
/// away is rather on the way there.
const OFF_START: (f64, f64) = (0.6, 0.7);

/// Logarithm of the belief that a movement begins where the player is at `t`.
fn lean(samples: &[Sample], start: Option<(f64, f64)>, t: f64) -> f64 {
    let Some(start) = start else { return 0.0 };
    let (mut n, mut x, mut y) = (0.0, 0.0, 0.0);
    for s in samples.iter().filter(|s| (s.t - t).abs() <= 0.25) {
        n += 1.0;
        x += s.x;
        y += s.y;
    }
    if n == 0.0 {
        return 0.0;
    }
    let off = (x / n - start.0).hypot(y / n - start.1) - OFF_START.0;
    -0.5 * (off.max(0.0) / OFF_START.1).powi(2)
}

/// Fits the onset of a movement.
///
/// `samples` in time order, measured ones only. Returns `None` with fewer than eight samples, or
/// where no movement along `toward` explains them.
#[must_use]
pub fn fit_onset(samples: &[Sample], search: &Search, prior: &Prior) -> Option<Onset> {
    if samples.len() < 8 || search.to_s.partial_cmp(&search.from_s)?.is_le() {
        return None;
    }
    let fit = Fit { search, prior };
    let mut all = Vec::new();
    let mut peak = f64::NEG_INFINITY;
    // Rounding does not add an onset.
    let n = ((search.to_s - search.from_s) / GRID - 1e-6).ceil() as usize + 1;
    // A calm body, a restless one, one whose sensor is worse here than elsewhere, a busy one.
    for (factor, restless, share) in [
        (1.0, prior.restless.0, 0.3_f64),
        (1.0, prior.restless.1, 0.3),
        (1.0, prior.restless.2, 0.15),
        (1.5, prior.restless.1, 0.15),
        (1.0, prior.busy, 0.1),
    ] {
        let mut noise = Noise {
            white: factor * search.white_m,
            colour: prior.sway.hypot(factor * search.colour_m),
            colour_s: prior.sway_s,
            restless: (restless, prior.under_way),
            since: 0.0,
        };
        peak = grid::search(n, NEGLIGIBLE, peak, |i, floor| {
            noise.since = search.from_s + i as f64 * GRID;
            let k = all.len();
            let lean = lean(samples, search.start, noise.since);
            fit.weigh(samples, &noise, share.ln() + lean, floor, &mut all);
            let weights = all[k..].iter().map(|w| w.weight);
            weights.fold(f64::NEG_INFINITY, f64::max)
        });
        all.retain(|w| w.weight > peak - NEGLIGIBLE);
    }
    if !peak.is_finite() {
        return None;
    }
    all.retain(|w| w.weight > peak - NEGLIGIBLE);
    let density = Density::of(all.iter().map(|w| (w.onset, (w.weight - peak).exp())));
    let (time_s, sd_s) = density.moments();
    let best = |jab: Option<bool>| {
        all.iter()
            .filter(|w| jab.is_none_or(|j| w.before.is_jab() == j))
            .max_by(|a, b| a.weight.total_cmp(&b.weight))
    };
    let total: f64 = all.iter().map(|w| (w.weight - peak).exp()).sum();
    let jabbed: f64 = all
        .iter()
        .filter(|w| w.before.is_jab())
        .map(|w| (w.weight - peak).exp())
        .sum();
    let jab = best(Some(true)).and_then(|w| {
        let e = w.of[2];
        let way = match w.before {
            Before::Jab(_) => e.0.hypot(e.1),
            Before::Turned(gap) => {
                let turned = w.turns_after();
                let m = w.effort();
                let (a, b) = (w.response.way(gap + turned), w.response.way(turned));
                (e.0 * a + m.0 * b).hypot(e.1 * a + m.1 * b)
            }
            Before::Still | Before::Hard | Before::Stopping | Before::Running => {
                return None;
            }
        };
        Some(Jab {
            from_s: w.before.began(w.onset),
            way,
            probability: jabbed / total,
        })
    });
    let best = best(None)?;
    let end = samples[samples.len() - 1].t - best.onset;
    let peak_speed = (0..=40)
        .map(|i| best.speed(end * f64::from(i) / 40.0))
        .map(|v| v.0.hypot(v.1))
        .fold(0.0, f64::max);
    Some(Onset {
        time_s,
        sd_s,
        density,
        peak_speed,
        jab,
    })
}

//! Whether and when a player went: the stretch that is the declared movement is found on the
//! smoothed speed along the declared direction, its beginning by [`crate::onset`].

use crate::onset::{Onset, Search, fit_onset};
use crate::params::ValidParams;
use crate::trace::{Local, Sample, Trace};

/// What became of a declared movement.
#[derive(Debug, Clone, PartialEq)]
pub enum Going {
    /// The player went.
    Went(Onset),
    /// The player did not; the farthest along the declared direction, metres.
    Stayed(f64),
    /// The data do not tell, and why.
    Unknown(String),
}

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Question {
    /// Unit vector of the declared first leg.
    pub toward: (f64, f64),
    /// Declared way, metres.
    pub way_m: f64,
    /// Earliest start looked for, seconds.
    pub from_s: f64,
    /// Latest moment looked at, seconds.
    pub to_s: f64,
    /// Samples per second.
    pub rate_hz: f64,
    /// Sample noise per axis, metres.
    pub noise_m: f64,
}

/// Slowest smoothed speed that can be part of a movement, and the fastest that is asked for,
/// m/s. A stroll is about 1.3 m/s, a shuffle under 1 (common practice, no published source).
const SLOW: f64 = 0.4;
const BRISK: f64 = 1.0;

struct Stretch {
    first: usize,
    last: usize,
    way: f64,
}

/// Looks for the declared movement of one player.
#[must_use]
pub fn going(trace: &Trace, q: &Question, params: &ValidParams) -> Going {
    let half = (0.15 + 0.9 * q.noise_m).clamp(0.2_f64.max(1.5 / q.rate_hz), 0.45);
    let n = ((q.to_s - q.from_s) * q.rate_hz).floor();
    if n.is_nan() || n < 3.0 {
        return Going::Unknown("the stretch to look at is shorter than four samples".to_owned());
    }
    let n = n as usize + 1;
    let time = |i: usize| q.from_s + i as f64 / q.rate_hz;
    let local: Vec<Option<Local>> = (0..n).map(|i| trace.local(time(i), half)).collect();
    let along: Vec<Option<f64>> = local
        .iter()
        .map(|l| l.map(|l| l.velocity.0 * q.toward.0 + l.velocity.1 * q.toward.1))
        .collect();
    let gain = local
        .iter()
        .flatten()
        .map(|l| l.speed_gain)
        .fold(f64::INFINITY, f64::min);
    let peak = along.iter().flatten().copied().fold(0.0, f64::max);
    let enter = (0.35 * peak).clamp(SLOW, BRISK).max(if gain.is_finite() {
        2.0 * gain * q.noise_m
    } else {
        0.0
    });
    let stretches = stretches(&along, enter, 1.0 / q.rate_hz);

    let need = (0.4 * q.way_m).clamp(0.8 * params.least_way_m, 1.5);
    let farthest = stretches.iter().map(|s| s.way).fold(0.0, f64::max);
    let Some(found) = stretches
        .iter()
        .find(|s| s.way >= need && s.way >= 0.5 * farthest)
    else {
        let share = trace.measured_share(q.from_s, q.to_s, q.rate_hz);
        return if share < params.least_measured.max(0.75) {
            Going::Unknown(format!(
                "only {:.0} % of the samples are measured",
                100.0 * share
            ))
        } else {
            Going::Stayed(farthest)
        };
    };

    let rough = time(found.first);
    let share = trace.measured_share(rough - 0.6, rough + 0.6, q.rate_hz);
    if share < params.least_measured {
        return Going::Unknown(format!(
            "only {:.0} % of the samples about the start are measured",
            100.0 * share
        ));
    }
    let end = time(bend(&local, found)).min(rough + 2.4) + 0.2;
    let samples: Vec<Sample> = trace
        .between(rough - 1.6, end)
        .iter()
        .filter(|s| s.measured)
        .copied()
        .collect();
    let search = Search {
        from_s: rough - 0.9,
        to_s: (rough + 0.6).min(end - 0.3),
        toward: q.toward,
        noise_m: q.noise_m,
        rate_hz: q.rate_hz,
    };
    match fit_onset(&samples, &search, &params.prior) {
        None => Going::Unknown("no movement model fits the samples about the start".to_owned()),
        Some(o) if o.sd_s > params.worst_sd_s => Going::Unknown(format!(
            "the start is uncertain by {:.2} s at this rate and noise",
            o.sd_s
        )),
        Some(o) => Going::Went(o),
    }
}

/// Stretches in which the speed exceeds `enter`, widened to where it falls under half of that:
/// the hysteresis that keeps one movement from being counted as several.
fn stretches(along: &[Option<f64>], enter: f64, dt: f64) -> Vec<Stretch> {
    let leave = 0.5 * enter;
    let mut out: Vec<Stretch> = Vec::new();
    let mut i = 0;
    while i < along.len() {
        if along[i].is_none_or(|v| v < enter) {
            i += 1;
            continue;
        }
        let floor = out.last().map_or(0, |s| s.last + 1);
        let mut first = i;
        while first > floor && along[first - 1].is_some_and(|v| v >= leave) {
            first -= 1;
        }
        let mut last = i;
        while last + 1 < along.len() && along[last + 1].is_some_and(|v| v >= leave) {
            last += 1;
        }
        let way = along[first..=last].iter().flatten().sum::<f64>() * dt;
        out.push(Stretch { first, last, way });
        i = last + 1;
    }
    out
}

/// Last index of the stretch before its heading has turned by 40 degrees: the models are straight.
fn bend(local: &[Option<Local>], s: &Stretch) -> usize {
    let turn = 40.0_f64.to_radians().cos();
    let reach = (s.last - s.first) / 3 + 1;
    let start: Vec<(f64, f64)> = local[s.first..=(s.first + reach).min(s.last)]
        .iter()
        .flatten()
        .map(|l| l.velocity)
        .collect();
    let (sx, sy) = start.iter().fold((0.0, 0.0), |a, v| (a.0 + v.0, a.1 + v.1));
    let size = sx.hypot(sy);
    if size <= 0.0 {
        return s.last;
    }
    ((s.first + reach)..=s.last)
        .find(|i| {
            local[*i].is_some_and(|l| {
                let v = l.speed();
                v > 0.5 && (l.velocity.0 * sx + l.velocity.1 * sy) < turn * v * size
            })
        })
        .unwrap_or(s.last)
}

//! Whether and when a player went: the stretch that is the declared movement is found on the
//! smoothed speed along the declared direction, its beginning by [`crate::onset`].

use crate::onset::{Onset, Search, fit_onset};
use crate::params::ValidParams;
use crate::trace::{Local, Sample, Trace};
use crate::when::Expected;
use setdrift_court::AttackPoint;

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
    /// Unit vector from the declared start to the declared end.
    pub straight: (f64, f64),
    /// Declared way, metres.
    pub way_m: f64,
    /// Declared start and end.
    pub ends: (AttackPoint, AttackPoint),
    /// Where the start is expected.
    pub expected: Expected,
    /// Probability of a jab first.
    pub jab_share: f64,
    /// Earliest start looked for, seconds.
    pub from_s: f64,
    /// Latest moment looked at, seconds.
    pub to_s: f64,
    /// Samples per second.
    pub rate_hz: f64,
    /// Sample noise per axis, metres.
    pub noise_m: f64,
    /// What of the noise wanders, per axis, metres.
    pub colour_m: f64,
}

/// Slowest smoothed speed that can be part of a movement, and the fastest that is asked for,
/// m/s. A stroll is about 1.3 m/s, a shuffle under 1 (common practice, no published source).
const SLOW: f64 = 0.4;
const BRISK: f64 = 1.0;

/// Rate above which neighbouring samples are averaged before the fit, per second: a movement of
/// half a second is still seen in five of them.
const ENOUGH_HZ: f64 = 10.0;

/// How far a jab can lead from the start of the cut, metres.
const JAB_LONG: f64 = 1.0;

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
    let mut along: Vec<Option<f64>> = local
        .iter()
        .map(|l| {
            let with = |u: (f64, f64), v: (f64, f64)| u.0 * v.0 + u.1 * v.1;
            l.map(|l| with(l.velocity, q.toward).max(with(l.velocity, q.straight)))
        })
        .collect();
    bridge(&mut along, (BRIDGED_S * q.rate_hz) as usize);
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
    let mut stretches = stretches(&along, &local, enter);
    stretches.retain(|s| !arrives(&local, s, q));

    let need = (0.35 * q.way_m).clamp(0.8 * params.least_way_m, 1.2);
    let farthest = stretches.iter().map(|s| s.way).fold(0.0, f64::max);
    let Some(found) = stretches
        .iter()
        .filter(|s| s.way >= need)
        .min_by(|a, b| misfit(&local, a, q).total_cmp(&misfit(&local, b, q)))
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

    let first = match left(&local, found, q, need) {
        Some(i) => i,
        None => walked_back(&local, found.first, enter, q),
    };
    let latest = first.max(found.first);
    let rough = time(first);
    let end = time(found.last).min(rough + 1.5) + 0.3;
    let begin = settled(&local, first, q).max(rough - 1.6);
    let measured: Vec<Sample> = trace
        .between(begin, end)
        .iter()
        .filter(|s| s.measured)
        .copied()
        .collect();
    let pool = ((q.rate_hz / ENOUGH_HZ) as usize).max(1);
    let samples = pooled(&measured, pool, q.rate_hz);
    let search = Search {
        from_s: rough - 0.8,
        to_s: (time(latest) + 0.6).min(end - 0.3),
        toward: q.toward,
        white_m: q.noise_m / (pool as f64).sqrt(),
        colour_m: q.colour_m,
        expected: Some(q.expected),
        start: Some((q.ends.0.x, q.ends.0.y)),
        jab_share: q.jab_share,
    };
    match fit_onset(&samples, &search, &params.prior) {
        None => Going::Unknown("no movement model fits the samples about the start".to_owned()),
        Some(o) => {
            let share = trace.measured_share(o.time_s - 0.6, o.time_s + 0.6, q.rate_hz);
            if share < params.least_measured {
                return Going::Unknown(format!(
                    "only {:.0} % of the samples about the start are measured",
                    100.0 * share
                ));
            }
            Going::Went(o)
        }
    }
}

/// Means of `pool` neighbouring samples; a group stops at a gap.
fn pooled(samples: &[Sample], pool: usize, rate_hz: f64) -> Vec<Sample> {
    if pool < 2 {
        return samples.to_vec();
    }
    let mut out: Vec<Sample> = Vec::with_capacity(samples.len() / pool + 1);
    let mut group: Vec<Sample> = Vec::with_capacity(pool);
    let mut flush = |group: &mut Vec<Sample>| {
        // A part of a group is noisier than the rest is taken to be, so it is left out.
        if group.len() == pool {
            let n = pool as f64;
            out.push(Sample {
                t: group.iter().map(|s| s.t).sum::<f64>() / n,
                x: group.iter().map(|s| s.x).sum::<f64>() / n,
                y: group.iter().map(|s| s.y).sum::<f64>() / n,
                measured: true,
            });
        }
        group.clear();
    };
    for s in samples {
        if group
            .last()
            .is_some_and(|b| s.t - b.t > (pool as f64 + 0.5) / rate_hz)
        {
            flush(&mut group);
        }
        group.push(*s);
        if group.len() == pool {
            flush(&mut group);
        }
    }
    flush(&mut group);
    out
}

/// Since when the player has been about where the stretch begins, seconds: within a jab's length.
/// What brought the player there is not fitted.
fn settled(local: &[Option<Local>], first: usize, q: &Question) -> f64 {
    let Some(start) = local[first] else {
        return f64::NEG_INFINITY;
    };
    let far = JAB_LONG + 0.5 * q.noise_m;
    let away = |l: &Option<Local>| l.is_some_and(|l| l.at.distance(start.at) > far);
    let Some(i) = local[..first].iter().rposition(away) else {
        return f64::NEG_INFINITY;
    };
    // At least half a second of what came before, or there is nothing to tell a start from.
    let latest = first.saturating_sub((0.5 * q.rate_hz) as usize);
    q.from_s + (i + 1).min(latest) as f64 / q.rate_hz
}

/// Stretches in which the speed exceeds `enter`, widened to where it falls under half of that:
/// the hysteresis that keeps one movement from being counted as several.
fn stretches(along: &[Option<f64>], local: &[Option<Local>], enter: f64) -> Vec<Stretch> {
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
        let mut seen = local[first..=last].iter().flatten();
        let ends = seen.next().map(|a| (a, seen.last().unwrap_or(a)));
        let way = ends.map_or(0.0, |(a, b)| a.at.distance(b.at));
        out.push(Stretch { first, last, way });
        i = last + 1;
    }
    out
}

/// Longest gap over which a stretch is taken to go on, seconds.
const BRIDGED_S: f64 = 0.8;

/// Fills gaps of at most `most` values by a straight line.
fn bridge(along: &mut [Option<f64>], most: usize) {
    let mut last: Option<(usize, f64)> = None;
    for i in 0..along.len() {
        let Some(v) = along[i] else { continue };
        if let Some((j, w)) = last
            && i - j > 1
            && i - j <= most + 1
        {
            for (k, gap) in along[j + 1..i].iter_mut().enumerate() {
                let s = (k + 1) as f64 / (i - j) as f64;
                *gap = Some(w + s * (v - w));
            }
        }
        last = Some((i, v));
    }
}

/// What a second away from where a start is expected weighs against a metre, metres.
const SECOND_M: f64 = 0.5;

/// How far a stretch is from leading from the declared start to the declared end when it is
/// expected, metres. The start counts more: an arrival at the declared start is not the going from
/// it, and a cut that stops half-way is still the cut.
fn misfit(local: &[Option<Local>], s: &Stretch, q: &Question) -> f64 {
    let off = |i: usize, p: AttackPoint| local[i].map_or(0.0, |l| l.at.distance(p));
    let t = q.from_s + s.first as f64 / q.rate_hz;
    let (from, to) = q.expected.window_s;
    let away = (from - t).max(t - to).max(0.0);
    off(s.first, q.ends.0) + 0.5 * off(s.last, q.ends.1) + SECOND_M * away
}

/// Whether a stretch only brings the player to the declared start: it ends nearer to it than it began,
/// and nearer to it than to the declared end.
fn arrives(local: &[Option<Local>], s: &Stretch, q: &Question) -> bool {
    let mut seen = local[s.first..=s.last].iter().flatten();
    let Some(first) = seen.next() else {
        return false;
    };
    let last = seen.next_back().unwrap_or(first);
    let off = last.at.distance(q.ends.0);
    off < first.at.distance(q.ends.0) && off < last.at.distance(q.ends.1)
}

/// By how much a stretch must come nearer to the declared start, metres, to hold an arrival.
const NEARER: f64 = 1.2;

/// Where an arrival that runs on into the movement turns into it: nearest to the declared start.
/// `None` where the stretch only leads away from it.
fn left(local: &[Option<Local>], s: &Stretch, q: &Question, need: f64) -> Option<usize> {
    let off = |i: usize| local[i].map(|l| l.at.distance(q.ends.0));
    let (i, least) = (s.first..=s.last)
        .filter_map(|i| Some((i, off(i)?)))
        .min_by(|a, b| a.1.total_cmp(&b.1))?;
    let rest = local[i]?
        .at
        .distance(local[s.first..=s.last].iter().rev().flatten().next()?.at);
    let began = (s.first..=s.last).find_map(off)?;
    (began - least > NEARER && rest >= need).then_some(i)
}

/// Where the player began to gather speed, in any direction but away: a cut round a defender
/// sets out to the side. It stops where the player all but stands, and after a second and a half.
fn walked_back(local: &[Option<Local>], first: usize, enter: f64, q: &Question) -> usize {
    let floor = first.saturating_sub((1.5 * q.rate_hz) as usize);
    let mut i = first;
    while i > floor {
        let Some(l) = local[i - 1] else { break };
        let v = l.speed();
        let along = l.velocity.0 * q.toward.0 + l.velocity.1 * q.toward.1;
        if v < 0.5 * enter || along < -0.5 * v {
            break;
        }
        i -= 1;
    }
    i
}

//! Which end the first team attacks, and how many frames a second has.

use super::{Confidence, Notes};
use crate::mapping::{EndSpec, Mapping, TimeUnit};
use crate::raw::{RawTracks, Samples};
use setdrift_court::End;

/// Defenders stand between the attackers and the basket. So over any stretch, the end towards which
/// the second team stands from the first is the end the first attacks, whoever has the ball.
pub(super) fn find(
    tracks: &RawTracks,
    periods: &[(u32, f64, f64)],
    mapping: &mut Mapping,
    notes: &mut Notes,
) {
    if !mapping.ends.is_empty() {
        return;
    }
    let all: Vec<f64> = tracks
        .samples
        .iter()
        .flat_map(|s| s.x.iter().copied().step_by(5))
        .collect();
    let left = all.iter().filter(|x| **x < 0.0).count() as f64 / all.len().max(1) as f64;
    if !(0.1..=0.9).contains(&left) {
        let end = if left > 0.5 { End::Left } else { End::Right };
        mapping.ends = vec![spec(None, None, None, end)];
        notes.found(
            "ends",
            format!("{end:?}, throughout").to_lowercase(),
            format!(
                "{:.0} % of positions are in that half",
                left.max(1.0 - left) * 100.0
            ),
            Confidence::Sure,
        );
        return;
    }
    let lead = lead(tracks);
    if lead.is_empty() {
        ask(notes);
        return;
    }
    if periods.len() > 1 && mapping.columns.period.is_some() {
        let mut specs = Vec::new();
        let mut weakest = f64::INFINITY;
        for (number, from, to) in periods {
            let (mean, _) = mean(&lead, *from, *to);
            weakest = weakest.min(mean.abs());
            specs.push(spec(Some(*number), None, None, towards(mean)));
        }
        report(&specs, weakest, mapping, notes);
        return;
    }
    let (start, end) = (lead[0].0, lead[lead.len() - 1].0 + 1.0);
    let (whole, _) = mean(&lead, start, end);
    let specs = match change(&lead) {
        Some(at) => {
            let (before, after) = (mean(&lead, start, at).0, mean(&lead, at, end).0);
            vec![
                spec(None, None, Some(at), towards(before)),
                spec(None, Some(at), None, towards(after)),
            ]
        }
        None => vec![spec(None, None, None, towards(whole))],
    };
    let weakest = match change(&lead) {
        Some(at) => mean(&lead, start, at)
            .0
            .abs()
            .min(mean(&lead, at, end).0.abs()),
        None => whole.abs(),
    };
    report(&specs, weakest, mapping, notes);
}

fn report(specs: &[EndSpec], weakest: f64, mapping: &mut Mapping, notes: &mut Notes) {
    /// Less than this apart on the mean, the teams tell nothing, metres.
    const TELLS: f64 = 0.3;
    if weakest < TELLS {
        ask(notes);
        return;
    }
    mapping.ends = specs.to_vec();
    let text: Vec<String> = specs
        .iter()
        .map(|s| {
            let when = match (s.period, s.from, s.to) {
                (Some(p), ..) => format!("period {p}"),
                (_, None, Some(t)) => format!("until {t:.0} s"),
                (_, Some(t), _) => format!("from {t:.0} s"),
                _ => "throughout".into(),
            };
            format!("{:?} {when}", s.attacks).to_lowercase()
        })
        .collect();
    notes.found(
        "ends",
        text.join(", "),
        format!("the other team stands nearer to that end, by {weakest:.1} m on the mean or more"),
        if weakest > 2.0 * TELLS {
            Confidence::Likely
        } else {
            Confidence::Assumed
        },
    );
}

fn ask(notes: &mut Notes) {
    notes.ask(
        "ends",
        "Which end (left is negative court x) does the first team attack, when? Write [[ends]] \
         with `attacks`, and `from` and `to` in seconds or `period`.",
        false,
    );
}

fn spec(period: Option<u32>, from: Option<f64>, to: Option<f64>, attacks: End) -> EndSpec {
    EndSpec {
        period,
        from,
        to,
        attacks,
    }
}

fn towards(lead: f64) -> End {
    if lead > 0.0 { End::Right } else { End::Left }
}

/// Per second: mean x of the second team less that of the first, metres.
fn lead(tracks: &RawTracks) -> Vec<(f64, f64)> {
    let Some((start, end)) = tracks.span() else {
        return Vec::new();
    };
    let n = (end - start) as usize + 1;
    let mut sums = vec![[(0.0, 0_usize); 2]; n];
    for (p, s) in tracks.players.iter().zip(&tracks.samples) {
        for (t, x) in s.t.iter().zip(&s.x) {
            let cell = &mut sums[((t - start) as usize).min(n - 1)][p.team.min(1)];
            cell.0 += x;
            cell.1 += 1;
        }
    }
    sums.iter()
        .enumerate()
        .filter(|(_, s)| s[0].1 > 0 && s[1].1 > 0)
        .map(|(i, s)| {
            let mean = |c: (f64, usize)| c.0 / c.1 as f64;
            (start + i as f64, mean(s[1]) - mean(s[0]))
        })
        .collect()
}

fn mean(lead: &[(f64, f64)], from: f64, to: f64) -> (f64, usize) {
    let inside = lead.iter().filter(|l| l.0 >= from && l.0 <= to);
    let (sum, n) = inside.fold((0.0, 0), |(s, n), l| (s + l.1, n + 1));
    (sum / f64::max(n as f64, 1.0), n)
}

/// The time at which the teams change ends: the split that makes the two sums of opposite sign
/// largest. `None` where one sign explains the whole better, or a part is shorter than 30 s.
fn change(lead: &[(f64, f64)]) -> Option<f64> {
    const SHORTEST: usize = 30;
    let total: f64 = lead.iter().map(|l| l.1).sum();
    let mut before = 0.0;
    let mut best = (total.abs() * 1.2, None);
    for (i, l) in lead.iter().enumerate() {
        if i >= SHORTEST && lead.len() - i >= SHORTEST {
            let after = total - before;
            if before * after < 0.0 && before.abs() + after.abs() > best.0 {
                best = (before.abs() + after.abs(), Some(l.0));
            }
        }
        before += l.1;
    }
    best.1
}

/// The rate: found from times, or guessed from how fast people move where frames are only numbered.
pub(super) fn rate(tracks: &RawTracks, mapping: &mut Mapping, notes: &mut Notes) {
    if mapping.time.unit != TimeUnit::Frame {
        let Some(step) = usual_step(tracks) else {
            return;
        };
        notes.found(
            "time.rate",
            format!("{:.2} a second", 1.0 / step),
            format!("times are usually {step:.4} s apart"),
            Confidence::Sure,
        );
        return;
    }
    /// In play, 95 % of speeds are below about this, m/s: 75 % of time is spent standing or
    /// walking, 18 % jogging, 5 % running (Sosa et al. 2021).
    const FAST: f64 = 4.0;
    const USUAL: [f64; 9] = [10.0, 12.5, 15.0, 20.0, 25.0, 30.0, 50.0, 60.0, 100.0];
    let assumed = tracks.rate_hz.unwrap_or(25.0);
    let mut steps: Vec<f64> = tracks
        .samples
        .iter()
        .flat_map(|s| {
            (5..s.len()).filter_map(move |i| {
                let dt = s.t[i] - s.t[i - 5];
                let d = (s.x[i] - s.x[i - 5]).hypot(s.y[i] - s.y[i - 5]);
                (dt * assumed < 5.5).then_some(d)
            })
        })
        .collect();
    if steps.is_empty() {
        return;
    }
    let at = (steps.len() - 1) * 95 / 100;
    let d = *steps.select_nth_unstable_by(at, f64::total_cmp).1;
    let guess = 5.0 * FAST / d.max(1e-6);
    let distance = |r: f64| (r / guess).ln().abs();
    let nearest = USUAL
        .iter()
        .copied()
        .min_by(|a, b| distance(*a).total_cmp(&distance(*b)))
        .unwrap_or(25.0);
    mapping.time.rate = Some(nearest);
    let speed = d / 5.0 * nearest;
    notes.found(
        "time.rate",
        format!("{nearest} a second"),
        format!("95 % of speeds are then below {speed:.1} m/s, as people move in play"),
        Confidence::Assumed,
    );
    notes.ask(
        "time.rate",
        format!(
            "How many frames per second exactly? The file only numbers them; {nearest} is a guess \
             from how fast people move."
        ),
        false,
    );
}

fn usual_step(tracks: &RawTracks) -> Option<f64> {
    let longest: &Samples = tracks.samples.iter().max_by_key(|s| s.len())?;
    let mut steps: Vec<f64> = longest.t.windows(2).map(|w| w[1] - w[0]).collect();
    if steps.is_empty() {
        return None;
    }
    let mid = steps.len() / 2;
    Some(*steps.select_nth_unstable_by(mid, f64::total_cmp).1)
}

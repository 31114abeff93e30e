//! Movement no human makes, cut out.

use crate::raw::Samples;

/// How many samples were cut, and why.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Cut {
    /// Reached only faster than the limit.
    pub(super) jumps: usize,
    /// Left and regained only by harder acceleration than the limit.
    pub(super) spikes: usize,
}

/// Which samples to keep. Samples fall into runs within which every step is possible; of all
/// chains of runs with possible steps between them, the one with most samples is kept; where a step
/// becomes possible by cutting a few samples on both sides of it, both runs may stay. Then single
/// samples off the line of their neighbours by more than `max_acceleration` explains are cut.
pub(super) fn cut(
    s: &Samples,
    max_speed: f64,
    max_acceleration: Option<f64>,
    noise_m: f64,
) -> (Vec<bool>, Cut) {
    let sigma = if noise_m.is_finite() {
        noise_m.max(0.01)
    } else {
        0.05
    };
    let mut kept = vec![true; s.len()];
    let mut cut = Cut::default();
    if s.is_empty() {
        return (kept, cut);
    }
    // Two noisy positions differ by noise alone: six of its standard deviations are allowed.
    let slack = 6.0 * std::f64::consts::SQRT_2 * sigma;
    let possible = |a: usize, b: usize| {
        let (dx, dy) = (s.x[a] - s.x[b], s.y[a] - s.y[b]);
        let reach = max_speed * (s.t[b] - s.t[a]) + slack;
        dx * dx + dy * dy <= reach * reach
    };
    cut.jumps = cut_runs(s.len(), &possible, &mut kept);
    if let Some(a_max) = max_acceleration {
        cut.spikes = cut_spikes(s, a_max, sigma, &mut kept);
    }
    (kept, cut)
}

/// A run in the best chain that ends with it.
#[derive(Clone, Copy)]
struct Link {
    /// Samples kept in the whole chain.
    total: usize,
    /// The run before, samples cut from its end, and samples cut from this run's start.
    before: Option<(usize, usize, usize)>,
}

fn cut_runs(n: usize, possible: &impl Fn(usize, usize) -> bool, kept: &mut [bool]) -> usize {
    /// Runs looked back at: a longer series of contradictions is no track.
    const BACK: usize = 64;
    /// Samples cut between two runs at most, so that both may stay.
    const BETWEEN: usize = 40;
    let mut runs: Vec<(usize, usize)> = Vec::new();
    let mut from = 0;
    for i in 1..=n {
        if i == n || !possible(i - 1, i) {
            runs.push((from, i));
            from = i;
        }
    }
    if runs.len() == 1 {
        return 0;
    }
    // Fewest samples to cut on both sides of a step for the step to become possible.
    let trims = |a: (usize, usize), b: (usize, usize)| {
        let most = |r: (usize, usize)| (r.1 - r.0 - 1) / 2;
        (0..=BETWEEN.min(most(a) + most(b))).find_map(|cut| {
            (cut.saturating_sub(most(b))..=cut.min(most(a)))
                .find(|end| possible(a.1 - 1 - end, b.0 + (cut - end)))
                .map(|end| (end, cut - end))
        })
    };
    let mut best: Vec<Link> = Vec::with_capacity(runs.len());
    for (i, run) in runs.iter().enumerate() {
        let own = run.1 - run.0;
        let mut choice = Link {
            total: own,
            before: None,
        };
        for j in (i.saturating_sub(BACK)..i).rev() {
            if best[j].total + own <= choice.total {
                continue;
            }
            if let Some((end, start)) = trims(runs[j], *run)
                && best[j].total + own - end - start > choice.total
            {
                choice = Link {
                    total: best[j].total + own - end - start,
                    before: Some((j, end, start)),
                };
            }
        }
        best.push(choice);
    }
    // The first of equally long chains, so that the result does not depend on chance.
    let mut at = None;
    let mut most = 0;
    for (i, b) in best.iter().enumerate() {
        if b.total > most {
            most = b.total;
            at = Some(i);
        }
    }
    kept.fill(false);
    let mut cut_end = 0;
    while let Some(i) = at {
        let (from, to) = runs[i];
        let cut_start = best[i].before.map_or(0, |b| b.2);
        kept[from + cut_start..to - cut_end].fill(true);
        cut_end = best[i].before.map_or(0, |b| b.1);
        at = best[i].before.map(|b| b.0);
    }
    n - kept.iter().filter(|k| **k).count()
}

fn cut_spikes(s: &Samples, a_max: f64, sigma: f64, kept: &mut [bool]) -> usize {
    /// A neighbour farther in time says nothing about a spike, seconds.
    const NEAR_S: f64 = 0.25;
    /// Noise allowed, in standard deviations of the distance from the neighbours' line.
    const NOISE: f64 = 8.0;
    let mut total = 0;
    // A pair of neighbouring false samples shows only after the first of them is gone.
    for _pass in 0..2 {
        let excess = |a: usize, i: usize, b: usize| {
            let (h, g) = (s.t[i] - s.t[a], s.t[b] - s.t[i]);
            if h > NEAR_S || g > NEAR_S {
                return 0.0;
            }
            let share = h / (h + g);
            let off = |v: &[f64]| v[i] - (v[a] + (v[b] - v[a]) * share);
            let (dx, dy) = (off(&s.x), off(&s.y));
            let allowed = a_max * h * g / 2.0 + NOISE * 1.23 * sigma;
            (dx * dx + dy * dy) / (allowed * allowed)
        };
        // Two kept samples in a row, how far the first of them is off, and how far the one before it.
        let mut places = (0..s.len()).filter(|i| kept[*i]);
        let (Some(mut a), Some(mut i)) = (places.next(), places.next()) else {
            break;
        };
        let (mut before, mut spikes, mut here) = (0.0, Vec::new(), None::<f64>);
        for b in places {
            let next = excess(a, i, b);
            // `a` is judged once its right neighbour `i` is known.
            if let Some(e) = here
                && e > 1.0
                && e >= before
                && e > next
            {
                spikes.push(a);
            }
            before = here.unwrap_or(0.0);
            here = Some(next);
            (a, i) = (i, b);
        }
        // The last but one has a neighbour that cannot be judged.
        if let Some(e) = here
            && e > 1.0
            && e >= before
        {
            spikes.push(a);
        }
        // The neighbours of a spike are off by half as much; only the peak is false.
        let cut = spikes.len();
        for k in spikes {
            kept[k] = false;
        }
        total += cut;
        if cut == 0 {
            break;
        }
    }
    total
}

/// A walk at 2 m/s, 25 Hz, with noise of a fixed sequence.
#[cfg(test)]
pub(super) fn walk(n: usize, sigma: f64) -> Samples {
    let mut state = 7_u64;
    let mut normal = || {
        // Sum of twelve uniforms: variance 1.
        (0..12)
            .map(|_| {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1);
                (state >> 11) as f64 / (1_u64 << 53) as f64
            })
            .sum::<f64>()
            - 6.0
    };
    Samples {
        t: (0..n).map(|i| i as f64 / 25.0).collect(),
        x: (0..n).map(|i| i as f64 * 0.08 + sigma * normal()).collect(),
        y: (0..n).map(|_| sigma * normal()).collect(),
        z: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stretch_elsewhere_is_cut_whole() {
        let mut s = walk(200, 0.02);
        for i in 50..60 {
            s.x[i] += 5.0;
        }
        let (kept, cut) = cut(&s, 12.5, Some(20.0), 0.02);
        assert_eq!(cut.jumps, 10);
        assert!((0..200).all(|i| kept[i] != (50..60).contains(&i)));
    }

    #[test]
    fn a_false_start_does_not_lose_the_track() {
        let mut s = walk(200, 0.02);
        for i in 0..3 {
            s.y[i] += 8.0;
        }
        let (kept, _) = cut(&s, 12.5, Some(20.0), 0.02);
        assert_eq!(kept.iter().filter(|k| **k).count(), 197);
    }

    #[test]
    fn a_step_between_two_long_stretches_keeps_both() {
        let mut s = walk(400, 0.02);
        for i in 200..400 {
            s.x[i] += 2.0;
        }
        let (kept, cut) = cut(&s, 12.5, Some(20.0), 0.02);
        // Two metres take 0.16 s at 12.5 m/s.
        assert!((2..=4).contains(&cut.jumps), "{cut:?}");
        assert!(kept[..196].iter().chain(&kept[204..]).all(|k| *k));
    }

    #[test]
    fn a_spike_below_the_speed_limit_is_cut_and_honest_movement_is_not() {
        let mut s = walk(200, 0.01);
        s.y[100] += 0.4;
        let (kept, found) = cut(&s, 12.5, Some(20.0), 0.01);
        assert_eq!(
            found,
            Cut {
                jumps: 0,
                spikes: 1
            }
        );
        assert!(!kept[100]);
        // A start at 8 m/s^2 for 0.8 s and a stop at 16 m/s^2.
        let mut s = walk(100, 0.0);
        for i in 0..100 {
            let t = i as f64 / 25.0 - 1.0;
            let (go, brake) = (t.clamp(0.0, 0.8), (t - 0.8).clamp(0.0, 0.4));
            s.x[i] = 4.0 * go * go + 6.4 * brake - 8.0 * brake * brake;
        }
        let (kept, _) = cut(&s, 12.5, Some(20.0), 0.01);
        assert!(kept.iter().all(|k| *k));
    }
}

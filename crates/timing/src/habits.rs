//! How cues are answered in a session, learned from the session's own checks.
//!
//! One start is weighed with a belief about when people go that knows nothing of these people
//! ([`crate::when::Expected`]). Many starts together show when they go. So each is weighed again with a
//! belief made of its first one and of what the session's other checks came to, itself left out (one
//! step of empirical Bayes; Robbins 1956, Proc. 3rd Berkeley Symp. 1, 157–163, value from memory). One
//! step and not many: carried on until nothing changes, the belief sharpens about what most do, and
//! the few who are late are taken for the many.

use crate::when::{Density, Expected};
use std::collections::BTreeMap;

/// One start with the cue it answers.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// Posterior of the start under `expected`.
    pub start: Density,
    /// What was believed of the start beforehand; `None` for evenly anywhere.
    pub expected: Option<Expected>,
    /// The cue, seconds.
    pub cue_s: f64,
    /// Standard deviation of the cue, and of the start where `start` does not hold it, seconds.
    pub cue_sd_s: f64,
    /// The declared window, seconds after the cue.
    pub window_s: (f64, f64),
    /// Which cue of the playbook: node and action.
    pub of: (usize, usize),
}

/// Seconds between the lags that are told apart.
const STEP: f64 = 0.02;
/// Lags considered, seconds after the window opens; what lies beyond is put at the end.
const FROM: f64 = -8.0;
const N: usize = 800;
/// Standard deviation of the blur over what a check came to, seconds: nobody answers twice alike.
const BLUR_S: f64 = 0.08;
/// For how many checks a first belief stands. From 10 to 100 little changes in simulated games.
const FIRST: f64 = 40.0;
/// A check of the same cue counts as so many of others.
const SAME: f64 = 5.0;

/// What the session makes of an answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighed {
    /// Posterior of the true lag by the track and the first belief alone, seconds after the cue.
    pub alone: Density,
    /// Posterior of the start, seconds of the session.
    pub start: Density,
    /// Posterior of the true lag, the doubt about the cue included, seconds after the cue.
    pub lag: Density,
}

impl Answer {
    /// First belief at a moment, per second.
    fn first(&self, t: f64) -> f64 {
        self.expected.map_or(1.0, |e| e.log_density(t, t).exp())
    }

    fn opens_s(&self) -> f64 {
        self.cue_s + self.window_s.0
    }

    fn bin(&self, t: f64) -> usize {
        (((t - self.opens_s() - FROM) / STEP).max(0.0) as usize).min(N - 1)
    }

    /// First belief over the lags; sums to 1.
    fn first_belief(&self) -> Vec<f64> {
        scaled(
            (0..N)
                .map(|b| self.first(self.opens_s() + middle(b)))
                .collect(),
        )
    }

    /// Likelihood of every true lag.
    fn likelihood(&self) -> Vec<f64> {
        let mut out = vec![0.0; N];
        for (t, w) in self.start.points() {
            out[self.bin(*t)] += w / self.first(*t);
        }
        blurred(&out, self.cue_sd_s)
    }
}

/// A lag, seconds after the window opens.
fn middle(bin: usize) -> f64 {
    FROM + (bin as f64 + 0.5) * STEP
}

fn scaled(mut of: Vec<f64>) -> Vec<f64> {
    let sum: f64 = of.iter().sum();
    of.iter_mut().for_each(|v| *v /= sum);
    of
}

fn product(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a * b).collect()
}

/// `of` under a normal blur of standard deviation `sd`, seconds; what would leave the ends is lost.
fn blurred(of: &[f64], sd: f64) -> Vec<f64> {
    let reach = (3.0 * sd / STEP).ceil().min(N as f64) as usize;
    let one = |k: usize| (-0.5 * (k as f64 * STEP / sd.max(1e-9)).powi(2)).exp();
    let sum = one(0) + 2.0 * (1..=reach).map(one).sum::<f64>();
    let mut out = vec![0.0; N];
    for k in 0..=reach {
        let share = one(k) / sum;
        for b in k..N {
            out[b] += share * of[b - k];
            if k > 0 {
                out[b - k] += share * of[b];
            }
        }
    }
    out
}

/// Weighs the answers of a session, each with what the others show; in their order.
#[must_use]
pub fn weigh(answers: &[&Answer]) -> Vec<Weighed> {
    let seen: Vec<(Vec<f64>, Vec<f64>, Vec<f64>)> = answers
        .iter()
        .map(|a| {
            let (first, likelihood) = (a.first_belief(), a.likelihood());
            let shown = blurred(&scaled(product(&first, &likelihood)), BLUR_S);
            (first, likelihood, shown)
        })
        .collect();
    let mut together = vec![0.0; N];
    let mut of_cue: BTreeMap<(usize, usize), Vec<f64>> = BTreeMap::new();
    for (a, (_, _, shown)) in answers.iter().zip(&seen) {
        let same = of_cue.entry(a.of).or_insert_with(|| vec![0.0; N]);
        for (b, s) in shown.iter().enumerate() {
            together[b] += s;
            same[b] += (SAME - 1.0) * s;
        }
    }
    answers
        .iter()
        .zip(&seen)
        .map(|(a, (first, likelihood, own))| {
            let same = &of_cue[&a.of];
            let belief: Vec<f64> = (0..N)
                .map(|b| FIRST * first[b] + (together[b] + same[b] - SAME * own[b]).max(0.0))
                .collect();
            let lags_of = |belief: &[f64]| {
                let lags = product(belief, likelihood);
                Density::of((0..N).map(|b| (a.window_s.0 + middle(b), lags[b])))
            };
            let of_start = blurred(&belief, a.cue_sd_s);
            let starts = a.start.points().iter();
            Weighed {
                start: Density::of(
                    starts.map(|(t, w)| (*t, w * of_start[a.bin(*t)] / a.first(*t))),
                ),
                lag: lags_of(&belief),
                alone: lags_of(first),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An answer `lag` after its cue, seen with a normal error of `sd`.
    fn answer(lag: f64, sd: f64) -> Answer {
        let cue_s = 100.0;
        let expected = Expected {
            window_s: (cue_s, cue_s + 0.6),
            cue_s: None,
            inside: 0.45,
            thins_s: 0.7,
        };
        let points = (-150..=150).map(|i| {
            let z = f64::from(i) * 0.02;
            let t = cue_s + lag + z * sd;
            (t, (-0.5 * z * z).exp() * expected.log_density(t, t).exp())
        });
        Answer {
            start: Density::of(points),
            expected: Some(expected),
            cue_s,
            cue_sd_s: 0.03,
            window_s: (0.0, 0.6),
            of: (0, 0),
        }
    }

    fn lag(w: &Weighed) -> f64 {
        w.lag.moments().0
    }

    #[test]
    fn alone_it_is_what_was_seen() {
        let a = answer(0.3, 0.1);
        let w = weigh(&[&a]);
        let (before, after) = (a.start.moments(), w[0].start.moments());
        assert!((before.0 - after.0).abs() < 0.005, "{before:?} {after:?}");
        assert!((before.1 - after.1).abs() < 0.005, "{before:?} {after:?}");
        // The lag is as doubtful as start and cue together.
        let (mean, sd) = w[0].lag.moments();
        assert!((mean - 0.3).abs() < 0.01, "{mean}");
        assert!((sd - 0.1_f64.hypot(0.03)).abs() < 0.01, "{sd}");
    }

    #[test]
    fn a_doubtful_start_is_read_as_the_others_and_a_plain_one_as_it_is() {
        let mut all: Vec<Answer> = (0..40)
            .map(|i| answer(0.25 + 0.002 * f64::from(i), 0.05))
            .collect();
        all.push(answer(0.75, 0.3));
        all.push(answer(0.95, 0.05));
        let w = weigh(&all.iter().collect::<Vec<_>>());
        let alone = lag(&weigh(&[&all[40]])[0]);
        let (doubtful, plain) = (lag(&w[40]), lag(&w[41]));
        assert!(
            doubtful < alone - 0.1 && doubtful > 0.3,
            "{alone} {doubtful}"
        );
        assert!((plain - 0.95).abs() < 0.05, "{plain}");
    }

    #[test]
    fn a_start_far_from_its_window_stays_there() {
        let mut all = vec![answer(0.3, 0.05); 30];
        all.push(answer(9.5, 0.05));
        let w = weigh(&all.iter().collect::<Vec<_>>());
        assert!((w[30].start.moments().0 - 109.5).abs() < 0.05);
        assert!(lag(&w[30]) > 7.0);
    }
}

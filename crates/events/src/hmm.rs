//! Hidden Markov chains in the log domain: Viterbi with bounded memory, forward–backward.
//!
//! Rabiner 1989 (Proc. IEEE 77(2), 257–286), sections III.A–III.B. The streaming form gives out
//! a state as soon as all surviving paths agree on it (Šrámek, Brejová, Vinař 2007, WABI), or
//! when `max_lag` frames wait.

use std::collections::VecDeque;

/// A chain of `n` states. Only listed transitions are possible.
#[derive(Debug, Clone, PartialEq)]
pub struct Chain {
    start: Vec<f64>,
    /// For each state, the states it can come from and the log probability of doing so.
    from: Vec<Vec<(usize, f64)>>,
}

impl Chain {
    /// A chain from log start probabilities (length `n`) and log transition probabilities
    /// `transition[a][b]` from `a` to `b` (`n` by `n`); minus infinity means impossible.
    ///
    /// Rows need not sum to one: a chain of scores decodes alike.
    ///
    /// # Panics
    /// Never for rectangular input of equal sizes; missing entries count as impossible.
    #[must_use]
    pub fn new(start: Vec<f64>, transition: &[Vec<f64>]) -> Self {
        let n = start.len();
        let mut from = vec![Vec::new(); n];
        for (a, row) in transition.iter().enumerate().take(n) {
            for (b, &p) in row.iter().enumerate().take(n) {
                if p > f64::NEG_INFINITY {
                    from[b].push((a, p));
                }
            }
        }
        Self { start, from }
    }

    /// Number of states.
    #[must_use]
    pub fn states(&self) -> usize {
        self.start.len()
    }

    /// The most probable state sequence and its log probability for log emissions
    /// `emission[frame][state]`. Ties go to the state with the lower index.
    #[must_use]
    pub fn viterbi(&self, emission: &[Vec<f64>]) -> (Vec<usize>, f64) {
        let mut d = Decoder::new(self, usize::MAX);
        let mut out = Vec::with_capacity(emission.len());
        for e in emission {
            d.push(e, &mut out);
        }
        let score = d.finish(&mut out);
        (out, score)
    }

    /// Posterior probability of each state at each frame, and the log likelihood of the whole.
    /// Linear in frames; holds `2 · frames · n` numbers.
    #[must_use]
    pub fn posterior(&self, emission: &[Vec<f64>]) -> (Vec<Vec<f64>>, f64) {
        let (forward, total) = self.forward(emission);
        let mut post = forward;
        let mut backward = vec![0.0; self.states()];
        for t in (0..emission.len()).rev() {
            if t + 1 < emission.len() {
                backward = self.backward_step(&emission[t + 1], &backward);
            }
            for (p, b) in post[t].iter_mut().zip(&backward) {
                *p = if total == f64::NEG_INFINITY {
                    0.0
                } else {
                    (*p + b - total).exp()
                };
            }
        }
        (post, total)
    }

    /// Expected number of times each listed transition is taken, as `counts[a][b]`.
    #[must_use]
    pub fn expected_transitions(&self, emission: &[Vec<f64>]) -> Vec<Vec<f64>> {
        let n = self.states();
        let (forward, total) = self.forward(emission);
        let mut counts = vec![vec![0.0; n]; n];
        if total == f64::NEG_INFINITY {
            return counts;
        }
        let mut backward = vec![0.0; n];
        for t in (1..emission.len()).rev() {
            for (b, from) in self.from.iter().enumerate() {
                let tail = emission[t][b] + backward[b] - total;
                if tail > f64::NEG_INFINITY {
                    for &(a, p) in from {
                        counts[a][b] += (forward[t - 1][a] + p + tail).exp();
                    }
                }
            }
            backward = self.backward_step(&emission[t], &backward);
        }
        counts
    }

    fn forward(&self, emission: &[Vec<f64>]) -> (Vec<Vec<f64>>, f64) {
        let mut all: Vec<Vec<f64>> = Vec::with_capacity(emission.len());
        for e in emission {
            let row = match all.last() {
                None => self.start.iter().zip(e).map(|(s, x)| s + x).collect(),
                Some(last) => self
                    .from
                    .iter()
                    .zip(e)
                    .map(|(from, x)| x + log_sum(from.iter().map(|&(a, p)| last[a] + p)))
                    .collect(),
            };
            all.push(row);
        }
        let total = all.last().map_or(0.0, |last| log_sum(last.iter().copied()));
        (all, total)
    }

    fn backward_step(&self, next: &[f64], backward: &[f64]) -> Vec<f64> {
        let n = self.states();
        let mut best = vec![f64::NEG_INFINITY; n];
        for (b, from) in self.from.iter().enumerate() {
            for &(a, p) in from {
                best[a] = best[a].max(p + next[b] + backward[b]);
            }
        }
        let mut sum = vec![0.0; n];
        for (b, from) in self.from.iter().enumerate() {
            for &(a, p) in from {
                if best[a] > f64::NEG_INFINITY {
                    sum[a] += (p + next[b] + backward[b] - best[a]).exp();
                }
            }
        }
        best.iter()
            .zip(&sum)
            .map(|(m, s)| {
                if *s > 0.0 {
                    m + s.ln()
                } else {
                    f64::NEG_INFINITY
                }
            })
            .collect()
    }
}

fn log_sum(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let top = values.clone().fold(f64::NEG_INFINITY, f64::max);
    if top == f64::NEG_INFINITY {
        return top;
    }
    top + values.map(|v| (v - top).exp()).sum::<f64>().ln()
}

/// Viterbi one frame at a time. Memory is at most `max_lag` frames of back pointers.
#[derive(Debug)]
pub struct Decoder<'a> {
    chain: &'a Chain,
    score: Vec<f64>,
    next: Vec<f64>,
    back: VecDeque<Vec<u16>>,
    max_lag: usize,
    since_check: usize,
    base: f64,
}

/// How often the decoder looks whether survivors agree, frames.
const CHECK_EVERY: usize = 64;

impl<'a> Decoder<'a> {
    /// A decoder that holds back at most `max_lag` frames.
    #[must_use]
    pub fn new(chain: &'a Chain, max_lag: usize) -> Self {
        Self {
            chain,
            score: Vec::new(),
            next: vec![0.0; chain.states()],
            back: VecDeque::new(),
            max_lag: max_lag.max(CHECK_EVERY),
            since_check: 0,
            base: 0.0,
        }
    }

    /// Takes the log emissions of the next frame; appends states that are now settled.
    pub fn push(&mut self, emission: &[f64], out: &mut Vec<usize>) {
        let n = self.chain.states();
        if self.score.is_empty() {
            self.score = self
                .chain
                .start
                .iter()
                .zip(emission)
                .map(|(s, e)| s + e)
                .collect();
            self.back.push_back((0..n).map(|s| s as u16).collect());
            return;
        }
        let mut row = vec![0u16; n];
        for s in 0..n {
            let mut best = f64::NEG_INFINITY;
            if emission[s] > f64::NEG_INFINITY {
                for &(a, p) in &self.chain.from[s] {
                    let v = self.score[a] + p;
                    if v > best {
                        best = v;
                        row[s] = a as u16;
                    }
                }
            }
            self.next[s] = best + emission[s];
        }
        std::mem::swap(&mut self.score, &mut self.next);
        // Keep scores near zero so that a long session loses no precision.
        let top = self.score.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if top > f64::NEG_INFINITY {
            self.base += top;
            self.score.iter_mut().for_each(|s| *s -= top);
        }
        self.back.push_back(row);
        self.since_check += 1;
        if self.since_check >= CHECK_EVERY {
            self.since_check = 0;
            self.settle(out);
        }
    }

    /// Appends the rest and gives the log probability of the whole path.
    pub fn finish(mut self, out: &mut Vec<usize>) -> f64 {
        let (end, top) = self.best();
        let keep = self.back.len();
        self.trace(end, 0, keep, out);
        self.base + top
    }

    fn best(&self) -> (usize, f64) {
        let mut best = (0, f64::NEG_INFINITY);
        for (s, &v) in self.score.iter().enumerate() {
            if v > best.1 {
                best = (s, v);
            }
        }
        best
    }

    fn settle(&mut self, out: &mut Vec<usize>) {
        // Follow all survivors back until they meet.
        let mut alive: Vec<usize> = (0..self.score.len())
            .filter(|s| self.score[*s] > f64::NEG_INFINITY)
            .collect();
        let mut meet = None;
        for t in (1..self.back.len()).rev() {
            if alive.len() == 1 {
                meet = Some((t, alive[0]));
                break;
            }
            alive
                .iter_mut()
                .for_each(|s| *s = usize::from(self.back[t][*s]));
            alive.sort_unstable();
            alive.dedup();
        }
        if let Some((t, state)) = meet {
            self.trace(state, self.back.len() - 1 - t, t, out);
        } else if self.back.len() > self.max_lag {
            let (end, _) = self.best();
            let give = self.back.len() - self.max_lag / 2;
            self.trace(end, 0, give, out);
        }
    }

    /// Appends the first `give` waiting frames of the path that is in `state` `skip` frames
    /// before the newest, and forgets them.
    fn trace(&mut self, state: usize, skip: usize, give: usize, out: &mut Vec<usize>) {
        let last = match self.back.len().checked_sub(1 + skip) {
            Some(l) => l,
            None => return,
        };
        let mut path = vec![0; last + 1];
        let mut s = state;
        for t in (0..=last).rev() {
            path[t] = s;
            s = usize::from(self.back[t][s]);
        }
        out.extend_from_slice(&path[..give.min(path.len())]);
        self.back.drain(..give.min(path.len()));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn logs(v: &[f64]) -> Vec<f64> {
        v.iter().map(|x| x.ln()).collect()
    }

    /// The healthy/fever chain of the textbooks (value from memory; recomputed by hand):
    /// normal, cold, dizzy gives healthy, healthy, fever with probability 0.01512.
    fn fever() -> (Chain, Vec<Vec<f64>>) {
        let c = Chain::new(logs(&[0.6, 0.4]), &[logs(&[0.7, 0.3]), logs(&[0.4, 0.6])]);
        let e = vec![logs(&[0.5, 0.1]), logs(&[0.4, 0.3]), logs(&[0.1, 0.6])];
        (c, e)
    }

    #[test]
    fn textbook_chain() {
        let (c, e) = fever();
        let (path, score) = c.viterbi(&e);
        assert_eq!(path, [0, 0, 1]);
        assert!((score.exp() - 0.01512).abs() < 1e-12);
    }

    #[test]
    fn posterior_by_enumeration() {
        let (c, e) = fever();
        let (post, total) = c.posterior(&e);
        let start: [f64; 2] = [0.6, 0.4];
        let tr: [[f64; 2]; 2] = [[0.7, 0.3], [0.4, 0.6]];
        let mut sum = 0.0;
        let mut mid = 0.0;
        let mut stay = 0.0;
        for p in 0..8usize {
            let s = [p & 1, p >> 1 & 1, p >> 2 & 1];
            let w = start[s[0]]
                * tr[s[0]][s[1]]
                * tr[s[1]][s[2]]
                * (0..3).map(|t| e[t][s[t]].exp()).product::<f64>();
            sum += w;
            mid += if s[1] == 0 { w } else { 0.0 };
            stay += w * (0..2).filter(|t| s[*t] == 0 && s[t + 1] == 0).count() as f64;
        }
        assert!((total.exp() - sum).abs() < 1e-14);
        assert!((post[1][0] - mid / sum).abs() < 1e-12);
        let counts = c.expected_transitions(&e);
        assert!((counts[0][0] - stay / sum).abs() < 1e-12);
    }

    #[test]
    fn streaming_equals_whole_when_survivors_meet() {
        let c = Chain::new(
            logs(&[0.3, 0.3, 0.4]),
            &[
                logs(&[0.9, 0.05, 0.05]),
                logs(&[0.05, 0.9, 0.05]),
                logs(&[0.1, 0.1, 0.8]),
            ],
        );
        let mut x = 1u64;
        let e: Vec<Vec<f64>> = (0..2000)
            .map(|_| {
                (0..3)
                    .map(|_| {
                        x = x.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(99);
                        -((x >> 40) as f64 / 16_777_216.0) * 3.0
                    })
                    .collect()
            })
            .collect();
        let (whole, score) = c.viterbi(&e);
        let mut d = Decoder::new(&c, 100);
        let mut out = Vec::new();
        let mut most = 0;
        for (i, f) in e.iter().enumerate() {
            d.push(f, &mut out);
            most = most.max(i + 1 - out.len());
        }
        let s = d.finish(&mut out);
        assert_eq!(out, whole);
        assert!((s - score).abs() < 1e-9);
        assert!(most <= 100 + CHECK_EVERY, "held back {most} frames");
    }
}

//! A lower bound on every explanation in which a word is entered at a given frame: the same
//! dynamic program as the decoder's, with each word one state that costs its bound in every frame, or
//! a chain of such states, one for each part of its reference.
//!
//! A state is *ripe* once it has lasted as many frames as the fastest tempo needs; only then may it
//! be left for nothing, or for its successors.

use crate::prune::at_most;
use std::ops::Range;

/// The words, each a state or a chain of them, and their prices.
pub struct Words<'a> {
    /// `[frame][word]`.
    pub bounds: Vec<f32>,
    /// Query frames, at least 1.
    pub frames: usize,
    /// Price of beginning after filler; infinite for what only goes on a chain.
    pub entry: Vec<f32>,
    /// Words of one length stand together: where such a group ends, and the fewest frames of a
    /// complete word in it.
    pub groups: &'a [(usize, usize)],
    /// Price of breaking a word off; infinite where it cannot be.
    pub break_off: Vec<f32>,
    /// Price of ending when ripe: none, or infinite where a chain goes on.
    pub ending: Vec<f32>,
    /// What may follow what, once ripe.
    pub edges: &'a [(usize, usize)],
    /// Cost of a frame off script.
    pub off: f32,
    /// Whether beginning and ending with the stretch is free.
    pub inside: bool,
}

/// What the relaxation says of each word.
pub struct Relaxed {
    words: usize,
    /// `[frame][word]`: least cost of an explanation that enters the word at that frame.
    entered: Vec<f32>,
    /// `[frame][word]`: least cost of an explanation that is in the word at that frame.
    within: Vec<f32>,
}

impl Relaxed {
    /// Per word, the least cost of an explanation with it.
    pub fn least(&self) -> Vec<f32> {
        let mut least = vec![f32::INFINITY; self.words];
        for row in self.entered.chunks_exact(self.words) {
            keep_least(&mut least, row);
        }
        least
    }

    /// Per word, the frames from the first at which it may be entered to the last that it may
    /// hold in an explanation that costs at most `most`; `None` when there are no such frames.
    pub fn windows(&self, most: f32) -> Vec<Option<Range<usize>>> {
        let most = at_most(most);
        let mut windows: Vec<Option<Range<usize>>> = vec![None; self.words];
        let entered = self.entered.chunks_exact(self.words);
        let within = self.within.chunks_exact(self.words);
        for (t, (entered, within)) in entered.zip(within).enumerate() {
            for ((window, entered), within) in windows.iter_mut().zip(entered).zip(within) {
                match window {
                    Some(window) if *within <= most => window.end = t + 1,
                    None if *entered <= most => *window = Some(t..t + 1),
                    _ => {}
                }
            }
        }
        windows
    }
}

fn keep_least(least: &mut [f32], other: &[f32]) {
    for (a, b) in least.iter_mut().zip(other) {
        *a = if *b < *a { *b } else { *a };
    }
}

fn least_sum(a: &[f32], b: &[f32]) -> f32 {
    let sums = a.iter().zip(b).map(|(a, b)| a + b);
    sums.fold(f32::INFINITY, |l, c| if c < l { c } else { l })
}

impl Words<'_> {
    /// Runs the relaxation forwards and backwards.
    pub fn relax(&self) -> Relaxed {
        let sums = self.sums();
        let (mut entered, mut within) = self.forwards(&sums);
        self.backwards(&sums, &mut entered, &mut within);
        Relaxed {
            words: self.entry.len(),
            entered,
            within,
        }
    }

    fn row<'b>(&self, table: &'b [f32], t: usize) -> &'b [f32] {
        let n = self.entry.len();
        &table[t * n..(t + 1) * n]
    }

    /// The groups as ranges of words.
    fn spans(&self) -> impl Iterator<Item = (Range<usize>, usize)> + '_ {
        let mut from = 0;
        self.groups.iter().map(move |(end, shortest)| {
            let span = from..*end;
            from = *end;
            (span, *shortest)
        })
    }

    /// `[frame][word]`: sum of the bounds of the shortest complete word that begins there;
    /// infinite where the query ends before it does.
    fn sums(&self) -> Vec<f32> {
        let n = self.entry.len();
        let mut out = vec![f32::INFINITY; self.bounds.len()];
        for (span, shortest) in self.spans() {
            for start in 0..(self.frames + 1).saturating_sub(shortest) {
                let out = &mut out[start * n..(start + 1) * n][span.clone()];
                out.fill(0.0);
                for t in start..start + shortest {
                    let row = &self.row(&self.bounds, t)[span.clone()];
                    for (sum, cost) in out.iter_mut().zip(row) {
                        *sum += cost;
                    }
                }
            }
        }
        out
    }

    /// `[frame][word]`, twice: least cost of what comes before a word that is entered at that frame,
    /// and up to that frame's end when it is in the word.
    fn forwards(&self, sums: &[f32]) -> (Vec<f32>, Vec<f32>) {
        let n = self.entry.len();
        let mut enter = vec![0.0_f32; n * self.frames];
        let mut within = Vec::with_capacity(n * self.frames);
        let (mut young, mut ripe) = (vec![f32::INFINITY; n], vec![f32::INFINITY; n]);
        let mut filler = 0.0_f32;
        for t in 0..self.frames {
            let now = &mut enter[t * n..(t + 1) * n];
            for (cost, entry) in now.iter_mut().zip(&self.entry) {
                let free = t == 0 && self.inside && entry.is_finite();
                *cost = if free { 0.0 } else { filler + entry };
            }
            for (from, to) in self.edges {
                now[*to] = now[*to].min(ripe[*from]);
            }
            if t > 0 {
                let out = least_sum(&ripe, &self.ending);
                filler = filler.min(out).min(least_sum(&young, &self.break_off));
            }
            filler += self.off;
            keep_least(&mut young, now);
            let bound = self.row(&self.bounds, t);
            for ((young, ripe), bound) in young.iter_mut().zip(&mut ripe).zip(bound) {
                *young += bound;
                *ripe += bound;
            }
            within.extend_from_slice(&young);
            for (span, shortest) in self.spans() {
                let Some(start) = (t + 1).checked_sub(shortest) else {
                    continue;
                };
                let begun = &self.row(&enter, start)[span.clone()];
                let sums = &self.row(sums, start)[span.clone()];
                for ((ripe, begun), sum) in ripe[span].iter_mut().zip(begun).zip(sums) {
                    let cost = begun + sum;
                    *ripe = if cost < *ripe { cost } else { *ripe };
                }
            }
        }
        (enter, within)
    }

    /// Adds what follows to what [`Self::forwards`] gave.
    fn backwards(&self, sums: &[f32], entered: &mut [f32], within: &mut [f32]) {
        let n = self.entry.len();
        let mut now = vec![0.0_f32; n];
        // From the boundary before frame `t`: in a ripe word, in a word to be broken, in filler.
        let mut ripe = vec![0.0_f32; n * (self.frames + 1)];
        ripe[n * self.frames..].copy_from_slice(&self.ending);
        let mut broken = self.break_off.clone();
        if self.inside {
            for cost in broken.iter_mut().filter(|cost| cost.is_finite()) {
                *cost = 0.0;
            }
        }
        let mut filler = 0.0_f32;
        for t in (0..self.frames).rev() {
            let leave = self.off + filler;
            let bound = self.row(&self.bounds, t);
            let rows = t * n..(t + 1) * n;
            let after = broken.iter().zip(self.row(&ripe, t + 1));
            for (cost, (broken, ripe)) in within[rows.clone()].iter_mut().zip(after) {
                *cost += if ripe < broken { ripe } else { broken };
            }
            for ((cost, bound), broken) in now.iter_mut().zip(bound).zip(&broken) {
                *cost = bound + broken;
            }
            for (span, shortest) in self.spans() {
                if t + shortest > self.frames {
                    continue;
                }
                let ripe = &self.row(&ripe, t + shortest)[span.clone()];
                let sums = &self.row(sums, t)[span.clone()];
                for ((cost, ripe), sum) in now[span].iter_mut().zip(ripe).zip(sums) {
                    let complete = sum + ripe;
                    *cost = if complete < *cost { complete } else { *cost };
                }
            }
            for (cost, after) in entered[rows].iter_mut().zip(&now) {
                *cost += after;
            }
            filler = leave.min(least_sum(&now, &self.entry));
            for ((broken, bound), price) in broken.iter_mut().zip(bound).zip(&self.break_off) {
                let (stay, go) = (*broken + bound, leave + price);
                *broken = if go < stay { go } else { stay };
            }
            let (earlier, later) = ripe.split_at_mut((t + 1) * n);
            let here = &mut earlier[t * n..];
            let after = bound.iter().zip(&*later).zip(&self.ending);
            for (cost, ((bound, later), ending)) in here.iter_mut().zip(after) {
                let (stay, go) = (bound + later, leave + ending);
                *cost = if go < stay { go } else { stay };
            }
            for (from, to) in self.edges {
                here[*from] = here[*from].min(now[*to]);
            }
        }
    }
}

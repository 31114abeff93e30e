//! A lower bound on every explanation in which a word is entered at a given frame: the same
//! dynamic program as the decoder's, with each word one state that costs its bound in every frame.
//!
//! A word is *ripe* once it has lasted as many frames as the fastest tempo needs; only then may it
//! be left for nothing, or for its successors.

use crate::prune::SLACK;

/// The words and their prices.
pub struct Words<'a> {
    /// `[word][frame]`.
    pub bounds: &'a [f32],
    /// Query frames, at least 1.
    pub frames: usize,
    /// Price of beginning after filler.
    pub entry: Vec<f32>,
    /// Fewest frames of a complete word.
    pub shortest: Vec<usize>,
    /// Whether it may be broken off.
    pub breaks: Vec<bool>,
    /// Words that may come before each, when ripe.
    pub before: &'a [Vec<usize>],
    /// Cost of a frame off script.
    pub off: f32,
    /// Price of breaking a word off.
    pub break_off: f32,
    /// Whether beginning and ending with the stretch is free.
    pub inside: bool,
}

/// What the relaxation says of each word.
pub struct Relaxed {
    frames: usize,
    /// `[word][frame]`: least cost of an explanation that enters the word at that frame.
    through: Vec<f32>,
}

impl Relaxed {
    /// Least cost of an explanation with this word.
    pub fn least(&self, word: usize) -> f32 {
        let row = &self.through[word * self.frames..(word + 1) * self.frames];
        row.iter().copied().fold(f32::INFINITY, f32::min)
    }

    /// First frame at which the word may be entered in an explanation that costs at most `most`;
    /// `None` when there is no such frame.
    pub fn first_entry(&self, word: usize, most: f32) -> Option<usize> {
        let row = &self.through[word * self.frames..(word + 1) * self.frames];
        // Sums in another order differ by rounding.
        let most = most * (1.0 + 1e-4) + SLACK;
        row.iter().position(|cost| *cost <= most)
    }
}

impl Words<'_> {
    /// Runs the relaxation forwards and backwards.
    pub fn relax(&self) -> Relaxed {
        let (n, frames) = (self.entry.len(), self.frames);
        let sums = self.sums();
        let mut through = self.forwards(&sums);
        let after = self.backwards(&sums);
        for (cost, after) in through.iter_mut().zip(&after) {
            *cost += after;
        }
        debug_assert_eq!(through.len(), n * frames);
        Relaxed { frames, through }
    }

    /// `[word][frame]`: sum of the bounds of the shortest complete word that begins there;
    /// infinite where the query ends before it does.
    fn sums(&self) -> Vec<f32> {
        let mut out = vec![f32::INFINITY; self.bounds.len()];
        for (word, shortest) in self.shortest.iter().enumerate() {
            let row = &self.bounds[word * self.frames..(word + 1) * self.frames];
            for (start, costs) in row.windows(*shortest).enumerate() {
                out[word * self.frames + start] = costs.iter().sum();
            }
        }
        out
    }

    /// `[word][frame]`: least cost of what comes before a word that is entered at that frame.
    fn forwards(&self, sums: &[f32]) -> Vec<f32> {
        let (n, frames) = (self.entry.len(), self.frames);
        let mut enter = vec![f32::INFINITY; n * frames];
        let (mut young, mut ripe) = (vec![f32::INFINITY; n], vec![f32::INFINITY; n]);
        let mut filler = f32::INFINITY;
        for t in 0..frames {
            let mut out = f32::INFINITY;
            for word in 0..n {
                let mut cost = filler + self.entry[word];
                if t == 0 {
                    cost = if self.inside { 0.0 } else { self.entry[word] };
                }
                for before in &self.before[word] {
                    cost = cost.min(ripe[*before]);
                }
                enter[word * frames + t] = cost;
                out = out.min(ripe[word]);
                if self.breaks[word] {
                    out = out.min(young[word] + self.break_off);
                }
            }
            filler = self.off + if t == 0 { 0.0 } else { filler.min(out) };
            for word in 0..n {
                let row = word * frames;
                let bound = self.bounds[row + t];
                young[word] = young[word].min(enter[row + t]) + bound;
                ripe[word] += bound;
                if let Some(start) = (t + 1).checked_sub(self.shortest[word]) {
                    ripe[word] = ripe[word].min(enter[row + start] + sums[row + start]);
                }
            }
        }
        enter
    }

    /// `[word][frame]`: least cost of a word that is entered at that frame, and of what follows.
    fn backwards(&self, sums: &[f32]) -> Vec<f32> {
        let (n, frames) = (self.entry.len(), self.frames);
        let mut enter = vec![f32::INFINITY; n * frames];
        let mut after: Vec<Vec<usize>> = vec![Vec::new(); n];
        for (word, before) in self.before.iter().enumerate() {
            for b in before {
                after[*b].push(word);
            }
        }
        // From the boundary before frame `t`: in a ripe word, in a word to be broken, in filler.
        let mut ripe = vec![0.0_f32; n * (frames + 1)];
        let end = if self.inside { 0.0 } else { self.break_off };
        let may_break = |word: usize, cost: f32| {
            if self.breaks[word] {
                cost
            } else {
                f32::INFINITY
            }
        };
        let mut broken: Vec<f32> = (0..n).map(|w| may_break(w, end)).collect();
        let mut filler = 0.0_f32;
        for t in (0..frames).rev() {
            let leave = self.off + filler;
            let mut stay = leave;
            for word in 0..n {
                let row = word * frames;
                let bound = self.bounds[row + t];
                let mut cost = bound + broken[word];
                if let Some(ripe) = ripe.get((t + self.shortest[word]) * n + word) {
                    cost = cost.min(sums[row + t] + ripe);
                }
                enter[row + t] = cost;
                stay = stay.min(self.entry[word] + cost);
                broken[word] = may_break(word, (bound + broken[word]).min(self.break_off + leave));
            }
            for word in 0..n {
                let mut cost =
                    (self.bounds[word * frames + t] + ripe[(t + 1) * n + word]).min(leave);
                for next in &after[word] {
                    cost = cost.min(enter[next * frames + t]);
                }
                ripe[t * n + word] = cost;
            }
            filler = stay;
        }
        enter
    }
}

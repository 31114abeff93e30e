//! A lower bound on every explanation in which a word is entered at a given frame: the same
//! dynamic program as the decoder's, with each word one state that costs its bound in every frame, or
//! a chain of such states, one for each part of its reference.
//!
//! A state is *ripe* once it has lasted as many frames as the fastest tempo needs; only then may it
//! be left for nothing, or for its successors. It lasts no longer than the slowest tempo allows.

use crate::{
    ages::Ages,
    parts::{Block, LANES},
    tables::{Tables, keep_least, room},
};
use pulp::{Arch, Simd, WithSimd};

/// The states and their prices. What there is per word is `[block][lane]`.
pub struct Words<'a> {
    /// Query frames, at least 1.
    pub frames: usize,
    /// How words are cut.
    pub blocks: &'a [Block],
    /// Price of beginning after filler; infinite where there is no word.
    pub entry: Vec<f32>,
    /// Price of breaking a word off; infinite where it cannot be.
    pub break_off: Vec<f32>,
    /// What may follow what, once ripe.
    pub edges: Vec<Run>,
    /// Cost of a frame off script.
    pub off: f32,
    /// Whether beginning and ending with the stretch is free.
    pub inside: bool,
}

/// Edges side by side: from `from + i` to `to + i`, for `i` below `len`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Run {
    from: usize,
    to: usize,
    len: usize,
}

/// Puts edges that lie side by side together.
pub fn runs(mut edges: Vec<(usize, usize)>) -> Vec<Run> {
    edges.sort_unstable_by_key(|(from, to)| (to.wrapping_sub(*from), *from));
    let mut runs: Vec<Run> = Vec::new();
    for (from, to) in edges {
        match runs.last_mut() {
            Some(run) if (run.from + run.len, run.to + run.len) == (from, to) => run.len += 1,
            _ => runs.push(Run { from, to, len: 1 }),
        }
    }
    runs
}

/// One run of the relaxation.
struct Pass<'a> {
    words: &'a Words<'a>,
    tables: &'a mut Tables,
}

impl WithSimd for Pass<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let words = self.words;
        let mut at = 0;
        let stays = words.blocks.iter().flat_map(|block| &block.stays);
        let mut ages: Vec<Ages> = stays
            .map(|stay| {
                let ages = Ages::new(*stay, words.frames, at);
                at += ages.rows();
                ages
            })
            .collect();
        let mut memory = vec![f32::INFINITY; at * LANES];
        words.forwards(simd, &mut ages, &mut memory, self.tables);
        ages.iter_mut().for_each(Ages::reset);
        memory.fill(f32::INFINITY);
        words.backwards(simd, &mut ages, &mut memory, self.tables);
    }
}

/// Prices, free where they can be paid at all.
fn freed(prices: &[f32]) -> Vec<f32> {
    let free = |price: &f32| if price.is_finite() { 0.0 } else { *price };
    prices.iter().map(free).collect()
}

impl Words<'_> {
    /// Runs the relaxation forwards and backwards over the bounds laid out in `tables`.
    pub fn relax(&self, tables: &mut Tables) {
        Arch::new().dispatch(Pass {
            words: self,
            tables,
        });
    }

    /// Least cost of what comes before a state that is entered at a frame, and up to the frame's end
    /// when in the state.
    #[inline(always)]
    fn forwards<S: Simd>(
        &self,
        simd: S,
        ages: &mut [Ages],
        memory: &mut [f32],
        tables: &mut Tables,
    ) {
        let (n, words) = (ages.len() * LANES, self.entry.len());
        let each = LANES / S::F32_LANES;
        let never = simd.splat_f32s(f32::INFINITY);
        let Tables {
            bounds,
            entered,
            within,
            ..
        } = tables;
        let entered = room(entered, n * self.frames);
        let within = room(within, n * self.frames);
        let memory = S::as_mut_simd_f32s(memory).0;
        let mut ripe = vec![f32::INFINITY; n];
        let (mut ended, mut led) = (vec![f32::INFINITY; words], vec![f32::INFINITY; words]);
        let begin = if self.inside {
            &freed(&self.entry)
        } else {
            &self.entry
        };
        let (mut filler, mut out) = (0.0_f32, f32::INFINITY);
        for t in 0..self.frames {
            if t > 0 {
                led.fill(f32::INFINITY);
                for run in &self.edges {
                    keep_least(&mut led[run.to..][..run.len], &ended[run.from..][..run.len]);
                }
            }
            let entry = S::as_simd_f32s(if t == 0 { begin } else { &self.entry }).0;
            let bound = S::as_simd_f32s(&bounds[t * n..][..n]).0;
            let entered = S::as_mut_simd_f32s(&mut entered[t * n..][..n]).0;
            let within = S::as_mut_simd_f32s(&mut within[t * n..][..n]).0;
            let ripe = S::as_mut_simd_f32s(&mut ripe).0;
            let ended = S::as_mut_simd_f32s(&mut ended).0;
            let (led, broken) = (S::as_simd_f32s(&led).0, S::as_simd_f32s(&self.break_off).0);
            let before = simd.splat_f32s(filler);
            let mut least = never;
            for (index, block) in self.blocks.iter().enumerate() {
                let last = block.stays.len() - 1;
                // What a part is entered from is that of the frame before.
                for part in (0..=last).rev() {
                    let ages = &mut ages[block.first + part];
                    let memory = ages.of(memory, each);
                    for lane in 0..each {
                        let (at, word) = ((block.first + part) * each + lane, index * each + lane);
                        entered[at] = if part == 0 {
                            simd.min_f32s(simd.add_f32s(before, entry[word]), led[word])
                        } else {
                            ripe[at - each]
                        };
                        let memory = &mut memory[lane..];
                        (within[at], ripe[at]) =
                            ages.forwards(simd, memory, each, entered[at], bound[at]);
                        least = simd.min_f32s(least, simd.add_f32s(within[at], broken[word]));
                        if part == last {
                            ended[word] = ripe[at];
                            least = simd.min_f32s(least, ripe[at]);
                        }
                    }
                    ages.tick(memory, each, never);
                }
            }
            filler = filler.min(out) + self.off;
            out = simd.reduce_min_f32s(least);
        }
    }

    /// Adds what follows to what [`Self::forwards`] gave.
    #[inline(always)]
    fn backwards<S: Simd>(
        &self,
        simd: S,
        ages: &mut [Ages],
        memory: &mut [f32],
        tables: &mut Tables,
    ) {
        let (n, words) = (ages.len() * LANES, self.entry.len());
        let each = LANES / S::F32_LANES;
        let never = simd.splat_f32s(f32::INFINITY);
        let Tables {
            bounds,
            entered,
            within,
            rest,
            ..
        } = tables;
        let rest = room(rest, n * self.frames);
        let memory = S::as_mut_simd_f32s(memory).0;
        let mut now = vec![f32::INFINITY; n];
        let (mut begun, mut next) = (vec![f32::INFINITY; words], vec![f32::INFINITY; words]);
        let end = if self.inside {
            &freed(&self.break_off)
        } else {
            &self.break_off
        };
        let (mut filler, mut leave) = (0.0_f32, 0.0_f32);
        for t in (0..self.frames).rev() {
            let last_frame = t + 1 == self.frames;
            if !last_frame {
                next.fill(f32::INFINITY);
                for run in &self.edges {
                    keep_least(
                        &mut next[run.from..][..run.len],
                        &begun[run.to..][..run.len],
                    );
                }
            }
            let broken = S::as_simd_f32s(if last_frame { end } else { &self.break_off }).0;
            let bound = S::as_simd_f32s(&bounds[t * n..][..n]).0;
            let entered = S::as_mut_simd_f32s(&mut entered[t * n..][..n]).0;
            let within = S::as_mut_simd_f32s(&mut within[t * n..][..n]).0;
            let rest = S::as_mut_simd_f32s(&mut rest[t * n..][..n]).0;
            let now = S::as_mut_simd_f32s(&mut now).0;
            let begun = S::as_mut_simd_f32s(&mut begun).0;
            let (next, entry) = (S::as_simd_f32s(&next).0, S::as_simd_f32s(&self.entry).0);
            let after = simd.splat_f32s(leave);
            let mut least = never;
            for (index, block) in self.blocks.iter().enumerate() {
                let last = block.stays.len() - 1;
                // What a part is left for is that of the frame after.
                for part in 0..=last {
                    let ages = &mut ages[block.first + part];
                    let memory = ages.of(memory, each);
                    for lane in 0..each {
                        let (at, word) = ((block.first + part) * each + lane, index * each + lane);
                        let broken = simd.add_f32s(after, broken[word]);
                        let leave = if part == last {
                            simd.min_f32s(after, next[word])
                        } else {
                            now[at + each]
                        };
                        let leave = (simd.min_f32s(leave, broken), broken);
                        let memory = &mut memory[lane..];
                        (rest[at], now[at]) = ages.backwards(simd, memory, each, leave, bound[at]);
                        within[at] = simd.add_f32s(within[at], rest[at]);
                        entered[at] = simd.add_f32s(entered[at], now[at]);
                        if part == 0 {
                            begun[word] = now[at];
                            least = simd.min_f32s(least, simd.add_f32s(now[at], entry[word]));
                        }
                    }
                    ages.tick(memory, each, never);
                }
            }
            leave = self.off + filler;
            filler = leave.min(simd.reduce_min_f32s(least));
        }
    }
}

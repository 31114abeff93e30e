//! A lower bound on every explanation in which a word is entered at a given frame: the same
//! dynamic program as the decoder's, with each word one state that costs its bound in every frame, or
//! a chain of such states, one for each part of its reference.
//!
//! A state is *ripe* once it has lasted as many frames as the fastest tempo needs; only then may it
//! be left for nothing, or for its successors.

use crate::prune::at_most;
use pulp::{Arch, Simd, WithSimd};
use std::ops::Range;

/// The states and their prices.
pub struct Words<'a> {
    /// Query frames, at least 1.
    pub frames: usize,
    /// Price of beginning after filler; infinite for what only goes on a chain.
    pub entry: Vec<f32>,
    /// States of one length stand together: where such a group ends, and the fewest frames, at least
    /// 1, that one of them lasts.
    pub groups: &'a [(usize, usize)],
    /// Price of breaking a word off; infinite where it cannot be.
    pub break_off: Vec<f32>,
    /// Price of ending when ripe: none, or infinite where a chain goes on.
    pub ending: Vec<f32>,
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

/// What the relaxation is computed in, kept from one to the next: fresh memory costs more than the
/// sums. All but `spare` and `kept` are `[frame][state]`.
#[derive(Default)]
pub struct Tables {
    states: usize,
    /// Least cost of a state in a frame.
    bounds: Vec<f32>,
    /// Sum of the bounds of the shortest stay in a state that begins there.
    sums: Vec<f32>,
    /// Least cost of an explanation that enters the state at that frame.
    entered: Vec<f32>,
    /// Least cost of an explanation that is in the state at that frame.
    within: Vec<f32>,
    /// Least cost of the frames after, when in the state at that frame.
    rest: Vec<f32>,
    /// From the boundary before a frame, in a state that may be left.
    ripe: Vec<f32>,
    spare: Vec<f32>,
    /// Memory of the bounds of the possession before.
    pub kept: Vec<f32>,
}

/// States whose bounds are laid out together.
const BLOCK: usize = 16;

impl Tables {
    /// Lays out the bounds of `states` states over `frames` frames; `row` writes those of one. Other
    /// tables are as they were.
    pub fn lay_out(
        &mut self,
        states: usize,
        frames: usize,
        mut row: impl FnMut(usize, &mut [f32]),
    ) {
        self.states = states;
        self.bounds.resize(states * frames, 0.0);
        self.spare.clear();
        self.spare.resize(BLOCK * frames, 0.0);
        for first in (0..states).step_by(BLOCK) {
            let block = BLOCK.min(states - first);
            let rows = self.spare.chunks_exact_mut(frames).take(block);
            for (state, out) in rows.enumerate() {
                row(first + state, out);
            }
            for t in 0..frames {
                let out = &mut self.bounds[t * states + first..][..block];
                for (out, row) in out.iter_mut().zip(self.spare.chunks_exact(frames)) {
                    *out = row[t];
                }
            }
        }
    }

    /// Per state, the least cost of an explanation with it.
    pub fn least(&self) -> Vec<f32> {
        let mut least = vec![f32::INFINITY; self.states];
        for row in self.entered.chunks_exact(self.states) {
            keep_least(&mut least, row);
        }
        least
    }

    /// Per state, the frames from the first at which it may be entered to the last that it may
    /// hold in an explanation that costs at most `most`; `None` when there are no such frames.
    pub fn windows(&self, most: f32) -> Vec<Option<Range<usize>>> {
        let most = at_most(most);
        let never = u32::MAX;
        let (mut first, mut last) = (vec![never; self.states], vec![0_u32; self.states]);
        let entered = self.entered.chunks_exact(self.states);
        let within = self.within.chunks_exact(self.states);
        for (t, (entered, within)) in (0_u32..).zip(entered.zip(within)) {
            for (first, entered) in first.iter_mut().zip(entered) {
                let here = if *entered <= most { t } else { never };
                *first = here.min(*first);
            }
            for (last, within) in last.iter_mut().zip(within) {
                *last = if *within <= most { t + 1 } else { *last };
            }
        }
        let windows = first.into_iter().zip(last);
        windows
            .map(|(first, last)| {
                let end = last.max(first.saturating_add(1));
                (first != never).then_some(first as usize..end as usize)
            })
            .collect()
    }

    /// Per state, the least cost of the frames after `t` when in it then.
    pub fn rest(&self, t: usize) -> &[f32] {
        &self.rest[t * self.states..][..self.states]
    }
}

/// Keeps the lesser of two rows in the first.
#[inline(always)]
pub(crate) fn keep_least(least: &mut [f32], other: &[f32]) {
    for (a, b) in least.iter_mut().zip(other) {
        *a = if *b < *a { *b } else { *a };
    }
}

#[inline(always)]
fn least_sum(a: &[f32], b: &[f32]) -> f32 {
    const LANES: usize = 16;
    let mut least = [f32::INFINITY; LANES];
    let (a, b) = (a.chunks(LANES), b.chunks(LANES));
    for (a, b) in a.zip(b) {
        if let (Ok(a), Ok(b)) = (<&[f32; LANES]>::try_from(a), <&[f32; LANES]>::try_from(b)) {
            for i in 0..LANES {
                let sum = a[i] + b[i];
                least[i] = if sum < least[i] { sum } else { least[i] };
            }
        } else {
            for ((least, a), b) in least.iter_mut().zip(a).zip(b) {
                *least = least.min(a + b);
            }
        }
    }
    least.into_iter().fold(f32::INFINITY, f32::min)
}

/// One run of the relaxation.
struct Pass<'a> {
    words: &'a Words<'a>,
    tables: &'a mut Tables,
}

impl WithSimd for Pass<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        self.words.sums(self.tables);
        self.words.forwards(self.tables);
        self.words.backwards(self.tables);
    }
}

impl Words<'_> {
    /// Runs the relaxation forwards and backwards over the bounds laid out in `tables`.
    pub fn relax(&self, tables: &mut Tables) {
        Arch::new().dispatch(Pass {
            words: self,
            tables,
        });
    }

    /// The groups as ranges of states.
    #[inline(always)]
    fn spans(&self) -> impl Iterator<Item = (Range<usize>, usize)> + '_ {
        let mut from = 0;
        self.groups.iter().map(move |(end, shortest)| {
            let span = from..*end;
            from = *end;
            (span, *shortest)
        })
    }

    /// Sums by doubling: those of a power of two of frames, and of what the length is made of.
    #[inline(always)]
    fn sums(&self, tables: &mut Tables) {
        let n = self.entry.len();
        let Tables {
            bounds,
            sums,
            spare,
            ..
        } = tables;
        sums.resize(n * self.frames, 0.0);
        for (span, shortest) in self.spans() {
            let width = span.len();
            spare.clear();
            for row in bounds.chunks_exact(n) {
                spare.extend_from_slice(&row[span.clone()]);
            }
            let starts = (self.frames + 1).saturating_sub(shortest);
            for (t, row) in sums.chunks_exact_mut(n).enumerate() {
                row[span.clone()].fill(if t < starts { 0.0 } else { f32::INFINITY });
            }
            let (mut done, mut power) = (0, 1);
            while starts > 0 && power <= shortest {
                if shortest & power != 0 {
                    let rows = sums.chunks_exact_mut(n).take(starts);
                    for (row, more) in rows.zip(spare[done * width..].chunks_exact(width)) {
                        for (sum, cost) in row[span.clone()].iter_mut().zip(more) {
                            *sum += cost;
                        }
                    }
                    done += power;
                }
                for t in 0..self.frames.saturating_sub(power) {
                    let (here, later) = spare.split_at_mut((t + power) * width);
                    let here = &mut here[t * width..][..width];
                    for (sum, cost) in here.iter_mut().zip(later) {
                        *sum += *cost;
                    }
                }
                power *= 2;
            }
        }
    }

    /// Least cost of what comes before a state that is entered at a frame, and up to the frame's end
    /// when in the state.
    #[inline(always)]
    fn forwards(&self, tables: &mut Tables) {
        let n = self.entry.len();
        let Tables {
            bounds,
            sums,
            entered,
            within,
            ..
        } = tables;
        entered.resize(n * self.frames, 0.0);
        within.resize(n * self.frames, 0.0);
        let (mut young, mut ripe) = (vec![f32::INFINITY; n], vec![f32::INFINITY; n]);
        let mut filler = 0.0_f32;
        for t in 0..self.frames {
            let rows = t * n..(t + 1) * n;
            let now = &mut entered[rows.clone()];
            let free = t == 0 && self.inside;
            for (cost, entry) in now.iter_mut().zip(&self.entry) {
                *cost = filler + entry;
            }
            if free {
                for cost in now.iter_mut().filter(|cost| cost.is_finite()) {
                    *cost = 0.0;
                }
            }
            for run in &self.edges {
                keep_least(&mut now[run.to..][..run.len], &ripe[run.from..][..run.len]);
            }
            if t > 0 {
                let out = least_sum(&ripe, &self.ending);
                filler = filler.min(out).min(least_sum(&young, &self.break_off));
            }
            filler += self.off;
            let bound = &bounds[rows.clone()];
            let states = young.iter_mut().zip(&mut ripe).zip(&*now);
            let within = within[rows].iter_mut();
            for ((((young, ripe), now), bound), within) in states.zip(bound).zip(within) {
                *young = (if *now < *young { *now } else { *young }) + bound;
                *ripe += bound;
                *within = *young;
            }
            for (span, shortest) in self.spans() {
                let Some(start) = (t + 1).checked_sub(shortest) else {
                    continue;
                };
                let begun = &entered[start * n..][span.clone()];
                let sums = &sums[start * n..][span.clone()];
                for ((ripe, begun), sum) in ripe[span].iter_mut().zip(begun).zip(sums) {
                    let cost = begun + sum;
                    *ripe = if cost < *ripe { cost } else { *ripe };
                }
            }
        }
    }

    /// Adds what follows to what [`Self::forwards`] gave.
    #[inline(always)]
    fn backwards(&self, tables: &mut Tables) {
        let n = self.entry.len();
        let Tables {
            bounds,
            sums,
            entered,
            within,
            rest,
            ripe,
            ..
        } = tables;
        rest.resize(n * self.frames, 0.0);
        ripe.resize(n * (self.frames + 1), 0.0);
        ripe[n * self.frames..][..n].copy_from_slice(&self.ending);
        let mut now = vec![0.0_f32; n];
        let mut broken = self.break_off.clone();
        if self.inside {
            for cost in broken.iter_mut().filter(|cost| cost.is_finite()) {
                *cost = 0.0;
            }
        }
        let mut filler = 0.0_f32;
        for t in (0..self.frames).rev() {
            let leave = self.off + filler;
            let rows = t * n..(t + 1) * n;
            let bound = &bounds[rows.clone()];
            let (earlier, later) = ripe.split_at_mut((t + 1) * n);
            let after = broken.iter().zip(&*later);
            for (rest, (broken, ripe)) in rest[rows.clone()].iter_mut().zip(after) {
                *rest = if ripe < broken { *ripe } else { *broken };
            }
            for (cost, rest) in within[rows.clone()].iter_mut().zip(&rest[rows.clone()]) {
                *cost += rest;
            }
            for ((cost, bound), broken) in now.iter_mut().zip(bound).zip(&broken) {
                *cost = bound + broken;
            }
            for (span, shortest) in self.spans() {
                if t + shortest > self.frames {
                    continue;
                }
                let ripe = &later[(shortest - 1) * n..][span.clone()];
                let sums = &sums[t * n..][span.clone()];
                for ((cost, ripe), sum) in now[span].iter_mut().zip(ripe).zip(sums) {
                    let complete = sum + ripe;
                    *cost = if complete < *cost { complete } else { *cost };
                }
            }
            for (cost, after) in entered[rows.clone()].iter_mut().zip(&now) {
                *cost += after;
            }
            filler = leave.min(least_sum(&now, &self.entry));
            let here = &mut earlier[t * n..];
            let states = here.iter_mut().zip(&*later).zip(&self.ending);
            for ((cost, (bound, broken)), price) in states
                .zip(bound.iter().zip(&mut broken))
                .zip(&self.break_off)
            {
                let ((here, later), ending) = cost;
                let (stay, go) = (*broken + bound, leave + price);
                *broken = if go < stay { go } else { stay };
                let (stay, go) = (bound + later, leave + ending);
                *here = if go < stay { go } else { stay };
            }
            for run in &self.edges {
                keep_least(&mut here[run.from..][..run.len], &now[run.to..][..run.len]);
            }
        }
    }
}

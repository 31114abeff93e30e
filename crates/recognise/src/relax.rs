//! A lower bound on every explanation in which a word is entered at a given frame: the same
//! dynamic program as the decoder's, with each word one state that costs its bound in every frame, or
//! a chain of such states, one for each part of its reference.
//!
//! A state is *ripe* once it has lasted as many frames as the fastest tempo needs; only then may it
//! be left for nothing, or for its successors.

use crate::tables::{Tables, keep_least, room};
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
    /// Whether what is still to come will be asked for.
    pub tell_rest: bool,
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

    /// Sums by doubling: those of a power of two of frames, and of what the length is made of. Those of one
    /// frame are the bounds themselves.
    #[inline(always)]
    fn sums(&self, tables: &mut Tables) {
        let n = self.entry.len();
        let Tables {
            bounds,
            sums,
            spare,
            ..
        } = tables;
        let bounds = &bounds[..n * self.frames];
        let sums = room(sums, n * self.frames);
        for (span, shortest) in self.spans() {
            let width = span.len();
            let starts = (self.frames + 1).saturating_sub(shortest);
            if shortest == 1 {
                continue;
            }
            spare.clear();
            for row in bounds.chunks_exact(n) {
                spare.extend_from_slice(&row[span.clone()]);
            }
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
                if 2 * power > shortest {
                    break;
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
        let entered = room(entered, n * self.frames);
        let within = room(within, n * self.frames);
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
                let sums = if shortest == 1 { &*bounds } else { &*sums };
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
        let rest = room(rest, n * if self.tell_rest { self.frames } else { 1 });
        let ripe = room(ripe, n * (self.frames + 1));
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
            let rest = &mut rest[if self.tell_rest { t * n } else { 0 }..][..n];
            for (rest, (broken, ripe)) in rest.iter_mut().zip(after) {
                *rest = if ripe < broken { *ripe } else { *broken };
            }
            for (cost, rest) in within[rows.clone()].iter_mut().zip(&*rest) {
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
                let sums = if shortest == 1 { &*bounds } else { &*sums };
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

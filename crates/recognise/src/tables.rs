//! What the relaxation is computed in, and what it says.

use crate::{
    parts::{LANES, Parts},
    prune::at_most,
};
use pulp::{Arch, Simd, WithSimd};
use std::ops::Range;

/// What the relaxation is computed in, kept from one to the next: fresh memory costs more than the
/// sums. All but `spare` are `[frame][row of states][lane]`.
#[derive(Default)]
pub struct Tables {
    states: usize,
    frames: usize,
    /// Least cost of a state in a frame.
    pub(crate) bounds: Vec<f32>,
    /// Least cost of an explanation that enters the state at that frame.
    pub(crate) entered: Vec<f32>,
    /// Least cost of an explanation that is in the state at that frame.
    pub(crate) within: Vec<f32>,
    /// Least cost of the frames after, when in the state at that frame.
    pub(crate) rest: Vec<f32>,
    spare: Vec<f32>,
}

/// So many numbers of a table, whatever they are; the table never shrinks.
pub(crate) fn room(table: &mut Vec<f32>, len: usize) -> &mut [f32] {
    if table.len() < len {
        table.resize(len, 0.0);
    }
    &mut table[..len]
}

impl Tables {
    /// Lays out the bounds of all states over `frames` frames; `row` writes those of a part of a word. Other
    /// tables are as they were.
    pub fn lay_out(
        &mut self,
        parts: &Parts,
        frames: usize,
        mut row: impl FnMut(usize, usize, &mut [f32]),
    ) {
        (self.states, self.frames) = (parts.rows * LANES, frames);
        let bounds = room(&mut self.bounds, self.states * frames);
        let spare = room(&mut self.spare, LANES * frames);
        for (block, words) in parts.blocks.iter().zip(parts.words.chunks_exact(LANES)) {
            for part in 0..block.stays.len() {
                for (word, out) in words.iter().zip(spare.chunks_exact_mut(frames)) {
                    match word {
                        Some(word) => row(*word, part, out),
                        None => out.fill(f32::INFINITY),
                    }
                }
                let first = (block.first + part) * LANES;
                let rows: [&[f32]; LANES] =
                    std::array::from_fn(|lane| &spare[lane * frames..][..frames]);
                for t in 0..frames {
                    let out = &mut bounds[t * self.states + first..][..LANES];
                    for lane in 0..LANES {
                        out[lane] = rows[lane][t];
                    }
                }
            }
        }
    }

    /// Per word, the least cost of an explanation with it.
    pub fn least(&self, parts: &Parts) -> Vec<f32> {
        if parts.len() == 0 {
            return Vec::new();
        }
        let mut least = vec![f32::INFINITY; parts.words.len()];
        for row in self.entered.chunks_exact(self.states).take(self.frames) {
            for (block, least) in parts.blocks.iter().zip(least.chunks_exact_mut(LANES)) {
                keep_least(least, &row[block.first * LANES..][..LANES]);
            }
        }
        (0..parts.len()).map(|word| least[parts.at(word)]).collect()
    }

    /// Per word, the frames from the first at which it may be entered to the last that it may
    /// hold in an explanation that costs at most `most`; `None` when there are no such frames.
    pub fn windows(&self, parts: &Parts, most: f32) -> Vec<Option<Range<usize>>> {
        if parts.len() == 0 {
            return Vec::new();
        }
        let most = at_most(most);
        let mut first = vec![f32::INFINITY; parts.words.len()];
        let mut last = vec![0.0; self.states];
        Arch::new().dispatch(Reach {
            tables: self,
            parts,
            most,
            first: &mut first,
            last: &mut last,
        });
        let window = |word: usize| {
            let first = first[parts.at(word)];
            let (block, lane) = parts.place(word);
            let rows = block.first..block.first + block.stays.len();
            let last = rows.map(|row| last[row * LANES + lane]);
            let end = last.fold(first + 1.0, f32::max);
            (first < f32::INFINITY).then_some(first as usize..end as usize)
        };
        (0..parts.len()).map(window).collect()
    }

    /// Per state, the least cost of the frames after `t` when in it then.
    pub fn rest(&self, t: usize) -> &[f32] {
        &self.rest[t * self.states..][..self.states]
    }
}

/// Finds the first frame at which a word may be entered, and per state one past the last that it may hold.
struct Reach<'a> {
    tables: &'a Tables,
    parts: &'a Parts,
    most: f32,
    first: &'a mut [f32],
    last: &'a mut [f32],
}

impl WithSimd for Reach<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let (states, each) = (self.tables.states, LANES / S::F32_LANES);
        let most = simd.splat_f32s(self.most);
        let first = S::as_mut_simd_f32s(self.first).0;
        let last = S::as_mut_simd_f32s(self.last).0;
        for t in 0..self.tables.frames {
            let row = t * states..(t + 1) * states;
            let entered = S::as_simd_f32s(&self.tables.entered[row.clone()]).0;
            let within = S::as_simd_f32s(&self.tables.within[row]).0;
            let (here, after) = (simd.splat_f32s(t as f32), simd.splat_f32s((t + 1) as f32));
            for (block, first) in self.parts.blocks.iter().zip(first.chunks_exact_mut(each)) {
                for (first, entered) in first.iter_mut().zip(&entered[block.first * each..]) {
                    let may = simd.less_than_or_equal_f32s(*entered, most);
                    *first = simd.select_f32s(may, simd.min_f32s(*first, here), *first);
                }
            }
            for (last, within) in last.iter_mut().zip(within) {
                let may = simd.less_than_or_equal_f32s(*within, most);
                *last = simd.select_f32s(may, after, *last);
            }
        }
    }
}

/// Keeps the lesser of two rows in the first.
#[inline(always)]
pub(crate) fn keep_least(least: &mut [f32], other: &[f32]) {
    for (a, b) in least.iter_mut().zip(other) {
        *a = if *b < *a { *b } else { *a };
    }
}

//! What the relaxation is computed in, and what it says.

use crate::prune::at_most;
use std::ops::Range;

/// What the relaxation is computed in, kept from one to the next: fresh memory costs more than the
/// sums. All but `spare` are `[frame][state]`.
#[derive(Default)]
pub struct Tables {
    states: usize,
    frames: usize,
    /// Least cost of a state in a frame.
    pub(crate) bounds: Vec<f32>,
    /// Sum of the bounds of the shortest stay in a state that begins there.
    pub(crate) sums: Vec<f32>,
    /// Least cost of an explanation that enters the state at that frame.
    pub(crate) entered: Vec<f32>,
    /// Least cost of an explanation that is in the state at that frame.
    pub(crate) within: Vec<f32>,
    /// Least cost of the frames after, when in the state at that frame.
    pub(crate) rest: Vec<f32>,
    /// From the boundary before a frame, in a state that may be left.
    pub(crate) ripe: Vec<f32>,
    pub(crate) spare: Vec<f32>,
}

/// So many numbers of a table, whatever they are; the table never shrinks.
pub(crate) fn room(table: &mut Vec<f32>, len: usize) -> &mut [f32] {
    if table.len() < len {
        table.resize(len, 0.0);
    }
    &mut table[..len]
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
        (self.states, self.frames) = (states, frames);
        let bounds = room(&mut self.bounds, states * frames);
        let spare = room(&mut self.spare, BLOCK * frames);
        for first in (0..states).step_by(BLOCK) {
            let block = BLOCK.min(states - first);
            let rows = spare.chunks_exact_mut(frames).take(block);
            for (state, out) in rows.enumerate() {
                row(first + state, out);
            }
            for t in 0..frames {
                let out = &mut bounds[t * states + first..][..block];
                for (out, row) in out.iter_mut().zip(spare.chunks_exact(frames)) {
                    *out = row[t];
                }
            }
        }
    }

    /// Per state, the least cost of an explanation with it.
    pub fn least(&self) -> Vec<f32> {
        let mut least = vec![f32::INFINITY; self.states];
        for row in self.entered.chunks_exact(self.states).take(self.frames) {
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
        let entered = self.entered.chunks_exact(self.states).take(self.frames);
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

    /// Per state, the least cost of the frames after `t` when in it then; only where it was to be told.
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

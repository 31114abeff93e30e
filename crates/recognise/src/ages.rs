//! How long a state has lasted, as far as a bound needs to know.
//!
//! What entered a state in the same few frames goes on together, at the least that any of it costs: so what
//! has lasted too long can be dropped, at the price of a little patience, and no sum is ever taken back.

use crate::parts::Stay;
use pulp::Simd;

/// Groups of frames that the longest stay is made of. With more, less outlasts it.
const GROUPS: usize = 3;

/// Rows, about, that what is not ripe yet waits in where it need not be told apart by the frame.
const WAITS: usize = 5;

/// The memory of a state: the least of what entered of late, the least of each earlier group of frames, and
/// what entered in each of the last frames and is not ripe yet.
pub struct Ages {
    /// Where its rows begin among all.
    at: usize,
    groups: usize,
    /// Frames to a group.
    span: usize,
    /// Frames until the group is full.
    left: usize,
    oldest: usize,
    /// Rows of what waits until it is ripe, one for every `stride` frames.
    waits: usize,
    stride: usize,
    /// Frames until one of them is.
    next: usize,
    due: usize,
}

impl Ages {
    /// The memory of a state, `at` which row, over so many frames.
    pub fn new(stay: Stay, frames: usize, at: usize) -> Self {
        let (groups, span) = match stay.longest {
            Some(longest) if longest < frames => {
                let more = longest - stay.shortest;
                let span = more.div_ceil(GROUPS).max(1);
                (more.div_ceil(span), span)
            }
            _ => (0, usize::MAX),
        };
        // What may last for ever may be ripe a little early.
        let stride = if groups > 0 {
            1
        } else {
            (stay.shortest / WAITS).max(1)
        };
        Self {
            at,
            groups,
            span,
            left: span,
            oldest: 0,
            waits: stay.shortest / stride - 1,
            stride,
            next: 1,
            due: 0,
        }
    }

    /// Rows that it takes.
    pub fn rows(&self) -> usize {
        1 + self.groups + self.waiting()
    }

    /// Rows of what waits, and where more frames than one share a row, of what is ripe.
    fn waiting(&self) -> usize {
        self.waits + usize::from(self.stride > 1)
    }

    /// Forgets all.
    pub fn reset(&mut self) {
        (self.left, self.oldest) = (self.span, 0);
        (self.next, self.due) = (1, 0);
    }

    /// What is ripe of the rows of what waits, which `begun` joins.
    #[inline(always)]
    fn ripe<T: Copy>(&self, waiting: &mut [T], each: usize, begun: T) -> T {
        if self.next > 1 {
            return waiting[self.waits * each];
        }
        let ripe = std::mem::replace(&mut waiting[self.due * each], begun);
        if self.stride > 1 {
            waiting[self.waits * each] = ripe;
        }
        ripe
    }

    /// The rows' registers, `each` to a row.
    #[inline(always)]
    pub fn of<'a, T>(&self, rows: &'a mut [T], each: usize) -> &'a mut [T] {
        &mut rows[self.at * each..][..self.rows() * each]
    }

    /// Goes on by a frame of cost `bound`, which what has come by `entered` may begin with: the least after
    /// it in the state, and the least of what is ripe.
    #[inline(always)]
    pub fn forwards<S: Simd>(
        &self,
        simd: S,
        rows: &mut [S::f32s],
        each: usize,
        entered: S::f32s,
        bound: S::f32s,
    ) -> (S::f32s, S::f32s) {
        let mut young = simd.add_f32s(simd.min_f32s(rows[0], entered), bound);
        rows[0] = young;
        for group in 1..=self.groups {
            let row = &mut rows[group * each];
            *row = simd.add_f32s(*row, bound);
            young = simd.min_f32s(young, *row);
        }
        if self.waits == 0 {
            return (young, young);
        }
        let waiting = &mut rows[(1 + self.groups) * each..];
        for wait in 0..self.waiting() {
            let row = &mut waiting[wait * each];
            *row = simd.add_f32s(*row, bound);
        }
        let ripe = self.ripe(waiting, each, young);
        (simd.min_f32s(young, ripe), ripe)
    }

    /// Goes back by a frame of cost `bound`, after which the state may be left for `leave` once ripe and for
    /// `broken` before: the least after it when in the state, and the least from it on when entered.
    #[inline(always)]
    pub fn backwards<S: Simd>(
        &self,
        simd: S,
        rows: &mut [S::f32s],
        each: usize,
        (leave, broken): (S::f32s, S::f32s),
        bound: S::f32s,
    ) -> (S::f32s, S::f32s) {
        let mut rest = simd.min_f32s(rows[0], leave);
        rows[0] = simd.add_f32s(rest, bound);
        for group in 1..=self.groups {
            let row = &mut rows[group * each];
            rest = simd.min_f32s(rest, *row);
            *row = simd.add_f32s(*row, bound);
        }
        let begun = simd.add_f32s(rest, bound);
        if self.waits == 0 {
            return (rest, begun);
        }
        let waiting = &mut rows[(1 + self.groups) * each..];
        if self.stride == 1 {
            rest = simd.min_f32s(rest, waiting[self.due * each]);
        }
        for wait in 0..self.waiting() {
            let row = &mut waiting[wait * each];
            *row = simd.add_f32s(simd.min_f32s(*row, broken), bound);
        }
        (rest, self.ripe(waiting, each, begun))
    }

    /// After every frame.
    #[inline(always)]
    pub fn tick<T: Copy>(&mut self, rows: &mut [T], each: usize, never: T) {
        self.next -= 1;
        if self.next == 0 {
            self.next = self.stride;
            self.due += 1;
            if self.due >= self.waits {
                self.due = 0;
            }
        }
        if self.groups == 0 {
            return;
        }
        self.left -= 1;
        if self.left == 0 {
            self.left = self.span;
            let oldest = (1 + self.oldest) * each;
            rows.copy_within(..each, oldest);
            rows[..each].fill(never);
            self.oldest = (self.oldest + 1) % self.groups;
        }
    }
}

//! The least that words can cost over all frames of a step.

use crate::{
    least::Bodies,
    roles::{Assignment, MOST},
    tables::keep_least,
    templates::Templates,
};
use pulp::{Arch, Simd, WithSimd};
use std::ops::Range;

/// Least cost of every body over the frames of a template, per query frame: summed over roles, a lower
/// bound on what a word can cost at a frame, whatever the warp.
pub struct Bounds<'a> {
    bodies: Bodies<'a>,
    frames: usize,
    templates: usize,
    /// `[body][template][frame]`.
    table: Vec<f32>,
    nobody: Vec<f32>,
}

impl<'a> Bounds<'a> {
    /// Takes minima over each template's frames. The numbers are laid out in `table`, whatever it holds: it is
    /// large, and fresh memory is dear.
    pub fn new(
        bodies: Bodies<'a>,
        templates: &Templates,
        frames: usize,
        mut table: Vec<f32>,
    ) -> Self {
        let count = templates.list.len();
        table.resize(bodies.len() * count * frames, 0.0);
        for (body, table) in table.chunks_exact_mut(count * frames).enumerate() {
            for (t, out) in templates.list.iter().zip(table.chunks_exact_mut(frames)) {
                bodies.least(body, t.first..t.first + t.len, 0..frames, out);
            }
        }
        Self {
            frames,
            templates: count,
            nobody: vec![bodies.nobody(); frames],
            bodies,
            table,
        }
    }

    /// The memory of the table, for the next.
    pub fn take_table(&mut self) -> Vec<f32> {
        std::mem::take(&mut self.table)
    }

    /// The bodies.
    pub fn bodies(&self) -> &Bodies<'a> {
        &self.bodies
    }

    /// Number of query frames.
    pub fn frames(&self) -> usize {
        self.frames
    }

    /// Adds up the least costs of a word in some query frames.
    pub fn word(
        &self,
        hand: usize,
        assignment: &Assignment,
        template: usize,
        frames: Range<usize>,
        out: &mut [f32],
    ) {
        let ball = self.row(self.bodies.ball(hand), template);
        let roles = assignment.iter().enumerate();
        let roles = roles.map(|(role, player)| match player {
            Some(player) => self.row(self.bodies.player(hand, role, *player), template),
            None => &self.nobody,
        });
        let mut rows = [&[][..]; MOST + 1];
        let all = 1 + assignment.len();
        for (of, row) in rows.iter_mut().zip([ball].into_iter().chain(roles)) {
            *of = &row[frames.clone()];
        }
        sum_rows(&rows[..all], out);
    }

    /// Least cost of a body over a template, per query frame.
    pub fn row(&self, body: usize, template: usize) -> &[f32] {
        &self.table[(body * self.templates + template) * self.frames..][..self.frames]
    }
}

/// Writes the sums of at least one row, added in their order.
pub(crate) fn sum_rows(rows: &[&[f32]], out: &mut [f32]) {
    Arch::new().dispatch(Sum { rows, out });
}

struct Sum<'a> {
    rows: &'a [&'a [f32]],
    out: &'a mut [f32],
}

impl WithSimd for Sum<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        let Some((first, more)) = self.rows.split_first() else {
            return;
        };
        self.out.copy_from_slice(first);
        for row in more {
            for (sum, more) in self.out.iter_mut().zip(*row) {
                *sum += more;
            }
        }
    }
}

/// Adds a row to the first.
pub(crate) fn add(sum: &mut [f32], more: &[f32]) {
    Arch::new().dispatch(Add { sum, more });
}

struct Add<'a> {
    sum: &'a mut [f32],
    more: &'a [f32],
}

impl WithSimd for Add<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        for (sum, more) in self.sum.iter_mut().zip(self.more) {
            *sum += more;
        }
    }
}

/// Keeps the lesser of two rows in the first.
pub(crate) fn lessen(least: &mut [f32], other: &[f32]) {
    Arch::new().dispatch(Lessen { least, other });
}

struct Lessen<'a> {
    least: &'a mut [f32],
    other: &'a [f32],
}

impl WithSimd for Lessen<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        keep_least(self.least, self.other);
    }
}

//! The least that words can cost over all frames of a step.

use crate::{least::Bodies, roles::Assignment, tables::keep_least, templates::Templates};
use pulp::{Arch, Simd, WithSimd};
use std::ops::Range;

/// Least cost of every body over the frames of a template, per query frame: summed over roles, a lower
/// bound on what a word can cost at a frame, whatever the warp.
pub struct Bounds<'a> {
    bodies: Bodies<'a>,
    frames: usize,
    roles: usize,
    templates: usize,
    /// `[body][template][frame]`.
    table: Vec<f32>,
    /// `[hand][template][role][frame]`: least cost of this and all later roles, whoever has them.
    open: Vec<f32>,
    nobody: Vec<f32>,
}

/// Memory of the tables.
#[derive(Default)]
pub struct Kept {
    table: Vec<f32>,
    open: Vec<f32>,
}

impl<'a> Bounds<'a> {
    /// Takes minima over each template's frames; `players` is how many there are for the roles. The
    /// numbers are laid out in `kept`, whatever it holds: it is large, and fresh memory is dear.
    pub fn new(
        bodies: Bodies<'a>,
        templates: &Templates,
        assignments: &[Assignment],
        frames: usize,
        kept: Kept,
    ) -> Self {
        let Kept { mut table, open } = kept;
        let count = templates.list.len();
        table.resize(bodies.len() * count * frames, 0.0);
        for (body, table) in table.chunks_exact_mut(count * frames).enumerate() {
            for (t, out) in templates.list.iter().zip(table.chunks_exact_mut(frames)) {
                bodies.least(body, t.first..t.first + t.len, 0..frames, out);
            }
        }
        let mut bounds = Self {
            frames,
            roles: assignments.first().map_or(0, Vec::len),
            templates: count,
            nobody: vec![bodies.nobody(); frames],
            bodies,
            table,
            open,
        };
        bounds.lay_out_open(assignments);
        bounds
    }

    fn lay_out_open(&mut self, assignments: &[Assignment]) {
        let (roles, frames) = (self.roles, self.frames);
        let mut open = std::mem::take(&mut self.open);
        open.resize(2 * self.templates * (roles + 1) * frames, 0.0);
        // The first role is never open.
        let mut who = vec![Vec::new(); roles];
        for (role, who) in who.iter_mut().enumerate().skip(1) {
            who.extend(assignments.iter().map(|a| a[role]));
            who.sort_unstable();
            who.dedup();
        }
        let words = open.chunks_exact_mut((roles + 1) * frames);
        for (word, open) in words.enumerate() {
            let (hand, template) = (word / self.templates, word % self.templates);
            open[roles * frames..].fill(0.0);
            for role in (1..roles).rev() {
                let (here, later) = open[role * frames..].split_at_mut(frames);
                here.fill(f32::INFINITY);
                for player in &who[role] {
                    let other = self.body(hand, role, *player, template);
                    Arch::new().dispatch(Lessen { least: here, other });
                }
                add(here, &later[..frames]);
            }
        }
        self.open = open;
    }

    /// The memory of the tables, for the next.
    pub fn take_tables(&mut self) -> Kept {
        Kept {
            table: std::mem::take(&mut self.table),
            open: std::mem::take(&mut self.open),
        }
    }

    /// The bodies.
    pub fn bodies(&self) -> &Bodies<'a> {
        &self.bodies
    }

    /// Number of roles.
    pub fn roles(&self) -> usize {
        self.roles
    }

    /// Least cost of the ball, per query frame.
    pub fn ball(&self, hand: usize, template: usize) -> &[f32] {
        self.row(self.bodies.ball(hand), template)
    }

    /// Least cost of a role under a player, per query frame.
    pub fn body(&self, hand: usize, role: usize, player: Option<usize>, template: usize) -> &[f32] {
        match player {
            Some(player) => self.row(self.bodies.player(hand, role, player), template),
            None => &self.nobody,
        }
    }

    /// Least cost of a role and all later ones, whoever has them, per query frame; not of the first.
    pub fn open(&self, hand: usize, role: usize, template: usize) -> &[f32] {
        let word = hand * self.templates + template;
        &self.open[(word * (self.roles + 1) + role) * self.frames..][..self.frames]
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
        out.copy_from_slice(&self.ball(hand, template)[frames.clone()]);
        for (role, player) in assignment.iter().enumerate() {
            add(
                out,
                &self.body(hand, role, *player, template)[frames.clone()],
            );
        }
    }

    fn row(&self, body: usize, template: usize) -> &[f32] {
        &self.table[(body * self.templates + template) * self.frames..][..self.frames]
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

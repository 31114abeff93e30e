//! The least that words can cost over parts of a step, worked out for the words that are asked for.

use crate::{
    bounds::sum_rows,
    least::Bodies,
    parts::Stay,
    roles::{Assignment, MOST},
    tables::room,
    templates::Templates,
};
use std::ops::Range;

/// How templates are cut into parts.
pub struct Cuts {
    /// Per template, the reference frames within it of each part.
    parts: Vec<Vec<Range<usize>>>,
    /// Per template and part, how long it lasts.
    stays: Vec<Vec<Stay>>,
}

/// Most parts that a template is cut into.
const PARTS: usize = 8;

/// Cuts a template of `len` rows into parts that the fastest tempo cannot leap over.
fn parts(len: usize, fastest: usize) -> Vec<Range<usize>> {
    let count = (len / fastest).clamp(1, PARTS);
    let cut = |i: usize| i * len / count;
    (0..count).map(|i| cut(i)..cut(i + 1)).collect()
}

/// How long each part of a template lasts: its first row is never leapt over, nor the next template's, so
/// only a template that is one part takes as many frames as all its rows need; at its end one may wait.
fn stays(parts: &[Range<usize>], fastest: usize, slowest: usize) -> Vec<Stay> {
    let last = parts.len() - 1;
    let stay = |(index, part): (usize, &Range<usize>)| Stay {
        shortest: match parts.len() {
            1 => part.len().div_ceil(fastest).max(1),
            _ => part.len() / fastest,
        },
        longest: (index < last).then_some(part.len() * slowest),
    };
    parts.iter().enumerate().map(stay).collect()
}

impl Cuts {
    /// Cuts all templates; no more than `fastest` rows are taken in one frame, and no row lasts more than
    /// `slowest` but the last.
    pub fn new(templates: &Templates, fastest: usize, slowest: usize) -> Self {
        let lens = templates.list.iter().map(|t| t.len);
        let parts: Vec<_> = lens.map(|len| parts(len, fastest)).collect();
        Self {
            stays: parts.iter().map(|p| stays(p, fastest, slowest)).collect(),
            parts,
        }
    }

    /// The reference frames, within a template, of each of its parts.
    pub fn parts(&self, template: usize) -> &[Range<usize>] {
        &self.parts[template]
    }

    /// How long each part of a template lasts.
    pub fn stays(&self, template: usize) -> &[Stay] {
        &self.stays[template]
    }
}

/// Least costs over the parts of templates in some query frames; those of a body and a template are
/// worked out when they are first asked for.
pub struct Finer<'a> {
    bodies: &'a Bodies<'a>,
    templates: &'a Templates,
    cuts: &'a Cuts,
    frames: Range<usize>,
    /// `[body][template]`: where its rows begin.
    at: Vec<Option<usize>>,
    /// Rows of query frames, one for each part.
    rows: &'a mut Vec<f32>,
    used: usize,
    nobody: Vec<f32>,
}

impl<'a> Finer<'a> {
    /// Of the query frames `frames`; `rows` is memory to work in.
    pub fn new(
        bodies: &'a Bodies<'a>,
        templates: &'a Templates,
        cuts: &'a Cuts,
        frames: Range<usize>,
        rows: &'a mut Vec<f32>,
    ) -> Self {
        Self {
            at: vec![None; bodies.len() * templates.list.len()],
            nobody: vec![bodies.nobody(); frames.len()],
            bodies,
            templates,
            cuts,
            frames,
            rows,
            used: 0,
        }
    }

    /// Adds up the least costs of a part of a word in some of the frames, counted from their first.
    pub fn part(
        &mut self,
        hand: usize,
        assignment: &Assignment,
        (template, part): (usize, usize),
        frames: Range<usize>,
        out: &mut [f32],
    ) {
        let ball = self.bodies.ball(hand);
        let mut rows = [None; MOST + 1];
        rows[0] = Some(self.row(ball, template, part));
        for (role, (row, player)) in rows[1..].iter_mut().zip(assignment).enumerate() {
            let body = player.map(|player| self.bodies.player(hand, role, player));
            *row = body.map(|body| self.row(body, template, part));
        }
        let n = self.frames.len();
        let rows = rows.map(|at| match at {
            Some(at) => &self.rows[at..][..n][frames.clone()],
            None => &self.nobody[frames.clone()],
        });
        sum_rows(&rows[..=assignment.len()], out);
    }

    /// Where the row of a body, a template and a part is.
    fn row(&mut self, body: usize, template: usize, part: usize) -> usize {
        let n = self.frames.len();
        let place = body * self.templates.list.len() + template;
        let at = self.at[place].unwrap_or_else(|| {
            let first = self.templates.list[template].first;
            let at = self.used;
            let parts = self.cuts.parts(template);
            self.used += parts.len() * n;
            let all = room(self.rows, self.used);
            for (rows, out) in parts.iter().zip(all[at..].chunks_exact_mut(n)) {
                let rows = first + rows.start..first + rows.end;
                self.bodies.least(body, rows, self.frames.clone(), out);
            }
            at
        });
        self.at[place] = Some(at);
        at + part * n
    }
}

//! The least that words can cost over groups of query frames, templates side by side: a quarter of the
//! numbers of [`crate::bounds`], and a little less than they say.

use crate::{
    bounds::{Bounds, add, lessen},
    parts::LANES,
    roles::{Assignment, MOST},
    tables::room,
    templates::Templates,
};
use std::ops::Range;

/// Query frames to a group. Groups of a possession begin at its first frame.
pub const GROUP: usize = 4;

/// Which template has which lane: those that last alike side by side.
pub struct Lanes {
    /// `[block][lane]`: the template there.
    templates: Vec<Option<usize>>,
    /// Per template, which of `templates` it is.
    at: Vec<usize>,
}

impl Lanes {
    /// Of templates whose words last at least so many frames each.
    pub fn new(shortest: &[usize]) -> Self {
        let mut order: Vec<usize> = (0..shortest.len()).collect();
        order.sort_by_key(|template| (shortest[*template], *template));
        let mut at = vec![0; order.len()];
        for (place, template) in order.iter().enumerate() {
            at[*template] = place;
        }
        let mut templates: Vec<Option<usize>> = order.into_iter().map(Some).collect();
        templates.resize(templates.len().next_multiple_of(LANES), None);
        Self { templates, at }
    }

    /// Blocks of [`LANES`].
    pub fn blocks(&self) -> usize {
        self.templates.len() / LANES
    }

    /// The templates of a block.
    pub fn of(&self, block: usize) -> &[Option<usize>] {
        &self.templates[block * LANES..][..LANES]
    }

    /// A template's place: the block, and which of its lanes.
    pub fn place(&self, template: usize) -> (usize, usize) {
        (self.at[template] / LANES, self.at[template] % LANES)
    }
}

/// Least cost of a body in any frame of a group, for all templates. Rows are `[group][lane]`.
pub struct Coarse {
    /// Where each template is.
    pub lanes: Lanes,
    groups: usize,
    /// `[body][block][group][lane]`.
    table: Vec<f32>,
    /// `[which][block][group][lane]`: least cost of all roles that are still open, whoever has them.
    open: Vec<f32>,
    /// `[hand][roles filled][who has them]`: which of `open`.
    which: Vec<Option<usize>>,
    nobody: Vec<f32>,
}

/// Memory of the tables.
#[derive(Default)]
pub struct Kept {
    table: Vec<f32>,
    open: Vec<f32>,
}

impl Coarse {
    /// Takes minima over each group of frames; templates last at least as many frames as `shortest` says.
    /// The numbers are laid out in `kept`, whatever it holds.
    pub fn new(
        bounds: &Bounds<'_>,
        templates: &Templates,
        assignments: &[Assignment],
        fastest: usize,
        kept: Kept,
    ) -> Self {
        let Kept { mut table, open } = kept;
        let each = templates.list.iter().map(|t| t.shortest(fastest));
        let lanes = Lanes::new(&each.collect::<Vec<_>>());
        let groups = bounds.frames().div_ceil(GROUP);
        let bodies = bounds.bodies();
        let block = groups * LANES;
        let blocks = lanes.blocks();
        let all = room(&mut table, bodies.len() * blocks * block);
        for (body, out) in all.chunks_exact_mut(blocks * block).enumerate() {
            for (place, template) in lanes.templates.iter().enumerate() {
                let out = &mut out[place / LANES * block..][..block];
                let out = out.iter_mut().skip(place % LANES).step_by(LANES);
                let Some(template) = template else {
                    out.for_each(|least| *least = 0.0);
                    continue;
                };
                let row = bounds.row(body, *template);
                let (whole, rest) = row.as_chunks::<GROUP>();
                let least = |frames: &[f32]| frames.iter().copied().fold(f32::INFINITY, f32::min);
                let whole = whole.iter().map(|frames| least(frames));
                let rest = (!rest.is_empty()).then(|| least(rest));
                for (out, least) in out.zip(whole.chain(rest)) {
                    *out = least;
                }
            }
        }
        let mut coarse = Self {
            lanes,
            groups,
            table,
            open,
            which: vec![None; (2 * (MOST + 1)) << MOST],
            nobody: vec![bodies.nobody(); blocks * block],
        };
        coarse.lay_out_open(bounds, assignments);
        coarse
    }

    fn lay_out_open(&mut self, bounds: &Bounds<'_>, assignments: &[Assignment]) {
        let roles = assignments.first().map_or(0, Vec::len);
        let row = self.lanes.blocks() * self.groups * LANES;
        let mut open = std::mem::take(&mut self.open);
        let mut least = vec![0.0; row];
        let mut used = 0;
        for hand in [0, 1] {
            for filled in 1..=roles {
                for some in assignments.chunk_by(|a, b| a[..filled] == b[..filled]) {
                    let which = &mut self.which[place(hand, &some[0][..filled])];
                    if which.is_some() {
                        continue;
                    }
                    *which = Some(used);
                    used += 1;
                    let sum = &mut room(&mut open, used * row)[(used - 1) * row..];
                    sum.fill(0.0);
                    for role in filled..roles {
                        let mut who: Vec<_> = some.iter().map(|a| a[role]).collect();
                        who.sort_unstable();
                        who.dedup();
                        least.fill(f32::INFINITY);
                        for player in who {
                            let body = player.map(|p| bounds.bodies().player(hand, role, p));
                            lessen(&mut least, self.all_of(body));
                        }
                        add(sum, &least);
                    }
                }
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

    /// Least cost of a body, or of a role that nobody has.
    pub fn body(&self, body: Option<usize>, block: usize, groups: Range<usize>) -> &[f32] {
        self.part(self.all_of(body), block, groups)
    }

    /// Least cost of all roles but the first, which some players have, whoever has those.
    pub fn open(
        &self,
        hand: usize,
        filled: &[Option<usize>],
        block: usize,
        groups: Range<usize>,
    ) -> &[f32] {
        let row = self.nobody.len();
        match self.which[place(hand, filled)] {
            Some(which) => self.part(&self.open[which * row..][..row], block, groups),
            None => &[],
        }
    }

    /// Of all blocks and groups.
    fn all_of(&self, body: Option<usize>) -> &[f32] {
        let row = self.nobody.len();
        body.map_or(&self.nobody, |body| &self.table[body * row..][..row])
    }

    fn part<'a>(&self, all: &'a [f32], block: usize, groups: Range<usize>) -> &'a [f32] {
        let first = block * self.groups;
        &all[(first + groups.start) * LANES..(first + groups.end) * LANES]
    }
}

/// Where it is kept which of the rows is that of some roles filled, each set of players once.
fn place(hand: usize, filled: &[Option<usize>]) -> usize {
    let players = filled.iter().flatten().map(|player| 1 << player);
    let set: usize = players.sum();
    ((hand * (MOST + 1) + filled.len()) << MOST) + set
}

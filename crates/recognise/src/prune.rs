//! Which words can be part of a best explanation at all. Exact: what is left out could be replaced
//! by off-script movement at no loss.
//!
//! Roles are filled one after another, for all templates under a hand together, each open role at the
//! least cost any player could have there (the per-frame relaxation of the assignment). What cannot be
//! worth its prices with the roles filled so far, given what is left to lead to it and to follow it
//! with the same, is given up with all the assignments that begin so.

use crate::{
    bounds::{Bounds, sum_rows},
    coarse::Coarse,
    decode::Key,
    gain::{Gain, LANES, Scan},
    links::Links,
    model::Hand,
    params::ValidParams,
    parts,
    roles::Assignment,
    rough::{self, Block, Gains, Groups, ROWS},
    templates::{Kind, Templates},
};
use std::ops::Range;

/// Rounding may put a bound this much above the cost it bounds.
const SLACK: f32 = 1e-3;

/// Roles filled last, all at once.
pub const TOGETHER: usize = ROWS - 1;

/// A total with room for sums in another order, which differ by rounding.
pub fn at_most(total: f32) -> f32 {
    total * (1.0 + 1e-4) + SLACK
}

/// The stretch to explain.
#[derive(Debug, Clone)]
pub struct Stretch {
    /// Query frames.
    pub frames: Range<usize>,
    /// Whether it lies inside a possession: then beginning and ending in the middle of a word is
    /// free.
    pub inside: bool,
}

/// Words that can matter.
#[derive(Default)]
pub struct Survivors {
    /// In ascending order.
    pub keys: Vec<Key>,
    /// What each can gain.
    pub gains: Vec<Gain>,
    /// How many partial and full assignments were looked at.
    pub looked: usize,
}

/// What survivors are looked for among.
pub struct Candidates<'a> {
    /// Least costs.
    pub bounds: &'a Bounds<'a>,
    /// The same over groups of frames.
    pub coarse: &'a Coarse,
    /// The references.
    pub templates: &'a Templates,
    /// Sorted, so that those that begin alike stand together.
    pub assignments: &'a [Assignment],
    /// Per assignment, whether it gives someone a role that the roster does not.
    pub off_roster: &'a [bool],
    /// Settings.
    pub params: &'a ValidParams,
    /// So many roles are filled last, all at once: 1 to [`TOGETHER`].
    pub together: usize,
}

impl Candidates<'_> {
    /// Leaves out the words that cannot matter to the stretch, whatever the others.
    pub fn survivors(&self, stretch: &Stretch, allowed: &dyn Fn(usize) -> bool) -> Survivors {
        let links = Links::new(self.templates, self.params, stretch.inside, allowed);
        let lanes = &self.coarse.lanes;
        let block = |block: usize| {
            let shortest = |template: usize| self.shortest(template);
            Block::new(lanes, block, shortest, |template| links.least(template))
        };
        let roles = self.assignments.first().map_or(0, Vec::len);
        let depth = roles.saturating_sub(self.together) + 1;
        let groups = Groups::of(&stretch.frames);
        let row = groups.range.len() * parts::LANES;
        let mut tree = Tree {
            words: self,
            blocks: (0..lanes.blocks()).map(block).collect(),
            inside: stretch.inside,
            partial: vec![vec![0.0; lanes.blocks() * row]; depth],
            block: Gains::default(),
            gains: vec![Gain::default(); self.templates.list.len()],
            links,
            groups,
            roles,
            scanned: Vec::new(),
            looked: 0,
            found: vec![Vec::new(); self.templates.list.len()],
        };
        let mut live: Vec<usize> = (0..self.templates.list.len())
            .filter(|template| allowed(*template))
            .collect();
        live.sort_by_key(|template| lanes.place(*template));
        for hand in [Hand::Right, Hand::Left] {
            let ball = Some(self.bounds.bodies().ball(hand as usize));
            for (block, out) in tree.partial[0].chunks_exact_mut(row).enumerate() {
                out.copy_from_slice(self.coarse.body(ball, block, tree.groups.range.clone()));
            }
            tree.descend(hand, 0, 0..self.assignments.len(), &live);
        }
        let (keys, gains) = self.matter(&tree.found, &tree.links, stretch);
        Survivors {
            keys,
            gains,
            looked: tree.looked,
        }
    }

    fn shortest(&self, template: usize) -> usize {
        self.templates.list[template].shortest(self.params.fastest as usize)
    }

    /// What assignments pay at least and at most for roles that the roster does not give.
    fn roster(&self, range: &Range<usize>) -> Range<f64> {
        let off = &self.off_roster[range.clone()];
        let price = |off: bool| if off { self.params.off_roster } else { 0.0 };
        price(off.iter().all(|off| *off))..price(off.contains(&true))
    }

    /// Least cost of a role under an assignment, for a block of templates.
    fn body(
        &self,
        hand: Hand,
        role: usize,
        assignment: usize,
        block: usize,
        groups: Range<usize>,
    ) -> &[f32] {
        let bodies = self.bounds.bodies();
        let player = self.assignments[assignment][role];
        let body = player.map(|player| bodies.player(hand as usize, role, player));
        self.coarse.body(body, block, groups)
    }

    /// Which of these words, per template, could matter whatever is left, looked at frame by frame, and what
    /// they can gain.
    fn matter(
        &self,
        words: &[Vec<Key>],
        links: &Links,
        stretch: &Stretch,
    ) -> (Vec<Key>, Vec<Gain>) {
        let n = stretch.frames.len();
        let mut rows = vec![0.0; LANES * n];
        let mut scanned = Vec::new();
        let mut left = Vec::new();
        for (template, same) in words.iter().enumerate() {
            let prices = links.least(template);
            for some in same.chunks(LANES) {
                for (key, row) in some.iter().zip(rows.chunks_exact_mut(n)) {
                    let assignment = &self.assignments[key.assignment];
                    let (hand, frames) = (key.hand as usize, stretch.frames.clone());
                    self.bounds.word(hand, assignment, template, frames, row);
                }
                let gains = Scan {
                    rows: &rows,
                    scanned: &mut scanned,
                    off: self.params.off_script as f32,
                    shortest: self.shortest(template),
                }
                .gains();
                let gains = some.iter().copied().zip(gains);
                left.extend(gains.filter(|(_, gain)| gain.matters(&prices)));
            }
        }
        left.into_iter().unzip()
    }
}

/// Price of beginning a template's word afresh, whoever has the roles.
pub fn entry(templates: &Templates, params: &ValidParams, template: usize) -> f64 {
    match templates.list[template].kind {
        Kind::Set(_) => params.entry_set,
        Kind::Step(_) if templates.begins[template] => params.entry,
        Kind::Step(_) => params.entry_mid_series,
    }
}

/// The search over the assignments under one hand, for all templates together.
struct Tree<'a> {
    words: &'a Candidates<'a>,
    links: Links,
    /// The templates in blocks.
    blocks: Vec<Block>,
    groups: Groups,
    inside: bool,
    roles: usize,
    /// `[roles filled][block][group][lane]`: cost of the ball and the roles filled.
    partial: Vec<Vec<f32>>,
    /// Of the block looked at.
    block: Gains,
    /// Per template, under the assignment looked at.
    gains: Vec<Gain>,
    scanned: Vec<f32>,
    looked: usize,
    /// Per template, in ascending order.
    found: Vec<Vec<Key>>,
}

impl Tree<'_> {
    /// Fills one more role, or all that are left, of the assignments in `range`, which have all roles before
    /// it alike; `live` are the templates that could matter with them, as they stand in blocks.
    fn descend(&mut self, hand: Hand, role: usize, range: Range<usize>, live: &[usize]) {
        let last = role + self.words.together >= self.roles;
        let alike = |a: &Assignment, b: &Assignment| !last && a[role] == b[role];
        let mut from = range.start;
        let edges = self.links.among(live);
        let mut left = Vec::new();
        for child in self.words.assignments[range].chunk_by(alike) {
            let range = from..from + child.len();
            from = range.end;
            self.look(hand, role, last, &range, live, &mut left);
            let roster = self.words.roster(&range);
            self.links.retain(&mut left, &edges, &self.gains, roster);
            if last {
                for template in &left {
                    self.found[*template].push(Key {
                        template: *template,
                        hand,
                        assignment: range.start,
                    });
                }
            } else if !left.is_empty() {
                self.fill(hand, role, range.start, &left);
                self.descend(hand, role + 1, range, &left);
            }
        }
    }

    /// Finds the templates that could matter under assignments that begin alike up to a role, or are one.
    fn look(
        &mut self,
        hand: Hand,
        role: usize,
        last: bool,
        range: &Range<usize>,
        live: &[usize],
        left: &mut Vec<usize>,
    ) {
        left.clear();
        self.looked += live.len();
        let words = self.words;
        let place = |template: usize| words.coarse.lanes.place(template);
        let row = self.row();
        for some in live.chunk_by(|a, b| place(*a).0 == place(*b).0) {
            let block = place(some[0]).0;
            let groups = self.groups.range.clone();
            let assignment = &words.assignments[range.start];
            let open = |filled: usize| {
                let filled = &assignment[..filled];
                words
                    .coarse
                    .open(hand as usize, filled, block, groups.clone())
            };
            let body = |role: usize| match role < self.roles {
                true => words.body(hand, role, range.start, block, groups.clone()),
                false => open(self.roles),
            };
            let [second, third] = match last {
                true => [body(role + 1), body(role + 2)],
                false => [open(role + 1), open(self.roles)],
            };
            let partial = &self.partial[role][block * row..][..row];
            rough::Scan {
                rows: [partial, body(role), second, third],
                groups: &self.groups,
                block: &self.blocks[block],
                off: words.params.off_script as f32,
                inside: self.inside,
                scanned: &mut self.scanned,
                gains: &mut self.block,
            }
            .run();
            for template in some {
                let lane = place(*template).1;
                if self.block.matters(lane) {
                    self.gains[*template] = self.block.of(lane);
                    left.push(*template);
                }
            }
        }
    }

    /// Numbers in a row of a block.
    fn row(&self) -> usize {
        self.groups.range.len() * parts::LANES
    }

    /// Adds what a role costs to what those before it do.
    fn fill(&mut self, hand: Hand, role: usize, assignment: usize, left: &[usize]) {
        let (words, row) = (self.words, self.row());
        let block = |template: &usize| words.coarse.lanes.place(*template).0;
        let (before, after) = self.partial.split_at_mut(role + 1);
        for some in left.chunk_by(|a, b| block(a) == block(b)) {
            let block = block(&some[0]);
            let at = block * row..(block + 1) * row;
            let groups = self.groups.range.clone();
            let body = words.body(hand, role, assignment, block, groups);
            sum_rows(&[&before[role][at.clone()], body], &mut after[0][at]);
        }
    }
}

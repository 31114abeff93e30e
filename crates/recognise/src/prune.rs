//! Which words can be part of a best explanation at all. Exact: what is left out could be replaced
//! by off-script movement at no loss.
//!
//! First by roles, one after another: a template under a hand is tried with more and more of its
//! roles filled, each open role at the least cost any player could have there (the per-frame
//! relaxation of the assignment), and given up with all the assignments that begin so. Then by what
//! is left to come before and after: a word that nothing left leads to must be worth its entry.

use crate::{
    bounds::Bounds,
    decode::Key,
    gain::{Gain, LANES, Prices, Scan},
    model::Hand,
    params::ValidParams,
    roles::Assignment,
    templates::{Kind, Templates},
};
use pulp::{Arch, Simd, WithSimd};
use std::ops::Range;

/// Rounding may put a bound this much above the cost it bounds.
const SLACK: f32 = 1e-3;

/// Roles filled last, whose bounds are looked at for all at once.
const TOGETHER: usize = 3;

/// Room for all who may fill a role, and nobody.
const SIBLINGS: usize = 8;
const _: () = assert!(crate::roles::MOST < SIBLINGS);

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
pub struct Survivors {
    /// In ascending order.
    pub keys: Vec<Key>,
    /// `[key][frame of the stretch]`: at least so much a word costs there.
    pub bounds: Vec<f32>,
    /// What each can gain.
    pub gains: Vec<Gain>,
    /// How many partial and full assignments were looked at.
    pub looked: usize,
}

/// Leaves out the words that cannot matter to the stretch, whatever the others.
pub fn survivors(
    bounds: &Bounds,
    templates: &Templates,
    assignments: &[Assignment],
    params: &ValidParams,
    stretch: &Stretch,
    allowed: &dyn Fn(usize) -> bool,
) -> Survivors {
    let frames = stretch.frames.len();
    let mut tree = Tree {
        bounds,
        assignments,
        stretch,
        off: params.off_script as f32,
        shortest: 0,
        prices: Prices::default(),
        short: assignments.iter().any(|a| a.contains(&None)),
        open: vec![vec![0.0; frames]; bounds.roles() + 1],
        partial: vec![vec![0.0; frames]; bounds.roles() + 1],
        sum: vec![0.0; frames],
        siblings: vec![[0.0; SIBLINGS]; frames],
        waiting: Vec::with_capacity(LANES),
        tile: vec![[0.0; LANES]; frames],
        found: Survivors {
            keys: Vec::new(),
            bounds: Vec::new(),
            gains: Vec::new(),
            looked: 0,
        },
    };
    for (template, t) in templates.list.iter().enumerate() {
        if !allowed(template) {
            continue;
        }
        tree.shortest = t.len.div_ceil(params.fastest as usize).max(1);
        tree.prices = prices(templates, params, template, stretch.inside);
        for hand in [Hand::Right, Hand::Left] {
            tree.start(template, hand);
            tree.descend(template, hand, 0, 0..assignments.len());
            tree.flush(template, hand);
        }
    }
    tree.found
}

/// Writes the sums of two rows.
fn add_rows(a: &[f32], b: &[f32], out: &mut [f32]) {
    Arch::new().dispatch(AddRows { a, b, out });
}

struct AddRows<'a> {
    a: &'a [f32],
    b: &'a [f32],
    out: &'a mut [f32],
}

impl WithSimd for AddRows<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        for ((out, a), b) in self.out.iter_mut().zip(self.a).zip(self.b) {
            *out = a + b;
        }
    }
}

/// Keeps the lesser of two rows in the first.
fn keep_least(least: &mut [f32], other: &[f32]) {
    Arch::new().dispatch(KeepLeast { least, other });
}

struct KeepLeast<'a> {
    least: &'a mut [f32],
    other: &'a [f32],
}

impl WithSimd for KeepLeast<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        crate::relax::keep_least(self.least, self.other);
    }
}

/// What a template's words pay, with everything the grammar allows before and after.
pub fn prices(
    templates: &Templates,
    params: &ValidParams,
    template: usize,
    inside: bool,
) -> Prices {
    let links = || templates.links.iter();
    let saved = links()
        .filter(|l| l.from == template)
        .map(|l| entry(templates, params, l.to) + params.off_roster)
        .fold(0.0, f64::max);
    Prices {
        entry: entry(templates, params, template) as f32,
        follows: links().any(|l| l.to == template),
        break_off: match templates.list[template].kind {
            Kind::Step(_) => params.break_off as f32,
            Kind::Set(_) => f32::INFINITY,
        },
        saved: saved as f32,
        inside,
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

/// The search over one template's assignments, which are sorted, so that those that begin alike
/// stand together.
struct Tree<'a> {
    bounds: &'a Bounds,
    assignments: &'a [Assignment],
    stretch: &'a Stretch,
    off: f32,
    shortest: usize,
    prices: Prices,
    /// Whether a role may be left without a player.
    short: bool,
    /// `open[role][t]`: least cost of this and all later roles, whoever has them.
    open: Vec<Vec<f32>>,
    /// `partial[roles filled][t]`.
    partial: Vec<Vec<f32>>,
    /// `[t]`: what a partial assignment costs at least.
    sum: Vec<f32>,
    /// `[t][player]`: the same with one more role filled.
    siblings: Vec<[f32; SIBLINGS]>,
    /// Full assignments to be looked at together.
    waiting: Vec<usize>,
    /// `[t][waiting]`: their least costs.
    tile: Vec<[f32; LANES]>,
    found: Survivors,
}

/// Assignments that go on with the same player in the role at hand.
#[derive(Debug, Clone, Copy, Default)]
struct Child {
    player: Option<usize>,
    from: usize,
    to: usize,
}

impl Tree<'_> {
    fn start(&mut self, template: usize, hand: Hand) {
        let frames = self.stretch.frames.clone();
        let roles = self.bounds.roles();
        self.partial[0].copy_from_slice(&self.bounds.ball(hand as usize, template)[frames.clone()]);
        let mut least = vec![f32::INFINITY; frames.len()];
        for role in (0..roles).rev() {
            least.fill(f32::INFINITY);
            let nobody = self.short.then_some(None);
            for player in (0..self.bounds.players()).map(Some).chain(nobody) {
                let row = self.bounds.body(hand as usize, role, player, template);
                keep_least(&mut least, &row[frames.clone()]);
            }
            let (here, later) = self.open.split_at_mut(role + 1);
            add_rows(&least, &later[0], &mut here[role]);
        }
    }

    fn descend(&mut self, template: usize, hand: Hand, role: usize, range: Range<usize>) {
        let roles = self.bounds.roles();
        let frames = self.stretch.frames.clone();
        let mut children = [Child::default(); SIBLINGS];
        let mut count = 0;
        let mut from = range.start;
        while from < range.end {
            let player = self.assignments[from][role];
            let same = self.assignments[from..range.end].partition_point(|a| a[role] == player);
            let to = from + same;
            children[count] = Child { player, from, to };
            (count, from) = (count + 1, to);
        }
        let children = &children[..count];
        let matters = if role + TOGETHER >= roles {
            [true; SIBLINGS]
        } else {
            self.can_matter(template, hand, role, children)
        };
        for (child, _) in children.iter().zip(matters).filter(|(_, matters)| *matters) {
            let row = self
                .bounds
                .body(hand as usize, role, child.player, template);
            let row = &row[frames.clone()];
            if role + 1 < roles {
                let (before, after) = self.partial.split_at_mut(role + 1);
                add_rows(&before[role], row, &mut after[0]);
                self.descend(template, hand, role + 1, child.from..child.to);
                continue;
            }
            // All roles are filled: it is one assignment.
            if self.waiting.len() == LANES {
                self.flush(template, hand);
            }
            let lane = self.waiting.len();
            self.waiting.push(child.from);
            let costs = self.partial[role].iter().zip(row);
            for (out, (before, cost)) in self.tile.iter_mut().zip(costs) {
                out[lane] = before + cost;
            }
        }
    }

    /// Whether a word could matter with one more role filled, by each of these players.
    fn can_matter(
        &mut self,
        template: usize,
        hand: Hand,
        role: usize,
        children: &[Child],
    ) -> [bool; SIBLINGS] {
        self.found.looked += children.len();
        let frames = self.stretch.frames.clone();
        add_rows(&self.partial[role], &self.open[role + 1], &mut self.sum);
        for (lane, Child { player, .. }) in children.iter().enumerate() {
            let row = &self.bounds.body(hand as usize, role, *player, template)[frames.clone()];
            for ((out, cost), sum) in self.siblings.iter_mut().zip(row).zip(&self.sum) {
                out[lane] = sum + cost;
            }
        }
        let scan = Scan {
            rows: &self.siblings,
            off: self.off,
            shortest: self.shortest,
        };
        scan.gains().map(|gain| gain.matters(&self.prices))
    }

    /// Looks at the assignments that wait, and keeps those that could matter.
    fn flush(&mut self, template: usize, hand: Hand) {
        self.found.looked += self.waiting.len();
        let scan = Scan {
            rows: &self.tile,
            off: self.off,
            shortest: self.shortest,
        };
        let gains = scan.gains();
        for (lane, (assignment, gain)) in self.waiting.drain(..).zip(gains).enumerate() {
            if gain.matters(&self.prices) {
                self.found.keys.push(Key {
                    template,
                    hand,
                    assignment,
                });
                self.found.gains.push(gain);
                let row = self.tile.iter().map(|row| row[lane]);
                self.found.bounds.extend(row);
            }
        }
    }
}

//! Which words can be part of a best explanation at all. Exact: what is left out could be replaced
//! by off-script movement at no loss.
//!
//! First by roles, one after another: a template under a hand is tried with more and more of its
//! roles filled, each open role at the least cost any player could have there (the per-frame
//! relaxation of the assignment), and given up with all the assignments that begin so. Then by what
//! is left to come before and after: a word that nothing left leads to must be worth its entry.

use crate::{
    cost::Bounds,
    decode::Key,
    gain::{Gain, LANES, Prices, Scan},
    model::Hand,
    params::ValidParams,
    roles::Assignment,
    templates::{Kind, Templates},
};
use std::ops::Range;

/// Rounding may put a bound this much above the cost it bounds.
const SLACK: f32 = 1e-3;

/// Roles filled last, whose bounds are looked at for all at once.
const TOGETHER: usize = 3;

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
        sum: vec![[0.0]; frames],
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
    sum: Vec<[f32; 1]>,
    /// Full assignments to be looked at together.
    waiting: Vec<usize>,
    /// `[t][waiting]`: their least costs.
    tile: Vec<[f32; LANES]>,
    found: Survivors,
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
                for (l, cost) in least.iter_mut().zip(&row[frames.clone()]) {
                    *l = if *cost < *l { *cost } else { *l };
                }
            }
            let (here, later) = self.open.split_at_mut(role + 1);
            for ((o, l), after) in here[role].iter_mut().zip(&least).zip(&later[0]) {
                *o = l + after;
            }
        }
    }

    fn descend(&mut self, template: usize, hand: Hand, role: usize, range: Range<usize>) {
        let roles = self.bounds.roles();
        if role == roles {
            for assignment in range {
                if self.waiting.len() == LANES {
                    self.flush(template, hand);
                }
                let lane = self.waiting.len();
                self.waiting.push(assignment);
                for (row, cost) in self.tile.iter_mut().zip(&self.partial[role]) {
                    row[lane] = *cost;
                }
            }
            return;
        }
        let mut from = range.start;
        while from < range.end {
            let player = self.assignments[from][role];
            let same = self.assignments[from..range.end].partition_point(|a| a[role] == player);
            let row = self.bounds.body(hand as usize, role, player, template);
            let row = &row[self.stretch.frames.clone()];
            let (before, after) = self.partial.split_at_mut(role + 1);
            for ((sum, p), cost) in after[0].iter_mut().zip(&before[role]).zip(row) {
                *sum = p + cost;
            }
            if role + TOGETHER >= roles || self.can_matter(role + 1) {
                self.descend(template, hand, role + 1, from..from + same);
            }
            from += same;
        }
    }

    /// Whether a word with so many of its roles filled could matter.
    fn can_matter(&mut self, filled: usize) -> bool {
        self.found.looked += 1;
        let (cost, more) = (&self.partial[filled], &self.open[filled]);
        for ((sum, cost), more) in self.sum.iter_mut().zip(cost).zip(more) {
            *sum = [cost + more];
        }
        let scan = Scan {
            rows: &self.sum,
            off: self.off,
            shortest: self.shortest,
        };
        let [gain] = scan.gains();
        gain.matters(&self.prices)
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

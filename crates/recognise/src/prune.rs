//! Which words can be part of a best explanation at all. Exact: what is left out could be replaced
//! by off-script movement, or by another explanation already found, at no loss.
//!
//! First by roles, one after another: a template under a hand is tried with more and more of its
//! roles filled, each open role at the least cost any player could have there (the per-frame
//! relaxation of the assignment), and given up with all the assignments that begin so.

use crate::{
    cost::Bounds, decode::Key, model::Hand, params::ValidParams, roles::Assignment,
    templates::Templates,
};
use std::ops::Range;

/// Rounding may put a bound this much above the cost it bounds.
const SLACK: f32 = 1e-3;

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
    /// How many partial assignments were looked at.
    pub looked: usize,
}

/// Leaves out the words that cannot matter to the stretch.
pub fn survivors(
    bounds: &Bounds,
    templates: &Templates,
    assignments: &[Assignment],
    params: &ValidParams,
    stretch: &Stretch,
    allowed: &dyn Fn(usize) -> bool,
) -> Survivors {
    let mut tree = Tree {
        bounds,
        assignments,
        stretch,
        params,
        shortest: 0,
        short: assignments.iter().any(|a| a.contains(&None)),
        open: Vec::new(),
        partial: vec![vec![0.0; stretch.frames.len()]; bounds.roles() + 1],
        found: Survivors {
            keys: Vec::new(),
            bounds: Vec::new(),
            looked: 0,
        },
    };
    for (template, t) in templates.list.iter().enumerate() {
        if !allowed(template) {
            continue;
        }
        tree.shortest = t.len.div_ceil(params.fastest as usize).max(1);
        for hand in [Hand::Right, Hand::Left] {
            tree.start(template, hand);
            tree.descend(template, hand, 0, 0..assignments.len());
        }
    }
    tree.found
}

/// The search over one template's assignments, which are sorted, so that those that begin alike
/// stand together.
struct Tree<'a> {
    bounds: &'a Bounds,
    assignments: &'a [Assignment],
    stretch: &'a Stretch,
    params: &'a ValidParams,
    shortest: usize,
    /// Whether a role may be left without a player.
    short: bool,
    /// `open[role][t]`: least cost of this and all later roles, whoever has them.
    open: Vec<Vec<f32>>,
    /// `partial[roles filled][t]`.
    partial: Vec<Vec<f32>>,
    found: Survivors,
}

impl Tree<'_> {
    fn start(&mut self, template: usize, hand: Hand) {
        let frames = self.stretch.frames.clone();
        let roles = self.bounds.roles();
        self.partial[0].copy_from_slice(&self.bounds.ball(hand as usize, template)[frames.clone()]);
        self.open = vec![vec![0.0; frames.len()]; roles + 1];
        for role in (0..roles).rev() {
            let mut least = vec![f32::INFINITY; frames.len()];
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
        if role == self.bounds.roles() {
            for assignment in range {
                self.found.keys.push(Key {
                    template,
                    hand,
                    assignment,
                });
                self.found.bounds.extend_from_slice(&self.partial[role]);
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
            self.found.looked += 1;
            if can_matter(
                &self.partial[role + 1],
                &self.open[role + 1],
                self.shortest,
                self.stretch.inside,
                self.params,
            ) {
                self.descend(template, hand, role + 1, from..from + same);
            }
            from += same;
        }
    }
}

/// Whether a word with at least these costs per frame could gain anything: passing through it may
/// cost, by the bound, no more than going off script for the time and entering its successor
/// afresh; breaking it off must gain more than the price of breaking.
fn can_matter(
    cost: &[f32],
    more: &[f32],
    shortest: usize,
    inside: bool,
    params: &ValidParams,
) -> bool {
    let off = params.off_script as f32;
    let bridge = (params.entry_mid_series.max(params.entry) + params.off_roster) as f32;
    let price = params.break_off as f32 - SLACK;
    let gain = |t: usize| off - cost[t] - more[t];
    // Kadane's scan for the best stretch, and a sliding window of the shortest full run.
    let (mut run, mut window) = (0.0_f32, 0.0_f32);
    for t in 0..cost.len() {
        let g = gain(t);
        run = (run + g).max(0.0);
        window += g;
        if t >= shortest {
            window -= gain(t - shortest);
        }
        if run > price || (t + 1 >= shortest && window > -bridge - SLACK) {
            return true;
        }
    }
    // What the stretch ends in costs nothing to leave.
    inside && run > 0.0
}

//! Which words can be part of a best explanation at all. Exact: what is left out could be replaced
//! by off-script movement at no loss.
//!
//! Roles are filled one after another, for all templates under a hand together, each open role at the
//! least cost any player could have there (the per-frame relaxation of the assignment). What cannot be
//! worth its prices with the roles filled so far, given what is left to lead to it and to follow it
//! with the same, is given up with all the assignments that begin so.

use crate::{
    bounds::Bounds,
    decode::Key,
    gain::{Gain, LANES, Scan},
    links::Links,
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
pub const TOGETHER: usize = 3;

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
        let (count, frames) = (self.templates.list.len(), stretch.frames.len());
        let depth = self.bounds.roles().saturating_sub(self.together) + 1;
        let live: Vec<usize> = (0..count).filter(|template| allowed(*template)).collect();
        let mut tree = Tree {
            words: self,
            links: Links::new(self.templates, self.params, stretch.inside, allowed),
            stretch,
            partial: vec![vec![0.0; count * frames]; depth],
            rows: vec![0.0; LANES * frames],
            gains: vec![vec![[Gain::default(); LANES]; count]; depth],
            scanned: Vec::new(),
            looked: 0,
            found: Vec::new(),
        };
        for hand in [Hand::Right, Hand::Left] {
            for template in &live {
                let ball = &self.bounds.ball(hand as usize, *template)[stretch.frames.clone()];
                tree.partial[0][template * frames..][..frames].copy_from_slice(ball);
            }
            tree.descend(hand, 0, 0..self.assignments.len(), &live);
        }
        tree.found.sort_unstable_by_key(|(key, _)| *key);
        let (keys, gains) = tree.found.into_iter().unzip();
        Survivors {
            keys,
            gains,
            looked: tree.looked,
        }
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
    stretch: &'a Stretch,
    /// `[roles filled][template][t]`: cost of the ball and the roles filled.
    partial: Vec<Vec<f32>>,
    /// `[lane][t]`: the least costs looked at together.
    rows: Vec<f32>,
    /// `[roles filled][template][lane]`.
    gains: Vec<Vec<[Gain; LANES]>>,
    scanned: Vec<[f32; LANES]>,
    looked: usize,
    found: Vec<(Key, Gain)>,
}

impl Tree<'_> {
    /// Fills one more role of the assignments in `range`, which have all roles before it alike;
    /// `live` are the templates that could matter with them.
    fn descend(&mut self, hand: Hand, role: usize, range: Range<usize>, live: &[usize]) {
        let roles = self.words.bounds.roles();
        if role + self.words.together >= roles {
            self.fill_last(hand, role, range, live);
            return;
        }
        let assignments = self.words.assignments;
        let children: Vec<&[Assignment]> = assignments[range.clone()]
            .chunk_by(|a, b| a[role] == b[role])
            .collect();
        for template in live {
            let rows = self.rows.chunks_exact_mut(self.stretch.frames.len());
            let open = self.words.bounds.open(hand as usize, role + 1, *template);
            for (child, row) in children.iter().zip(rows) {
                let player = child[0][role];
                let bounds = self.words.bounds;
                let body = bounds.body(hand as usize, role, player, *template);
                let frames = self.stretch.frames.clone();
                let n = frames.len();
                let before = &self.partial[role][template * n..][..n];
                add_rows([before, &open[frames.clone()], &body[frames]], row);
            }
            self.scan(role, *template, children.len());
        }
        let mut from = range.start;
        for (lane, child) in children.iter().enumerate() {
            let range = from..from + child.len();
            from = range.end;
            let left = self.left(role, lane, range.clone(), live);
            let (bounds, frames) = (self.words.bounds, self.stretch.frames.clone());
            let n = frames.len();
            let (before, after) = self.partial.split_at_mut(role + 1);
            for template in &left {
                let body = bounds.body(hand as usize, role, child[0][role], *template);
                let at = template * n..(template + 1) * n;
                add_rows(
                    [&before[role][at.clone()], &body[frames.clone()]],
                    &mut after[0][at],
                );
            }
            self.descend(hand, role + 1, range, &left);
        }
    }

    /// Fills all roles from one on.
    fn fill_last(&mut self, hand: Hand, role: usize, range: Range<usize>, live: &[usize]) {
        let assignments = self.words.assignments;
        let n = self.stretch.frames.len();
        for from in range.clone().step_by(LANES) {
            let some = from..range.end.min(from + LANES);
            for template in live {
                let rows = self.rows.chunks_exact_mut(n);
                for (assignment, row) in assignments[some.clone()].iter().zip(rows) {
                    let before = &self.partial[role][template * n..][..n];
                    let frames = self.stretch.frames.clone();
                    let of = |role: usize| {
                        let bounds = self.words.bounds;
                        let player = assignment[role];
                        &bounds.body(hand as usize, role, player, *template)[frames.clone()]
                    };
                    match assignment.len() - role {
                        1 => add_rows([before, of(role)], row),
                        2 => add_rows([before, of(role), of(role + 1)], row),
                        _ => add_rows([before, of(role), of(role + 1), of(role + 2)], row),
                    }
                }
                self.scan(role, *template, some.len());
            }
            for (lane, assignment) in some.enumerate() {
                let left = self.left(role, lane, assignment..assignment + 1, live);
                let gains = &self.gains[role];
                self.found.extend(left.into_iter().map(|template| {
                    let key = Key {
                        template,
                        hand,
                        assignment,
                    };
                    (key, gains[template][lane])
                }));
            }
        }
    }

    /// What the rows laid out can gain.
    fn scan(&mut self, role: usize, template: usize, lanes: usize) {
        self.looked += lanes;
        let params = self.words.params;
        let len = self.words.templates.list[template].len;
        self.gains[role][template] = Scan {
            rows: &self.rows,
            scanned: &mut self.scanned,
            off: params.off_script as f32,
            shortest: len.div_ceil(params.fastest as usize).max(1),
        }
        .gains();
    }

    /// Which of these templates could matter under assignments that begin alike.
    fn left(
        &mut self,
        role: usize,
        lane: usize,
        range: Range<usize>,
        live: &[usize],
    ) -> Vec<usize> {
        let off = &self.words.off_roster[range];
        let price = |off: bool| {
            if off {
                self.words.params.off_roster
            } else {
                0.0
            }
        };
        let roster = price(off.iter().all(|off| *off))..price(off.contains(&true));
        let gains = &self.gains[role];
        let gain = |template: usize| gains[template][lane];
        self.links.left(live, gain, roster)
    }
}

/// Writes the sums of rows, the first two first.
fn add_rows<const N: usize>(rows: [&[f32]; N], out: &mut [f32]) {
    Arch::new().dispatch(AddRows { rows, out });
}

struct AddRows<'a, const N: usize> {
    rows: [&'a [f32]; N],
    out: &'a mut [f32],
}

impl<const N: usize> WithSimd for AddRows<'_, N> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        let Self { rows, out } = self;
        let n = out.len();
        let rows = rows.map(|row| &row[..n]);
        for (t, out) in out.iter_mut().enumerate() {
            let mut sum = rows[0][t];
            for row in &rows[1..] {
                sum += row[t];
            }
            *out = sum;
        }
    }
}

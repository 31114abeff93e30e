//! The least that anybody can cost over the frames of a step, or of a part of it.

use crate::{
    cost::{Costs, Path, Seen, off},
    relax::keep_least,
    roles::Assignment,
    templates::Templates,
};
use pulp::{Arch, Simd, WithSimd};
use std::ops::Range;

/// Least cost of every (hand, role, player) over the frames of a template or of one of its parts, per
/// query frame: summed over roles, a lower bound on what a word can cost at a frame, whatever the warp.
pub struct Bounds {
    frames: usize,
    roles: usize,
    players: usize,
    /// `[hand][role][player]`, then `[hand]` of the ball: one row of query frames per template, then
    /// one per part.
    table: Vec<f32>,
    /// Rows of one body.
    rows: usize,
    /// Per template, the row of its first part.
    first: Vec<usize>,
    unknown: Vec<f32>,
    /// Per template, its parts.
    parts: Vec<Vec<Range<usize>>>,
    /// Per template and part, the fewest frames it can last.
    shortest: Vec<Vec<usize>>,
}

/// Most parts that a template is cut into.
const PARTS: usize = 4;

/// Cuts a template of `len` rows into parts that the fastest tempo cannot leap over.
fn parts(len: usize, fastest: usize) -> Vec<Range<usize>> {
    let count = (len / fastest).clamp(1, PARTS);
    let cut = |i: usize| i * len / count;
    (0..count).map(|i| cut(i)..cut(i + 1)).collect()
}

/// The fewest frames of each part. Only a word's first row is never leapt over, so only a word that is
/// one part takes as many frames as all its rows need.
fn shortest(parts: &[Range<usize>], fastest: usize) -> Vec<usize> {
    match parts {
        [whole] => vec![whole.len().div_ceil(fastest).max(1)],
        parts => parts.iter().map(|part| part.len() / fastest).collect(),
    }
}

/// A body or the ball: where it should be and was, and what it costs.
struct Body<'a> {
    path: &'a Path,
    seen: &'a Seen,
    /// Frames at which it was not seen.
    gaps: &'a [usize],
    hand: usize,
    cap: f32,
    unknown: f32,
    /// References that say nothing of it; empty where all do.
    open: &'a [bool],
}

impl Bounds {
    /// Takes minima over each template's frames. The numbers are laid out in `table`, whatever it
    /// holds: it is large, and fresh memory is dear.
    pub fn new(costs: &Costs, templates: &Templates, fastest: usize, mut table: Vec<f32>) -> Self {
        let parts: Vec<_> = templates
            .list
            .iter()
            .map(|t| parts(t.len, fastest))
            .collect();
        let mut rows = templates.list.len();
        let mut first = Vec::with_capacity(rows);
        for parts in &parts {
            first.push(rows);
            rows += parts.len();
        }
        let gaps: Vec<_> = costs.players.iter().map(Seen::gaps).collect();
        let ball_gaps = costs.seen_ball.gaps();
        let mut bodies = Vec::new();
        for hand in 0..2 {
            for path in &costs.roles {
                bodies.extend(costs.players.iter().zip(&gaps).map(|(seen, gaps)| Body {
                    path,
                    seen,
                    gaps,
                    hand,
                    cap: costs.cap,
                    unknown: costs.unknown,
                    open: &[],
                }));
            }
        }
        bodies.extend([0, 1].map(|hand| Body {
            path: &costs.ball,
            seen: &costs.seen_ball,
            gaps: &ball_gaps,
            hand,
            cap: costs.cap_ball,
            unknown: costs.unknown_ball,
            open: &costs.ball_open,
        }));
        table.resize(bodies.len() * rows * costs.frames, 0.0);
        for (body, table) in bodies
            .iter()
            .zip(table.chunks_exact_mut(rows * costs.frames))
        {
            let (whole, each) = table.split_at_mut(parts.len() * costs.frames);
            let whole = whole.chunks_exact_mut(costs.frames);
            let mut each = each.chunks_exact_mut(costs.frames);
            for ((t, parts), whole) in templates.list.iter().zip(&parts).zip(whole) {
                whole.fill(f32::INFINITY);
                for (part, out) in parts.iter().zip(&mut each) {
                    let rows = t.first + part.start..t.first + part.end;
                    Arch::new().dispatch(Over {
                        body,
                        rows,
                        out,
                        whole: &mut *whole,
                    });
                }
            }
        }
        Self {
            frames: costs.frames,
            roles: costs.roles.len(),
            players: costs.players.len(),
            table,
            rows,
            first,
            unknown: vec![costs.unknown; costs.frames],
            shortest: parts.iter().map(|parts| shortest(parts, fastest)).collect(),
            parts,
        }
    }

    /// The memory of the table, for the next.
    pub fn take_table(&mut self) -> Vec<f32> {
        std::mem::take(&mut self.table)
    }

    /// Number of roles.
    pub fn roles(&self) -> usize {
        self.roles
    }

    /// Number of players.
    pub fn players(&self) -> usize {
        self.players
    }

    /// The reference frames, within a template, of each of its parts.
    pub fn parts(&self, template: usize) -> &[Range<usize>] {
        &self.parts[template]
    }

    /// The fewest frames that each part of a template can last.
    pub fn shortest(&self, template: usize) -> &[usize] {
        &self.shortest[template]
    }

    /// Least cost of the ball, per query frame.
    pub fn ball(&self, hand: usize, template: usize) -> &[f32] {
        self.row(self.ball_of(hand), template)
    }

    /// Least cost of a role under a player, per query frame.
    pub fn body(&self, hand: usize, role: usize, player: Option<usize>, template: usize) -> &[f32] {
        self.of(hand, role, player, template)
    }

    /// Adds up the least costs of a part of a word in some query frames.
    pub fn part(
        &self,
        hand: usize,
        assignment: &Assignment,
        (template, part): (usize, usize),
        frames: Range<usize>,
        out: &mut [f32],
    ) {
        let row = self.first[template] + part;
        out.copy_from_slice(&self.row(self.ball_of(hand), row)[frames.clone()]);
        for (role, player) in assignment.iter().enumerate() {
            let row = self.of(hand, role, *player, row);
            for (sum, cost) in out.iter_mut().zip(&row[frames.clone()]) {
                *sum += cost;
            }
        }
    }

    fn of(&self, hand: usize, role: usize, player: Option<usize>, row: usize) -> &[f32] {
        match player {
            Some(player) => self.row((hand * self.roles + role) * self.players + player, row),
            None => &self.unknown,
        }
    }

    fn ball_of(&self, hand: usize) -> usize {
        2 * self.roles * self.players + hand
    }

    fn row(&self, body: usize, row: usize) -> &[f32] {
        &self.table[(body * self.rows + row) * self.frames..][..self.frames]
    }
}

/// The least cost, per query frame, over some reference frames, and with what is already in `whole`.
struct Over<'a> {
    body: &'a Body<'a>,
    rows: Range<usize>,
    out: &'a mut [f32],
    whole: &'a mut [f32],
}

impl WithSimd for Over<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        let Self {
            body,
            rows,
            out,
            whole,
        } = self;
        let sign = if body.hand == 0 { 1.0 } else { -1.0 };
        let (x, y) = (&body.seen.x[..], &body.seen.y[..]);
        out.fill(body.cap);
        let mut before = None;
        for row in rows.clone() {
            let spot = body.path.spot(row, sign);
            // Many stand still while others move.
            if before.replace(spot) == Some(spot) {
                continue;
            }
            for ((least, x), y) in out.iter_mut().zip(x).zip(y) {
                // Comparing with NaN is false and leaves the cap.
                *least = off((*x, *y), spot, *least);
            }
        }
        for gap in body.gaps {
            out[*gap] = body.unknown;
        }
        if body.open.get(rows).is_some_and(|open| open.contains(&true)) {
            out.iter_mut()
                .for_each(|cost| *cost = cost.min(body.unknown));
        }
        keep_least(whole, out);
    }
}

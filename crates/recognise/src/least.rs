//! The least that someone, or the ball, costs over some reference frames.

use crate::{
    cost::{Costs, Seen},
    spots::{Spots, off_frames},
};
use pulp::{Arch, Simd, WithSimd};
use std::ops::Range;

/// A player in a role under a hand, or the ball: where it should be and was, and what it costs.
struct Body<'a> {
    spots: &'a Spots,
    seen: &'a Seen,
    /// Frames at which it was not seen.
    gaps: Vec<usize>,
    cap: f32,
    unknown: f32,
    /// References that say nothing of it; empty where all do.
    open: &'a [bool],
}

/// All bodies of a query.
pub struct Bodies<'a> {
    costs: &'a Costs<'a>,
    /// `[hand][role][player]`, then `[hand]` of the ball.
    all: Vec<Body<'a>>,
}

impl<'a> Bodies<'a> {
    /// Those of a query.
    pub fn new(costs: &'a Costs<'a>) -> Self {
        let declared = costs.declared;
        let mut all = Vec::new();
        for spots in declared.spots.iter().flatten() {
            all.extend(costs.players.iter().map(|seen| Body {
                spots,
                seen,
                gaps: seen.gaps(),
                cap: declared.cap,
                unknown: declared.unknown,
                open: &[],
            }));
        }
        all.extend(declared.ball_spots.iter().map(|spots| Body {
            spots,
            seen: &costs.seen_ball,
            gaps: costs.seen_ball.gaps(),
            cap: declared.cap_ball,
            unknown: declared.unknown_ball,
            open: &declared.ball_open,
        }));
        Self { costs, all }
    }

    /// How many.
    pub fn len(&self) -> usize {
        self.all.len()
    }

    /// A player in a role.
    pub fn player(&self, hand: usize, role: usize, player: usize) -> usize {
        (hand * self.costs.declared.roles.len() + role) * self.costs.players.len() + player
    }

    /// The ball.
    pub fn ball(&self, hand: usize) -> usize {
        self.all.len() - 2 + hand
    }

    /// Cost of a role that nobody has.
    pub fn nobody(&self) -> f32 {
        self.costs.declared.unknown
    }

    /// Writes the least cost of a body over the reference frames `rows`, per query frame.
    pub fn least(&self, body: usize, rows: Range<usize>, frames: Range<usize>, out: &mut [f32]) {
        Arch::new().dispatch(Least {
            body: &self.all[body],
            rows,
            frames,
            out,
        });
    }
}

/// Registers of query frames taken together from one spot to the next.
const TOGETHER: usize = 2;

/// One call of [`Bodies::least`].
struct Least<'a> {
    body: &'a Body<'a>,
    rows: Range<usize>,
    frames: Range<usize>,
    out: &'a mut [f32],
}

impl WithSimd for Least<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self {
            body,
            rows,
            frames,
            out,
        } = self;
        let spots = body.spots.over(rows.clone());
        let (x, y) = (&body.seen.x[frames.clone()], &body.seen.y[frames.clone()]);
        let (n, block) = (frames.len(), TOGETHER * S::F32_LANES);
        // The last block may begin within the one before.
        let blocks = (0..n / block).map(|at| at * block);
        let last = (n % block > 0 && n > block).then(|| n - block);
        for from in blocks.chain(last) {
            let registers = |row: &[f32]| -> [S::f32s; TOGETHER] {
                let row = S::as_simd_f32s(&row[from..][..block]).0;
                std::array::from_fn(|i| row[i])
            };
            let (x, y) = (registers(x), registers(y));
            let mut least = [simd.splat_f32s(body.cap); TOGETHER];
            for spot in spots {
                let spot = spot.splat(simd);
                for i in 0..TOGETHER {
                    let cost = off_frames(simd, x[i], y[i], spot);
                    least[i] = simd.min_f32s(cost, least[i]);
                }
            }
            let out = S::as_mut_simd_f32s(&mut out[from..][..block]).0;
            out.copy_from_slice(&least);
        }
        if n < block {
            out.fill(body.cap);
            for spot in spots {
                for ((least, x), y) in out.iter_mut().zip(x).zip(y) {
                    let cost = spot.off(*x, *y);
                    *least = if cost < *least { cost } else { *least };
                }
            }
        }
        for gap in body.gaps.iter().filter(|gap| frames.contains(gap)) {
            out[gap - frames.start] = body.unknown;
        }
        if body.open.get(rows).is_some_and(|open| open.contains(&true)) {
            out.iter_mut()
                .for_each(|cost| *cost = cost.min(body.unknown));
        }
    }
}

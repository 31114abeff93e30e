//! The least that someone, or the ball, costs over some reference frames.

use crate::cost::{Costs, Path, Seen, Spot, off};
use pulp::{Arch, Simd, WithSimd};
use std::{ops::Range, rc::Rc};

/// A player in a role under a hand, or the ball: where it should be and was, and what it costs.
struct Body<'a> {
    spots: Rc<Spots>,
    seen: &'a Seen,
    /// Frames at which it was not seen.
    gaps: Vec<usize>,
    cap: f32,
    unknown: f32,
    /// References that say nothing of it; empty where all do.
    open: &'a [bool],
}

/// Where a path has someone under a hand, one after another: many stand still while others move.
struct Spots {
    all: Vec<Spot>,
    /// Per reference frame, which of them.
    at: Vec<usize>,
}

impl Spots {
    fn new(path: &Path, hand: usize) -> Rc<Self> {
        let sign = if hand == 0 { 1.0 } else { -1.0 };
        let (mut all, mut at) = (Vec::new(), Vec::new());
        for row in 0..path.rows() {
            let spot = path.spot(row, sign);
            if all.last() != Some(&spot) {
                all.push(spot);
            }
            at.push(all.len() - 1);
        }
        Rc::new(Self { all, at })
    }

    fn over(&self, rows: Range<usize>) -> &[Spot] {
        &self.all[self.at[rows.start]..=self.at[rows.end - 1]]
    }
}

/// All bodies of a query.
pub struct Bodies<'a> {
    costs: &'a Costs,
    /// `[hand][role][player]`, then `[hand]` of the ball.
    all: Vec<Body<'a>>,
}

impl<'a> Bodies<'a> {
    /// Those of a query.
    pub fn new(costs: &'a Costs) -> Self {
        let hands = [0, 1];
        let mut all = Vec::new();
        for hand in hands {
            for path in &costs.roles {
                let spots = Spots::new(path, hand);
                all.extend(costs.players.iter().map(|seen| Body {
                    spots: Rc::clone(&spots),
                    seen,
                    gaps: seen.gaps(),
                    cap: costs.cap,
                    unknown: costs.unknown,
                    open: &[],
                }));
            }
        }
        all.extend(hands.map(|hand| Body {
            spots: Spots::new(&costs.ball, hand),
            seen: &costs.seen_ball,
            gaps: costs.seen_ball.gaps(),
            cap: costs.cap_ball,
            unknown: costs.unknown_ball,
            open: &costs.ball_open,
        }));
        Self { costs, all }
    }

    /// How many.
    pub fn len(&self) -> usize {
        self.all.len()
    }

    /// A player in a role.
    pub fn player(&self, hand: usize, role: usize, player: usize) -> usize {
        (hand * self.costs.roles.len() + role) * self.costs.players.len() + player
    }

    /// The ball.
    pub fn ball(&self, hand: usize) -> usize {
        self.all.len() - 2 + hand
    }

    /// Cost of a role that nobody has.
    pub fn nobody(&self) -> f32 {
        self.costs.unknown
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

/// Query frames taken together, so that they stay in registers from one spot to the next.
const BLOCK: usize = 32;

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
    fn with_simd<S: Simd>(self, _: S) {
        let Self {
            body,
            rows,
            frames,
            out,
        } = self;
        let spots = body.spots.over(rows.clone());
        let (x, y) = (&body.seen.x[frames.clone()], &body.seen.y[frames.clone()]);
        let n = frames.len();
        // The last block may begin within the one before.
        let blocks = (0..n / BLOCK).map(|block| block * BLOCK);
        let last = (n % BLOCK > 0 && n > BLOCK).then(|| n - BLOCK);
        for from in blocks.chain(last) {
            let (x, y) = (&x[from..][..BLOCK], &y[from..][..BLOCK]);
            let mut least = [body.cap; BLOCK];
            for spot in spots {
                for t in 0..BLOCK {
                    // Comparing with NaN is false and leaves the cap.
                    least[t] = off((x[t], y[t]), *spot, least[t]);
                }
            }
            out[from..][..BLOCK].copy_from_slice(&least);
        }
        if n < BLOCK {
            out.fill(body.cap);
            for spot in spots {
                for ((least, x), y) in out.iter_mut().zip(x).zip(y) {
                    *least = off((*x, *y), *spot, *least);
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

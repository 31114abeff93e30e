//! The least that someone, or the ball, costs over some reference frames.

use crate::cost::{Costs, Path, Seen};
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

/// Where a path has someone in a reference frame, and what being off costs: `(a·x + b·y − e)² + (c·y − f)²`
/// at (x, y), which is the form of [`Path`] with its squares completed.
#[derive(Clone, Copy, PartialEq)]
struct Spot {
    a: f32,
    b: f32,
    c: f32,
    e: f32,
    f: f32,
}

impl Spot {
    /// A frame as the declared hand (1) or the other (−1) has it.
    fn new(path: &Path, row: usize, sign: f32) -> Self {
        let (x, y) = (path.x[row], path.y[row] * sign);
        let (xx, xy, yy) = (path.xx[row], path.xy[row] * sign, path.yy[row]);
        let a = xx.sqrt();
        // The ball may count for nothing.
        let b = if a > 0.0 { xy / (2.0 * a) } else { 0.0 };
        let c = (yy - b * b).max(0.0).sqrt();
        Self {
            a,
            b,
            c,
            e: a * x + b * y,
            f: c * y,
        }
    }

    fn off(&self, x: f32, y: f32) -> f32 {
        (self.a * x + self.b * y - self.e).powi(2) + (self.c * y - self.f).powi(2)
    }

    /// Each number in all lanes.
    #[inline(always)]
    fn splat<S: Simd>(&self, simd: S) -> [S::f32s; 5] {
        [self.a, self.b, -self.e, self.c, -self.f].map(|number| simd.splat_f32s(number))
    }
}

/// [`Spot::off`] for as many query frames as a register holds.
#[inline(always)]
fn off_frames<S: Simd>(simd: S, x: S::f32s, y: S::f32s, [a, b, e, c, f]: [S::f32s; 5]) -> S::f32s {
    let one = simd.mul_add_f32s(a, x, simd.mul_add_f32s(b, y, e));
    let other = simd.mul_add_f32s(c, y, f);
    simd.mul_add_f32s(one, one, simd.mul_f32s(other, other))
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
            let spot = Spot::new(path, row, sign);
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

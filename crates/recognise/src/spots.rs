//! What being off costs in the form in which the least over many reference frames is soonest found.

use crate::declared::Path;
use pulp::Simd;
use std::ops::Range;

/// Where a path has someone in a reference frame, and what being off costs: `(a·x + b·y − e)² + (c·y − f)²`
/// at (x, y), which is the form of [`Path`] with its squares completed.
#[derive(Clone, Copy, PartialEq)]
pub struct Spot {
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

    pub fn off(&self, x: f32, y: f32) -> f32 {
        (self.a * x + self.b * y - self.e).powi(2) + (self.c * y - self.f).powi(2)
    }

    /// Each number in all lanes.
    #[inline(always)]
    pub fn splat<S: Simd>(&self, simd: S) -> [S::f32s; 5] {
        [self.a, self.b, -self.e, self.c, -self.f].map(|number| simd.splat_f32s(number))
    }
}

/// [`Spot::off`] for as many query frames as a register holds.
#[inline(always)]
pub fn off_frames<S: Simd>(
    simd: S,
    x: S::f32s,
    y: S::f32s,
    [a, b, e, c, f]: [S::f32s; 5],
) -> S::f32s {
    let one = simd.mul_add_f32s(a, x, simd.mul_add_f32s(b, y, e));
    let other = simd.mul_add_f32s(c, y, f);
    simd.mul_add_f32s(one, one, simd.mul_f32s(other, other))
}

/// Where a path has someone under a hand, one after another: many stand still while others move.
pub struct Spots {
    all: Vec<Spot>,
    /// Per reference frame, which of them.
    at: Vec<usize>,
}

impl Spots {
    pub fn new(path: &Path, hand: usize) -> Self {
        let sign = if hand == 0 { 1.0 } else { -1.0 };
        let (mut all, mut at) = (Vec::new(), Vec::new());
        for row in 0..path.rows() {
            let spot = Spot::new(path, row, sign);
            if all.last() != Some(&spot) {
                all.push(spot);
            }
            at.push(all.len() - 1);
        }
        Self { all, at }
    }

    pub fn over(&self, rows: Range<usize>) -> &[Spot] {
        &self.all[self.at[rows.start]..=self.at[rows.end - 1]]
    }
}

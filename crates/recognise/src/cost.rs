//! Local costs: how far everyone and the ball are from a reference, under any hypothesis of hand
//! and roles.

use crate::{
    declared::{Declared, Path},
    query::Query,
    roles::Assignment,
};
use pulp::{Arch, Simd, WithSimd};
use setdrift_court::AttackPoint;

/// Where something was, per query frame; NaN where unknown.
pub(crate) struct Seen {
    pub(crate) x: Vec<f32>,
    pub(crate) y: Vec<f32>,
}

impl Seen {
    fn new(samples: &[Option<AttackPoint>]) -> Self {
        let of = |f: fn(AttackPoint) -> f64| {
            let value = |s: &Option<AttackPoint>| s.map_or(f32::NAN, |p| f(p) as f32);
            samples.iter().map(value).collect()
        };
        Self {
            x: of(|p| p.x),
            y: of(|p| p.y),
        }
    }

    /// Frames at which it is unknown.
    pub(crate) fn gaps(&self) -> Vec<usize> {
        let unknown = self.x.iter().enumerate().filter(|(_, x)| x.is_nan());
        unknown.map(|(t, _)| t).collect()
    }
}

/// The costs of one query against all references.
pub struct Costs<'a> {
    pub(crate) declared: &'a Declared,
    pub(crate) players: Vec<Seen>,
    pub(crate) seen_ball: Seen,
}

impl<'a> Costs<'a> {
    /// Lays out a query; the references are those of [`Declared::either`].
    pub fn new(query: &Query, declared: &'a [Declared; 2]) -> Self {
        Self {
            declared: &declared[usize::from(query.has_ball())],
            players: query.paths.iter().map(|p| Seen::new(p)).collect(),
            seen_ball: Seen::new(&query.ball),
        }
    }

    /// Writes the local costs of one query frame under one hypothesis for the reference frames
    /// `first..first + out.len()`: the ball, then role after role.
    pub fn fill(
        &self,
        t: usize,
        hand: usize,
        assignment: &Assignment,
        first: usize,
        out: &mut [f32],
    ) {
        Arch::new().dispatch(Fill {
            costs: self,
            t,
            hand,
            assignment,
            first,
            out,
        });
    }
}

/// One call of [`Costs::fill`].
struct Fill<'a> {
    costs: &'a Costs<'a>,
    t: usize,
    hand: usize,
    assignment: &'a Assignment,
    first: usize,
    out: &'a mut [f32],
}

impl WithSimd for Fill<'_> {
    type Output = ();

    /// As many reference frames at a time as a register holds: most words are little longer.
    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let costs = self.costs;
        let declared = costs.declared;
        let ball = place(&costs.seen_ball, self.t, self.hand);
        for (step, out) in self.out.chunks_mut(S::F32_LANES).enumerate() {
            let first = self.first + step * S::F32_LANES;
            // A template says where the ball is in all of its frames, or in none.
            let mut sum = match ball {
                Some(at) if !declared.ball_open[first] => {
                    off_rows(simd, at, &declared.ball, first, declared.cap_ball)
                }
                _ => simd.splat_f32s(declared.unknown_ball),
            };
            for (path, player) in declared.roles.iter().zip(self.assignment) {
                let at = player.and_then(|p| place(&costs.players[p], self.t, self.hand));
                let more = match at {
                    Some(at) => off_rows(simd, at, path, first, declared.cap),
                    None => simd.splat_f32s(declared.unknown),
                };
                sum = simd.add_f32s(sum, more);
            }
            simd.partial_store_f32s(out, sum);
        }
    }
}

/// A sample as the declared hand sees it.
#[inline(always)]
fn place(seen: &Seen, t: usize, hand: usize) -> Option<(f32, f32)> {
    let (x, y) = (seen.x[t], seen.y[t]);
    (!x.is_nan()).then_some((x, if hand == 0 { y } else { -y }))
}

/// What being off costs against as many reference frames from `first` on as a register holds.
#[inline(always)]
fn off_rows<S: Simd>(simd: S, (x, y): (f32, f32), path: &Path, first: usize, cap: f32) -> S::f32s {
    let of = |column: &[f32]| S::as_simd_f32s(&column[first..first + S::F32_LANES]).0[0];
    let dx = simd.sub_f32s(simd.splat_f32s(x), of(&path.x));
    let dy = simd.sub_f32s(simd.splat_f32s(y), of(&path.y));
    let across = simd.add_f32s(
        simd.mul_f32s(of(&path.xx), dx),
        simd.mul_f32s(of(&path.xy), dy),
    );
    let cost = simd.add_f32s(
        simd.mul_f32s(across, dx),
        simd.mul_f32s(simd.mul_f32s(of(&path.yy), dy), dy),
    );
    simd.min_f32s(cost, simd.splat_f32s(cap))
}

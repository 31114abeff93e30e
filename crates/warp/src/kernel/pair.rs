//! One pair, one anti-diagonal of the table after another: its cells do not depend on each other,
//! and with the query turned round, their local costs come from consecutive frames of both series.

use std::ops::Range;

use pulp::{Arch, Simd, WithSimd};

use super::Band;
use crate::cost::LocalCost;
use crate::real::Real;
use crate::series::Series;

/// Cost of the best path, infinite without one, over some of the dimensions; `None` once it must
/// exceed `limit`.
pub(crate) fn distance<T: Real, C: LocalCost<T>>(
    query: &Series<T>,
    reference: &Series<T>,
    cost: C,
    dims: Range<usize>,
    band: Band,
    limit: T,
) -> Option<T> {
    if !band.holds_corner(query.len(), reference.len()) {
        return Some(T::INFINITY);
    }
    // One AVX-512 register, or two of AVX2.
    if size_of::<T>() == 4 {
        Arch::new().dispatch(Pair::<T, C, 16> {
            query,
            reference,
            cost,
            dims,
            band,
            limit,
        })
    } else {
        Arch::new().dispatch(Pair::<T, C, 8> {
            query,
            reference,
            cost,
            dims,
            band,
            limit,
        })
    }
}

struct Pair<'a, T, C, const W: usize> {
    query: &'a Series<T>,
    reference: &'a Series<T>,
    cost: C,
    dims: Range<usize>,
    band: Band,
    limit: T,
}

/// Anti-diagonals between two looks at the limit.
const PATIENCE: usize = 8;

impl<T: Real, C: LocalCost<T>, const W: usize> WithSimd for Pair<'_, T, C, W> {
    type Output = Option<T>;

    #[inline(always)]
    fn with_simd<S: Simd>(self, _simd: S) -> Option<T> {
        let Pair {
            query,
            reference,
            cost,
            dims,
            band,
            limit,
        } = self;
        let (n, m) = (query.len(), reference.len());
        // Room at the end for whole vectors.
        let (query_stride, reference_stride) = (n + W, m + W);
        let mut turned = vec![T::ZERO; dims.len() * query_stride];
        let mut forward = vec![T::ZERO; dims.len() * reference_stride];
        for (row, dim) in dims.enumerate() {
            let to = &mut turned[row * query_stride..][..n];
            to.iter_mut()
                .zip(query.dim(dim).iter().rev())
                .for_each(|(to, &value)| *to = value);
            forward[row * reference_stride..][..m].copy_from_slice(reference.dim(dim));
        }
        // Cell j of a diagonal is at j + 1; what lies outside the window is infinite.
        let mut before = vec![T::INFINITY; m + 1 + W];
        let mut last = vec![T::INFINITY; m + 1 + W];
        let mut diagonal = vec![T::INFINITY; m + 1 + W];
        before[0] = T::ZERO;
        for k in 0..n + m - 1 {
            let low = (k + 1)
                .saturating_sub(n)
                .max(k.saturating_sub(band.below).div_ceil(2));
            let high = k.min(m - 1).min((k + band.above) / 2) + 1;
            let mut at = low;
            while at < high {
                let from = n - 1 + at - k;
                let mut sums = [T::ZERO; W];
                for (q, r) in turned
                    .chunks_exact(query_stride)
                    .zip(forward.chunks_exact(reference_stride))
                {
                    let (q, r) = (&q[from..from + W], &r[at..at + W]);
                    for lane in 0..W {
                        sums[lane] = cost.add(sums[lane], q[lane] - r[lane]);
                    }
                }
                let (up, left, corner) =
                    (&last[at + 1..][..W], &last[at..][..W], &before[at..][..W]);
                let cells = &mut diagonal[at + 1..][..W];
                for lane in 0..W {
                    let best = left[lane].least(corner[lane].least(up[lane]));
                    cells[lane] = best + cost.finish(sums[lane]);
                }
                at += W;
            }
            // The last vector may have run past the window; the next two diagonals look no
            // further than this.
            diagonal[low] = T::INFINITY;
            diagonal[high + 1] = T::INFINITY;
            if limit < T::INFINITY && k % PATIENCE == PATIENCE - 1 {
                let beyond = |row: &[T]| {
                    row[low..high + 1]
                        .iter()
                        .fold(true, |all, &cell| all & (cell > limit))
                };
                if beyond(&diagonal) && beyond(&last) {
                    return None;
                }
            }
            std::mem::swap(&mut before, &mut last);
            std::mem::swap(&mut last, &mut diagonal);
        }
        Some(last[m])
    }
}

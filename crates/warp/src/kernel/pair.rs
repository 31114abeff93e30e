//! One pair: the local costs of a few rows and a run of columns at a time, in SIMD lanes, then the
//! cells themselves one by one, several rows in step so that their chains of additions overlap.

use std::ops::Range;

use pulp::{Arch, Simd, WithSimd};

use super::Band;
use crate::error::{Result, filled};
use crate::local::FrameCost;
use crate::real::{Lanes, Real};
use crate::series::Series;

/// Cost of the best path, infinite without one, over some of the dimensions; `None` once it must
/// exceed `limit`.
pub(crate) fn distance<T: Real, C: FrameCost<T>>(
    query: &Series<T>,
    reference: &Series<T>,
    cost: C,
    dims: Range<usize>,
    band: Band,
    limit: T,
) -> Result<Option<T>> {
    if !band.holds_corner(query.len(), reference.len()) {
        return Ok(Some(T::INFINITY));
    }
    let row = last_row(query, reference, cost, dims, band, false, limit)?;
    Ok(row.map(|row| row[reference.len()]))
}

/// Cost of the best path to each reference frame, at one past its index; it may begin anywhere.
/// `None` once all must exceed `limit`.
pub(crate) fn open_distances<T: Real, C: FrameCost<T>>(
    query: &Series<T>,
    reference: &Series<T>,
    cost: C,
    limit: T,
) -> Result<Option<Vec<T>>> {
    let band = Band {
        below: query.len(),
        above: reference.len(),
    };
    last_row(query, reference, cost, 0..query.dims(), band, true, limit)
}

fn last_row<T: Real, C: FrameCost<T>>(
    query: &Series<T>,
    reference: &Series<T>,
    cost: C,
    dims: Range<usize>,
    band: Band,
    open: bool,
    limit: T,
) -> Result<Option<Vec<T>>> {
    if size_of::<T>() == 4 {
        Arch::new().dispatch(Pair::<T, C, 16> {
            query,
            reference,
            cost,
            dims,
            band,
            open,
            limit,
        })
    } else {
        Arch::new().dispatch(Pair::<T, C, 8> {
            query,
            reference,
            cost,
            dims,
            band,
            open,
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
    /// Whether a path may begin at any reference frame.
    open: bool,
    limit: T,
}

/// Query frames that go through the table together.
const ROWS: usize = 4;

impl<T: Real, C: FrameCost<T>, const W: usize> WithSimd for Pair<'_, T, C, W> {
    type Output = Result<Option<Vec<T>>>;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Result<Option<Vec<T>>> {
        let (n, m) = (self.query.len(), self.reference.len());
        let packed = self.packed()?;
        // Column j is at j + 1; what lies outside the window is infinite.
        let before = if self.open { T::ZERO } else { T::INFINITY };
        let mut row = filled(before, m + 1, "cells of a row")?;
        row[0] = T::ZERO;
        let mut i = 0;
        while i < n {
            let (low, high) = if i + ROWS <= n {
                self.step::<S, ROWS>(simd, i, &packed, &mut row)
            } else {
                self.step::<S, 1>(simd, i, &packed, &mut row)
            };
            i += if i + ROWS <= n { ROWS } else { 1 };
            if self.limit < T::INFINITY
                && row[low + 1..high + 1]
                    .iter()
                    .fold(true, |all, &cell| all & (cell > self.limit))
            {
                return Ok(None);
            }
        }
        Ok(Some(row))
    }
}

impl<T: Real, C: FrameCost<T>, const W: usize> Pair<'_, T, C, W> {
    /// The reference in runs of `W` frames: `[run · dims + dim][frame in the run]`.
    #[inline(always)]
    fn packed(&self) -> Result<Vec<[T; W]>> {
        let runs = self.reference.len().div_ceil(W);
        let mut packed = filled([T::ZERO; W], runs * self.dims.len(), "runs of a series")?;
        for (offset, dim) in self.dims.clone().enumerate() {
            let runs = packed.iter_mut().skip(offset).step_by(self.dims.len());
            for (run, values) in runs.zip(self.reference.dim(dim).chunks(W)) {
                run[..values.len()].copy_from_slice(values);
            }
        }
        Ok(packed)
    }

    /// Takes `row` from query frame `i − 1` to `i + R − 1`; returns the columns it went over.
    #[inline(always)]
    fn step<S: Simd, const R: usize>(
        &self,
        simd: S,
        i: usize,
        packed: &[[T; W]],
        row: &mut [T],
    ) -> (usize, usize) {
        let m = self.reference.len();
        let Band { below, above } = self.band;
        let low = i.saturating_sub(below).min(m);
        let high = (i + R + above).min(m);
        // Columns inside the band in every row.
        let inner = (i + R - 1).saturating_sub(below)..i + above + 1;
        let mut cells = Cells {
            left: [T::INFINITY; R],
            corner: row[low],
        };
        if low == 0 {
            row[0] = T::INFINITY;
        }
        let dims = self.dims.len();
        for run in low / W..high.div_ceil(W) {
            let costs = self.local::<S, R>(simd, i, &packed[run * dims..(run + 1) * dims]);
            let first = run * W;
            let columns = low.max(first)..high.min(first + W);
            if inner.start <= columns.start && columns.end <= inner.end {
                for j in columns {
                    let costs = std::array::from_fn(|r| costs[r][j - first]);
                    row[j + 1] = cells.advance(row[j + 1], costs);
                }
            } else {
                for j in columns {
                    let costs = std::array::from_fn(|r| {
                        let inside = j + below >= i + r && j <= i + r + above;
                        if inside {
                            costs[r][j - first]
                        } else {
                            T::INFINITY
                        }
                    });
                    row[j + 1] = cells.advance(row[j + 1], costs);
                }
            }
        }
        (low, high)
    }

    /// Costs of `R` query frames against one run.
    #[inline(always)]
    fn local<S: Simd, const R: usize>(&self, simd: S, i: usize, run: &[[T; W]]) -> [[T; W]; R] {
        let mut costs = [[T::ZERO; W]; R];
        let run = T::read::<S>(run.as_flattened());
        let turns = run.len() / self.dims.len();
        for turn in 0..turns {
            let mut sums = [self.cost.zero(Lanes::splat(simd, T::ZERO)); R];
            for (dim, &value) in self.dims.clone().zip(run[turn..].iter().step_by(turns)) {
                let queries = &self.query.dim(dim)[i..i + R];
                let value = Lanes { simd, value };
                for r in 0..R {
                    sums[r] = self
                        .cost
                        .add(sums[r], Lanes::splat(simd, queries[r]) - value);
                }
            }
            for r in 0..R {
                T::write::<S>(&mut costs[r])[turn] = self.cost.finish(sums[r]).value;
            }
        }
        costs
    }
}

/// The column just done.
struct Cells<T, const R: usize> {
    left: [T; R],
    /// The cell above the first row.
    corner: T,
}

impl<T: Real, const R: usize> Cells<T, R> {
    /// Does the next column; returns its last cell. An infinite cost closes a cell.
    #[inline(always)]
    fn advance(&mut self, above: T, costs: [T; R]) -> T {
        let mut up = above;
        let mut corner = self.corner;
        for r in 0..R {
            let best = self.left[r].least(corner.least(up));
            corner = self.left[r];
            up = best + costs[r];
            self.left[r] = up;
        }
        self.corner = above;
        up
    }
}

//! One query against several references, one in each lane of a vector. Rows go four at a time, so
//! that each reference value loaded serves four query frames.

use std::ops::Range;

use pulp::{Arch, Simd, WithSimd};

use super::Band;
use crate::cost::LocalCost;
use crate::real::Real;
use crate::series::Series;

/// References that go in step: lane `l` of every vector belongs to the `l`-th.
#[derive(Debug, Clone)]
pub(crate) struct Block<T, const W: usize> {
    /// `values[frame · dims + dim][lane]`, as long as the longest.
    values: Vec<[T; W]>,
    lens: Vec<usize>,
    dims: usize,
}

impl<T: Real, const W: usize> Block<T, W> {
    /// Lays out 1 to `W` references of the same dimensions.
    pub fn new(references: &[&Series<T>]) -> Self {
        let dims = references.first().map_or(1, |first| first.dims());
        let lens: Vec<usize> = references.iter().map(|one| one.len()).collect();
        let longest = lens.iter().copied().max().unwrap_or(0);
        let mut values = vec![[T::ZERO; W]; longest * dims];
        for (lane, one) in references.iter().enumerate() {
            for dim in 0..dims {
                for (frame, &value) in one.dim(dim).iter().enumerate() {
                    values[frame * dims + dim][lane] = value;
                }
            }
        }
        Block { values, lens, dims }
    }

    pub fn lens(&self) -> &[usize] {
        &self.lens
    }
}

/// What to compare a block with, and how.
pub(crate) struct Lanes<'a, T, C, const W: usize> {
    /// Frame by frame.
    pub query: &'a [T],
    pub block: &'a Block<T, W>,
    pub cost: C,
    /// The dimensions to take.
    pub dims: Range<usize>,
    /// One band per reference.
    pub bands: &'a [Band],
    /// Give up when no lane can stay at or below this; what is returned then is above it.
    pub limit: T,
    /// Scratch space.
    pub row: &'a mut Vec<[T; W]>,
}

impl<T: Real, C: LocalCost<T>, const W: usize> Lanes<'_, T, C, W> {
    /// Cost of the best path to each reference, infinite without one.
    pub fn run(self) -> [T; W] {
        Arch::new().dispatch(self)
    }
}

/// Query frames that go through the table together.
const ROWS: usize = 4;

impl<T: Real, C: LocalCost<T>, const W: usize> WithSimd for Lanes<'_, T, C, W> {
    type Output = [T; W];

    #[inline(always)]
    fn with_simd<S: Simd>(self, _simd: S) -> [T; W] {
        let Lanes {
            query,
            block,
            cost,
            dims,
            bands,
            limit,
            row,
        } = self;
        let stride = block.dims;
        let frames = block.values.len() / stride;
        let n = query.len() / stride;
        row.clear();
        row.resize(frames + 1, [T::INFINITY; W]);
        row[0] = [T::ZERO; W];
        let limits = Limits::<W>::new(bands);
        let mut i = 0;
        let mut groups = query.chunks_exact(stride * ROWS);
        for group in groups.by_ref() {
            step::<T, C, W, ROWS>(group, i, block, cost, dims.clone(), &limits, row);
            i += ROWS;
            if limit < T::INFINITY && beyond(row, i - 1, &limits, limit, block.lens.len()) {
                return [T::INFINITY; W];
            }
        }
        for group in groups.remainder().chunks_exact(stride) {
            step::<T, C, W, 1>(group, i, block, cost, dims.clone(), &limits, row);
            i += 1;
        }
        let mut found = [T::INFINITY; W];
        for (lane, (&len, band)) in block.lens.iter().zip(bands).enumerate() {
            if band.holds_corner(n, len) {
                found[lane] = row[len][lane];
            }
        }
        found
    }
}

/// Whether every cell of row `i` costs more than `limit`, in the lanes used.
#[inline(always)]
fn beyond<T: Real, const W: usize>(
    row: &[[T; W]],
    i: usize,
    limits: &Limits<W>,
    limit: T,
    used: usize,
) -> bool {
    let low = i.saturating_sub(limits.most_below).min(row.len() - 1);
    let high = (i + 1 + limits.most_above).min(row.len() - 1);
    let mut least = [T::INFINITY; W];
    for cells in &row[low + 1..high + 1] {
        for lane in 0..W {
            least[lane] = least[lane].least(cells[lane]);
        }
    }
    least[..used].iter().all(|&cell| cell > limit)
}

/// The bands of all lanes.
struct Limits<const W: usize> {
    below: [i32; W],
    above: [i32; W],
    least_below: usize,
    most_below: usize,
    least_above: usize,
    most_above: usize,
}

impl<const W: usize> Limits<W> {
    #[inline(always)]
    fn new(bands: &[Band]) -> Self {
        let mut limits = Limits {
            below: [0; W],
            above: [0; W],
            least_below: usize::MAX,
            most_below: 0,
            least_above: usize::MAX,
            most_above: 0,
        };
        for (lane, band) in bands.iter().enumerate() {
            limits.below[lane] = band.below as i32;
            limits.above[lane] = band.above as i32;
            limits.least_below = limits.least_below.min(band.below);
            limits.most_below = limits.most_below.max(band.below);
            limits.least_above = limits.least_above.min(band.above);
            limits.most_above = limits.most_above.max(band.above);
        }
        limits
    }
}

/// The cells of `R` rows at one column, and what the next column needs of them.
struct Column<T, const W: usize, const R: usize> {
    left: [[T; W]; R],
    corner: [T; W],
}

/// Takes `row` from query frame `i − 1` to `i + R − 1`.
#[inline(always)]
fn step<T: Real, C: LocalCost<T>, const W: usize, const R: usize>(
    query: &[T],
    i: usize,
    block: &Block<T, W>,
    cost: C,
    dims: Range<usize>,
    limits: &Limits<W>,
    row: &mut [[T; W]],
) {
    let stride = block.dims;
    let frames = row.len() - 1;
    let low = i.saturating_sub(limits.most_below).min(frames);
    let high = (i + R + limits.most_above).min(frames);
    // Columns inside every lane's band in every row.
    let inner_low = (i + R - 1)
        .saturating_sub(limits.least_below)
        .clamp(low, high);
    let inner_high = (i + limits.least_above + 1).clamp(inner_low, high);
    let mut column = Column {
        left: [[T::INFINITY; W]; R],
        corner: row[low],
    };
    if low == 0 {
        row[0] = [T::INFINITY; W];
    }
    let rows: [&[T]; R] = std::array::from_fn(|r| &query[r * stride..][dims.clone()]);
    for (from, to, masked) in [
        (low, inner_low, true),
        (inner_low, inner_high, false),
        (inner_high, high, true),
    ] {
        let values = block.values[from * stride..to * stride].chunks_exact(stride);
        for ((j, values), cell) in (from..to).zip(values).zip(&mut row[from + 1..to + 1]) {
            let sums = local(rows, &values[dims.clone()], cost);
            let mut up = *cell;
            let mut corner = column.corner;
            column.corner = up;
            for r in 0..R {
                let mut new = [T::ZERO; W];
                for lane in 0..W {
                    let best = column.left[r][lane].least(corner[lane].least(up[lane]));
                    new[lane] = best + cost.finish(sums[r][lane]);
                }
                if masked {
                    let offset = j as i32 - (i + r) as i32;
                    for lane in 0..W {
                        let inside = offset >= -limits.below[lane] && offset <= limits.above[lane];
                        new[lane] = if inside { new[lane] } else { T::INFINITY };
                    }
                }
                corner = column.left[r];
                column.left[r] = new;
                up = new;
            }
            *cell = up;
        }
    }
}

#[inline(always)]
fn local<T: Real, C: LocalCost<T>, const W: usize, const R: usize>(
    rows: [&[T]; R],
    values: &[[T; W]],
    cost: C,
) -> [[T; W]; R] {
    let mut sums = [[T::ZERO; W]; R];
    for (dim, value) in values.iter().enumerate() {
        for r in 0..R {
            let query = rows[r][dim];
            for lane in 0..W {
                sums[r][lane] = cost.add(sums[r][lane], query - value[lane]);
            }
        }
    }
    sums
}

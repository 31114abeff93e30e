//! One query against several references, one in each lane of a register. Rows go four at a time, so
//! that each reference value loaded serves four query frames.

use std::ops::Range;

use pulp::{Arch, Simd, WithSimd};

use super::Band;
use crate::error::{Result, filled};
use crate::local::FrameCost;
use crate::real::{Lanes, Real, Vector};
use crate::series::Series;

/// References that go in step: lane `l` of every vector belongs to the `l`-th.
#[derive(Debug, Clone)]
pub(crate) struct Block<T, const W: usize> {
    /// `values[frame · dims + dim][lane]`, as long as the longest.
    values: Vec<[T; W]>,
    lens: Vec<usize>,
    dims: usize,
    gaps: bool,
}

impl<T: Real, const W: usize> Block<T, W> {
    /// Lays out 1 to `W` references of the same dimensions.
    pub fn new(references: &[&Series<T>]) -> Result<Self> {
        let dims = references.first().map_or(1, |first| first.dims());
        let lens: Vec<usize> = references.iter().map(|one| one.len()).collect();
        let longest = lens.iter().copied().max().unwrap_or(0);
        let mut values = filled([T::ZERO; W], longest * dims, "frames of a block")?;
        for (lane, one) in references.iter().enumerate() {
            for dim in 0..dims {
                for (frame, &value) in one.dim(dim).iter().enumerate() {
                    values[frame * dims + dim][lane] = value;
                }
            }
        }
        let gaps = references.iter().any(|one| one.has_gaps());
        Ok(Block {
            values,
            lens,
            dims,
            gaps,
        })
    }

    pub fn has_gaps(&self) -> bool {
        self.gaps
    }

    pub fn lens(&self) -> &[usize] {
        &self.lens
    }
}

/// What to compare a block with, and how.
pub(crate) struct Comparison<'a, T, C, const W: usize> {
    /// Frame by frame.
    pub query: &'a [T],
    pub block: &'a Block<T, W>,
    pub cost: C,
    /// The dimensions to take.
    pub dims: Range<usize>,
    /// One band per reference.
    pub bands: &'a [Band],
    /// Give up on lanes when none of a register can stay at or below this; what is returned for
    /// them then is above it.
    pub limit: T,
    /// Scratch space.
    pub row: &'a mut Vec<T>,
}

impl<T: Real, C: FrameCost<T>, const W: usize> Comparison<'_, T, C, W> {
    /// Cost of the best path to each reference, infinite without one.
    pub fn run(self) -> [T; W] {
        Arch::new().dispatch(self)
    }
}

/// Query frames that go through the table together.
const ROWS: usize = 4;

impl<T: Real, C: FrameCost<T>, const W: usize> WithSimd for Comparison<'_, T, C, W> {
    type Output = [T; W];

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> [T; W] {
        let Comparison {
            query,
            block,
            cost,
            dims,
            bands,
            limit,
            row,
        } = self;
        let n = query.len() / block.dims;
        let frames = block.values.len() / block.dims;
        // A register may hold fewer lanes than the block has; then it takes several turns.
        let width = size_of::<T::Register<S>>() / size_of::<T>();
        let mut found = [T::INFINITY; W];
        for (turn, lens) in block.lens.chunks(width).enumerate() {
            row.clear();
            row.resize((frames + 1) * width, T::INFINITY);
            row[..width].fill(T::ZERO);
            let pass = Pass {
                simd,
                cost,
                dims: dims.clone(),
                stride: block.dims,
                turn,
                turns: W / width,
                values: T::read::<S>(block.values.as_flattened()),
                limits: Limits::new(simd, &bands[turn * width..][..lens.len()]),
            };
            if pass.run(query, n, lens.len(), limit, T::write::<S>(row)) {
                for (lane, (&len, band)) in lens.iter().zip(&bands[turn * width..]).enumerate() {
                    if band.holds_corner(n, len) {
                        found[turn * width + lane] = row[len * width + lane];
                    }
                }
            }
        }
        found
    }
}

/// The bands of all lanes of a register.
struct Limits<S: Simd, T: Real> {
    /// Least and greatest `j − i` in each lane.
    low: Lanes<S, T>,
    high: Lanes<S, T>,
    least_below: usize,
    most_below: usize,
    least_above: usize,
    most_above: usize,
}

impl<S: Simd, T: Real> Limits<S, T> {
    #[inline(always)]
    fn new(simd: S, bands: &[Band]) -> Self {
        let belows = || bands.iter().map(|band| band.below);
        let aboves = || bands.iter().map(|band| band.above);
        let zero = Lanes::splat(simd, T::ZERO);
        let (mut low, mut high) = ([T::ZERO; 16], [T::ZERO; 16]);
        for (lane, band) in bands.iter().enumerate() {
            low[lane] = T::from_f64(-(band.below as f64));
            high[lane] = T::from_f64(band.above as f64);
        }
        let lanes = |values: &[T]| {
            T::read::<S>(values)
                .first()
                .map_or(zero, |&value| Lanes { simd, value })
        };
        Limits {
            low: lanes(&low),
            high: lanes(&high),
            least_below: belows().min().unwrap_or(0),
            most_below: belows().max().unwrap_or(0),
            least_above: aboves().min().unwrap_or(0),
            most_above: aboves().max().unwrap_or(0),
        }
    }
}

/// One register of a block, from the first query frame to the last.
struct Pass<'a, S: Simd, T: Real, C> {
    simd: S,
    cost: C,
    dims: Range<usize>,
    stride: usize,
    turn: usize,
    turns: usize,
    values: &'a [T::Register<S>],
    limits: Limits<S, T>,
}

impl<S: Simd, T: Real, C: FrameCost<T>> Pass<'_, S, T, C> {
    /// False once every lane in use must exceed `limit`.
    #[inline(always)]
    fn run(
        &self,
        query: &[T],
        n: usize,
        used: usize,
        limit: T,
        row: &mut [T::Register<S>],
    ) -> bool {
        let mut i = 0;
        while i + ROWS <= n {
            self.step::<ROWS>(&query[i * self.stride..], i, row);
            i += ROWS;
            if limit < T::INFINITY && self.beyond(row, i - 1, used, limit) {
                return false;
            }
        }
        while i < n {
            self.step::<1>(&query[i * self.stride..], i, row);
            i += 1;
        }
        true
    }

    /// Whether every cell of row `i` costs more than `limit`, in the lanes used.
    #[inline(always)]
    fn beyond(&self, row: &[T::Register<S>], i: usize, used: usize, limit: T) -> bool {
        let low = i.saturating_sub(self.limits.most_below).min(row.len() - 1);
        let high = (i + 1 + self.limits.most_above).min(row.len() - 1);
        let mut least = Lanes::splat(self.simd, T::INFINITY);
        for &value in &row[low + 1..high + 1] {
            least = least.least(Lanes {
                simd: self.simd,
                value,
            });
        }
        let mut lanes = [T::INFINITY; 16];
        if let Some(first) = T::write::<S>(&mut lanes).first_mut() {
            *first = least.value;
        }
        lanes[..used].iter().all(|&cell| cell > limit)
    }

    /// Takes `row` from query frame `i − 1` to `i + R − 1`.
    #[inline(always)]
    fn step<const R: usize>(&self, query: &[T], i: usize, row: &mut [T::Register<S>]) {
        let frames = row.len() - 1;
        let limits = &self.limits;
        let low = i.saturating_sub(limits.most_below).min(frames);
        let high = (i + R + limits.most_above).min(frames);
        // Columns inside every lane's band in every row.
        let inner_low = (i + R - 1)
            .saturating_sub(limits.least_below)
            .clamp(low, high);
        let inner_high = (i + limits.least_above + 1).clamp(inner_low, high);
        let infinite = Lanes::splat(self.simd, T::INFINITY);
        let mut column = Column {
            left: [infinite; R],
            corner: Lanes {
                simd: self.simd,
                value: row[low],
            },
        };
        if low == 0 {
            row[0] = infinite.value;
        }
        let rows: [&[T]; R] = std::array::from_fn(|r| &query[r * self.stride..][self.dims.clone()]);
        self.columns(low..inner_low, Some(i), rows, row, &mut column);
        self.columns(inner_low..inner_high, None, rows, row, &mut column);
        self.columns(inner_high..high, Some(i), rows, row, &mut column);
    }

    /// Some columns, left to right; given the first query frame, each lane is held to its band.
    #[inline(always)]
    fn columns<const R: usize>(
        &self,
        columns: Range<usize>,
        mask: Option<usize>,
        rows: [&[T]; R],
        row: &mut [T::Register<S>],
        column: &mut Column<S, T, R>,
    ) {
        let simd = self.simd;
        let frame = self.stride * self.turns;
        let frames = self.values[columns.start * frame..columns.end * frame].chunks_exact(frame);
        let cells = &mut row[columns.start + 1..columns.end + 1];
        for ((j, frame), cell) in columns.zip(frames).zip(cells) {
            let values = &frame[self.dims.start * self.turns + self.turn..];
            let sums = self.local(rows, values);
            let mut up = Lanes { simd, value: *cell };
            let mut corner = column.corner;
            column.corner = up;
            for r in 0..R {
                let best = column.left[r].least(corner.least(up));
                let mut new = best + self.cost.finish(sums[r]);
                if let Some(i) = mask {
                    let at = Lanes::splat(simd, T::from_f64(j as f64 - (i + r) as f64));
                    new = new.between(self.limits.low, at, self.limits.high);
                }
                corner = column.left[r];
                column.left[r] = new;
                up = new;
            }
            *cell = up.value;
        }
    }

    /// Sums over the dimensions, before the cost is finished.
    #[inline(always)]
    fn local<const R: usize>(
        &self,
        rows: [&[T]; R],
        values: &[T::Register<S>],
    ) -> [C::Sum<Lanes<S, T>>; R] {
        let mut sums = [self.cost.zero(Lanes::splat(self.simd, T::ZERO)); R];
        for (dim, &value) in values
            .iter()
            .step_by(self.turns)
            .take(self.dims.len())
            .enumerate()
        {
            let value = Lanes {
                simd: self.simd,
                value,
            };
            for r in 0..R {
                let query = Lanes::splat(self.simd, rows[r][dim]);
                sums[r] = self.cost.add(sums[r], query - value);
            }
        }
        sums
    }
}

/// The cells of `R` rows at one column, and what the next column needs of them.
struct Column<S: Simd, T: Real, const R: usize> {
    left: [Lanes<S, T>; R],
    corner: Lanes<S, T>,
}

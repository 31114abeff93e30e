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
        // A register may hold fewer lanes than the block has; then two of them go together, so that
        // each query value loaded serves both.
        let width = const { size_of::<T::Register<S>>() / size_of::<T>() };
        let together = if const { pairs_registers::<T, S, W>() } {
            2
        } else {
            1
        };
        let mut found = [T::INFINITY; W];
        let groups = block.lens.chunks(width * together);
        for (group, lens) in groups.enumerate() {
            let first = group * together * width;
            let bands = &bands[first..][..lens.len()];
            let pass = Pass {
                simd,
                cost,
                dims: dims.clone(),
                stride: block.dims,
                turn: group * together,
                turns: W / width,
                values: T::read::<S>(block.values.as_flattened()),
            };
            // No closure here: it would not inherit the instruction set, nor be inlined.
            let found = &mut found[first..];
            if const { pairs_registers::<T, S, W>() } && lens.len() > width {
                pass.run::<2>((query, n), lens, bands, limit, row, found);
            } else {
                pass.run::<1>((query, n), lens, bands, limit, row, found);
            }
        }
        found
    }
}

/// Whether two registers of a block go together. Constant, so that what is not used is not compiled.
const fn pairs_registers<T: Real, S: Simd, const W: usize>() -> bool {
    let width = size_of::<T::Register<S>>() / size_of::<T>();
    width > 1 && W / width > 1
}

/// The bands of all lanes of `V` registers.
struct Limits<S: Simd, T: Real, const V: usize> {
    /// Least and greatest `j − i` in each lane.
    low: [Lanes<S, T>; V],
    high: [Lanes<S, T>; V],
    least_below: usize,
    most_below: usize,
    least_above: usize,
    most_above: usize,
}

impl<S: Simd, T: Real, const V: usize> Limits<S, T, V> {
    #[inline(always)]
    fn new(simd: S, bands: &[Band]) -> Self {
        let belows = || bands.iter().map(|band| band.below);
        let aboves = || bands.iter().map(|band| band.above);
        let zero = Lanes::splat(simd, T::ZERO);
        let (mut low, mut high) = ([T::ZERO; MOST_LANES], [T::ZERO; MOST_LANES]);
        for (lane, band) in bands.iter().enumerate() {
            low[lane] = T::from_f64(-(band.below as f64));
            high[lane] = T::from_f64(band.above as f64);
        }
        let lanes = |values: &[T]| {
            let registers = T::read::<S>(values);
            std::array::from_fn(|v| {
                registers
                    .get(v)
                    .map_or(zero, |&value| Lanes { simd, value })
            })
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

/// Lanes of the widest block.
const MOST_LANES: usize = 16;

/// One or two registers of a block, from the first query frame to the last.
struct Pass<'a, S: Simd, T: Real, C> {
    simd: S,
    cost: C,
    dims: Range<usize>,
    stride: usize,
    /// Which register of the block comes first, and how many it has.
    turn: usize,
    turns: usize,
    values: &'a [T::Register<S>],
}

impl<S: Simd, T: Real, C: FrameCost<T>> Pass<'_, S, T, C> {
    /// Writes the cost of each of `lens`; nothing once every lane in use must exceed `limit`.
    #[inline(always)]
    fn run<const V: usize>(
        &self,
        (query, n): (&[T], usize),
        lens: &[usize],
        bands: &[Band],
        limit: T,
        scratch: &mut Vec<T>,
        found: &mut [T],
    ) {
        let frames = self.values.len() / (self.stride * self.turns);
        let lanes = V * (size_of::<T::Register<S>>() / size_of::<T>());
        scratch.clear();
        scratch.resize((frames + 1) * lanes, T::INFINITY);
        scratch[..lanes].fill(T::ZERO);
        let limits = Limits::<S, T, V>::new(self.simd, bands);
        let row = T::write::<S>(scratch);
        let mut i = 0;
        while i + ROWS <= n {
            self.step::<ROWS, V>(&query[i * self.stride..], i, &limits, row);
            i += ROWS;
            if limit < T::INFINITY && self.beyond(row, i - 1, &limits, lens.len(), limit) {
                return;
            }
        }
        while i < n {
            self.step::<1, V>(&query[i * self.stride..], i, &limits, row);
            i += 1;
        }
        for (lane, (&len, band)) in lens.iter().zip(bands).enumerate() {
            if band.holds_corner(n, len) {
                found[lane] = scratch[len * lanes + lane];
            }
        }
    }

    /// Whether every cell of row `i` costs more than `limit`, in the lanes used.
    #[inline(always)]
    fn beyond<const V: usize>(
        &self,
        row: &[T::Register<S>],
        i: usize,
        limits: &Limits<S, T, V>,
        used: usize,
        limit: T,
    ) -> bool {
        let simd = self.simd;
        let frames = row.len() / V - 1;
        let low = i.saturating_sub(limits.most_below).min(frames);
        let high = (i + 1 + limits.most_above).min(frames);
        let mut least = [Lanes::splat(simd, T::INFINITY); V];
        for cells in row[(low + 1) * V..(high + 1) * V].chunks_exact(V) {
            for v in 0..V {
                let value = cells[v];
                least[v] = least[v].least(Lanes { simd, value });
            }
        }
        let mut lanes = [T::INFINITY; MOST_LANES];
        for (lanes, least) in T::write::<S>(&mut lanes).iter_mut().zip(least) {
            *lanes = least.value;
        }
        lanes[..used].iter().all(|&cell| cell > limit)
    }

    /// Takes `row` from query frame `i − 1` to `i + R − 1`.
    #[inline(always)]
    fn step<const R: usize, const V: usize>(
        &self,
        query: &[T],
        i: usize,
        limits: &Limits<S, T, V>,
        row: &mut [T::Register<S>],
    ) {
        let simd = self.simd;
        let frames = row.len() / V - 1;
        let low = i.saturating_sub(limits.most_below).min(frames);
        let high = (i + R + limits.most_above).min(frames);
        // Columns inside every lane's band in every row.
        let inner_low = (i + R - 1)
            .saturating_sub(limits.least_below)
            .clamp(low, high);
        let inner_high = (i + limits.least_above + 1).clamp(inner_low, high);
        let infinite = Lanes::splat(simd, T::INFINITY);
        let corner = std::array::from_fn(|v| Lanes {
            simd,
            value: row[low * V + v],
        });
        let mut column = Column {
            left: [[infinite; V]; R],
            corner,
        };
        if low == 0 {
            row[..V].fill(infinite.value);
        }
        let rows: [&[T]; R] = std::array::from_fn(|r| &query[r * self.stride..][self.dims.clone()]);
        self.columns(low..inner_low, Some((i, limits)), rows, row, &mut column);
        self.columns(inner_low..inner_high, None, rows, row, &mut column);
        self.columns(inner_high..high, Some((i, limits)), rows, row, &mut column);
    }

    /// Some columns, left to right; given the first query frame, each lane is held to its band.
    #[inline(always)]
    fn columns<const R: usize, const V: usize>(
        &self,
        columns: Range<usize>,
        mask: Option<(usize, &Limits<S, T, V>)>,
        rows: [&[T]; R],
        row: &mut [T::Register<S>],
        column: &mut Column<S, T, R, V>,
    ) {
        let simd = self.simd;
        let frame = self.stride * self.turns;
        let frames = self.values[columns.start * frame..columns.end * frame].chunks_exact(frame);
        let cells = row[(columns.start + 1) * V..(columns.end + 1) * V].chunks_exact_mut(V);
        for ((j, frame), cells) in columns.zip(frames).zip(cells) {
            let sums = self.local::<R, V>(rows, frame);
            for v in 0..V {
                let value = cells[v];
                let mut up = Lanes { simd, value };
                let mut corner = column.corner[v];
                column.corner[v] = up;
                for r in 0..R {
                    let best = column.left[r][v].least(corner.least(up));
                    let mut new = best + self.cost.finish(sums[r][v]);
                    if let Some((i, limits)) = mask {
                        let at = Lanes::splat(simd, T::from_f64(j as f64 - (i + r) as f64));
                        new = new.between(limits.low[v], at, limits.high[v]);
                    }
                    corner = column.left[r][v];
                    column.left[r][v] = new;
                    up = new;
                }
                cells[v] = up.value;
            }
        }
    }

    /// Sums over the dimensions, before the cost is finished.
    #[inline(always)]
    fn local<const R: usize, const V: usize>(
        &self,
        rows: [&[T]; R],
        frame: &[T::Register<S>],
    ) -> [[C::Sum<Lanes<S, T>>; V]; R] {
        let simd = self.simd;
        let mut sums = [[self.cost.zero(Lanes::splat(simd, T::ZERO)); V]; R];
        let values = &frame[self.dims.start * self.turns..self.dims.end * self.turns];
        for (dim, values) in values.chunks_exact(self.turns).enumerate() {
            let values = &values[self.turn..self.turn + V];
            for r in 0..R {
                let query = Lanes::splat(simd, rows[r][dim]);
                for v in 0..V {
                    let value = values[v];
                    sums[r][v] = self.cost.add(sums[r][v], query - Lanes { simd, value });
                }
            }
        }
        sums
    }
}

/// The cells of `R` rows at one column, and what the next column needs of them.
struct Column<S: Simd, T: Real, const R: usize, const V: usize> {
    left: [[Lanes<S, T>; V]; R],
    corner: [Lanes<S, T>; V],
}

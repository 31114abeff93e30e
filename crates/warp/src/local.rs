//! The local costs of two series, unknown coordinates included.

use std::ops::Range;

use pulp::{Arch, Simd, WithSimd};

use crate::cost::{CostRows, Gaps, LocalCost};
use crate::real::{Lanes, Real, Vector};
use crate::series::Series;

/// A local cost with its rule for unknown coordinates: what the kernels are written over, so that
/// all of them do the same arithmetic.
pub(crate) trait FrameCost<T: Real>: Copy + Send + Sync {
    /// What is carried from dimension to dimension.
    type Sum<V: Vector<T>>: Copy;
    /// The sum over no dimension at all; `like` may be any vector.
    fn zero<V: Vector<T>>(self, like: V) -> Self::Sum<V>;
    /// With one more dimension.
    fn add<V: Vector<T>>(self, sum: Self::Sum<V>, difference: V) -> Self::Sum<V>;
    /// The cost of the frame.
    fn finish<V: Vector<T>>(self, sum: Self::Sum<V>) -> V;
}

/// Every coordinate is known.
#[derive(Clone, Copy)]
pub(crate) struct AllKnown<C>(pub C);

impl<T: Real, C: LocalCost<T>> FrameCost<T> for AllKnown<C> {
    type Sum<V: Vector<T>> = V;

    #[inline(always)]
    fn zero<V: Vector<T>>(self, like: V) -> V {
        like.like(T::ZERO)
    }
    #[inline(always)]
    fn add<V: Vector<T>>(self, sum: V, difference: V) -> V {
        self.0.add(sum, difference)
    }
    #[inline(always)]
    fn finish<V: Vector<T>>(self, sum: V) -> V {
        self.0.finish(sum)
    }
}

/// [`Gaps::Cost`].
#[derive(Clone, Copy)]
pub(crate) struct GapCost<C, T> {
    pub cost: C,
    pub gap: T,
}

impl<T: Real, C: LocalCost<T>> FrameCost<T> for GapCost<C, T> {
    type Sum<V: Vector<T>> = V;

    #[inline(always)]
    fn zero<V: Vector<T>>(self, like: V) -> V {
        like.like(T::ZERO)
    }
    #[inline(always)]
    fn add<V: Vector<T>>(self, sum: V, difference: V) -> V {
        let unknown = sum + sum.like(self.gap);
        self.cost
            .add(sum, difference)
            .where_known(difference, unknown)
    }
    #[inline(always)]
    fn finish<V: Vector<T>>(self, sum: V) -> V {
        self.cost.finish(sum)
    }
}

/// [`Gaps::Rescale`].
#[derive(Clone, Copy)]
pub(crate) struct Rescaled<C, T> {
    pub cost: C,
    /// How many dimensions there are.
    pub dims: T,
    pub none_known: T,
}

impl<T: Real, C: LocalCost<T>> FrameCost<T> for Rescaled<C, T> {
    /// The sum, and how many dimensions are in it.
    type Sum<V: Vector<T>> = (V, V);

    #[inline(always)]
    fn zero<V: Vector<T>>(self, like: V) -> (V, V) {
        (like.like(T::ZERO), like.like(T::ZERO))
    }
    #[inline(always)]
    fn add<V: Vector<T>>(self, (sum, known): (V, V), difference: V) -> (V, V) {
        (
            self.cost.add(sum, difference).where_known(difference, sum),
            (known + known.like(T::ONE)).where_known(difference, known),
        )
    }
    #[inline(always)]
    fn finish<V: Vector<T>>(self, (sum, known): (V, V)) -> V {
        // With none known, 0 · (dims / 0) is NaN.
        let scaled = sum * (sum.like(self.dims) / known);
        self.cost
            .finish(scaled)
            .where_known(scaled, sum.like(self.none_known))
    }
}

/// `$body` with `$name` the [`FrameCost`] of a local cost: the one for gaps if `$any` says that
/// there may be some, over `$dims` dimensions at a time.
macro_rules! with_frame_cost {
    ($cost:expr, $gaps:expr, $any:expr, $dims:expr, |$name:ident| $body:expr) => {
        match $gaps {
            _ if !$any => {
                let $name = $crate::local::AllKnown($cost);
                $body
            }
            $crate::cost::Gaps::Cost(gap) => {
                let $name = $crate::local::GapCost {
                    cost: $cost,
                    gap: T::from_f64(gap),
                };
                $body
            }
            $crate::cost::Gaps::Rescale { none_known } => {
                let $name = $crate::local::Rescaled {
                    cost: $cost,
                    dims: T::from_f64($dims as f64),
                    none_known: T::from_f64(none_known),
                };
                $body
            }
        }
    };
}
pub(crate) use with_frame_cost;

/// The local costs of two series; all dimensions, or one of them.
#[derive(Debug, Clone)]
pub(crate) struct SeriesCosts<'a, T, C> {
    query: &'a Series<T>,
    reference: &'a Series<T>,
    dims: Range<usize>,
    cost: C,
    gaps: Gaps,
}

impl<'a, T: Real, C: LocalCost<T>> SeriesCosts<'a, T, C> {
    pub fn new(query: &'a Series<T>, reference: &'a Series<T>, cost: C, gaps: Gaps) -> Self {
        SeriesCosts {
            query,
            reference,
            dims: 0..query.dims(),
            cost,
            gaps,
        }
    }

    pub fn of_dimension(self, dim: usize) -> Self {
        SeriesCosts {
            dims: dim..dim + 1,
            ..self
        }
    }
}

impl<T: Real, C: LocalCost<T>> CostRows<T> for SeriesCosts<'_, T, C> {
    fn query_len(&self) -> usize {
        self.query.len()
    }

    fn reference_len(&self) -> usize {
        self.reference.len()
    }

    fn fill(&mut self, query: usize, first: usize, costs: &mut [T]) {
        let any = self.query.has_gaps() || self.reference.has_gaps();
        let (series, dims) = ((self.query, self.reference), self.dims.clone());
        with_frame_cost!(self.cost, self.gaps, any, dims.len(), |cost| {
            Arch::new().dispatch(Row {
                series,
                dims,
                cost,
                query,
                first,
                costs,
            });
        });
    }
}

/// One query frame against a run of reference frames.
struct Row<'a, 'b, T, C> {
    series: (&'a Series<T>, &'a Series<T>),
    dims: Range<usize>,
    cost: C,
    query: usize,
    first: usize,
    costs: &'b mut [T],
}

/// Registers of sums held while the dimensions go by.
const BLOCK: usize = 4;

impl<T: Real, C: FrameCost<T>> WithSimd for Row<'_, '_, T, C> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Row {
            series: (query, reference),
            dims,
            cost,
            query: at,
            mut first,
            costs,
        } = self;
        let width = size_of::<T::Register<S>>() / size_of::<T>();
        let mut blocks = costs.chunks_exact_mut(width * BLOCK);
        for block in blocks.by_ref() {
            fill_block::<T, C, S, BLOCK>(simd, cost, (query, at), (reference, first), &dims, block);
            first += width * BLOCK;
        }
        let mut blocks = blocks.into_remainder().chunks_exact_mut(width);
        for block in blocks.by_ref() {
            fill_block::<T, C, S, 1>(simd, cost, (query, at), (reference, first), &dims, block);
            first += width;
        }
        for (frame, out) in (first..).zip(blocks.into_remainder()) {
            let add = |sum, dim| cost.add(sum, query.at(at, dim) - reference.at(frame, dim));
            *out = cost.finish(dims.clone().fold(cost.zero(T::ZERO), add));
        }
    }
}

/// `B` registers of costs.
#[inline(always)]
fn fill_block<T: Real, C: FrameCost<T>, S: Simd, const B: usize>(
    simd: S,
    cost: C,
    (query, at): (&Series<T>, usize),
    (reference, first): (&Series<T>, usize),
    dims: &Range<usize>,
    costs: &mut [T],
) {
    let mut sums = [cost.zero(Lanes::splat(simd, T::ZERO)); B];
    for dim in dims.clone() {
        let value = Lanes::splat(simd, query.at(at, dim));
        let others = T::read::<S>(&reference.dim(dim)[first..first + costs.len()]);
        for (sum, &other) in sums.iter_mut().zip(others) {
            *sum = cost.add(*sum, value - Lanes { simd, value: other });
        }
    }
    for (out, sum) in T::write::<S>(costs).iter_mut().zip(sums) {
        *out = cost.finish(sum).value;
    }
}

//! Lower bounds on the distance, far cheaper than the distance itself.
//!
//! They hold for unweighted and symmetric steps with closed ends, where a path visits every query
//! frame and every reference frame at a weight of at least 1.

use std::collections::VecDeque;
use std::ops::Range;

use crate::cost::{CostRows, LocalCost};
use crate::dtw::{Dtw, Measure};
use crate::error::{Error, Result, check_length, check_limit, filled};
use crate::local::SeriesCosts;
use crate::real::Real;
use crate::series::Series;

/// The least and greatest values that a window lets each frame of another series meet.
///
/// The bounds made from it, as [`Dtw::ends_bound`], hold for any local cost and window, for series
/// with gaps, dependent and independent dimensions; for [`StepPattern::unweighted`] and
/// `symmetric(SlopeConstraint::Zero)`, closed ends, and measures that are not normalised. With other
/// options they are an error.
///
/// [`StepPattern::unweighted`]: crate::StepPattern::unweighted
///
/// ```
/// use setdrift_warp::{Dtw, Envelope, Series, Window};
///
/// let dtw = Dtw::squared().window(Window::SakoeChiba { radius: 2 }).check()?;
/// let query = Series::univariate(&[0.0, 0.0, 1.0, 2.0, 1.0, 0.0, 1.0, 0.0, 0.0])?;
/// let reference = Series::univariate(&[0.0, 1.0, 2.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0])?;
/// let envelope = Envelope::of_reference(&dtw, &reference, query.len())?;
/// let bound = dtw.keogh_bound(&envelope, &query)?;
/// assert!(bound > 0.999 && bound <= dtw.distance(&query, &reference)?);
/// # Ok::<(), setdrift_warp::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Envelope<T> {
    /// Dimension by dimension, `len` each.
    lower: Vec<T>,
    upper: Vec<T>,
    len: usize,
    dims: usize,
    /// Frames of the series enclosed.
    around: usize,
    of_query: bool,
}

impl<T: Real> Envelope<T> {
    /// The envelope of a reference, for queries of `query_len` frames.
    ///
    /// # Errors
    /// A `query_len` of 0, or a window that leaves some query frame nothing to meet.
    pub fn of_reference<C>(dtw: &Dtw<C>, reference: &Series<T>, query_len: usize) -> Result<Self> {
        let m = reference.len();
        let range = |i| dtw.window().range(i, query_len, m);
        Self::new(reference, ranges(query_len, range)?, false)
    }

    /// The envelope of a query, for references of `reference_len` frames.
    ///
    /// # Errors
    /// A `reference_len` of 0, or a window that leaves some reference frame nothing to meet.
    pub fn of_query<C>(dtw: &Dtw<C>, query: &Series<T>, reference_len: usize) -> Result<Self> {
        let n = query.len();
        let range = |j| dtw.window().range_of_reference(j, n, reference_len);
        Self::new(query, ranges(reference_len, range)?, true)
    }

    fn new(series: &Series<T>, ranges: Vec<Range<usize>>, of_query: bool) -> Result<Self> {
        if ranges.is_empty() {
            return Err(Error::EmptySeries);
        }
        let (len, dims, around) = (ranges.len(), series.dims(), series.len());
        if ranges.iter().any(Range::is_empty) {
            let (query, reference) = if of_query {
                (around, len)
            } else {
                (len, around)
            };
            return Err(Error::NoPath { query, reference });
        }
        let mut lower = Vec::with_capacity(len * dims);
        let mut upper = Vec::with_capacity(len * dims);
        for dim in 0..dims {
            let values = series.dim(dim);
            // An unknown value might match anything.
            let low = |at: usize| {
                if values[at].is_unknown() {
                    T::ZERO - T::INFINITY
                } else {
                    values[at]
                }
            };
            let high = |at: usize| {
                if values[at].is_unknown() {
                    T::INFINITY
                } else {
                    values[at]
                }
            };
            lower.extend(sliding(&ranges, |a, b| low(a) <= low(b)).map(low));
            upper.extend(sliding(&ranges, |a, b| high(a) >= high(b)).map(high));
        }
        Ok(Envelope {
            lower,
            upper,
            len,
            dims,
            around,
            of_query,
        })
    }
}

/// For each range (neither end falling), the index in it that no other is better than, by a queue of
/// candidates that only improves (Lemire 2009, Pattern Recognition 42, 2169–2180).
fn sliding(
    ranges: &[Range<usize>],
    better: impl Fn(usize, usize) -> bool,
) -> impl Iterator<Item = usize> {
    let mut queue: VecDeque<usize> = VecDeque::new();
    let mut next = 0;
    ranges.iter().map(move |range| {
        next = next.max(range.start);
        while next < range.end {
            while queue.back().is_some_and(|&last| better(next, last)) {
                queue.pop_back();
            }
            queue.push_back(next);
            next += 1;
        }
        while queue.front().is_some_and(|&first| first < range.start) {
            queue.pop_front();
        }
        queue.front().copied().unwrap_or(range.start)
    })
}

/// What each of `len` frames may meet.
fn ranges(len: usize, range: impl Fn(usize) -> Range<usize>) -> Result<Vec<Range<usize>>> {
    check_length(len)?;
    let mut all = filled(0..0, len, "frames of an envelope")?;
    for (at, one) in all.iter_mut().enumerate() {
        *one = range(at);
    }
    Ok(all)
}

impl<C> Dtw<C> {
    /// Whether the bounds hold for these options.
    pub(crate) fn is_boundable(&self) -> bool {
        !self.has_open_ends()
            && self.params().measure_kind() != Measure::Normalised
            && self.weighs_at_least_one()
    }

    fn check_boundable(&self) -> Result<()> {
        if !self.is_boundable() {
            return Err(Error::Incompatible(
                "lower bounds hold for closed ends, unweighted or symmetric steps, and measures that are not normalised",
            ));
        }
        Ok(())
    }

    /// A lower bound from the first and last frames alone, which every path matches (after Kim,
    /// Park & Chu 2001).
    ///
    /// # Errors
    /// Different dimensions, or options the bounds do not hold for (see [`Envelope`]).
    pub fn ends_bound<T: Real>(&self, query: &Series<T>, reference: &Series<T>) -> Result<T>
    where
        C: LocalCost<T>,
    {
        self.check_boundable()?;
        query.check_same_dims(reference)?;
        let (n, m) = (query.len(), reference.len());
        let mut total = T::ZERO;
        let mut add = |mut costs: SeriesCosts<'_, T, C>| {
            let (mut first, mut last) = ([T::ZERO], [T::ZERO]);
            costs.fill(0, 0, &mut first);
            if n + m > 2 {
                costs.fill(n - 1, m - 1, &mut last);
            }
            // In the distance's own order of summing, so that rounding cannot lift it above.
            total += first[0] + last[0];
        };
        let costs = || SeriesCosts::new(query, reference, self.cost(), self.gaps());
        if self.is_independent() {
            (0..query.dims()).for_each(|dim| add(costs().of_dimension(dim)));
        } else {
            add(costs());
        }
        Ok(self.measured(total, n, m - 1))
    }

    /// LB_Keogh for one or several dimensions (Keogh & Ratanamahatana 2005, KAIS 7, 358–386;
    /// Rath & Manmatha 2003): what `other` lies outside the envelope.
    ///
    /// `other` is the query when the envelope is a reference's, and the reference when it is a query's.
    ///
    /// # Errors
    /// Different dimensions, a length other than the envelope was made for, or options the bounds
    /// do not hold for (see [`Envelope`]).
    pub fn keogh_bound<T: Real>(&self, envelope: &Envelope<T>, other: &Series<T>) -> Result<T>
    where
        C: LocalCost<T>,
    {
        self.check_boundable()?;
        if other.dims() != envelope.dims {
            return Err(Error::DimensionMismatch {
                query: other.dims(),
                reference: envelope.dims,
            });
        }
        if other.len() != envelope.len {
            return Err(Error::LengthMismatch {
                what: "frames for this envelope",
                expected: envelope.len,
                found: other.len(),
            });
        }
        let cost = pulp::Arch::new().dispatch(Keogh {
            envelope,
            other,
            cost: self.cost(),
            apart: self.is_independent(),
        });
        let (n, m) = if envelope.of_query {
            (envelope.around, envelope.len)
        } else {
            (envelope.len, envelope.around)
        };
        // Summed in another order than the distance, so it may round above it.
        let slack = T::ONE - T::from_f64((n + m + 8) as f64) * T::EPSILON;
        Ok(self.measured(cost * slack.most(T::ZERO), n, m - 1))
    }

    /// The bounds one after another, the cheapest first: ends, LB_Keogh about the reference, LB_Keogh
    /// about the query. The greatest is returned; once one exceeds `limit` the dearer ones are left
    /// out (the cascade of Rakthanmanon et al. 2012, KDD).
    ///
    /// ```
    /// use setdrift_warp::{Dtw, Series, Window};
    ///
    /// let dtw = Dtw::squared().window(Window::Widened { radius: 1 }).check()?;
    /// let query = Series::univariate(&[0.0, 0.0, 1.0, 2.0, 1.0, 0.0])?;
    /// let reference = Series::univariate(&[0.0, 5.0, 6.0, 5.0, 0.0])?;
    /// let best_so_far = 3.0;
    /// let bound = dtw.cascade_bound(&query, &reference, best_so_far)?;
    /// assert!(bound > best_so_far); // so the distance need not be computed
    /// assert!(bound <= dtw.distance(&query, &reference)?);
    /// # Ok::<(), setdrift_warp::Error>(())
    /// ```
    ///
    /// # Errors
    /// Different dimensions, a window that leaves some frame nothing to meet, a `limit` of NaN, or
    /// options the bounds do not hold for (see [`Envelope`]).
    pub fn cascade_bound<T: Real>(
        &self,
        query: &Series<T>,
        reference: &Series<T>,
        limit: T,
    ) -> Result<T>
    where
        C: LocalCost<T>,
    {
        check_limit(limit)?;
        let mut bound = self.ends_bound(query, reference)?;
        if bound <= limit {
            let envelope = Envelope::of_reference(self, reference, query.len())?;
            bound = bound.most(self.keogh_bound(&envelope, query)?);
        }
        if bound <= limit {
            let envelope = Envelope::of_query(self, query, reference.len())?;
            bound = bound.most(self.keogh_bound(&envelope, reference)?);
        }
        Ok(bound)
    }
}

struct Keogh<'a, T, C> {
    envelope: &'a Envelope<T>,
    other: &'a Series<T>,
    cost: C,
    apart: bool,
}

/// Frames summed side by side.
const WIDTH: usize = 16;

impl<T: Real, C: LocalCost<T>> pulp::WithSimd for Keogh<'_, T, C> {
    type Output = T;

    #[inline(always)]
    fn with_simd<S: pulp::Simd>(self, _simd: S) -> T {
        let Keogh {
            envelope,
            other,
            cost,
            apart,
        } = self;
        let len = envelope.len;
        let mut totals = [T::ZERO; WIDTH];
        let mut first = 0;
        while first < len {
            let width = WIDTH.min(len - first);
            let mut sums = [T::ZERO; WIDTH];
            for dim in 0..envelope.dims {
                let at = dim * len + first;
                let (lower, upper) = (
                    &envelope.lower[at..at + width],
                    &envelope.upper[at..at + width],
                );
                let values = &other.dim(dim)[first..first + width];
                for (((sum, &value), &lower), &upper) in
                    sums.iter_mut().zip(values).zip(lower).zip(upper)
                {
                    // An unknown value compares with nothing, and so costs nothing.
                    let over = if value > upper {
                        value - upper
                    } else {
                        T::ZERO
                    };
                    let under = if value < lower {
                        lower - value
                    } else {
                        T::ZERO
                    };
                    if apart {
                        *sum += cost.finish(cost.add(T::ZERO, over + under));
                    } else {
                        *sum = cost.add(*sum, over + under);
                    }
                }
            }
            for (total, &sum) in totals.iter_mut().zip(&sums[..width]) {
                *total += if apart { sum } else { cost.finish(sum) };
            }
            first += WIDTH;
        }
        totals.iter().fold(T::ZERO, |all, &one| all + one)
    }
}

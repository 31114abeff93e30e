//! Local costs: what it costs to match one frame with another.

use crate::error::{Error, Result};
use crate::real::{Real, Vector};

/// The cost of matching two frames, built up coordinate by coordinate.
///
/// The frame's cost is `finish` of `add` folded over the differences `query − reference`, from 0,
/// dimensions in order. `add` must return at least `sum`, and no less for a difference of greater
/// magnitude; `finish` must not fall as its argument rises and must not return less than 0. The
/// lower bounds rest on these laws. Both are written once for numbers and for whole registers of
/// them (see [`Vector`]); mark them `#[inline(always)]`.
///
/// ```
/// use setdrift_warp::{Dtw, LocalCost, Series, Vector};
///
/// /// Differences below one unit are free.
/// #[derive(Debug, Clone, Copy)]
/// struct DeadZone;
///
/// impl LocalCost<f64> for DeadZone {
///     #[inline(always)]
///     fn add<V: Vector<f64>>(self, sum: V, difference: V) -> V {
///         sum + (difference.abs() - sum.like(1.0)).most(sum.like(0.0))
///     }
/// }
///
/// let dtw = Dtw::with_cost(DeadZone).check()?;
/// let (a, b) = (Series::univariate(&[0.0, 4.0])?, Series::univariate(&[0.5, 2.0])?);
/// assert_eq!(dtw.distance(&a, &b)?, 1.0);
/// # Ok::<(), setdrift_warp::Error>(())
/// ```
pub trait LocalCost<T: Real>: Copy + Send + Sync {
    /// `sum` with the cost of one coordinate's difference added.
    fn add<V: Vector<T>>(self, sum: V, difference: V) -> V;

    /// The frame's cost from the sum over its coordinates.
    #[inline(always)]
    fn finish<V: Vector<T>>(self, sum: V) -> V {
        sum
    }
}

/// Sum of squared differences.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Squared;

impl<T: Real> LocalCost<T> for Squared {
    #[inline(always)]
    fn add<V: Vector<T>>(self, sum: V, difference: V) -> V {
        difference.mul_add(difference, sum)
    }
}

/// Sum of absolute differences.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Absolute;

impl<T: Real> LocalCost<T> for Absolute {
    #[inline(always)]
    fn add<V: Vector<T>>(self, sum: V, difference: V) -> V {
        sum + difference.abs()
    }
}

/// Euclidean distance: root of the sum of squared differences.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Euclidean;

impl<T: Real> LocalCost<T> for Euclidean {
    #[inline(always)]
    fn add<V: Vector<T>>(self, sum: V, difference: V) -> V {
        difference.mul_add(difference, sum)
    }
    #[inline(always)]
    fn finish<V: Vector<T>>(self, sum: V) -> V {
        sum.sqrt()
    }
}

/// Huber's loss of each coordinate (Huber 1964): `d²` up to a `delta`, then `delta · (2|d| − delta)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Huber<T> {
    delta: T,
}

impl<T: Real> Huber<T> {
    /// The loss that turns from square to straight at a difference of `delta`.
    ///
    /// # Errors
    /// A `delta` that is not finite and above 0.
    pub fn new(delta: T) -> Result<Self> {
        check_above_zero("delta", delta)?;
        Ok(Huber { delta })
    }
}

impl<T: Real> LocalCost<T> for Huber<T> {
    #[inline(always)]
    fn add<V: Vector<T>>(self, sum: V, difference: V) -> V {
        let size = difference.abs();
        let near = size.least(size.like(self.delta));
        // near² + 2·near·(size − near)
        sum + near * (size + size - near)
    }
}

/// Squared differences, each capped at a cap, so that one coordinate cannot sink a frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CappedSquared<T> {
    cap: T,
}

impl<T: Real> CappedSquared<T> {
    /// Squared differences of at most `cap`.
    ///
    /// # Errors
    /// A `cap` that is not finite and above 0.
    pub fn new(cap: T) -> Result<Self> {
        check_above_zero("cap", cap)?;
        Ok(CappedSquared { cap })
    }
}

impl<T: Real> LocalCost<T> for CappedSquared<T> {
    #[inline(always)]
    fn add<V: Vector<T>>(self, sum: V, difference: V) -> V {
        sum + (difference * difference).least(sum.like(self.cap))
    }
}

/// Another cost with each frame's total capped.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Capped<C, T> {
    cost: C,
    cap: T,
}

impl<T: Real, C: LocalCost<T>> Capped<C, T> {
    /// `cost`, of at most `cap` a frame.
    ///
    /// # Errors
    /// A `cap` that is not finite and above 0.
    pub fn new(cost: C, cap: T) -> Result<Self> {
        check_above_zero("cap", cap)?;
        Ok(Capped { cost, cap })
    }
}

impl<T: Real, C: LocalCost<T>> LocalCost<T> for Capped<C, T> {
    #[inline(always)]
    fn add<V: Vector<T>>(self, sum: V, difference: V) -> V {
        self.cost.add(sum, difference)
    }
    #[inline(always)]
    fn finish<V: Vector<T>>(self, sum: V) -> V {
        self.cost.finish(sum).least(sum.like(self.cap))
    }
}

fn check_above_zero<T: Real>(name: &'static str, value: T) -> Result<()> {
    if value > T::ZERO && value < T::INFINITY {
        Ok(())
    } else {
        Err(Error::Parameter {
            name,
            value: value.to_f64(),
            expected: "give a finite number above 0",
        })
    }
}

/// Refuses local costs that are negative or NaN: those of query frame `query` against the frames of
/// `word` from `first` on.
pub(crate) fn check_costs<T: Real>(
    query: usize,
    word: usize,
    first: usize,
    costs: &[T],
) -> Result<()> {
    // A fold, not `all`: without the early way out it vectorises.
    if costs
        .iter()
        .fold(true, |fine, &cost| fine & (cost >= T::ZERO))
    {
        return Ok(());
    }
    let bad = |cost: &T| cost.is_unknown() || *cost < T::ZERO;
    let at = costs.iter().position(bad).unwrap_or(0);
    Err(Error::LocalCost {
        query,
        word,
        reference: first + at,
        value: costs[at].to_f64(),
    })
}

/// What a coordinate costs that is unknown in the query, the reference or both.
///
/// ```
/// use setdrift_warp::{Dtw, Gaps, Series};
///
/// let query = Series::from_frames_with_gaps(&[1.0, f64::NAN, 2.0, 5.0], 2)?;
/// let reference = Series::from_frames(&[2.0, 3.0, 2.0, 5.0], 2)?;
/// let with = |gaps| Dtw::squared().gaps(gaps).check();
/// assert_eq!(with(Gaps::Cost(0.5))?.distance(&query, &reference)?, 1.5);
/// // The one known coordinate stands for both.
/// assert_eq!(with(Gaps::Rescale { none_known: 9.0 })?.distance(&query, &reference)?, 2.0);
/// # Ok::<(), setdrift_warp::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Gaps {
    /// This much is added to the sum over coordinates, 0 or more.
    Cost(f64),
    /// The sum over the known coordinates is scaled up by dims / known; a frame with none known
    /// costs `none_known`, 0 or more.
    Rescale {
        /// Cost of a frame without a coordinate known in both series.
        none_known: f64,
    },
}

impl Default for Gaps {
    /// Unknown coordinates are free.
    fn default() -> Self {
        Gaps::Cost(0.0)
    }
}

impl Gaps {
    pub(crate) fn check(self) -> Result<()> {
        let (name, value) = match self {
            Gaps::Cost(value) => ("the cost of an unknown coordinate", value),
            Gaps::Rescale { none_known } => ("none_known", none_known),
        };
        if value >= 0.0 && value.is_finite() {
            Ok(())
        } else {
            Err(Error::Parameter {
                name,
                value,
                expected: "give a finite number of 0 or more",
            })
        }
    }
}

/// Local costs row by row, for [`Dtw::align_costs`](crate::Dtw::align_costs) and its kin: a way in
/// for any cost at all, with no series behind it.
pub trait CostRows<T: Real> {
    /// Number of query frames, at least 1.
    fn query_len(&self) -> usize;
    /// Number of reference frames, at least 1.
    fn reference_len(&self) -> usize;
    /// Writes the costs of query frame `query` against reference frames `first..first +
    /// costs.len()`. Costs are 0 or more; infinity forbids a pairing.
    fn fill(&mut self, query: usize, first: usize, costs: &mut [T]);
}

/// [`CostRows`] from a function of the two frame numbers.
///
/// ```
/// use setdrift_warp::{CostFn, Dtw};
///
/// let (spoken, heard) = (["to", "the", "top"], ["to", "to", "the", "stop"]);
/// let mut costs = CostFn::new(3, 4, |i, j| if spoken[i] == heard[j] { 0.0 } else { 1.0 });
/// let found = Dtw::squared().check()?.align_costs(&mut costs)?;
/// assert_eq!(found.path, [(0, 0), (0, 1), (1, 2), (2, 3)]);
/// assert_eq!(found.distance, 1.0);
/// # Ok::<(), setdrift_warp::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct CostFn<F> {
    query_len: usize,
    reference_len: usize,
    cost: F,
}

impl<F> CostFn<F> {
    /// Costs `cost(query frame, reference frame)`.
    pub fn new<T>(query_len: usize, reference_len: usize, cost: F) -> Self
    where
        F: FnMut(usize, usize) -> T,
    {
        CostFn {
            query_len,
            reference_len,
            cost,
        }
    }
}

impl<T: Real, F: FnMut(usize, usize) -> T> CostRows<T> for CostFn<F> {
    fn query_len(&self) -> usize {
        self.query_len
    }
    fn reference_len(&self) -> usize {
        self.reference_len
    }
    fn fill(&mut self, query: usize, first: usize, costs: &mut [T]) {
        for (reference, cost) in (first..).zip(costs) {
            *cost = (self.cost)(query, reference);
        }
    }
}

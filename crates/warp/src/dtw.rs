//! Options and the two-series calls.

use crate::cost::{CostFn, CostRows, Gaps, LocalCost, Squared};
use crate::error::{Error, Result, check_limit};
use crate::kernel::{self, Band};
use crate::local::{SeriesCosts, with_frame_cost};
use crate::real::Real;
use crate::series::Series;
use crate::steps::{Normalisation, SlopeConstraint, StepPattern};
use crate::table::{Plan, Table};
use crate::window::Window;

/// How several dimensions share the warping.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Multivariate {
    /// One warping path for all dimensions: their timing against each other counts.
    #[default]
    Dependent,
    /// One path for each dimension, and the sum of their costs.
    Independent,
}

/// What number a comparison returns.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Measure {
    /// The summed cost of the best path.
    #[default]
    Cost,
    /// Its square root: with [`Squared`], the usual DTW distance.
    Root,
    /// The cost divided by what the step pattern's weights add up to.
    Normalised,
}

/// Options of a comparison; [`DtwParams::check`] makes them a [`Dtw`].
#[derive(Debug, Clone, PartialEq)]
pub struct DtwParams<C> {
    cost: C,
    window: Window,
    steps: StepPattern,
    multivariate: Multivariate,
    measure: Measure,
    gaps: Gaps,
    open_begin: bool,
    open_end: bool,
}

impl<C> DtwParams<C> {
    /// Cells a path may visit; all of them by default.
    pub fn window(self, window: Window) -> Self {
        DtwParams { window, ..self }
    }

    /// Moves a path may make; [`StepPattern::unweighted`] by default.
    pub fn steps(self, steps: StepPattern) -> Self {
        DtwParams { steps, ..self }
    }

    /// One path for all dimensions (the default) or one each.
    pub fn multivariate(self, multivariate: Multivariate) -> Self {
        DtwParams {
            multivariate,
            ..self
        }
    }

    /// The number returned; the summed cost by default.
    pub fn measure(self, measure: Measure) -> Self {
        DtwParams { measure, ..self }
    }

    /// What unknown coordinates cost; nothing by default.
    pub fn gaps(self, gaps: Gaps) -> Self {
        DtwParams { gaps, ..self }
    }

    /// Whether the path may begin at any reference frame; no by default.
    pub fn open_begin(self, open_begin: bool) -> Self {
        DtwParams { open_begin, ..self }
    }

    /// Whether the path may end at any reference frame; no by default.
    pub fn open_end(self, open_end: bool) -> Self {
        DtwParams { open_end, ..self }
    }

    /// The step pattern chosen.
    pub fn step_pattern(&self) -> &StepPattern {
        &self.steps
    }

    pub(crate) fn measure_kind(&self) -> Measure {
        self.measure
    }

    /// Checks the options.
    ///
    /// # Errors
    /// A parameter out of range; independent dimensions with an open end; a normalised measure
    /// with a pattern that has no normalisation, or with an open begin unless it is by query length.
    pub fn check(self) -> Result<Dtw<C>> {
        self.window.check()?;
        self.gaps.check()?;
        if self.multivariate == Multivariate::Independent && (self.open_begin || self.open_end) {
            return Err(Error::Incompatible(
                "independent dimensions cannot be aligned with open ends: they would end apart",
            ));
        }
        if self.measure == Measure::Normalised {
            match self.steps.normalisation() {
                Normalisation::None => {
                    return Err(Error::Incompatible(
                        "this step pattern has no normalisation; take a symmetric or asymmetric one",
                    ));
                }
                Normalisation::Query => {}
                _ if self.open_begin => {
                    return Err(Error::Incompatible(
                        "with an open begin, only patterns normalised by the query's length can be normalised",
                    ));
                }
                _ => {}
            }
        }
        Ok(Dtw { params: self })
    }
}

/// Dynamic time warping with checked options.
///
/// ```
/// use setdrift_warp::{Dtw, Measure, Series, Window};
///
/// let dtw = Dtw::squared().window(Window::SakoeChiba { radius: 2 }).measure(Measure::Root).check()?;
/// let a = Series::univariate(&[0.0, 0.0, 1.0, 2.0, 1.0, 0.0, 1.0, 0.0, 0.0])?;
/// let b = Series::univariate(&[0.0, 1.0, 2.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0])?;
/// assert_eq!(dtw.distance(&a, &b)?, 2.0_f64.sqrt());
/// assert_eq!(dtw.align(&a, &b)?.path.first(), Some(&(0, 0)));
/// # Ok::<(), setdrift_warp::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Dtw<C = Squared> {
    params: DtwParams<C>,
}

impl Dtw {
    /// Options with squared differences as local cost.
    pub fn squared() -> DtwParams<Squared> {
        Self::with_cost(Squared)
    }
}

impl Dtw<Squared> {
    /// Options with a local cost of one's own choice.
    pub fn with_cost<C>(cost: C) -> DtwParams<C> {
        DtwParams {
            cost,
            window: Window::default(),
            steps: StepPattern::default(),
            multivariate: Multivariate::default(),
            measure: Measure::default(),
            gaps: Gaps::default(),
            open_begin: false,
            open_end: false,
        }
    }
}

/// The best warping path between two series.
#[derive(Debug, Clone, PartialEq)]
pub struct Alignment<T> {
    /// The chosen [`Measure`] of the path.
    pub distance: T,
    /// Matched (query frame, reference frame) pairs in order; neither falls. Both ends are the
    /// series' ends unless an open begin or end was asked for.
    pub path: Vec<(usize, usize)>,
}

impl<C> Dtw<C> {
    /// The options.
    pub fn params(&self) -> &DtwParams<C> {
        &self.params
    }

    pub(crate) fn cost(&self) -> C
    where
        C: Copy,
    {
        self.params.cost
    }

    pub(crate) fn window(&self) -> Window {
        self.params.window
    }

    pub(crate) fn gaps(&self) -> Gaps {
        self.params.gaps
    }

    pub(crate) fn is_independent(&self) -> bool {
        self.params.multivariate == Multivariate::Independent
    }

    pub(crate) fn has_open_ends(&self) -> bool {
        self.params.open_begin || self.params.open_end
    }

    pub(crate) fn is_unweighted(&self) -> bool {
        self.params.steps.is_unweighted()
    }

    /// Whether a path counts each frame of both series at least once in full.
    pub(crate) fn weighs_at_least_one(&self) -> bool {
        let steps = &self.params.steps;
        steps.is_unweighted() || *steps == StepPattern::symmetric(SlopeConstraint::Zero)
    }

    /// Whether the kernels apply.
    pub(crate) fn is_plain(&self) -> bool {
        self.params.steps.is_unweighted()
            && !self.has_open_ends()
            && Band::new(self.params.window, 1, 1).is_some()
    }

    pub(crate) fn is_normalised_beyond_query(&self) -> bool {
        self.params.measure == Measure::Normalised
            && self.params.steps.normalisation() != Normalisation::Query
    }

    pub(crate) fn plan(&self, record: bool) -> Plan<'_> {
        Plan {
            window: self.params.window,
            steps: &self.params.steps,
            open_begin: self.params.open_begin,
            record,
            turned: false,
        }
    }

    /// The measure of a path of summed cost `cost` that ends at reference frame `end`.
    pub(crate) fn measured<T: Real>(&self, cost: T, query_len: usize, end: usize) -> T {
        match self.params.measure {
            Measure::Cost => cost,
            Measure::Root => cost.sqrt(),
            Measure::Normalised => cost / T::from_f64(self.weight(query_len, end)),
        }
    }

    fn weight(&self, query_len: usize, end: usize) -> f64 {
        match self.params.steps.normalisation() {
            Normalisation::None => 1.0,
            Normalisation::Query => query_len as f64,
            Normalisation::Reference => end as f64 + 1.0,
            Normalisation::Both => query_len as f64 + end as f64 + 1.0,
        }
    }

    /// The summed cost that no path of measure `limit` or less exceeds.
    pub(crate) fn cost_limit<T: Real>(
        &self,
        limit: T,
        query_len: usize,
        reference_len: usize,
    ) -> T {
        let cost = match self.params.measure {
            Measure::Cost => return limit,
            Measure::Root => limit.most(T::ZERO).to_f64().powi(2),
            Measure::Normalised => limit.to_f64() * self.weight(query_len, reference_len - 1),
        };
        // Room for the rounding of the measure and of this line.
        T::from_f64(cost * (1.0 + 1e-6) + f64::MIN_POSITIVE)
    }

    /// Where the best path ends: the first least measure if the end is open.
    fn end<T: Real>(&self, last: &[T], query_len: usize) -> usize {
        let mut best = last.len() - 1;
        if self.params.open_end {
            let mut least = T::INFINITY;
            for (end, &cost) in last.iter().enumerate() {
                let measured = self.measured(cost, query_len, end);
                if measured < least {
                    (best, least) = (end, measured);
                }
            }
        }
        best
    }

    /// The measure of the best path of a table, and where it ends.
    fn best_of<T: Real>(&self, table: &Table<T>, query_len: usize) -> Result<(T, usize)> {
        let end = self.end(&table.last, query_len);
        if table.last[end] < T::INFINITY {
            Ok((self.measured(table.last[end], query_len, end), end))
        } else {
            Err(Error::NoPath {
                query: query_len,
                reference: table.last.len(),
            })
        }
    }

    /// The measure of the best path through costs given row by row. Dimensions and gaps play no part.
    ///
    /// # Errors
    /// No path within window and steps, a length of 0, or a cost that is negative or NaN.
    pub fn distance_costs<T: Real>(&self, costs: &mut impl CostRows<T>) -> Result<T> {
        let found = self.distance_costs_within(costs, T::INFINITY)?;
        found.ok_or(Error::NoPath {
            query: costs.query_len(),
            reference: costs.reference_len(),
        })
    }

    /// As [`Dtw::distance_costs`]; `None` when the measure exceeds `limit`, found as early as possible.
    ///
    /// # Errors
    /// As [`Dtw::distance_costs`].
    pub fn distance_costs_within<T: Real>(
        &self,
        costs: &mut impl CostRows<T>,
        limit: T,
    ) -> Result<Option<T>> {
        let (n, m) = (costs.query_len(), costs.reference_len());
        check_limit(limit)?;
        if n == 0 || m == 0 {
            return Err(Error::EmptySeries);
        }
        let Some(table) = Table::fill(costs, self.plan(false), self.cost_limit(limit, n, m))?
        else {
            return Ok(None);
        };
        let (distance, _) = self.best_of(&table, n)?;
        Ok((distance <= limit).then_some(distance))
    }

    /// The best path through costs given row by row. Dimensions and gaps play no part.
    ///
    /// # Errors
    /// As [`Dtw::distance_costs`].
    pub fn align_costs<T: Real>(&self, costs: &mut impl CostRows<T>) -> Result<Alignment<T>> {
        let (n, m) = (costs.query_len(), costs.reference_len());
        let Some(table) = Table::fill(costs, self.plan(true), T::INFINITY)? else {
            return Err(Error::NoPath {
                query: n,
                reference: m,
            });
        };
        let (distance, end) = self.best_of(&table, n)?;
        Ok(Alignment {
            distance,
            path: table.path(&self.params.steps, end),
        })
    }

    /// The measure of the best path between two series, in memory for a few rows: of the shorter
    /// series, or with open ends of the reference.
    ///
    /// # Errors
    /// Different dimensions, no path within window and steps, or a cost the number type cannot hold.
    pub fn distance<T: Real>(&self, query: &Series<T>, reference: &Series<T>) -> Result<T>
    where
        C: LocalCost<T>,
    {
        let found = self.distance_within(query, reference, T::INFINITY)?;
        found.ok_or(Error::NoPath {
            query: query.len(),
            reference: reference.len(),
        })
    }

    /// As [`Dtw::distance`]; `None` when the measure exceeds `limit`, found as early as possible.
    ///
    /// # Errors
    /// As [`Dtw::distance`], and a `limit` of NaN. Given a limit, a pair without a path, or whose cost
    /// overflows, may also be `None`.
    pub fn distance_within<T: Real>(
        &self,
        query: &Series<T>,
        reference: &Series<T>,
        limit: T,
    ) -> Result<Option<T>>
    where
        C: LocalCost<T>,
    {
        query.check_same_dims(reference)?;
        check_limit(limit)?;
        let (n, m) = (query.len(), reference.len());
        let most = self.cost_limit(limit, n, m);
        let found = if self.is_plain() {
            self.cost_by_kernel(query, reference, most)?
        } else {
            self.cost_by_table(query, reference, most)?
        };
        let Some((cost, end)) = found else {
            return Ok(None);
        };
        let distance = self.measured(cost, n, end);
        if limit == T::INFINITY && !distance.is_finite() {
            return Err(self.not_finite::<T>(n, m));
        }
        Ok((distance <= limit).then_some(distance))
    }

    /// Why the cost of the best path is not a finite number.
    pub(crate) fn not_finite<T: Real>(&self, query: usize, reference: usize) -> Error {
        let mut free = CostFn::new(query, reference, |_, _| T::ZERO);
        match self.distance_costs(&mut free) {
            Ok(_) => Error::Overflow { query, reference },
            Err(error) => error,
        }
    }

    /// The cost of the best path and where it ends; `None` once it must exceed `most`.
    fn cost_by_table<T: Real>(
        &self,
        query: &Series<T>,
        reference: &Series<T>,
        most: T,
    ) -> Result<Option<(T, usize)>>
    where
        C: LocalCost<T>,
    {
        let (n, m) = (query.len(), reference.len());
        // Memory goes with the columns; with open ends the reference must be those.
        let turned = n < m && !self.has_open_ends();
        let steps = turned.then(|| self.params.steps.turned());
        let plan = Plan {
            turned,
            steps: steps.as_ref().unwrap_or(&self.params.steps),
            ..self.plan(false)
        };
        let (rows, columns) = if turned {
            (reference, query)
        } else {
            (query, reference)
        };
        let parts = if self.is_independent() {
            query.dims()
        } else {
            1
        };
        let (mut total, mut end) = (T::ZERO, m - 1);
        for part in 0..parts {
            let mut costs = SeriesCosts::new(rows, columns, self.params.cost, self.params.gaps);
            if self.is_independent() {
                costs = costs.of_dimension(part);
            }
            let Some(table) = Table::fill(&mut costs, plan, left_of(most, total))? else {
                return Ok(None);
            };
            let at = if turned {
                n - 1
            } else {
                end = self.end(&table.last, n);
                end
            };
            total += table.last[at];
        }
        Ok(Some((total, end)))
    }

    fn cost_by_kernel<T: Real>(
        &self,
        query: &Series<T>,
        reference: &Series<T>,
        most: T,
    ) -> Result<Option<(T, usize)>>
    where
        C: LocalCost<T>,
    {
        let (n, m, dims) = (query.len(), reference.len(), query.dims());
        self.check_path(n, m)?;
        let band = Band::new(self.params.window, n, m).unwrap_or(Band { below: n, above: m });
        // Memory goes with the second series' length.
        let (query, reference, band) = if n < m {
            (
                reference,
                query,
                Band {
                    below: band.above,
                    above: band.below,
                },
            )
        } else {
            (query, reference, band)
        };
        let any = query.has_gaps() || reference.has_gaps();
        let each = if self.is_independent() { 1 } else { dims };
        let mut total = T::ZERO;
        for first in (0..dims).step_by(each) {
            let part = first..first + each;
            let left = left_of(most, total);
            let found = with_frame_cost!(self.params.cost, self.params.gaps, any, each, |cost| {
                kernel::distance(query, reference, cost, part, band, left)
            })?;
            match found {
                Some(cost) => total += cost,
                None => return Ok(None),
            }
        }
        Ok(Some((total, m - 1)))
    }

    /// The best path between two series.
    ///
    /// Among equally good paths, moves are preferred in the step pattern's order, from the end back.
    ///
    /// # Errors
    /// Different dimensions, no path within window and steps, or independent dimensions, which
    /// share no path (align [`Series::dimension`] for each).
    pub fn align<T: Real>(&self, query: &Series<T>, reference: &Series<T>) -> Result<Alignment<T>>
    where
        C: LocalCost<T>,
    {
        query.check_same_dims(reference)?;
        if self.params.multivariate == Multivariate::Independent && query.dims() > 1 {
            return Err(Error::Incompatible(
                "independent dimensions have no common path; align them one by one",
            ));
        }
        let mut costs = SeriesCosts::new(query, reference, self.params.cost, self.params.gaps);
        match self.align_costs(&mut costs) {
            Err(Error::NoPath { query, reference }) => Err(self.not_finite::<T>(query, reference)),
            found => found,
        }
    }
}

/// What is left of a limit, with room for the rounding of the sum so far.
fn left_of<T: Real>(limit: T, spent: T) -> T {
    if spent == T::ZERO {
        limit
    } else {
        limit - spent + limit * T::from_f64(1e-6)
    }
}

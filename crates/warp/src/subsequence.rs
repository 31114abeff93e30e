//! A short query sought in a long reference.

use std::ops::Range;

use crate::cost::{CostFn, LocalCost};
use crate::dtw::Dtw;
use crate::error::{Error, Result, check_limit};
use crate::kernel;
use crate::local::{SeriesCosts, with_frame_cost};
use crate::real::Real;
use crate::series::Series;
use crate::table::{Plan, Table};
use crate::window::Window;

/// A stretch of the reference that matches the query.
#[derive(Debug, Clone, PartialEq)]
pub struct Match<T> {
    /// Frames of the reference. [`Series::slice`] and [`Dtw::align`] give the path.
    pub reference: Range<usize>,
    /// Measure of the match.
    pub distance: T,
}

impl<C> Dtw<C> {
    /// The `count` best places for `query` in `reference`, best first, none overlapping.
    ///
    /// The first is the best of all; each next one is the best in what the ones before leave of
    /// the reference, so there may be fewer than `count`, and none above `limit`. Among equals the
    /// earlier end comes first. Both ends are open here whatever the options say.
    ///
    /// ```
    /// use setdrift_warp::{Absolute, Dtw, Series};
    ///
    /// let query = Series::univariate(&[3.0, 0.0, 6.0])?;
    /// let reference = Series::univariate(&[2.0, 4.0, 0.0, 4.0, 0.0, 0.0, 5.0, 2.0])?;
    /// let found = Dtw::with_cost(Absolute).check()?.matches(&query, &reference, 1, f64::INFINITY)?;
    /// assert_eq!((found[0].distance, found[0].reference.clone()), (2.0, 3..7));
    /// # Ok::<(), setdrift_warp::Error>(())
    /// ```
    ///
    /// # Errors
    /// Different dimensions, independent dimensions, a window other than [`Window::Full`], a
    /// measure normalised by anything but the query's length, a `limit` of NaN, or, without a limit,
    /// a best place whose cost the number type cannot hold.
    pub fn matches<T: Real>(
        &self,
        query: &Series<T>,
        reference: &Series<T>,
        count: usize,
        limit: T,
    ) -> Result<Vec<Match<T>>>
    where
        C: LocalCost<T>,
    {
        query.check_same_dims(reference)?;
        check_limit(limit)?;
        if self.window() != Window::Full {
            return Err(Error::Incompatible(
                "a subsequence search takes the full window: a band would tie it to one place",
            ));
        }
        if self.is_independent() && query.dims() > 1 {
            return Err(Error::Incompatible(
                "independent dimensions cannot be aligned with open ends: they would end apart",
            ));
        }
        if self.is_normalised_beyond_query() {
            return Err(Error::Incompatible(
                "with an open begin, only patterns normalised by the query's length can be normalised",
            ));
        }
        let mut found = Vec::new();
        // Stretches still free, each with its best match.
        let mut free = Vec::new();
        let mut open: Vec<Range<usize>> = std::iter::once(0..reference.len()).collect();
        while found.len() < count {
            for stretch in open.drain(..).filter(|stretch| !stretch.is_empty()) {
                if let Some(best) = self.best_match(query, reference, stretch.clone(), limit)? {
                    free.push((stretch, best));
                }
            }
            let better = |one: &Match<T>, other: &Match<T>| {
                (one.distance, one.reference.end) < (other.distance, other.reference.end)
            };
            let best =
                (0..free.len()).reduce(|a, b| if better(&free[b].1, &free[a].1) { b } else { a });
            let Some(best) = best else { break };
            let (stretch, best) = free.swap_remove(best);
            open.push(stretch.start..best.reference.start);
            open.push(best.reference.end..stretch.end);
            found.push(best);
        }
        Ok(found)
    }

    /// The best match within a stretch of the reference; `None` without a path, or above `limit`.
    fn best_match<T: Real>(
        &self,
        query: &Series<T>,
        reference: &Series<T>,
        stretch: Range<usize>,
        limit: T,
    ) -> Result<Option<Match<T>>>
    where
        C: LocalCost<T>,
    {
        let part = reference.slice(stretch.clone())?;
        let found = if self.is_unweighted() {
            self.best_by_kernel(query, &part, limit)?
        } else {
            let most = self.cost_limit(limit, query.len(), part.len());
            self.best_by_table(query, &part, limit, most)?
        };
        Ok(found.map(|best| {
            let frames = best.reference.start + stretch.start..best.reference.end + stretch.start;
            Match {
                reference: frames,
                distance: best.distance,
            }
        }))
    }

    /// The kernel finds the best end; the table, over as much of the reference before it as proves
    /// to be enough, finds where that match begins.
    fn best_by_kernel<T: Real>(
        &self,
        query: &Series<T>,
        reference: &Series<T>,
        limit: T,
    ) -> Result<Option<Match<T>>>
    where
        C: LocalCost<T>,
    {
        let most = self.cost_limit(limit, query.len(), reference.len());
        let any = query.has_gaps() || reference.has_gaps();
        let costs = with_frame_cost!(self.cost(), self.gaps(), any, query.dims(), |cost| {
            kernel::open_distances(query, reference, cost, most)
        })?;
        let Some(costs) = costs else {
            return Ok(None);
        };
        // Different costs can have one root, so ends are compared by measure, as elsewhere.
        let least = costs[1..]
            .iter()
            .fold(T::INFINITY, |least, &cost| cost.least(least));
        let measure = self.measured(least, query.len(), reference.len() - 1);
        let ends = |cost: &T| self.measured(*cost, query.len(), reference.len() - 1) <= measure;
        let Some(end) = costs[1..].iter().position(ends) else {
            return Ok(None);
        };
        if limit == T::INFINITY && !measure.is_finite() {
            return Err(overflow(query, reference));
        }
        if !(measure <= limit && least < T::INFINITY) {
            return Ok(None);
        }
        let cost = costs[end + 1];
        let mut reach = 2 * query.len();
        loop {
            let start = (end + 1).saturating_sub(reach);
            let near = reference.slice(start..end + 1)?;
            let table = self.open_table(query, &near, T::INFINITY)?;
            // A path as cheap as the best lies within reach: its beginning is a beginning.
            if let Some(table) = table.filter(|table| table.last[end - start] <= cost || start == 0)
            {
                let begin = start + table.begins[end - start] as usize;
                return Ok(Some(Match {
                    reference: begin..end + 1,
                    distance: measure,
                }));
            }
            reach *= 2;
        }
    }

    fn open_table<T: Real>(
        &self,
        query: &Series<T>,
        reference: &Series<T>,
        most: T,
    ) -> Result<Option<Table<T>>>
    where
        C: LocalCost<T>,
    {
        let mut costs = SeriesCosts::new(query, reference, self.cost(), self.gaps());
        Table::fill(&mut costs, self.open_plan(), most)
    }

    fn best_by_table<T: Real>(
        &self,
        query: &Series<T>,
        reference: &Series<T>,
        limit: T,
        most: T,
    ) -> Result<Option<Match<T>>>
    where
        C: LocalCost<T>,
    {
        let Some(table) = self.open_table(query, reference, most)? else {
            return Ok(None);
        };
        let mut best: Option<Match<T>> = None;
        for (end, (&cost, &begin)) in table.last.iter().zip(&table.begins).enumerate() {
            let distance = self.measured(cost, query.len(), end - begin as usize);
            if distance <= limit
                && distance < best.as_ref().map_or(T::INFINITY, |best| best.distance)
            {
                best = Some(Match {
                    reference: begin as usize..end + 1,
                    distance,
                });
            }
        }
        if best.is_none() && limit == T::INFINITY {
            // No path at all is no match; a path of infinite cost is an error.
            let mut free = CostFn::new(query.len(), reference.len(), |_, _| T::ZERO);
            let paths = Table::fill(&mut free, self.open_plan(), limit)?;
            if paths.is_some_and(|paths| paths.last.contains(&T::ZERO)) {
                return Err(overflow(query, reference));
            }
        }
        Ok(best)
    }

    fn open_plan(&self) -> Plan<'_> {
        Plan {
            open_begin: true,
            ..self.plan(false)
        }
    }
}

fn overflow<T: Real>(query: &Series<T>, reference: &Series<T>) -> Error {
    Error::Overflow {
        query: query.len(),
        reference: reference.len(),
    }
}

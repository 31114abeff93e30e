//! A short query sought in a long reference.

use std::ops::Range;

use crate::cost::{LocalCost, SeriesCosts};
use crate::dtw::Dtw;
use crate::error::{Error, Result};
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
    /// Different dimensions, independent dimensions, a window other than [`Window::Full`], or a
    /// measure normalised by anything but the query's length.
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
        let mut costs = SeriesCosts::new(query, &part, self.cost(), self.gaps());
        let plan = Plan {
            open_begin: true,
            ..self.plan(false)
        };
        let Some(table) = Table::fill(
            &mut costs,
            plan,
            self.cost_limit(limit, query.len(), part.len()),
        )?
        else {
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
        if let Some(best) = &mut best {
            best.reference.start += stretch.start;
            best.reference.end += stretch.start;
        }
        Ok(best)
    }
}

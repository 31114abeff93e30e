//! Words that are series.

use super::grammar::WordId;
use super::settings::FrameCosts;
use crate::cost::{CostRows, Gaps, LocalCost};
use crate::error::Result;
use crate::local::SeriesCosts;
use crate::real::Real;
use crate::series::Series;

/// [`FrameCosts`] of a query series against one reference series per word.
#[derive(Debug, Clone)]
pub struct ReferenceCosts<'a, T, C> {
    query: &'a Series<T>,
    references: &'a [Series<T>],
    cost: C,
    gaps: Gaps,
}

impl<'a, T: Real, C: LocalCost<T>> ReferenceCosts<'a, T, C> {
    /// Costs of `query` against `references`, the `k`-th of which is word `k` of the grammar and as
    /// long as it says there; else decoding is an error. All dimensions share one warp.
    ///
    /// # Errors
    /// Different dimensions, or a gap cost out of range.
    pub fn new(
        query: &'a Series<T>,
        references: &'a [Series<T>],
        cost: C,
        gaps: Gaps,
    ) -> Result<Self> {
        gaps.check()?;
        for one in references {
            query.check_same_dims(one)?;
        }
        Ok(ReferenceCosts {
            query,
            references,
            cost,
            gaps,
        })
    }
}

impl<T: Real, C: LocalCost<T>> FrameCosts<T> for ReferenceCosts<'_, T, C> {
    fn fill(&mut self, query: usize, word: WordId, costs: &mut [T]) {
        match self.references.get(word.0) {
            Some(one) if one.len() == costs.len() && query < self.query.len() => {
                SeriesCosts::new(self.query, one, self.cost, self.gaps).fill(query, 0, costs);
            }
            // The decoder refuses NaN, saying where.
            _ => costs.fill(T::NAN),
        }
    }
}

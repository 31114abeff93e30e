//! What a query is decoded with.

use super::grammar::{WordId, check_cost};
use crate::error::{Error, Result, filled};
use crate::real::Real;

/// Local costs of query frames against the frames of words.
///
/// The decoder asks for query frames in ascending order and, within a frame, for words in ascending
/// order, leaving out those it can prove useless; then once more for each word of the answer, frame
/// by frame. So work may be shared among the words of a frame, and the same question must get the
/// same answer.
pub trait FrameCosts<T = f32> {
    /// Writes the cost of query frame `query` against every frame of `word`; `costs` has the word's
    /// length. Costs are 0 or more; infinity forbids the pairing; NaN or a negative cost makes the
    /// decoder return an error. Cap them here if one bad frame should not sink a word.
    fn fill(&mut self, query: usize, word: WordId, costs: &mut [T]);

    /// As [`Self::fill`] for the frames of `word` from `first` on, as many as `costs` has room for; returns
    /// whether it did. By default it does not, and all are asked for.
    fn fill_from(&mut self, query: usize, word: WordId, first: usize, costs: &mut [T]) -> bool {
        let _ = (query, word, first, costs);
        false
    }

    /// At least what the query costs from frame `query` on when `word` is entered there; infinity
    /// forbids entering. `None`, as by default, when nothing is known. With what is known the decoder
    /// can prove more states useless; the answer does not depend on it where it is true.
    fn entered(&mut self, query: usize, word: WordId) -> Option<T> {
        let _ = (query, word);
        None
    }

    /// Writes, for each frame of `word`, at least what the query costs after frame `query` when that
    /// is matched to it, and returns whether it did; by default it does not. As [`Self::entered`].
    fn rest(&mut self, query: usize, word: WordId, least: &mut [T]) -> bool {
        let _ = (query, word, least);
        false
    }
}

impl<T, F: FnMut(usize, WordId, &mut [T])> FrameCosts<T> for F {
    fn fill(&mut self, query: usize, word: WordId, costs: &mut [T]) {
        self(query, word, costs);
    }
}

/// Cost of a query frame that belongs to no word.
#[derive(Debug, Clone, PartialEq)]
pub enum FillerCost<T = f32> {
    /// The same for every frame.
    Constant(T),
    /// One per query frame.
    PerFrame(Vec<T>),
}

/// The state for whatever matches no word. All costs are finite and 0 or more.
#[derive(Debug, Clone, PartialEq)]
pub struct Filler<T = f32> {
    /// Cost of each filler frame.
    pub cost: FillerCost<T>,
    /// Cost of beginning the query with filler.
    pub from_start: T,
    /// Cost of going from a word to filler, beside the word's `exit` or `broken` cost.
    pub from_word: T,
}

impl<T: Real> Filler<T> {
    /// Filler at `cost` a frame, entered for free.
    pub fn constant(cost: T) -> Self {
        Filler {
            cost: FillerCost::Constant(cost),
            from_start: T::ZERO,
            from_word: T::ZERO,
        }
    }

    /// The cost of each of `len` frames.
    pub(super) fn frames(&self, len: usize) -> Result<Vec<T>> {
        check_cost("from_start", self.from_start, || "the filler".into())?;
        check_cost("from_word", self.from_word, || "the filler".into())?;
        let frames = match &self.cost {
            FillerCost::Constant(cost) => filled(*cost, len, "filler costs")?,
            FillerCost::PerFrame(costs) => costs.clone(),
        };
        if frames.len() != len {
            return Err(Error::LengthMismatch {
                what: "filler costs",
                expected: len,
                found: frames.len(),
            });
        }
        for (frame, &cost) in frames.iter().enumerate() {
            check_cost("the filler cost", cost, || format!("query frame {frame}"))?;
        }
        Ok(frames)
    }
}

/// What one query is decoded with, beside its local costs.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings<T = f32> {
    /// The filler; `None` makes words cover the whole query.
    pub filler: Option<Filler<T>>,
    /// Give up once no explanation can cost this much or less. Exact: an explanation at or below
    /// the bound is found whatever the bound.
    pub abandon_above: Option<T>,
}

impl<T> Default for Settings<T> {
    /// No filler, no bound.
    fn default() -> Self {
        Settings {
            filler: None,
            abandon_above: None,
        }
    }
}

//! The tables of a decoder: costs and tokens of every state, and the history behind the tokens.

use super::grammar::Word;
use crate::error::{Result, filled};
use crate::real::Real;

/// In place of a token: none.
pub(super) const NONE: u32 = u32::MAX;
/// In place of a word: filler.
pub(super) const FILLER: u32 = u32::MAX;

/// Why and when a segment began.
#[derive(Debug, Clone, Copy)]
pub(super) struct Token<T> {
    pub word: u32,
    pub start: u32,
    pub previous: u32,
    pub previous_complete: bool,
    pub transition: T,
}

/// A way into a word or the filler.
#[derive(Debug, Clone, Copy)]
pub(super) struct Entry<T> {
    pub cost: T,
    pub transition: T,
    pub previous: u32,
    pub complete: bool,
}

impl<T: Real> Entry<T> {
    pub const NEVER: Self = Entry {
        cost: T::INFINITY,
        transition: T::ZERO,
        previous: NONE,
        complete: true,
    };

    /// Takes this way in if it is cheaper.
    pub fn offer(&mut self, cost: T, transition: T, previous: u32, complete: bool) {
        let total = cost + transition;
        if total < self.cost {
            *self = Entry {
                cost: total,
                transition,
                previous,
                complete,
            };
        }
    }
}

/// Where a word's states lie in the tables: a padded row of best costs, then one row per number
/// of stays so far.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    pub base: usize,
    pub pad: usize,
    pub len: usize,
    /// Rows kept beside the best: stays 0..max_stay−1.
    pub rows: usize,
    pub unbounded: bool,
    pub wait_at_end: bool,
}

impl Place {
    pub fn new<T>(base: usize, word: &Word<T>) -> Self {
        // More skips than the word has frames change nothing.
        let pad = 1 + word.tempo.max_skip.min(word.len - 1);
        Place {
            base,
            pad,
            len: word.len,
            rows: word.tempo.max_stay.unwrap_or(0),
            unbounded: word.tempo.max_stay.is_none(),
            wait_at_end: word.wait_at_end,
        }
    }

    pub fn size(&self) -> usize {
        self.pad + self.len * (1 + self.rows)
    }

    /// All of the word's states.
    pub fn block(&self) -> std::ops::Range<usize> {
        self.base..self.base + self.size()
    }

    /// The best state of each reference frame.
    pub fn best(&self) -> std::ops::Range<usize> {
        self.base + self.pad..self.base + self.pad + self.len
    }
}

/// Costs and tokens of all states after one query frame.
#[derive(Debug)]
pub(super) struct States<T> {
    pub costs: Vec<T>,
    pub tokens: Vec<u32>,
}

/// The state of every word as seen from outside, after one query frame.
#[derive(Debug)]
pub(super) struct Exits<T> {
    pub live: Vec<bool>,
    /// Cost at the last frame.
    pub complete: Vec<T>,
    pub complete_token: Vec<u32>,
    /// Least cost before the last frame, where breaking off is possible.
    pub broken: Vec<T>,
}

impl<T: Real> States<T> {
    pub fn new(states: usize) -> Result<Self> {
        Ok(States {
            costs: filled(T::INFINITY, states, "decoder states")?,
            tokens: filled(NONE, states, "decoder states")?,
        })
    }
}

impl<T: Real> Exits<T> {
    pub fn new(words: usize) -> Result<Self> {
        let costs = filled(T::INFINITY, words, "words")?;
        Ok(Exits {
            live: filled(false, words, "words")?,
            complete: costs.clone(),
            complete_token: filled(NONE, words, "words")?,
            broken: costs,
        })
    }

    /// Back to before the first frame.
    pub fn reset(&mut self) {
        self.live.fill(false);
        self.complete.fill(T::INFINITY);
        self.broken.fill(T::INFINITY);
    }
}

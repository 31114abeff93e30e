//! The tables of a decoder: costs and tokens of every state, and the history behind the tokens.

use std::ops::Range;

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
    pub fn block(&self) -> Range<usize> {
        self.base..self.base + self.size()
    }

    /// The reference frames that are reached from the frames `useful`, or when the word is `entered`.
    pub fn reach(&self, useful: &Range<usize>, entered: bool) -> Range<usize> {
        if useful.is_empty() {
            return 0..1;
        }
        let start = if entered { 0 } else { useful.start };
        start..(useful.end + self.pad).min(self.len)
    }

    /// The best states of some reference frames.
    pub fn best_of(&self, rows: Range<usize>) -> Range<usize> {
        let first = self.base + self.pad;
        first + rows.start..first + rows.end
    }

    /// The best state of each reference frame.
    pub fn best(&self) -> Range<usize> {
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
    /// The word's frames that were reached.
    pub reached: Vec<Range<usize>>,
    /// From the first to the last of those that can be part of the answer.
    pub useful: Vec<Range<usize>>,
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

impl<T: Real> States<T> {
    /// Forgets what stands at the frames of a word that can be moved on to `rows` or that these can be
    /// reached from, but for its frames `useful`.
    pub fn forget(&mut self, place: &Place, rows: &Range<usize>, useful: &Range<usize>) {
        let before = useful.start.max(rows.start);
        let after = useful.end.min(rows.end);
        let lead = rows.start.saturating_sub(place.pad);
        self.costs[place.best_of(lead..before.max(lead))].fill(T::INFINITY);
        self.costs[place.best_of(after..rows.end)].fill(T::INFINITY);
        let stays = place.base + place.pad + place.len;
        for row in (0..place.rows).map(|row| stays + row * place.len) {
            self.costs[row + rows.start..row + before].fill(T::INFINITY);
            self.costs[row + after..row + rows.end].fill(T::INFINITY);
        }
    }
}

impl<T: Real> Exits<T> {
    pub fn new(words: usize) -> Result<Self> {
        let costs = filled(T::INFINITY, words, "words")?;
        Ok(Exits {
            live: filled(false, words, "words")?,
            reached: filled(0..0, words, "words")?,
            useful: filled(0..0, words, "words")?,
            complete: costs.clone(),
            complete_token: filled(NONE, words, "words")?,
            broken: costs,
        })
    }

    /// Back to before the first frame.
    pub fn reset(&mut self) {
        self.live.fill(false);
        self.useful.fill(0..0);
        self.complete.fill(T::INFINITY);
        self.broken.fill(T::INFINITY);
    }
}

//! What the decoder is told of words: what they cost in a frame, and what a relaxation says of the rest.

use crate::{
    decode::{Key, Search},
    parts::{LANES, Parts},
    tables::Tables,
};
use setdrift_warp::connected::{FrameCosts, WordId};
use std::ops::Range;

/// What a relaxation and an explanation at hand say of the words left.
pub struct Known {
    /// Cost of the explanation at hand.
    pub most: f32,
    /// Per word, the frames it may hold.
    pub windows: Vec<Range<usize>>,
    /// `[frame of its window][part]` of each word: the least cost of the frames after.
    pub rest: Vec<f32>,
    /// Per word, where it begins in `rest`.
    pub first: Vec<usize>,
}

impl Known {
    /// What `tables` say of words cut into `parts`, where an explanation costs `most`; and which words those
    /// are of which they leave something.
    pub fn new(parts: &Parts, tables: &Tables, most: f32) -> (Vec<usize>, Self) {
        let mut known = Self {
            most,
            windows: Vec::new(),
            rest: Vec::new(),
            first: Vec::new(),
        };
        let mut left = Vec::new();
        let windows = tables.windows(parts, most).into_iter().enumerate();
        for (word, window) in windows.filter_map(|(word, window)| Some((word, window?))) {
            let (block, lane) = parts.place(word);
            known.first.push(known.rest.len());
            for t in window.clone() {
                let (rest, rows) = (tables.rest(t), block.first..block.first + block.stays.len());
                known.rest.extend(rows.map(|row| rest[row * LANES + lane]));
            }
            known.windows.push(window);
            left.push(word);
        }
        (left, known)
    }
}

/// What the decoder asks of words.
pub struct WordCosts<'a> {
    /// The search.
    pub search: &'a Search<'a>,
    /// The words.
    pub keys: &'a [Key],
    /// First query frame of the stretch.
    pub start: usize,
    /// What is known of them.
    pub known: Option<Known>,
    /// Cells asked for.
    pub filled: usize,
}

impl FrameCosts for WordCosts<'_> {
    fn fill(&mut self, query: usize, word: WordId, out: &mut [f32]) {
        self.fill_from(query, word, 0, out);
    }

    fn fill_from(&mut self, query: usize, word: WordId, first: usize, out: &mut [f32]) -> bool {
        let known = self.known.as_ref();
        if known.is_some_and(|known| !known.windows[word.0].contains(&query)) {
            out.fill(f32::INFINITY);
            return true;
        }
        self.filled += out.len();
        let key = self.keys[word.0];
        let first = self.search.templates.list[key.template].first + first;
        let assignment = &self.search.assignments[key.assignment];
        let hand = key.hand as usize;
        let costs = self.search.costs;
        costs.fill(self.start + query, hand, assignment, first, out);
        true
    }

    fn entered(&mut self, query: usize, word: WordId) -> Option<f32> {
        let known = self.known.as_ref()?;
        (!known.windows[word.0].contains(&query)).then_some(f32::INFINITY)
    }

    fn rest(&mut self, query: usize, word: WordId, least: &mut [f32]) -> bool {
        let Some(known) = &self.known else {
            return false;
        };
        let window = &known.windows[word.0];
        if !window.contains(&query) {
            least.fill(f32::INFINITY);
            return true;
        }
        let rest = &known.rest[known.first[word.0]..];
        let parts = self.search.cuts.parts(self.keys[word.0].template);
        let rest = &rest[(query - window.start) * parts.len()..];
        for (rows, rest) in parts.iter().zip(rest) {
            least[rows.clone()].fill(*rest);
        }
        true
    }
}

//! Words cut into parts, for a relaxation that is closer to the truth than one state a word.

use crate::{cost::Bounds, decode::Key};

/// Words cut into parts: for each template, part after part, each under every hypothesis.
pub struct Parts {
    /// Which key and which of its parts.
    pub of: Vec<(usize, usize)>,
    /// Per key, where its parts are.
    at: Vec<Vec<usize>>,
}

impl Parts {
    /// Cuts the words of `keys`, which are in order.
    pub fn new(keys: &[Key], bounds: &Bounds) -> Self {
        let mut parts = Self {
            of: Vec::new(),
            at: vec![Vec::new(); keys.len()],
        };
        let mut first = 0;
        for same in keys.chunk_by(|a, b| a.template == b.template) {
            for part in 0..bounds.parts(same[0].template).len() {
                for key in first..first + same.len() {
                    parts.at[key].push(parts.of.len());
                    parts.of.push((key, part));
                }
            }
            first += same.len();
        }
        parts
    }

    /// Whether a word ends with this part.
    pub fn is_last(&self, word: usize) -> bool {
        let (key, part) = self.of[word];
        part + 1 == self.at[key].len()
    }

    /// From part to part, and from a last part to the first of what may follow.
    pub fn edges(&self, between: &[(usize, usize)]) -> Vec<(usize, usize)> {
        let pairs = self.at.iter().flat_map(|at| at.windows(2));
        let next =
            |(from, to): &(usize, usize)| Some((*self.at[*from].last()?, *self.at[*to].first()?));
        let next = between.iter().filter_map(next);
        pairs.map(|pair| (pair[0], pair[1])).chain(next).collect()
    }

    /// Parts of one length that stand together: where they end, and the fewest frames they can last.
    pub fn groups(&self, keys: &[Key], bounds: &Bounds, fastest: usize) -> Vec<(usize, usize)> {
        let alike = |a: &(usize, usize), b: &(usize, usize)| {
            keys[a.0].template == keys[b.0].template && a.1 == b.1
        };
        let mut end = 0;
        let group = |same: &[(usize, usize)]| {
            let (key, part) = same[0];
            let shortest = match bounds.parts(keys[key].template) {
                [whole] => whole.len().div_ceil(fastest),
                all => all[part].len() / fastest,
            };
            end += same.len();
            (end, shortest.max(1))
        };
        self.of.chunk_by(alike).map(group).collect()
    }
}

//! Words as states of the relaxation: each one state, or a chain of them, one for each part of its
//! reference.

use crate::decode::Key;

/// States: those that last alike long together; among them for each template, part after part, each under
/// every hypothesis.
pub struct Parts {
    /// Which key and which of its parts.
    pub of: Vec<(usize, usize)>,
    /// Parts of one length that stand together: where they end, and the fewest frames they can last.
    pub groups: Vec<(usize, usize)>,
    /// Per key, where its parts are.
    at: Vec<Vec<usize>>,
}

impl Parts {
    /// Cuts the words of `keys`, which are in order; `shortest` gives the fewest frames that each part
    /// of a template can last.
    pub fn new(keys: &[Key], shortest: impl Fn(usize) -> Vec<usize>) -> Self {
        let mut parts = Self {
            of: Vec::new(),
            groups: Vec::new(),
            at: vec![Vec::new(); keys.len()],
        };
        let mut pieces = Vec::new();
        let mut first = 0;
        for same in keys.chunk_by(|a, b| a.template == b.template) {
            let words = first..first + same.len();
            first = words.end;
            let shortest = shortest(same[0].template).into_iter().enumerate();
            pieces.extend(shortest.map(|(part, shortest)| (shortest, part, words.clone())));
        }
        // Long groups are quick to go through.
        pieces.sort_by_key(|(shortest, ..)| *shortest);
        for same in pieces.chunk_by(|a, b| a.0 == b.0) {
            for (_, part, words) in same {
                parts.of.extend(words.clone().map(|key| (key, *part)));
            }
            parts.groups.push((parts.of.len(), same[0].0));
        }
        let mut states: Vec<usize> = (0..parts.of.len()).collect();
        states.sort_by_key(|state| parts.of[*state].1);
        for state in states {
            parts.at[parts.of[state].0].push(state);
        }
        parts
    }

    /// The states of a word's parts, in order.
    pub fn states(&self, key: usize) -> &[usize] {
        &self.at[key]
    }

    /// Whether a word ends with this part.
    pub fn is_last(&self, state: usize) -> bool {
        let (key, part) = self.of[state];
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
}

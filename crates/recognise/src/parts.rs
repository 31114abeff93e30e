//! Words as states of the relaxation: each one state, or a chain of them, one for each part of its
//! reference.

use crate::decode::Key;

/// States: for each template, part after part, each under every hypothesis.
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
        let mut first = 0;
        for same in keys.chunk_by(|a, b| a.template == b.template) {
            for (part, shortest) in shortest(same[0].template).into_iter().enumerate() {
                for key in first..first + same.len() {
                    parts.at[key].push(parts.of.len());
                    parts.of.push((key, part));
                }
                parts.groups.push((parts.of.len(), shortest));
            }
            first += same.len();
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

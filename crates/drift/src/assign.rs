//! Which player of one stretch answers to which of another: all assignments, best first.

/// Most players that are matched exactly: 720 assignments.
pub const MOST_PLAYERS: usize = 6;

/// All ways to match `n` rows with `n` rows, in lexicographic order.
#[derive(Debug, Clone)]
pub(crate) struct Assignments {
    n: usize,
    all: Vec<[u8; MOST_PLAYERS]>,
}

impl Assignments {
    /// `n` at most [`MOST_PLAYERS`].
    pub fn new(n: usize) -> Self {
        let n = n.min(MOST_PLAYERS);
        let mut all = vec![[0_u8; MOST_PLAYERS]];
        // Grow row by row: every partial matching with every row that is still free.
        for row in 0..n {
            all = all
                .iter()
                .flat_map(|part| {
                    (0..n as u8)
                        .filter(|c| !part[..row].contains(c))
                        .map(|c| {
                            let mut next = *part;
                            next[row] = c;
                            next
                        })
                        .collect::<Vec<_>>()
                })
                .collect();
        }
        Self { n, all }
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.all.len()
    }

    /// Every assignment with its cost, cheapest first; among equals the first in order.
    /// `cost[i * n + j]` is the cost of row `i` with row `j`.
    pub fn ranked(&self, cost: &[f64]) -> Vec<(f64, &[u8])> {
        let mut ranked: Vec<_> = self
            .all
            .iter()
            .map(|a| {
                let a = &a[..self.n];
                let sum = a
                    .iter()
                    .enumerate()
                    .map(|(i, &j)| cost[i * self.n + usize::from(j)])
                    .sum::<f64>();
                (sum, a)
            })
            .collect();
        ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
        ranked
    }
}

/// The cheapest assignment of `n` rows to `n` columns and its cost, by looking at all of them.
///
/// `cost[i * n + j]`; the result's entry `i` is the column of row `i`. `None` when `n` is above
/// [`MOST_PLAYERS`] or `cost` is not `n · n` long.
///
/// # Complexity
/// `n · n!`, at most 4,320 additions.
#[must_use]
pub fn best_assignment(cost: &[f64], n: usize) -> Option<(f64, Vec<usize>)> {
    if n > MOST_PLAYERS || cost.len() != n * n {
        return None;
    }
    let all = Assignments::new(n);
    let (sum, a) = all.ranked(cost).into_iter().next()?;
    Some((sum, a.iter().map(|&j| usize::from(j)).collect()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_are_factorials_without_repeats() {
        for (n, count) in [(0, 1), (1, 1), (3, 6), (5, 120), (6, 720)] {
            let mut all = Assignments::new(n).all;
            assert_eq!(all.len(), count);
            all.sort_unstable();
            all.dedup();
            assert_eq!(all.len(), count);
        }
    }

    #[test]
    fn ranked_rises() {
        let cost: Vec<f64> = (0..25).map(|i| f64::from((i * 37 + 11) % 23)).collect();
        let all = Assignments::new(5);
        let ranked = all.ranked(&cost);
        assert!(ranked.windows(2).all(|w| w[0].0 <= w[1].0));
    }

    #[test]
    fn wrong_shapes_have_no_assignment() {
        assert_eq!(best_assignment(&[0.0; 49], 7), None);
        assert_eq!(best_assignment(&[0.0; 3], 2), None);
    }
}

//! The trees that score a meeting of two team-mates as a screen: gradient boosting on the
//! logistic loss (Friedman 2001, Ann. Statist. 29(5), 1189–1232), fitted by the script named in
//! `docs/method-events.md`.

use std::sync::OnceLock;

/// One line a tree: its nodes, first the root, as `look<threshold:left:right` or the leaf's nats;
/// the first line is what every meeting begins with.
const TABLE: &str = include_str!("screens.trees");

#[derive(Debug, Clone, Copy)]
enum Node {
    /// Left when a look is at most a threshold.
    Split(usize, f64, usize, usize),
    Leaf(f64),
}

#[derive(Debug)]
struct Trees {
    base: f64,
    trees: Vec<Vec<Node>>,
}

/// Probability that a meeting is a screen.
pub(crate) fn confidence(looks: &[f64]) -> f64 {
    static TREES: OnceLock<Trees> = OnceLock::new();
    let t = TREES.get_or_init(|| {
        read(TABLE).unwrap_or(Trees {
            base: f64::NEG_INFINITY,
            trees: Vec::new(),
        })
    });
    let nats = t
        .trees
        .iter()
        .fold(t.base, |sum, tree| sum + leaf(tree, looks));
    1.0 / (1.0 + (-nats).exp())
}

fn leaf(tree: &[Node], looks: &[f64]) -> f64 {
    let mut at = 0;
    loop {
        match tree[at] {
            Node::Leaf(nats) => return nats,
            Node::Split(look, most, left, right) => {
                at = if looks[look] <= most { left } else { right };
            }
        }
    }
}

fn read(table: &str) -> Option<Trees> {
    let mut lines = table.lines();
    let base = lines.next()?.parse().ok()?;
    let trees = lines
        .map(|l| {
            l.split_whitespace()
                .map(node)
                .collect::<Option<Vec<Node>>>()
        })
        .collect::<Option<Vec<_>>>()?;
    Some(Trees { base, trees })
}

fn node(word: &str) -> Option<Node> {
    let Some((look, rest)) = word.split_once('<') else {
        return Some(Node::Leaf(word.parse().ok()?));
    };
    let mut parts = rest.split(':');
    Some(Node::Split(
        look.parse().ok()?,
        parts.next()?.parse().ok()?,
        parts.next()?.parse().ok()?,
        parts.next()?.parse().ok()?,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::screens::LOOKS_AT;

    /// Every node leads to a later one of its tree and looks at a number that there is.
    #[test]
    fn the_table_is_whole() {
        let t = read(TABLE).unwrap();
        assert!(!t.trees.is_empty());
        for tree in &t.trees {
            for (i, n) in tree.iter().enumerate() {
                if let Node::Split(look, _, left, right) = n {
                    assert!(*look < LOOKS_AT && *left > i && *right > i);
                    assert!(*left < tree.len() && *right < tree.len());
                }
            }
        }
    }

    #[test]
    fn a_split_goes_left_up_to_its_threshold() {
        let t = read("0.5\n0<1.5:1:2 -1 2").unwrap();
        assert_eq!(leaf(&t.trees[0], &[1.5]), -1.0);
        assert_eq!(leaf(&t.trees[0], &[1.6]), 2.0);
    }
}

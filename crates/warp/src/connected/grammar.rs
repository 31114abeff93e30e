//! Which words there are and what may follow what.

use crate::error::{Error, Result};
use crate::real::Real;

/// A word of a [`Grammar`], numbered from 0 in the order they were added.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct WordId(pub usize);

/// A hub of a [`Grammar`], numbered from 0 in the order they were added.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct HubId(pub usize);

/// How far the tempo inside a word may depart from its reference.
///
/// From one query frame to the next the reference index advances by `0..=1 + max_skip`; an advance
/// of 0 is a *stay*.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tempo {
    /// Reference frames that may be jumped over in one advance: 1 allows twice the reference speed.
    pub max_skip: usize,
    /// Consecutive stays allowed at one reference frame: 1 allows half the reference speed.
    /// `None` leaves waiting unbounded everywhere.
    pub max_stay: Option<usize>,
}

impl Default for Tempo {
    /// Half to double speed.
    fn default() -> Self {
        Tempo {
            max_skip: 1,
            max_stay: Some(1),
        }
    }
}

/// One reference of the vocabulary. All costs are 0 or more and finite; `None` forbids the move.
#[derive(Debug, Clone, PartialEq)]
pub struct Word<T = f32> {
    /// Reference length in frames, at least 1. A word is entered at its first frame.
    pub len: usize,
    /// Bounds on the tempo.
    pub tempo: Tempo,
    /// Whether any number of query frames may wait at the last reference frame.
    pub wait_at_end: bool,
    /// Cost of entering at the first query frame.
    pub from_start: Option<T>,
    /// Cost of entering after filler.
    pub from_filler: Option<T>,
    /// Cost added when the word is left, complete, for another word, a hub or filler. `None` lets
    /// a complete word only end the query.
    pub exit: Option<T>,
    /// Cost added when the query ends with the word complete.
    pub at_end: Option<T>,
    /// Cost added when the word is left before its last frame: for filler, or along an edge that
    /// takes broken words.
    pub broken: Option<T>,
    /// Cost added when the query ends before the word's last frame.
    pub broken_at_end: Option<T>,
}

impl<T: Real> Word<T> {
    /// A word of `len` frames that may be entered from the start and from filler and left when
    /// complete, all free, and never broken off.
    pub fn new(len: usize) -> Self {
        Word {
            len,
            tempo: Tempo::default(),
            wait_at_end: false,
            from_start: Some(T::ZERO),
            from_filler: Some(T::ZERO),
            exit: Some(T::ZERO),
            at_end: Some(T::ZERO),
            broken: None,
            broken_at_end: None,
        }
    }
}

#[derive(Debug, Clone, Copy)]
struct Edge<T> {
    from: usize,
    to: usize,
    cost: T,
    broken: bool,
}

/// A grammar under construction: words, edges between them, hubs. [`Grammar::check`] makes it usable.
///
/// A *hub* joins many words to many others with `m + n` arcs in place of `m · n` edges; it takes no
/// query frame.
#[derive(Debug, Clone)]
pub struct Grammar<T = f32> {
    words: Vec<Word<T>>,
    edges: Vec<Edge<T>>,
    into_hub: Vec<Edge<T>>,
    out_of_hub: Vec<Edge<T>>,
    hubs: usize,
}

impl<T: Real> Grammar<T> {
    /// An empty grammar.
    pub fn new() -> Self {
        Grammar {
            words: Vec::new(),
            edges: Vec::new(),
            into_hub: Vec::new(),
            out_of_hub: Vec::new(),
            hubs: 0,
        }
    }

    /// Adds a word.
    pub fn word(&mut self, word: Word<T>) -> WordId {
        self.words.push(word);
        WordId(self.words.len() - 1)
    }

    /// Lets `to` follow `from` once `from` is complete, at `cost` (beside `from`'s exit cost).
    pub fn edge(&mut self, from: WordId, to: WordId, cost: T) -> &mut Self {
        self.edges.push(Edge {
            from: from.0,
            to: to.0,
            cost,
            broken: false,
        });
        self
    }

    /// As [`Grammar::edge`], and also once `from` is broken off (beside its `broken` cost).
    pub fn edge_even_broken(&mut self, from: WordId, to: WordId, cost: T) -> &mut Self {
        self.edges.push(Edge {
            from: from.0,
            to: to.0,
            cost,
            broken: true,
        });
        self
    }

    /// Adds a hub.
    pub fn hub(&mut self) -> HubId {
        self.hubs += 1;
        HubId(self.hubs - 1)
    }

    /// Lets a complete `from` go to the hub at `cost`.
    pub fn into_hub(&mut self, from: WordId, hub: HubId, cost: T) -> &mut Self {
        self.into_hub.push(Edge {
            from: from.0,
            to: hub.0,
            cost,
            broken: false,
        });
        self
    }

    /// Lets `to` be entered from the hub at `cost`.
    pub fn out_of_hub(&mut self, hub: HubId, to: WordId, cost: T) -> &mut Self {
        self.out_of_hub.push(Edge {
            from: hub.0,
            to: to.0,
            cost,
            broken: false,
        });
        self
    }

    /// Checks the grammar and lays it out for decoding.
    ///
    /// # Errors
    /// No words, a word of length 0, a negative or non-finite cost, or an edge to a word or hub
    /// that does not exist.
    pub fn check(self) -> Result<ValidGrammar<T>> {
        if self.words.is_empty() {
            return Err(Error::Empty("the grammar's vocabulary"));
        }
        let limit = (u32::MAX >> 2) as usize;
        let cells: usize = self
            .words
            .iter()
            .map(|word| word.len)
            .fold(0, usize::saturating_add);
        if cells > limit {
            return Err(Error::TooLarge {
                what: "sum of the reference lengths",
                found: cells,
                limit,
            });
        }
        for (index, word) in self.words.iter().enumerate() {
            check_word(index, word)?;
        }
        let words = self.words.len();
        for edge in &self.edges {
            check_edge(edge, "edge", ("word", words), ("word", words))?;
        }
        for edge in &self.into_hub {
            check_edge(edge, "arc into hub", ("word", words), ("hub", self.hubs))?;
        }
        for edge in &self.out_of_hub {
            check_edge(edge, "arc out of hub", ("hub", self.hubs), ("word", words))?;
        }
        Ok(ValidGrammar {
            edges: Arcs::by_target(&self.edges, words),
            into_hub: Arcs::by_target(&self.into_hub, self.hubs),
            out_of_hub: Arcs::by_target(&self.out_of_hub, words),
            words: self.words,
        })
    }
}

impl<T: Real> Default for Grammar<T> {
    fn default() -> Self {
        Self::new()
    }
}

fn check_word<T: Real>(index: usize, word: &Word<T>) -> Result<()> {
    if word.len == 0 {
        return Err(Error::EmptySeries);
    }
    let costs = [
        ("from_start", word.from_start),
        ("from_filler", word.from_filler),
        ("exit", word.exit),
        ("at_end", word.at_end),
        ("broken", word.broken),
        ("broken_at_end", word.broken_at_end),
    ];
    for (name, cost) in costs {
        if let Some(cost) = cost {
            check_cost(name, cost, || format!("word {index}"))?;
        }
    }
    Ok(())
}

fn check_edge<T: Real>(
    edge: &Edge<T>,
    name: &'static str,
    from: (&'static str, usize),
    to: (&'static str, usize),
) -> Result<()> {
    for (index, (kind, count)) in [(edge.from, from), (edge.to, to)] {
        if index >= count {
            return Err(Error::UnknownNode { kind, index, count });
        }
    }
    check_cost(name, edge.cost, || {
        format!("{} {} to {} {}", from.0, edge.from, to.0, edge.to)
    })
}

pub(super) fn check_cost<T: Real>(
    name: &'static str,
    cost: T,
    place: impl FnOnce() -> String,
) -> Result<()> {
    if cost >= T::ZERO && cost.is_finite() {
        Ok(())
    } else {
        Err(Error::TransitionCost {
            name,
            place: place(),
            value: cost.to_f64(),
        })
    }
}

/// An arc as its target sees it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Arc<T> {
    pub from: u32,
    pub cost: T,
    pub broken: bool,
}

/// Arcs grouped by target, in the order they were added.
#[derive(Debug, Clone)]
pub(super) struct Arcs<T> {
    first: Vec<usize>,
    arcs: Vec<Arc<T>>,
}

impl<T: Real> Arcs<T> {
    fn by_target(edges: &[Edge<T>], targets: usize) -> Self {
        let mut first = vec![0; targets + 1];
        for edge in edges {
            first[edge.to + 1] += 1;
        }
        for target in 0..targets {
            first[target + 1] += first[target];
        }
        let mut next = first.clone();
        let mut arcs = vec![
            Arc {
                from: 0,
                cost: T::ZERO,
                broken: false
            };
            edges.len()
        ];
        for edge in edges {
            arcs[next[edge.to]] = Arc {
                from: edge.from as u32,
                cost: edge.cost,
                broken: edge.broken,
            };
            next[edge.to] += 1;
        }
        Arcs { first, arcs }
    }

    pub fn to(&self, target: usize) -> &[Arc<T>] {
        &self.arcs[self.first[target]..self.first[target + 1]]
    }

    pub fn targets(&self) -> usize {
        self.first.len() - 1
    }
}

/// A checked grammar, ready to decode with.
#[derive(Debug, Clone)]
pub struct ValidGrammar<T = f32> {
    pub(super) words: Vec<Word<T>>,
    pub(super) edges: Arcs<T>,
    pub(super) into_hub: Arcs<T>,
    pub(super) out_of_hub: Arcs<T>,
}

impl<T: Real> ValidGrammar<T> {
    /// Number of words.
    pub fn len(&self) -> usize {
        self.words.len()
    }

    /// Always false: a checked grammar has at least one word.
    pub fn is_empty(&self) -> bool {
        self.words.is_empty()
    }

    /// A word, or `None` when there is no such word.
    pub fn word(&self, id: WordId) -> Option<&Word<T>> {
        self.words.get(id.0)
    }

    /// Total number of reference frames.
    pub fn cells(&self) -> usize {
        self.words.iter().map(|word| word.len).sum()
    }
}

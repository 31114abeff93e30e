//! Connected (one-stage) decoding: one query against a graph of references.
//!
//! A query is explained as a sequence of *words* (reference series) and *filler* (stretches that
//! match no word). A [`Grammar`] says which words may begin, follow one another, be broken off and
//! end the query, and at what cost; the decoder finds the cheapest explanation in one pass over the
//! query (Vintsyuk 1971; Bridle, Brown & Chamberlain 1982; Ney 1984, IEEE TASSP 32(2), 263–271).
//!
//! Weights are asymmetric: each query frame is counted exactly once, either against one frame of
//! one word or as filler, so totals of different explanations compare.
//!
//! ```
//! use setdrift_warp::connected::*;
//! use setdrift_warp::{Absolute, Gaps, Series};
//!
//! // "up" and "down", one after the other in any order, 0.5 for a frame of anything else.
//! let references = [
//!     Series::univariate(&[0.0, 1.0, 2.0])?,
//!     Series::univariate(&[2.0, 1.0, 0.0])?,
//! ];
//! let mut grammar = Grammar::new();
//! let (up, down) = (grammar.word(Word::new(3)), grammar.word(Word::new(3)));
//! grammar.edge(up, down, 0.0).edge(down, up, 0.0);
//! let grammar = grammar.check()?;
//!
//! let query = Series::univariate(&[0.0, 1.0, 1.0, 2.0, 2.0, 1.0, 0.0, 7.0, 7.0])?;
//! let mut costs = ReferenceCosts::new(&query, &references, Absolute, Gaps::default())?;
//! let settings = Settings { filler: Some(Filler::constant(0.5)), ..Settings::default() };
//! let found = Decoder::new(&grammar)?.decode(query.len(), &mut costs, &settings)?;
//! let found = found.expect("filler alone explains any query");
//! let kinds: Vec<_> = found.segments.iter().map(|one| (one.kind, one.start, one.end)).collect();
//! let word = SegmentKind::Word;
//! assert_eq!(kinds, [(word(up), 0, 4), (word(down), 4, 7), (SegmentKind::Filler, 7, 9)]);
//! assert_eq!(found.segments[0].alignment, [0, 1, 1, 2]);
//! assert_eq!(found.total, 1.0);
//! # Ok::<(), setdrift_warp::Error>(())
//! ```
//!
//! Costs that are no plain difference of coordinates come from one's own [`FrameCosts`], or a closure.

mod advance;
mod align;
mod decoder;
mod explanation;
mod grammar;
mod references;
mod remaining;
mod settings;
mod states;
#[cfg(test)]
mod tests;

pub use decoder::Decoder;
pub use explanation::{Decoding, Segment, SegmentKind};
pub use grammar::{Grammar, HubId, Tempo, ValidGrammar, Word, WordId};
pub use references::ReferenceCosts;
pub use settings::{Filler, FillerCost, FrameCosts, Settings};

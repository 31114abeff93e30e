//! Connected (one-stage) decoding: one query against a graph of references.
//!
//! A query is explained as a sequence of *words* (reference series) and *filler* (stretches that
//! match no word). A [`Grammar`] says which words may begin, follow one another, be broken off and
//! end the query, and at what cost; the decoder finds the cheapest explanation in one pass over the
//! query (Vintsyuk 1971; Bridle, Brown & Chamberlain 1982; Ney 1984, IEEE TASSP 32(2), 263–271).
//!
//! Weights are asymmetric: each query frame is counted exactly once, either against one frame of
//! one word or as filler, so totals of different explanations compare.

mod advance;
mod align;
mod decoder;
mod explanation;
mod grammar;
mod remaining;
mod settings;
mod states;
#[cfg(test)]
mod tests;

pub use decoder::Decoder;
pub use explanation::{Decoding, Segment, SegmentKind};
pub use grammar::{Grammar, HubId, Tempo, ValidGrammar, Word, WordId};
pub use settings::{Filler, FillerCost, FrameCosts, Settings};

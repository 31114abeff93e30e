//! What a query was explained as.

use super::grammar::WordId;

/// What a segment of the query was.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SegmentKind {
    /// A word.
    Word(WordId),
    /// Filler.
    Filler,
}

/// A stretch of the query explained by one word or by filler.
#[derive(Debug, Clone, PartialEq)]
pub struct Segment {
    /// The word, or filler.
    pub kind: SegmentKind,
    /// First query frame.
    pub start: usize,
    /// One past the last query frame.
    pub end: usize,
    /// Whether the word's last frame was reached; true for filler.
    pub complete: bool,
    /// Sum of the local (or filler) costs.
    pub cost: f64,
    /// Cost of the move into this segment, with the exit or broken cost of the one before.
    pub transition: f64,
    /// For each query frame of the segment, the reference frame it is matched to; empty for
    /// filler. It begins at 0 and never falls; its last entry is the last reference frame reached.
    pub alignment: Vec<u32>,
}

/// The cheapest explanation of a query.
#[derive(Debug, Clone, PartialEq)]
pub struct Decoding {
    /// Sum of the segments' costs and transitions, and the ending.
    pub total: f64,
    /// Segments in order; they cover the query without gap or overlap.
    pub segments: Vec<Segment>,
    /// Cost of ending the query where it ended (`at_end` or `broken_at_end`).
    pub ending: f64,
}

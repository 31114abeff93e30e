//! What can be wrong with the input, said with the offending value and the limit.

use thiserror::Error;

/// Everything that can go wrong in this crate; no input makes it panic.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum Error {
    /// A series without frames.
    #[error("a series needs at least one frame")]
    EmptySeries,
    /// A series without coordinates.
    #[error("a series needs at least one dimension")]
    NoDimensions,
    /// The values do not divide into whole frames.
    #[error("{values} values do not divide into frames of {dims} dimensions")]
    RaggedFrames {
        /// Number of values given.
        values: usize,
        /// Dimensions of a frame.
        dims: usize,
    },
    /// A value that is not a number, or infinite, where numbers are needed.
    #[error(
        "frame {frame}, dimension {dim} is {value}; give a finite number (or build the series with gaps, where NaN means unknown)"
    )]
    NotFinite {
        /// Frame, from 0.
        frame: usize,
        /// Dimension, from 0.
        dim: usize,
        /// The value found.
        value: f64,
    },
    /// Two series of different dimensions.
    #[error("the query has {query} dimensions and the reference {reference}; they must agree")]
    DimensionMismatch {
        /// Dimensions of the query.
        query: usize,
        /// Dimensions of the reference.
        reference: usize,
    },
    /// Two things that must have one length do not.
    #[error("{what}: expected {expected}, found {found}")]
    LengthMismatch {
        /// What was counted.
        what: &'static str,
        /// The length it should have.
        expected: usize,
        /// The length it has.
        found: usize,
    },
    /// A parameter out of its range.
    #[error("{name} is {value}; {expected}")]
    Parameter {
        /// Name of the parameter.
        name: &'static str,
        /// The value given.
        value: f64,
        /// What was expected.
        expected: &'static str,
    },
    /// Options that cannot be used together.
    #[error("{0}")]
    Incompatible(&'static str),
    /// Window and step pattern leave no warping path between the two series.
    #[error(
        "no warping path joins a query of {query} frames to a reference of {reference} within this window and step pattern; widen the window or take a looser pattern"
    )]
    NoPath {
        /// Frames of the query.
        query: usize,
        /// Frames of the reference.
        reference: usize,
    },
    /// A collection that must not be empty is.
    #[error("{0} must not be empty")]
    Empty(&'static str),
    /// A local cost that is negative or not a number.
    #[error(
        "the local cost of query frame {query} against frame {reference} of reference {word} is {value}; give a number of 0 or more, or infinity to forbid the pairing"
    )]
    LocalCost {
        /// Query frame, from 0.
        query: usize,
        /// Which reference (word), from 0.
        word: usize,
        /// Frame of the reference, from 0.
        reference: usize,
        /// The value given.
        value: f64,
    },
    /// A transition cost that is negative or not a number.
    #[error("{name} of {place} is {value}; give a finite number of 0 or more")]
    TransitionCost {
        /// Which cost.
        name: &'static str,
        /// Where in the grammar.
        place: String,
        /// The value given.
        value: f64,
    },
    /// A word or hub that the grammar does not have.
    #[error("the grammar has no {kind} {index}; it has {count}")]
    UnknownNode {
        /// `"word"` or `"hub"`.
        kind: &'static str,
        /// The index asked for.
        index: usize,
        /// How many there are.
        count: usize,
    },
    /// More cells, words or frames than the tables can count.
    #[error("{what} is {found}; at most {limit} fit")]
    TooLarge {
        /// What was counted.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// The limit.
        limit: usize,
    },
    /// The memory at hand does not hold a table.
    #[error("no memory for {entries} {what}; take shorter series, a narrower window or no path")]
    OutOfMemory {
        /// What was to be kept.
        what: &'static str,
        /// How many of them.
        entries: usize,
    },
    /// The summed cost of a path that does exist is infinite, or not a number.
    #[error(
        "the cost of aligning {query} with {reference} frames is beyond the range of the number type; scale the values down, or take f64"
    )]
    Overflow {
        /// Frames of the query.
        query: usize,
        /// Frames of the reference.
        reference: usize,
    },
    /// The caller asked to stop.
    #[error("stopped on request")]
    Cancelled,
}

/// A result with this crate's [`enum@Error`].
pub type Result<T> = std::result::Result<T, Error>;

/// `len` copies of `value`; [`Error::OutOfMemory`] rather than an abort when they do not fit.
pub(crate) fn filled<T: Clone>(value: T, len: usize, what: &'static str) -> Result<Vec<T>> {
    let mut all = Vec::new();
    all.try_reserve_exact(len)
        .map_err(|_| Error::OutOfMemory { what, entries: len })?;
    all.resize(len, value);
    Ok(all)
}

/// Refuses a limit that is not a number.
pub(crate) fn check_limit<T: crate::real::Real>(limit: T) -> Result<()> {
    if limit.is_unknown() {
        return Err(Error::Parameter {
            name: "limit",
            value: limit.to_f64(),
            expected: "give a number, or infinity for no limit",
        });
    }
    Ok(())
}

/// Refuses a length that frame numbers of 32 bits cannot count.
pub(crate) fn check_length(len: usize) -> Result<()> {
    let limit = u32::MAX as usize - 1;
    if len > limit {
        return Err(Error::TooLarge {
            what: "length of a series",
            found: len,
            limit,
        });
    }
    Ok(())
}

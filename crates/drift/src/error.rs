//! What can be wrong with the input, said with the offending value and the limit.

use thiserror::Error;

/// Everything that can go wrong in this crate; no input makes it panic.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum Error {
    /// A parameter out of its range.
    #[error("{name} is {value}: expected {expected}")]
    Parameter {
        /// Name of the parameter.
        name: &'static str,
        /// The value given.
        value: f64,
        /// What was expected.
        expected: &'static str,
    },
    /// More players than can be matched exactly.
    #[error(
        "the stretch at {from_s:.1} s of possession {possession} in `{session}` has {players} players: expected 1 to {limit}"
    )]
    Players {
        /// Session id.
        session: String,
        /// Number of the possession.
        possession: usize,
        /// Start of the stretch, session seconds.
        from_s: f64,
        /// Players found.
        players: usize,
        /// Most players.
        limit: usize,
    },
    /// Rows of a stretch that do not fit together.
    #[error(
        "the stretch at {from_s:.1} s of possession {possession} in `{session}` is uneven: {what} has {found} where {expected} were expected"
    )]
    Uneven {
        /// Session id.
        session: String,
        /// Number of the possession.
        possession: usize,
        /// Start of the stretch, session seconds.
        from_s: f64,
        /// What was counted.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many there should be.
        expected: usize,
    },
    /// A run names something the graph or the session does not have.
    #[error(
        "possession {possession} of `{session}` names {what} {found}, but there are {limit}: the readings belong to another playbook or session"
    )]
    Foreign {
        /// Session id.
        session: String,
        /// Number of the possession.
        possession: usize,
        /// What was named.
        what: &'static str,
        /// The index found.
        found: usize,
        /// How many there are.
        limit: usize,
    },
    /// Labels or distances of two lengths.
    #[error("{what}: expected {expected}, found {found}")]
    Length {
        /// What was counted.
        what: &'static str,
        /// The length it should have.
        expected: usize,
        /// The length it has.
        found: usize,
    },
    /// From the time warping beneath.
    #[error(transparent)]
    Warp(#[from] setdrift_warp::Error),
    /// From the clustering beneath.
    #[error("clustering: {0}")]
    Clustering(String),
}

/// Results of this crate.
pub type Result<T> = std::result::Result<T, Error>;

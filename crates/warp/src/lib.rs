//! Dynamic time warping for multivariate series.

#![warn(missing_docs)]

mod barycentre;
mod bounds;
pub mod connected;
mod cost;
mod dtw;
mod error;
mod kernel;
mod local;
mod pairwise;
mod real;
mod search;
mod series;
mod steps;
mod subsequence;
mod table;
mod window;

pub use barycentre::{Average, Barycentre};
pub use bounds::Envelope;
pub use cost::{
    Absolute, Capped, CappedSquared, CostFn, CostRows, Euclidean, Gaps, Huber, LocalCost, Squared,
};
pub use dtw::{Alignment, Dtw, DtwParams, Measure, Multivariate};
pub use error::{Error, Result};
pub use pairwise::{Condensed, Control, pairwise};
pub use real::{Real, Vector};
pub use search::{Neighbour, References};
pub use series::Series;
pub use steps::{Cell, Move, Normalisation, SlopeConstraint, StepPattern};
pub use subsequence::Match;
pub use window::Window;

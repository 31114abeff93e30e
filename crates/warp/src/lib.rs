//! Dynamic time warping for multivariate series.

#![warn(missing_docs)]

pub mod connected;
mod error;

pub use error::{Error, Result};

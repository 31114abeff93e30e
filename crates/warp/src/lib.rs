//! Dynamic time warping for multivariate series.
//!
//! Warping lays one series on another of the same kind, slowed and hurried where that makes them
//! alike, and says how much they still differ. This crate compares series, finds one in another, finds
//! the nearest of many, averages them, and explains a long one as a sequence of references.
//!
//! ```
//! use setdrift_warp::{Dtw, Measure, Series, Window};
//!
//! // Three frames of two coordinates, and four.
//! let query = Series::from_frames(&[0.0, 1.0, 1.0, 2.0, 3.0, 1.0], 2)?;
//! let reference = Series::from_frames(&[0.0, 1.0, 1.0, 2.0, 1.5, 2.0, 3.0, 0.0], 2)?;
//!
//! let dtw = Dtw::squared()
//!     .window(Window::Widened { radius: 2 })
//!     .measure(Measure::Root)
//!     .check()?;
//! let found = dtw.align(&query, &reference)?;
//! assert_eq!(found.path, [(0, 0), (1, 1), (1, 2), (2, 3)]);
//! assert_eq!(found.distance, 1.25_f64.sqrt());
//! assert_eq!(dtw.distance(&query, &reference)?, found.distance); // faster, and no table is kept
//! # Ok::<(), setdrift_warp::Error>(())
//! ```
//!
//! # What is where
//!
//! | to | take |
//! | --- | --- |
//! | compare two series | [`Dtw::distance`], [`Dtw::distance_within`] a limit, [`Dtw::align`] for the path |
//! | choose how | [`Window`] (full, Sakoe–Chiba, slanted, Itakura), [`StepPattern`] (slope limits, weights), [`Multivariate`], [`Measure`], open ends: all on [`DtwParams`] |
//! | choose what a difference costs | [`Squared`], [`Absolute`], [`Euclidean`], [`Huber`], [`CappedSquared`], [`Capped`], or one's own [`LocalCost`] |
//! | bring any costs at all | [`CostRows`], [`CostFn`] with [`Dtw::align_costs`] and its kin |
//! | leave coordinates unknown | [`Series::from_frames_with_gaps`] and [`Gaps`] |
//! | find a short series in a long one | [`Dtw::matches`] |
//! | compare with many | [`References`] with [`Dtw::distances`] and [`Dtw::nearest`] |
//! | rule pairs out cheaply | [`Dtw::ends_bound`], [`Dtw::keogh_bound`], [`Dtw::cascade_bound`] |
//! | compare all pairs | [`Dtw::pairwise`], or [`pairwise`] with a distance of one's own |
//! | average | [`Barycentre`] |
//! | explain a query as a sequence of references | [`connected`] |
//!
//! # What holds everywhere
//!
//! - **Shapes.** A series has `len` frames of `dims` coordinates, both at least 1. The *query* comes
//!   first and counts `n` frames, the *reference* `m`; frames are numbered from 0.
//! - **Numbers.** Everything is generic over `f32` and `f64` ([`Real`]).
//! - **Errors.** Bad input is an [`enum@Error`] that names the value and the limit: lengths of 0, NaN and
//!   infinity, dimensions that differ, a window too narrow for any path, costs that overflow, tables
//!   that memory cannot hold. Nothing panics.
//! - **The same bits.** A pair has one distance, to the last bit, whichever call it comes from, on any
//!   number of threads and with any instruction set. Among equally good paths, neighbours and matches
//!   the choice is fixed and documented.
//! - **Memory.** A distance without its path keeps a few rows of the shorter series (with open ends, or
//!   costs given row by row, of the reference); a path keeps a byte for each cell of the window.
//! - **Time.** `n · m` cells, or those of the window. The usual case (unweighted steps, closed ends, a
//!   band or none) runs in SIMD registers, `dims` fused multiply-adds a cell; other windows and
//!   step patterns go cell by cell.
//! - **Not a metric.** Warping distances break the triangle inequality.
//!
//! # Features
//!
//! `avx2` and `avx512` (both on) compile the kernels for these x86-64 instruction sets too; the best the
//! machine has is chosen when the program runs. Results do not depend on them.

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

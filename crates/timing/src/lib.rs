//! Who left when, and was it set where it counts: cues and placements of recognised runs.
//!
//! `timing` reads no file and judges nothing that the data cannot tell: each check has a verdict
//! for that, with the reason.

mod align;
mod audit;
mod cues;
mod expectations;
mod going;
pub mod hull;
pub mod model;
mod moments;
pub mod onset;
mod params;
mod placements;
pub mod profile;
pub mod random;
mod region;
mod scene;
pub mod stats;
mod summary;
pub mod trace;
pub mod when;
mod words;

pub use audit::audit;
pub use params::{Params, ParamsError, ValidParams};
pub use summary::{Audited, CueKey, key, lag_summaries};

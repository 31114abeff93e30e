//! Who left when, and was it set where it counts: cues and placements of recognised runs.
//!
//! `timing` reads no file and judges nothing that the data cannot tell: each check has a verdict
//! for that, with the reason.

mod aggregate;
mod align;
mod audit;
mod clip;
mod costly;
mod cues;
mod expectations;
mod going;
mod habits;
pub mod hull;
pub mod model;
mod moments;
pub mod onset;
mod params;
mod placements;
pub mod profile;
pub mod random;
mod region;
mod response;
mod scene;
mod sheet;
pub mod stats;
mod summary;
pub mod trace;
mod trend;
pub mod when;
mod words;

pub use aggregate::{Aggregate, By, FEW, Measure, aggregate, off_window};
pub use audit::audit;
pub use clip::Clip;
pub use costly::{CostlyCue, Tally, costly_cues};
pub use params::{Params, ParamsError, ValidParams};
pub use sheet::{HABIT, PlayerSheet, ToFix, player_sheets};
pub use summary::{Audited, CueKey, key, lag_summaries};
pub use trend::{CueTrend, Per, ShareTrend, TrendPoint, day, trends};
pub use words::clock;

//! What players did instead, and how matched options change: groups of off-script movement, and
//! the mean executed path against the declared one.
//!
//! A stage from plain data to plain data: `drift` reads no file and prints nothing.
//!
//! - [`stretches`] cuts the off-script segments out of a session;
//! - [`group`] finds those that are alike and says what they are;
//! - [`role_drift`] lays what each role did on what was declared for it, session by session.

mod assign;
mod choose;
mod density;
mod describe;
mod distance;
mod error;
mod finding;
mod group;
mod mean;
pub mod model;
mod params;
mod rng;
mod role;
mod stats;
mod stretches;
mod validity;

pub use assign::{MOST_PLAYERS, best_assignment};
pub use density::cluster;
pub use error::{Error, Result};
pub use group::{distances, group};
pub use params::{Params, ValidParams};
pub use role::{DriftParams, SessionRuns, ValidDriftParams, role_drift};
pub use stats::{adjusted, region_radius, t_quantile_975};
pub use stretches::{SHORTEST_S, stretches};
pub use validity::{adjusted_rand_index, rand_index, silhouette, silhouettes};

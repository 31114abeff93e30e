//! Who has the ball, what happened to it, and where one possession ends and the next begins.
//!
//! `events` never reads a file: it goes from a [`setdrift_tracks::Session`] to plain data.
//! [`ball_story`] decodes control of the ball and tells its events, [`possessions`] cuts the
//! session with it. `docs/method-events.md` states the method and every number's source.

mod assumed;
mod ballless;
mod baskets;
mod behind;
mod bodies;
mod confidence;
mod course;
mod cuts;
mod decode;
mod densest;
mod dribbles;
mod exchange;
mod fit;
mod flight;
mod flow;
pub mod grid;
mod history;
pub mod hmm;
pub mod linear;
pub mod model;
mod motion;
mod params;
mod possessions;
mod practice;
mod relay;
mod results;
mod screen_trees;
mod screens;
mod setoff;
mod settled;
mod shots;
mod stood;
mod story;
#[cfg(test)]
mod testing;
mod thrown_in;
mod touches;

pub use fit::{Estimate, Fitted, fit};
pub use params::{ParamError, Params, ValidParams};
pub use possessions::possessions;
pub use results::align;
pub use screens::{LOOKS_AT, Meeting, meetings};
pub use stood::{LOOKS_BACK_S, stand};
pub use story::ball_story;

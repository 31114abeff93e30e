//! Who has the ball, what happened to it, and where one possession ends and the next begins.
//!
//! `events` never reads a file: it goes from a [`setdrift_tracks::Session`] to plain data.

pub mod model;

//! How often setdrift is right on tracks whose truth is known.

pub mod other_world;
pub mod recognition;
pub mod simulated;

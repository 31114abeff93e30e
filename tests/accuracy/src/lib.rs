//! How often setdrift is right on tracks whose truth is known.

pub mod baseline;
pub mod other_world;
pub mod recognition;
pub mod reliability;
pub mod simulated;

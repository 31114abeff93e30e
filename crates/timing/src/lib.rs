//! Who left when, and was it set where it counts: cues and placements of recognised runs.

pub mod model;

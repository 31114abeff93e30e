//! What players did instead, and how matched options change: groups of off-script movement, and
//! the mean executed path against the declared one.

pub mod model;

//! What players did instead, and how matched options change: groups of off-script movement, and
//! the mean executed path against the declared one.
//!
//! A stage from plain data to plain data: `drift` reads no file and prints nothing.

pub mod model;

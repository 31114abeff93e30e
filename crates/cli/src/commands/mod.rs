//! One command a file. Each has its arguments and a `run` that does the work or says why not.

pub mod convert;
pub mod demo;
pub mod inspect;
pub mod review;
pub mod simulate;

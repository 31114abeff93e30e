//! One command a file. Each has its arguments and a `run` that does the work or says why not.

pub mod check;
pub mod convert;
pub mod demo;
pub mod draw;
pub mod fit;
pub mod format;
pub mod inspect;
pub mod marks;
pub mod new;
pub mod review;
pub mod schema;
pub mod score;
pub mod simulate;

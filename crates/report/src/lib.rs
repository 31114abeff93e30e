//! Results for people: one self-contained page, court diagrams, and marks for video.
//!
//! Every function here goes from plain data to text; nothing is read, written or printed.

pub mod confusion;
pub mod diagram;
mod html;
pub mod marks;
mod page;
mod words;

pub use page::{PageOptions, page};

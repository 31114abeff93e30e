//! The playbook language: an offence written down once, checked, and compiled to a graph of steps
//! with reference motion.
//!
//! [`load_str`] does it all. The parts are [`parse`] (text to [`Book`]: TOML and sentences) and
//! [`Book::compile`] (to a [`graph::Graph`]). `playbook` reads no file and prints nothing.

mod book;
mod check;
mod compile;
mod cursor;
mod diagnostic;
mod format;
mod grammar;
pub mod graph;
pub mod motion;
mod plan;
mod read_book;
mod read_expect;
mod read_sentence;
mod refill;
mod sample;
mod scaffold;
mod schedule;
mod schema;
mod sentence;
mod text;
mod token;
mod toml_read;
mod variants;

pub use book::{After, Book, DEFAULT_WINDOW_S, OptionWords, Spanned, TOLERANCES};
pub use compile::{Compiled, MAX_NODES, SAME_STATE};
pub use diagnostic::{Diagnostic, Diagnostics, Severity};
pub use format::format;
pub use grammar::{Pattern, patterns};
pub use read_book::{MAX_SOURCE, parse};
pub use read_expect::{DefenceRead, Expect};
pub use scaffold::scaffold;
pub use schema::json_schema;
pub use sentence::{CueWords, Direction, Event, Guard, Length, Place, Sentence, Verb, Where, Who};
pub use text::{NoText, to_text};

/// Reads and compiles a playbook. `name` is the file's name for diagnostics.
///
/// # Errors
/// Everything wrong with it, in the order of the file.
pub fn load_str(source: &str, name: &str) -> Result<Compiled, Diagnostics> {
    parse(source, name)?.compile()
}

//! Shared by the tests and the accuracy table.
#![allow(
    dead_code,
    unreachable_pub,
    missing_docs,
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout
)]

pub mod declared;
pub mod score;
pub mod street;

//! Which option was run, by whom in which role, on which side, how completely and how surely.
//!
//! `recognise` never reads a file: it goes from possessions and a compiled playbook to verdicts.

pub mod model;

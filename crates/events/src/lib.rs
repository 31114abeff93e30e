//! events

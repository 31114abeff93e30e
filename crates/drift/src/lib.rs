//! drift

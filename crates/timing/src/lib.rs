//! timing

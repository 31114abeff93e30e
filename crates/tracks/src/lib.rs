//! tracks

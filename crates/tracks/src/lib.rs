//! From an open-format file of coordinates to a [`Session`]: uniform frames, known gaps, and an
//! honest account of quality.

mod given;
mod session;

pub use given::{GivenResult, OutcomeKind, Tag};
pub use session::{
    EndSpan, Known, Player, Session, SessionError, SessionKind, SessionParts, Team, Track,
};

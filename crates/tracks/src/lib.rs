//! From an open-format file of coordinates to a [`Session`]: uniform frames, known gaps, and an
//! honest account of quality.

mod assemble;
pub mod atomic;
mod clean;
mod density;
mod error;
mod given;
mod homography;
mod inspect;
mod limits;
pub mod mapping;
mod open;
mod quality;
mod raw;
mod read;
mod session;
mod side;
mod table;
mod write;

pub use clean::{Cleaning, SavitzkyGolay, Smoothing, clean, noise_of};
pub use density::Density;
pub use error::{Place, Problem, TracksError, Warning};
pub use given::{GivenResult, OutcomeKind, Tag};
pub use homography::{Homography, LandmarkFit};
pub use inspect::{Confidence, Finding, Inspection, Question, inspect};
pub use mapping::Mapping;
pub use open::{Loaded, Source, open, open_with, sources};
pub use quality::{
    LEAST_KNOWN, Level, Meeting, ObjectQuality, Quality, SideQuality, Support, Swap, VerdictKind,
    quarter_second_speeds,
};
pub use raw::{Exchange, RawTracks, Samples};
pub use session::{
    EndSpan, Known, Player, Session, SessionError, SessionKind, SessionParts, Team, Track,
};
pub use side::{RosterEntry, read_results, read_roster, read_tags};
pub use write::{Layout, WriteOptions, write};

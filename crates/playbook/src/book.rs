//! A playbook as written: read from TOML, every sentence understood, nothing compiled yet.

use crate::cursor::Lexicon;
use crate::diagnostic::{Diagnostics, Note, place};
use crate::graph::{Formation, RoleIx};
use crate::read_expect::{DefenceRead, Expect};
use crate::sentence::Sentence;
use setdrift_court::LengthUnit;
use std::ops::Range;

/// A piece of a playbook and the bytes it was read from.
#[derive(Debug, Clone, PartialEq)]
pub struct Spanned<T> {
    /// The piece.
    pub value: T,
    /// As written.
    pub text: String,
    /// Bytes of the source.
    pub span: Range<usize>,
}

/// What an option may follow.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum After {
    /// A formation, by index.
    Formation(usize),
    /// The end of an option, by index.
    Option(usize),
    /// A step (from 0) of an option.
    Step(usize, usize),
}

/// An option as written.
#[derive(Debug, Clone, PartialEq)]
pub struct OptionWords {
    /// Key in the file.
    pub id: String,
    /// Where the key stands.
    pub span: Range<usize>,
    /// Title for people.
    pub title: String,
    /// Series, where declared.
    pub series: Option<String>,
    /// What it may follow.
    pub after: Vec<Spanned<After>>,
    /// Sentences, step by step.
    pub steps: Vec<Vec<Spanned<Sentence>>>,
    /// Expectations.
    pub expect: Vec<Spanned<Expect>>,
    /// The formation it resets to, by index.
    pub returns: Option<Spanned<usize>>,
    /// Who becomes whom at the reset, where declared: `refill[new role] = old role`.
    pub refill: Option<Spanned<Vec<Option<RoleIx>>>>,
    /// What the defence must be doing.
    pub read: Vec<Spanned<DefenceRead>>,
}

/// Kinds of action with a tolerance of their own, and the default, metres.
///
/// Common practice, no published source: an arm's length and a step for people who stand (4 ft),
/// two steps for people who run (5 ft), an arm's length and a step for a screen (4 ft).
pub const TOLERANCES: [(&str, f64); 3] = [
    ("hold", 4.0 * 0.3048),
    ("move", 5.0 * 0.3048),
    ("screen", 4.0 * 0.3048),
];

/// Latest good start after a cue that names no window, seconds. Common practice, no published
/// source: a choice reaction (0.30 to 0.45 s) and time to see that it is on.
pub const DEFAULT_WINDOW_S: f64 = 1.0;

/// A playbook as written.
#[derive(Debug, Clone, PartialEq)]
pub struct Book {
    pub(crate) file: String,
    pub(crate) source: String,
    /// The offence's name.
    pub name: String,
    /// Unit of numbers without one, and for lengths shown.
    pub unit: LengthUnit,
    pub(crate) lex: LexiconEq,
    /// Starting arrangements, with the words of their places.
    pub formations: Vec<(Formation, Vec<String>, Range<usize>)>,
    /// Options in the order written.
    pub options: Vec<OptionWords>,
    /// Own court measures as written.
    pub(crate) court_words: Vec<(String, f64)>,
    /// Own spots as written.
    pub(crate) spot_words: Vec<(String, [f64; 2])>,
    /// Own tolerances as written.
    pub(crate) tolerance_words: Vec<(String, f64)>,
    pub(crate) warnings: Diagnostics,
}

/// A lexicon compared by what it holds.
#[derive(Debug, Clone)]
pub(crate) struct LexiconEq(pub Lexicon);

impl PartialEq for LexiconEq {
    fn eq(&self, other: &Self) -> bool {
        self.0.court == other.0.court
            && self.0.roles == other.0.roles
            && self.0.spots == other.0.spots
    }
}

impl Book {
    /// Role names.
    #[must_use]
    pub fn roles(&self) -> &[String] {
        &self.lex.0.roles
    }

    /// The floor.
    #[must_use]
    pub fn court(&self) -> &setdrift_court::Court {
        &self.lex.0.court
    }

    /// What looks odd in the text although it can be used.
    #[must_use]
    pub fn warnings(&self) -> &Diagnostics {
        &self.warnings
    }

    /// Tolerance of a kind of action, metres.
    pub(crate) fn tolerance(&self, kind: &str) -> f64 {
        self.tolerance_words
            .iter()
            .find(|(k, _)| k == kind)
            .map(|(_, v)| self.unit.to_metres(*v))
            .or_else(|| TOLERANCES.iter().find(|(k, _)| *k == kind).map(|(_, v)| *v))
            .unwrap_or(TOLERANCES[1].1)
    }

    pub(crate) fn diagnostics(&self, notes: Vec<Note>) -> Diagnostics {
        place(notes, &self.file, &self.source)
    }
}

//! A look at a file nobody has described: what it seems to be, why, and how sure that is.

mod columns;
mod ends;
mod profile;
mod report;
mod sniff;
mod space;
mod teams;

use crate::assemble::{self, Read};
use crate::error::{Place, Problem, TracksError, Warning};
use crate::mapping::{CourtSpec, Mapping, TimeUnit};
use crate::raw::RawTracks;
use crate::side::read_roster;
use serde::Serialize;
use std::path::Path;

/// How sure a guess is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Confidence {
    /// Assumed for want of anything that tells; to be checked.
    Assumed,
    /// More likely than the alternatives.
    Likely,
    /// Nothing else fits.
    Sure,
}

/// One thing found out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// Key of the mapping.
    pub key: String,
    /// The guess, for people.
    pub guess: String,
    /// What speaks for it.
    pub reason: String,
    /// How sure it is.
    pub confidence: Confidence,
}

/// One thing only a person can tell.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Question {
    /// Key of the mapping to be set.
    pub key: String,
    /// What to say, in one sentence.
    pub question: String,
    /// Whether nothing can be read before it is answered.
    pub needed: bool,
}

/// What `inspect` found.
#[derive(Debug, Clone)]
pub struct Inspection {
    /// The mapping as guessed.
    pub mapping: Mapping,
    /// The mapping as text to be edited: reasons are comments beside the keys.
    pub toml: String,
    /// What was found out, in the order of the mapping.
    pub findings: Vec<Finding>,
    /// What only a person can tell; empty on a good file.
    pub questions: Vec<Question>,
    /// The tracks through the guessed mapping, where it suffices.
    pub raw: Option<RawTracks>,
    /// What reading through the guessed mapping had to say.
    pub warnings: Vec<Warning>,
    /// Why the guessed mapping does not suffice, where it does not.
    pub problem: Option<TracksError>,
}

/// Notes taken on the way.
#[derive(Default)]
struct Notes {
    findings: Vec<Finding>,
    questions: Vec<Question>,
}

impl Notes {
    fn found(
        &mut self,
        key: &str,
        guess: impl Into<String>,
        reason: impl Into<String>,
        confidence: Confidence,
    ) {
        self.findings.push(Finding {
            key: key.to_owned(),
            guess: guess.into(),
            reason: reason.into(),
            confidence,
        });
    }

    fn ask(&mut self, key: &str, question: impl Into<String>, needed: bool) {
        self.questions.push(Question {
            key: key.to_owned(),
            question: question.into(),
            needed,
        });
    }
}

/// Look at a data file. `known` is TOML text with whatever a person already knows (any part of a
/// mapping, for instance `time.rate = 25`); it wins over every guess. Empty text is fine.
///
/// # Errors
/// Where the file cannot be read as rows and columns at all, or `known` is no valid mapping.
pub fn inspect(path: &Path, known: &str) -> Result<Inspection, TracksError> {
    let given: toml::Table = toml::from_str(known).map_err(|e| {
        TracksError::new(
            Place::file(path),
            Problem::Toml {
                message: format!("what is known already is not TOML: {}", e.message()),
            },
        )
    })?;
    if path.is_dir() {
        let files = crate::read::files_in(path)?.len();
        return Err(TracksError::new(
            Place::file(path),
            Problem::Folder { files },
        ));
    }
    let mut notes = Notes::default();
    let mut mapping = Mapping::default();
    let opened = sniff::open(path, &given, &mut mapping, &mut notes)?;
    columns::find(&opened, path, &mut mapping, &mut notes)?;
    drop(opened);
    apply(&mut mapping, &given, path)?;
    let provisional = provisional_tracks(path, &mapping, &given);
    let mut problem = None;
    let mut periods = Vec::new();
    match provisional {
        Ok(read) => {
            let tracks = read.raw;
            periods = read.periods;
            teams::find(&tracks, &mut mapping, &mut notes);
            space::find(&tracks, &mut mapping, &given, &mut notes);
            apply(&mut mapping, &given, path)?;
        }
        Err(e) => problem = Some(e),
    }
    let asked = |notes: &Notes| {
        notes
            .questions
            .iter()
            .any(|q| q.needed && !has(&given, &q.key))
    };
    let mut raw = None;
    let mut warnings = Vec::new();
    if problem.is_none() && !asked(&notes) {
        match read(path, &mapping) {
            Ok(read_once) => {
                let tracks = read_once.raw;
                warnings = read_once.warnings;
                ends::rate(&tracks, &mut mapping, &mut notes);
                ends::find(&tracks, &periods, &mut mapping, &mut notes);
                apply(&mut mapping, &given, path)?;
                match read(path, &mapping) {
                    Ok(again) => raw = Some(again.raw),
                    Err(e) => problem = Some(e),
                }
            }
            Err(e) => problem = Some(e),
        }
    }
    notes.questions.retain(|q| !has(&given, &q.key));
    notes.findings.retain(|f| !has(&given, &f.key));
    let toml = report::annotated(&mapping, &notes.findings, &notes.questions);
    Ok(Inspection {
        mapping,
        toml,
        findings: notes.findings,
        questions: notes.questions,
        raw,
        warnings,
        problem,
    })
}

fn read(path: &Path, mapping: &Mapping) -> Result<Read, TracksError> {
    let roster = mapping
        .files
        .roster
        .as_ref()
        .map(|f| read_roster(&mapping.beside_path(f)))
        .transpose()?
        .unwrap_or_default();
    assemble::read_raw(&[path.to_owned()], mapping, &roster)
}

/// Positions in the file's own coordinates: one court unit is one file unit, on an endless floor.
fn provisional_tracks(
    path: &Path,
    mapping: &Mapping,
    given: &toml::Table,
) -> Result<Read, TracksError> {
    let mut plain = mapping.clone();
    plain.session.court = plain
        .session
        .court
        .or_else(|| Some(CourtSpec::Named("fiba".into())));
    if plain.homography.is_none() {
        plain.space = crate::mapping::SpaceSpec::default();
    }
    if plain.time.unit == TimeUnit::Frame && plain.time.rate.is_none() {
        plain.time.rate = Some(25.0);
    }
    if !has(given, "teams") {
        plain.teams.clear();
    }
    assemble::read_unplaced(&[path.to_owned()], &plain, &[])
}

/// Whether a dotted key is set in what is known, or a whole table above it.
fn has(given: &toml::Table, key: &str) -> bool {
    let mut table = given;
    let mut parts = key.split('.').peekable();
    while let Some(part) = parts.next() {
        match table.get(part) {
            None => return false,
            Some(_) if parts.peek().is_none() => return true,
            Some(toml::Value::Table(t)) => table = t,
            Some(_) => return true,
        }
    }
    false
}

/// Put what is known over the guesses.
fn apply(mapping: &mut Mapping, given: &toml::Table, path: &Path) -> Result<(), TracksError> {
    if given.is_empty() {
        return Ok(());
    }
    let bad = |message: String| TracksError::new(Place::file(path), Problem::Toml { message });
    let mut whole = toml::Table::try_from(&*mapping).map_err(|e| bad(e.to_string()))?;
    merge(&mut whole, given);
    let keep = mapping.path.clone();
    *mapping = toml::Value::Table(whole)
        .try_into()
        .map_err(|e: toml::de::Error| bad(e.message().to_owned()))?;
    mapping.path = keep;
    Ok(())
}

fn merge(whole: &mut toml::Table, over: &toml::Table) {
    for (key, value) in over {
        match (whole.get_mut(key), value) {
            (Some(toml::Value::Table(a)), toml::Value::Table(b)) => merge(a, b),
            _ => {
                whole.insert(key.clone(), value.clone());
            }
        }
    }
}

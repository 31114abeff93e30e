//! Reading a playbook file: TOML for structure, sentences for actions.

mod floor;
mod formations;
mod options;

use crate::book::{Book, LexiconEq};
use crate::cursor::{Lexicon, Miss};
use crate::diagnostic::{Diagnostics, MAX_NOTES, Note, did_you_mean, place};
use crate::toml_read::{Entry, Text, not_toml, table};
use setdrift_court::{AttackPoint, Court, LengthUnit};
use std::ops::Range;
use toml_edit::Document;

/// Largest playbook accepted, bytes.
pub const MAX_SOURCE: usize = 256 * 1024;
const MAX_OPTIONS: usize = 200;
pub(crate) const MAX_STEPS: usize = 20;
pub(crate) const MAX_SENTENCES: usize = 20;
const MAX_FORMATIONS: usize = 40;
/// How far off the floor a spot may be, metres: an inbounder stands outside the line.
const OFF_FLOOR: f64 = 2.0;

const TOP_KEYS: [&str; 7] = [
    "name",
    "court",
    "units",
    "tolerance",
    "spots",
    "formations",
    "options",
];
const OPTION_KEYS: [&str; 8] = [
    "title", "series", "after", "steps", "expect", "returns", "refill", "read",
];
pub(crate) const COURT_KEYS: [&str; 10] = [
    "length",
    "width",
    "lane_width",
    "free_throw",
    "circle_radius",
    "ring",
    "three_radius",
    "three_corner",
    "restricted_radius",
    "ring_height",
];

/// Reads a playbook. `name` is the file's name for diagnostics.
///
/// # Errors
/// All that is wrong with the text, each with its place; never only the first thing. Of a text that
/// is not TOML, all that keeps it from being TOML.
pub fn parse(source: &str, name: &str) -> Result<Book, Diagnostics> {
    let mut notes = Vec::new();
    let book = Reader {
        notes: &mut notes,
        source,
    }
    .book(name);
    let mut found = place(notes, name, source);
    match book {
        Some(mut b) if !found.has_errors() => {
            b.warnings = found;
            Ok(b)
        }
        _ => {
            if source.len() > MAX_SOURCE {
                found.source = String::new();
            }
            Err(found)
        }
    }
}

struct Reader<'a> {
    notes: &'a mut Vec<Note>,
    source: &'a str,
}

impl Reader<'_> {
    fn book(&mut self, file: &str) -> Option<Book> {
        if self.source.len() > MAX_SOURCE {
            self.notes.push(
                Note::error(
                    "too-large",
                    0..0,
                    format!(
                        "a playbook of {} bytes, {MAX_SOURCE} at most",
                        self.source.len()
                    ),
                )
                .help("split it into several playbooks"),
            );
            return None;
        }
        let doc = match Document::parse(self.source) {
            Ok(d) => d,
            Err(e) => {
                self.notes.extend(not_toml(self.source, &e));
                return None;
            }
        };
        let top = table(doc.as_item(), "the playbook", self.source, self.notes)?;
        self.known_keys(&top, &TOP_KEYS, "a playbook");

        let name = match top.iter().find(|e| e.key == "name") {
            Some(e) => self.text(e).map(|t| t.text),
            None => {
                self.missing("name", 0..0, "name = \"Lantern\"");
                None
            }
        };
        let unit = match top.iter().find(|e| e.key == "units") {
            Some(e) => self.unit(e),
            None => LengthUnit::Metre,
        };
        let (court, court_words) = match top.iter().find(|e| e.key == "court") {
            Some(e) => self.court(e, unit),
            None => (Some(Court::fiba()), Vec::new()),
        };
        let court = court.unwrap_or_else(Court::fiba);
        let spot_words = match top.iter().find(|e| e.key == "spots") {
            Some(e) => self.spots(e, unit, &court),
            None => Vec::new(),
        };
        let tolerance_words = match top.iter().find(|e| e.key == "tolerance") {
            Some(e) => self.tolerances(e),
            None => Vec::new(),
        };
        let mut lex = Lexicon {
            court,
            roles: Vec::new(),
            spots: spot_words
                .iter()
                .map(|(n, [x, y])| {
                    (
                        n.clone(),
                        AttackPoint::new(unit.to_metres(*x), unit.to_metres(*y)),
                    )
                })
                .collect(),
        };
        let formations = match top.iter().find(|e| e.key == "formations") {
            Some(e) => self.formations(e, &mut lex),
            None => {
                self.missing(
                    "formations",
                    0..0,
                    "[formations.start] with a place per role",
                );
                Vec::new()
            }
        };
        let options = match top.iter().find(|e| e.key == "options") {
            Some(e) => self.options(e, &lex, &formations),
            None => {
                self.missing("options", 0..0, "[options.first] with its steps");
                Vec::new()
            }
        };
        Some(Book {
            file: file.to_owned(),
            source: self.source.to_owned(),
            name: name?,
            unit,
            lex: LexiconEq(lex),
            formations,
            options,
            court_words,
            spot_words,
            tolerance_words,
            warnings: Diagnostics::default(),
        })
    }

    /// Whether enough is wrong already.
    fn full(&self) -> bool {
        self.notes.len() >= MAX_NOTES
    }

    fn missing(&mut self, key: &str, span: Range<usize>, example: &str) {
        self.notes.push(
            Note::error("missing-key", span, format!("`{key}` is missing"))
                .help(format!("write {example}")),
        );
    }

    fn known_keys(&mut self, entries: &[Entry<'_>], known: &[&str], of: &str) {
        for e in entries {
            if self.full() {
                return;
            }
            if !known.contains(&e.key.as_str()) {
                self.notes.push(
                    Note::error(
                        "unknown-key",
                        e.key_span.clone(),
                        format!("`{}` is not a key of {of}", e.key),
                    )
                    .expected(format!("one of: {}", known.join(", ")))
                    .maybe_help(did_you_mean(&e.key, known.iter().copied())),
                );
            }
        }
    }

    fn text(&mut self, e: &Entry<'_>) -> Option<Text> {
        Text::read(
            e.item,
            e.value_span.clone(),
            &e.key,
            self.source,
            self.notes,
        )
    }

    fn miss(&mut self, m: Miss, t: &Text) {
        self.notes.push(Note {
            help: m.help,
            ..Note::error(m.code, t.at(m.span), m.message).expected(m.expected)
        });
    }
}

fn shorten(names: &[&str]) -> String {
    if names.len() > 12 {
        format!("{} …", names[..12].join(", "))
    } else {
        names.join(", ")
    }
}

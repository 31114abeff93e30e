//! NDJSON: one JSON object (RFC 8259) per line.

use super::csv::too_many_labels;
use super::text::{self, Lines, Quotes};
use super::{Ready, Sink};
use crate::error::{Place, Problem, TracksError, shown};
use crate::limits;
use crate::mapping::FileSpec;
use crate::table::{Column, Interner, Labels, Request, Want, instant, number_label, seconds};
use rayon::prelude::*;
use serde::de::{self, DeserializeSeed, Deserializer, IgnoredAny, MapAccess, Visitor};
use std::borrow::Cow;
use std::fmt;
use std::path::{Path, PathBuf};

const PIECE: usize = 1 << 20;
const WINDOW: usize = 4 * PIECE;
/// Lines looked at to learn the members' names.
const LOOKED_AT: usize = 200;

/// A text of JSON lines with its members known.
pub(crate) struct JsonText {
    file: PathBuf,
    names: Vec<String>,
    missing: Vec<String>,
}

/// A member's value, as far as a table can hold it.
enum Cell<'a> {
    Missing,
    Number(f64),
    Text(Cow<'a, str>),
}

struct Wrong {
    line: u64,
    column: Option<String>,
    problem: Problem,
}

impl JsonText {
    pub(super) fn open(file: &Path, spec: &FileSpec) -> Result<Self, TracksError> {
        let bytes = Lines::open(file, Quotes::None)?.next(WINDOW)?;
        let mut names: Vec<String> = Vec::new();
        let mut seen = 0;
        for (i, line) in bytes.split(|b| *b == b'\n').enumerate() {
            if seen == LOOKED_AT {
                break;
            }
            if line.trim_ascii().is_empty() {
                continue;
            }
            seen += 1;
            let row: std::collections::BTreeMap<String, IgnoredAny> = serde_json::from_slice(line)
                .map_err(|e| TracksError::new(Place::row(file, i as u64 + 1), json_problem(&e)))?;
            for name in row.into_keys() {
                if !names.contains(&name) {
                    names.push(name);
                }
            }
        }
        if seen == 0 {
            return Err(TracksError::new(
                Place::file(file),
                Problem::Empty {
                    expected: "a JSON object per line",
                },
            ));
        }
        Ok(Self {
            file: file.to_owned(),
            names,
            missing: spec.missing.clone(),
        })
    }

    pub(super) fn names(&self) -> &[String] {
        &self.names
    }

    pub(super) fn sample(&self, rows: usize) -> Result<Vec<Vec<String>>, TracksError> {
        let keys: Vec<&str> = self.names.iter().map(String::as_str).collect();
        let mut out: Vec<Vec<String>> = vec![Vec::new(); keys.len()];
        let bytes = Lines::open(&self.file, Quotes::None)?.next(WINDOW)?;
        let lines = bytes.split(|b| *b == b'\n').enumerate();
        for (i, line) in lines.filter(|(_, l)| !l.trim_ascii().is_empty()).take(rows) {
            let mut de = serde_json::Deserializer::from_slice(line);
            let cells = Row(&keys).deserialize(&mut de).map_err(|e| {
                TracksError::new(Place::row(&self.file, i as u64 + 1), json_problem(&e))
            })?;
            for (column, cell) in out.iter_mut().zip(cells) {
                column.push(match cell {
                    Cell::Missing => String::new(),
                    Cell::Number(v) => number_label(v),
                    Cell::Text(t) => t.into_owned(),
                });
            }
        }
        Ok(out)
    }

    pub(super) fn read_parts(
        &self,
        requests: &[Request],
        sink: Sink<'_>,
    ) -> Result<(), TracksError> {
        let mut text = Lines::open(&self.file, Quotes::None)?;
        let (mut before, mut rows) = (0, 0);
        loop {
            let window = text.next(WINDOW)?;
            if window.is_empty() {
                return Ok(());
            }
            let pieces = text::pieces(&window, PIECE, Quotes::None);
            let read: Vec<_> = pieces
                .par_iter()
                .map(|piece| self.read_piece(piece, requests))
                .collect();
            for (piece, result) in pieces.iter().zip(read) {
                let part = result.map_err(|wrong| {
                    let mut place = Place::row(&self.file, before + wrong.line);
                    place.column = wrong.column;
                    TracksError::new(place, wrong.problem)
                })?;
                before += text::lines(piece);
                rows += part.first().map_or(0, Column::len) as u64;
                super::check_rows(&self.file, rows)?;
                sink(&mut Ready::new(part))?;
            }
        }
    }

    fn read_piece(&self, piece: &[u8], requests: &[Request]) -> Result<Vec<Column>, Wrong> {
        let mut columns: Vec<Column> = requests.iter().map(|r| Column::empty(r.want, 0)).collect();
        let mut interners: Vec<Interner> = requests.iter().map(|_| Interner::default()).collect();
        // Several requests may name one member; the first column is found by name, others copied.
        let keys: Vec<&str> = requests
            .iter()
            .map(|r| self.names[r.index].as_str())
            .collect();
        for (i, line) in piece.split(|b| *b == b'\n').enumerate() {
            let number = i as u64 + 1;
            if line.trim_ascii().is_empty() {
                continue;
            }
            let mut de = serde_json::Deserializer::from_slice(line);
            let cells = Row(&keys)
                .deserialize(&mut de)
                .and_then(|c| de.end().map(|()| c))
                .map_err(|e| Wrong {
                    line: number,
                    column: None,
                    problem: json_problem(&e),
                })?;
            for (k, cell) in cells.into_iter().enumerate() {
                self.push(cell, requests[k].want, &mut columns[k], &mut interners[k])
                    .map_err(|problem| Wrong {
                        line: number,
                        column: Some(keys[k].to_owned()),
                        problem,
                    })?;
            }
        }
        for (column, interner) in columns.iter_mut().zip(interners) {
            if let Column::Label(Labels { names, .. }) = column {
                *names = interner.into_names();
            }
        }
        Ok(columns)
    }

    fn push(
        &self,
        cell: Cell<'_>,
        want: Want,
        column: &mut Column,
        interner: &mut Interner,
    ) -> Result<(), Problem> {
        let text = match &cell {
            Cell::Missing => None,
            Cell::Number(v) => Some(Cow::Owned(number_label(*v))),
            Cell::Text(t) => Some(Cow::Borrowed(t.as_ref())),
        };
        let missing = text
            .as_ref()
            .is_none_or(|t| t.is_empty() || self.missing.iter().any(|m| *m == **t));
        let wrong = |expected: &str| Problem::Cell {
            found: shown(text.as_deref().unwrap_or("null")),
            expected: expected.to_owned(),
            mend: "Correct the value, or list it under `file.missing` if it stands for none.",
        };
        match column {
            Column::Number(values) => values.push(match &cell {
                _ if missing => f64::NAN,
                Cell::Number(v) => *v,
                Cell::Text(t) if want == Want::Seconds => {
                    seconds(t).ok_or_else(|| wrong(want.expected()))?
                }
                _ => return Err(wrong(want.expected())),
            }),
            Column::Instant(values) => values.push(match &cell {
                _ if missing => i64::MIN,
                Cell::Text(t) => instant(t).ok_or_else(|| wrong(want.expected()))?,
                _ => return Err(wrong(want.expected())),
            }),
            Column::Label(labels) => {
                let code = match text {
                    Some(t) if !missing => {
                        let code = interner.code(t.as_bytes())?;
                        if interner.len() > limits::OBJECTS {
                            return Err(too_many_labels());
                        }
                        code
                    }
                    _ => Labels::MISSING,
                };
                labels.codes.push(code);
            }
        }
        Ok(())
    }
}

pub(super) fn json_problem(e: &serde_json::Error) -> Problem {
    // The parser counts lines within the one line it was given, so only its column is kept.
    let message = e.to_string();
    let message = message
        .split_once(" at line ")
        .map_or(message.as_str(), |(m, _)| m);
    Problem::Json {
        message: format!(
            "not a JSON object: {message} at character {}; expected a line such as \
             {{\"t\": 0.04, \"id\": \"7\", \"x\": 1.5, \"y\": -2.0}}",
            e.column()
        ),
    }
}

/// Reads the wanted members of one object and skips the others.
struct Row<'k>(&'k [&'k str]);

impl<'de> DeserializeSeed<'de> for Row<'_> {
    type Value = Vec<Cell<'de>>;

    fn deserialize<D: Deserializer<'de>>(self, d: D) -> Result<Self::Value, D::Error> {
        d.deserialize_map(self)
    }
}

impl<'de> Visitor<'de> for Row<'_> {
    type Value = Vec<Cell<'de>>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON object")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
        let mut cells: Vec<Cell<'de>> = self.0.iter().map(|_| Cell::Missing).collect();
        while let Some(key) = map.next_key_seed(Key(self.0))? {
            match key {
                Some(k) => cells[k] = map.next_value()?,
                None => {
                    map.next_value::<IgnoredAny>()?;
                }
            }
        }
        Ok(cells)
    }
}

struct Key<'k>(&'k [&'k str]);

impl<'de> DeserializeSeed<'de> for Key<'_> {
    type Value = Option<usize>;

    fn deserialize<D: Deserializer<'de>>(self, d: D) -> Result<Self::Value, D::Error> {
        d.deserialize_str(self)
    }
}

impl Visitor<'_> for Key<'_> {
    type Value = Option<usize>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a member's name")
    }

    fn visit_str<E: de::Error>(self, v: &str) -> Result<Self::Value, E> {
        Ok(self.0.iter().position(|k| *k == v))
    }
}

impl<'de> de::Deserialize<'de> for Cell<'de> {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct V;
        impl<'de> Visitor<'de> for V {
            type Value = Cell<'de>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a number, a text or null")
            }

            fn visit_unit<E>(self) -> Result<Cell<'de>, E> {
                Ok(Cell::Missing)
            }

            fn visit_f64<E>(self, v: f64) -> Result<Cell<'de>, E> {
                Ok(Cell::Number(v))
            }

            fn visit_u64<E>(self, v: u64) -> Result<Cell<'de>, E> {
                Ok(Cell::Number(v as f64))
            }

            fn visit_i64<E>(self, v: i64) -> Result<Cell<'de>, E> {
                Ok(Cell::Number(v as f64))
            }

            fn visit_borrowed_str<E>(self, v: &'de str) -> Result<Cell<'de>, E> {
                Ok(Cell::Text(Cow::Borrowed(v)))
            }

            fn visit_str<E>(self, v: &str) -> Result<Cell<'de>, E> {
                Ok(Cell::Text(Cow::Owned(v.to_owned())))
            }
        }
        d.deserialize_any(V)
    }
}

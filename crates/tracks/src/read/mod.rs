//! Files to tables. Each reader names the row and column of what it cannot read.

mod arrow;
mod csv;
mod json;
pub(crate) mod moving;
mod text;

use crate::atomic::io_error;
use crate::error::{Place, Problem, TracksError};
use crate::limits;
use crate::mapping::{FileSpec, Format};
use crate::table::{Column, Request};
use std::path::{Path, PathBuf};

/// Endings of file names that are read without being told the format.
pub(crate) const ENDINGS: &str = ".csv, .tsv, .txt, .ndjson, .jsonl, .mfjson (also .gz, .zst), .parquet, .arrow, .ipc or .feather";

/// A file opened: its columns are known, its rows not yet read.
pub(crate) enum Opened {
    Csv(csv::CsvText),
    Json(json::JsonText),
    Moving(moving::MovingFeatures),
    Arrow(arrow::ArrowFile),
}

impl Opened {
    /// Open a table file.
    pub(crate) fn open(path: &Path, spec: &FileSpec) -> Result<Self, TracksError> {
        let format = match spec.format {
            Some(f) => f,
            None => format_of(path).ok_or_else(|| {
                TracksError::new(Place::file(path), Problem::Format { expected: ENDINGS })
            })?,
        };
        let opened = match format {
            Format::Csv | Format::Motchallenge => {
                Self::Csv(csv::CsvText::open(path, spec, format)?)
            }
            Format::Ndjson => Self::Json(json::JsonText::open(path, spec)?),
            Format::Parquet => Self::Arrow(arrow::ArrowFile::open(path, arrow::Kind::Parquet)?),
            Format::Ipc => Self::Arrow(arrow::ArrowFile::open(path, arrow::Kind::Ipc)?),
            Format::MovingFeatures => Self::Moving(moving::MovingFeatures::open(path, spec)?),
        };
        if opened.names().len() > limits::COLUMNS {
            return Err(TracksError::new(
                Place::file(path),
                Problem::Limit {
                    what: "the number of columns",
                    found: opened.names().len().to_string(),
                    limit: limits::COLUMNS.to_string(),
                },
            ));
        }
        // What looks at names compares them letter by letter.
        let longest = opened.names().iter().map(String::len).max().unwrap_or(0);
        if longest > limits::NAME_BYTES {
            return Err(TracksError::new(
                Place::file(path),
                Problem::Limit {
                    what: "the length of a column's name",
                    found: format!("{longest} bytes"),
                    limit: format!("{} bytes", limits::NAME_BYTES),
                },
            ));
        }
        Ok(opened)
    }

    /// Column names; numbers from 1 where the file has no header.
    pub(crate) fn names(&self) -> &[String] {
        match self {
            Self::Csv(t) => t.names(),
            Self::Json(t) => t.names(),
            Self::Moving(t) => t.names(),
            Self::Arrow(t) => t.names(),
        }
    }

    /// Whether columns have names of their own.
    pub(crate) fn named(&self) -> bool {
        match self {
            Self::Csv(t) => t.named(),
            Self::Json(_) | Self::Moving(_) | Self::Arrow(_) => true,
        }
    }

    /// Whether a column holds dates and times, whatever the mapping says of it.
    pub(crate) fn holds_instants(&self, column: usize) -> bool {
        match self {
            Self::Csv(_) | Self::Json(_) => false,
            Self::Moving(t) => t.names()[column] == moving::DATETIMES,
            Self::Arrow(t) => t.holds_instants(column),
        }
    }

    /// The first rows of every column as text; empty where missing.
    pub(crate) fn sample(&self, rows: usize) -> Result<Vec<Vec<String>>, TracksError> {
        match self {
            Self::Csv(t) => t.sample(rows),
            Self::Json(t) => t.sample(rows),
            Self::Moving(t) => Ok(t.sample(rows)),
            Self::Arrow(t) => t.sample(rows),
        }
    }

    /// Read the columns asked for, a part of the rows at a time, in the order of the rows.
    pub(crate) fn read_parts(
        &self,
        requests: &[Request],
        sink: Sink<'_>,
    ) -> Result<(), TracksError> {
        match self {
            Self::Csv(t) => t.read_parts(requests, sink),
            Self::Json(t) => t.read_parts(requests, sink),
            Self::Moving(t) => t.read_parts(requests, sink),
            Self::Arrow(t) => t.read_parts(requests, sink),
        }
    }

    /// Read the columns asked for, in that order; all of one length.
    pub(crate) fn read(&self, requests: &[Request]) -> Result<Vec<Column>, TracksError> {
        let mut columns: Vec<Column> = Vec::new();
        self.read_parts(requests, &mut |part| {
            for i in 0..requests.len() {
                let column = part.take(i)?;
                match columns.get_mut(i) {
                    Some(whole) => whole.append(column),
                    None => columns.push(column),
                }
            }
            Ok(())
        })?;
        Ok(columns)
    }
}

/// Takes the parts of a table as they are read.
pub(crate) type Sink<'s> = &'s mut dyn FnMut(&mut dyn Part) -> Result<(), TracksError>;

/// Some rows of a table. A column is decoded when it is taken, so that not all are there at once.
pub(crate) trait Part {
    /// The column of a request, by its place among them; each is taken once.
    fn take(&mut self, request: usize) -> Result<Column, TracksError>;

    /// Several at once.
    fn take_all(&mut self, requests: &[usize]) -> Result<Vec<Column>, TracksError> {
        requests.iter().map(|i| self.take(*i)).collect()
    }
}

/// A part whose columns are all there.
struct Ready(Vec<Option<Column>>);

impl Ready {
    fn new(columns: Vec<Column>) -> Self {
        Self(columns.into_iter().map(Some).collect())
    }
}

impl Part for Ready {
    fn take(&mut self, request: usize) -> Result<Column, TracksError> {
        let column = self.0.get_mut(request).and_then(Option::take);
        debug_assert!(column.is_some(), "column {request} is taken once");
        Ok(column.unwrap_or(Column::Number(Vec::new())))
    }
}

/// The first bytes of a file's content, decompressed.
pub(crate) fn head(path: &Path, bytes: usize) -> Result<Vec<u8>, TracksError> {
    text::head(path, bytes)
}

/// Format by the ending of a name.
pub(crate) fn format_of(path: &Path) -> Option<Format> {
    let name = path.file_name()?.to_string_lossy().to_lowercase();
    let plain = name
        .strip_suffix(".gz")
        .or_else(|| name.strip_suffix(".zst"))
        .unwrap_or(&name);
    let ending = plain.rsplit_once('.')?.1;
    Some(match ending {
        "csv" | "tsv" | "txt" => Format::Csv,
        "ndjson" | "jsonl" => Format::Ndjson,
        "parquet" if plain.len() == name.len() => Format::Parquet,
        "arrow" | "arrows" | "ipc" | "feather" if plain.len() == name.len() => Format::Ipc,
        "mfjson" | "geojson" | "json" => Format::MovingFeatures,
        _ => return None,
    })
}

/// File name without its endings of format and compression.
pub(crate) fn stem(path: &Path) -> String {
    let name = path
        .file_name()
        .map(|n| n.to_string_lossy().into_owned())
        .unwrap_or_default();
    let mut stem = name.as_str();
    for ending in [".gz", ".zst"] {
        stem = stem.strip_suffix(ending).unwrap_or(stem);
    }
    match stem.rsplit_once('.') {
        Some((before, _)) if !before.is_empty() => before.to_owned(),
        _ => stem.to_owned(),
    }
}

/// Data files of a folder, by name. `.json` may be anything, so it is read only where it is named.
pub(crate) fn files_in(folder: &Path) -> Result<Vec<PathBuf>, TracksError> {
    let fail = |e: std::io::Error| io_error(folder, "read", &e);
    let mut files = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(fail)? {
        let path = entry.map_err(fail)?.path();
        let any_json = path.extension().is_some_and(|e| e == "json");
        if path.is_file() && format_of(&path).is_some() && !any_json {
            files.push(path);
        }
    }
    files.sort();
    Ok(files)
}

/// Refuse more rows than a session can have.
fn check_rows(path: &Path, rows: u64) -> Result<(), TracksError> {
    if rows > limits::ROWS {
        return Err(TracksError::new(
            Place::file(path),
            Problem::Limit {
                what: "the number of rows",
                found: rows.to_string(),
                limit: limits::ROWS.to_string(),
            },
        ));
    }
    Ok(())
}

//! Finding, reading and writing mapping files.

use super::Mapping;
use crate::atomic::{io_error, write_atomic};
use crate::error::{Place, Problem, TracksError};
use std::fs;
use std::path::{Path, PathBuf};

/// Name of a mapping that serves every data file of its folder.
pub const MAPPING_NAME: &str = "tracks.toml";

/// A mapping is a page of text; more is something else.
const LARGEST: u64 = 4 << 20;

/// Where a data file's mapping is looked for: `<stem>.tracks.toml`, then `tracks.toml`, beside it.
#[must_use]
pub fn mapping_names(data: &Path) -> [PathBuf; 2] {
    let own = format!("{}.{MAPPING_NAME}", crate::read::stem(data));
    [data.with_file_name(own), data.with_file_name(MAPPING_NAME)]
}

impl Mapping {
    /// Parse a mapping; `path` is for messages and for the files it names.
    ///
    /// # Errors
    /// [`Problem::Toml`] with line and column, or [`Problem::Value`] for what cannot be.
    pub fn parse(text: &str, path: &Path) -> Result<Self, TracksError> {
        let mut mapping: Self = toml::from_str(text).map_err(|e| {
            let mut place = Place::file(path);
            if let Some(span) = e.span() {
                let before = text.get(..span.start).unwrap_or(text);
                place.row = Some(before.matches('\n').count() as u64 + 1);
                let column = before
                    .rsplit('\n')
                    .next()
                    .map_or(0, |line| line.chars().count());
                place.column = Some((column + 1).to_string());
            }
            let message = e.message().replace('\n', "; ");
            TracksError::new(place, Problem::Toml { message })
        })?;
        path.clone_into(&mut mapping.path);
        mapping.check().map_err(|problem| {
            let mut place = Place::file(path);
            if let Problem::Value { field, .. } = &problem {
                place.row = line_of(text, field);
            }
            TracksError::new(place, problem)
        })?;
        Ok(mapping)
    }

    /// Read a mapping file.
    ///
    /// # Errors
    /// [`Problem::Io`], [`Problem::Limit`], or as [`Mapping::parse`].
    pub fn load(path: &Path) -> Result<Self, TracksError> {
        let size = fs::metadata(path)
            .map_err(|e| io_error(path, "read", &e))?
            .len();
        if size > LARGEST {
            return Err(TracksError::new(
                Place::file(path),
                Problem::Limit {
                    what: "the mapping",
                    found: format!("{size} bytes"),
                    limit: format!("{LARGEST} bytes"),
                },
            ));
        }
        let bytes = fs::read(path).map_err(|e| io_error(path, "read", &e))?;
        let text = String::from_utf8(bytes)
            .map_err(|_| TracksError::new(Place::file(path), Problem::Utf8))?;
        Self::parse(&text, path)
    }

    /// The mapping that belongs to a data file.
    ///
    /// # Errors
    /// [`Problem::NoMapping`] with the names looked for, or as [`Mapping::load`].
    pub fn beside(data: &Path) -> Result<Self, TracksError> {
        let names = mapping_names(data);
        for name in &names {
            if name.exists() {
                return Self::load(name);
            }
        }
        let looked = names
            .iter()
            .filter_map(|n| n.file_name())
            .map(|n| format!("`{}`", n.to_string_lossy()))
            .collect();
        Err(TracksError::new(
            Place::file(data),
            Problem::NoMapping { looked },
        ))
    }

    /// The mapping as TOML text.
    #[must_use]
    pub fn to_toml(&self) -> String {
        // Every field is a plain value, a table or an array of tables, which TOML can hold.
        toml::to_string(self).unwrap_or_default()
    }

    /// Write the mapping, atomically.
    ///
    /// # Errors
    /// [`Problem::Io`].
    pub fn save(&self, path: &Path) -> Result<(), TracksError> {
        write_atomic(path, self.to_toml().as_bytes())
    }

    /// A file named in the mapping, relative to the mapping's folder.
    #[must_use]
    pub fn beside_path(&self, file: &Path) -> PathBuf {
        self.path
            .parent()
            .map_or_else(|| file.to_owned(), |p| p.join(file))
    }
}

/// The line, from 1, that sets `table.key`.
fn line_of(text: &str, field: &str) -> Option<u64> {
    let (table, key) = field.rsplit_once('.').unwrap_or(("", field));
    let mut inside = table.is_empty();
    let mut nearest = None;
    for (i, line) in text.lines().enumerate() {
        let line = line.trim();
        if line.starts_with('[') && !line.contains('=') {
            inside = line.trim_matches(['[', ']']) == table;
            if inside {
                nearest = nearest.or(Some(i as u64 + 1));
            }
        } else if inside
            && line
                .strip_prefix(key)
                .is_some_and(|rest| rest.trim_start().starts_with('='))
        {
            return Some(i as u64 + 1);
        }
    }
    nearest
}

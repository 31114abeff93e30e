//! Delimited text (RFC 4180, with any delimiter and decimal sign).

use super::text::{self, Lines, Quotes};
use super::{Ready, Sink};
use crate::error::{Place, Problem, TracksError, shown};
use crate::limits;
use crate::mapping::{FileSpec, Format};
use crate::table::{Column, Interner, Labels, Request, Want, instant, number, seconds};
use ::csv::{ByteRecord, ReaderBuilder, Trim};
use rayon::prelude::*;
use std::path::{Path, PathBuf};

/// Bytes read by one worker at a time, and of the text that is in memory.
const PIECE: usize = 1 << 20;
const WINDOW: usize = 4 * PIECE;

/// Cells that stand for a missing value.
const MISSING: [&str; 8] = ["", "NA", "N/A", "NaN", "nan", "null", "NULL", "None"];

/// A text file with its header read.
pub(crate) struct CsvText {
    file: PathBuf,
    /// Where the rows begin.
    body: usize,
    /// Line number of the first row.
    first_line: u64,
    delimiter: u8,
    decimal: u8,
    names: Vec<String>,
    named: bool,
    missing: Vec<String>,
}

/// Something wrong in a piece: its line within the piece, from 1, and the column's place.
struct Wrong {
    line: u64,
    column: Option<usize>,
    problem: Problem,
}

impl CsvText {
    pub(super) fn open(file: &Path, spec: &FileSpec, format: Format) -> Result<Self, TracksError> {
        let tsv = file
            .file_name()
            .is_some_and(|n| n.to_string_lossy().to_lowercase().contains(".tsv"));
        let delimiter = spec.delimiter.unwrap_or(if tsv { '\t' } else { ',' }) as u8;
        let named = spec.header.unwrap_or(format != Format::Motchallenge);
        let bytes = Lines::open(file, Quotes::Double)?.next(WINDOW)?;
        // A byte order mark is no part of the first name.
        let start = if bytes.starts_with(&[0xef, 0xbb, 0xbf]) {
            3
        } else {
            0
        };
        let mut this = Self {
            file: file.to_owned(),
            body: start,
            first_line: 1,
            delimiter,
            decimal: spec.decimal.unwrap_or('.') as u8,
            names: Vec::new(),
            named,
            missing: spec.missing.clone(),
        };
        let mut reader = this.reader(&bytes[start..]);
        let mut first = ByteRecord::new();
        let any = reader
            .read_byte_record(&mut first)
            .map_err(|e| this.damaged(&e))?;
        if !any {
            return Err(TracksError::new(
                Place::file(file),
                Problem::Empty {
                    expected: "rows of positions",
                },
            ));
        }
        if named {
            let after = reader.position().byte() as usize;
            let line = reader.position().line();
            drop(reader);
            this.body = start + after;
            this.first_line = line;
            for name in &first {
                let name = std::str::from_utf8(name)
                    .map_err(|_| TracksError::new(Place::row(file, 1), Problem::Utf8))?;
                this.names.push(name.to_owned());
            }
        } else {
            drop(reader);
            this.names = (1..=first.len()).map(|n| n.to_string()).collect();
        }
        Ok(this)
    }

    pub(super) fn names(&self) -> &[String] {
        &self.names
    }

    pub(super) fn named(&self) -> bool {
        self.named
    }

    fn reader<'a>(&self, text: &'a [u8]) -> ::csv::Reader<&'a [u8]> {
        ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(self.delimiter)
            .trim(Trim::All)
            .from_reader(text)
    }

    fn damaged(&self, e: &::csv::Error) -> TracksError {
        TracksError::new(
            Place::file(&self.file),
            Problem::Damaged {
                format: "delimited text",
                reason: e.to_string(),
            },
        )
    }

    pub(super) fn sample(&self, rows: usize) -> Result<Vec<Vec<String>>, TracksError> {
        let mut out: Vec<Vec<String>> = vec![Vec::new(); self.names.len()];
        let bytes = Lines::open(&self.file, Quotes::Double)?.next(WINDOW)?;
        let mut reader = self.reader(bytes.get(self.body..).unwrap_or_default());
        let mut record = ByteRecord::new();
        for _ in 0..rows {
            let line = self.first_line + reader.position().line() - 1;
            if !reader
                .read_byte_record(&mut record)
                .map_err(|e| self.damaged(&e))?
            {
                break;
            }
            if record.len() != self.names.len() {
                return Err(TracksError::new(
                    Place::row(&self.file, line),
                    Problem::Cells {
                        found: record.len(),
                        expected: self.names.len(),
                    },
                ));
            }
            for (column, cell) in out.iter_mut().zip(&record) {
                column.push(if self.is_missing(cell) {
                    String::new()
                } else {
                    String::from_utf8_lossy(cell).into_owned()
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
        let mut text = Lines::open(&self.file, Quotes::Double)?;
        let mut header = self.body;
        let mut line = self.first_line;
        let mut rows = 0;
        loop {
            let window = text.next(WINDOW)?;
            if window.is_empty() {
                break;
            }
            let body = window.get(header..).unwrap_or_default();
            header = 0;
            let pieces = text::pieces(body, PIECE, Quotes::Double);
            let read: Vec<_> = pieces
                .par_iter()
                .map(|piece| self.read_piece(piece, requests))
                .collect();
            for (piece, result) in pieces.iter().zip(read) {
                let part = result.map_err(|wrong| {
                    let mut place = Place::row(&self.file, line + wrong.line - 1);
                    place.column = wrong.column.and_then(|c| self.names.get(c).cloned());
                    TracksError::new(place, wrong.problem)
                })?;
                line += text::lines(piece);
                rows += part.first().map_or(0, Column::len) as u64;
                super::check_rows(&self.file, rows)?;
                sink(&mut Ready::new(part))?;
            }
        }
        if rows == 0 {
            return Err(TracksError::new(
                Place::file(&self.file),
                Problem::Empty {
                    expected: "rows below the header",
                },
            ));
        }
        Ok(())
    }

    /// Rows without quotes need no more than cutting at delimiters and line ends.
    fn read_plain(
        &self,
        piece: &[u8],
        requests: &[Request],
        columns: &mut [Column],
        interners: &mut [Interner],
    ) -> Result<(), Wrong> {
        let mut cells: Vec<&[u8]> = Vec::with_capacity(self.names.len());
        for (line, text) in (1_u64..).zip(piece.split(|b| *b == b'\n')) {
            let text = text.strip_suffix(b"\r").unwrap_or(text);
            if text.is_empty() {
                continue;
            }
            cells.clear();
            cells.extend(text.split(|b| *b == self.delimiter).map(<[u8]>::trim_ascii));
            if cells.len() != self.names.len() {
                return Err(Wrong {
                    line,
                    column: None,
                    problem: Problem::Cells {
                        found: cells.len(),
                        expected: self.names.len(),
                    },
                });
            }
            self.push_row(line, |index| cells[index], requests, columns, interners)?;
        }
        Ok(())
    }

    fn read_piece(&self, piece: &[u8], requests: &[Request]) -> Result<Vec<Column>, Wrong> {
        let row_bytes = piece
            .iter()
            .position(|b| *b == b'\n')
            .unwrap_or(piece.len())
            .max(2);
        let rows = piece.len() / row_bytes + 1;
        let mut columns: Vec<Column> = requests
            .iter()
            .map(|r| Column::empty(r.want, rows))
            .collect();
        let mut interners: Vec<Interner> = requests.iter().map(|_| Interner::default()).collect();
        // Line ends may also be single carriage returns, which the reader of quoted text knows.
        let bare = |i: usize| piece[i] == b'\r' && piece.get(i + 1) != Some(&b'\n');
        if piece.contains(&b'"') || (0..piece.len()).any(bare) {
            self.read_quoted(piece, requests, &mut columns, &mut interners)?;
        } else {
            self.read_plain(piece, requests, &mut columns, &mut interners)?;
        }
        for (column, interner) in columns.iter_mut().zip(interners) {
            if let Column::Label(Labels { names, .. }) = column {
                *names = interner.into_names();
            }
        }
        Ok(columns)
    }

    fn read_quoted(
        &self,
        piece: &[u8],
        requests: &[Request],
        columns: &mut [Column],
        interners: &mut [Interner],
    ) -> Result<(), Wrong> {
        let mut reader = self.reader(piece);
        let mut record = ByteRecord::new();
        loop {
            let line = reader.position().line();
            let more = reader.read_byte_record(&mut record).map_err(|e| Wrong {
                line,
                column: None,
                problem: Problem::Damaged {
                    format: "delimited text",
                    reason: e.to_string(),
                },
            })?;
            if !more {
                break;
            }
            let line = record.position().map_or(line, ::csv::Position::line);
            if record.len() != self.names.len() {
                let open = record.iter().find(|cell| cell.contains(&b'\n'));
                return Err(Wrong {
                    line,
                    column: None,
                    problem: match open {
                        Some(cell) => Problem::Cell {
                            found: shown(&String::from_utf8_lossy(cell)),
                            expected: "a closing quote".into(),
                            mend: "Close the quote that opens in this row.",
                        },
                        None => Problem::Cells {
                            found: record.len(),
                            expected: self.names.len(),
                        },
                    },
                });
            }
            let cell = |index| record.get(index).unwrap_or_default();
            self.push_row(line, cell, requests, columns, interners)?;
        }
        Ok(())
    }

    fn push_row<'a>(
        &self,
        line: u64,
        cell: impl Fn(usize) -> &'a [u8],
        requests: &[Request],
        columns: &mut [Column],
        interners: &mut [Interner],
    ) -> Result<(), Wrong> {
        for ((request, column), interner) in requests.iter().zip(columns).zip(interners) {
            self.push(cell(request.index), request.want, column, interner)
                .map_err(|problem| Wrong {
                    line,
                    column: Some(request.index),
                    problem,
                })?;
        }
        Ok(())
    }

    fn push(
        &self,
        cell: &[u8],
        want: Want,
        column: &mut Column,
        interner: &mut Interner,
    ) -> Result<(), Problem> {
        match column {
            Column::Number(values) => {
                let v = match self.parse(cell, want) {
                    Some(v) => v,
                    None if self.is_missing(cell) => f64::NAN,
                    None => return Err(self.wrong_cell(cell, want)),
                };
                values.push(v);
            }
            Column::Instant(values) => {
                let v = match std::str::from_utf8(cell).ok().and_then(instant) {
                    Some(v) => v,
                    None if self.is_missing(cell) => i64::MIN,
                    None => return Err(self.wrong_cell(cell, want)),
                };
                values.push(v);
            }
            Column::Label(labels) => {
                let code = if cell.is_empty() || self.is_missing(cell) {
                    Labels::MISSING
                } else {
                    let code = interner.code(cell)?;
                    if interner.len() > limits::OBJECTS {
                        return Err(too_many_labels());
                    }
                    code
                };
                labels.codes.push(code);
            }
        }
        Ok(())
    }

    fn parse(&self, cell: &[u8], want: Want) -> Option<f64> {
        let text = std::str::from_utf8(cell).ok()?;
        let parse = |t: &str| match want {
            Want::Seconds => seconds(t),
            _ => number(t),
        };
        let v = if self.decimal == b',' {
            if text.contains('.') {
                return None;
            }
            parse(&text.replace(',', "."))
        } else {
            parse(text)
        };
        // A number may be declared to mean "missing".
        match v {
            Some(_) if !self.missing.is_empty() && self.is_missing(cell) => None,
            v => v,
        }
    }

    fn is_missing(&self, cell: &[u8]) -> bool {
        MISSING.iter().any(|m| m.as_bytes() == cell)
            || self.missing.iter().any(|m| m.as_bytes() == cell)
    }

    fn wrong_cell(&self, cell: &[u8], want: Want) -> Problem {
        let text = String::from_utf8_lossy(cell);
        let comma =
            self.decimal == b'.' && text.contains(',') && number(&text.replace(',', ".")).is_some();
        Problem::Cell {
            found: shown(&text),
            expected: want.expected().to_owned(),
            mend: if comma {
                "Set `file.decimal = \",\"` in the mapping."
            } else {
                "Correct the cell, or list it under `file.missing` if it stands for no value."
            },
        }
    }
}

pub(super) fn too_many_labels() -> Problem {
    Problem::Limit {
        what: "the number of different objects",
        found: format!("more than {}", limits::OBJECTS),
        limit: limits::OBJECTS.to_string(),
    }
}

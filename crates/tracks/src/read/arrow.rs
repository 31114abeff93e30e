//! Parquet, and Arrow IPC as file or stream, through polars.

use super::csv::too_many_labels;
use super::{Part, Sink};
use crate::atomic::io_error;
use crate::error::{Place, Problem, TracksError, shown};
use crate::limits;
use crate::table::{
    Column as Cells, Interner, Labels, Request, Succession, Want, instant, number_label, seconds,
};
use polars::prelude::*;
use rayon::prelude::*;
use std::fs::File;
use std::io::{Read, Seek};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

/// Which of the two families.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Parquet,
    Ipc,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Container {
    Parquet,
    IpcFile,
    IpcStream,
}

/// A table file with its schema read.
pub(crate) struct ArrowFile {
    file: PathBuf,
    container: Container,
    names: Vec<String>,
    types: Vec<ArrowDataType>,
    /// First row and number of rows of what is decoded at a time; empty for all at once.
    parts: Vec<(usize, usize)>,
}

/// Rows decoded at a time at least, where the file is written in groups of rows.
const PART_ROWS: usize = 1 << 17;

/// Groups of rows as they are decoded.
fn parts(groups: Vec<usize>) -> Vec<(usize, usize)> {
    let mut out: Vec<(usize, usize)> = Vec::new();
    for rows in groups.into_iter().filter(|rows| *rows > 0) {
        match out.last_mut() {
            Some(last) if last.1 < PART_ROWS => last.1 += rows,
            last => {
                let from = last.map_or(0, |l| l.0 + l.1);
                out.push((from, rows));
            }
        }
    }
    out
}

impl Container {
    fn format(self) -> &'static str {
        match self {
            Self::Parquet => "Parquet",
            Self::IpcFile => "Arrow IPC",
            Self::IpcStream => "Arrow IPC stream",
        }
    }
}

impl ArrowFile {
    pub(super) fn open(path: &Path, kind: Kind) -> Result<Self, TracksError> {
        let mut file = File::open(path).map_err(|e| io_error(path, "read", &e))?;
        let size = file
            .metadata()
            .map_err(|e| io_error(path, "read", &e))?
            .len();
        if size == 0 {
            return Err(TracksError::new(
                Place::file(path),
                Problem::Empty {
                    expected: "a table of positions",
                },
            ));
        }
        let mut magic = [0_u8; 6];
        let n = file
            .read(&mut magic)
            .map_err(|e| io_error(path, "read", &e))?;
        // First bytes as the Parquet and Arrow columnar format specifications give them.
        let container = match kind {
            Kind::Parquet => Container::Parquet,
            Kind::Ipc if magic == *b"ARROW1" => Container::IpcFile,
            Kind::Ipc => Container::IpcStream,
        };
        let damaged = |reason: String| {
            TracksError::new(
                Place::file(path),
                Problem::Damaged {
                    format: container.format(),
                    reason,
                },
            )
        };
        if container == Container::Parquet && !magic[..n].starts_with(b"PAR1") {
            return Err(damaged("it does not begin with the letters PAR1".into()));
        }
        if container == Container::IpcStream && !magic[..n].starts_with(&[0xff; 4]) {
            return Err(damaged(
                "it begins neither with ARROW1, as a file, nor with a stream's mark".into(),
            ));
        }
        if container == Container::Parquet {
            let mut tail = [0_u8; 4];
            let whole = size >= 12
                && file.seek(std::io::SeekFrom::End(-4)).is_ok()
                && file.read_exact(&mut tail).is_ok()
                && &tail == b"PAR1";
            if !whole {
                return Err(damaged("it does not end with the letters PAR1".into()));
            }
        }
        let file = File::open(path).map_err(|e| io_error(path, "read", &e))?;
        let schema = guarded(|| match container {
            Container::Parquet => {
                let mut r = ParquetReader::new(file);
                let groups = &r.get_metadata()?.row_groups;
                let sizes = groups
                    .iter()
                    .map(|g| (g.num_rows(), g.total_byte_size() as u64));
                let (rows, bytes): (Vec<usize>, Vec<u64>) = sizes.unzip();
                let (parts, unpacked) = (parts(rows), bytes.iter().sum());
                Ok((fields(&*r.schema()?), r.num_rows()? as u64, unpacked, parts))
            }
            Container::IpcFile => Ok((fields(&*IpcReader::new(file).schema()?), 0, 0, Vec::new())),
            Container::IpcStream => Ok((
                fields(&IpcStreamReader::new(file).arrow_schema()?),
                0,
                0,
                Vec::new(),
            )),
        });
        let (fields, rows, unpacked, parts) = schema.map_err(damaged)?;
        super::check_rows(path, rows)?;
        if unpacked > limits::TABLE_BYTES {
            return Err(TracksError::new(
                Place::file(path),
                Problem::Limit {
                    what: "the table",
                    found: format!("{unpacked} bytes once unpacked"),
                    limit: format!("{} bytes", limits::TABLE_BYTES),
                },
            ));
        }
        let (names, types) = fields.into_iter().unzip();
        Ok(Self {
            file: path.to_owned(),
            container,
            names,
            types,
            parts,
        })
    }

    pub(super) fn names(&self) -> &[String] {
        &self.names
    }

    fn wrong_type(&self, index: usize, want: Want) -> TracksError {
        TracksError::new(
            Place::file(&self.file).column(self.names[index].clone()),
            Problem::ColumnType {
                found: format!("{:?}", self.types[index]),
                expected: want.expected(),
            },
        )
    }

    pub(super) fn sample(&self, rows: usize) -> Result<Vec<Vec<String>>, TracksError> {
        let places: Vec<usize> = (0..self.types.len())
            .filter(|i| readable(&self.types[*i]))
            .collect();
        let frame = self.frame(places, (0, rows))?;
        let texts = |name: &String| -> Vec<String> {
            let column = frame.column(name).map(Column::as_materialized_series);
            column
                .ok()
                .and_then(texts)
                .unwrap_or_else(|| vec![String::new(); frame.height()])
        };
        Ok(self.names.iter().map(texts).collect())
    }

    pub(super) fn holds_instants(&self, column: usize) -> bool {
        use ArrowDataType as T;
        matches!(self.types[column], T::Timestamp(..) | T::Date32 | T::Date64)
    }

    /// Decode some columns of some rows: the first of them and their number. Only Parquet is read
    /// from elsewhere than its beginning.
    fn frame(&self, places: Vec<usize>, rows: (usize, usize)) -> Result<DataFrame, TracksError> {
        let file = File::open(&self.file).map_err(|e| io_error(&self.file, "read", &e))?;
        let places = Some(places);
        guarded(|| match self.container {
            Container::Parquet => ParquetReader::new(file)
                .with_projection(places)
                .with_slice(Some(rows))
                .set_rechunk(true)
                .finish(),
            Container::IpcFile => IpcReader::new(file)
                .with_projection(places)
                .with_n_rows(Some(rows.1))
                .set_rechunk(true)
                .finish(),
            Container::IpcStream => IpcStreamReader::new(file)
                .with_projection(places)
                .with_n_rows(Some(rows.1))
                .set_rechunk(true)
                .finish(),
        })
        .map_err(|reason| {
            TracksError::new(
                Place::file(&self.file),
                Problem::Damaged {
                    format: self.container.format(),
                    reason,
                },
            )
        })
    }

    pub(super) fn read_parts(
        &self,
        requests: &[Request],
        sink: Sink<'_>,
    ) -> Result<(), TracksError> {
        for r in requests {
            if !readable(&self.types[r.index]) {
                return Err(self.wrong_type(r.index, r.want));
            }
        }
        let part = |rows, whole| Rows {
            file: self,
            requests,
            rows,
            whole,
        };
        if !self.parts.is_empty() {
            for rows in &self.parts {
                sink(&mut part(*rows, None))?;
            }
            return Ok(());
        }
        // One row more than there may be, so that the check sees it.
        let all = (0, limits::ROWS as usize + 1);
        let whole = if self.container == Container::IpcStream {
            // A stream is read from its beginning, whatever is wanted of it.
            let mut places: Vec<usize> = requests.iter().map(|r| r.index).collect();
            places.sort_unstable();
            places.dedup();
            Some(self.rows(places, all)?)
        } else {
            None
        };
        sink(&mut part(all, whole))
    }

    fn rows(&self, places: Vec<usize>, rows: (usize, usize)) -> Result<DataFrame, TracksError> {
        let frame = self.frame(places, rows)?;
        super::check_rows(&self.file, (rows.0 + frame.height()) as u64)?;
        if frame.height() == 0 {
            return Err(TracksError::new(
                Place::file(&self.file),
                Problem::Empty {
                    expected: "rows of positions",
                },
            ));
        }
        Ok(frame)
    }

    fn column(&self, frame: &DataFrame, r: Request, first: usize) -> Result<Cells, TracksError> {
        let column = frame
            .column(&self.names[r.index])
            .map_err(|_| self.wrong_type(r.index, r.want))?;
        self.convert(column.as_materialized_series(), r, first)
    }

    /// `first` is the row at which the series begins.
    fn convert(
        &self,
        series: &Series,
        request: Request,
        first: usize,
    ) -> Result<Cells, TracksError> {
        let wrong = |row: usize, found: &str| {
            TracksError::new(
                Place::row(&self.file, (first + row) as u64 + 1)
                    .column(self.names[request.index].clone()),
                Problem::Cell {
                    found: shown(found),
                    expected: request.want.expected().to_owned(),
                    mend: "Correct the value, or name another column in the mapping.",
                },
            )
        };
        let failed = |_| self.wrong_type(request.index, request.want);
        let dated = self.holds_instants(request.index);
        if dated && request.want != Want::Instant {
            return Err(self.wrong_type(request.index, request.want));
        }
        // Categories are text written once.
        let plain = plain(series).map_err(failed)?;
        let series = &plain;
        match request.want {
            Want::Instant if dated => instants(series)
                .map(Cells::Instant)
                .ok_or_else(|| self.wrong_type(request.index, request.want)),
            Want::Number | Want::Seconds => {
                if let Ok(text) = series.str() {
                    if request.want == Want::Number {
                        return Err(self.wrong_type(request.index, request.want));
                    }
                    let mut out = Vec::with_capacity(text.len());
                    for (row, cell) in text.iter().enumerate() {
                        out.push(match cell {
                            None => f64::NAN,
                            Some(t) => seconds(t).ok_or_else(|| wrong(row, t))?,
                        });
                    }
                    return Ok(Cells::Number(out));
                }
                let series = series.cast(&DataType::Float64).map_err(failed)?;
                let values = series.f64().map_err(failed)?;
                let mut out: Vec<f64> = Vec::with_capacity(values.len());
                for chunk in values.downcast_iter() {
                    let from = out.len();
                    out.extend_from_slice(chunk.values());
                    if let Some(valid) = chunk.validity() {
                        for (v, valid) in out[from..].iter_mut().zip(valid) {
                            *v = if valid { *v } else { f64::NAN };
                        }
                    }
                }
                match out.iter().position(|v| v.is_infinite()) {
                    Some(row) => Err(wrong(row, "inf")),
                    None => Ok(Cells::Number(out)),
                }
            }
            Want::Instant => {
                let text = series.str().map_err(failed)?;
                let mut out = Vec::with_capacity(text.len());
                for (row, cell) in text.iter().enumerate() {
                    out.push(match cell {
                        None => i64::MIN,
                        Some(t) => instant(t).ok_or_else(|| wrong(row, t))?,
                    });
                }
                Ok(Cells::Instant(out))
            }
            Want::Label => self.labels(series, request, first),
        }
    }

    fn labels(
        &self,
        series: &Series,
        request: Request,
        first: usize,
    ) -> Result<Cells, TracksError> {
        let failed = |_| self.wrong_type(request.index, request.want);
        let mut interner = Interner::default();
        let mut codes = Vec::with_capacity(series.len());
        let mut code = |row: usize, name: &str| {
            let code = interner.code(name.as_bytes()).map_err(|problem| {
                let place = Place::row(&self.file, (first + row) as u64 + 1);
                TracksError::new(place.column(self.names[request.index].clone()), problem)
            })?;
            if interner.len() > limits::OBJECTS {
                let place = Place::file(&self.file).column(self.names[request.index].clone());
                return Err(TracksError::new(place, too_many_labels()));
            }
            Ok(code)
        };
        if let Ok(text) = series.str() {
            let mut short = ShortTexts::default();
            for (chunk, array) in text.chunks().iter().zip(text.downcast_iter()) {
                let valid = chunk.validity();
                for (i, v) in array.views().iter().enumerate() {
                    let here = codes.len();
                    if v.length == 0 || valid.is_some_and(|valid| !valid.get_bit(i)) {
                        codes.push(Labels::MISSING);
                        continue;
                    }
                    let view = [v.length, v.prefix, v.buffer_idx, v.offset];
                    if let Some(known) = short.code(view) {
                        codes.push(known);
                        continue;
                    }
                    let found = code(here, array.value(i))?;
                    short.keep(view, found);
                    codes.push(found);
                }
            }
        } else {
            // Numbers: equal neighbours are frequent enough to keep the last text.
            let series = series.cast(&DataType::Float64).map_err(failed)?;
            let values = series.f64().map_err(failed)?;
            let mut last = (f64::NAN, String::new());
            for cell in values.iter() {
                let here = codes.len();
                codes.push(match cell.filter(|v| v.is_finite()) {
                    None => Labels::MISSING,
                    Some(v) => {
                        if v.to_bits() != last.0.to_bits() {
                            last = (v, number_label(v));
                        }
                        code(here, &last.1)?
                    }
                });
            }
        }
        Ok(Cells::Label(Labels {
            codes,
            names: interner.into_names(),
        }))
    }
}

/// Texts of at most twelve bytes, which Arrow's views hold whole (Arrow columnar format 1.4, variable-size
/// binary view layout): equal views are equal texts, so that most rows need no look at text.
#[derive(Default)]
struct ShortTexts {
    /// By code; only of short texts.
    views: Vec<Option<[u32; 4]>>,
    succession: Succession,
}

impl ShortTexts {
    const BYTES: u32 = 12;

    /// The code of a view, if it is the one that was expected.
    fn code(&mut self, view: [u32; 4]) -> Option<u32> {
        let views = &self.views;
        self.succession
            .guess(|code| views.get(code as usize) == Some(&Some(view)))
    }

    /// Remember what was found out otherwise.
    fn keep(&mut self, view: [u32; 4], code: u32) {
        let at = code as usize;
        if self.views.len() <= at {
            self.views.resize(at + 1, None);
        }
        if view[0] <= Self::BYTES {
            self.views[at] = Some(view);
        }
        self.succession.learn(code);
    }
}

/// Some rows of a file.
struct Rows<'f> {
    file: &'f ArrowFile,
    requests: &'f [Request],
    rows: (usize, usize),
    /// All that is wanted of a stream.
    whole: Option<DataFrame>,
}

impl Rows<'_> {
    fn column(&self, request: usize) -> Result<Cells, TracksError> {
        let r = self.requests[request];
        match &self.whole {
            Some(frame) => self.file.column(frame, r, self.rows.0),
            None => {
                let frame = self.file.rows(vec![r.index], self.rows)?;
                self.file.column(&frame, r, self.rows.0)
            }
        }
    }
}

impl Part for Rows<'_> {
    fn take(&mut self, request: usize) -> Result<Cells, TracksError> {
        self.column(request)
    }

    fn take_all(&mut self, requests: &[usize]) -> Result<Vec<Cells>, TracksError> {
        let number = |i: &usize| self.requests[*i].want == Want::Number;
        if self.file.parts.is_empty() && requests.iter().all(number) {
            // Mostly copies of memory: one at a time takes as long, and half the room.
            return requests.iter().map(|i| self.column(*i)).collect();
        }
        let this = &*self;
        let read: Vec<_> = requests.par_iter().map(|i| this.column(*i)).collect();
        read.into_iter().collect()
    }
}

fn fields(schema: &ArrowSchema) -> Vec<(String, ArrowDataType)> {
    schema
        .iter_values()
        .map(|f| (f.name.to_string(), f.dtype.clone()))
        .collect()
}

/// Types that polars turns into numbers, text or dates with the features we build it with.
fn readable(t: &ArrowDataType) -> bool {
    use ArrowDataType as T;
    match t {
        T::Boolean
        | T::Int8
        | T::Int16
        | T::Int32
        | T::Int64
        | T::UInt8
        | T::UInt16
        | T::UInt32
        | T::UInt64
        | T::Float32
        | T::Float64
        | T::Decimal32(..)
        | T::Decimal64(..)
        | T::Decimal(..)
        | T::Date32
        | T::Date64
        | T::Timestamp(..)
        | T::Utf8
        | T::LargeUtf8
        | T::Utf8View => true,
        T::Dictionary(_, values, _) => {
            matches!(**values, T::Utf8 | T::LargeUtf8 | T::Utf8View)
        }
        _ => false,
    }
}

/// Categories as text; everything else as it is.
fn plain(series: &Series) -> PolarsResult<Series> {
    match series.dtype() {
        DataType::Categorical(..) | DataType::Enum(..) => series.cast(&DataType::String),
        _ => Ok(series.clone()),
    }
}

/// Dates and times as nanoseconds since 1970 UTC, `i64::MIN` where missing; `None` for other types,
/// and for times no such number can hold. Without a zone, UTC is assumed.
fn instants(series: &Series) -> Option<Vec<i64>> {
    let unit = match series.dtype() {
        DataType::Datetime(TimeUnit::Nanoseconds, _) => 1,
        DataType::Datetime(TimeUnit::Microseconds, _) => 1_000,
        DataType::Datetime(TimeUnit::Milliseconds, _) => 1_000_000,
        DataType::Date => 86_400_000_000_000,
        _ => return None,
    };
    let physical = series.to_physical_repr().cast(&DataType::Int64).ok()?;
    let values = physical.i64().ok()?;
    values
        .iter()
        .map(|v| v.map_or(Some(i64::MIN), |v| v.checked_mul(unit)))
        .collect()
}

/// Values as text; empty where missing.
fn texts(series: &Series) -> Option<Vec<String>> {
    if let Some(stamps) = instants(series) {
        let text = |ns: i64| jiff::Timestamp::from_nanosecond(i128::from(ns)).ok();
        let shown = |ns: i64| text(ns).map_or_else(String::new, |t| t.to_string());
        return Some(
            stamps
                .into_iter()
                .map(|ns| {
                    if ns == i64::MIN {
                        String::new()
                    } else {
                        shown(ns)
                    }
                })
                .collect(),
        );
    }
    let series = plain(series).ok()?;
    if let Ok(text) = series.str() {
        return Some(
            text.iter()
                .map(|t| t.unwrap_or_default().to_owned())
                .collect(),
        );
    }
    let series = series.cast(&DataType::Float64).ok()?;
    let number = |v: Option<f64>| v.filter(|v| v.is_finite());
    let values = series.f64().ok()?;
    Some(
        values
            .iter()
            .map(|v| number(v).map_or_else(String::new, number_label))
            .collect(),
    )
}

/// Run a decoder on bytes nobody vouches for. Decoders of binary formats may panic on crafted
/// input; here that becomes an error like any other.
fn guarded<T>(decode: impl FnOnce() -> PolarsResult<T>) -> Result<T, String> {
    match catch_unwind(AssertUnwindSafe(decode)) {
        Ok(Ok(v)) => Ok(v),
        Ok(Err(e)) => Err(first_line(&e.to_string())),
        Err(_) => Err("its parts contradict each other".into()),
    }
}

fn first_line(text: &str) -> String {
    shown_long(text.lines().next().unwrap_or_default())
}

fn shown_long(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).take(160).collect()
}

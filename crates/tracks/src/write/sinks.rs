//! Columns into each file format.

use super::frame::{OutColumn, OutData};
use crate::atomic::AtomicFile;
use crate::error::{Place, Problem, TracksError};
use crate::mapping::Format;
use polars::prelude::{
    Column, DataFrame, IntoColumn, IpcStreamWriter, IpcWriter, NamedFrom, ParquetWriter,
    PolarsError, SerWriter, Series,
};
use std::fmt::Write as _;
use std::io::Write;
use std::path::Path;

pub(super) fn write(
    path: &Path,
    format: Format,
    columns: Vec<OutColumn>,
) -> Result<(), TracksError> {
    match format {
        Format::Csv => text(path, |out| csv(out, &columns, delimiter(path))),
        Format::Ndjson => text(path, |out| ndjson(out, &columns)),
        Format::Parquet | Format::Ipc => {
            let mut frame = data_frame(columns).map_err(|e| failed(path, &e))?;
            let mut file = AtomicFile::create(path)?;
            let ending = path
                .extension()
                .and_then(|e| e.to_str())
                .unwrap_or_default();
            match format {
                Format::Parquet => ParquetWriter::new(&mut file).finish(&mut frame).map(|_| ()),
                _ if ending == "arrows" => IpcStreamWriter::new(&mut file).finish(&mut frame),
                _ => IpcWriter::new(&mut file).finish(&mut frame),
            }
            .map_err(|e| failed(path, &e))?;
            file.commit()
        }
        Format::MovingFeatures | Format::Motchallenge => Err(TracksError::new(
            Place::file(path),
            Problem::Value {
                field: "file.format".into(),
                found: "a format without rows of positions on a floor".into(),
                expected: "csv, ndjson, parquet or ipc".into(),
            },
        )),
    }
}

fn failed(path: &Path, e: &PolarsError) -> TracksError {
    TracksError::new(
        Place::file(path),
        Problem::Io {
            action: "write",
            reason: e.to_string(),
        },
    )
}

fn delimiter(path: &Path) -> char {
    if path.to_string_lossy().to_lowercase().contains(".tsv") {
        '\t'
    } else {
        ','
    }
}

/// Write text, compressed where the name says so.
pub(super) fn text(
    path: &Path,
    body: impl FnOnce(&mut dyn Write) -> std::io::Result<()>,
) -> Result<(), TracksError> {
    let mut file = AtomicFile::create(path)?;
    let written = match path.extension().and_then(|e| e.to_str()) {
        Some("gz") => {
            let mut gz = flate2::write::GzEncoder::new(&mut file, flate2::Compression::default());
            body(&mut gz).and_then(|()| gz.finish().map(|_| ()))
        }
        Some("zst") => zstd::stream::write::Encoder::new(&mut file, 3).and_then(|mut zst| {
            body(&mut zst)?;
            zst.finish().map(|_| ())
        }),
        _ => body(&mut file),
    };
    written.map_err(|e| file.error(&e))?;
    file.commit()
}

fn rows(columns: &[OutColumn]) -> usize {
    match columns.first().map(|c| &c.data) {
        Some(OutData::Numbers(v)) => v.len(),
        Some(OutData::Texts(v, _)) => v.len(),
        None => 0,
    }
}

fn csv(out: &mut dyn Write, columns: &[OutColumn], delimiter: char) -> std::io::Result<()> {
    let quoted = |s: &str| {
        if s.contains([delimiter, '"', '\n', '\r']) || s.trim() != s {
            format!("\"{}\"", s.replace('"', "\"\""))
        } else {
            s.to_owned()
        }
    };
    let names: Vec<String> = columns.iter().map(|c| quoted(&c.name)).collect();
    let texts: Vec<Vec<String>> = columns
        .iter()
        .map(|c| match &c.data {
            OutData::Texts(_, list) => list.iter().map(|t| quoted(t)).collect(),
            OutData::Numbers(_) => Vec::new(),
        })
        .collect();
    let mut line = names.join(&delimiter.to_string());
    for row in 0..rows(columns) {
        line.push('\n');
        out.write_all(line.as_bytes())?;
        line.clear();
        for (k, column) in columns.iter().enumerate() {
            if k > 0 {
                line.push(delimiter);
            }
            match &column.data {
                OutData::Numbers(v) if v[row].is_nan() => {}
                OutData::Numbers(v) => {
                    // The shortest text that reads back as the same number.
                    let _ = write!(line, "{}", v[row]);
                }
                OutData::Texts(v, _) => {
                    line.push_str(v[row].map_or("", |t| &texts[k][t as usize]));
                }
            }
        }
    }
    line.push('\n');
    out.write_all(line.as_bytes())
}

fn ndjson(out: &mut dyn Write, columns: &[OutColumn]) -> std::io::Result<()> {
    let string = |s: &str| serde_json::to_string(s).unwrap_or_default();
    let names: Vec<String> = columns.iter().map(|c| string(&c.name)).collect();
    let texts: Vec<Vec<String>> = columns
        .iter()
        .map(|c| match &c.data {
            OutData::Texts(_, list) => list.iter().map(|t| string(t)).collect(),
            OutData::Numbers(_) => Vec::new(),
        })
        .collect();
    let mut line = String::new();
    for row in 0..rows(columns) {
        line.clear();
        for (k, column) in columns.iter().enumerate() {
            line.push(if k == 0 { '{' } else { ',' });
            line.push_str(&names[k]);
            line.push(':');
            match &column.data {
                OutData::Numbers(v) if v[row].is_nan() => line.push_str("null"),
                OutData::Numbers(v) => {
                    let _ = write!(line, "{}", v[row]);
                }
                OutData::Texts(v, _) => {
                    line.push_str(v[row].map_or("null", |t| &texts[k][t as usize]));
                }
            }
        }
        line.push_str("}\n");
        out.write_all(line.as_bytes())?;
    }
    Ok(())
}

fn data_frame(columns: Vec<OutColumn>) -> Result<DataFrame, PolarsError> {
    let height = rows(&columns);
    let series: Vec<Column> = columns
        .into_iter()
        .map(|c| {
            let name = c.name.as_str().into();
            match c.data {
                OutData::Numbers(v) if v.iter().any(|x| x.is_nan()) => {
                    let some: Vec<Option<f64>> =
                        v.into_iter().map(|x| (!x.is_nan()).then_some(x)).collect();
                    Series::new(name, some)
                }
                OutData::Numbers(v) => Series::new(name, v),
                OutData::Texts(v, list) => {
                    let texts: Vec<Option<&str>> = v
                        .iter()
                        .map(|t| t.map(|t| list[t as usize].as_str()))
                        .collect();
                    Series::new(name, texts)
                }
            }
            .into_column()
        })
        .collect();
    DataFrame::new(height, series)
}

//! Tables to files: Arrow columns are handed to the Parquet and CSV writers as an Arrow IPC
//! stream, so one set of columns makes every format.

use crate::table::Table;
use arrow::{error::ArrowError, ipc::writer::StreamWriter};
use polars::prelude::{
    CsvWriter, DataFrame, IpcStreamReader, ParquetWriter, PolarsError, SerReader, SerWriter,
};
use std::io::Cursor;

/// Why a table could not be encoded.
#[derive(Debug, thiserror::Error)]
pub enum EncodeError {
    /// From the Arrow side.
    #[error("table `{table}` could not be handed over: {source}")]
    Arrow {
        /// Name of the table.
        table: &'static str,
        /// Cause.
        source: ArrowError,
    },
    /// From the writer of the format.
    #[error("table `{table}` could not be encoded: {source}")]
    Format {
        /// Name of the table.
        table: &'static str,
        /// Cause.
        source: PolarsError,
    },
}

/// A table as an Arrow IPC stream.
///
/// # Errors
/// [`EncodeError::Arrow`].
pub fn to_ipc_stream(table: &Table) -> Result<Vec<u8>, EncodeError> {
    let fail = |source| EncodeError::Arrow {
        table: table.name,
        source,
    };
    let mut bytes = Vec::new();
    let mut writer = StreamWriter::try_new(&mut bytes, &table.batch.schema()).map_err(fail)?;
    writer.write(&table.batch).map_err(fail)?;
    writer.finish().map_err(fail)?;
    drop(writer);
    Ok(bytes)
}

/// A table as a polars frame.
pub(crate) fn frame(table: &Table) -> Result<DataFrame, EncodeError> {
    let bytes = to_ipc_stream(table)?;
    IpcStreamReader::new(Cursor::new(bytes))
        .finish()
        .map_err(|source| EncodeError::Format {
            table: table.name,
            source,
        })
}

/// A table as a Parquet file.
///
/// # Errors
/// [`EncodeError`].
pub fn to_parquet(table: &Table) -> Result<Vec<u8>, EncodeError> {
    let mut bytes = Vec::new();
    ParquetWriter::new(&mut bytes)
        .finish(&mut frame(table)?)
        .map_err(|source| EncodeError::Format {
            table: table.name,
            source,
        })?;
    Ok(bytes)
}

/// A table as CSV with a header, UTF-8, comma, full stop, line feed.
///
/// # Errors
/// [`EncodeError`].
pub fn to_csv(table: &Table) -> Result<Vec<u8>, EncodeError> {
    let mut bytes = Vec::new();
    CsvWriter::new(&mut bytes)
        .finish(&mut frame(table)?)
        .map_err(|source| EncodeError::Format {
            table: table.name,
            source,
        })?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table::TableBuilder;
    use polars::prelude::{CsvReader, ParquetReader};

    fn table() -> Table {
        let rows = [
            (
                Some("a, \"quoted\"\nline".to_owned()),
                Some(1.234_567),
                Some(3),
                Some(true),
            ),
            (None, Some(f64::NAN), None, Some(false)),
        ];
        TableBuilder::new("t", "test rows", &rows)
            .text(
                "text",
                "any text",
                |r: &(Option<String>, Option<f64>, Option<usize>, _)| r.0.clone(),
            )
            .number("number", "s", "a time", |r| r.1)
            .count("count", "a count", |r| r.2)
            .flag("flag", "yes or no", |r| r.3)
            .build()
            .unwrap()
    }

    #[test]
    fn both_formats_read_back_the_same() {
        let t = table();
        let parquet = ParquetReader::new(Cursor::new(to_parquet(&t).unwrap()))
            .finish()
            .unwrap();
        let csv = CsvReader::new(Cursor::new(to_csv(&t).unwrap()))
            .finish()
            .unwrap();
        assert_eq!(parquet.shape(), (2, 4));
        assert!(parquet.equals_missing(&csv), "{parquet:?} {csv:?}");
        let numbers = parquet.column("number").unwrap().f64().unwrap();
        assert_eq!(numbers.get(0), Some(1.235), "rounded to thousandths");
        assert_eq!(numbers.get(1), None, "what is not a number is empty");
    }

    #[test]
    fn same_table_same_bytes() {
        assert_eq!(to_parquet(&table()).unwrap(), to_parquet(&table()).unwrap());
    }
}

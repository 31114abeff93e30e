//! Results as tables with documented schemas, and the files that keep them.

pub mod results;
mod table;
mod tables;
pub mod words;
mod write;

pub use table::Table;
pub use tables::tables;
pub use write::{EncodeError, to_csv, to_ipc_stream, to_parquet};

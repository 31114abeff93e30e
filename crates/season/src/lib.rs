//! Results as tables with documented schemas, the files that keep them, and the pipeline that
//! makes them.

pub mod agreement;
pub mod calibrate;
pub mod pipeline;
mod quality;
mod repetitions;
pub mod results;
pub mod reviewed;
pub mod settings;
pub mod staff;
mod staff_tables;
mod table;
mod tables;
pub mod tally;
mod verdicts;
mod withhold;
pub mod words;
mod write;

pub use table::Table;
pub use tables::tables;
pub use write::{EncodeError, to_csv, to_ipc_stream, to_parquet};

//! `setdrift convert`: tracks from one format into another, the mapping applied.

use crate::{error::CommandError, printer::Printer};
use setdrift_tracks::{Layout, WriteOptions, sources, write};
use std::path::PathBuf;

/// Write a session in another format, in metres and seconds in the court frame, uncleaned.
///
/// The format follows from the new name: .csv, .tsv, .ndjson (also .gz, .zst), .parquet, .arrow,
/// .arrows. A mapping is written beside it.
#[derive(clap::Args)]
pub struct ConvertArgs {
    /// The session: a file with its mapping, or a folder of parts.
    from: PathBuf,
    /// The new file.
    to: PathBuf,
    /// A row per time instead of a row per object and time.
    #[arg(long)]
    wide: bool,
}

/// Runs the command.
pub fn run(args: &ConvertArgs, printer: &Printer) -> Result<(), CommandError> {
    let found = sources(&args.from)?;
    let [source] = found.as_slice() else {
        return Err(CommandError::input(
            format!("{} holds {} sessions", args.from.display(), found.len()),
            "Name one file.",
        ));
    };
    if source.files.contains(&args.to) {
        return Err(CommandError::input(
            "the new file is the old one".to_owned(),
            "Give it another name.",
        ));
    }
    let (raw, warnings) = source.read_raw(&source.mapping()?)?;
    for w in &warnings {
        printer.note(&w.to_string());
    }
    let options = WriteOptions {
        layout: if args.wide {
            Layout::Wide
        } else {
            Layout::Long
        },
        ..WriteOptions::default()
    };
    let mapping = write(&raw, &args.to, &options)?;
    let (data, mapping) = (args.to.display(), mapping.path.display());
    if printer.json() {
        printer.value(&serde_json::json!({
            "data": data.to_string(),
            "mapping": mapping.to_string(),
        }));
    } else {
        printer.text(&format!("Tracks   {data}\nMapping  {mapping}\n"));
    }
    Ok(())
}

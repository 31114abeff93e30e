//! `setdrift convert`: tracks from one format into another, the mapping applied.

use crate::{error::CommandError, printer::Printer};
use setdrift_tracks::mapping::SideFiles;
use setdrift_tracks::{Layout, Mapping, WriteOptions, atomic, sources, write};
use std::fs;
use std::path::{Path, PathBuf};

/// Write a session in another format, in metres and seconds in the court frame, uncleaned.
///
/// The format follows from the new name: .csv, .tsv, .ndjson, .mfjson (also .gz, .zst), .parquet,
/// .arrow, .arrows. A mapping is written beside it.
#[derive(clap::Args)]
pub struct ConvertArgs {
    /// The session: a file with its mapping, or a folder of parts.
    from: PathBuf,
    /// The new file.
    to: PathBuf,
    /// A row per time instead of a row per object and time; Moving Features have no rows.
    #[arg(long)]
    wide: bool,
}

/// Brings roster, results and tags of a session into the folder of its new file.
fn beside(from: &Mapping, to: &Path) -> Result<SideFiles, CommandError> {
    let mut files = from.files.clone();
    for file in [&mut files.roster, &mut files.results, &mut files.tags] {
        let Some(name) = file else { continue };
        let old = from.beside_path(name);
        let new = to.with_file_name(name.file_name().unwrap_or_default());
        let bytes = fs::read(&old).map_err(|e| {
            CommandError::input(
                format!("cannot read {}: {e}", old.display()),
                "Correct `files` in the mapping.",
            )
        })?;
        if !new.exists() {
            atomic::write_atomic(&new, &bytes)?;
        } else if fs::read(&new).ok().as_ref() != Some(&bytes) {
            return Err(CommandError::input(
                format!("{} is there already, and is another file", new.display()),
                "Convert into another folder.",
            ));
        }
        *file = new.file_name().map(PathBuf::from);
    }
    Ok(files)
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
    let from = source.mapping()?;
    let (raw, warnings) = source.read_raw(&from)?;
    for w in &warnings {
        printer.note(&w.to_string());
    }
    let options = WriteOptions {
        layout: if args.wide {
            Layout::Wide
        } else {
            Layout::Long
        },
        files: beside(&from, &args.to)?,
        ..WriteOptions::default()
    };
    let mut mapping = write(&raw, &args.to, &options)?;
    // What is no property of the file, but of how it is to be used.
    mapping.cleaning = from.cleaning;
    mapping.time.resample = from.time.resample;
    mapping.save(&mapping.path)?;
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

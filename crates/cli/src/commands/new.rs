//! `setdrift new`: a commented playbook to start from.

use crate::{error::CommandError, printer::Printer};
use setdrift_tracks::atomic::write_atomic;
use std::path::PathBuf;

/// Write a commented playbook to start from.
#[derive(clap::Args)]
pub struct NewArgs {
    /// The file to write; it must not exist yet.
    file: PathBuf,
    /// The offence's name; from the file's name when not given.
    #[arg(long)]
    name: Option<String>,
}

/// Runs the command.
pub fn run(args: &NewArgs, printer: &Printer) -> Result<(), CommandError> {
    if args.file.exists() {
        return Err(CommandError::input(
            format!("`{}` exists already", args.file.display()),
            "name a file that does not exist; nothing was changed",
        ));
    }
    let name = args.name.clone().unwrap_or_else(|| {
        args.file.file_stem().map_or_else(
            || "Offence".to_owned(),
            |s| s.to_string_lossy().into_owned(),
        )
    });
    if name.trim().is_empty() {
        return Err(CommandError::input(
            "the offence has no name",
            "give one with --name",
        ));
    }
    write_atomic(&args.file, setdrift_playbook::scaffold(&name).as_bytes())?;
    if printer.json() {
        printer.value(&serde_json::json!({ "file": args.file.display().to_string() }));
    } else {
        printer.text(&format!(
            "{f} written; see it with `setdrift draw {f}`\n",
            f = args.file.display()
        ));
    }
    Ok(())
}

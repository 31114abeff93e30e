//! `setdrift format`: one layout for all playbooks.

use crate::{error::CommandError, load, printer::Printer};
use setdrift_tracks::atomic::write_atomic;
use std::path::PathBuf;

/// Lay playbooks out anew, comments kept.
#[derive(clap::Args)]
pub struct FormatArgs {
    /// Playbook files, rewritten where they are.
    #[arg(required = true)]
    playbooks: Vec<PathBuf>,
    /// Change nothing; fail if anything would change.
    #[arg(long)]
    check: bool,
}

/// Runs the command.
pub fn run(args: &FormatArgs, printer: &Printer) -> Result<(), CommandError> {
    let mut changes = Vec::new();
    // All are laid out before any is written, so that a mistake in one leaves all as they were.
    for path in &args.playbooks {
        let source = load::playbook_text(path)?;
        let name = path.display().to_string();
        let text = setdrift_playbook::format(&source, &name)
            .map_err(|d| load::diagnostics(d, name.clone()))?;
        if text != source {
            changes.push((path, name, text));
        }
    }
    let names: Vec<String> = changes.iter().map(|c| c.1.clone()).collect();
    if args.check && !changes.is_empty() {
        return Err(CommandError::input(
            format!("not laid out: {}", names.join(", ")),
            "run `setdrift format` on them",
        ));
    }
    for (path, _, text) in &changes {
        write_atomic(path, text.as_bytes())?;
    }
    if printer.json() {
        printer.value(&serde_json::json!({ "changed": names }));
    } else {
        for name in names {
            printer.text(&format!("{name} laid out\n"));
        }
    }
    Ok(())
}

//! `setdrift inspect`: what a file of tracks seems to be.

use crate::{error::CommandError, printer::Printer};
use setdrift_tracks::{Density, Inspection, atomic, inspect, mapping::mapping_names};
use std::path::PathBuf;

/// Say what a file of tracks seems to be, draw where players have been, and write its mapping.
///
/// The mapping goes beside the file as `<stem>.tracks.toml`, the picture into the current folder.
#[derive(clap::Args)]
pub struct InspectArgs {
    /// The file.
    file: PathBuf,
    /// What is known already, as TOML; wins over every guess. May be repeated.
    #[arg(long, value_name = "TOML")]
    known: Vec<String>,
    /// Replace a mapping that is there.
    #[arg(long)]
    force: bool,
}

/// Side of a cell of the picture, metres.
const CELL: f64 = 0.25;

/// Runs the command.
pub fn run(args: &InspectArgs, printer: &Printer) -> Result<(), CommandError> {
    let found = inspect(&args.file, &args.known.join("\n"))?;
    let [path, _] = mapping_names(&args.file);
    if path.exists() && !args.force {
        return Err(CommandError::input(
            format!("{} is there already", path.display()),
            "Name --force to replace it, or move it away.",
        ));
    }
    let mut pictures = Vec::new();
    if let Some(raw) = &found.raw {
        let density = Density::of(raw, CELL);
        for (ending, bytes) in [("svg", density.svg().into_bytes()), ("png", density.png())] {
            let picture = PathBuf::from(format!("{}.density.{ending}", raw.id));
            atomic::write_atomic(&picture, &bytes)?;
            pictures.push(picture.display().to_string());
        }
    }
    atomic::write_atomic(&path, found.toml.as_bytes())?;
    if printer.json() {
        printer.value(&serde_json::json!({
            "mapping": path.display().to_string(),
            "pictures": pictures,
            "findings": found.findings,
            "questions": found.questions,
            "problem": found.problem.as_ref().map(ToString::to_string),
        }));
        return Ok(());
    }
    printer.text(&text(&found));
    printer.text(&format!("Mapping  {}\n", path.display()));
    for picture in &pictures {
        printer.text(&format!("Picture  {picture}\n"));
    }
    Ok(())
}

/// The findings, for a terminal.
fn text(found: &Inspection) -> String {
    let mut lines = String::new();
    let mut add = |first: &str, rest: &str| {
        let options = textwrap::Options::new(crate::printer::WIDTH)
            .initial_indent(first)
            .subsequent_indent("    ");
        lines.push_str(&textwrap::fill(rest, options));
        lines.push('\n');
    };
    for f in &found.findings {
        let sure = format!("{:?}", f.confidence).to_lowercase();
        add(
            "",
            &format!("{}: {} ({sure}: {})", f.key, f.guess, f.reason),
        );
    }
    for w in &found.warnings {
        add("Note: ", &w.message);
    }
    for q in &found.questions {
        let first = if q.needed { "NEEDED " } else { "Check  " };
        add(first, &format!("{}: {}", q.key, q.question));
    }
    if let Some(e) = &found.problem {
        add("", &format!("Not readable yet: {e}. {}", e.mend()));
    }
    lines.push('\n');
    lines
}

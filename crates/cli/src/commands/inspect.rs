//! `setdrift inspect`: what a file of tracks seems to be.

use crate::{
    error::CommandError,
    printer::{Printer, WIDTH},
};
use setdrift_tracks::{Density, Inspection, RawTracks, atomic, inspect, mapping::mapping_names};
use std::path::{Path, PathBuf};

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
    printer.text(&text(&found, &args.file));
    printer.text(&format!("Mapping  {}\n", path.display()));
    for picture in &pictures {
        printer.text(&format!("Picture  {picture}\n"));
    }
    printer.text(&next(&found, &path));
    Ok(())
}

/// What was found, for a terminal: what it is in a line, then each guess with its reason, then what
/// a person is asked.
fn text(found: &Inspection, file: &Path) -> String {
    let mut out = String::new();
    if let Some(raw) = &found.raw {
        out.push_str(&wrapped("", "  ", &summary(raw, found, file)));
        out.push('\n');
    }
    for f in &found.findings {
        let sure = format!("{:?}", f.confidence).to_lowercase();
        let room = WIDTH - sure.len() - 2;
        let mut guess = format!("{} = {}", f.key, f.guess);
        let whole = format!("{guess}  ({})", f.reason);
        let short = textwrap::core::display_width(&whole) <= room;
        if short {
            guess = whole;
        }
        let mut lines =
            textwrap::wrap(&guess, textwrap::Options::new(room).subsequent_indent("  "));
        let first = lines.remove(0);
        let gap = WIDTH - sure.len() - textwrap::core::display_width(&first);
        out.push_str(&format!("{first}{}{sure}\n", " ".repeat(gap)));
        for line in lines {
            out.push_str(&format!("{line}\n"));
        }
        if !short {
            out.push_str(&wrapped("    ", "    ", &f.reason));
        }
    }
    let mut said = String::new();
    for w in &found.warnings {
        said.push_str(&wrapped("Note    ", "        ", &w.message));
    }
    for q in &found.questions {
        let first = if q.needed { "NEEDED  " } else { "Check   " };
        let text = format!("{}: {}", q.key, q.question);
        said.push_str(&wrapped(first, "        ", &text));
    }
    if let Some(e) = &found.problem {
        let text = format!("not readable yet: {e}. {}", e.mend());
        said.push_str(&wrapped("ERROR   ", "        ", &text));
    }
    if !said.is_empty() {
        out.push('\n');
        out.push_str(&said);
    }
    out.push('\n');
    out
}

fn wrapped(first: &str, rest: &str, text: &str) -> String {
    let options = textwrap::Options::new(WIDTH)
        .initial_indent(first)
        .subsequent_indent(rest);
    textwrap::fill(text, options) + "\n"
}

/// The session in one sentence.
fn summary(raw: &RawTracks, found: &Inspection, file: &Path) -> String {
    let mut who: Vec<String> = raw
        .teams
        .iter()
        .enumerate()
        .map(|(i, t)| {
            let n = raw.players.iter().filter(|p| p.team == i).count();
            format!("{} ({n})", t.name)
        })
        .collect();
    who.push(
        if raw.ball.is_some() {
            "ball"
        } else {
            "no ball"
        }
        .into(),
    );
    let length = raw.span().map_or(0.0, |(from, to)| to - from);
    let rate = found.findings.iter().find(|f| f.key == "time.rate");
    let rate = match (rate, raw.rate_hz) {
        (Some(f), _) => format!(", positions {}", f.guess),
        (None, Some(hz)) => format!(", positions {hz} a second"),
        (None, None) => String::new(),
    };
    format!(
        "{}: {length:.1} s{rate}; {}; {} floor.",
        file.display(),
        who.join(", "),
        raw.court.name()
    )
}

/// What to do next.
fn next(found: &Inspection, mapping: &Path) -> String {
    let needed = found.questions.iter().filter(|q| q.needed).count();
    let text = if needed > 0 {
        format!(
            "Next: answer what is NEEDED in {}, or here with --known 'KEY = VALUE' --force.",
            mapping.display()
        )
    } else if found.problem.is_some() {
        format!("Next: correct the file, or {}.", mapping.display())
    } else {
        format!(
            "Next: look at the picture, correct {} where it is wrong, then run setdrift review.",
            mapping.display()
        )
    };
    wrapped("", "  ", &text)
}

//! `setdrift fit`: parameters of ball control, estimated from one's own tracks.

use crate::{error::CommandError, load, printer::Printer};
use setdrift_events::{Estimate, Fitted};
use setdrift_season::settings::{Section, SettingsFile};
use setdrift_tracks::{Session, atomic};
use std::path::PathBuf;

/// Estimate how a team holds and passes the ball, and show it beside the defaults.
///
/// Nothing uses the estimates unless they are written with --out and given to `setdrift review`
/// with --settings, alone or beside those of `setdrift score --calibrate`.
#[derive(clap::Args)]
pub struct FitArgs {
    /// Track files, or folders of them.
    #[arg(required = true)]
    tracks: Vec<PathBuf>,
    /// Settings file to write; without it, nothing is written.
    #[arg(long, short)]
    out: Option<PathBuf>,
    /// Replace a settings file that is there.
    #[arg(long)]
    force: bool,
}

/// Runs the command.
pub fn run(args: &FitArgs, printer: &Printer) -> Result<(), CommandError> {
    load::keep(args.out.as_deref(), args.force)?;
    let mut sessions = Vec::new();
    for source in load::sources(&args.tracks)? {
        sessions.push(source.open()?.session);
    }
    if sessions.iter().all(|s| s.ball.is_none()) {
        return Err(CommandError::input(
            "no ball in the tracks: nothing to estimate from",
            "name sessions whose tracks have a ball",
        ));
    }
    let fitted = setdrift_events::fit(&sessions.iter().collect::<Vec<&Session>>());
    if let Some(out) = &args.out {
        let file = SettingsFile {
            events: fitted.params,
            ..SettingsFile::default()
        };
        let text = file
            .section(Section::Events)
            .map_err(load::wrong_settings)?;
        atomic::write_atomic(out, text.as_bytes())?;
    }
    if printer.json() {
        printer.value(&serde_json::json!({
            "fitted": fitted,
            "settings": args.out.as_ref().map(|o| o.display().to_string()),
        }));
        return Ok(());
    }
    printer.text(&table(&fitted));
    printer.text(&match &args.out {
        Some(out) => format!(
            "\nSettings  {}\nThey are used by `setdrift review --settings {}` only.\n",
            out.display(),
            out.display()
        ),
        None => "\nNothing written; name --out FILE to keep them.\n".to_owned(),
    });
    Ok(())
}

fn table(fitted: &Fitted) -> String {
    let mut out = format!(
        "{:42}{:>9}{:>10}   {}\n",
        "", "default", "estimate", "rests on"
    );
    for e in &fitted.estimates {
        let (what, of) = words(e);
        let found = e
            .found
            .map_or("too little".to_owned(), |v| format!("{v:.2}"));
        out.push_str(&format!(
            "{what:42}{:>9.2}{found:>10}   {} {of}\n",
            e.default, e.samples
        ));
    }
    out.push_str(&if fitted.settled {
        format!("Settled after {} rounds.\n", fitted.rounds)
    } else {
        format!("NOT settled after {} rounds.\n", fitted.rounds)
    });
    out
}

fn words(e: &Estimate) -> (&'static str, &'static str) {
    match e.field {
        "hold_s" => ("mean time in one player's hands, s", "spells"),
        "hold_spread_m" => ("spread of the held ball about the body, m", "samples"),
        _ => ("median speed of passes, m/s", "passes"),
    }
}

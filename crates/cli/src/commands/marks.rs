//! `setdrift marks`: from a review's tables to marks for the video of a session.

use super::review::internal;
use crate::{
    error::CommandError,
    printer::{Printer, WIDTH},
};
use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};
use serde_json::json;
use setdrift_report::marks::{
    Alignment, Around, Choice, Mark, Media, Moment, StretchVerdict, chapters, cut_list, marks,
    table, time, timeline,
};
use setdrift_season::{
    reviewed::{Reviewed, ReviewedError, ReviewedSession},
    words,
};
use setdrift_timing::model::{Kept, When};
use setdrift_tracks::atomic::write_atomic;
use std::{collections::BTreeSet, path::PathBuf};

/// So many marks are listed in the terminal; all of them are in the files.
const LISTED: usize = 12;

/// Mark a session's video: chapters, a table, a timeline for cutting, a cut list.
///
/// Runs on what `setdrift review` wrote. Tell it which moment of the session is which moment of the
/// video, once or more often. Without --verdict, --cue and --place, everything is marked.
#[derive(clap::Args)]
#[command(after_help = "\
Example: clips of every late or missed cue of number 21, the first possession's
start (0:12.4 on the page) being 3:05 in the video:
  setdrift marks out/week-3 --session game-1 --at 0:12.4=3:05 \\
    --cue late,never --player 21 --video game-1.mp4
  sh out/marks/game-1/cuts.sh game-1.mp4 clips")]
pub struct MarksArgs {
    /// Folder that `setdrift review` wrote.
    review: PathBuf,
    /// A moment known in both: SESSION=VIDEO, each as 754.5, 12:34.5 or 1:02:03. The session's
    /// time is the one beside each possession on the page. Give a second one late in the game if
    /// the clocks drift, and one on each side of every cut in the video.
    #[arg(long, required = true, value_name = "SESSION=VIDEO")]
    at: Vec<String>,
    /// Which session of the review; needed where it has several.
    #[arg(long)]
    session: Option<String>,
    /// Only these options (keys of the playbook, as in the tables).
    #[arg(long, value_delimiter = ',', value_name = "KEY")]
    option: Vec<String>,
    /// Only these players: shirt numbers or ids.
    #[arg(long, value_delimiter = ',', value_name = "PLAYER")]
    player: Vec<String>,
    /// Stretches to mark.
    #[arg(long, value_parser = one_of(&STRETCHES), value_delimiter = ',', value_name = "VERDICT")]
    verdict: Vec<StretchVerdict>,
    /// Cues to mark: who left when.
    #[arg(long, value_parser = one_of(&CUES), value_delimiter = ',', value_name = "VERDICT")]
    cue: Vec<When>,
    /// Placements to mark: screens, spots, spacing.
    #[arg(long, value_parser = one_of(&PLACES), value_delimiter = ',', value_name = "VERDICT")]
    place: Vec<Kept>,
    /// Seconds shown before each mark.
    #[arg(long, default_value_t = 2.0, value_parser = seconds)]
    before: f64,
    /// Seconds shown after each mark.
    #[arg(long, default_value_t = 2.0, value_parser = seconds)]
    after: f64,
    /// The video file or its address, for the timeline.
    #[arg(long, default_value = "video.mp4")]
    video: String,
    /// Frames per second of the video, for the timeline.
    #[arg(long, default_value_t = 25.0, value_parser = rate)]
    rate: f64,
    /// Let the cut list copy instead of encoding again: fast and lossless, but clips begin at the
    /// key frame before.
    #[arg(long)]
    copy: bool,
    /// Folder for the files; each session has its own in it.
    #[arg(long, short, default_value = "out/marks")]
    out: PathBuf,
}

/// What may be asked for: its name, what it means, what it is.
type Named<T> = (&'static str, &'static str, T);

const STRETCHES: [Named<StretchVerdict>; 6] = [
    ("ran", "Ran without a fault", StretchVerdict::Ran),
    ("faults", "Ran with faults", StretchVerdict::Faults),
    ("broken", "Broken off", StretchVerdict::Broken),
    ("set", "The set before anything begins", StretchVerdict::Set),
    (
        "off-script",
        "No declared option",
        StretchVerdict::OffScript,
    ),
    (
        "no-data",
        "Too little tracking for a verdict",
        StretchVerdict::NoData,
    ),
];
const CUES: [Named<When>; 5] = [
    ("early", "Before the declared window", When::Early),
    ("on-time", "In the window", When::OnTime),
    ("late", "After the window", When::Late),
    ("never", "Did not go", When::Never),
    ("cannot-tell", "The data do not tell", When::CannotTell),
];
const PLACES: [Named<Kept>; 3] = [
    ("kept", "As declared", Kept::Yes),
    ("not-kept", "Not as declared", Kept::No),
    ("cannot-tell", "The data do not tell", Kept::CannotTell),
];

fn one_of<T: Copy + Send + Sync + 'static>(
    all: &'static [Named<T>],
) -> impl TypedValueParser<Value = T> {
    let values = all
        .iter()
        .map(|(name, help, _)| PossibleValue::new(*name).help(*help));
    PossibleValuesParser::new(values).try_map(move |given| {
        let found = all.iter().find(|(name, ..)| *name == given);
        found.map(|(.., what)| *what).ok_or("none of these")
    })
}

fn number(text: &str, from: f64, to: f64) -> Result<f64, String> {
    let n: f64 = text.parse().map_err(|_| "no number".to_owned())?;
    if n >= from && n <= to {
        Ok(n)
    } else {
        Err(format!("expected a number from {from} to {to}"))
    }
}

fn seconds(text: &str) -> Result<f64, String> {
    number(text, 0.0, 600.0)
}

fn rate(text: &str) -> Result<f64, String> {
    number(text, 1.0, 1000.0)
}

/// Runs the command.
pub fn run(args: &MarksArgs, printer: &Printer) -> Result<(), CommandError> {
    let alignment = alignment(&args.at)?;
    let reviewed = Reviewed::read(&args.review).map_err(not_read)?;
    let session = session(&reviewed, args.session.as_deref())?;
    let choice = choice(args, session)?;
    for warning in alignment.warnings() {
        printer.note(&warning);
    }
    let around = Around {
        before_s: args.before,
        after_s: args.after,
    };
    let list = marks(session, &choice, &alignment, around);
    if list.is_empty() {
        return Err(nothing(session));
    }
    let folder = args.out.join(plain(&session.id));
    let media = Media {
        name: session.id.clone(),
        url: args.video.clone(),
        rate: args.rate,
    };
    let files = [
        ("chapters.vtt", chapters(&list)),
        ("marks.csv", table(&list)),
        ("marks.otio", timeline(&list, &media)),
        ("cuts.sh", cut_list(&list, !args.copy)),
    ];
    let mut written = Vec::new();
    for (name, text) in &files {
        let path = folder.join(name);
        write_atomic(&path, text.as_bytes())?;
        written.push(path.display().to_string());
    }
    if printer.json() {
        printer.value(&json!({
            "session": session.id,
            "marks": list.iter().map(|m| json!({
                "video_from_s": m.from_s,
                "video_to_s": m.to_s,
                "possession": m.possession,
                "mark": m.line(),
            })).collect::<Vec<_>>(),
            "files": written,
        }));
        return Ok(());
    }
    printer.text(&text(session, &list));
    printer.text(&format!(
        "\nChapters  {}\nTable     {}\nTimeline  {}\nCut list  {}\n\nCut with   sh {} VIDEO [FOLDER]   (needs ffmpeg)\n",
        written[0], written[1], written[2], written[3], written[3]
    ));
    Ok(())
}

fn alignment(given: &[String]) -> Result<Alignment, CommandError> {
    let mut moments = Vec::new();
    for text in given {
        let help = "write --at SESSION=VIDEO: the time beside a possession on the page, then the time of the same moment in the video, as in --at 0:12.4=3:05";
        let wrong = |message: String| CommandError::input(format!("--at {text}: {message}"), help);
        let Some((session, video)) = text.split_once('=') else {
            return Err(wrong("there is no `=`".to_owned()));
        };
        moments.push(Moment {
            session_s: time(session).map_err(|e| wrong(e.to_string()))?,
            video_s: time(video).map_err(|e| wrong(e.to_string()))?,
        });
    }
    Alignment::new(&moments).map_err(|e| {
        CommandError::input(
            e.to_string(),
            "check which time is the session's (before the `=`) and which the video's",
        )
    })
}

fn not_read(e: ReviewedError) -> CommandError {
    let help = match &e {
        ReviewedError::Missing { .. } => {
            "name the folder that `setdrift review` wrote with --out; it has `tables` in it"
        }
        ReviewedError::Io { .. } => "check the permissions of the folder",
        ReviewedError::Format { .. }
        | ReviewedError::Column { .. }
        | ReviewedError::Empty { .. } => {
            "run `setdrift review` again: another version wrote this, or it was changed by hand"
        }
        ReviewedError::Table(_) | ReviewedError::Encode(_) => return internal(&e),
    };
    CommandError::input(e.to_string(), help)
}

fn session<'a>(
    reviewed: &'a Reviewed,
    name: Option<&str>,
) -> Result<&'a ReviewedSession, CommandError> {
    let all: Vec<&str> = reviewed.sessions.iter().map(|s| s.id.as_str()).collect();
    let known = || format!("the review has: {}", all.join(", "));
    match (name, reviewed.sessions.as_slice()) {
        (None, [one]) => Ok(one),
        (None, _) => Err(CommandError::input(
            "which session is the video of?",
            format!("name one with --session; {}", known()),
        )),
        (Some(name), sessions) => sessions
            .iter()
            .find(|s| s.id == name)
            .ok_or_else(|| CommandError::input(format!("no session `{name}`"), known())),
    }
}

fn choice(args: &MarksArgs, session: &ReviewedSession) -> Result<Choice, CommandError> {
    let options: BTreeSet<&str> = session
        .stretches
        .iter()
        .map(|s| s.option.as_str())
        .filter(|o| !o.is_empty())
        .collect();
    for option in &args.option {
        if !options.contains(option.as_str()) {
            return Err(CommandError::input(
                format!("option `{option}` was not run in `{}`", session.id),
                format!(
                    "run were: {}",
                    options.into_iter().collect::<Vec<_>>().join(", ")
                ),
            ));
        }
    }
    let mut players = Vec::new();
    for name in &args.player {
        // A number is worn by somebody on either side; the audited team is meant.
        let found = session.players.iter().find(|p| {
            p.audited && (p.id == *name || p.label == *name || p.number.as_deref() == Some(name))
        });
        let Some(player) = found else {
            let known: Vec<&str> = session
                .players
                .iter()
                .filter(|p| p.audited)
                .map(|p| p.label.as_str())
                .collect();
            return Err(CommandError::input(
                format!("no player `{name}` in `{}`", session.id),
                format!("players: {}", known.join(", ")),
            ));
        };
        players.push(player.id.clone());
    }
    Ok(Choice {
        options: args.option.clone(),
        players,
        stretches: args.verdict.clone(),
        cues: args.cue.clone(),
        places: args.place.clone(),
    })
}

fn nothing(session: &ReviewedSession) -> CommandError {
    let last = session.stretches.last().map_or(0.0, |s| s.to_s);
    CommandError::input(
        format!("nothing in `{}` fits, so nothing was written", session.id),
        format!(
            "take fewer of --option, --player, --verdict, --cue and --place; and check --at: marks before the video's beginning are left out (the session runs to {})",
            words::clock(last)
        ),
    )
}

/// A session's id as the name of a folder.
fn plain(id: &str) -> String {
    let name: String = id
        .chars()
        .map(|c| {
            if c.is_alphanumeric() || matches!(c, '-' | '_' | '.' | ' ') {
                c
            } else {
                '-'
            }
        })
        .collect();
    match name.trim_matches(['.', ' ']) {
        "" => "session".to_owned(),
        name => name.to_owned(),
    }
}

fn text(session: &ReviewedSession, list: &[Mark]) -> String {
    let mut out = format!(
        "{}: {} mark{}\n",
        session.id,
        list.len(),
        if list.len() == 1 { "" } else { "s" }
    );
    for m in list.iter().take(LISTED) {
        let line = format!("{:>9}  {}", words::clock(m.from_s), m.line());
        let options = textwrap::Options::new(WIDTH).subsequent_indent("             ");
        out += &textwrap::fill(&line, &options);
        out.push('\n');
    }
    if list.len() > LISTED {
        out += &format!("           and {} more\n", list.len() - LISTED);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sessions_folder_stays_in_its_place() {
        assert_eq!(plain("game-1"), "game-1");
        assert_eq!(plain("../../etc"), "-..-etc");
        assert_eq!(plain(".."), "session");
        assert_eq!(plain("a/b: c"), "a-b- c");
    }
}

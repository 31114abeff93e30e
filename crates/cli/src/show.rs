//! Results as short tables at 80 columns.

mod quality;
mod staff;

use crate::printer::WIDTH;
use comfy_table::{CellAlignment, ContentArrangement, Table, presets};
use setdrift_court::LengthUnit;
use setdrift_recognise::model::What;
use setdrift_season::{
    results::Results,
    tally::{self, Tally},
    words,
};
use std::fmt::Write as _;

/// Parts of the terminal output.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, clap::ValueEnum)]
pub enum Part {
    /// What was run, how often, how well.
    Options,
    /// Every possession in a line, with faults.
    Possessions,
    /// The three cues that cost most.
    Costly,
    /// Who left when, most in need first.
    Cues,
    /// What each player might fix, with moments to look at.
    Players,
    /// Screens, spots and spacing.
    Placements,
    /// What players did instead.
    Instead,
    /// How matched options change.
    Drift,
    /// What the data cannot support.
    Limits,
    /// How good the tracks are, player by player, and which verdicts they support.
    Quality,
}

/// The parts asked for, one after another.
pub fn parts(results: &Results, parts: &[Part]) -> String {
    let mut out = heading(results);
    for part in parts {
        let (title, body) = match part {
            Part::Options => ("What was run", options(results)),
            Part::Possessions => ("Possessions", possessions(results)),
            Part::Costly => ("The cues that cost most", staff::costly(results)),
            Part::Cues => ("Who left when", staff::cues(results)),
            Part::Players => ("What each player might fix", staff::players(results)),
            Part::Placements => ("Where it counts", placements(results)),
            Part::Instead => ("What they did instead", instead(results)),
            Part::Drift => ("What drifted", drift(results)),
            Part::Limits => ("What the data cannot support", limits(results)),
            Part::Quality => ("How good the tracks are", quality::sheet(results)),
        };
        // Writing to a string cannot fail.
        let _ = write!(out, "\n{title}\n{body}");
    }
    out
}

fn heading(results: &Results) -> String {
    let possessions: usize = results.sessions.iter().map(|s| s.possessions.len()).sum();
    let sessions = results.sessions.len();
    format!(
        "{}: {possessions} possession{} in {sessions} session{}\n",
        results.graph.name,
        if possessions == 1 { "" } else { "s" },
        if sessions == 1 { "" } else { "s" }
    )
}

/// A table with these columns at the right edge of their cells.
pub fn table(header: &[&str], numbers: std::ops::Range<usize>) -> Table {
    let mut t = Table::new();
    t.load_style(presets::NOTHING)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(WIDTH as u16)
        .set_header(header);
    for i in numbers {
        if let Some(column) = t.column_mut(i) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    t
}

/// A table as lines without trailing space.
pub fn text(t: &Table) -> String {
    let lines: Vec<String> = t.lines().map(|l| l.trim_end().to_owned()).collect();
    lines.join("\n") + "\n"
}

fn indented(lines: impl IntoIterator<Item = String>) -> String {
    let options = textwrap::Options::new(WIDTH)
        .initial_indent("  ")
        .subsequent_indent("    ");
    lines.into_iter().fold(String::new(), |mut all, line| {
        all.push_str(&textwrap::fill(&line, &options));
        all.push('\n');
        all
    })
}

fn none(what: &str) -> String {
    format!("  {what}\n")
}

fn options(results: &Results) -> String {
    let tally = Tally::of(results);
    let mut t = table(
        &[
            "option",
            "runs",
            "complete",
            "faults",
            "broken off",
            "points",
        ],
        1..6,
    );
    for (option, o) in results.graph.options.iter().zip(&tally.options) {
        let points = if o.scored > 0 {
            format!("{} in {}", o.points, o.scored)
        } else {
            "–".to_owned()
        };
        t.add_row([
            option.title.clone(),
            o.runs.to_string(),
            o.completed().to_string(),
            o.faults.to_string(),
            o.broken().to_string(),
            points,
        ]);
    }
    let note = "  complete: reached the end, with or without faults; points: in possessions \
                with a known result";
    text(&t) + &indented([note.trim().to_owned()])
}

fn possessions(results: &Results) -> String {
    let mut out = String::new();
    for s in &results.sessions {
        let _ = writeln!(out, "  {}", s.session.id);
        for (p, reading) in s.possessions.iter().zip(&s.readings) {
            let line = format!(
                "{:>3}  {}–{}  {}: {}",
                p.number,
                words::clock(p.from_s),
                words::clock(p.to_s),
                words::outcome(p.result.kind),
                words::sentence(&results.graph, reading)
            );
            out += &indented([line]);
            for segment in &reading.segments {
                let What::Option(run) = &segment.what else {
                    continue;
                };
                let faults = run.faults.iter().take(2);
                out += &indented(
                    faults.map(|f| format!("     {} {}", words::clock(f.time_s), f.text)),
                );
            }
        }
    }
    if out.is_empty() {
        none("no possession was found")
    } else {
        out
    }
}

fn placements(results: &Results) -> String {
    let groups = tally::placements(results);
    if groups.is_empty() {
        return none("no placement could be judged");
    }
    let mut t = table(&["option", "declared", "kept", "not kept", "?"], 2..5);
    for g in groups.iter().take(12) {
        t.add_row([
            results.graph.options[g.option].title.clone(),
            g.text.clone(),
            g.counts[0].to_string(),
            g.counts[1].to_string(),
            g.counts[2].to_string(),
        ]);
    }
    text(&t)
}

fn instead(results: &Results) -> String {
    let grouping = &results.grouping;
    let mut lines: Vec<String> = grouping
        .groups
        .iter()
        .map(|g| {
            let points = if g.results.0 > 0 {
                format!("; {} points in {} possessions", g.results.1, g.results.0)
            } else {
                String::new()
            };
            format!(
                "{}  {} times  {} (comes back in {:.0} % of resamples{points})",
                g.name,
                g.members.len(),
                g.description,
                100.0 * g.stability
            )
        })
        .collect();
    let like_no_other = grouping.noise.len();
    lines.push(format!(
        "{} off-script stretches compared; {like_no_other} like no other",
        results.stretches.len()
    ));
    indented(lines)
}

fn drift(results: &Results) -> String {
    let findings: Vec<String> = results
        .drift
        .iter()
        .filter_map(|d| d.finding.clone())
        .collect();
    if findings.is_empty() {
        return none("no change that is more than chance");
    }
    let note = "a role may have had several players; about one such line in twenty is chance";
    indented(findings) + &indented([note.to_owned()])
}

/// Every limit once, with the sessions it holds for.
fn limits(results: &Results) -> String {
    let mut found: Vec<(String, Vec<&str>)> = Vec::new();
    let mut add = |limit: String, session| match found.iter_mut().find(|(l, _)| *l == limit) {
        Some((_, sessions)) => sessions.push(session),
        None => found.push((limit, vec![session])),
    };
    for s in &results.sessions {
        for limit in &s.limits {
            add(limit.clone(), s.session.id.as_str());
        }
        for limit in quality::doubts(&s.quality) {
            add(limit, s.session.id.as_str());
        }
    }
    if found.is_empty() {
        return none("nothing to say");
    }
    let all = results.sessions.len();
    indented(
        found
            .into_iter()
            .map(|(limit, sessions)| match sessions.len() {
                n if n == all && n > 1 => format!("all sessions: {limit}"),
                1..=3 => format!("{}: {limit}", sessions.join(", ")),
                n => format!("{n} of {all} sessions: {limit}"),
            }),
    )
}

/// The summary as JSON, with units in the names.
pub fn json(results: &Results) -> serde_json::Value {
    let tally = Tally::of(results);
    let unit: LengthUnit = results.graph.unit;
    serde_json::json!({
        "playbook": results.graph.name,
        "unit_for_people": unit,
        "sessions": results.sessions.iter().map(|s| serde_json::json!({
            "session": s.session.id,
            "date": s.session.date,
            "possessions": s.possessions.len(),
            "limits": s.limits,
            "quality": s.quality,
        })).collect::<Vec<_>>(),
        "options": results.graph.options.iter().zip(&tally.options).map(|(o, t)| serde_json::json!({
            "option": o.id,
            "runs": t.runs,
            "complete": t.completed(),
            "with_faults": t.faults,
            "broken_off": t.broken(),
            "possessions_with_points": t.scored,
            "points": t.points,
        })).collect::<Vec<_>>(),
        "cues": results.lags,
        "costly_cues": setdrift_season::staff::cost_most(results),
        "players": setdrift_season::staff::sheets(results),
        "groups": results.grouping.groups.iter().map(|g| serde_json::json!({
            "group": g.name,
            "description": g.description,
            "times": g.members.len(),
            "stability": g.stability,
        })).collect::<Vec<_>>(),
        "drift": results.drift.iter().filter_map(|d| d.finding.as_ref()).collect::<Vec<_>>(),
    })
}

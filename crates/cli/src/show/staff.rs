//! Who left when, what it came with, and what each player might fix.

use super::{indented, none, table, text};
use setdrift_season::{results::Results, staff, tally, words::clock};
use setdrift_timing::{Clip, ToFix};

/// Cues shown in the terminal; all are in the tables and on the page.
const CUES: usize = 6;
/// Moments named for one thing to fix.
const MOMENTS: usize = 3;

/// The three cues that cost most: counts beside each other, no cause.
pub fn costly(results: &Results) -> String {
    let found = staff::cost_most(results);
    if found.is_empty() {
        return none("no cue was missed three times");
    }
    let mut out = String::new();
    for c in &found {
        out += &indented([format!("{}: {}", c.title, c.text)]);
        let mut t = table(
            &["", "the cue was", "runs", "broke off", "scored", ""],
            2..5,
        );
        let missed: Vec<String> = [
            (c.early, "early"),
            (c.late, "late"),
            (c.never, "never left"),
        ]
        .iter()
        .filter(|(n, _)| *n > 0)
        .map(|(n, word)| format!("{n} {word}"))
        .collect();
        for (name, tally, note) in [
            ("missed", &c.missed, missed.join(", ")),
            ("met", &c.met, String::new()),
        ] {
            let scored = if tally.with_result > 0 {
                format!("{} of {}", tally.scored, tally.with_result)
            } else {
                "–".to_owned()
            };
            t.add_row([
                String::new(),
                name.to_owned(),
                tally.runs.to_string(),
                tally.broken_off.to_string(),
                scored,
                note,
            ]);
        }
        out += &text(&t);
    }
    let few = if found.iter().any(setdrift_timing::CostlyCue::few) {
        " Under ten runs say little."
    } else {
        ""
    };
    out + &indented([format!(
        "scored: of possessions with a known result. Counts, not causes.{few}"
    )])
}

/// Who left when, most in need first.
pub fn cues(results: &Results) -> String {
    let groups = tally::cues(results);
    if groups.is_empty() {
        return none("no cue could be judged");
    }
    let mut out = String::new();
    for group in groups.iter().take(CUES) {
        let option = &results.graph.options[group.option].title;
        out += &indented([format!(
            "{option}: {} (window {:.1} to {:.1} s)",
            group.text, group.window.0, group.window.1
        )]);
        let mut t = table(
            &[
                "",
                "player",
                "on time",
                "early",
                "late",
                "never",
                "?",
                "median lag",
                "95 %",
            ],
            2..9,
        );
        for row in &group.rows {
            let [early, on_time, late, never, unknown] = row.counts;
            let interval = row.summary.and_then(|s| s.interval_s);
            t.add_row([
                String::new(),
                row.label.clone(),
                on_time.to_string(),
                early.to_string(),
                late.to_string(),
                never.to_string(),
                unknown.to_string(),
                row.median()
                    .map_or_else(|| "–".to_owned(), |m| format!("{} s", signed(m))),
                interval.map_or_else(
                    || "–".to_owned(),
                    |(low, high)| format!("{} to {}", signed(low), signed(high)),
                ),
            ]);
        }
        out += &text(&t);
    }
    let left = groups.len().saturating_sub(CUES);
    if left > 0 {
        out += &indented([format!(
            "{left} more, less in need, on the page and in cues.csv"
        )]);
    }
    let (changes, looked_at) = staff::cue_changes(results);
    if !changes.is_empty() {
        out += &indented([format!(
            "Changing from session to session (of {looked_at} cues; one in twenty by chance):"
        )]);
        out += &indented(changes.into_iter().map(|c| format!("  {c}")));
    }
    out + &indented(["95 %: interval of the median, from five lags on".to_owned()])
}

/// Hundredths with their sign; no negative zero.
fn signed(seconds: f64) -> String {
    format!("{:+.2}", (seconds * 100.0).round() / 100.0 + 0.0)
}

/// A sheet per player, those first who need it most.
pub fn players(results: &Results) -> String {
    let sheets = staff::sheets(results);
    if sheets.is_empty() {
        return none("no cue or placement could be judged");
    }
    let changes = staff::player_changes(results);
    let mut out = String::new();
    for s in &sheets {
        out += &indented([format!("{}: {}", s.label, s.summary)]);
        for f in &s.fix {
            out += &indented([format!("  · {}", f.words), moments(f)]);
        }
        for f in &s.seen {
            out += &indented([format!("  seen: {}", f.words), moments(f)]);
        }
        if let Some((_, words)) = changes.iter().find(|c| c.0 == s.player) {
            out += &indented([format!("  change: {words}")]);
        }
        if let Some(best) = &s.best {
            out += &indented([format!("  good: {best}.")]);
        }
    }
    out + &indented([
        "About timing and places against the playbook, never about a person's worth; where load, pain \
         or contact may be behind it, ask qualified staff."
            .to_owned(),
    ])
}

fn moments(f: &ToFix) -> String {
    let each = |c: &Clip| format!("{} {}", c.session, clock(c.moment_s));
    let shown: Vec<String> = f.clips.iter().take(MOMENTS).map(each).collect();
    format!("    look at {}", shown.join(", "))
}

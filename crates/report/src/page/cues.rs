//! Lags at the declared cues, player by player.

use super::parts::{moments, open_section};
use super::players::links;
use super::plots::{LagScale, lag_strip};
use crate::html::{esc, put};
use crate::words::{self, secs};
use setdrift_season::results::Results;
use setdrift_season::staff;
use setdrift_season::tally::CueGroup;
use setdrift_timing::Tally;

/// Cues shown at once; the others are folded away.
const SHOWN: usize = 6;

/// Moments named at once for a cue that cost; the rest is folded.
const SHOWN_CLIPS: usize = 3;

/// The section.
pub fn section(results: &Results, groups: &[CueGroup<'_>], names: &[String]) -> String {
    let mut o = String::new();
    open_section(
        &mut o,
        "cues",
        "On cue",
        "Seconds from the cue to the first step, one mark per run; each mark opens its moment. Those most surely off time come first: a player seen twice does not outrank one seen twenty times.",
    );
    if groups.is_empty() {
        o.push_str("<p>No cue came up in what was run.</p></section>");
        return o;
    }
    costly(&mut o, results, names);
    legend(&mut o);
    let scale = LagScale::over(groups.iter().flat_map(|g| {
        g.rows
            .iter()
            .flat_map(|r| r.checks.iter().filter_map(|(_, c)| c.lag_s))
            .chain([g.window.0, g.window.1])
    }));
    // Groups stand in order of need.
    let off = groups
        .iter()
        .filter(|g| g.rows.iter().any(|r| r.off() > 0))
        .count();
    let shown = off.clamp(1, SHOWN);
    for g in &groups[..shown] {
        group(&mut o, results, g, scale, names);
    }
    if groups.len() > shown {
        put!(
            o,
            "<details class=\"more\"><summary>{} less in need</summary>",
            words::count(groups.len() - shown, "more cue")
        );
        for g in &groups[shown..] {
            group(&mut o, results, g, scale, names);
        }
        o.push_str("</details>");
    }
    changes(&mut o, results);
    o.push_str("</section>");
    o
}

/// The three cues that cost most: what became of the runs in which they were missed, beside what
/// became of those in which they were met.
fn costly(o: &mut String, results: &Results, names: &[String]) {
    let found = staff::cost_most(results);
    if found.is_empty() {
        return;
    }
    put!(
        o,
        "<h3>{}</h3><p class=\"fine\">How the runs ended in which a cue was missed, and how those in which it was met. Counts, not causes: a defence may have brought about both.</p>",
        match found.len() {
            1 => "The cue that cost most".to_owned(),
            2 => "The two cues that cost most".to_owned(),
            _ => "The three cues that cost most".to_owned(),
        }
    );
    o.push_str("<table class=\"costly\"><thead><tr><th scope=\"col\">Cue</th><th scope=\"col\">The cue was</th><th scope=\"col\" class=\"n\">Runs</th><th scope=\"col\" class=\"n\">Broke off</th><th scope=\"col\" class=\"n\">Scored</th></tr></thead>");
    for c in &found {
        let kinds = split([c.early, 0, c.late, c.never, 0]);
        put!(
            o,
            "<tbody><tr><th scope=\"rowgroup\" rowspan=\"2\">{}<small>{}{}</small>{}</th>",
            esc(&c.text),
            esc(&c.title),
            if c.few() {
                ": few runs, read with care"
            } else {
                ""
            },
            moments(&links(results, &c.clips, names), SHOWN_CLIPS)
        );
        row(o, "missed", &kinds, &c.missed);
        o.push_str("</tr><tr>");
        row(o, "met", "", &c.met);
        o.push_str("</tr></tbody>");
    }
    o.push_str("</table>");
}

fn row(o: &mut String, name: &str, note: &str, t: &Tally) {
    put!(
        o,
        "<td>{name}<small>{note}</small></td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td>",
        t.runs,
        t.broken_off,
        if t.with_result > 0 {
            format!("{} of {}", t.scored, t.with_result)
        } else {
            "–".to_owned()
        }
    );
}

/// Cues that all players together answer later or earlier than before.
fn changes(o: &mut String, results: &Results) {
    let (found, looked_at) = staff::cue_changes(results);
    if looked_at == 0 {
        return;
    }
    o.push_str("<h3>Changing from session to session</h3>");
    if found.is_empty() {
        put!(
            o,
            "<p>None of {} is answered later or earlier than before by more than chance.</p>",
            words::count(looked_at, "cue")
        );
        return;
    }
    o.push_str("<ul>");
    for f in &found {
        put!(o, "<li>{}.</li>", esc(f));
    }
    put!(
        o,
        "</ul><p class=\"fine\">Of {} with enough runs to tell; one in twenty shows a change by chance.</p>",
        words::count(looked_at, "cue")
    );
}

fn legend(o: &mut String) {
    use setdrift_timing::model::When;
    o.push_str("<p class=\"legend\">");
    for w in [
        When::Early,
        When::OnTime,
        When::Late,
        When::Never,
        When::CannotTell,
    ] {
        put!(
            o,
            "<span><svg class=\"key d-{}\" viewBox=\"0 0 16 16\" aria-hidden=\"true\">{}</svg>{}</span>",
            super::plots::when_key(w),
            super::plots::shape(w, 8.0, 8.0),
            super::data::when(w)
        );
    }
    o.push_str("<span><svg class=\"key\" viewBox=\"0 0 16 16\" aria-hidden=\"true\"><rect class=\"window\" width=\"16\" height=\"16\"/></svg>declared window</span><span><svg class=\"key\" viewBox=\"0 0 16 16\" aria-hidden=\"true\"><path class=\"interval\" d=\"M1 11H15\"/><path class=\"median\" d=\"M8 5V16\"/></svg>median, 95 % interval (from 5 runs on)</span></p>");
}

fn group(o: &mut String, results: &Results, g: &CueGroup<'_>, scale: LagScale, names: &[String]) {
    let option = results
        .graph
        .options
        .get(g.option)
        .map_or("", |x| x.title.as_str());
    put!(
        o,
        "<table class=\"cue\"><caption><b>{}</b> {}</caption><thead><tr><th scope=\"col\">Player</th><th scope=\"col\" class=\"wide\"><span class=\"vh\">Lags in seconds</span>{}</th><th scope=\"col\" class=\"n\">Off time</th><th scope=\"col\" class=\"n\">Median</th></tr></thead><tbody>",
        esc(&g.text),
        esc(option),
        scale.axis()
    );
    for r in &g.rows {
        let interval = r.summary.and_then(|s| s.interval_s);
        put!(
            o,
            "<tr><th scope=\"row\">{}</th><td class=\"wide\">{}</td><td class=\"n\"><b>{}</b> of {}<small>{}</small></td><td class=\"n\">{}<small>{}</small></td></tr>",
            esc(&r.label),
            lag_strip(r, g.window, interval, scale, names),
            r.off(),
            r.judged(),
            split(r.counts),
            r.median().map_or_else(|| "–".to_owned(), secs),
            match interval {
                Some((a, b)) => format!("{} to {}", words::tidy(a, 2), words::tidy(b, 2)),
                None => String::new(),
            }
        );
    }
    o.push_str("</tbody></table>");
}

fn split(c: [usize; 5]) -> String {
    let mut parts = Vec::new();
    for (n, word) in [
        (c[0], "early"),
        (c[2], "late"),
        (c[3], "never"),
        (c[4], "not judged"),
    ] {
        if n > 0 {
            parts.push(format!("{n} {word}"));
        }
    }
    parts.join(", ")
}

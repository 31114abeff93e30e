//! Lags at the declared cues, player by player.

use super::parts::open_section;
use super::plots::{LagScale, lag_strip};
use crate::html::{esc, put};
use crate::words::{self, secs};
use setdrift_season::results::Results;
use setdrift_season::tally::CueGroup;

/// Cues shown at once; the others are folded away.
const SHOWN: usize = 6;

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
    o.push_str("</section>");
    o
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

//! A sheet per player: how it went, what to fix, what to look at. Those who need it most first.

use super::parts::{moment, moments, open_section};
use crate::html::{esc, put};
use crate::words::clock;
use setdrift_season::{results::Results, staff};
use setdrift_timing::{Clip, PlayerSheet, ToFix};

/// Moments shown at once for one thing; the rest is folded.
const SHOWN: usize = 3;

/// The section.
pub fn section(results: &Results, names: &[String]) -> String {
    let mut o = String::new();
    open_section(
        &mut o,
        "players",
        "Player by player",
        "What each player might fix first, those who need it most first. Advice only on what went wrong three times or more. The buttons open the replay: session, possession and time.",
    );
    let sheets = staff::sheets(results);
    if sheets.is_empty() {
        o.push_str("<p>No cue and no place could be judged for anybody.</p></section>");
        return o;
    }
    let changes = staff::player_changes(results);
    for s in &sheets {
        let change = changes.iter().find(|c| c.0 == s.player);
        sheet(&mut o, results, s, change.map(|c| c.1.as_str()), names);
    }
    o.push_str("<p class=\"fine\">For the player and the staff, not for passing on: the sheets are about people, perhaps minors. They speak of timing and places against the playbook, never of a person’s worth. Where load, pain or contact may be behind it, ask qualified staff. A change over time is named where its 95 % interval says so; one in twenty is chance.</p></section>");
    o
}

fn sheet(
    o: &mut String,
    results: &Results,
    s: &PlayerSheet,
    change: Option<&str>,
    names: &[String],
) {
    put!(
        o,
        "<article class=\"player\"><h3>{}</h3><p>{}</p>",
        esc(&s.label),
        esc(&s.summary)
    );
    if s.fix.is_empty() {
        o.push_str("<p class=\"fine\">Nothing went wrong three times: no advice.</p>");
    } else {
        o.push_str("<ol class=\"fix\">");
        for f in &s.fix {
            thing(o, results, f, names);
        }
        o.push_str("</ol>");
    }
    if !s.seen.is_empty() {
        let n: usize = s.seen.iter().map(|f| f.clips.len()).sum();
        put!(
            o,
            "<details class=\"more\"><summary>seen once or twice: {}</summary><ul class=\"fix\">",
            if n == 1 {
                "a moment".to_owned()
            } else {
                format!("{n} moments")
            }
        );
        for f in &s.seen {
            thing(o, results, f, names);
        }
        o.push_str("</ul></details>");
    }
    if let Some(words) = change {
        put!(o, "<p>{}</p>", esc(words));
    }
    if let Some(best) = &s.best {
        put!(o, "<p class=\"good\"><b>Good</b> {}.</p>", esc(best));
    }
    o.push_str("</article>");
}

fn thing(o: &mut String, results: &Results, f: &ToFix, names: &[String]) {
    put!(o, "<li>{}", esc(&f.words));
    o.push_str(&moments(&links(results, &f.clips, names), SHOWN));
    o.push_str("</li>");
}

/// A link to each clip.
pub fn links(results: &Results, clips: &[Clip], names: &[String]) -> Vec<String> {
    clips
        .iter()
        .filter_map(|c| {
            let s = results
                .sessions
                .iter()
                .position(|s| s.session.id == c.session)?;
            let text = format!("{} · {} {}", names[s], c.possession, clock(c.moment_s));
            Some(moment(s, c.possession, c.moment_s, &text))
        })
        .collect()
}

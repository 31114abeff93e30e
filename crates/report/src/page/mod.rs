//! One self-contained page: no network, no fonts, no framework.
//!
//! What can be read without the script stands in the HTML: tables, sentences, drawings. The
//! script adds the replay, the filters and the links into the replay. A content security policy
//! forbids every load; style and script are allowed by their hash alone, so that text from data
//! could not run even where it was not escaped.

mod codec;
mod court;
mod cues;
mod data;
mod drift;
mod instead;
mod options;
mod parts;
mod placements;
mod players;
mod plots;
mod possessions;
mod quality;
mod replay;
mod sheet;
mod summary;
mod who;

use crate::html::{esc, put, script_safe};
use crate::words;
use base64::Engine as _;
use setdrift_season::{results::Results, tally};
use sha2::{Digest, Sha256};

const STYLE: &str = concat!(
    include_str!("../../assets/base.css"),
    include_str!("../../assets/sections.css"),
    include_str!("../../assets/replay.css")
);

const SCRIPT: &str = concat!(
    "\"use strict\";(() => {\n",
    include_str!("../../assets/data.js"),
    include_str!("../../assets/court.js"),
    include_str!("../../assets/replay.js"),
    include_str!("../../assets/lists.js"),
    "})();\n"
);

/// What the page cannot know from the results.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PageOptions {
    /// Heading of the page; by default the offence's name and the team's.
    pub title: Option<String>,
    /// A line under the heading: when and from what the page was made. Left out by default, so
    /// that the same results give the same page.
    pub note: Option<String>,
}

/// The page as one HTML document in UTF-8.
///
/// The same results and options give the same bytes. Every string from the data is escaped.
#[must_use]
pub fn page(results: &Results, options: &PageOptions) -> String {
    let tally = tally::Tally::of(results);
    let names = words::session_names(results);
    let cues = tally::cues(results);
    let placements = tally::placements(results);
    let team = results
        .sessions
        .first()
        .and_then(|s| s.session.teams.first())
        .map_or("", |t| t.name.as_str());
    let title = options
        .title
        .clone()
        .unwrap_or_else(|| format!("{}: what was run", results.graph.name));
    let mut o = String::with_capacity(1 << 20);
    head(&mut o, &title);
    o.push_str(SIGNS);
    o.push_str("<a class=\"skip\" href=\"#summary\">To the summary</a><header class=\"top\"><div>");
    put!(o, "<h1>{}</h1><p>{}", esc(&title), esc(team));
    let about: Vec<String> = results
        .sessions
        .iter()
        .zip(&names)
        .map(|(s, n)| format!("{n}: {}", words::session_about(&s.session)))
        .collect();
    if !about.is_empty() {
        put!(o, "<br>{}", esc(&about.join("; ")));
    }
    o.push_str("</p>");
    if let Some(note) = &options.note {
        put!(o, "<p>{}</p>", esc(note));
    }
    o.push_str("</div><button type=\"button\" id=\"theme\" hidden>Dark</button></header>");
    o.push_str("<nav aria-label=\"Sections\"><ul>");
    for (id, text) in [
        ("summary", "In short"),
        ("options", "Options"),
        ("cues", "On cue"),
        ("places", "In place"),
        ("players", "Players"),
        ("instead", "Instead"),
        ("drift", "Drift"),
        ("possessions", "Possessions"),
        ("data", "Data"),
    ] {
        put!(o, "<li><a href=\"#{id}\">{text}</a></li>");
    }
    o.push_str("</ul></nav><div class=\"frame\"><main>");
    o.push_str(&summary::section(
        results,
        &tally,
        &cues,
        &placements,
        &names,
    ));
    o.push_str(&options::section(results, &tally, &names));
    o.push_str(&cues::section(results, &cues, &names));
    o.push_str(&placements::section(results, &placements, &names));
    o.push_str(&players::section(results, &names));
    o.push_str(&instead::section(results, &names));
    o.push_str(&drift::section(results, &names));
    o.push_str(&possessions::section(results, &names));
    o.push_str(&quality::section(results, &names));
    o.push_str("</main>");
    o.push_str(&replay::panel(&results.graph.court));
    put!(
        o,
        "</div><script type=\"application/json\" id=\"payload\">{}</script><script>{SCRIPT}</script></body></html>\n",
        script_safe(&data::json(results))
    );
    o
}

fn head(o: &mut String, title: &str) {
    let hash = |text: &str| {
        base64::engine::general_purpose::STANDARD.encode(Sha256::digest(text.as_bytes()))
    };
    put!(
        o,
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'sha256-{}'; script-src 'sha256-{}'; base-uri 'none'; form-action 'none'\"><meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"><meta name=\"color-scheme\" content=\"light dark\"><title>{}</title><style>{STYLE}</style></head><body>",
        hash(STYLE),
        hash(SCRIPT),
        esc(title)
    );
}

/// Signs of the sorts of segment, and the hatchings of their bars.
const SIGNS: &str = concat!(
    "<svg class=\"defs\" width=\"0\" height=\"0\" aria-hidden=\"true\"><defs>",
    "<symbol id=\"i-ran\" viewBox=\"0 0 16 16\"><path d=\"M2.5 8.5L6.5 12.5L13.5 4\"/></symbol>",
    "<symbol id=\"i-faults\" viewBox=\"0 0 16 16\"><path d=\"M8 2L14.5 13.5H1.5ZM8 6.5V9.5M8 11V12\"/></symbol>",
    "<symbol id=\"i-broken\" viewBox=\"0 0 16 16\"><path d=\"M1.5 8H6L9 3.5M10 8H14.5M7 12.5L10 8\"/></symbol>",
    "<symbol id=\"i-set\" viewBox=\"0 0 16 16\"><path d=\"M2 8H14\"/></symbol>",
    "<symbol id=\"i-off\" viewBox=\"0 0 16 16\"><path d=\"M1.5 9.5C4 3 6 3 8 8S12 13 14.5 6.5\"/></symbol>",
    "<symbol id=\"i-gap\" viewBox=\"0 0 16 16\"><path stroke-dasharray=\"2.2 2\" d=\"M2.5 3.5H13.5V12.5H2.5Z\"/></symbol>",
    "<pattern id=\"h-faults\" width=\"14\" height=\"14\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><path class=\"hatch\" d=\"M0 0V14\" stroke-width=\"5\"/></pattern>",
    "<pattern id=\"h-broken\" width=\"10\" height=\"10\" patternUnits=\"userSpaceOnUse\"><path class=\"hatch\" d=\"M0 5H10\" stroke-width=\"4\"/></pattern>",
    "</defs></svg>"
);

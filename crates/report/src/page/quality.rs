//! What the data are and what they do not support.

use super::parts::open_section;
use super::{sheet, who};
use crate::html::{esc, put};
use crate::words::{self, clock, percent, tidy};
use setdrift_season::results::{Results, SessionResults};
use setdrift_tracks::{Known, Track};
use std::collections::BTreeMap;

/// The section.
pub fn section(results: &Results, names: &[String]) -> String {
    let mut o = String::new();
    open_section(
        &mut o,
        "data",
        "Data and limits",
        "What the tracks hold inside the possessions, and what they could not support.",
    );
    o.push_str("<table class=\"quality\"><thead><tr><th scope=\"col\">Session</th><th scope=\"col\" class=\"n\">Possessions</th><th scope=\"col\" class=\"n\">Time on ball</th><th scope=\"col\" class=\"n\">Rate</th><th scope=\"col\" class=\"n\">Attackers known</th><th scope=\"col\" class=\"n\">Defenders known</th><th scope=\"col\" class=\"n\">Ball known</th><th scope=\"col\" class=\"n\">Filled in</th></tr></thead><tbody>");
    for (s, name) in results.sessions.iter().zip(names) {
        session(&mut o, s, name);
    }
    o.push_str("</tbody></table>");
    sheet::supports(&mut o, results, names);
    who::who(&mut o, results, names);
    sheet::sheets(&mut o, results, names);
    limits(&mut o, results, names);
    how(&mut o, results);
    o.push_str("</section>");
    o
}

/// Known and filled samples inside the possessions.
#[derive(Default)]
struct Share {
    known: usize,
    filled: usize,
    all: usize,
}

impl Share {
    fn add(&mut self, track: &Track, from: usize, to: usize) {
        for f in from..=to {
            self.all += 1;
            match track.known.get(f) {
                Some(Known::Measured) => self.known += 1,
                Some(Known::Filled) => {
                    self.known += 1;
                    self.filled += 1;
                }
                Some(Known::Unknown) | None => {}
            }
        }
    }

    fn text(&self, none: &str) -> String {
        if self.all == 0 {
            none.to_owned()
        } else {
            percent(self.known as f64, self.all as f64)
        }
    }
}

fn session(o: &mut String, s: &SessionResults, name: &str) {
    let (mut attack, mut defend, mut ball) = (Share::default(), Share::default(), Share::default());
    let mut seconds = 0.0;
    for p in &s.possessions {
        seconds += (p.to_s - p.from_s).max(0.0);
        let (from, to) = (s.session.frame_at(p.from_s), s.session.frame_at(p.to_s));
        for i in &p.attackers {
            if let Some(t) = s.session.tracks.get(*i) {
                attack.add(t, from, to);
            }
        }
        for i in &p.defenders {
            if let Some(t) = s.session.tracks.get(*i) {
                defend.add(t, from, to);
            }
        }
        if let Some(t) = &s.session.ball {
            ball.add(t, from, to);
        }
    }
    put!(
        o,
        "<tr><th scope=\"row\">{}<small>{}, {}</small></th><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{} Hz</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td></tr>",
        esc(name),
        esc(&words::session_about(&s.session)),
        clock(s.session.time(s.session.frames() - 1) - s.session.start_s),
        s.possessions.len(),
        words::span(seconds),
        tidy(s.session.rate_hz, 0),
        attack.text("–"),
        defend.text("none in the data"),
        ball.text("no ball"),
        percent(
            (attack.filled + defend.filled + ball.filled) as f64,
            (attack.all + defend.all + ball.all) as f64
        )
    );
}

fn limits(o: &mut String, results: &Results, names: &[String]) {
    // Each limit once, with the sessions it holds for and how often it came up in possessions.
    let mut found: BTreeMap<&str, (Vec<usize>, usize)> = BTreeMap::new();
    for (i, s) in results.sessions.iter().enumerate() {
        for l in s.limits.iter().chain(&s.story.limits) {
            let e = found.entry(l).or_default();
            if e.0.last() != Some(&i) {
                e.0.push(i);
            }
        }
        for l in s.readings.iter().flat_map(|r| &r.limits) {
            let e = found.entry(l).or_default();
            e.1 += 1;
            if e.0.last() != Some(&i) {
                e.0.push(i);
            }
        }
    }
    o.push_str("<h3>Limits</h3>");
    if found.is_empty() {
        o.push_str("<p>None were reported.</p>");
        return;
    }
    o.push_str("<ul class=\"limits\">");
    for (text, (sessions, times)) in found {
        let whose: Vec<String> = sessions.iter().map(|i| names[*i].clone()).collect();
        put!(
            o,
            "<li>{}. <small>{}{}</small></li>",
            esc(sentence(text).trim_end_matches('.')),
            esc(&words::list(&whose)),
            if times > 0 {
                format!(", in {}", words::count(times, "possession"))
            } else {
                String::new()
            }
        );
    }
    o.push_str("</ul>");
}

/// With a capital at its beginning.
pub fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    match chars.next() {
        Some(c) => c.to_uppercase().chain(chars).collect(),
        None => String::new(),
    }
}

fn how(o: &mut String, results: &Results) {
    o.push_str("<h3>How to read it</h3><dl class=\"how\"><div><dt>Cost</dt><dd>How far the roles and the ball were from the declared motion: squared distances in tolerances, each capped, added up per frame. 0 is exactly as declared.</dd></div><div><dt>Margin</dt><dd>How much dearer the next best explanation of the same stretch is. A small margin means that the verdict could as well be the other one: open the replay and judge.</dd></div><div><dt>Confidence</dt><dd>From 0 to 100 %, how clearly the stretch is this option and no other. Sort the possessions by “least sure first” to check those.</dd></div><div><dt>Order of need</dt><dd>By the lower end of the 95 % interval (Wilson score) of the share off time, or not kept.</dd></div></dl>");
    put!(
        o,
        "<p class=\"fine\">Court: {}. Lengths in {}. Times are session time, minutes and seconds from the start of the tracks’ clock.</p>",
        esc(results.graph.court.name()),
        match results.graph.unit {
            setdrift_court::LengthUnit::Metre => "metres",
            setdrift_court::LengthUnit::Foot => "feet",
            setdrift_court::LengthUnit::Centimetre => "centimetres",
        }
    );
}

//! The options table.

use super::parts::{open_section, per_possession, sign};
use crate::diagram::{DiagramStyle, option_svg};
use crate::html::{esc, put};
use crate::words;
use setdrift_season::results::Results;
use setdrift_season::tally::{Sort, Tally};

/// The section.
pub fn section(results: &Results, tally: &Tally, names: &[String]) -> String {
    let mut o = String::new();
    open_section(
        &mut o,
        "options",
        "Options",
        "How often each declared option was run and how it went. Points are those of the possessions in which it was run, where the result is known.",
    );
    o.push_str("<table class=\"options\"><thead><tr><th scope=\"col\">Option</th><th scope=\"col\" class=\"n\">Run</th>");
    for sort in [Sort::Ran, Sort::Faults, Sort::Broken] {
        put!(
            o,
            "<th scope=\"col\" class=\"n\">{} {}</th>",
            sign(sort),
            match sort {
                Sort::Ran => "clean",
                Sort::Faults => "faults",
                _ => "broken off",
            }
        );
    }
    o.push_str("<th scope=\"col\" class=\"n\">Points per poss.</th>");
    if names.len() > 1 {
        o.push_str("<th scope=\"col\">By session</th>");
    }
    o.push_str("</tr></thead><tbody>");
    let mut order: Vec<usize> = (0..tally.options.len()).collect();
    order.sort_by_key(|i| std::cmp::Reverse(tally.options[*i].runs));
    for i in order {
        row(&mut o, results, tally, i, names);
    }
    o.push_str("</tbody></table>");
    o.push_str("<details class=\"more declared-all\"><summary>The options as declared</summary>");
    let style = DiagramStyle {
        alone: false,
        every_entry: false,
        ..DiagramStyle::default()
    };
    for i in 0..results.graph.options.len() {
        put!(
            o,
            "<div class=\"drawn\">{}</div>",
            option_svg(&results.graph, i, &style)
        );
    }
    o.push_str("</details></section>");
    o
}

fn row(o: &mut String, results: &Results, tally: &Tally, i: usize, names: &[String]) {
    let (option, t) = (&results.graph.options[i], &tally.options[i]);
    let class = if t.runs == 0 { " class=\"none\"" } else { "" };
    put!(o, "<tr{class}><th scope=\"row\">");
    if t.runs > 0 {
        put!(
            o,
            "<a class=\"filter\" href=\"#possessions\" data-option=\"{i}\">{}</a>",
            esc(&option.title)
        );
    } else {
        put!(o, "{}", esc(&option.title));
    }
    let mut notes = Vec::new();
    if let Some(series) = option.series.as_ref().filter(|s| **s != option.id) {
        notes.push(format!("{} series", esc(series)));
    }
    if t.left > 0 {
        notes.push(format!("{} of {} to the left", t.left, t.runs));
    }
    if let Some(note) = fault_note(results, i, tally) {
        notes.push(note);
    }
    if !notes.is_empty() {
        put!(o, "<small>{}</small>", notes.join("; "));
    }
    put!(
        o,
        "</th><td class=\"n\"><b>{}</b></td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}",
        t.runs,
        dash(t.clean, t.runs),
        dash(t.faults, t.runs),
        dash(t.broken(), t.runs)
    );
    if t.broken() > 0 && option.steps > 1 {
        let at: Vec<String> = t
            .broken_at
            .iter()
            .map(|(step, n)| format!("{n} in step {step}"))
            .collect();
        put!(o, "<small>{}</small>", at.join(", "));
    }
    put!(
        o,
        "</td><td class=\"n\">{}",
        per_possession(t.scored, t.points)
    );
    if t.scored > 0 {
        put!(o, "<small>{} in {}</small>", t.points, t.scored);
    }
    o.push_str("</td>");
    if names.len() > 1 {
        o.push_str("<td class=\"per\">");
        for (n, name) in t.per_session.iter().zip(names) {
            put!(
                o,
                "<span><small aria-label=\"{}\">{}</small> {n}</span> ",
                esc(name),
                esc(&words::initials(name))
            );
        }
        o.push_str("</td>");
    }
    o.push_str("</tr>");
}

fn dash(n: usize, runs: usize) -> String {
    if runs == 0 {
        "–".to_owned()
    } else {
        n.to_string()
    }
}

fn fault_note(results: &Results, i: usize, tally: &Tally) -> Option<String> {
    let (role, n) = tally.options[i]
        .fault_roles
        .iter()
        .filter_map(|(r, n)| r.map(|r| (r, *n)))
        .max_by_key(|(r, n)| (*n, std::cmp::Reverse(*r)))?;
    let name = results.graph.roles.get(role)?;
    Some(format!("most faults: role {}, {n}", esc(name)))
}

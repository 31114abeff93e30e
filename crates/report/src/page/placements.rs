//! Placements and expectations: kept or not.

use super::court;
use super::parts::{moment, moments, open_section};
use crate::html::{esc, put};
use crate::words::{clock, length};
use setdrift_season::results::Results;
use setdrift_season::tally::PlacementGroup;
use setdrift_timing::model::Kept;

/// Placements shown at once; those missed less often are folded away.
const AT_ONCE: usize = 8;

/// Misses named at once; the rest is folded.
const SHOWN: usize = 4;

/// The section.
pub fn section(results: &Results, groups: &[PlacementGroup<'_>], names: &[String]) -> String {
    let mut o = String::new();
    open_section(
        &mut o,
        "places",
        "In place",
        "Where screens, cuts and spacing belong by the playbook, and whether they were there. Those most surely not kept come first.",
    );
    if groups.is_empty() {
        o.push_str("<p>No placement came up in what was run.</p></section>");
        return o;
    }
    let (missed, kept): (Vec<&PlacementGroup<'_>>, Vec<_>) =
        groups.iter().partition(|g| g.counts[Kept::No as usize] > 0);
    if missed.is_empty() {
        o.push_str("<p>Nothing that could be judged was out of place.</p>");
    }
    let shown = missed.len().min(AT_ONCE);
    table(&mut o, results, &missed[..shown], names);
    if missed.len() > shown {
        put!(
            o,
            "<details class=\"more\"><summary>{} more, missed less often</summary>",
            missed.len() - shown
        );
        table(&mut o, results, &missed[shown..], names);
        o.push_str("</details>");
    }
    if !kept.is_empty() {
        put!(
            o,
            "<details class=\"more\"><summary>{} kept whenever they could be judged</summary>",
            kept.len()
        );
        table(&mut o, results, &kept, names);
        o.push_str("</details>");
    }
    o.push_str("</section>");
    o
}

fn table(o: &mut String, results: &Results, groups: &[&PlacementGroup<'_>], names: &[String]) {
    if groups.is_empty() {
        return;
    }
    let misses = groups.iter().any(|g| g.counts[Kept::No as usize] > 0);
    o.push_str("<table class=\"places\"><thead><tr><th scope=\"col\">Declared</th><th scope=\"col\" class=\"n\">Kept</th><th scope=\"col\" class=\"n\">Not kept</th><th scope=\"col\" class=\"n\">Cannot tell</th>");
    if misses {
        o.push_str("<th scope=\"col\">Where, and the misses</th>");
    }
    o.push_str("</tr></thead><tbody>");
    for g in groups {
        let option = results
            .graph
            .options
            .get(g.option)
            .map_or("", |x| x.title.as_str());
        put!(
            o,
            "<tr><th scope=\"row\">{}<small>{}</small></th><td class=\"n\">{}</td><td class=\"n\"><b>{}</b></td><td class=\"n\">{}</td>",
            esc(&g.text),
            esc(option),
            g.counts[0],
            g.counts[1],
            g.counts[2]
        );
        if misses {
            put!(
                o,
                "<td class=\"where\">{}{}</td>",
                map(results, g, names),
                moments(&links(results, g, names), SHOWN)
            );
        }
        o.push_str("</tr>");
    }
    o.push_str("</tbody></table>");
}

/// The misses, the furthest off first.
fn links(results: &Results, g: &PlacementGroup<'_>, names: &[String]) -> Vec<String> {
    let mut misses: Vec<_> = g
        .checks
        .iter()
        .filter(|(_, c)| c.kept == Kept::No)
        .collect();
    let off = |c: &setdrift_timing::model::PlacementCheck| c.off_by.map_or(0.0, f64::abs);
    misses.sort_by(|a, b| off(b.1).total_cmp(&off(a.1)));
    misses
        .iter()
        .map(|(s, c)| {
            let by = match c.off_by {
                // A count has no place of its own.
                Some(by) if c.at.is_some() => {
                    format!(", {} off", length(by.abs(), results.graph.unit))
                }
                _ => String::new(),
            };
            moment(
                *s,
                c.place.possession,
                c.time_s,
                &format!(
                    "{} · {} {}{by}",
                    names[*s],
                    c.place.possession,
                    clock(c.time_s)
                ),
            )
        })
        .collect()
}

/// Where the players stood; empty where no check has a place.
fn map(results: &Results, g: &PlacementGroup<'_>, names: &[String]) -> String {
    let placed: Vec<_> = g
        .checks
        .iter()
        .filter_map(|(s, c)| c.at.map(|p| (*s, *c, p)))
        .collect();
    if placed.is_empty() {
        return String::new();
    }
    let c = &results.graph.court;
    let mut o = format!(
        "<svg class=\"court mini\" viewBox=\"{}\" role=\"group\" aria-label=\"Where it happened: filled marks kept, crosses not kept\">{}",
        court::view_box(c, -2.5),
        court::lines(c, -2.5)
    );
    for (s, check, p) in placed {
        let shape = match check.kept {
            Kept::Yes => format!("<circle cx=\"{:.2}\" cy=\"{:.2}\" r=\"0.22\"/>", p.y, p.x),
            Kept::No => format!(
                "<path class=\"x\" d=\"M{:.2} {:.2}l.5 .5m0 -.5l-.5 .5\"/>",
                p.y - 0.25,
                p.x - 0.25
            ),
            Kept::CannotTell => format!(
                "<circle class=\"o\" cx=\"{:.2}\" cy=\"{:.2}\" r=\"0.2\"/>",
                p.y, p.x
            ),
        };
        put!(
            o,
            "<a href=\"#s{s}p{n}\" data-t=\"{t:.2}\" class=\"dot p-{key}\" aria-label=\"{name}, possession {n}, {words}\"><title>{name}, possession {n}: {words}</title><circle class=\"hit\" cx=\"{x:.2}\" cy=\"{y:.2}\" r=\"0.4\"/>{shape}</a>",
            n = check.place.possession,
            t = check.time_s,
            key = super::possessions::kept_key(check.kept),
            name = esc(&names[s]),
            words = super::possessions::kept(check.kept),
            x = p.y,
            y = p.x
        );
    }
    o.push_str("</svg>");
    o
}

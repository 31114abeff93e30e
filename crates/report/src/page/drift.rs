//! Drift within options: declared against mean executed paths.

use super::court;
use super::parts::open_section;
use crate::html::{esc, put};
use crate::words::{length, signed, tidy};
use setdrift_court::{AttackPoint, Court, LengthUnit};
use setdrift_drift::model::RoleDrift;
use setdrift_season::results::Results;

/// Maps drawn beside the findings, for the roles furthest from what is declared.
const FURTHEST: usize = 3;

/// The section.
pub fn section(results: &Results, names: &[String]) -> String {
    let mut o = String::new();
    open_section(
        &mut o,
        "drift",
        "What drifted",
        "Declared path (thin, open circle at its start) and mean executed path (thick, filled circle at its start). Numbered dots: where the role was in each session at the frame where the two differ most. A role may have had several players; a change seen in other players only is said to be theirs. Look at the dots before you act: about one such line in twenty is chance, and a mean may move because of a few runs.",
    );
    let (found, mut rest): (Vec<&RoleDrift>, Vec<&RoleDrift>) =
        results.drift.iter().partition(|d| d.finding.is_some());
    if found.is_empty() {
        o.push_str(if results.drift.is_empty() {
            "<p>Too few runs of any option to compare paths.</p>"
        } else {
            "<p>No role’s path has changed, or lies off what is declared, by more than chance would. Those furthest off are drawn for comparison.</p>"
        });
    }
    o.push_str("<div class=\"drifts\">");
    for d in &found {
        one(&mut o, results, d, names);
    }
    rest.sort_by(|a, b| off(b).total_cmp(&off(a)));
    let shown = if found.is_empty() {
        FURTHEST.min(rest.len())
    } else {
        0
    };
    for d in &rest[..shown] {
        one(&mut o, results, d, names);
    }
    o.push_str("</div>");
    if !rest.is_empty() {
        table(&mut o, results, &rest);
    }
    o.push_str("</section>");
    o
}

/// Greatest distance between mean and declared, metres.
fn off(d: &RoleDrift) -> f64 {
    d.declared
        .iter()
        .zip(&d.mean)
        .map(|(a, b)| a.distance(*b))
        .fold(0.0, f64::max)
}

fn title<'a>(results: &'a Results, d: &'a RoleDrift) -> &'a str {
    results
        .graph
        .option(&d.option)
        .and_then(|i| results.graph.options.get(i))
        .map_or(d.option.as_str(), |o| o.title.as_str())
}

fn one(o: &mut String, results: &Results, d: &RoleDrift, names: &[String]) {
    let unit = results.graph.unit;
    put!(
        o,
        "<article class=\"drift\"><h3>{}, step {}, role {}</h3>",
        esc(title(results, d)),
        d.step,
        esc(&d.role)
    );
    o.push_str(&map(&results.graph.court, d));
    o.push_str("<div>");
    if let Some(f) = &d.finding {
        put!(
            o,
            "<p class=\"what\">{}.</p>",
            esc(super::quality::sentence(f).trim_end_matches('.'))
        );
    } else {
        put!(
            o,
            "<p>At most {} from the declared path.</p>",
            length(off(d), unit)
        );
    }
    put!(
        o,
        "<table><thead><tr><th scope=\"col\">Session</th><th scope=\"col\" class=\"n\">Runs</th><th scope=\"col\" class=\"n\">Out, {unit}</th><th scope=\"col\" class=\"n\">Right, {unit}</th><th scope=\"col\" class=\"n\">±</th></tr></thead><tbody>"
    );
    for (i, s) in d.sessions.iter().enumerate() {
        let name = results
            .sessions
            .iter()
            .position(|x| x.session.id == s.session)
            .map_or(s.session.as_str(), |k| names[k].as_str());
        put!(
            o,
            "<tr><th scope=\"row\"><span class=\"pip\">{}</span> {}</th><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td></tr>",
            i + 1,
            esc(name),
            s.runs,
            signed(unit.from_metres(s.out_m), decimals(unit)),
            signed(unit.from_metres(s.right_m), decimals(unit)),
            s.half_width_m.map_or_else(
                || "–".to_owned(),
                |h| tidy(unit.from_metres(h), decimals(unit))
            )
        );
    }
    o.push_str("</tbody></table>");
    if let Some(t) = &d.trend {
        put!(
            o,
            "<p class=\"fine\">Per session {} {unit} out, {} {unit} to the right. In random orders of the runs a change this great appears with a share of {}; with every role and step looked at allowed for, {}.</p>",
            signed(unit.from_metres(t.out_m), decimals(unit)),
            signed(unit.from_metres(t.right_m), decimals(unit)),
            share(t.p),
            share(t.q)
        );
    }
    o.push_str("</div></article>");
}

/// A share that may be too small to print.
fn share(p: f64) -> String {
    if p < 0.001 {
        "less than 0.001".to_owned()
    } else {
        tidy(p, 3)
    }
}

fn decimals(unit: LengthUnit) -> usize {
    match unit {
        LengthUnit::Centimetre => 0,
        LengthUnit::Metre => 2,
        LengthUnit::Foot => 1,
    }
}

fn map(court: &Court, d: &RoleDrift) -> String {
    let mut o = format!(
        "<svg class=\"court mini\" viewBox=\"{}\" role=\"img\" aria-label=\"Declared and executed path of role {}\">{}",
        court::view_box(court, -2.5),
        esc(&d.role),
        court::lines(court, -2.5)
    );
    if let Some((p, r)) = d
        .mean
        .get(d.frame)
        .zip(d.region_m.get(d.frame).copied().flatten())
    {
        put!(
            o,
            "<circle class=\"region\" cx=\"{:.2}\" cy=\"{:.2}\" r=\"{r:.2}\"/>",
            p.y,
            p.x
        );
    }
    put!(
        o,
        "<path class=\"declared\" d=\"{}\"/>{}",
        court::path_d(&d.declared, 0.15),
        court::arrow(&d.declared, "head declared-head")
    );
    put!(
        o,
        "<path class=\"executed\" d=\"{}\"/>{}",
        court::path_d(&d.mean, 0.15),
        court::arrow(&d.mean, "head executed-head")
    );
    let dot = |p: Option<&AttackPoint>, class: &str| {
        p.map_or_else(String::new, |p| {
            format!(
                "<circle class=\"{class}\" cx=\"{:.2}\" cy=\"{:.2}\" r=\"0.3\"/>",
                p.y, p.x
            )
        })
    };
    o.push_str(&dot(d.declared.first(), "declared-start"));
    o.push_str(&dot(d.mean.first(), "executed-start"));
    for (i, s) in d.sessions.iter().enumerate() {
        put!(
            o,
            "<circle class=\"pip\" cx=\"{x:.2}\" cy=\"{y:.2}\" r=\"0.4\"/><text class=\"pip\" x=\"{x:.2}\" y=\"{ty:.2}\">{}</text>",
            i + 1,
            x = s.place.y,
            y = s.place.x,
            ty = s.place.x + 0.2
        );
    }
    o.push_str("</svg>");
    o
}

fn table(o: &mut String, results: &Results, rest: &[&RoleDrift]) {
    let unit = results.graph.unit;
    put!(
        o,
        "<details class=\"more\"><summary>{} other paths, furthest from declared first</summary><table><thead><tr><th scope=\"col\">Option</th><th scope=\"col\" class=\"n\">Step</th><th scope=\"col\" class=\"n\">Role</th><th scope=\"col\" class=\"n\">Furthest off</th><th scope=\"col\" class=\"n\">Runs</th></tr></thead><tbody>",
        rest.len()
    );
    for d in rest {
        put!(
            o,
            "<tr><th scope=\"row\">{}</th><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td></tr>",
            esc(title(results, d)),
            d.step,
            esc(&d.role),
            length(off(d), unit),
            d.sessions.iter().map(|s| s.runs).sum::<usize>()
        );
    }
    o.push_str("</tbody></table></details>");
}

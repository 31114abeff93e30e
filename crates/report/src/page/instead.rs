//! What they do instead: groups of off-script movement.

use super::parts::{moment, moments, open_section, per_possession};
use super::plots::group_court;
use crate::html::{esc, put};
use crate::words::{self, clock, length, percent};
use setdrift_drift::model::{Group, StretchId};
use setdrift_season::results::Results;

/// The section.
pub fn section(results: &Results, names: &[String]) -> String {
    let mut o = String::new();
    let grouping = &results.grouping;
    open_section(
        &mut o,
        "instead",
        "What they do instead",
        "Off-script movement that comes back, whoever runs it and to whichever side. The drawing is the mean of the group: solid line a cut, zigzag a dribble, dashed a pass, filled circle the ball at the start.",
    );
    if grouping.groups.is_empty() {
        o.push_str("<p>No off-script movement comes back often enough to be a habit.</p>");
    }
    o.push_str("<div class=\"groups\">");
    for g in &grouping.groups {
        group(&mut o, results, g, names);
    }
    o.push_str("</div>");
    if !grouping.noise.is_empty() {
        put!(
            o,
            "<h3>Like no other</h3><p>{} of {} off-script stretches belong to no group.</p>{}",
            grouping.noise.len(),
            results.stretches.len(),
            moments(&links(results, &grouping.noise, names), 0)
        );
    }
    for l in &grouping.limits {
        put!(o, "<p class=\"limit\">{}</p>", esc(l));
    }
    if !results.stretches.is_empty() {
        put!(
            o,
            "<p class=\"fine\">Two stretches are neighbours within {} per player, a group needs {} neighbours; both were chosen by the data (mean silhouette width {}).</p>",
            length(grouping.radius_m, results.graph.unit),
            grouping.least,
            words::tidy(grouping.silhouette, 2)
        );
    }
    o.push_str("</section>");
    o
}

fn group(o: &mut String, results: &Results, g: &Group, names: &[String]) {
    put!(
        o,
        "<article class=\"group\"><h3>Group {} <span class=\"v\">{} times</span></h3>{}<div><p class=\"what\">{}.</p>",
        esc(&g.name),
        g.members.len(),
        group_court(
            &results.graph.court,
            &g.mean,
            &g.ball,
            &format!("Group {}: {}", g.name, g.description)
        ),
        esc(super::quality::sentence(&g.description).trim_end_matches('.'))
    );
    let who: Vec<String> = g
        .players
        .iter()
        .take(4)
        .map(|(id, n)| format!("{} {n}", esc(&player(results, id))))
        .collect();
    if !who.is_empty() {
        put!(o, "<p>Mainly {}.</p>", words::list(&who));
    }
    let (n, points) = g.results;
    put!(
        o,
        "<p>{}</p><p class=\"fine\">Comes back in {} of resamples; members lie {} per player apart.</p>{}</div></article>",
        if n == 0 {
            "No results known.".to_owned()
        } else {
            format!(
                "{} points per possession ({} in {}).",
                per_possession(n, points),
                words::count(points as usize, "point"),
                words::count(n, "possession")
            )
        },
        percent(g.stability, 1.0),
        length(g.spread_m, results.graph.unit),
        moments(&links(results, &g.members, names), 4)
    );
}

fn links(results: &Results, ids: &[StretchId], names: &[String]) -> Vec<String> {
    ids.iter()
        .filter_map(|id| {
            let s = results
                .sessions
                .iter()
                .position(|s| s.session.id == id.session)?;
            let at = results
                .stretches
                .iter()
                .find(|x| &x.id == id)
                .map(|x| x.from_s)?;
            Some(moment(
                s,
                id.possession,
                at,
                &format!("{} · {} {}", names[s], id.possession, clock(at)),
            ))
        })
        .collect()
}

/// What to call a player by id, from the first session that knows them.
fn player(results: &Results, id: &str) -> String {
    results
        .sessions
        .iter()
        .flat_map(|s| &s.session.players)
        .find(|p| p.id == id)
        .map_or_else(|| id.to_owned(), setdrift_tracks::Player::label)
}

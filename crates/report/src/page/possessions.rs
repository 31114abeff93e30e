//! The possession list: verdicts with the evidence they rest on.

use super::data::{label, when};
use super::parts::{moment, open_section, sign};
use super::plots::segment_strip;
use crate::html::{esc, put};
use crate::words::{self, clock, length, percent, secs, tidy};
use setdrift_events::model::{Pace, Possession, Source, Start};
use setdrift_recognise::model::{Hand, Reading, Run, Segment, Verdict, What};
use setdrift_season::results::{Results, SessionResults};
use setdrift_season::tally::{Sort, run_of};
use setdrift_timing::model::Kept;

/// The section.
pub fn section(results: &Results, names: &[String]) -> String {
    let mut o = String::new();
    open_section(
        &mut o,
        "possessions",
        "Possessions",
        "Open one to see what each verdict rests on. Every time is a link into the replay.",
    );
    filters(&mut o, results, names);
    o.push_str("<ol class=\"possessions\">");
    let mut index = 0;
    for (s, session) in results.sessions.iter().enumerate() {
        for (p, r) in session.possessions.iter().zip(&session.readings) {
            entry(&mut o, results, (s, session), &names[s], p, r, index);
            index += 1;
        }
    }
    o.push_str("</ol></section>");
    o
}

fn filters(o: &mut String, results: &Results, names: &[String]) {
    o.push_str("<form class=\"filters\" hidden><fieldset><legend class=\"vh\">Show only</legend>");
    let select = |o: &mut String, id: &str, label: &str, items: &[(String, String)]| {
        put!(
            o,
            "<label>{label} <select name=\"{id}\"><option value=\"\">all</option>"
        );
        for (value, text) in items {
            put!(o, "<option value=\"{value}\">{}</option>", esc(text));
        }
        o.push_str("</select></label>");
    };
    let numbered = |texts: Vec<String>| -> Vec<(String, String)> {
        texts
            .into_iter()
            .enumerate()
            .map(|(i, t)| (i.to_string(), t))
            .collect()
    };
    if names.len() > 1 {
        select(o, "session", "Session", &numbered(names.to_vec()));
    }
    let titles = results.graph.options.iter().map(|x| x.title.clone());
    select(o, "option", "Option", &numbered(titles.collect()));
    let sorts: Vec<(String, String)> = Sort::ALL
        .iter()
        .map(|s| (s.key().to_owned(), s.label().to_owned()))
        .collect();
    select(o, "verdict", "Verdict", &sorts);
    // In the order of the data's person index: first appearance over the sessions.
    let mut seen = std::collections::BTreeMap::new();
    let mut people = Vec::new();
    for s in &results.sessions {
        for p in &s.session.players {
            let next = seen.len();
            if let std::collections::btree_map::Entry::Vacant(e) = seen.entry(p.id.as_str()) {
                e.insert(next);
                if p.team == 0 {
                    people.push((next.to_string(), p.label()));
                }
            }
        }
    }
    select(o, "player", "Player", &people);
    o.push_str("<label>Order <select name=\"order\"><option value=\"\">as played</option><option value=\"unsure\">least sure first</option><option value=\"faults\">most faults first</option></select></label>");
    o.push_str("<button type=\"reset\">Show all</button></fieldset><p class=\"shown\" role=\"status\"></p></form>");
}

#[allow(
    clippy::too_many_arguments,
    reason = "one call, each part named by its type"
)]
fn entry(
    o: &mut String,
    results: &Results,
    (s, session): (usize, &SessionResults),
    name: &str,
    p: &Possession,
    r: &Reading,
    index: usize,
) {
    put!(
        o,
        "<li id=\"s{s}p{n}\" data-i=\"{index}\"><details><summary><span class=\"no\">{name} · {n}</span><span class=\"at\">{from}<small>{dur} s</small></span>",
        n = p.number,
        name = esc(name),
        from = clock(p.from_s),
        dur = tidy(p.to_s - p.from_s, 0)
    );
    put!(
        o,
        "<span class=\"line\">{}<span class=\"chips\">",
        segment_strip(&r.segments)
    );
    let mut shown = 0;
    for seg in &r.segments {
        let sort = Sort::of(&seg.what);
        if sort == Sort::Set {
            continue;
        }
        shown += 1;
        put!(o, "<span class=\"chip\">{}", sign(sort));
        match &seg.what {
            What::Option(run) => put!(
                o,
                "{}<span class=\"vh\">, {}</span>",
                esc(&label(&results.graph, seg)),
                verdict(run)
            ),
            _ => put!(o, "{}", sort.label()),
        }
        o.push_str("</span>");
    }
    if shown == 0 {
        o.push_str("<span class=\"chip\">nothing beyond the set</span>");
    }
    put!(
        o,
        "</span></span><span class=\"res\">{}</span></summary><div class=\"evidence\">",
        result(p)
    );
    put!(
        o,
        "<p class=\"facts\">{} to {}. {}{}{}{}</p>",
        clock(p.from_s),
        clock(p.to_s),
        started(p),
        match p.pace {
            Pace::Transition => "On the run. ",
            Pace::HalfCourt => "Against a set defence. ",
            Pace::Unknown => "",
        },
        if p.second_chances > 0 {
            format!(
                "{}. ",
                words::count(p.second_chances as usize, "offensive rebound")
            )
        } else {
            String::new()
        },
        match (p.result.source, p.result.kind) {
            (_, setdrift_tracks::OutcomeKind::Unknown) => "Result not known.",
            (Source::Given, _) => "Result from the event file.",
            (Source::Inferred, _) => "Result worked out from the tracks.",
        }
    );
    for (i, seg) in r.segments.iter().enumerate() {
        segment(o, results, (s, session), p, seg, i);
    }
    for l in &r.limits {
        put!(o, "<p class=\"limit\">Not judged: {}</p>", esc(l));
    }
    put!(
        o,
        "</div></details><a class=\"moment go\" href=\"#s{s}p{n}\" data-t=\"{t:.2}\" aria-label=\"Replay {name}, possession {n}\">Replay</a></li>",
        n = p.number,
        t = p.from_s,
        name = esc(name)
    );
}

fn result(p: &Possession) -> String {
    if p.result.kind == setdrift_tracks::OutcomeKind::Unknown && p.result.points.is_none() {
        return "<span aria-hidden=\"true\">–</span><span class=\"vh\">result not known</span>"
            .to_owned();
    }
    let mut o = words::outcome(p.result.kind).to_owned();
    if let Some(points) = p.result.points {
        put!(
            o,
            "<small>{}</small>",
            words::count(points as usize, "point")
        );
    }
    o
}

fn started(p: &Possession) -> &'static str {
    match p.start {
        Start::Live => "From a ball won in play. ",
        Start::DeadBall => "From a dead ball. ",
        Start::Repetition => "A repetition in practice. ",
        Start::Unknown => "",
    }
}

fn verdict(run: &Run) -> String {
    match run.verdict {
        Verdict::Ran => "ran".to_owned(),
        Verdict::RanWithFaults => "ran with faults".to_owned(),
        Verdict::BrokenOff { step } => format!("broken off at step {step}"),
    }
}

fn segment(
    o: &mut String,
    results: &Results,
    (s, session): (usize, &SessionResults),
    p: &Possession,
    seg: &Segment,
    index: usize,
) {
    let sort = Sort::of(&seg.what);
    put!(
        o,
        "<article class=\"seg k-{}\"><h3>{}{} <span class=\"v\">{}</span> <span class=\"t\">{} – {}</span></h3>",
        sort.key(),
        sign(sort),
        esc(&label(&results.graph, seg)),
        match run_of(seg) {
            Some(run) => format!(
                "{}{}",
                verdict(run),
                if run.hand == Hand::Left {
                    ", to the left"
                } else {
                    ""
                }
            ),
            None => String::new(),
        },
        moment(s, p.number, seg.from_s, &clock(seg.from_s)),
        clock(seg.to_s)
    );
    match &seg.what {
        What::Option(run) => run_evidence(o, results, (s, session), p, run, index),
        What::NotEnoughData { missing } => put!(
            o,
            "<p>{} of the samples are unknown.</p>",
            percent(*missing, 1.0)
        ),
        What::OffScript => off_script(o, results, session, p, index),
        What::Set { .. } => {}
    }
    o.push_str("</article>");
}

fn off_script(
    o: &mut String,
    results: &Results,
    session: &SessionResults,
    p: &Possession,
    index: usize,
) {
    let group = results.grouping.groups.iter().find(|g| {
        g.members.iter().any(|m| {
            m.session == session.session.id && m.possession == p.number && m.segment == index
        })
    });
    if let Some(g) = group {
        put!(
            o,
            "<p>Like the others of <a href=\"#instead\">group {}</a>: {}.</p>",
            esc(&g.name),
            esc(&g.description)
        );
    } else {
        o.push_str("<p>Nearer to no declared option than the limit allows.</p>");
    }
}

#[allow(
    clippy::too_many_lines,
    reason = "the evidence in the order in which it is read"
)]
fn run_evidence(
    o: &mut String,
    results: &Results,
    (s, session): (usize, &SessionResults),
    p: &Possession,
    run: &Run,
    index: usize,
) {
    let g = &results.graph;
    let label_of = |i: usize| {
        session
            .session
            .players
            .get(i)
            .map_or_else(|| "?".to_owned(), setdrift_tracks::Player::label)
    };
    let role = |r: usize| g.roles.get(r).map_or("?", String::as_str);
    if !run.faults.is_empty() {
        o.push_str("<ul class=\"faults\">");
        for f in &run.faults {
            put!(
                o,
                "<li>{} {}</li>",
                moment(s, p.number, f.time_s, &clock(f.time_s)),
                esc(&f.text)
            );
        }
        o.push_str("</ul>");
    }
    let steps = g.options.get(run.option).map_or(0, |x| x.steps);
    let done = run.steps.iter().filter(|x| x.complete).count();
    let rival = match run.runner_up.and_then(|r| g.options.get(r)) {
        Some(other) => format!("next best is {}", esc(&other.title)),
        None => "next best is off script".to_owned(),
    };
    put!(
        o,
        "<p>{done} of {} to the end. Cost {} per frame; {rival}, {} dearer. Confidence {}.</p>",
        words::count(steps.max(run.steps.len()), "step"),
        tidy(run.cost, 2),
        tidy(run.margin, 2),
        percent(run.confidence, 1.0)
    );
    o.push_str("<table class=\"roles\"><caption>Distance from the declared path, root mean square</caption><thead><tr><th scope=\"col\">Role</th><th scope=\"col\">Player</th>");
    for (i, step) in run.steps.iter().enumerate() {
        let n = g.nodes.get(step.node).map_or(i + 1, |n| n.step + 1);
        put!(
            o,
            "<th scope=\"col\" class=\"n\">step {n} {}</th>",
            moment(s, p.number, step.from_s, &clock(step.from_s))
        );
    }
    o.push_str("</tr></thead><tbody>");
    for (r, player) in run.players.iter().enumerate() {
        put!(
            o,
            "<tr><th scope=\"row\">{}</th><td>{}</td>",
            esc(role(r)),
            player.map_or_else(|| "nobody".to_owned(), |p| esc(&label_of(p)).to_string())
        );
        for step in &run.steps {
            let tolerance = g
                .nodes
                .get(step.node)
                .and_then(|n| n.motion.tolerance.get(r))
                .copied();
            match step.deviation.get(r).copied().flatten() {
                Some(d) => {
                    let over = tolerance.is_some_and(|t| d > t);
                    put!(
                        o,
                        "<td class=\"n{}\">{}{}</td>",
                        if over { " over" } else { "" },
                        length(d, g.unit),
                        tolerance.map_or_else(String::new, |t| format!(
                            "<small>{} {}</small>",
                            if over { "over" } else { "of" },
                            length(t, g.unit)
                        ))
                    );
                }
                None => o.push_str("<td class=\"n\">unknown</td>"),
            }
        }
        o.push_str("</tr>");
    }
    o.push_str("</tbody></table>");
    let cues: Vec<_> = session
        .audit
        .cues
        .iter()
        .filter(|c| c.place.possession == p.number && c.place.segment == index)
        .collect();
    let places: Vec<_> = session
        .audit
        .placements
        .iter()
        .filter(|c| c.place.possession == p.number && c.place.segment == index)
        .collect();
    if cues.is_empty() && places.is_empty() {
        return;
    }
    o.push_str("<ul class=\"checks\">");
    for c in cues {
        let t = c.onset_s.or(c.cue_s);
        let lag = c.lag_s.map_or_else(String::new, |l| {
            let sure = c
                .uncertainty_s
                .map_or_else(String::new, |u| format!(" ± {}", tidy(u, 2)));
            format!(
                " {}{sure} after the cue ({} declared)",
                secs(l),
                words::window(c.window_s)
            )
        });
        let jab = c.jab_s.map_or_else(String::new, |j| {
            format!(" A jab before it at {}.", moment(s, p.number, j, &clock(j)))
        });
        put!(
            o,
            "<li class=\"w-{}\">{} <b>{}</b>:{lag}, “{}”, {}.{jab}<small>{}</small></li>",
            super::plots::when_key(c.when),
            t.map_or_else(String::new, |t| moment(s, p.number, t, &clock(t))),
            when(c.when),
            esc(&c.text),
            esc(&label_of(c.player)),
            esc(&c.evidence)
        );
    }
    for c in places {
        put!(
            o,
            "<li class=\"w-{}\">{} <b>{}</b>: “{}”{}.<small>{}</small></li>",
            kept_key(c.kept),
            moment(s, p.number, c.time_s, &clock(c.time_s)),
            kept(c.kept),
            esc(&c.text),
            c.player
                .map_or_else(String::new, |x| format!(", {}", esc(&label_of(x)))),
            esc(&c.evidence)
        );
    }
    o.push_str("</ul>");
}

/// A verdict on a placement, in words.
pub fn kept(k: Kept) -> &'static str {
    match k {
        Kept::Yes => "kept",
        Kept::No => "not kept",
        Kept::CannotTell => "cannot tell",
    }
}

/// Key of a verdict on a placement.
pub fn kept_key(k: Kept) -> &'static str {
    match k {
        Kept::Yes => "yes",
        Kept::No => "no",
        Kept::CannotTell => "tell",
    }
}

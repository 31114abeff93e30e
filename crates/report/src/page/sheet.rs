//! The quality sheet: which verdicts each session's tracks support, and how each player was tracked.

use crate::html::{esc, put};
use crate::words::{self, tidy};
use setdrift_season::results::{Results, SessionResults};
use setdrift_tracks::{Level, ObjectQuality, VerdictKind};

/// With more sessions than this, they are counted instead of named.
const NAMED: usize = 6;
/// So many reasons stand open; the rest is folded away.
const OPEN: usize = 8;

/// Which verdicts the tracks support, with the reasons why not.
pub fn supports(o: &mut String, results: &Results, names: &[String]) {
    o.push_str("<h3>Which verdicts they support</h3>");
    let named = results.sessions.len() <= NAMED;
    o.push_str("<table class=\"supports\"><thead><tr><th scope=\"col\">Verdict</th>");
    if named {
        for name in names {
            put!(o, "<th scope=\"col\">{}</th>", esc(name));
        }
    } else {
        o.push_str("<th scope=\"col\" class=\"n\">Sessions: yes</th><th scope=\"col\" class=\"n\">with caution</th><th scope=\"col\" class=\"n\">no</th>");
    }
    o.push_str("</tr></thead><tbody>");
    for kind in VerdictKind::ALL {
        put!(o, "<tr><th scope=\"row\">{}</th>", first_up(kind.words()));
        let levels = results
            .sessions
            .iter()
            .map(|s| s.quality.support(kind).map(|s| s.level));
        if named {
            for level in levels {
                match level {
                    Some(l) => put!(o, "<td class=\"{}\">{}</td>", class(l), short(l)),
                    None => o.push_str("<td>–</td>"),
                }
            }
        } else {
            let all: Vec<Level> = levels.flatten().collect();
            for level in [Level::Yes, Level::Caution, Level::No] {
                let n = all.iter().filter(|l| **l == level).count();
                put!(o, "<td class=\"n\">{n}</td>");
            }
        }
        o.push_str("</tr>");
    }
    o.push_str("</tbody></table>");
    reasons(o, results, names);
}

fn class(level: Level) -> &'static str {
    match level {
        Level::Yes => "l-yes",
        Level::Caution => "l-caution",
        Level::No => "l-no",
    }
}

/// One word, so that six sessions stand side by side on a telephone.
fn short(level: Level) -> &'static str {
    match level {
        Level::Yes => "yes",
        Level::Caution => "caution",
        Level::No => "no",
    }
}

fn first_up(text: &str) -> String {
    super::quality::sentence(text)
}

/// Each reason once, with the verdicts and the sessions it touches.
fn reasons(o: &mut String, results: &Results, names: &[String]) {
    struct Reason<'a> {
        level: Level,
        text: &'a str,
        kinds: Vec<VerdictKind>,
        sessions: Vec<usize>,
    }
    let mut all: Vec<Reason<'_>> = Vec::new();
    for (i, s) in results.sessions.iter().enumerate() {
        for x in s.quality.supports.iter().filter(|x| x.level != Level::Yes) {
            let same = |r: &&mut Reason<'_>| r.level == x.level && r.text == x.reason;
            let r = match all.iter_mut().find(same) {
                Some(r) => r,
                None => {
                    all.push(Reason {
                        level: x.level,
                        text: &x.reason,
                        kinds: Vec::new(),
                        sessions: Vec::new(),
                    });
                    let last = all.len() - 1;
                    &mut all[last]
                }
            };
            if !r.kinds.contains(&x.kind) {
                r.kinds.push(x.kind);
            }
            if !r.sessions.contains(&i) {
                r.sessions.push(i);
            }
        }
    }
    if all.is_empty() {
        o.push_str("<p class=\"fine\">Nothing stands in their way: rate, noise and coverage are within what docs/method-cleaning.md asks.</p>");
        return;
    }
    all.sort_by_key(|r| std::cmp::Reverse(r.level));
    let items: Vec<String> = all
        .iter()
        .map(|r| {
            let kinds: Vec<String> = r.kinds.iter().map(|k| k.words().to_owned()).collect();
            let whose: Vec<String> = r.sessions.iter().map(|i| names[*i].clone()).collect();
            format!(
                "<li><b class=\"{}\">{}</b>: {}. {}. <small>{}</small></li>",
                class(r.level),
                first_up(&r.level.to_string()),
                esc(&words::list(&kinds)),
                esc(&first_up(r.text)),
                if whose.len() > NAMED {
                    words::count(whose.len(), "session")
                } else {
                    esc(&words::list(&whose)).to_string()
                }
            )
        })
        .collect();
    put!(
        o,
        "<ul class=\"limits\">{}</ul>",
        items[..items.len().min(OPEN)].concat()
    );
    if items.len() > OPEN {
        put!(
            o,
            "<details class=\"more\"><summary>{} more</summary><ul class=\"limits\">{}</ul></details>",
            items.len() - OPEN,
            items[OPEN..].concat()
        );
    }
}

/// One folded sheet per session.
pub fn sheets(o: &mut String, results: &Results, names: &[String]) {
    o.push_str("<h3>Player by player</h3><p class=\"fine\">Seen: time tracked on the floor. Gaps: losses of up to a minute. Error: how far a position is off, one standard deviation along each side of the floor. Cut: positions that no human could have reached.</p>");
    for (s, name) in results.sessions.iter().zip(names) {
        sheet(o, s, name);
    }
}

fn sheet(o: &mut String, s: &SessionResults, name: &str) {
    let q = &s.quality;
    put!(
        o,
        "<details class=\"more\"><summary>{}</summary><p class=\"fine\">{}</p>",
        esc(name),
        esc(&about(s))
    );
    o.push_str("<table class=\"quality sheet\"><thead><tr><th scope=\"col\">Player</th><th scope=\"col\" class=\"n\">Seen</th><th scope=\"col\" class=\"n\">Gaps</th><th scope=\"col\" class=\"n\">Longest</th><th scope=\"col\" class=\"n\">Error</th><th scope=\"col\" class=\"n\">Cut</th><th scope=\"col\" class=\"n\">Exchanged</th></tr></thead><tbody>");
    let labels = s.session.players.iter().map(|p| {
        let team = s.session.teams.get(p.team).map_or("", |t| t.name.as_str());
        (p.label(), team)
    });
    let ball = q.ball.iter().map(|_| ("Ball".to_owned(), ""));
    for (p, (label, team)) in q.players.iter().chain(&q.ball).zip(labels.chain(ball)) {
        if p.measured + p.filled == 0.0 {
            continue;
        }
        row(o, p, &label, team, q.length_s);
    }
    o.push_str("</tbody></table></details>");
}

/// What holds for the whole session, in a few sentences.
fn about(s: &SessionResults) -> String {
    let q = &s.quality;
    let mut text = format!(
        "{} samples a second, {}. ",
        tidy(q.source_hz, 1),
        if q.jitter_s < 5e-5 {
            "evenly spaced".to_owned()
        } else {
            format!("uneven by {} ms", tidy(1000.0 * q.jitter_s, 1))
        }
    );
    text += &if q.smoothing.window == 0 {
        "Not smoothed. ".to_owned()
    } else {
        format!(
            "Smoothed over {} frames, which moves the beginning of a movement by {} ms at most. ",
            q.smoothing.window,
            tidy(1000.0 * q.smoothing.onset_bound_s, 1)
        )
    };
    if !q.switched_off.is_empty() {
        text += &format!(
            "Cleaning steps switched off: {}. ",
            q.switched_off.join(", ")
        );
    }
    text
}

fn row(o: &mut String, p: &ObjectQuality, label: &str, team: &str, length_s: f64) {
    let error = if p.error_m.is_finite() {
        p.error_m
    } else {
        p.noise_m
    };
    put!(
        o,
        "<tr><th scope=\"row\">{}<small>{}</small></th><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td></tr>",
        esc(label),
        esc(team),
        words::span((p.measured + p.filled) * length_s),
        p.gaps,
        if p.gaps > 0 {
            format!("{} s", tidy(p.longest_gap_s, 1))
        } else {
            "–".to_owned()
        },
        if error.is_finite() {
            format!("{} m", tidy(error, 2))
        } else {
            "–".to_owned()
        },
        p.jumps_cut + p.spikes_cut,
        match (p.swaps_mended, p.swaps_doubtful) {
            (0, 0) => "–".to_owned(),
            (m, 0) => format!("{m} undone"),
            (0, d) => format!("{d} in doubt"),
            (m, d) => format!("{m} undone, {d} in doubt"),
        }
    );
}

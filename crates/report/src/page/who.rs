//! Who is who: moments at which a tracker may have taken one player for another.

use super::parts::{moment, moments};
use crate::html::{esc, put};
use crate::words::{self, clock};
use setdrift_season::results::{Results, SessionResults};
use setdrift_tracks::Player;
use std::cmp::Reverse;

/// So many likely moments of a session stand open under its name, and so many are listed at all; the
/// table `meetings` has every one.
const OPEN: usize = 8;
const LISTED: usize = 60;
/// The replay opens so long before two come together, seconds.
const LEAD_S: f64 = 1.0;

/// A moment at which who is who may be wrong from then on.
struct Check {
    in_doubt: bool,
    odds: f64,
    link: String,
}

/// What was put right, what is in doubt and what would not show, session by session.
pub fn who(o: &mut String, results: &Results, names: &[String]) {
    if results.sessions.is_empty() {
        return;
    }
    o.push_str("<h3>Who is who</h3><p class=\"fine\">Where two players pass close to each other, a tracker can take one for the other from there on. Open a moment and watch who comes out of it: where the names are wrong, say so under <code>[[exchanges]]</code> in the session’s mapping, and the next review has it right. Likeliest first.</p><ul class=\"who\">");
    for (i, (s, name)) in results.sessions.iter().zip(names).enumerate() {
        session(o, i, s, name);
    }
    o.push_str("</ul>");
}

fn session(o: &mut String, index: usize, s: &SessionResults, name: &str) {
    let q = &s.quality;
    let swaps = q.swaps.iter().filter(|w| w.in_doubt());
    let doubtful = swaps
        .clone()
        .map(|w| (true, w.odds_log10, w.players, w.time_s, w.time_s));
    let close = q
        .meetings
        .iter()
        .map(|m| (false, m.odds_log10, m.players, m.from_s, m.to_s));
    let all: Vec<_> = doubtful.chain(close).collect();
    let mut checks: Vec<Check> = all
        .iter()
        .filter_map(|(in_doubt, odds, players, from, to)| {
            Some(Check {
                in_doubt: *in_doubt,
                odds: *odds,
                link: link(index, s, *players, *from, *to)?,
            })
        })
        .collect();
    checks.sort_by(|a, b| {
        Reverse(a.in_doubt)
            .cmp(&Reverse(b.in_doubt))
            .then(b.odds.total_cmp(&a.odds))
    });
    let undone = q.swaps.iter().filter(|w| w.mended).count();
    let in_doubt = swaps.count();
    let mut said = Vec::new();
    if undone > 0 {
        said.push(format!(
            "{} found and undone",
            words::count(undone, "exchange")
        ));
    }
    if in_doubt > 0 {
        said.push(format!(
            "{in_doubt} in doubt, both players unknown for a while after"
        ));
    }
    let rest = all.len() - checks.len();
    let likely = checks.iter().filter(|c| c.in_doubt || c.odds > 0.0).count();
    said.push(match likely {
        0 => "nothing that needs a look".to_owned(),
        n => format!("{} worth a look", words::count(n, "moment")),
    });
    if checks.len() > likely {
        said.push(format!("{} less likely", checks.len() - likely));
    }
    if rest > 0 {
        said.push(format!(
            "{rest} outside possessions or between two opponents"
        ));
    }
    put!(o, "<li><b>{}</b>: {}.", esc(name), said.join("; "));
    let links: Vec<String> = checks.iter().take(LISTED).map(|c| c.link.clone()).collect();
    if !links.is_empty() {
        o.push_str(&moments(&links, likely.min(OPEN)));
    }
    if checks.len() > LISTED {
        put!(
            o,
            "<p class=\"fine\">The {LISTED} likeliest are listed; the table <code>meetings</code> has all.</p>"
        );
    }
    o.push_str("</li>");
}

/// A link into the replay, where both play in a possession then and one of them attacks: two
/// defenders exchanged change no verdict on the offence.
fn link(
    index: usize,
    s: &SessionResults,
    (a, b): (usize, usize),
    from: f64,
    to: f64,
) -> Option<String> {
    let p = s.possessions.iter().find(|p| {
        let attacks = |i: &usize| p.attackers.contains(i);
        let plays = |i: &usize| attacks(i) || p.defenders.contains(i);
        let both = plays(&a) && plays(&b) && (attacks(&a) || attacks(&b));
        from <= p.to_s && to >= p.from_s && both
    })?;
    let named = |i: usize| {
        s.session
            .players
            .get(i)
            .map_or_else(String::new, Player::label)
    };
    let at = from.max(p.from_s);
    let text = format!("{} · {} and {}", clock(at), named(a), named(b));
    Some(moment(index, p.number, (at - LEAD_S).max(p.from_s), &text))
}

//! A sheet per player: how it went, and three things to fix, each with moments to look at.

use crate::clip::Clip;
use crate::model::{CueCheck, Kept, LagSummary, PlacementCheck, When};
use crate::stats::{median, wilson};
use crate::summary::{Audited, CueKey, key, lag_summaries};
use crate::words;
use serde::{Deserialize, Serialize};
use setdrift_playbook::graph::Graph;
use std::collections::BTreeMap;

/// Something to fix.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ToFix {
    /// What to do, in plain words with counts.
    pub words: String,
    /// How often it was wrong.
    pub wrong: usize,
    /// How often it could be judged.
    pub judged: usize,
    /// Moments to look at, the plainest first.
    pub clips: Vec<Clip>,
}

/// One player's sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlayerSheet {
    /// Player's id, the same over sessions.
    pub player: String,
    /// What to call the player.
    pub label: String,
    /// Cues that could be judged.
    pub judged: usize,
    /// Of these, on time.
    pub on_time: usize,
    /// Places that could be judged.
    pub places: usize,
    /// Of these, kept.
    pub places_kept: usize,
    /// The player's lags, cue by cue in the order declared.
    pub lags: Vec<LagSummary>,
    /// At most three things, the one that matters most first, each wrong three times or more.
    pub fix: Vec<ToFix>,
    /// What went wrong once or twice, in the room that `fix` leaves: seen, not advised.
    pub seen: Vec<ToFix>,
    /// What went best, in plain words, of what was judged five times or more and right in three of four.
    pub best: Option<String>,
    /// One or two sentences to begin with.
    pub summary: String,
}

/// Most clips of one thing to fix.
const CLIPS: usize = 5;
/// Most things to fix.
const THINGS: usize = 3;
/// Fewest times that something went wrong before anybody is advised to change it.
pub const HABIT: usize = 3;
/// Fewest moments judged before a sheet is more than a hint.
const HINT: usize = 10;

/// A check and the session it was made in.
type Seen<'a, T> = (&'a str, &'a T);

#[derive(Default)]
struct Own<'a> {
    label: String,
    cues: BTreeMap<CueKey, Vec<Seen<'a, CueCheck>>>,
    /// By option and what was declared.
    places: BTreeMap<(usize, &'a str), Vec<Seen<'a, PlacementCheck>>>,
}

impl PlayerSheet {
    /// How surely this player needs a hand: the lower ends of Wilson's intervals of the shares
    /// off time and out of place, added up. Few moments weigh little.
    #[must_use]
    pub fn need(&self) -> f64 {
        let low = |wrong, all| wilson(wrong, all).map_or(0.0, |w| w.0);
        low(self.judged - self.on_time, self.judged)
            + low(self.places - self.places_kept, self.places)
    }

    /// Whether too little was judged for more than a hint.
    #[must_use]
    pub fn few(&self) -> bool {
        self.judged + self.places < HINT
    }
}

/// A sheet for every player with at least one check, those first who need it most
/// ([`PlayerSheet::need`]), then by id.
#[must_use]
pub fn player_sheets(sessions: &[Audited<'_>], graph: &Graph) -> Vec<PlayerSheet> {
    let mut players: BTreeMap<&str, Own<'_>> = BTreeMap::new();
    for s in sessions {
        for c in &s.audit.cues {
            let (Some(p), Some(k)) = (s.session.players.get(c.player), key(graph, c)) else {
                continue;
            };
            let own = players.entry(&p.id).or_default();
            own.label = p.label();
            own.cues.entry(k).or_default().push((&s.session.id, c));
        }
        for c in &s.audit.placements {
            let (Some(p), Some(n)) = (
                c.player.and_then(|p| s.session.players.get(p)),
                graph.nodes.get(c.place.node),
            ) else {
                continue;
            };
            let own = players.entry(&p.id).or_default();
            own.label = p.label();
            let k = (n.option, c.text.as_str());
            own.places.entry(k).or_default().push((&s.session.id, c));
        }
    }
    let lags = lag_summaries(sessions, graph);
    let mut sheets: Vec<PlayerSheet> = players
        .iter()
        .map(|(id, own)| sheet(id, own, &lags, graph))
        .collect();
    sheets.sort_by(|a, b| b.need().total_cmp(&a.need()).then(a.player.cmp(&b.player)));
    sheets
}

fn sheet(id: &str, own: &Own<'_>, lags: &[LagSummary], graph: &Graph) -> PlayerSheet {
    let mut things: Vec<ToFix> = Vec::new();
    let (mut judged, mut on_time, mut places, mut places_kept) = (0, 0, 0, 0);
    let mut best: Option<(f64, String)> = None;
    for (k, checks) in &own.cues {
        let title = graph.options.get(k.option).map_or("", |o| o.title.as_str());
        let known: Vec<_> = checks
            .iter()
            .filter(|c| c.1.when != When::CannotTell)
            .copied()
            .collect();
        let good = known.iter().filter(|c| c.1.when == When::OnTime).count();
        judged += known.len();
        on_time += good;
        if known.len() >= 5 && 4 * good >= 3 * known.len() {
            // The lower end of the interval: nine of ten is better news than five of five.
            let sure = wilson(good, known.len()).map_or(0.0, |w| w.0);
            if best.as_ref().is_none_or(|b| sure > b.0) {
                let words = format!(
                    "{title}: on time {good} of {} for “{}”",
                    known.len(),
                    checks[0].1.text
                );
                best = Some((sure, words));
            }
        }
        things.extend(cue_fixes(title, &known));
    }
    for ((option, _), checks) in &own.places {
        let title = graph.options.get(*option).map_or("", |o| o.title.as_str());
        let known: Vec<_> = checks
            .iter()
            .filter(|c| c.1.kept != Kept::CannotTell)
            .copied()
            .collect();
        places += known.len();
        places_kept += known.iter().filter(|c| c.1.kept == Kept::Yes).count();
        things.extend(place_fix(title, &known, graph));
    }
    // Often and regularly: how many times the share of times it went wrong.
    let weight = |t: &ToFix| t.wrong as f64 * t.wrong as f64 / t.judged.max(1) as f64;
    things.sort_by(|a, b| weight(b).total_cmp(&weight(a)));
    let (mut fix, mut seen): (Vec<ToFix>, Vec<ToFix>) =
        things.into_iter().partition(|t| t.wrong >= HABIT);
    fix.truncate(THINGS);
    seen.truncate(THINGS - fix.len());
    let mut summary = if judged > 0 {
        format!("On time {on_time} of {judged}.")
    } else {
        "No cue could be judged.".to_owned()
    };
    if places > 0 {
        summary.push_str(&format!(" In place {places_kept} of {places}."));
    }
    let mut out = PlayerSheet {
        player: id.to_owned(),
        label: own.label.clone(),
        judged,
        on_time,
        places,
        places_kept,
        lags: lags
            .iter()
            .filter(|l| l.player.as_deref() == Some(id))
            .cloned()
            .collect(),
        fix,
        seen,
        best: best.filter(|b| b.0 >= 0.3).map(|b| b.1),
        summary,
    };
    if out.few() {
        out.summary.push_str(" Few moments: take it as a hint.");
    }
    out
}

/// What there is to say of one cue. Who is often early and often late needs the cue, not the
/// advice to go sooner and to wait at once.
fn cue_fixes(title: &str, known: &[Seen<'_, CueCheck>]) -> Vec<ToFix> {
    let of = |when| -> Vec<Seen<'_, CueCheck>> {
        known.iter().filter(|c| c.1.when == when).copied().collect()
    };
    let (early, late) = (of(When::Early), of(When::Late));
    let mut out = Vec::new();
    if early.len() >= HABIT && late.len() >= HABIT {
        let words = format!(
            "{title}: go on the cue in “{}”. Late {} and early {} of {}.",
            late[0].1.text,
            late.len(),
            early.len(),
            known.len()
        );
        out.push(cue_fix(words, [late, early].concat(), known.len()));
    } else {
        for (when, wrong) in [(When::Early, early), (When::Late, late)] {
            out.extend(one_way(title, wrong, known.len(), when));
        }
    }
    out.extend(one_way(title, of(When::Never), known.len(), When::Never));
    out
}

fn one_way(
    title: &str,
    wrong: Vec<Seen<'_, CueCheck>>,
    judged: usize,
    when: When,
) -> Option<ToFix> {
    let first = wrong.first()?.1;
    let lags: Vec<f64> = wrong.iter().filter_map(|c| c.1.lag_s).collect();
    let by = median(&lags);
    let (w0, w1) = first.window_s;
    let often = format!("{} of {judged}", wrong.len());
    let text = &first.text;
    let habit = wrong.len() >= HABIT;
    let off = |l: f64| {
        let (by, word) = if when == When::Early {
            (w0 - l, "soon")
        } else {
            (l - w1, "late")
        };
        let usually = if habit { "usually " } else { "" };
        // A start on the edge of its window may be judged late by the doubt about the cue.
        if by < 0.05 {
            format!(", {usually}under 0.1 s too {word}")
        } else {
            format!(", {usually}{by:.1} s too {word}")
        }
    };
    let by = by.map_or(String::new(), off);
    let words = match (when, habit) {
        (When::Early, true) => {
            format!("{title}: wait for the cue in “{text}”. Early {often}{by}.")
        }
        (When::Late, true) => format!("{title}: go sooner in “{text}”. Late {often}{by}."),
        (When::Never, true) => {
            format!("{title}: go when the cue comes in “{text}”. Did not leave {often}.")
        }
        (When::Early, false) => format!("{title}: early {often}{by} in “{text}”."),
        (When::Late, false) => format!("{title}: late {often}{by} in “{text}”."),
        (When::Never, false) => format!("{title}: did not leave {often} in “{text}”."),
        (When::OnTime | When::CannotTell, _) => return None,
    };
    Some(cue_fix(words, wrong, judged))
}

/// With the plainest moments first: farthest from the window.
fn cue_fix(words: String, mut wrong: Vec<Seen<'_, CueCheck>>, judged: usize) -> ToFix {
    let off = |c: &CueCheck| {
        c.lag_s.map_or(f64::INFINITY, |l| {
            crate::aggregate::off_window(l, c.window_s).abs()
        })
    };
    wrong.sort_by(|a, b| off(b.1).total_cmp(&off(a.1)));
    ToFix {
        words,
        wrong: wrong.len(),
        judged,
        clips: wrong
            .iter()
            .filter_map(|(s, c)| Clip::of_cue(s, c))
            .take(CLIPS)
            .collect(),
    }
}

fn place_fix(title: &str, known: &[(&str, &PlacementCheck)], graph: &Graph) -> Option<ToFix> {
    let mut wrong: Vec<_> = known
        .iter()
        .filter(|c| c.1.kept == Kept::No)
        .copied()
        .collect();
    let first = wrong.first()?.1;
    let off: Vec<f64> = wrong.iter().filter_map(|c| c.1.off_by).collect();
    let habit = wrong.len() >= HABIT;
    let by = median(&off).map_or(String::new(), |m| {
        let usually = if habit { "usually " } else { "" };
        // A count has no length.
        match first.at {
            Some(_) => format!(", {usually}by {}", words::length(graph.unit, m)),
            None => String::new(),
        }
    });
    let often = format!("{} of {}{by}", wrong.len(), known.len());
    let words = if habit {
        format!(
            "{title}: get to the place in “{}”. Missed {often}.",
            first.text
        )
    } else {
        format!("{title}: out of place {often} in “{}”.", first.text)
    };
    let n = wrong.len();
    let size = |c: &PlacementCheck| c.off_by.unwrap_or(0.0);
    wrong.sort_by(|a, b| size(b.1).total_cmp(&size(a.1)));
    Some(ToFix {
        words,
        wrong: n,
        judged: known.len(),
        clips: wrong
            .iter()
            .map(|(s, c)| Clip::of_placement(s, c))
            .take(CLIPS)
            .collect(),
    })
}

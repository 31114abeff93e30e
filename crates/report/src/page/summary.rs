//! The summary: what was run, how well, what drifted, and what the data could not support.

use super::parts::{open_section, per_possession, sign};
use super::plots::share_bar;
use super::quality::sentence;
use crate::html::{esc, put};
use crate::words::{self, count, list, percent, secs};
use setdrift_season::results::Results;
use setdrift_season::tally::{CueGroup, PlacementGroup, Sort, Tally};
use setdrift_timing::{HABIT, model::When};

/// Fewer than this and a share is given with a warning.
const FEW: usize = 8;

/// Fewest runs of a player at a cue before the summary names the player.
const NAMED: usize = 5;

/// The section.
pub fn section(
    results: &Results,
    tally: &Tally,
    cues: &[CueGroup<'_>],
    placements: &[PlacementGroup<'_>],
    names: &[String],
) -> String {
    let mut o = String::new();
    open_section(&mut o, "summary", "In short", "");
    o.push_str("<div class=\"short\"><dl class=\"say\">");
    for (term, sentences) in [
        ("What was run", ran(results, tally)),
        ("How well", how_well(results, tally)),
        ("On cue", on_cue(results, cues)),
        ("In place", in_place(results, placements)),
        ("Instead", instead(results, tally)),
        ("What drifted", drifted(results)),
        ("Not judged", not_judged(results, tally)),
    ] {
        put!(o, "<div><dt>{term}</dt><dd>");
        for s in sentences {
            put!(o, "<p>{s}</p>");
        }
        o.push_str("</dd></div>");
    }
    o.push_str("</dl>");
    time_shares(&mut o, tally, names);
    o.push_str("</div></section>");
    o
}

fn title(results: &Results, option: usize) -> String {
    results
        .graph
        .options
        .get(option)
        .map_or_else(|| "?".to_owned(), |x| format!("<b>{}</b>", esc(&x.title)))
}

fn ran(results: &Results, t: &Tally) -> Vec<String> {
    if t.possessions == 0 {
        return vec!["No possession was found in the tracks.".into()];
    }
    let all = t.all_seconds();
    let script: f64 = [Sort::Ran, Sort::Faults, Sort::Broken, Sort::Set]
        .iter()
        .map(|s| t.total(*s))
        .sum();
    let mut v = vec![format!(
        "{} in {}, {} of offence: {} of the time in a declared option or set, {} off script.",
        count(t.possessions, "possession"),
        count(results.sessions.len(), "session"),
        words::span(all),
        percent(script, all),
        percent(t.total(Sort::Off), all)
    )];
    let mut order: Vec<usize> = (0..t.options.len()).collect();
    order.sort_by_key(|o| std::cmp::Reverse(t.options[*o].runs));
    let most: Vec<String> = order
        .iter()
        .filter(|o| t.options[**o].runs > 0)
        .take(3)
        .map(|o| {
            format!(
                "{} {}",
                title(results, *o),
                count(t.options[*o].runs, "time")
            )
        })
        .collect();
    if !most.is_empty() {
        v.push(format!("Most often: {}.", list(&most)));
    }
    let never: Vec<String> = (0..t.options.len())
        .filter(|o| t.options[*o].runs == 0)
        .map(|o| title(results, o))
        .collect();
    if !never.is_empty() {
        v.push(format!("Never seen: {}.", list(&never)));
    }
    v
}

fn how_well(results: &Results, t: &Tally) -> Vec<String> {
    let runs: usize = t.options.iter().map(|o| o.runs).sum();
    if runs == 0 {
        return vec!["No declared option was recognised.".into()];
    }
    let done: usize = t
        .options
        .iter()
        .map(setdrift_season::tally::OptionTally::completed)
        .sum();
    let faults: usize = t.options.iter().map(|o| o.faults).sum();
    let mut v = vec![format!(
        "Of {}, {} reached the end ({}), {} of those with faults; {} broken off.",
        count(runs, "run"),
        done,
        percent(done as f64, runs as f64),
        faults,
        runs - done
    )];
    let worst = (0..t.options.len())
        .filter(|o| t.options[*o].runs >= FEW && t.options[*o].broken() > 0)
        .max_by(|a, b| {
            let share = |o: &usize| t.options[*o].broken() as f64 / t.options[*o].runs as f64;
            share(a).total_cmp(&share(b)).then(b.cmp(a))
        });
    if let Some(o) = worst {
        let x = &t.options[o];
        let step = x
            .broken_at
            .iter()
            .max_by_key(|(step, n)| (**n, std::cmp::Reverse(**step)));
        v.push(format!(
            "Broken off most: {}, {} of {}{}.",
            title(results, o),
            x.broken(),
            count(x.runs, "run"),
            step.map_or_else(String::new, |(s, n)| if *n == x.broken() {
                format!(", all in step {s}")
            } else {
                format!(", {n} of them in step {s}")
            })
        ));
    }
    let (with, without) = (t.with, t.without);
    if with.count + without.count > 0 {
        v.push(format!(
            "Points per possession: {} where an option was completed ({}), {} in the others ({}).{}",
            per_possession(with.count, with.points),
            count(with.count, "possession"),
            per_possession(without.count, without.points),
            without.count,
            match with.differ(without) {
                Some(true) => " More than chance.",
                Some(false) => " A difference that chance alone could make.",
                None => " Too few to compare.",
            }
        ));
    }
    v
}

fn on_cue(results: &Results, cues: &[CueGroup<'_>]) -> Vec<String> {
    let sum = |w: When| -> usize {
        cues.iter()
            .flat_map(|g| &g.rows)
            .map(|r| r.counts[w as usize])
            .sum()
    };
    let judged = sum(When::Early) + sum(When::OnTime) + sum(When::Late) + sum(When::Never);
    let blind = sum(When::CannotTell);
    if judged == 0 {
        return vec![if blind == 0 {
            "The options seen have no cues to judge.".into()
        } else {
            format!("{} came up, none could be judged.", count(blind, "cue"))
        }];
    }
    let mut v = vec![format!(
        "On time at {} of {} ({}); {} early, {} late, {} never went.",
        sum(When::OnTime),
        count(judged, "judged cue"),
        percent(sum(When::OnTime) as f64, judged as f64),
        sum(When::Early),
        sum(When::Late),
        sum(When::Never)
    )];
    let mut rows: Vec<(&CueGroup<'_>, &setdrift_season::tally::CueRow<'_>)> = cues
        .iter()
        .flat_map(|g| g.rows.iter().map(move |r| (g, r)))
        // Two or three runs are no ground to name anybody.
        .filter(|(_, r)| r.off() >= HABIT && r.judged() >= NAMED)
        .collect();
    rows.sort_by(|a, b| b.1.need().total_cmp(&a.1.need()));
    for (g, r) in rows.iter().take(2) {
        let median = r.median().map_or_else(String::new, |m| {
            format!(
                "; median {} where {} is declared",
                secs(m),
                words::window(g.window)
            )
        });
        v.push(format!(
            "<b>{}</b> at “{}” ({}): off time {} of {}{median}.",
            esc(&r.label),
            esc(&g.text),
            title(results, g.option),
            r.off(),
            r.judged()
        ));
    }
    v
}

fn in_place(results: &Results, placements: &[PlacementGroup<'_>]) -> Vec<String> {
    let (yes, no, blind) = placements.iter().fold((0, 0, 0), |a, g| {
        (a.0 + g.counts[0], a.1 + g.counts[1], a.2 + g.counts[2])
    });
    if yes + no == 0 {
        return vec![if blind == 0 {
            "The options seen have no placements to judge.".into()
        } else {
            format!(
                "{} came up, none could be judged.",
                count(blind, "placement")
            )
        }];
    }
    let mut v = vec![format!(
        "Kept at {yes} of {} ({}).",
        count(yes + no, "judged placement"),
        percent(yes as f64, (yes + no) as f64)
    )];
    if let Some(g) = placements.first().filter(|g| g.counts[1] > 0) {
        v.push(format!(
            "Least kept: “{}” ({}), {} of {} not kept.",
            esc(&g.text),
            title(results, g.option),
            g.counts[1],
            g.judged()
        ));
    }
    v
}

fn instead(results: &Results, t: &Tally) -> Vec<String> {
    let n = results.stretches.len();
    if n == 0 {
        return vec![if t.total(Sort::Off) > 0.0 {
            "What was off script was too short to compare.".into()
        } else {
            "Nothing was off script.".into()
        }];
    }
    let groups = &results.grouping.groups;
    let inside: usize = groups.iter().map(|g| g.members.len()).sum();
    let mut v = vec![if groups.is_empty() {
        format!(
            "{}, none of which comes back often enough to be a habit.",
            count(n, "off-script stretch").replace("stretchs", "stretches")
        )
    } else {
        format!(
            "{} of {n} off-script stretches fall into {}.",
            inside,
            count(groups.len(), "group")
        )
    }];
    if let Some(g) = groups.first() {
        v.push(format!(
            "Largest, {}: {} ({} times).",
            esc(&g.name),
            esc(&g.description),
            g.members.len()
        ));
    }
    v
}

fn drifted(results: &Results) -> Vec<String> {
    let found: Vec<String> = results
        .drift
        .iter()
        .filter_map(|d| d.finding.as_ref())
        .map(|f| format!("{}.", esc(sentence(f).trim_end_matches('.'))))
        .collect();
    if found.is_empty() {
        return vec![if results.drift.is_empty() {
            "Not looked at: too few runs.".into()
        } else {
            "No role's path has changed by more than chance would.".into()
        }];
    }
    let rest = found.len().saturating_sub(3);
    let mut v: Vec<String> = found.into_iter().take(3).collect();
    if rest > 0 {
        v.push(format!("And {rest} more, <a href=\"#drift\">below</a>."));
    }
    v
}

fn not_judged(results: &Results, t: &Tally) -> Vec<String> {
    let mut v = Vec::new();
    let gap = t.total(Sort::Gap);
    if gap > 0.0 {
        v.push(format!(
            "{} of the time ({}) has too little tracking for a verdict.",
            percent(gap, t.all_seconds()),
            words::span(gap)
        ));
    }
    let limits: std::collections::BTreeSet<&str> = results
        .sessions
        .iter()
        .flat_map(|s| s.limits.iter().chain(&s.story.limits))
        .map(String::as_str)
        .collect();
    let n = limits.len();
    for l in limits.into_iter().take(2) {
        v.push(format!("{}.", esc(sentence(l).trim_end_matches('.'))));
    }
    if n > 2 {
        v.push(format!(
            "And {} more, <a href=\"#data\">under Data</a>.",
            n - 2
        ));
    }
    if v.is_empty() {
        v.push("Nothing: every stretch of every possession has a verdict.".into());
    }
    v
}

fn time_shares(o: &mut String, t: &Tally, names: &[String]) {
    o.push_str(
        "<table class=\"shares\"><caption>How the time was spent</caption><thead><tr><th scope=\"col\">Session</th><th scope=\"col\" class=\"wide\"><span class=\"vh\">Shares</span></th>",
    );
    for sort in Sort::ALL {
        put!(
            o,
            "<th scope=\"col\" class=\"n\">{}<span>{}</span></th>",
            sign(sort),
            match sort {
                Sort::Faults => "faults",
                Sort::Set => "set",
                Sort::Gap => "no data",
                _ => sort.label(),
            }
        );
    }
    o.push_str("</tr></thead><tbody>");
    for (seconds, name) in t.seconds.iter().zip(names) {
        let whole: f64 = seconds.iter().sum();
        put!(
            o,
            "<tr><th scope=\"row\">{}</th><td class=\"wide\">{}</td>",
            esc(name),
            share_bar(seconds)
        );
        for sort in Sort::ALL {
            put!(
                o,
                "<td class=\"n\">{}</td>",
                percent(seconds[sort as usize], whole)
            );
        }
        o.push_str("</tr>");
    }
    o.push_str("</tbody></table>");
}

//! What a staff asks of many runs: which cues cost most, what each player might fix, what changes.

use crate::results::{Results, SessionResults};
use setdrift_timing::{
    Audited, By, CostlyCue, CueTrend, HABIT, Per, PlayerSheet, ShareTrend, aggregate, costly_cues,
    player_sheets, trends,
};

/// Most cues named as costing most.
pub const COSTLY: usize = 3;

/// Sessions as the aggregates take them.
#[must_use]
pub fn audited(sessions: &[SessionResults]) -> Vec<Audited<'_>> {
    sessions
        .iter()
        .map(|s| Audited {
            session: &s.session,
            possessions: &s.possessions,
            readings: &s.readings,
            audit: &s.audit,
        })
        .collect()
}

/// The cues that cost most: at most three, each missed three times or more.
#[must_use]
pub fn cost_most(results: &Results) -> Vec<CostlyCue> {
    let mut all = costly_cues(&audited(&results.sessions), &results.graph);
    all.retain(|c| c.missed.runs >= HABIT);
    all.truncate(COSTLY);
    all
}

/// A sheet per player, those first who need it most.
#[must_use]
pub fn sheets(results: &Results) -> Vec<PlayerSheet> {
    player_sheets(&audited(&results.sessions), &results.graph)
}

/// Every cue's lag over the sessions: of all players, then of each.
#[must_use]
pub fn cue_trends(results: &Results) -> Vec<CueTrend> {
    trends(&audited(&results.sessions), &results.graph)
}

/// What each player's share on time does over the sessions, where it changes by more than chance
/// and rests on ten checks or more: player's id and a sentence.
#[must_use]
pub fn player_changes(results: &Results) -> Vec<(String, String)> {
    aggregate(&audited(&results.sessions), &results.graph, &[By::Player])
        .into_iter()
        .filter(|a| !a.few())
        .filter_map(|a| {
            let words = change(a.trend.as_ref()?)?;
            Some((a.group.into_iter().next()?.1, words))
        })
        .collect()
}

fn change(t: &ShareTrend) -> Option<String> {
    let (low, high) = t.interval;
    let word = if low > 0.0 {
        "more"
    } else if high < 0.0 {
        "less"
    } else {
        return None;
    };
    let (a, b) = (
        100.0 * low.abs().min(high.abs()),
        100.0 * low.abs().max(high.abs()),
    );
    Some(format!(
        "On time {word} often than before: {:.0} in 100 {word} {} (95 % interval {a:.0} to {b:.0}).",
        100.0 * t.slope.abs(),
        each(t.per)
    ))
}

fn each(per: Per) -> &'static str {
    match per {
        Per::Month => "every 30 days",
        Per::Week => "every week",
        Per::Session => "every session",
    }
}

/// Cues that all players together answer later or earlier from session to session by more than
/// chance, in sentences; and how many cues that could show such a change were looked at. One in
/// twenty shows one by chance.
#[must_use]
pub fn cue_changes(results: &Results) -> (Vec<String>, usize) {
    let all: Vec<CueTrend> = cue_trends(results)
        .into_iter()
        .filter(|t| t.player.is_none() && t.slope_interval.is_some())
        .collect();
    let title = |key: &str| {
        let found = results.graph.options.iter().find(|o| o.id == key);
        found.map_or_else(|| key.to_owned(), |o| o.title.clone())
    };
    let said = all
        .iter()
        .filter_map(|t| {
            let word = if t.later()? { "later" } else { "earlier" };
            let (low, high) = t.slope_interval?;
            // What would be written as 0.00 is no change to speak of.
            if low.abs().min(high.abs()) < 0.005 {
                return None;
            }
            Some(format!(
                "{}, “{}”: {:.2} s {word} {} (95 % interval {:.2} to {:.2} s)",
                title(&t.option),
                t.text,
                t.slope?.abs(),
                each(t.per),
                low.abs().min(high.abs()),
                low.abs().max(high.abs())
            ))
        })
        .collect();
    (said, all.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_is_said_only_where_it_is_more_than_chance() {
        let of = |slope, interval| {
            change(&ShareTrend {
                slope,
                interval,
                per: Per::Month,
            })
        };
        assert_eq!(of(0.1, (-0.02, 0.2)), None);
        assert_eq!(
            of(0.12, (0.03, 0.204)).as_deref(),
            Some(
                "On time more often than before: 12 in 100 more every 30 days (95 % interval 3 to 20)."
            )
        );
        assert_eq!(
            of(-0.12, (-0.2, -0.03)).as_deref(),
            Some(
                "On time less often than before: 12 in 100 less every 30 days (95 % interval 3 to 20)."
            )
        );
    }
}

//! Lags over many runs: per option, action and player, over one session or a season.

use crate::model::{Audit, CueCheck, LagSummary, When};
use crate::stats::{median, median_interval, spread};
use setdrift_events::model::Possession;
use setdrift_playbook::graph::Graph;
use setdrift_recognise::model::Reading;
use setdrift_tracks::Session;
use std::collections::BTreeMap;

/// Seed of the bootstrap intervals.
pub const SEED: u64 = 0x5e7d_21f7;

/// One audited session with what it was audited from.
#[derive(Debug, Clone, Copy)]
pub struct Audited<'a> {
    /// The session.
    pub session: &'a Session,
    /// Its possessions.
    pub possessions: &'a [Possession],
    /// One reading per possession.
    pub readings: &'a [Reading],
    /// What the audit found.
    pub audit: &'a Audit,
}

/// Names a cue independently of the state the option was entered from: option, step and action
/// in the order declared.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct CueKey {
    /// Index of the option.
    pub option: usize,
    /// Step of the option, from 0.
    pub step: usize,
    /// Index of the action in the step.
    pub action: usize,
}

/// The key of a check, or `None` where its node is not in the graph.
#[must_use]
pub fn key(graph: &Graph, check: &CueCheck) -> Option<CueKey> {
    let node = graph.nodes.get(check.place.node)?;
    Some(CueKey {
        option: node.option,
        step: node.step,
        action: check.place.action,
    })
}

/// Position of a verdict in [`LagSummary::counts`].
#[must_use]
pub fn slot(when: When) -> usize {
    match when {
        When::Early => 0,
        When::OnTime => 1,
        When::Late => 2,
        When::Never => 3,
        When::CannotTell => 4,
    }
}

/// Counts, median, interval and spread of checks of one cue.
#[must_use]
pub fn summarise(
    option: &str,
    text: &str,
    player: Option<String>,
    window_s: (f64, f64),
    checks: &[&CueCheck],
) -> LagSummary {
    let mut counts = [0; 5];
    for c in checks {
        counts[slot(c.when)] += 1;
    }
    let lags: Vec<f64> = checks
        .iter()
        .filter(|c| c.when != When::CannotTell)
        .filter_map(|c| c.lag_s)
        .collect();
    LagSummary {
        option: option.to_owned(),
        text: text.to_owned(),
        player,
        counts,
        median_s: median(&lags),
        interval_s: median_interval(&lags, SEED),
        spread_s: spread(&lags),
        window_s,
    }
}

/// Lags per option, action and player over all sessions given, in the order the playbook
/// declares them; for each action first all players together, then each by id.
#[must_use]
pub fn lag_summaries(sessions: &[Audited<'_>], graph: &Graph) -> Vec<LagSummary> {
    let mut groups: BTreeMap<CueKey, Vec<(String, &CueCheck)>> = BTreeMap::new();
    for s in sessions {
        for check in &s.audit.cues {
            let (Some(k), Some(p)) = (key(graph, check), s.session.players.get(check.player))
            else {
                continue;
            };
            groups.entry(k).or_default().push((p.id.clone(), check));
        }
    }
    let mut out = Vec::new();
    for (k, checks) in groups {
        let (Some(option), Some((_, first))) = (graph.options.get(k.option), checks.first()) else {
            continue;
        };
        let all: Vec<&CueCheck> = checks.iter().map(|c| c.1).collect();
        out.push(summarise(
            &option.id,
            &first.text,
            None,
            first.window_s,
            &all,
        ));
        let mut by_player: BTreeMap<&str, Vec<&CueCheck>> = BTreeMap::new();
        for (id, c) in &checks {
            by_player.entry(id).or_default().push(c);
        }
        for (id, own) in by_player {
            out.push(summarise(
                &option.id,
                &first.text,
                Some(id.to_owned()),
                first.window_s,
                &own,
            ));
        }
    }
    out
}

//! Cue checks counted and measured by cue, player, role, option, opponent or date.

use crate::model::{CueCheck, When};
use crate::stats::{median, median_interval, spread, wilson};
use crate::summary::{Audited, SEED, key, slot};
use crate::trend::{Per, ShareTrend, share_trend, times};
use serde::{Deserialize, Serialize};
use setdrift_playbook::graph::Graph;
use std::collections::BTreeMap;

/// What checks may be grouped by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum By {
    /// The option and the action as declared.
    Cue,
    /// The player's id.
    Player,
    /// The role.
    Role,
    /// The option's key.
    Option,
    /// The opponent's name; `none` in practice.
    Opponent,
    /// The session's date, or its id where it has none.
    Date,
}

/// What was measured in a group.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Measure {
    /// Seconds from cue to start; only within one cue, since windows differ.
    Lag,
    /// Seconds outside the declared window: negative before it, 0 inside, positive after it.
    OffWindow,
}

/// One group.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Aggregate {
    /// What the group has in common, in the order asked for.
    pub group: Vec<(By, String)>,
    /// How often each verdict: early, on time, late, never, cannot tell.
    pub counts: [usize; 5],
    /// Share on time of all that could be judged, 0..=1.
    pub on_time: Option<f64>,
    /// Wilson 95 % interval of that share.
    pub on_time_interval: Option<(f64, f64)>,
    /// What the following three measure.
    pub measure: Measure,
    /// Median, seconds.
    pub median_s: Option<f64>,
    /// Bootstrap 95 % interval of the median, seconds; `None` under 5 values.
    pub interval_s: Option<(f64, f64)>,
    /// Interquartile range, seconds.
    pub spread_s: Option<f64>,
    /// How the share on time moves over sessions; `None` for groups by date, and under two
    /// sessions of three judged checks each.
    pub trend: Option<ShareTrend>,
}

/// Fewer judged checks than this say nothing about a person: ten in ten would still leave the
/// share on time anywhere above 0.7 (Wilson), three in three anywhere above 0.4.
pub const FEW: usize = 10;

impl Aggregate {
    /// Checks that could be judged.
    #[must_use]
    pub fn judged(&self) -> usize {
        self.counts[..4].iter().sum()
    }

    /// Whether there are too few to say more than what was seen.
    #[must_use]
    pub fn few(&self) -> bool {
        self.judged() < FEW
    }
}

/// A check and the index of its session.
type InSession<'a> = (usize, &'a CueCheck);

/// Seconds outside a window: negative before it, 0 inside, positive after it.
#[must_use]
pub fn off_window(lag_s: f64, window_s: (f64, f64)) -> f64 {
    (lag_s - window_s.0).min(0.0) + (lag_s - window_s.1).max(0.0)
}

/// Groups all cue checks. Groups come in rising order of what they have in common: cues and
/// options as declared, the rest by name.
#[must_use]
pub fn aggregate(sessions: &[Audited<'_>], graph: &Graph, by: &[By]) -> Vec<Aggregate> {
    // The leading number keeps the playbook's order among cues and options.
    let mut groups: BTreeMap<Vec<(usize, String)>, Vec<InSession<'_>>> = BTreeMap::new();
    for (i, s) in sessions.iter().enumerate() {
        for check in &s.audit.cues {
            let Some(group) = labels(s, graph, check, by) else {
                continue;
            };
            groups.entry(group).or_default().push((i, check));
        }
    }
    let measure = if by.contains(&By::Cue) {
        Measure::Lag
    } else {
        Measure::OffWindow
    };
    let (at, per) = times(sessions);
    let over_time = (!by.contains(&By::Date)).then_some((at.as_slice(), per));
    groups
        .into_iter()
        .map(|(group, checks)| {
            let group = by.iter().copied().zip(group.into_iter().map(|g| g.1));
            one(group.collect(), measure, &checks, over_time)
        })
        .collect()
}

fn labels(
    s: &Audited<'_>,
    graph: &Graph,
    check: &CueCheck,
    by: &[By],
) -> Option<Vec<(usize, String)>> {
    let k = key(graph, check)?;
    let option = graph.options.get(k.option)?;
    by.iter()
        .map(|b| {
            Some(match b {
                By::Cue => (
                    (k.option * 64 + k.step) * 64 + k.action,
                    format!("{}: {}", option.id, check.text),
                ),
                By::Player => (0, s.session.players.get(check.player)?.id.clone()),
                By::Role => (check.role, graph.roles.get(check.role)?.clone()),
                By::Option => (k.option, option.id.clone()),
                By::Opponent => {
                    let name = s.session.opponent.clone();
                    (0, name.unwrap_or_else(|| "none".to_owned()))
                }
                By::Date => {
                    let date = s.session.date.clone();
                    (0, date.unwrap_or_else(|| s.session.id.clone()))
                }
            })
        })
        .collect()
}

fn one(
    group: Vec<(By, String)>,
    measure: Measure,
    checks: &[InSession<'_>],
    over_time: Option<(&[f64], Per)>,
) -> Aggregate {
    let mut counts = [0; 5];
    for (_, c) in checks {
        counts[slot(c.when)] += 1;
    }
    let judged: usize = counts[..4].iter().sum();
    let known = || checks.iter().filter(|(_, c)| c.when != When::CannotTell);
    let values: Vec<f64> = known()
        .filter_map(|(_, c)| {
            let lag = c.lag_s?;
            Some(match measure {
                Measure::Lag => lag,
                Measure::OffWindow => off_window(lag, c.window_s),
            })
        })
        .collect();
    let trend = over_time.and_then(|(at, per)| {
        let mut by_session = vec![Vec::new(); at.len()];
        for (i, c) in known() {
            by_session[*i].push(c.when == When::OnTime);
        }
        share_trend(&by_session, at, per)
    });
    Aggregate {
        group,
        counts,
        on_time: (judged > 0).then(|| counts[1] as f64 / judged as f64),
        on_time_interval: wilson(counts[1], judged),
        measure,
        median_s: median(&values),
        interval_s: median_interval(&values, SEED),
        spread_s: spread(&values),
        trend,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outside_the_window_has_a_sign() {
        assert_eq!(off_window(-0.2, (0.0, 0.5)), -0.2);
        assert_eq!(off_window(0.3, (0.0, 0.5)), 0.0);
        assert!((off_window(0.8, (0.0, 0.5)) - 0.3).abs() < 1e-12);
    }
}

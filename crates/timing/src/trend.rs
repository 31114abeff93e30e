//! How a cue's lag moves from session to session.

use crate::model::{CueCheck, When};
use crate::random::Rng;
use crate::stats::{RESAMPLES, median, median_interval, quantile, theil_sen};
use crate::summary::{Audited, CueKey, SEED, key, slot};
use serde::{Deserialize, Serialize};
use setdrift_playbook::graph::Graph;
use std::collections::BTreeMap;

/// One session in a trend.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrendPoint {
    /// Session id.
    pub session: String,
    /// Its date, where known.
    pub date: Option<String>,
    /// Its opponent, where there was one.
    pub opponent: Option<String>,
    /// How often each verdict: early, on time, late, never, cannot tell.
    pub counts: [usize; 5],
    /// Median lag, seconds.
    pub median_s: Option<f64>,
    /// Bootstrap 95 % interval of the median, seconds.
    pub interval_s: Option<(f64, f64)>,
}

/// What the slope of a trend is counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Per {
    /// Per 30 days; every session has a date, and they span 60 days or more.
    Month,
    /// Per week; every session has a date, and they span less.
    Week,
    /// Per session, in the order given.
    Session,
}

/// The lag of one cue over sessions, for one player or all.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CueTrend {
    /// Option key.
    pub option: String,
    /// The action as declared.
    pub text: String,
    /// Player's id; `None` for all players.
    pub player: Option<String>,
    /// Sessions in the order given.
    pub points: Vec<TrendPoint>,
    /// Theil–Sen slope through the sessions' median lags.
    pub slope: Option<f64>,
    /// Bootstrap 95 % interval of the slope, lags drawn within their session; `None` under two
    /// sessions of three lags each.
    pub slope_interval: Option<(f64, f64)>,
    /// What the slope is counted in.
    pub per: Per,
}

impl CueTrend {
    /// Whether the interval of the slope leaves out 0: later (`Some(true)`), earlier
    /// (`Some(false)`), or neither shown (`None`).
    #[must_use]
    pub fn later(&self) -> Option<bool> {
        let (lo, hi) = self.slope_interval?;
        if lo > 0.0 {
            Some(true)
        } else if hi < 0.0 {
            Some(false)
        } else {
            None
        }
    }
}

/// How a share on time moves over sessions.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ShareTrend {
    /// Theil–Sen slope through the sessions' shares: share per `per`, so that 0.1 is ten in a
    /// hundred more.
    pub slope: f64,
    /// Bootstrap 95 % interval of the slope, checks drawn within their session.
    pub interval: (f64, f64),
    /// What the slope is counted in.
    pub per: Per,
}

/// Fewest checks of a session that count towards a slope's interval.
const FEWEST_A_SESSION: usize = 3;

/// Days since 1 March of year 0 of a date written `YYYY-MM-DD`, in the Gregorian calendar; `None`
/// for anything else.
#[must_use]
pub fn day(date: &str) -> Option<i64> {
    let mut parts = date.split('-');
    let y: i64 = parts.next()?.parse().ok()?;
    let m: i64 = parts.next()?.parse().ok()?;
    let d: i64 = parts.next()?.parse().ok()?;
    if parts.next().is_some()
        || !(0..=9999).contains(&y)
        || !(1..=12).contains(&m)
        || !(1..=31).contains(&d)
    {
        return None;
    }
    // Years from March, so that the leap day is the last of the year.
    let (y, m) = if m > 2 { (y, m - 3) } else { (y - 1, m + 9) };
    Some(365 * y + y.div_euclid(4) - y.div_euclid(100) + y.div_euclid(400) + (153 * m + 2) / 5 + d)
}

/// Days that sessions have to span before what changes is told per 30 days: nothing is
/// said of a time longer than what was seen.
const SPAN_DAYS: f64 = 60.0;

/// When each session was: in months of 30 days or in weeks where all have a date, otherwise by
/// its number.
pub(crate) fn times(sessions: &[Audited<'_>]) -> (Vec<f64>, Per) {
    let days: Option<Vec<f64>> = sessions
        .iter()
        .map(|s| s.session.date.as_deref().and_then(day).map(|d| d as f64))
        .collect();
    let Some(days) = days else {
        let numbers = (0..sessions.len()).map(|i| i as f64).collect();
        return (numbers, Per::Session);
    };
    let first = days.iter().copied().fold(f64::INFINITY, f64::min);
    let last = days.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let (length, per) = if last - first >= SPAN_DAYS {
        (30.0, Per::Month)
    } else {
        (7.0, Per::Week)
    };
    (days.iter().map(|d| (d - first) / length).collect(), per)
}

/// How the share on time moves; `by_session` says of each judged check whether it was on time.
/// `None` under two sessions of three checks each.
pub(crate) fn share_trend(by_session: &[Vec<bool>], at: &[f64], per: Per) -> Option<ShareTrend> {
    let share = |all: &[bool]| {
        (!all.is_empty()).then(|| all.iter().filter(|x| **x).count() as f64 / all.len() as f64)
    };
    let points: Vec<(f64, f64)> = by_session
        .iter()
        .zip(at)
        .filter(|(all, _)| all.len() >= FEWEST_A_SESSION)
        .filter_map(|(all, t)| Some((*t, share(all)?)))
        .collect();
    Some(ShareTrend {
        slope: theil_sen(&points)?,
        interval: slope_interval(by_session, at, share)?,
        per,
    })
}

/// A check and the index of its session.
type InSession<'a> = (usize, &'a CueCheck);

/// Trends of every cue over the sessions given (in the order of time): for each cue first all
/// players, then each player by id.
#[must_use]
pub fn trends(sessions: &[Audited<'_>], graph: &Graph) -> Vec<CueTrend> {
    let (at, per) = times(sessions);
    let mut groups: BTreeMap<(CueKey, Option<String>), Vec<InSession<'_>>> = BTreeMap::new();
    for (i, s) in sessions.iter().enumerate() {
        for c in &s.audit.cues {
            let (Some(k), Some(p)) = (key(graph, c), s.session.players.get(c.player)) else {
                continue;
            };
            groups.entry((k, None)).or_default().push((i, c));
            groups
                .entry((k, Some(p.id.clone())))
                .or_default()
                .push((i, c));
        }
    }
    groups
        .into_iter()
        .filter_map(|((k, player), checks)| {
            let option = graph.options.get(k.option)?;
            let text = checks.first()?.1.text.clone();
            let by_session: Vec<Vec<&CueCheck>> = (0..sessions.len())
                .map(|i| checks.iter().filter(|c| c.0 == i).map(|c| c.1).collect())
                .collect();
            let lags: Vec<Vec<f64>> = by_session.iter().map(|c| lags(c)).collect();
            let points = sessions
                .iter()
                .zip(by_session.iter().zip(&lags))
                .filter(|(_, (checks, _))| !checks.is_empty())
                .map(|(s, (checks, lags))| point(s, checks, lags))
                .collect();
            let medians: Vec<(f64, f64)> = lags
                .iter()
                .zip(&at)
                .filter_map(|(l, t)| Some((*t, median(l)?)))
                .collect();
            Some(CueTrend {
                option: option.id.clone(),
                text,
                player,
                points,
                slope: theil_sen(&medians),
                slope_interval: slope_interval(&lags, &at, median),
                per,
            })
        })
        .collect()
}

fn lags(checks: &[&CueCheck]) -> Vec<f64> {
    checks
        .iter()
        .filter(|c| c.when != When::CannotTell)
        .filter_map(|c| c.lag_s)
        .collect()
}

fn point(s: &Audited<'_>, checks: &[&CueCheck], lags: &[f64]) -> TrendPoint {
    let mut counts = [0; 5];
    for c in checks {
        counts[slot(c.when)] += 1;
    }
    TrendPoint {
        session: s.session.id.clone(),
        date: s.session.date.clone(),
        opponent: s.session.opponent.clone(),
        counts,
        median_s: median(lags),
        interval_s: median_interval(lags, SEED),
    }
}

fn slope_interval<T: Copy>(
    values: &[Vec<T>],
    at: &[f64],
    statistic: impl Fn(&[T]) -> Option<f64>,
) -> Option<(f64, f64)> {
    let usable: Vec<(&Vec<T>, f64)> = values
        .iter()
        .zip(at.iter().copied())
        .filter(|(l, _)| l.len() >= FEWEST_A_SESSION)
        .collect();
    if usable.len() < 2 {
        return None;
    }
    let mut rng = Rng::new(SEED);
    let mut slopes = Vec::with_capacity(RESAMPLES);
    for _ in 0..RESAMPLES {
        let points: Option<Vec<(f64, f64)>> = usable
            .iter()
            .map(|(l, t)| {
                let draw: Vec<T> = (0..l.len()).map(|_| l[rng.below(l.len())]).collect();
                Some((*t, statistic(&draw)?))
            })
            .collect();
        slopes.push(theil_sen(&points?)?);
    }
    slopes.sort_by(f64::total_cmp);
    Some((quantile(&slopes, 0.025)?, quantile(&slopes, 0.975)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_counted_by_the_calendar() {
        let between = |a: &str, b: &str| day(b).unwrap() - day(a).unwrap();
        assert_eq!(between("2025-12-31", "2026-01-01"), 1);
        assert_eq!(between("2024-02-28", "2024-03-01"), 2);
        assert_eq!(between("2025-02-28", "2025-03-01"), 1);
        assert_eq!(between("1970-01-01", "2000-01-01"), 10_957);
        assert_eq!(day("2026-13-01"), None);
        assert_eq!(day("yesterday"), None);
    }

    #[test]
    fn a_slope_needs_two_sessions_and_finds_the_drift() {
        let lags = vec![
            vec![0.10, 0.12, 0.14, 0.11],
            vec![0.30, 0.33, 0.31, 0.35],
            vec![0.50, 0.52, 0.55, 0.51],
        ];
        let (lo, hi) = slope_interval(&lags, &[0.0, 1.0, 2.0], median).unwrap();
        assert!(lo > 0.15 && hi < 0.25, "{lo} {hi}");
        assert_eq!(slope_interval(&lags[..1], &[0.0], median), None);
    }

    #[test]
    fn a_share_that_rises_is_told_from_one_that_does_not() {
        let of = |on: usize, all: usize| (0..all).map(|i| i < on).collect::<Vec<bool>>();
        // 2 of 20, 10 of 20, 18 of 20: four tenths more each time.
        let rising = [of(2, 20), of(10, 20), of(18, 20)];
        let t = share_trend(&rising, &[0.0, 1.0, 2.0], Per::Session).unwrap();
        assert!((t.slope - 0.4).abs() < 1e-12, "{t:?}");
        assert!(t.interval.0 > 0.25 && t.interval.1 < 0.55, "{t:?}");
        let level = [of(10, 20), of(9, 20), of(11, 20)];
        let t = share_trend(&level, &[0.0, 1.0, 2.0], Per::Session).unwrap();
        assert!(t.interval.0 < 0.0 && t.interval.1 > 0.0, "{t:?}");
        // Two checks are no session.
        assert_eq!(
            share_trend(&[of(2, 20), of(2, 2)], &[0.0, 1.0], Per::Session),
            None
        );
    }
}

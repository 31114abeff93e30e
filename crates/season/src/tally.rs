//! The numbers that page and terminal state, counted once and in one place.

use crate::results::Results;
use setdrift_recognise::model::{Run, Segment, Verdict, What};
use setdrift_timing::model::{CueCheck, Kept, LagSummary, PlacementCheck, When};
use setdrift_timing::stats;
use std::collections::BTreeMap;

/// What a segment counts as.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sort {
    /// An option, all of it, within tolerance.
    Ran,
    /// An option, all of it, with faults.
    Faults,
    /// An option, not all of it.
    Broken,
    /// In a declared formation.
    Set,
    /// Nothing declared.
    Off,
    /// Not enough data.
    Gap,
}

impl Sort {
    /// All sorts, in the order in which they are shown.
    pub const ALL: [Self; 6] = [
        Self::Ran,
        Self::Faults,
        Self::Broken,
        Self::Set,
        Self::Off,
        Self::Gap,
    ];

    /// Of a segment.
    pub fn of(what: &What) -> Self {
        match what {
            What::Option(run) => Self::of_run(run),
            What::Set { .. } => Self::Set,
            What::OffScript => Self::Off,
            What::NotEnoughData { .. } => Self::Gap,
        }
    }

    /// Of a run.
    pub fn of_run(run: &Run) -> Self {
        match run.verdict {
            Verdict::Ran => Self::Ran,
            Verdict::RanWithFaults => Self::Faults,
            Verdict::BrokenOff { .. } => Self::Broken,
        }
    }

    /// Key in style sheet, script and filters.
    pub fn key(self) -> &'static str {
        match self {
            Self::Ran => "ran",
            Self::Faults => "faults",
            Self::Broken => "broken",
            Self::Set => "set",
            Self::Off => "off",
            Self::Gap => "gap",
        }
    }

    /// In words.
    pub fn label(self) -> &'static str {
        match self {
            Self::Ran => "ran",
            Self::Faults => "ran with faults",
            Self::Broken => "broken off",
            Self::Set => "in the set",
            Self::Off => "off script",
            Self::Gap => "not enough data",
        }
    }
}

/// Counts of one option.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct OptionTally {
    /// Runs, broken-off ones included.
    pub runs: usize,
    /// All of it, within tolerance.
    pub clean: usize,
    /// All of it, with faults.
    pub faults: usize,
    /// Broken off, by the step in which it broke.
    pub broken_at: BTreeMap<usize, usize>,
    /// Left-handed runs.
    pub left: usize,
    /// Runs per session.
    pub per_session: Vec<usize>,
    /// Possessions with known points in which it was run.
    pub scored: usize,
    /// Points on those.
    pub points: u32,
    /// Faults by role.
    pub fault_roles: BTreeMap<Option<usize>, usize>,
}

impl OptionTally {
    /// Runs that were broken off.
    pub fn broken(&self) -> usize {
        self.broken_at.values().sum()
    }

    /// Runs that reached their end.
    pub fn completed(&self) -> usize {
        self.clean + self.faults
    }
}

/// Points of some possessions.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Scores {
    /// Possessions.
    pub count: usize,
    /// Points on them.
    pub points: u32,
    squares: u32,
}

impl Scores {
    fn add(&mut self, points: u32) {
        self.count += 1;
        self.points += points;
        self.squares += points * points;
    }

    /// Variance of the mean; `None` under ten possessions, where it says too little.
    fn variance_of_mean(self) -> Option<f64> {
        let n = self.count as f64;
        let sum = f64::from(self.points);
        (self.count >= 10).then(|| (f64::from(self.squares) - sum * sum / n) / (n - 1.0) / n)
    }

    /// Whether the means differ by more than chance would have it: by more than 1.96 standard
    /// errors of the difference (Welch 1938, large samples). `None` where there are too few.
    pub fn differ(self, other: Self) -> Option<bool> {
        let error = (self.variance_of_mean()? + other.variance_of_mean()?).sqrt();
        let mean = |s: Self| f64::from(s.points) / s.count as f64;
        Some((mean(self) - mean(other)).abs() > 1.96 * error)
    }
}

/// Everything counted over the results.
#[derive(Debug, Clone, PartialEq)]
pub struct Tally {
    /// Per option of the graph.
    pub options: Vec<OptionTally>,
    /// Seconds per session and sort, in the order of [`Sort::ALL`].
    pub seconds: Vec<[f64; 6]>,
    /// Possessions with known points in which an option was completed.
    pub with: Scores,
    /// The other possessions with known points.
    pub without: Scores,
    /// All possessions.
    pub possessions: usize,
}

impl Tally {
    /// Counts.
    pub fn of(results: &Results) -> Self {
        let sessions = results.sessions.len();
        let mut t = Self {
            options: vec![
                OptionTally {
                    per_session: vec![0; sessions],
                    ..OptionTally::default()
                };
                results.graph.options.len()
            ],
            seconds: vec![[0.0; 6]; sessions],
            with: Scores::default(),
            without: Scores::default(),
            possessions: 0,
        };
        for (s, session) in results.sessions.iter().enumerate() {
            for (possession, reading) in session.possessions.iter().zip(&session.readings) {
                t.possessions += 1;
                let mut ran = vec![false; t.options.len()];
                let mut completed = false;
                for segment in &reading.segments {
                    let sort = Sort::of(&segment.what);
                    t.seconds[s][sort as usize] += (segment.to_s - segment.from_s).max(0.0);
                    if let What::Option(run) = &segment.what {
                        completed |= sort != Sort::Broken;
                        if let Some(seen) = ran.get_mut(run.option) {
                            *seen = true;
                            t.options[run.option].add(s, run);
                        }
                    }
                }
                if let Some(points) = possession.result.points {
                    let side = if completed {
                        &mut t.with
                    } else {
                        &mut t.without
                    };
                    side.add(points);
                    for (o, _) in ran.iter().enumerate().filter(|(_, r)| **r) {
                        t.options[o].scored += 1;
                        t.options[o].points += points;
                    }
                }
            }
        }
        t
    }

    /// Seconds of one sort over all sessions.
    pub fn total(&self, sort: Sort) -> f64 {
        self.seconds.iter().map(|s| s[sort as usize]).sum()
    }

    /// Seconds over all sessions and sorts.
    pub fn all_seconds(&self) -> f64 {
        self.seconds.iter().flatten().sum()
    }
}

impl OptionTally {
    fn add(&mut self, session: usize, run: &Run) {
        self.runs += 1;
        self.per_session[session] += 1;
        match run.verdict {
            Verdict::Ran => self.clean += 1,
            Verdict::RanWithFaults => self.faults += 1,
            Verdict::BrokenOff { step } => *self.broken_at.entry(step).or_default() += 1,
        }
        if run.hand == setdrift_recognise::model::Hand::Left {
            self.left += 1;
        }
        for fault in &run.faults {
            *self.fault_roles.entry(fault.role).or_default() += 1;
        }
    }
}

/// One player at one cue.
#[derive(Debug, Clone)]
pub struct CueRow<'a> {
    /// Name for people.
    pub label: String,
    /// Session index and check, in time order.
    pub checks: Vec<(usize, &'a CueCheck)>,
    /// Early, on time, late, never, cannot tell.
    pub counts: [usize; 5],
    /// The summary over sessions, where there is one.
    pub summary: Option<&'a LagSummary>,
}

impl CueRow<'_> {
    /// Judged checks.
    pub fn judged(&self) -> usize {
        self.counts[..4].iter().sum()
    }

    /// Judged checks outside the window.
    pub fn off(&self) -> usize {
        self.judged() - self.counts[When::OnTime as usize]
    }

    /// How surely this needs work: the lower end of the interval of the share off time.
    pub fn need(&self) -> f64 {
        wilson_lower(self.off(), self.judged())
    }

    /// Median lag, seconds: the summary's, or of the checks.
    pub fn median(&self) -> Option<f64> {
        self.summary.and_then(|s| s.median_s).or_else(|| {
            let lags: Vec<f64> = self.checks.iter().filter_map(|(_, c)| c.lag_s).collect();
            stats::median(&lags)
        })
    }
}

/// One cue with the players who had to answer it.
#[derive(Debug, Clone)]
pub struct CueGroup<'a> {
    /// Index of the option.
    pub option: usize,
    /// The action as declared.
    pub text: String,
    /// The declared window, seconds.
    pub window: (f64, f64),
    /// Players, most in need first.
    pub rows: Vec<CueRow<'a>>,
}

impl CueGroup<'_> {
    fn need(&self) -> f64 {
        self.rows.iter().map(CueRow::need).fold(0.0, f64::max)
    }
}

/// Cues by option and action, most in need first.
pub fn cues(results: &Results) -> Vec<CueGroup<'_>> {
    let mut found: BTreeMap<(usize, &str), BTreeMap<&str, CueRow<'_>>> = BTreeMap::new();
    for (s, session) in results.sessions.iter().enumerate() {
        for check in &session.audit.cues {
            let Some(node) = results.graph.nodes.get(check.place.node) else {
                continue;
            };
            let Some(player) = session.session.players.get(check.player) else {
                continue;
            };
            let option_id = results
                .graph
                .options
                .get(node.option)
                .map(|o| o.id.as_str());
            let row = found
                .entry((node.option, check.text.as_str()))
                .or_default()
                .entry(player.id.as_str())
                .or_insert_with(|| CueRow {
                    label: player.label(),
                    checks: vec![],
                    counts: [0; 5],
                    summary: results.lags.iter().find(|l| {
                        Some(l.option.as_str()) == option_id
                            && l.text == check.text
                            && l.player.as_deref() == Some(player.id.as_str())
                    }),
                });
            row.counts[check.when as usize] += 1;
            row.checks.push((s, check));
        }
    }
    let mut groups: Vec<CueGroup<'_>> = found
        .into_iter()
        .map(|((option, text), rows)| {
            let mut rows: Vec<CueRow<'_>> = rows.into_values().collect();
            rows.sort_by(|a, b| b.need().total_cmp(&a.need()));
            let window = rows
                .iter()
                .flat_map(|r| r.checks.iter().map(|(_, c)| c.window_s))
                .next()
                .unwrap_or_default();
            CueGroup {
                option,
                text: text.to_owned(),
                window,
                rows,
            }
        })
        .collect();
    groups.sort_by(|a, b| b.need().total_cmp(&a.need()));
    groups
}

/// One placement or expectation, over all runs.
#[derive(Debug, Clone)]
pub struct PlacementGroup<'a> {
    /// Index of the option.
    pub option: usize,
    /// As declared.
    pub text: String,
    /// Session index and check, in time order.
    pub checks: Vec<(usize, &'a PlacementCheck)>,
    /// Kept, not kept, cannot tell.
    pub counts: [usize; 3],
}

impl PlacementGroup<'_> {
    /// Judged checks.
    pub fn judged(&self) -> usize {
        self.counts[0] + self.counts[1]
    }

    /// How surely this needs work.
    pub fn need(&self) -> f64 {
        wilson_lower(self.counts[Kept::No as usize], self.judged())
    }
}

/// Placements by option and sentence, most in need first.
pub fn placements(results: &Results) -> Vec<PlacementGroup<'_>> {
    let mut found: BTreeMap<(usize, &str), PlacementGroup<'_>> = BTreeMap::new();
    for (s, session) in results.sessions.iter().enumerate() {
        for check in &session.audit.placements {
            let Some(node) = results.graph.nodes.get(check.place.node) else {
                continue;
            };
            let group = found
                .entry((node.option, check.text.as_str()))
                .or_insert_with(|| PlacementGroup {
                    option: node.option,
                    text: check.text.clone(),
                    checks: vec![],
                    counts: [0; 3],
                });
            group.counts[check.kept as usize] += 1;
            group.checks.push((s, check));
        }
    }
    let mut groups: Vec<PlacementGroup<'_>> = found.into_values().collect();
    groups.sort_by(|a, b| b.need().total_cmp(&a.need()));
    groups
}

/// Lower end of the 95 % score interval of a share (Wilson 1927, JASA 22, 209–212); 0 without
/// trials. Small samples do not come out on top by luck.
pub fn wilson_lower(hits: usize, trials: usize) -> f64 {
    stats::wilson(hits, trials).map_or(0.0, |(low, _)| low)
}

/// The run of a segment, where it is one.
pub fn run_of(segment: &Segment) -> Option<&Run> {
    match &segment.what {
        What::Option(run) => Some(run),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Newcombe 1998 (Statistics in Medicine 17, 857–872), table I, method 3 (score without
    /// continuity correction): 81 of 263: 0.2553 to 0.3662; 15 of 148: 0.0624 to 0.1605; 0 of 20:
    /// 0 to 0.1611; 1 of 29: 0.0061 to 0.1718 (values from memory, recomputed by hand).
    #[test]
    fn score_interval_as_published() {
        for (hits, trials, low) in [
            (81, 263, 0.2553),
            (15, 148, 0.0624),
            (0, 20, 0.0),
            (1, 29, 0.0061),
        ] {
            let got = wilson_lower(hits, trials);
            assert!((got - low).abs() < 5e-5, "{hits}/{trials}: {got}");
        }
        assert_eq!(wilson_lower(0, 0), 0.0);
    }

    #[test]
    fn few_or_mixed_points_prove_nothing() {
        let of = |points: &[u32]| {
            let mut s = Scores::default();
            points.iter().for_each(|p| s.add(*p));
            s
        };
        assert_eq!(of(&[2; 9]).differ(of(&[0; 40])), None);
        assert_eq!(of(&[2; 10]).differ(of(&[0; 10])), Some(true));
        // Means 1.2 and 0.8, standard error of the difference 0.438 (worked out by hand).
        let a = of(&[2, 2, 2, 2, 2, 2, 0, 0, 0, 0]);
        let b = of(&[2, 2, 2, 2, 0, 0, 0, 0, 0, 0]);
        assert_eq!(a.differ(b), Some(false));
    }
}

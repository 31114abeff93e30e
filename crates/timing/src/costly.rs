//! The staff's view: cues missed, beside what became of the option and the possession. Counts
//! stand beside each other; nothing here says that one brought the other about.

use crate::aggregate::FEW;
use crate::clip::Clip;
use crate::model::{CueCheck, When};
use crate::summary::{Audited, CueKey, key};
use serde::{Deserialize, Serialize};
use setdrift_playbook::graph::Graph;
use setdrift_recognise::model::{Verdict, What};
use setdrift_tracks::OutcomeKind;
use std::collections::BTreeMap;

/// What became of a number of runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Tally {
    /// Runs counted.
    pub runs: usize,
    /// Of these, broken off.
    pub broken_off: usize,
    /// Of these, in a possession whose result is known.
    pub with_result: usize,
    /// Of those, scored.
    pub scored: usize,
    /// Points on those, where points are known.
    pub points: u32,
}

/// A cue with what became of the runs in which it was missed and of those in which it was met.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CostlyCue {
    /// Option key.
    pub option: String,
    /// Title of the option.
    pub title: String,
    /// The action as declared.
    pub text: String,
    /// Runs in which the player went early.
    pub early: usize,
    /// Runs in which the player went late.
    pub late: usize,
    /// Runs in which the player did not go.
    pub never: usize,
    /// What became of all those.
    pub missed: Tally,
    /// What became of the runs on time.
    pub met: Tally,
    /// The missed ones that broke off, then the other missed ones, in order of time.
    pub clips: Vec<Clip>,
    /// All this in words.
    pub words: String,
}

impl CostlyCue {
    /// Whether there are too few runs to read anything into the counts.
    #[must_use]
    pub fn few(&self) -> bool {
        self.missed.runs + self.met.runs < FEW
    }
}

/// All cues that were missed at least once, those first with the most missed runs that broke
/// off, then those with the most missed runs; ties in the order declared.
#[must_use]
pub fn costly_cues(sessions: &[Audited<'_>], graph: &Graph) -> Vec<CostlyCue> {
    let mut groups: BTreeMap<CueKey, Vec<(&Audited<'_>, &CueCheck)>> = BTreeMap::new();
    for s in sessions {
        for c in &s.audit.cues {
            if let Some(k) = key(graph, c) {
                groups.entry(k).or_default().push((s, c));
            }
        }
    }
    let mut out: Vec<CostlyCue> = groups
        .into_iter()
        .filter_map(|(k, checks)| cost(graph, k, &checks))
        .collect();
    out.sort_by(|a, b| {
        (b.missed.broken_off, b.missed.runs).cmp(&(a.missed.broken_off, a.missed.runs))
    });
    out
}

fn cost(graph: &Graph, k: CueKey, checks: &[(&Audited<'_>, &CueCheck)]) -> Option<CostlyCue> {
    let option = graph.options.get(k.option)?;
    let text = checks.first()?.1.text.clone();
    let (mut missed, mut met) = (Tally::default(), Tally::default());
    let (mut early, mut late, mut never) = (0, 0, 0);
    let (mut first, mut rest) = (Vec::new(), Vec::new());
    for (s, c) in checks {
        let tally = match c.when {
            When::Early => {
                early += 1;
                &mut missed
            }
            When::Late => {
                late += 1;
                &mut missed
            }
            When::Never => {
                never += 1;
                &mut missed
            }
            When::OnTime => &mut met,
            When::CannotTell => continue,
        };
        let broke = add(tally, s, c);
        if c.when != When::OnTime
            && let Some(clip) = Clip::of_cue(&s.session.id, c)
        {
            if broke {
                first.push(clip);
            } else {
                rest.push(clip);
            }
        }
    }
    if missed.runs == 0 {
        return None;
    }
    first.append(&mut rest);
    let words = words(&option.title, &text, (early, late, never), &missed, &met);
    Some(CostlyCue {
        option: option.id.clone(),
        title: option.title.clone(),
        text,
        early,
        late,
        never,
        missed,
        met,
        clips: first,
        words,
    })
}

/// Counts a run; whether it was broken off.
fn add(tally: &mut Tally, s: &Audited<'_>, c: &CueCheck) -> bool {
    tally.runs += 1;
    let broke = s
        .readings
        .iter()
        .find(|r| r.possession == c.place.possession)
        .and_then(|r| r.segments.get(c.place.segment))
        .is_some_and(|seg| match &seg.what {
            What::Option(run) => matches!(run.verdict, Verdict::BrokenOff { .. }),
            _ => false,
        });
    if broke {
        tally.broken_off += 1;
    }
    let result = s
        .possessions
        .iter()
        .find(|p| p.number == c.place.possession)
        .map(|p| &p.result);
    if let Some(r) = result
        && !matches!(r.kind, OutcomeKind::Unknown | OutcomeKind::Stopped)
    {
        tally.with_result += 1;
        if r.kind == OutcomeKind::Made {
            tally.scored += 1;
        }
        tally.points += r.points.unwrap_or(0);
    }
    broke
}

fn words(
    title: &str,
    text: &str,
    (early, late, never): (usize, usize, usize),
    missed: &Tally,
    met: &Tally,
) -> String {
    let mut parts = Vec::new();
    for (n, word) in [(early, "early"), (late, "late"), (never, "never left")] {
        if n > 0 {
            parts.push(format!("{n} {word}"));
        }
    }
    let became = |t: &Tally| {
        let mut s = format!("{} of {} broke off", t.broken_off, t.runs);
        if t.with_result > 0 {
            s.push_str(&format!(
                ", {} of {} with a known result scored ({} points)",
                t.scored, t.with_result, t.points
            ));
        }
        s
    };
    let mut s = format!(
        "{title}, “{text}”: missed {} of {} ({}). Missed: {}",
        missed.runs,
        missed.runs + met.runs,
        parts.join(", "),
        became(missed)
    );
    if met.runs > 0 {
        s.push_str(&format!(". On time: {}", became(met)));
    }
    s.push_str(". Counts, not causes");
    if missed.runs + met.runs < FEW {
        s.push_str("; few runs, so read with care");
    }
    s.push('.');
    s
}

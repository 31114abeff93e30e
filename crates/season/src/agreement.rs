//! Verdicts beside a person's tags: how often both say the same, and how far a verdict's confidence
//! can be taken at its word.

use crate::results::Results;
use setdrift_events::model::Possession;
use setdrift_playbook::graph::Graph;
use setdrift_recognise::model::{Hand, Reading, Run, What};
use setdrift_recognise::score::{Label, Score};
use setdrift_tracks::Tag;
use std::collections::BTreeMap;

/// Labels are compared so many times a second.
pub const RATE_HZ: f64 = 10.0;
/// A run and a tag are of the same thing when they share this much of what either covers
/// (intersection over union), as for the segmental F1 at 50 %.
const SAME: f64 = 0.5;
/// Upper ends of the classes of confidence.
const CLASSES: [f64; 6] = [0.5, 0.7, 0.8, 0.9, 0.95, 1.0];

/// Tags that cannot be compared with.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TagError {
    /// An option that the playbook does not have.
    #[error(
        "the tag at {from_s} s of session `{session}` names `{option}`, which the playbook does not have: \
         expected one of {}", .known.join(", ")
    )]
    Option {
        /// Session id.
        session: String,
        /// Start of the tag, seconds.
        from_s: f64,
        /// What it names.
        option: String,
        /// Options of the playbook.
        known: Vec<String>,
    },
    /// No tags at all.
    #[error("no session has tags: name a tag file under `[files]` in its tracks.toml")]
    None,
}

/// Verdicts of one confidence.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Class {
    /// Confidence above this …
    pub above: f64,
    /// … and up to this.
    pub to: f64,
    /// Verdicts.
    pub runs: usize,
    /// Of these, how many a tag says too.
    pub right: usize,
    /// Sum of their confidences.
    pub said: f64,
}

/// One session's score.
#[derive(Debug, Clone, PartialEq)]
pub struct SessionScore {
    /// Session id.
    pub session: String,
    /// Its score.
    pub score: Score,
}

/// How verdicts and tags agree.
#[derive(Debug, Clone, PartialEq)]
pub struct Agreement {
    /// Over all sessions with tags.
    pub all: Score,
    /// Each of them.
    pub sessions: Vec<SessionScore>,
    /// Sessions without tags, left out.
    pub untagged: Vec<String>,
    /// Runs that a tag with a hand says too, and of these, those with the same hand.
    pub hands: (usize, usize),
    /// Runs by confidence.
    pub reliability: Vec<Class>,
}

/// Compares every session that has tags; `tags` holds session ids with their tags.
///
/// Compared are the stretches that lie in a possession or under a tag; the rest of a session is
/// nobody's offence.
///
/// # Errors
/// [`TagError`] when there are no tags, or one names an option that is not in the playbook.
pub fn agreement(
    results: &Results,
    tags: &BTreeMap<String, Vec<Tag>>,
) -> Result<Agreement, TagError> {
    let mut out = Agreement {
        all: Score::default(),
        sessions: Vec::new(),
        untagged: Vec::new(),
        hands: (0, 0),
        reliability: classes(),
    };
    for s in &results.sessions {
        let id = &s.session.id;
        let Some(tags) = tags.get(id).filter(|tags| !tags.is_empty()) else {
            out.untagged.push(id.clone());
            continue;
        };
        let truth = known(&results.graph, id, tags)?;
        let mut score = Score::default();
        for stretch in compared(&s.possessions, &truth) {
            let (is, said) = labels(&truth, &s.readings, stretch);
            // Both are made from the same frames.
            let _ = score.add(&is, &said);
            let _ = out.all.add(&is, &said);
        }
        out.sessions.push(SessionScore {
            session: s.session.id.clone(),
            score,
        });
        count_runs(&mut out, &truth, &s.readings);
    }
    if out.sessions.is_empty() {
        return Err(TagError::None);
    }
    Ok(out)
}

fn classes() -> Vec<Class> {
    let above = std::iter::once(0.0).chain(CLASSES);
    let class = |(above, to)| Class {
        above,
        to,
        ..Class::default()
    };
    above.zip(CLASSES).map(class).collect()
}

/// A tag with its option found.
pub(crate) struct Known {
    from_s: f64,
    to_s: f64,
    option: usize,
    left: Option<bool>,
}

pub(crate) fn known(graph: &Graph, session: &str, tags: &[Tag]) -> Result<Vec<Known>, TagError> {
    let one = |tag: &Tag| {
        let option = graph.option(&tag.option).ok_or_else(|| TagError::Option {
            session: session.to_owned(),
            from_s: tag.from_s,
            option: tag.option.clone(),
            known: graph.options.iter().map(|o| o.id.clone()).collect(),
        })?;
        Ok(Known {
            from_s: tag.from_s,
            to_s: tag.to_s,
            option,
            left: tag.hand.as_deref().map(|h| h == "left"),
        })
    };
    tags.iter().map(one).collect()
}

/// Possessions and tags as stretches that do not overlap, by time.
pub(crate) fn compared(possessions: &[Possession], truth: &[Known]) -> Vec<(f64, f64)> {
    let possessions = possessions.iter().map(|p| (p.from_s, p.to_s));
    let mut all: Vec<(f64, f64)> = possessions
        .chain(truth.iter().map(|k| (k.from_s, k.to_s)))
        .collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let mut out: Vec<(f64, f64)> = Vec::new();
    for (from, to) in all {
        match out.last_mut() {
            Some(last) if from <= last.1 => last.1 = last.1.max(to),
            _ => out.push((from, to)),
        }
    }
    out
}

/// What the tags say of a stretch, and what the readings do.
pub(crate) fn labels(
    truth: &[Known],
    readings: &[Reading],
    (from, to): (f64, f64),
) -> (Vec<Label>, Vec<Label>) {
    let frames = ((to - from) * RATE_HZ).ceil().max(1.0) as usize;
    let runs: Vec<_> = all_runs(readings).collect();
    let at = |t: f64| {
        let is = truth.iter().find(|k| t >= k.from_s && t < k.to_s);
        let said = runs.iter().find(|(a, b, _)| t >= *a && t < *b);
        (is.map(|k| k.option), said.map(|(.., run)| run.option))
    };
    (0..frames).map(|i| at(from + i as f64 / RATE_HZ)).unzip()
}

fn all_runs(readings: &[Reading]) -> impl Iterator<Item = (f64, f64, &Run)> {
    let segments = readings.iter().flat_map(|r| &r.segments);
    segments.filter_map(|s| match &s.what {
        What::Option(run) => Some((s.from_s, s.to_s, run.as_ref())),
        _ => None,
    })
}

fn count_runs(out: &mut Agreement, truth: &[Known], readings: &[Reading]) {
    for (from, to, run) in all_runs(readings) {
        let same = truth.iter().find(|k| {
            let common = k.to_s.min(to) - k.from_s.max(from);
            let either = k.to_s.max(to) - k.from_s.min(from);
            k.option == run.option && common >= SAME * either
        });
        if let Some(left) = same.and_then(|k| k.left) {
            out.hands.0 += 1;
            out.hands.1 += usize::from(left == (run.hand == Hand::Left));
        }
        let class = CLASSES.partition_point(|to| *to < run.confidence);
        if let Some(class) = out.reliability.get_mut(class) {
            class.runs += 1;
            class.right += usize::from(same.is_some());
            class.said += run.confidence;
        }
    }
}

//! The whole job as a list of stages, from sessions to results. Touches no file.

use crate::{
    repetitions,
    results::{Results, SessionResults},
    settings::Settings,
    staff, verdicts, withhold,
};
use setdrift_drift::{SessionRuns, role_drift};
use setdrift_events::model::{BallStory, Possession};
use setdrift_events::{ball_story, possessions};
use setdrift_playbook::graph::Graph;
use setdrift_recognise::{DecodeError, Recogniser, model::Reading};
use setdrift_timing::{audit, lag_summaries};
use setdrift_tracks::{GivenResult, Quality, Session, VerdictKind};
use std::collections::BTreeSet;

/// One session with what people wrote down beside it.
#[derive(Debug, Clone)]
pub struct Input {
    /// The cleaned tracks.
    pub session: Session,
    /// Possession results; empty where there is no event file.
    pub given: Vec<GivenResult>,
    /// What reading and cleaning could not judge, in words.
    pub limits: Vec<String>,
    /// How good the tracks are; [`Quality::of`] for a session that came uncleaned.
    pub quality: Quality,
}

/// Why the job could not be done.
#[derive(Debug, thiserror::Error)]
pub enum PipelineError {
    /// In recognition.
    #[error("session `{session}`: {source}")]
    Decode {
        /// Session id.
        session: String,
        /// Cause.
        source: DecodeError,
    },
    /// In grouping or drift.
    #[error("comparing what was off script: {0}")]
    Drift(#[from] setdrift_drift::Error),
}

/// A stage that has ended, for showing progress.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Done<'a> {
    /// What has been done: `events`, `options`, `cues`, `groups`, `drift`.
    pub stage: &'static str,
    /// In which session, where the stage is of one.
    pub session: Option<&'a str>,
}

/// Stages that are told of for each session.
pub const STAGES_PER_SESSION: usize = 3;
/// Stages that are told of once.
pub const STAGES_OF_ALL: usize = 2;

/// Runs every stage. Sessions are put in the order of their dates.
///
/// # Errors
/// [`PipelineError`]; no input should bring one about.
pub fn review(
    inputs: Vec<Input>,
    graph: Graph,
    settings: &Settings,
    progress: &dyn Fn(Done<'_>),
) -> Result<Results, PipelineError> {
    let mut sessions = Vec::with_capacity(inputs.len());
    for input in inputs {
        sessions.push(one_session(input, &graph, settings, progress)?);
    }
    together(sessions, graph, settings, progress)
}

/// The stages over all sessions, which are put in the order of their dates.
///
/// # Errors
/// [`PipelineError`]; no input should bring one about.
pub fn together(
    mut sessions: Vec<SessionResults>,
    graph: Graph,
    settings: &Settings,
    progress: &dyn Fn(Done<'_>),
) -> Result<Results, PipelineError> {
    sessions
        .sort_by(|a, b| (&a.session.date, &a.session.id).cmp(&(&b.session.date, &b.session.id)));
    let stretches: Vec<_> = sessions
        .iter()
        .flat_map(|s: &SessionResults| {
            setdrift_drift::stretches(&s.session, &s.story, &s.possessions, &s.readings)
        })
        .collect();
    let groups = settings.groups.clone().on(graph.court.clone());
    let grouping = setdrift_drift::group(&stretches, &groups)?;
    progress(Done {
        stage: "groups",
        session: None,
    });
    let runs: Vec<_> = sessions
        .iter()
        .filter(|s| withhold::allows(&s.quality, VerdictKind::Drift))
        .map(|s| SessionRuns {
            session: &s.session,
            possessions: &s.possessions,
            readings: &s.readings,
        })
        .collect();
    let drift = role_drift(&graph, &runs, &settings.drift)?;
    progress(Done {
        stage: "drift",
        session: None,
    });
    let lags = lag_summaries(&staff::audited(&sessions), &graph);
    Ok(Results {
        graph,
        sessions,
        stretches,
        grouping,
        drift,
        lags,
    })
}

/// The stages of one session. What it was read from may go before the next is read.
///
/// # Errors
/// [`PipelineError`]; no input should bring one about.
pub fn one_session(
    input: Input,
    graph: &Graph,
    settings: &Settings,
    progress: &dyn Fn(Done<'_>),
) -> Result<SessionResults, PipelineError> {
    let Input {
        session,
        given,
        limits,
        quality,
    } = input;
    let told = |stage| {
        progress(Done {
            stage,
            session: Some(&session.id),
        });
    };
    let (mut story, mut found) = cut(&session, &given, settings);
    told("events");
    let mut readings = read(&session, graph, &story, &mut found, settings)?;
    told("options");
    let mut audit = audit(&session, graph, &story, &found, &readings, &settings.timing);
    let coverage = withhold::FoundIn {
        session: &session,
        quality: &quality,
        story: &mut story,
        possessions: &mut found,
        readings: &mut readings,
        audit: &mut audit,
    }
    .withhold(graph);
    verdicts::add_audit(&mut readings, &audit);
    told("cues");
    let limits = all_limits(limits, &story.limits, &readings);
    Ok(SessionResults {
        session,
        story,
        possessions: found,
        readings,
        audit,
        coverage,
        limits,
        quality,
    })
}

/// Ball events, and the possessions of the audited team.
pub(crate) fn cut(
    session: &Session,
    given: &[GivenResult],
    settings: &Settings,
) -> (BallStory, Vec<Possession>) {
    let story = ball_story(session, &settings.events);
    let mut found = possessions(session, &story, given, &settings.events);
    found.retain(|p| p.team == 0);
    for (i, p) in found.iter_mut().enumerate() {
        p.number = i + 1;
    }
    (story, found)
}

/// What was run in each possession; a repetition ends with the last option found in it.
pub(crate) fn read(
    session: &Session,
    graph: &Graph,
    story: &BallStory,
    found: &mut [Possession],
    settings: &Settings,
) -> Result<Vec<Reading>, PipelineError> {
    let searched = repetitions::stretched(session, found);
    let mut readings = Recogniser::new(graph, &settings.recognise)
        .read(session, story, &searched)
        .map_err(|source| PipelineError::Decode {
            session: session.id.clone(),
            source,
        })?;
    repetitions::settle(found, &mut readings);
    Ok(readings)
}

/// Every limit once, those of the files first.
fn all_limits(files: Vec<String>, story: &[String], readings: &[Reading]) -> Vec<String> {
    let mut seen = BTreeSet::new();
    files
        .into_iter()
        .chain(story.iter().cloned())
        .chain(readings.iter().flat_map(|r| r.limits.iter().cloned()))
        .filter(|l| seen.insert(l.clone()))
        .collect()
}

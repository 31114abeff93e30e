//! Which option was run, by whom in which role, on which side, how completely and how surely.
//!
//! A possession is a sentence, options are its words, the playbook graph is its grammar: connected
//! dynamic time warping finds the sentence. `recognise` never reads a file: it goes from
//! possessions and a compiled playbook to verdicts.

mod ages;
mod bounds;
mod coarse;
mod cost;
mod decode;
mod departure;
#[cfg(test)]
mod exact;
mod faults;
mod finer;
mod gain;
mod known;
mod least;
mod links;
pub mod model;
mod onset;
mod params;
mod parts;
mod prune;
mod query;
mod refine;
mod relax;
mod roles;
mod rough;
mod rounds;
mod scene;
pub mod score;
mod tables;
mod templates;
#[cfg(test)]
mod testing;
#[cfg(test)]
mod tests;
mod verdict;

pub use decode::{DecodeError, Effort};
pub use params::{Params, ParamsError, ValidParams};
pub use query::Query;

use model::Reading;
use rayon::prelude::*;
use setdrift_events::model::{BallStory, Possession};
use setdrift_playbook::graph::Graph;
use setdrift_tracks::Session;
use std::cell::{Cell, RefCell};

thread_local! {
    /// Some megabytes a thread, kept from one possession to the next.
    static MEMORY: Cell<decode::Memory> = Cell::default();
}

/// Reads possessions against a playbook: one [`Reading`] per possession, in the same order.
///
/// Runs possessions in parallel; the result does not depend on the number of threads.
///
/// # Errors
/// [`DecodeError`] when a decoding breaks an invariant; no input should bring that about.
pub fn recognise(
    session: &Session,
    graph: &Graph,
    story: &BallStory,
    possessions: &[Possession],
    params: &ValidParams,
) -> Result<Vec<Reading>, DecodeError> {
    let all = recognise_with_effort(session, graph, story, possessions, params)?;
    Ok(all.into_iter().map(|(reading, _)| reading).collect())
}

/// As [`recognise`], with how much of the search space each possession took.
///
/// # Errors
/// As [`recognise`].
pub fn recognise_with_effort(
    session: &Session,
    graph: &Graph,
    story: &BallStory,
    possessions: &[Possession],
    params: &ValidParams,
) -> Result<Vec<(Reading, Effort)>, DecodeError> {
    let templates = templates::Templates::new(graph);
    possessions
        .par_iter()
        .map(|p| {
            let memory = RefCell::new(MEMORY.take());
            let read = read_one(session, graph, story, p, params, &templates, &memory);
            MEMORY.set(memory.into_inner());
            read
        })
        .collect()
}

fn read_one(
    session: &Session,
    graph: &Graph,
    story: &BallStory,
    possession: &Possession,
    params: &ValidParams,
    templates: &templates::Templates,
    memory: &RefCell<decode::Memory>,
) -> Result<(Reading, Effort), DecodeError> {
    let mut effort = Effort::default();
    let query = Query::new(session, possession);
    let mut limits = Vec::new();
    let allowed = |row: usize, role: usize| {
        let roles = &session.players[query.players[row]].roles;
        roles.is_empty() || roles.contains(&graph.roles[role])
    };
    let assignments = roles::assignments(query.players.len(), graph.roles.len());
    let mut off_roster: Vec<bool> = assignments
        .iter()
        .map(|a| {
            let mut given = a.iter().enumerate();
            given.any(|(role, row)| row.is_some_and(|row| !allowed(row, role)))
        })
        .collect();
    if !off_roster.is_empty() && off_roster.iter().all(|off| *off) {
        limits.push("the roster allows no full set of roles; all were tried alike".to_owned());
        off_roster.fill(false);
    }
    if assignments.is_empty() {
        let text = format!(
            "{} attackers on the floor: expected 1 to {}",
            query.players.len(),
            roles::MOST
        );
        let reading = Reading {
            possession: possession.number,
            segments: vec![model::Segment {
                from_s: possession.from_s,
                to_s: possession.to_s,
                what: model::What::NotEnoughData { missing: 1.0 },
            }],
            limits: vec![text],
        };
        return Ok((reading, effort));
    }
    if query.players.len() < graph.roles.len() {
        limits.push(format!(
            "{} of {} attackers are in the data; the other roles are not judged",
            query.players.len(),
            graph.roles.len()
        ));
    }
    if query.ball.iter().all(Option::is_none) {
        limits.push("no ball in the data: passes are not checked".to_owned());
    }
    let costs = cost::Costs::new(&query, templates, params);
    let search = decode::Search::new(
        templates,
        &assignments,
        &off_roster,
        &costs,
        params,
        query.frames(),
        memory,
    );
    let scene = scene::Scene {
        query: &query,
        templates,
        assignments: &assignments,
        ball_weight: params.ball_weight,
    };
    let decoding = refine::refine(&search, &scene, params, search.best(&mut effort)?);
    let context = verdict::Context {
        graph,
        scene: &scene,
        params,
        story,
    };
    let segments = context.segments(&search, decoding, &mut effort)?;
    let reading = Reading {
        possession: possession.number,
        segments,
        limits,
    };
    Ok((reading, effort))
}

//! Which option was run, by whom in which role, on which side, how completely and how surely.
//!
//! A possession is a sentence, options are its words, the playbook graph is its grammar: connected
//! dynamic time warping finds the sentence. `recognise` never reads a file: it goes from
//! possessions and a compiled playbook to verdicts.

mod ages;
mod bounds;
mod coarse;
mod cost;
mod declared;
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
mod spots;
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

use declared::Declared;
use model::Reading;
use rayon::prelude::*;
use setdrift_events::model::{BallStory, Possession};
use setdrift_playbook::graph::Graph;
use setdrift_tracks::Session;
use std::cell::{Cell, RefCell};
use templates::Templates;

thread_local! {
    /// Some megabytes a thread, kept from one possession to the next.
    static MEMORY: Cell<decode::Memory> = Cell::default();
}

/// Reads possessions against a playbook, which is laid out once for all of them.
pub struct Recogniser<'a> {
    graph: &'a Graph,
    params: &'a ValidParams,
    templates: Templates,
    declared: [Declared; 2],
}

impl<'a> Recogniser<'a> {
    /// Prepares what depends on the playbook alone.
    #[must_use]
    pub fn new(graph: &'a Graph, params: &'a ValidParams) -> Self {
        let templates = Templates::new(graph);
        Self {
            graph,
            params,
            declared: Declared::either(&templates, params),
            templates,
        }
    }

    /// One [`Reading`] per possession, in the same order.
    ///
    /// Runs possessions in parallel; the result does not depend on the number of threads.
    ///
    /// # Errors
    /// [`DecodeError`] when a decoding breaks an invariant; no input should bring that about.
    pub fn read(
        &self,
        session: &Session,
        story: &BallStory,
        possessions: &[Possession],
    ) -> Result<Vec<Reading>, DecodeError> {
        let all = self.read_with_effort(session, story, possessions)?;
        Ok(all.into_iter().map(|(reading, _)| reading).collect())
    }

    /// As [`Self::read`], with how much of the search space each possession took.
    ///
    /// # Errors
    /// As [`Self::read`].
    pub fn read_with_effort(
        &self,
        session: &Session,
        story: &BallStory,
        possessions: &[Possession],
    ) -> Result<Vec<(Reading, Effort)>, DecodeError> {
        possessions
            .par_iter()
            .map(|possession| {
                let memory = RefCell::new(MEMORY.take());
                let read = self.read_one(session, story, possession, &memory);
                MEMORY.set(memory.into_inner());
                read
            })
            .collect()
    }

    fn read_one(
        &self,
        session: &Session,
        story: &BallStory,
        possession: &Possession,
        memory: &RefCell<decode::Memory>,
    ) -> Result<(Reading, Effort), DecodeError> {
        let Self {
            graph,
            params,
            templates,
            declared,
        } = self;
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
        if !query.has_ball() {
            limits.push("no ball in the data: passes are not checked".to_owned());
        }
        let costs = cost::Costs::new(&query, declared);
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
}

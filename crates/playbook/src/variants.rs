//! The branches of a step: who of "2 or 3", and which conditions hold as it begins.

use crate::book::Spanned;
use crate::graph::RoleIx;
use crate::plan::{Said, State};
use crate::sentence::{Guard, Sentence, Verb, Who};

/// Most ways one step may branch.
const MAX_VARIANTS: usize = 8;
/// How near to a place counts as standing there, metres.
const STANDS: f64 = 1.0;

/// All ways to run a step from a state, the first written first; at most [`MAX_VARIANTS`].
pub(crate) fn variants<'a>(step: &'a [Spanned<Sentence>], state: &State) -> Vec<Vec<Said<'a>>> {
    let everyone: Vec<RoleIx> = (0..state.places.len()).collect();
    let mut all: Vec<Vec<Said<'a>>> = vec![Vec::new()];
    for words in step {
        let s = &words.value;
        if !s.guards.iter().all(|g| holds(g, state)) {
            continue;
        }
        let whos: Vec<Vec<RoleIx>> = match &s.who {
            Who::All(r) => vec![r.clone()],
            Who::OneOf(r) => r.iter().map(|x| vec![*x]).collect(),
            Who::Everyone => vec![everyone.clone()],
        };
        let tos: Vec<Option<RoleIx>> = match &s.verb {
            Verb::Pass { to, .. } | Verb::HandOff(to) => to.iter().map(|r| Some(*r)).collect(),
            _ => vec![None],
        };
        let mut next = Vec::new();
        for head in &all {
            for who in &whos {
                for to in &tos {
                    let mut v = head.clone();
                    v.push(Said {
                        words,
                        who: who.clone(),
                        to: *to,
                    });
                    next.push(v);
                }
            }
        }
        next.truncate(MAX_VARIANTS);
        all = next;
    }
    all
}

fn holds(g: &Guard, state: &State) -> bool {
    let so = match &g.at {
        Some(p) => state.places[g.role].distance(p.resolve(&state.places)) <= STANDS,
        None => state.holder == Some(g.role),
    };
    so != g.unless
}

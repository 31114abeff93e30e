//! The relaxation over a stretch: with each word one state, then over parts of what that leaves.

use crate::{
    decode::{Key, Memory, Search, breaks},
    finer::Finer,
    known::Known,
    parts::Parts,
    prune::Stretch,
    relax::{Words, runs},
    tables::Tables,
};
use std::ops::Range;

impl Search<'_> {
    /// Leaves out more words, and more frames of those left, by the relaxation over parts of words.
    pub(crate) fn closer(
        &self,
        keys: Vec<Key>,
        windows: &[Range<usize>],
        most: f32,
        stretch: &Stretch,
        memory: &mut Memory,
    ) -> (Vec<Key>, Known) {
        let mut known = Known::none(most);
        if keys.is_empty() {
            return (keys, known);
        }
        let frames = stretch.frames.len();
        let parts = Parts::new(&keys, |template| self.cuts.shortest(template).to_vec());
        let tables = &mut memory.parts;
        let mut finer = Finer::new(
            self.bounds.bodies(),
            self.templates,
            &self.cuts,
            stretch.frames.clone(),
            &mut memory.finer,
        );
        tables.lay_out(parts.of.len(), frames, |state, row| {
            let (key, part) = parts.of[state];
            let (key, window) = (keys[key], windows[key].clone());
            row.fill(f32::INFINITY);
            let assignment = &self.assignments[key.assignment];
            let at = (key.template, part);
            let row = &mut row[window.clone()];
            finer.part(key.hand as usize, assignment, at, window, row);
        });
        self.relax(&keys, &parts, stretch, true, tables);
        let reached = tables.windows(most);
        let mut left = Vec::new();
        for (key, word) in keys.iter().enumerate() {
            let states = parts.states(key);
            let mut windows = states.iter().map(|state| reached[*state].clone());
            let Some(mut span) = windows.next().flatten() else {
                continue;
            };
            span.end = windows.flatten().map(|w| w.end).fold(span.end, usize::max);
            known.first.push(known.rest.len());
            for t in span.clone() {
                let rest = tables.rest(t);
                known.rest.extend(states.iter().map(|state| rest[*state]));
            }
            known.windows.push(span);
            left.push(*word);
        }
        (left, known)
    }

    /// The relaxation with each word one state.
    pub(crate) fn relax_whole(
        &self,
        keys: &[Key],
        stretch: &Stretch,
        tables: &mut Tables,
    ) -> Parts {
        let fastest = self.params.fastest as usize;
        let parts = Parts::new(keys, |template| {
            vec![self.templates.list[template].len.div_ceil(fastest).max(1)]
        });
        tables.lay_out(keys.len(), stretch.frames.len(), |state, row| {
            let key = keys[parts.of[state].0];
            let assignment = &self.assignments[key.assignment];
            let frames = stretch.frames.clone();
            self.bounds
                .word(key.hand as usize, assignment, key.template, frames, row);
        });
        self.relax(keys, &parts, stretch, false, tables);
        parts
    }

    /// The relaxation over states, whose bounds are laid out.
    fn relax(
        &self,
        keys: &[Key],
        parts: &Parts,
        stretch: &Stretch,
        tell_rest: bool,
        tables: &mut Tables,
    ) {
        let open = |yes: bool, price: f32| if yes { price } else { f32::INFINITY };
        let of = || parts.of.iter().map(|(key, part)| (keys[*key], *part));
        Words {
            frames: stretch.frames.len(),
            entry: of()
                .map(|(key, part)| open(part == 0, self.entry(key) as f32))
                .collect(),
            groups: &parts.groups,
            break_off: of()
                .map(|(key, _)| {
                    let breaks = breaks(self.templates.list[key.template].kind);
                    open(breaks, self.params.break_off as f32)
                })
                .collect(),
            ending: (0..parts.of.len())
                .map(|state| open(parts.is_last(state), 0.0))
                .collect(),
            edges: runs(parts.edges(&self.edges(keys))),
            off: self.params.off_script as f32,
            inside: stretch.inside,
            tell_rest,
        }
        .relax(tables);
    }
}

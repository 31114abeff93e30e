//! The relaxation over a stretch: with each word one state, then over parts of what that leaves.

use crate::{
    decode::{Key, Memory, Search, breaks},
    finer::Finer,
    parts::{Parts, Stay},
    prune::Stretch,
    relax::{Words, runs},
    tables::Tables,
};
use std::ops::Range;

impl Search<'_> {
    /// The relaxation over parts of words, each in its window of frames.
    pub(crate) fn closer(
        &self,
        keys: &[Key],
        windows: &[Range<usize>],
        stretch: &Stretch,
        memory: &mut Memory,
    ) -> Parts {
        let parts = Parts::new(keys, |template| self.cuts.stays(template).to_vec());
        let mut finer = Finer::new(
            self.bounds.bodies(),
            self.templates,
            &self.cuts,
            stretch.frames.clone(),
            &mut memory.finer,
        );
        let tables = &mut memory.parts;
        tables.lay_out(&parts, stretch.frames.len(), |word, part, row| {
            let (key, window) = (keys[word], windows[word].clone());
            row.fill(f32::INFINITY);
            let assignment = &self.assignments[key.assignment];
            let at = (key.template, part);
            let row = &mut row[window.clone()];
            finer.part(key.hand as usize, assignment, at, window, row);
        });
        self.relax(keys, &parts, stretch, tables);
        parts
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
            vec![Stay {
                shortest: self.templates.list[template].shortest(fastest),
                longest: None,
            }]
        });
        tables.lay_out(&parts, stretch.frames.len(), |word, _, row| {
            let key = keys[word];
            let assignment = &self.assignments[key.assignment];
            let frames = stretch.frames.clone();
            self.bounds
                .word(key.hand as usize, assignment, key.template, frames, row);
        });
        self.relax(keys, &parts, stretch, tables);
        parts
    }

    /// The relaxation over states, whose bounds are laid out.
    fn relax(&self, keys: &[Key], parts: &Parts, stretch: &Stretch, tables: &mut Tables) {
        let per_word = |price: &dyn Fn(Key) -> f32| {
            let of = |word: &Option<usize>| word.map_or(f32::INFINITY, |word| price(keys[word]));
            parts.words.iter().map(of).collect()
        };
        let edges = self.edges(keys).into_iter();
        Words {
            frames: stretch.frames.len(),
            blocks: &parts.blocks,
            entry: per_word(&|key| self.entry(key) as f32),
            break_off: per_word(
                &|key| match breaks(self.templates.list[key.template].kind) {
                    true => self.params.break_off as f32,
                    false => f32::INFINITY,
                },
            ),
            edges: runs(
                edges
                    .map(|(from, to)| (parts.at(from), parts.at(to)))
                    .collect(),
            ),
            off: self.params.off_script as f32,
            inside: stretch.inside,
        }
        .relax(tables);
    }
}

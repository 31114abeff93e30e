//! The best explanation of a possession: connected dynamic time warping over the playbook's
//! graph, with roles and hand as part of the search.

use crate::{
    cost::{Bounds, CostTable},
    model::Hand,
    params::ValidParams,
    roles::Assignment,
    templates::{Kind, Templates},
};
use setdrift_warp::connected::{
    Decoder, Decoding, Filler, Grammar, SegmentKind, Settings, Tempo, Word, WordId,
};

/// A template under one hypothesis of hand and roles.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Key {
    /// Index into [`Templates::list`].
    pub template: usize,
    /// Hand it is run to.
    pub hand: Hand,
    /// Index into the assignments.
    pub assignment: usize,
}

/// A decoded stretch, in query frames.
#[derive(Debug, Clone)]
pub struct Found {
    /// The word, or `None` for off script.
    pub key: Option<Key>,
    /// First query frame.
    pub start: usize,
    /// One past the last query frame.
    pub end: usize,
    /// Whether the template's last frame was reached.
    pub complete: bool,
    /// Sum of local costs.
    pub cost: f64,
    /// Reference frame per query frame, within the template.
    pub alignment: Vec<u32>,
}

/// One possession's search space: costs, and the words that can matter.
pub struct Search<'a> {
    templates: &'a Templates,
    assignments: &'a [Assignment],
    /// Per assignment, whether it gives someone a role that the roster does not.
    off_roster: &'a [bool],
    table: &'a CostTable,
    params: &'a ValidParams,
    /// Words kept, in ascending order.
    keys: Vec<Key>,
    frames: usize,
}

/// Why a decoding failed: a broken invariant, reported and not hidden.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("decoding possession failed: {0}")]
pub struct DecodeError(String);

impl<'a> Search<'a> {
    /// Chooses the words that can be part of a best explanation of a query of `frames` frames.
    ///
    /// Left out are words that no explanation can profit from: passing through one costs, by the
    /// bound, more than going off script for the time and entering its successor afresh; breaking
    /// it off gains less than the price of breaking. The result is therefore exact.
    pub fn new(
        templates: &'a Templates,
        assignments: &'a [Assignment],
        off_roster: &'a [bool],
        table: &'a CostTable,
        params: &'a ValidParams,
        frames: usize,
    ) -> Self {
        let bounds = Bounds::new(table, templates);
        let mut keys = Vec::new();
        let mut row = vec![0.0_f32; frames];
        for (template, t) in templates.list.iter().enumerate() {
            for hand in [Hand::Right, Hand::Left] {
                for (assignment, a) in assignments.iter().enumerate() {
                    bounds.fill(hand as usize, a, template, &mut row);
                    if can_matter(&row, t.len, params) {
                        keys.push(Key {
                            template,
                            hand,
                            assignment,
                        });
                    }
                }
            }
        }
        Self {
            templates,
            assignments,
            off_roster,
            table,
            params,
            keys,
            frames,
        }
    }

    /// The best explanation of the whole query.
    pub fn best(&self) -> Result<Vec<Found>, DecodeError> {
        Ok(self.decode(0, self.frames, &|_| true, false)?.1)
    }

    /// The best explanation of `start..end` by words that `allowed` accepts, as if it came from
    /// the middle of a possession: beginning and ending inside a word is free.
    pub fn best_without(
        &self,
        start: usize,
        end: usize,
        allowed: &dyn Fn(Key) -> bool,
    ) -> Result<Vec<Found>, DecodeError> {
        Ok(self.decode(start, end, allowed, true)?.1)
    }

    /// Local cost of each frame of a decoded word.
    pub fn costs(&self, found: &Found) -> Vec<f64> {
        let Some(key) = found.key else {
            return Vec::new();
        };
        let t = &self.templates.list[key.template];
        let mut row = vec![0.0; t.len];
        found
            .alignment
            .iter()
            .enumerate()
            .map(|(i, reference)| {
                let assignment = &self.assignments[key.assignment];
                let hand = key.hand as usize;
                self.table
                    .fill(found.start + i, hand, assignment, t.first, &mut row);
                f64::from(row[*reference as usize])
            })
            .collect()
    }

    /// Total cost with prices, and the parts.
    fn decode(
        &self,
        start: usize,
        end: usize,
        allowed: &dyn Fn(Key) -> bool,
        inside: bool,
    ) -> Result<(f64, Vec<Found>), DecodeError> {
        let keys: Vec<Key> = self.keys.iter().copied().filter(|k| allowed(*k)).collect();
        let off = self.params.off_script as f32;
        if keys.is_empty() {
            let cost = f64::from(off) * (end - start) as f64;
            let all = Found {
                key: None,
                start,
                end,
                complete: true,
                cost,
                alignment: Vec::new(),
            };
            return Ok((cost, vec![all]));
        }
        let grammar = self.grammar(&keys, inside);
        let grammar = grammar.check().map_err(|e| DecodeError(e.to_string()))?;
        let settings = Settings {
            filler: Some(Filler::constant(off)),
            ..Settings::default()
        };
        let mut costs = |query: usize, word: WordId, out: &mut [f32]| {
            let key = keys[word.0];
            let t = &self.templates.list[key.template];
            let assignment = &self.assignments[key.assignment];
            self.table
                .fill(start + query, key.hand as usize, assignment, t.first, out);
        };
        let decoding = Decoder::new(&grammar)
            .map_err(|e| DecodeError(e.to_string()))?
            .decode(end - start, &mut costs, &settings)
            .map_err(|e| DecodeError(e.to_string()))?;
        // With filler everywhere there is always an explanation.
        let decoding = decoding.ok_or_else(|| DecodeError("no explanation".to_owned()))?;
        Ok((decoding.total, found(&decoding, &keys, start)))
    }

    fn grammar(&self, keys: &[Key], inside: bool) -> Grammar {
        let p = self.params;
        let tempo = Tempo {
            max_skip: p.fastest as usize - 1,
            max_stay: Some(p.slowest as usize - 1),
        };
        let mut grammar = Grammar::new();
        for key in keys {
            let t = &self.templates.list[key.template];
            let entry = self.entry(*key) as f32;
            let mut word = Word::new(t.len);
            word.tempo = tempo;
            word.wait_at_end = true;
            word.from_start = Some(if inside { 0.0 } else { entry });
            word.from_filler = Some(entry);
            if !matches!(t.kind, Kind::Set(_)) {
                word.broken = Some(p.break_off as f32);
                word.broken_at_end = Some(if inside { 0.0 } else { p.break_off as f32 });
            }
            grammar.word(word);
        }
        let find = |template, hand, assignment: &Assignment| {
            let assignment = self.assignments.binary_search(assignment).ok()?;
            keys.binary_search(&Key {
                template,
                hand,
                assignment,
            })
            .ok()
            .map(WordId)
        };
        for (ix, key) in keys.iter().enumerate() {
            for link in self
                .templates
                .links
                .iter()
                .filter(|l| l.from == key.template)
            {
                let old = &self.assignments[key.assignment];
                let new = match &link.refill {
                    Some(r) => r.iter().map(|&o| old.get(o).copied().flatten()).collect(),
                    None => old.clone(),
                };
                if let Some(to) = find(link.to, key.hand, &new) {
                    grammar.edge(WordId(ix), to, 0.0);
                }
            }
        }
        grammar
    }

    /// Price of beginning a word afresh. Roles refilled at a reset come by an edge, and cost nothing.
    fn entry(&self, key: Key) -> f64 {
        let roster = if self.off_roster[key.assignment] {
            self.params.off_roster
        } else {
            0.0
        };
        roster
            + match self.templates.list[key.template].kind {
                Kind::Set(_) => self.params.entry_set,
                Kind::Step(_) if self.templates.begins[key.template] => self.params.entry,
                Kind::Step(_) => self.params.entry_mid_series,
            }
    }
}

fn can_matter(bound: &[f32], len: usize, params: &ValidParams) -> bool {
    let off = params.off_script;
    let shortest = len.div_ceil(params.fastest as usize).max(1);
    let bridge = params.entry_mid_series.max(params.entry) + params.off_roster;
    // Kadane's scan for the best stretch, and a sliding window of the shortest full run.
    let (mut run, mut best) = (0.0_f64, 0.0_f64);
    let mut window = 0.0_f64;
    let mut best_window = f64::NEG_INFINITY;
    for (t, b) in bound.iter().enumerate() {
        let gain = off - f64::from(*b);
        run = (run + gain).max(0.0);
        best = best.max(run);
        window += gain;
        if t >= shortest {
            window -= off - f64::from(bound[t - shortest]);
        }
        if t + 1 >= shortest {
            best_window = best_window.max(window);
        }
    }
    best > params.break_off || best_window > -bridge
}

fn found(decoding: &Decoding, keys: &[Key], offset: usize) -> Vec<Found> {
    decoding
        .segments
        .iter()
        .map(|s| Found {
            key: match s.kind {
                SegmentKind::Word(w) => Some(keys[w.0]),
                SegmentKind::Filler => None,
            },
            start: offset + s.start,
            end: offset + s.end,
            complete: s.complete,
            cost: s.cost,
            alignment: s.alignment.clone(),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        Params, Query,
        roles::assignments,
        testing::{CLEARED, CUT, FILLED, SET, graph, play, session},
    };
    use proptest::prelude::*;
    use setdrift_court::AttackPoint;

    fn all_keys(templates: &Templates, assignments: usize) -> Vec<Key> {
        let mut keys = Vec::new();
        for template in 0..templates.list.len() {
            for hand in [Hand::Right, Hand::Left] {
                keys.extend((0..assignments).map(|assignment| Key {
                    template,
                    hand,
                    assignment,
                }));
            }
        }
        keys
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]

        /// Leaving words out by the bound changes nothing: the total is that of all words.
        #[test]
        fn pruning_is_exact(
            clear in any::<bool>(),
            tempo in 0.8_f64..4.0,
            shifts in prop::collection::vec((-2.5_f64..2.5, -2.5_f64..2.5), 4),
            wobble in 0.0_f64..2.5,
            entry in 0.0_f64..8.0,
            break_off in 0.0_f64..6.0,
        ) {
            let last = if clear { CLEARED } else { FILLED };
            let mut frames = play(&[SET, CUT, last, SET], &[tempo, tempo, tempo]);
            for (f, row) in frames.iter_mut().enumerate() {
                for (p, (dx, dy)) in row.iter_mut().zip(&shifts) {
                    let w = wobble * (f as f64 * 0.7).sin();
                    *p = p.map(|p| AttackPoint::new(p.x + dx + w, p.y + dy - w));
                }
            }
            let graph = graph();
            let templates = Templates::new(&graph);
            let params = Params { entry, break_off, ..Params::default() }.check().unwrap();
            let (session, possession) = session(&frames, [1, 0, 2]);
            let free = vec![false; 6];
            let query = Query::new(&session, &possession);
            let assignments = assignments(3, 3);
            let table = CostTable::new(&query, &templates, &params);
            let pruned =
                Search::new(&templates, &assignments, &free, &table, &params, query.frames());
            let mut full =
                Search::new(&templates, &assignments, &free, &table, &params, query.frames());
            full.keys = all_keys(&templates, assignments.len());
            prop_assert!(pruned.keys.len() <= full.keys.len());
            let (a, b) = (
                pruned.decode(0, query.frames(), &|_| true, false).unwrap().0,
                full.decode(0, query.frames(), &|_| true, false).unwrap().0,
            );
            prop_assert!((a - b).abs() < 1e-3, "{a} with, {b} without pruning");
        }
    }
}

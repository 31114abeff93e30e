//! The best explanation of a possession: connected dynamic time warping over the playbook's
//! graph, with roles and hand as part of the search.

use crate::{
    bounds::Bounds,
    cost::Costs,
    gain::Prices,
    model::Hand,
    params::ValidParams,
    parts::Parts,
    prune::{Stretch, Survivors, at_most, prices, survivors},
    relax::{Tables, Words, runs},
    roles::Assignment,
    templates::{Kind, Templates},
};
use setdrift_warp::connected::{
    Decoder, Decoding, Filler, FrameCosts, Grammar, SegmentKind, Settings, Tempo, Word, WordId,
};
use std::{cell::RefCell, ops::Range};

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

/// One possession's search space.
pub struct Search<'a> {
    templates: &'a Templates,
    assignments: &'a [Assignment],
    /// Per assignment, whether it gives someone a role that the roster does not.
    off_roster: &'a [bool],
    costs: &'a Costs,
    bounds: Bounds,
    params: &'a ValidParams,
    frames: usize,
    tables: &'a RefCell<Tables>,
    /// Per template, what may follow it.
    follows: Vec<Vec<Follow>>,
}

/// A template, and where roles are refilled on the way the new assignment of each old one.
type Follow = (usize, Option<Vec<Option<usize>>>);

/// How much of the search space was looked at.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Effort {
    /// Words there are: templates × hands × assignments.
    pub words: usize,
    /// Partial assignments whose bound was looked at.
    pub looked: usize,
    /// Words that the bounds over roles, and what leads to them and follows, left.
    pub survived: usize,
    /// Words that the bounds over the whole possession left.
    pub decoded: usize,
    /// Cells of all words: reference frames × query frames.
    pub cells: usize,
    /// Cells whose cost was asked for.
    pub filled: usize,
}

impl std::ops::AddAssign for Effort {
    fn add_assign(&mut self, more: Self) {
        self.words += more.words;
        self.looked += more.looked;
        self.survived += more.survived;
        self.decoded += more.decoded;
        self.cells += more.cells;
        self.filled += more.filled;
    }
}

/// Why a decoding failed: a broken invariant, reported and not hidden.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("decoding possession failed: {0}")]
pub struct DecodeError(String);

/// Words decoded first, for a bound on the cost of the best explanation.
const FIRST: usize = 16;

fn follows(templates: &Templates, assignments: &[Assignment]) -> Vec<Vec<Follow>> {
    let mut follows = vec![Vec::new(); templates.list.len()];
    for link in &templates.links {
        let refilled = link.refill.as_ref().map(|refill| {
            let new = |old: &Assignment| -> Option<usize> {
                let roles = refill.iter().map(|&o| old.get(o).copied().flatten());
                assignments.binary_search(&roles.collect()).ok()
            };
            assignments.iter().map(new).collect()
        });
        follows[link.from].push((link.to, refilled));
    }
    follows
}

impl<'a> Search<'a> {
    /// Prepares the search over a query of `frames` frames.
    pub fn new(
        templates: &'a Templates,
        assignments: &'a [Assignment],
        off_roster: &'a [bool],
        costs: &'a Costs,
        params: &'a ValidParams,
        frames: usize,
        tables: &'a RefCell<Tables>,
    ) -> Self {
        Self {
            templates,
            assignments,
            off_roster,
            costs,
            bounds: Bounds::new(
                costs,
                templates,
                params.fastest as usize,
                std::mem::take(&mut tables.borrow_mut().kept),
            ),
            params,
            frames,
            tables,
            follows: follows(templates, assignments),
        }
    }

    /// The best explanation of the whole query.
    pub fn best(&self, effort: &mut Effort) -> Result<Vec<Found>, DecodeError> {
        let whole = Stretch {
            frames: 0..self.frames,
            inside: false,
        };
        Ok(self.solve(&whole, &|_| true, effort)?.1)
    }

    /// The best explanation of some frames by templates that `allowed` accepts, as if they came
    /// from the middle of a possession: beginning and ending with them is free.
    pub fn best_without(
        &self,
        frames: Range<usize>,
        allowed: &dyn Fn(usize) -> bool,
        effort: &mut Effort,
    ) -> Result<Vec<Found>, DecodeError> {
        let stretch = Stretch {
            frames,
            inside: true,
        };
        Ok(self.solve(&stretch, allowed, effort)?.1)
    }

    /// The best explanation and its total cost, prices included.
    ///
    /// Words are left out in five rounds, none of which can change the answer: by bounds over
    /// roles ([`survivors`]); by what leads to them and follows ([`Self::led_to`]); by the relaxation
    /// over the stretch ([`Words::relax`]), against the cost of the best explanation by the few most
    /// promising words; by the same over parts of words; and by the decoder itself.
    fn solve(
        &self,
        stretch: &Stretch,
        allowed: &dyn Fn(usize) -> bool,
        effort: &mut Effort,
    ) -> Result<(f64, Vec<Found>), DecodeError> {
        let (assignments, params) = (self.assignments, self.params);
        let found = survivors(
            &self.bounds,
            self.templates,
            assignments,
            params,
            stretch,
            allowed,
        );
        let frames = stretch.frames.len();
        let lens = self.templates.list.iter().enumerate();
        let lens = lens.filter(|(i, _)| allowed(*i)).map(|(_, t)| t.len);
        let hypotheses = 2 * assignments.len();
        effort.words += hypotheses * lens.clone().count();
        effort.cells += hypotheses * frames * lens.sum::<usize>();
        effort.looked += found.looked;
        let found = self.led_to(found, stretch);
        effort.survived += found.keys.len();
        if found.keys.len() <= FIRST {
            effort.decoded += found.keys.len();
            return self.decode(&found.keys, None, stretch, effort);
        }
        let tables = &mut *self.tables.borrow_mut();
        self.relax_whole(&found, stretch, tables);
        let mut order: Vec<(f32, usize)> = tables.least().into_iter().zip(0..).collect();
        order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let mut first: Vec<usize> = order[..FIRST].iter().map(|(_, word)| *word).collect();
        first.sort_unstable();
        let known = Known::of_whole(&first, frames, tables);
        let first: Vec<Key> = first.into_iter().map(|word| found.keys[word]).collect();
        let good = self.decode(&first, Some(known), stretch, effort)?;
        let most = good.0 as f32;
        let windows = tables.windows(most);
        let left = found.keys.iter().zip(windows);
        let (keys, windows): (Vec<Key>, Vec<_>) = left.filter_map(|(k, w)| Some((*k, w?))).unzip();
        let all_known = |keys: &[Key]| keys.iter().all(|k| first.binary_search(k).is_ok());
        if all_known(&keys) {
            return Ok(good);
        }
        let (keys, known) = self.closer(keys, &windows, most, stretch, tables);
        effort.decoded += keys.len();
        if all_known(&keys) {
            return Ok(good);
        }
        self.decode(&keys, Some(known), stretch, effort)
    }

    /// Leaves out words that cannot matter because of what is left to lead to them and to follow.
    fn led_to(&self, found: Survivors, stretch: &Stretch) -> Survivors {
        let keys = &found.keys;
        let edges = self.edges(keys);
        let prices: Vec<Prices> = (0..self.templates.list.len())
            .map(|template| prices(self.templates, self.params, template, stretch.inside))
            .collect();
        let entry: Vec<f32> = keys.iter().map(|key| self.entry(*key) as f32).collect();
        let mut left = vec![true; keys.len()];
        let mut count = 0;
        while count != left.iter().filter(|left| **left).count() {
            count = left.iter().filter(|left| **left).count();
            let alone = |(key, entry): (&Key, &f32)| Prices {
                entry: *entry,
                follows: false,
                saved: 0.0,
                ..prices[key.template]
            };
            let mut now: Vec<Prices> = keys.iter().zip(&entry).map(alone).collect();
            for (from, to) in &edges {
                if left[*from] && left[*to] {
                    now[*to].follows = true;
                    now[*from].saved = now[*from].saved.max(entry[*to]);
                }
            }
            for ((left, gain), prices) in left.iter_mut().zip(&found.gains).zip(&now) {
                *left = *left && gain.matters(prices);
            }
        }
        let frames = stretch.frames.len();
        let rows = found.bounds.chunks_exact(frames);
        let kept = rows.zip(&left).filter(|(_, left)| **left);
        Survivors {
            bounds: kept.flat_map(|(row, _)| row).copied().collect(),
            keys: keep(&found.keys, &left),
            gains: keep(&found.gains, &left),
            looked: found.looked,
        }
    }

    /// Leaves out more words, and more frames of those left, by the relaxation over parts of words.
    fn closer(
        &self,
        keys: Vec<Key>,
        windows: &[Range<usize>],
        most: f32,
        stretch: &Stretch,
        tables: &mut Tables,
    ) -> (Vec<Key>, Known) {
        let frames = stretch.frames.len();
        let parts = Parts::new(&keys, |template| self.bounds.shortest(template).to_vec());
        let start = stretch.frames.start;
        tables.lay_out(parts.of.len(), frames, |state, row| {
            let (key, part) = parts.of[state];
            let (key, window) = (keys[key], windows[key].clone());
            row.fill(f32::INFINITY);
            let within = start + window.start..start + window.end;
            let assignment = &self.assignments[key.assignment];
            let at = (key.template, part);
            let row = &mut row[window];
            self.bounds
                .part(key.hand as usize, assignment, at, within, row);
        });
        self.relax(&keys, &parts, stretch, tables);
        let mut spans: Vec<Option<Range<usize>>> = vec![None; keys.len()];
        for ((key, part), window) in parts.of.iter().zip(tables.windows(most)) {
            let Some(window) = window else { continue };
            match &mut spans[*key] {
                None if *part == 0 => spans[*key] = Some(window),
                Some(span) => span.end = span.end.max(window.end),
                None => {}
            }
        }
        let mut known = Known {
            most,
            whole: false,
            windows: Vec::new(),
            rest: Vec::new(),
            first: Vec::new(),
        };
        let mut left = Vec::new();
        for (key, span) in spans.into_iter().enumerate() {
            let Some(span) = span else { continue };
            let states = parts.states(key);
            known.first.push(known.rest.len());
            for t in span.clone() {
                let rest = tables.rest(t);
                known.rest.extend(states.iter().map(|state| rest[*state]));
            }
            known.windows.push(span);
            left.push(keys[key]);
        }
        (left, known)
    }

    /// The relaxation with each word one state.
    fn relax_whole(&self, found: &Survivors, stretch: &Stretch, tables: &mut Tables) {
        let (keys, frames) = (&found.keys, stretch.frames.len());
        tables.lay_out(keys.len(), frames, |word, row| {
            row.copy_from_slice(&found.bounds[word * frames..][..frames]);
        });
        let fastest = self.params.fastest as usize;
        let parts = Parts::new(keys, |template| {
            vec![self.templates.list[template].len.div_ceil(fastest).max(1)]
        });
        self.relax(keys, &parts, stretch, tables);
    }

    /// The relaxation over states, whose bounds are laid out.
    fn relax(&self, keys: &[Key], parts: &Parts, stretch: &Stretch, tables: &mut Tables) {
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
        }
        .relax(tables);
    }

    /// Local cost of each frame of a decoded word.
    pub fn costs(&self, found: &Found) -> Vec<f64> {
        let Some(key) = found.key else {
            return Vec::new();
        };
        let first = self.templates.list[key.template].first;
        let assignment = &self.assignments[key.assignment];
        let cost = |(frame, reference): (usize, &u32)| {
            let mut cost = [0.0];
            let (hand, row) = (key.hand as usize, first + *reference as usize);
            self.costs.fill(frame, hand, assignment, row, &mut cost);
            f64::from(cost[0])
        };
        (found.start..).zip(&found.alignment).map(cost).collect()
    }

    /// Total cost with prices, and the parts. What is `known` changes the work, not the answer.
    fn decode(
        &self,
        keys: &[Key],
        known: Option<Known>,
        stretch: &Stretch,
        effort: &mut Effort,
    ) -> Result<(f64, Vec<Found>), DecodeError> {
        let off = self.params.off_script as f32;
        let (start, frames) = (stretch.frames.start, stretch.frames.len());
        if keys.is_empty() {
            let cost = f64::from(off) * frames as f64;
            let all = Found {
                key: None,
                start,
                end: stretch.frames.end,
                complete: true,
                cost,
                alignment: Vec::new(),
            };
            return Ok((cost, vec![all]));
        }
        let grammar = self.grammar(keys, stretch.inside);
        let grammar = grammar.check().map_err(|e| DecodeError(e.to_string()))?;
        let settings = Settings {
            filler: Some(Filler::constant(off)),
            abandon_above: known.as_ref().map(|known| at_most(known.most)),
        };
        let mut costs = WordCosts {
            search: self,
            keys,
            start,
            known,
            filled: 0,
        };
        let decoding = Decoder::new(&grammar)
            .map_err(|e| DecodeError(e.to_string()))?
            .decode(frames, &mut costs, &settings)
            .map_err(|e| DecodeError(e.to_string()))?;
        effort.filled += costs.filled;
        // With filler everywhere there is always an explanation.
        let decoding = decoding.ok_or_else(|| DecodeError("no explanation".to_owned()))?;
        Ok((decoding.total, found(&decoding, keys, start)))
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
            if breaks(t.kind) {
                word.broken = Some(p.break_off as f32);
                word.broken_at_end = Some(if inside { 0.0 } else { p.break_off as f32 });
            }
            grammar.word(word);
        }
        for (from, to) in self.edges(keys) {
            grammar.edge(WordId(from), WordId(to), 0.0);
        }
        grammar
    }

    /// Which of these words, in ascending order, may follow which, roles refilled on the way where the
    /// playbook says so.
    fn edges(&self, keys: &[Key]) -> Vec<(usize, usize)> {
        let all = self.assignments.len();
        let place = |key: &Key| (key.template * 2 + key.hand as usize) * all + key.assignment;
        let mut at = vec![usize::MAX; self.templates.list.len() * 2 * all];
        for (index, key) in keys.iter().enumerate() {
            at[place(key)] = index;
        }
        let mut edges = Vec::new();
        for (from, key) in keys.iter().enumerate() {
            for (to, refilled) in &self.follows[key.template] {
                let assignment = match refilled {
                    Some(refilled) => refilled[key.assignment],
                    None => Some(key.assignment),
                };
                let to = assignment.map(|assignment| {
                    at[place(&Key {
                        template: *to,
                        hand: key.hand,
                        assignment,
                    })]
                });
                edges.extend(to.filter(|to| *to != usize::MAX).map(|to| (from, to)));
            }
        }
        edges
    }

    /// Price of beginning a word afresh. Roles refilled at a reset come by an edge, and cost nothing.
    fn entry(&self, key: Key) -> f64 {
        let roster = if self.off_roster[key.assignment] {
            self.params.off_roster
        } else {
            0.0
        };
        roster + crate::prune::entry(self.templates, self.params, key.template)
    }
}

impl Drop for Search<'_> {
    fn drop(&mut self) {
        self.tables.borrow_mut().kept = self.bounds.take_table();
    }
}

/// What a relaxation and an explanation at hand say of the words left.
struct Known {
    /// Cost of the explanation at hand.
    most: f32,
    /// Per word, the frames it may hold.
    windows: Vec<Range<usize>>,
    /// Whether what follows is of words, each one state, and not of their parts.
    whole: bool,
    /// `[frame of its window][part]` of each word: the least cost of the frames after.
    rest: Vec<f32>,
    /// Per word, where it begins in `rest`.
    first: Vec<usize>,
}

impl Known {
    /// Of some words, what the relaxation over whole words says, without an explanation at hand.
    fn of_whole(words: &[usize], frames: usize, tables: &Tables) -> Self {
        let rest = |word: &usize| {
            (0..frames)
                .map(|t| tables.rest(t)[*word])
                .collect::<Vec<_>>()
        };
        Self {
            most: f32::INFINITY,
            whole: true,
            windows: vec![0..frames; words.len()],
            rest: words.iter().flat_map(rest).collect(),
            first: (0..words.len()).map(|at| at * frames).collect(),
        }
    }
}

/// What the decoder asks of words.
struct WordCosts<'a> {
    search: &'a Search<'a>,
    keys: &'a [Key],
    /// First query frame of the stretch.
    start: usize,
    known: Option<Known>,
    filled: usize,
}

impl FrameCosts for WordCosts<'_> {
    fn fill(&mut self, query: usize, word: WordId, out: &mut [f32]) {
        let known = self.known.as_ref();
        if known.is_some_and(|known| !known.windows[word.0].contains(&query)) {
            out.fill(f32::INFINITY);
            return;
        }
        self.filled += out.len();
        let key = self.keys[word.0];
        let t = &self.search.templates.list[key.template];
        let assignment = &self.search.assignments[key.assignment];
        let hand = key.hand as usize;
        let costs = self.search.costs;
        costs.fill(self.start + query, hand, assignment, t.first, out);
    }

    fn entered(&mut self, query: usize, word: WordId) -> Option<f32> {
        let known = self.known.as_ref()?;
        (!known.windows[word.0].contains(&query)).then_some(f32::INFINITY)
    }

    fn rest(&mut self, query: usize, word: WordId, least: &mut [f32]) -> bool {
        let Some(known) = &self.known else {
            return false;
        };
        let window = &known.windows[word.0];
        if !window.contains(&query) {
            least.fill(f32::INFINITY);
            return true;
        }
        let rest = &known.rest[known.first[word.0]..];
        if known.whole {
            least.fill(rest[query - window.start]);
            return true;
        }
        let parts = self.search.bounds.parts(self.keys[word.0].template);
        let rest = &rest[(query - window.start) * parts.len()..];
        for (rows, rest) in parts.iter().zip(rest) {
            least[rows.clone()].fill(*rest);
        }
        true
    }
}

/// Of some things, those that are left.
fn keep<T: Copy>(of: &[T], left: &[bool]) -> Vec<T> {
    let all = of.iter().zip(left);
    all.filter_map(|(one, left)| left.then_some(*one)).collect()
}

/// Whether a template may be broken off: one cannot stand in half a formation.
fn breaks(kind: Kind) -> bool {
    matches!(kind, Kind::Step(_))
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
            let costs = Costs::new(&query, &templates, &params);
            let tables = RefCell::default();
            let search = Search::new(
                &templates, &assignments, &free, &costs, &params, query.frames(), &tables,
            );
            let keys = all_keys(&templates, assignments.len());
            let last = query.frames();
            for (from, to, inside) in [(0, last, false), (0, last, true), (last / 4, last / 2, true)] {
                let stretch = Stretch { frames: from..to, inside };
                let mut effort = Effort::default();
                let a = search.solve(&stretch, &|_| true, &mut effort).unwrap().0;
                let b = search.decode(&keys, None, &stretch, &mut effort).unwrap().0;
                prop_assert!(effort.survived <= keys.len());
                prop_assert!((a - b).abs() < 1e-3, "{a} with, {b} without pruning");
            }
        }
    }
}

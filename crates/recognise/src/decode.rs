//! The best explanation of a possession: connected dynamic time warping over the playbook's
//! graph, with roles and hand as part of the search.

use crate::{
    bounds::Bounds,
    coarse::{Coarse, Kept},
    cost::Costs,
    finer::Cuts,
    gain::Prices,
    known::{Known, WordCosts},
    least::Bodies,
    links::{alone, led_to},
    model::Hand,
    params::ValidParams,
    prune::{Candidates, Stretch, Survivors, TOGETHER, at_most},
    roles::{Assignment, rank},
    tables::Tables,
    templates::{Kind, Templates},
};
use setdrift_playbook::graph::RoleIx;
use setdrift_warp::connected::{
    Decoder, Decoding, Filler, Grammar, SegmentKind, Settings, Tempo, Word, WordId,
};
use std::{cell::RefCell, ops::Range, rc::Rc};

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
    pub(crate) templates: &'a Templates,
    pub(crate) assignments: &'a [Assignment],
    /// Per assignment, whether it gives someone a role that the roster does not.
    pub(crate) off_roster: &'a [bool],
    pub(crate) costs: &'a Costs<'a>,
    pub(crate) bounds: Bounds<'a>,
    pub(crate) coarse: Coarse,
    pub(crate) cuts: Cuts,
    pub(crate) params: &'a ValidParams,
    pub(crate) frames: usize,
    pub(crate) memory: &'a RefCell<Memory>,
    /// Per template, what may follow it.
    pub(crate) follows: Vec<Vec<Follow>>,
}

/// What possessions are decoded in, one after another: fresh memory is dear.
#[derive(Default)]
pub struct Memory {
    pub(crate) bounds: Vec<f32>,
    pub(crate) coarse: Kept,
    /// The relaxation with each word one state.
    pub(crate) whole: Tables,
    /// The relaxation over parts of words.
    pub(crate) parts: Tables,
    /// Bounds over parts.
    pub(crate) finer: Vec<f32>,
}

/// The new assignment of each old one, where roles are refilled.
type Refilled = Rc<[Option<usize>]>;

/// A template, and what roles are refilled on the way.
type Follow = (usize, Option<Refilled>);

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
pub(crate) const FIRST: usize = 16;

/// How much more than the relaxation says the best explanation of a whole possession is thought to cost,
/// as a share of what that saves over off-script movement. A wrong guess costs time only.
const MORE: f32 = 0.03;

/// The same of the relaxation over parts of any stretch, one guess after another.
const MORE_THAN_PARTS: [f32; 2] = [0.1, 0.5];

/// With filler everywhere there is always an explanation.
fn no_explanation() -> DecodeError {
    DecodeError("no explanation".to_owned())
}

fn follows(templates: &Templates, assignments: &[Assignment]) -> Vec<Vec<Follow>> {
    let mut follows = vec![Vec::new(); templates.list.len()];
    let ranks: Vec<u32> = assignments
        .iter()
        .map(|a| rank(a.iter().copied()))
        .collect();
    // Few refills differ.
    let mut known: Vec<(&[RoleIx], Refilled)> = Vec::new();
    for link in &templates.links {
        let refilled = link.refill.as_deref().map(|refill| {
            if let Some((_, refilled)) = known.iter().find(|(known, _)| *known == refill) {
                return Rc::clone(refilled);
            }
            let new = |old: &Assignment| -> Option<usize> {
                let roles = refill.iter().map(|&o| old.get(o).copied().flatten());
                ranks.binary_search(&rank(roles)).ok()
            };
            let refilled: Refilled = assignments.iter().map(new).collect();
            known.push((refill, Rc::clone(&refilled)));
            refilled
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
        costs: &'a Costs<'a>,
        params: &'a ValidParams,
        frames: usize,
        memory: &'a RefCell<Memory>,
    ) -> Self {
        let kept = &mut *memory.borrow_mut();
        let table = std::mem::take(&mut kept.bounds);
        let bounds = Bounds::new(Bodies::new(costs), templates, frames, table);
        let kept = std::mem::take(&mut kept.coarse);
        let fastest = params.fastest as usize;
        Self {
            templates,
            assignments,
            off_roster,
            costs,
            coarse: Coarse::new(&bounds, templates, assignments, fastest, kept),
            bounds,
            cuts: Cuts::new(templates, fastest, params.slowest as usize),
            params,
            frames,
            memory,
            follows: follows(templates, assignments),
        }
    }

    /// The best explanation of the whole query.
    pub fn best(&self, effort: &mut Effort) -> Result<Vec<Found>, DecodeError> {
        let whole = Stretch {
            frames: 0..self.frames,
            inside: false,
        };
        Ok(self.solve(&whole, &|_| true, FIRST, effort)?.1)
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
        Ok(self.solve(&stretch, allowed, FIRST, effort)?.1)
    }

    /// The best explanation and its total cost, prices included.
    ///
    /// Words are left out in five rounds, none of which can change the answer: by bounds over
    /// roles ([`Candidates::survivors`]); by what leads to them and follows ([`Self::led_to`]); by the
    /// relaxation over the stretch ([`Self::relax_whole`]), against the cost of the best explanation by the
    /// `count` most promising words, at least 1; by the same over parts of words ([`Self::closer`]); and by
    /// the decoder itself.
    pub(crate) fn solve(
        &self,
        stretch: &Stretch,
        allowed: &dyn Fn(usize) -> bool,
        count: usize,
        effort: &mut Effort,
    ) -> Result<(f64, Vec<Found>), DecodeError> {
        let found = self.candidates().survivors(stretch, allowed);
        let frames = stretch.frames.len();
        let lens = self.templates.list.iter().enumerate();
        let lens = lens.filter(|(i, _)| allowed(*i)).map(|(_, t)| t.len);
        let hypotheses = 2 * self.assignments.len();
        effort.words += hypotheses * lens.clone().count();
        effort.cells += hypotheses * frames * lens.sum::<usize>();
        effort.looked += found.looked;
        let found = self.led_to(found, stretch);
        effort.survived += found.keys.len();
        if found.keys.len() <= count {
            effort.decoded += found.keys.len();
            return self
                .decode(&found.keys, None, stretch, effort)?
                .ok_or_else(no_explanation);
        }
        let memory = &mut *self.memory.borrow_mut();
        let keys = &found.keys;
        let whole = self.relax_whole(keys, stretch, &mut memory.whole);
        let least = memory.whole.least(&whole);
        let mut first: Vec<usize> = (0..keys.len()).collect();
        first.sort_by(|a, b| least[*a].total_cmp(&least[*b]));
        first.truncate(count);
        let cost = least[first[0]];
        first.sort_unstable();
        let windows = |most: f32, words: &mut dyn Iterator<Item = usize>, tables: &Tables| {
            let windows = tables.windows(&whole, most);
            let of = |word: usize| Some((keys[word], windows[word].clone()?));
            words.filter_map(of).unzip()
        };
        let good = self.first(cost, stretch, memory, effort, |most, tables| {
            windows(most, &mut first.iter().copied(), tables)
        })?;
        let most = good.0 as f32;
        let (left, windows): (Vec<Key>, Vec<_>) =
            windows(most, &mut (0..keys.len()), &memory.whole);
        let all_known = |left: &[Key]| {
            let known: Vec<Key> = first.iter().map(|word| keys[*word]).collect();
            left.iter().all(|key| known.binary_search(key).is_ok())
        };
        if all_known(&left) {
            return Ok(good);
        }
        let parts = self.closer(&left, &windows, stretch, memory);
        let (words, known) = Known::new(&parts, &memory.parts, most);
        let left: Vec<Key> = words.into_iter().map(|word| left[word]).collect();
        effort.decoded += left.len();
        if all_known(&left) {
            return Ok(good);
        }
        self.decode(&left, Some(known), stretch, effort)?
            .ok_or_else(no_explanation)
    }

    /// What [`Self::solve`] begins with.
    pub(crate) fn candidates(&self) -> Candidates<'_> {
        Candidates {
            bounds: &self.bounds,
            coarse: &self.coarse,
            templates: self.templates,
            assignments: self.assignments,
            off_roster: self.off_roster,
            params: self.params,
            together: TOGETHER,
        }
    }

    /// The best explanation by a few words, of which the relaxation says that it costs at least `least`;
    /// `left` gives those and their frames that could be part of one that costs at most so much. Most
    /// cost little more, so one that does is looked for first: that leaves more out.
    fn first(
        &self,
        least: f32,
        stretch: &Stretch,
        memory: &mut Memory,
        effort: &mut Effort,
        left: impl Fn(f32, &Tables) -> (Vec<Key>, Vec<Range<usize>>),
    ) -> Result<(f64, Vec<Found>), DecodeError> {
        let off = self.params.off_script as f32 * stretch.frames.len() as f32;
        let guess = (!stretch.inside).then_some(least + MORE * (off - least));
        for most in guess.into_iter().chain([off]) {
            let (keys, windows) = left(most, &memory.whole);
            let parts = self.closer(&keys, &windows, stretch, memory);
            let least = memory.parts.least(&parts).into_iter().fold(off, f32::min);
            let guesses = MORE_THAN_PARTS.map(|more| least + more * (off - least));
            let guesses = guesses.into_iter().filter(|guess| *guess < most);
            for most in guesses.chain([most]) {
                let (words, known) = Known::new(&parts, &memory.parts, most);
                let keys: Vec<Key> = words.into_iter().map(|word| keys[word]).collect();
                if let Some(good) = self.decode(&keys, Some(known), stretch, effort)? {
                    return Ok(good);
                }
            }
        }
        Err(no_explanation())
    }

    /// Leaves out words that cannot matter because of what is left to lead to them and to follow.
    pub(crate) fn led_to(&self, found: Survivors, stretch: &Stretch) -> Survivors {
        let price = |key: &Key| Prices {
            entry: self.entry(*key) as f32,
            ..alone(
                self.templates.list[key.template].kind,
                self.params,
                stretch.inside,
            )
        };
        let prices: Vec<Prices> = found.keys.iter().map(price).collect();
        let edges = self.edges(&found.keys);
        led_to(found, &prices, &edges)
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

    /// Total cost with prices, and the parts; `None` where none costs as little as is known. What else
    /// is `known` changes the work, not the answer.
    pub(crate) fn decode(
        &self,
        keys: &[Key],
        known: Option<Known>,
        stretch: &Stretch,
        effort: &mut Effort,
    ) -> Result<Option<(f64, Vec<Found>)>, DecodeError> {
        let off = self.params.off_script as f32;
        let (start, frames) = (stretch.frames.start, stretch.frames.len());
        if keys.is_empty() {
            let cost = f64::from(off) * frames as f64;
            if known.is_some_and(|known| cost as f32 > at_most(known.most)) {
                return Ok(None);
            }
            let all = Found {
                key: None,
                start,
                end: stretch.frames.end,
                complete: true,
                cost,
                alignment: Vec::new(),
            };
            return Ok(Some((cost, vec![all])));
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
        Ok(decoding.map(|decoding| (decoding.total, found(&decoding, keys, start))))
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
    pub(crate) fn edges(&self, keys: &[Key]) -> Vec<(usize, usize)> {
        let all = self.assignments.len();
        let place = |key: &Key| (key.template * 2 + key.hand as usize) * all + key.assignment;
        let mut at = vec![u32::MAX; self.templates.list.len() * 2 * all];
        for (index, key) in keys.iter().enumerate() {
            at[place(key)] = index as u32;
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
                edges.extend(
                    to.filter(|to| *to != u32::MAX)
                        .map(|to| (from, to as usize)),
                );
            }
        }
        edges
    }

    /// Price of beginning a word afresh. Roles refilled at a reset come by an edge, and cost nothing.
    pub(crate) fn entry(&self, key: Key) -> f64 {
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
        let memory = &mut *self.memory.borrow_mut();
        memory.bounds = self.bounds.take_table();
        memory.coarse = self.coarse.take_tables();
    }
}

/// Whether a template may be broken off: one cannot stand in half a formation.
pub(crate) fn breaks(kind: Kind) -> bool {
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

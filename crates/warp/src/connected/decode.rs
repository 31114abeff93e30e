//! The one-stage pass: every word advances one query frame at a time.
//!
//! Each live state carries its cost and a *token*, the number of a record that says when its word
//! was entered and from where (token passing: Young, Russell & Thornton 1989), so memory grows with
//! the number of entries, not with states × frames. The alignment inside a word is recomputed
//! afterwards, for the words found only.

use pulp::{Arch, Simd, WithSimd};

use super::align::align;
use super::grammar::{Arc, ValidGrammar, Word, WordId, check_cost};
use crate::error::{Error, Result};

/// Local costs of query frames against the frames of words.
///
/// The decoder asks for query frames in ascending order and, within a frame, for words in ascending
/// order, leaving out those it can prove useless; then once more for each word of the answer, frame
/// by frame. So work may be shared among the words of a frame, and the same question must get the
/// same answer.
pub trait FrameCosts {
    /// Writes the cost of query frame `query` against every frame of `word`; `costs` has the word's
    /// length. Costs are 0 or more; infinity forbids the pairing; NaN or a negative cost makes the
    /// decoder return an error. Cap them here if one bad frame should not sink a word.
    fn fill(&mut self, query: usize, word: WordId, costs: &mut [f32]);
}

impl<F: FnMut(usize, WordId, &mut [f32])> FrameCosts for F {
    fn fill(&mut self, query: usize, word: WordId, costs: &mut [f32]) {
        self(query, word, costs);
    }
}

/// Cost of a query frame that belongs to no word.
#[derive(Debug, Clone, PartialEq)]
pub enum FillerCost {
    /// The same for every frame.
    Constant(f32),
    /// One per query frame.
    PerFrame(Vec<f32>),
}

/// The state for whatever matches no word. All costs are finite and 0 or more.
#[derive(Debug, Clone, PartialEq)]
pub struct Filler {
    /// Cost of each filler frame.
    pub cost: FillerCost,
    /// Cost of beginning the query with filler.
    pub from_start: f32,
    /// Cost of going from a word to filler, beside the word's `exit` or `broken` cost.
    pub from_word: f32,
}

impl Filler {
    /// Filler at `cost` a frame, entered for free.
    pub fn constant(cost: f32) -> Self {
        Filler {
            cost: FillerCost::Constant(cost),
            from_start: 0.0,
            from_word: 0.0,
        }
    }

    fn frames(&self, len: usize) -> Result<Vec<f32>> {
        check_cost("from_start", self.from_start, || "the filler".into())?;
        check_cost("from_word", self.from_word, || "the filler".into())?;
        let frames = match &self.cost {
            FillerCost::Constant(cost) => vec![*cost; len],
            FillerCost::PerFrame(costs) => costs.clone(),
        };
        if frames.len() != len {
            return Err(Error::LengthMismatch {
                what: "filler costs",
                expected: len,
                found: frames.len(),
            });
        }
        for (frame, &cost) in frames.iter().enumerate() {
            check_cost("the filler cost", cost, || format!("query frame {frame}"))?;
        }
        Ok(frames)
    }
}

/// What one query is decoded with, beside its local costs.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Settings {
    /// The filler; `None` makes words cover the whole query.
    pub filler: Option<Filler>,
    /// Give up once no explanation can cost this much or less. Exact: an explanation at or below
    /// the bound is found whatever the bound.
    pub abandon_above: Option<f32>,
    /// For each query frame, a number not above the local cost of any word frame there; with it
    /// the decoder can prove more states useless. The answer does not depend on it.
    pub floor: Option<Vec<f32>>,
}

/// What a segment of the query was.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SegmentKind {
    /// A word.
    Word(WordId),
    /// Filler.
    Filler,
}

/// A stretch of the query explained by one word or by filler.
#[derive(Debug, Clone, PartialEq)]
pub struct Segment {
    /// The word, or filler.
    pub kind: SegmentKind,
    /// First query frame.
    pub start: usize,
    /// One past the last query frame.
    pub end: usize,
    /// Whether the word's last frame was reached; true for filler.
    pub complete: bool,
    /// Sum of the local (or filler) costs.
    pub cost: f64,
    /// Cost of the move into this segment, with the exit or broken cost of the one before.
    pub transition: f64,
    /// For each query frame of the segment, the reference frame it is matched to; empty for
    /// filler. It begins at 0 and never falls; its last entry is the last reference frame reached.
    pub alignment: Vec<u32>,
}

/// The cheapest explanation of a query.
#[derive(Debug, Clone, PartialEq)]
pub struct Decoding {
    /// Sum of the segments' costs and transitions, and the ending.
    pub total: f64,
    /// Segments in order; they cover the query without gap or overlap.
    pub segments: Vec<Segment>,
    /// Cost of ending the query where it ended (`at_end` or `broken_at_end`).
    pub ending: f64,
}

const NONE: u32 = u32::MAX;
const FILLER: u32 = u32::MAX;
const INFINITE: f32 = f32::INFINITY;

/// Why and when a segment began.
#[derive(Debug, Clone, Copy)]
struct Token {
    word: u32,
    start: u32,
    previous: u32,
    previous_complete: bool,
    transition: f32,
}

/// A way into a word or the filler.
#[derive(Debug, Clone, Copy)]
struct Entry {
    cost: f32,
    transition: f32,
    previous: u32,
    complete: bool,
}

impl Entry {
    const NEVER: Entry = Entry {
        cost: INFINITE,
        transition: 0.0,
        previous: NONE,
        complete: true,
    };

    fn offer(&mut self, cost: f32, transition: f32, previous: u32, complete: bool) {
        let total = cost + transition;
        if total < self.cost {
            *self = Entry {
                cost: total,
                transition,
                previous,
                complete,
            };
        }
    }
}

/// Where a word's states lie in the tables: a padded row of best costs, then one row per number
/// of stays so far.
#[derive(Debug, Clone, Copy)]
struct Place {
    base: usize,
    pad: usize,
    len: usize,
    /// Rows kept beside the best: stays 0..max_stay−1.
    rows: usize,
    unbounded: bool,
    wait_at_end: bool,
}

impl Place {
    fn new(base: usize, word: &Word) -> Self {
        // More skips than the word has frames change nothing.
        let pad = 1 + word.tempo.max_skip.min(word.len - 1);
        Place {
            base,
            pad,
            len: word.len,
            rows: word.tempo.max_stay.unwrap_or(0),
            unbounded: word.tempo.max_stay.is_none(),
            wait_at_end: word.wait_at_end,
        }
    }

    fn size(&self) -> usize {
        self.pad + self.len * (1 + self.rows)
    }

    fn block(&self) -> std::ops::Range<usize> {
        self.base..self.base + self.size()
    }

    fn best(&self) -> std::ops::Range<usize> {
        self.base + self.pad..self.base + self.pad + self.len
    }
}

/// Costs and tokens of all states after one query frame.
#[derive(Debug, Default)]
struct States {
    costs: Vec<f32>,
    tokens: Vec<u32>,
}

/// The state of every word as seen from outside, after one query frame.
#[derive(Debug, Default)]
struct Exits {
    live: Vec<bool>,
    /// Cost at the last frame.
    complete: Vec<f32>,
    complete_token: Vec<u32>,
    /// Least cost before the last frame, where breaking off is possible.
    broken: Vec<f32>,
}

/// Decodes queries against one grammar; keeps its tables from one query to the next.
#[derive(Debug)]
pub struct Decoder<'g> {
    grammar: &'g ValidGrammar,
    places: Vec<Place>,
    old: States,
    new: States,
    exits: Exits,
    entries: Vec<Entry>,
    hubs: Vec<Entry>,
    local: Vec<f32>,
    tokens: Vec<Token>,
}

impl<'g> Decoder<'g> {
    /// Lays out the tables for `grammar`.
    ///
    /// # Errors
    /// [`Error::TooLarge`] when the states (reference frames × stays) are more than 2³⁰.
    pub fn new(grammar: &'g ValidGrammar) -> Result<Self> {
        let limit = 1usize << 30;
        let mut base = 0usize;
        let mut places = Vec::with_capacity(grammar.words.len());
        for word in &grammar.words {
            let stays = word.tempo.max_stay.unwrap_or(0);
            let states = word
                .len
                .saturating_mul(stays.saturating_add(2))
                .saturating_add(base);
            if states > limit {
                return Err(Error::TooLarge {
                    what: "number of decoder states",
                    found: states,
                    limit,
                });
            }
            let place = Place::new(base, word);
            base += place.size();
            places.push(place);
        }
        let words = grammar.words.len();
        let states = || States {
            costs: vec![INFINITE; base],
            tokens: vec![NONE; base],
        };
        Ok(Decoder {
            grammar,
            old: states(),
            new: states(),
            exits: Exits {
                live: vec![false; words],
                complete: vec![INFINITE; words],
                complete_token: vec![NONE; words],
                broken: vec![INFINITE; words],
            },
            entries: vec![Entry::NEVER; words],
            hubs: vec![Entry::NEVER; grammar.into_hub.targets()],
            local: vec![0.0; places.iter().map(|place| place.len).max().unwrap_or(0)],
            tokens: Vec::new(),
            places,
        })
    }

    /// The cheapest explanation of a query of `len` frames, or `None` when the grammar admits none
    /// or none costs `abandon_above` or less.
    ///
    /// Of equally cheap explanations the same one is always given: ways in are preferred in the
    /// order start, edges (as added, complete before broken), hubs, filler; filler goes on before it
    /// begins anew; moves inside a word in
    /// the order of advance 1, 2, …, then stay; endings complete, broken, filler, each by word.
    ///
    /// Totals accumulate in `f32`; the returned costs are summed again in `f64` along the answer.
    ///
    /// # Errors
    /// An empty query, a filler or floor of the wrong length or with a negative or non-finite
    /// cost, or a local cost that is negative or NaN.
    pub fn decode(
        &mut self,
        len: usize,
        costs: &mut impl FrameCosts,
        settings: &Settings,
    ) -> Result<Option<Decoding>> {
        if len == 0 {
            return Err(Error::EmptySeries);
        }
        let limit = (u32::MAX >> 1) as usize;
        if len > limit {
            return Err(Error::TooLarge {
                what: "query length",
                found: len,
                limit,
            });
        }
        let filler_frames = match &settings.filler {
            Some(filler) => Some(filler.frames(len)?),
            None => None,
        };
        let remaining = Remaining::new(len, filler_frames.as_deref(), settings)?;
        self.reset();
        let mut filler = Entry::NEVER;
        let mut filler_token = NONE;
        for frame in 0..len {
            self.enter_hubs();
            self.enter_words(frame, filler.cost, filler_token);
            if let (Some(settings), Some(frames)) = (&settings.filler, &filler_frames) {
                (filler, filler_token) =
                    self.step_filler(frame, settings, frames[frame], filler, filler_token);
            }
            let bound = remaining.bound(frame, filler.cost);
            let any_live = self.advance_words(frame, bound, costs)?;
            if !any_live && filler.cost + remaining.after[frame] > remaining.abandon_above {
                return Ok(None);
            }
        }
        let Some((last, complete, ending)) =
            self.finish(filler.cost, filler_token, remaining.abandon_above)
        else {
            return Ok(None);
        };
        self.trace(len, last, complete, ending, costs, filler_frames.as_deref())
            .map(Some)
    }

    fn reset(&mut self) {
        self.exits.live.fill(false);
        self.exits.complete.fill(INFINITE);
        self.exits.broken.fill(INFINITE);
        self.tokens.clear();
    }

    /// Best complete exit into each hub after the frame before.
    fn enter_hubs(&mut self) {
        for hub in 0..self.hubs.len() {
            let mut best = Entry::NEVER;
            for arc in self.grammar.into_hub.to(hub) {
                self.offer_edge(&mut best, arc, 0.0);
            }
            self.hubs[hub] = best;
        }
    }

    fn offer_edge(&self, best: &mut Entry, arc: &Arc, extra: f32) {
        let from = arc.from as usize;
        let word = &self.grammar.words[from];
        if let Some(exit) = word.exit {
            let transition = exit + arc.cost + extra;
            best.offer(
                self.exits.complete[from],
                transition,
                self.exits.complete_token[from],
                true,
            );
        }
        if let (true, Some(broken)) = (arc.broken, word.broken) {
            let cost = self.exits.broken[from];
            let transition = broken + arc.cost + extra;
            if cost + transition < best.cost {
                best.offer(cost, transition, self.broken_token(from), false);
            }
        }
    }

    /// Token of the first state that has the word's least broken cost.
    fn broken_token(&self, word: usize) -> u32 {
        let best = self.places[word].best();
        let least = self.exits.broken[word];
        let at = self.old.costs[best.clone()]
            .iter()
            .position(|&cost| cost == least);
        at.map_or(NONE, |offset| self.old.tokens[best.start + offset])
    }

    /// Cheapest way into each word at `frame`.
    fn enter_words(&mut self, frame: usize, filler: f32, filler_token: u32) {
        for word in 0..self.entries.len() {
            let mut best = Entry::NEVER;
            let declared = &self.grammar.words[word];
            if frame == 0 {
                if let Some(cost) = declared.from_start {
                    best.offer(0.0, cost, NONE, true);
                }
            } else {
                for arc in self.grammar.edges.to(word) {
                    self.offer_edge(&mut best, arc, 0.0);
                }
                for arc in self.grammar.out_of_hub.to(word) {
                    let hub = &self.hubs[arc.from as usize];
                    if hub.cost + arc.cost < best.cost {
                        best = Entry {
                            cost: hub.cost + arc.cost,
                            transition: hub.transition + arc.cost,
                            ..*hub
                        };
                    }
                }
                if let Some(cost) = declared.from_filler {
                    best.offer(filler, cost, filler_token, true);
                }
            }
            self.entries[word] = best;
        }
    }

    /// Filler after `frame`: either it goes on, or a word gives way to it.
    fn step_filler(
        &mut self,
        frame: usize,
        filler: &Filler,
        cost: f32,
        old: Entry,
        old_token: u32,
    ) -> (Entry, u32) {
        let mut best = Entry::NEVER;
        if frame == 0 {
            best.offer(0.0, filler.from_start, NONE, true);
        }
        for (word, declared) in self.grammar.words.iter().enumerate() {
            if !self.exits.live[word] {
                continue;
            }
            let arc = Arc {
                from: word as u32,
                cost: filler.from_word,
                broken: declared.broken.is_some(),
            };
            self.offer_edge(&mut best, &arc, 0.0);
        }
        if old.cost <= best.cost && old_token != NONE {
            return (
                Entry {
                    cost: old.cost + cost,
                    ..old
                },
                old_token,
            );
        }
        if best.cost == INFINITE {
            return (Entry::NEVER, NONE);
        }
        let token = self.token(FILLER, frame, best);
        (
            Entry {
                cost: best.cost + cost,
                ..best
            },
            token,
        )
    }

    fn token(&mut self, word: u32, frame: usize, entry: Entry) -> u32 {
        self.tokens.push(Token {
            word,
            start: frame as u32,
            previous: entry.previous,
            previous_complete: entry.complete,
            transition: entry.transition,
        });
        (self.tokens.len() - 1) as u32
    }

    /// Moves every useful word on by one query frame; says whether any is still alive.
    fn advance_words(
        &mut self,
        frame: usize,
        bound: f32,
        costs: &mut impl FrameCosts,
    ) -> Result<bool> {
        let mut any_live = false;
        for index in 0..self.places.len() {
            let place = self.places[index];
            let mut entry = self.entries[index];
            if !(entry.cost <= bound && entry.cost < INFINITE) {
                entry = Entry::NEVER;
            }
            if !self.exits.live[index] {
                if entry.cost == INFINITE {
                    continue;
                }
                self.old.costs[place.block()].fill(INFINITE);
            }
            let local = &mut self.local[..place.len];
            costs.fill(frame, WordId(index), local);
            check_local(frame, index, local)?;
            let token = if entry.cost < INFINITE {
                if self.tokens.len() >= NONE as usize {
                    return Err(Error::TooLarge {
                        what: "number of word entries",
                        found: self.tokens.len(),
                        limit: NONE as usize,
                    });
                }
                self.token(index as u32, frame, entry)
            } else {
                NONE
            };
            let block = place.block();
            let (broken, complete) = Arch::new().dispatch(Advance {
                place,
                local: &self.local[..place.len],
                old_costs: &self.old.costs[block.clone()],
                old_tokens: &self.old.tokens[block.clone()],
                new_costs: &mut self.new.costs[block.clone()],
                new_tokens: &mut self.new.tokens[block],
                entry: entry.cost,
                token,
            });
            let last = place.best().end - 1;
            let live = broken.min(complete) <= bound && broken.min(complete) < INFINITE;
            self.exits.live[index] = live;
            self.exits.complete[index] = if live { complete } else { INFINITE };
            self.exits.complete_token[index] = self.new.tokens[last];
            self.exits.broken[index] = if live { broken } else { INFINITE };
            any_live |= live;
        }
        std::mem::swap(&mut self.old, &mut self.new);
        Ok(any_live)
    }

    /// The last token, whether its word is complete, and the cost of ending there.
    fn finish(&self, filler: f32, filler_token: u32, limit: f32) -> Option<(u32, bool, f32)> {
        let mut best = Entry::NEVER;
        for (index, word) in self.grammar.words.iter().enumerate() {
            if let Some(cost) = word.at_end {
                best.offer(
                    self.exits.complete[index],
                    cost,
                    self.exits.complete_token[index],
                    true,
                );
            }
        }
        for (index, word) in self.grammar.words.iter().enumerate() {
            if let Some(cost) = word.broken_at_end
                && self.exits.broken[index] + cost < best.cost
            {
                best.offer(
                    self.exits.broken[index],
                    cost,
                    self.broken_token(index),
                    false,
                );
            }
        }
        best.offer(filler, 0.0, filler_token, true);
        (best.cost <= limit && best.cost < INFINITE).then_some((
            best.previous,
            best.complete,
            best.transition,
        ))
    }

    /// Follows the tokens back and aligns each word found.
    fn trace(
        &self,
        len: usize,
        last: u32,
        complete: bool,
        ending: f32,
        costs: &mut impl FrameCosts,
        filler: Option<&[f32]>,
    ) -> Result<Decoding> {
        let mut segments = Vec::new();
        let (mut at, mut end, mut complete) = (last, len, complete);
        while let Some(token) = self.tokens.get(at as usize) {
            let start = token.start as usize;
            let segment = if token.word == FILLER {
                let spent = filler.map_or(0.0, |frames| {
                    frames[start..end].iter().map(|&cost| f64::from(cost)).sum()
                });
                (SegmentKind::Filler, spent, Vec::new())
            } else {
                let id = WordId(token.word as usize);
                let word = &self.grammar.words[id.0];
                let (spent, alignment) = align(word, id, start..end, complete, costs)?;
                (SegmentKind::Word(id), spent, alignment)
            };
            let (kind, cost, alignment) = segment;
            segments.push(Segment {
                kind,
                start,
                end,
                complete: complete || kind == SegmentKind::Filler,
                cost,
                transition: token.transition.into(),
                alignment,
            });
            (at, end, complete) = (token.previous, start, token.previous_complete);
        }
        segments.reverse();
        let spent: f64 = segments
            .iter()
            .map(|segment| segment.cost + segment.transition)
            .sum();
        Ok(Decoding {
            total: spent + f64::from(ending),
            segments,
            ending: ending.into(),
        })
    }
}

/// What the rest of the query costs at most (all filler) and at least.
struct Remaining {
    /// Least cost of the frames after each.
    after: Vec<f32>,
    /// Filler cost of the frames after each; infinite without filler.
    filler_after: Vec<f32>,
    abandon_above: f32,
    slack: f32,
}

impl Remaining {
    fn new(len: usize, filler: Option<&[f32]>, settings: &Settings) -> Result<Self> {
        let abandon_above = settings.abandon_above.unwrap_or(INFINITE);
        if abandon_above.is_nan() {
            return Err(Error::Parameter {
                name: "abandon_above",
                value: abandon_above.into(),
                expected: "give a number",
            });
        }
        let floor = settings.floor.as_deref();
        if let Some(floor) = floor {
            if floor.len() != len {
                return Err(Error::LengthMismatch {
                    what: "floor",
                    expected: len,
                    found: floor.len(),
                });
            }
            for (frame, &cost) in floor.iter().enumerate() {
                check_cost("the floor", cost, || format!("query frame {frame}"))?;
            }
        }
        let mut after = vec![0.0f32; len];
        let mut filler_after = vec![if filler.is_some() { 0.0f32 } else { INFINITE }; len];
        for frame in (0..len - 1).rev() {
            let least = floor.map_or(0.0, |floor| floor[frame + 1]);
            let least = filler.map_or(least, |filler| filler[frame + 1].min(least));
            after[frame] = after[frame + 1] + least;
            if let Some(filler) = filler {
                filler_after[frame] = filler_after[frame + 1] + filler[frame + 1];
            }
        }
        // Sums in another order differ by rounding; this much slack keeps the bound a bound.
        let slack = ((len + 16) as f32 * f32::EPSILON).min(0.5);
        for least in &mut after {
            *least = (*least * (1.0 - slack)).min(f32::MAX);
        }
        Ok(Remaining {
            after,
            filler_after,
            abandon_above,
            slack,
        })
    }

    /// No state that costs more after `frame` can be part of the answer.
    fn bound(&self, frame: usize, filler: f32) -> f32 {
        let all_filler = (filler + self.filler_after[frame]) * (1.0 + self.slack);
        all_filler.min(self.abandon_above) - self.after[frame]
    }
}

/// Bits order costs of 0 or more as their values do, and integers reduce in SIMD lanes.
const INFINITE_BITS: u32 = INFINITE.to_bits();

fn check_local(query: usize, word: usize, local: &[f32]) -> Result<()> {
    let worst = local.iter().map(|cost| cost.to_bits()).fold(0, u32::max);
    if worst <= INFINITE_BITS {
        return Ok(());
    }
    match local.iter().position(|&cost| cost.is_nan() || cost < 0.0) {
        None => Ok(()),
        Some(reference) => Err(Error::LocalCost {
            query,
            word,
            reference,
            value: local[reference].into(),
        }),
    }
}

/// One word, one query frame.
struct Advance<'a> {
    place: Place,
    local: &'a [f32],
    old_costs: &'a [f32],
    old_tokens: &'a [u32],
    new_costs: &'a mut [f32],
    new_tokens: &'a mut [u32],
    entry: f32,
    token: u32,
}

impl WithSimd for Advance<'_> {
    /// Least cost before the last frame, and cost at the last frame.
    type Output = (f32, f32);

    #[inline(always)]
    fn with_simd<S: Simd>(self, _simd: S) -> (f32, f32) {
        let Place {
            pad,
            len,
            rows,
            unbounded,
            wait_at_end,
            ..
        } = self.place;
        let (old_best, old_stays) = self.old_costs.split_at(pad + len);
        let (old_best_tokens, old_stay_tokens) = self.old_tokens.split_at(pad + len);
        let (best, stays) = self.new_costs.split_at_mut(pad + len);
        let (best_tokens, stay_tokens) = self.new_tokens.split_at_mut(pad + len);
        let (best, best_tokens) = (&mut best[pad..], &mut best_tokens[pad..]);

        best.copy_from_slice(&old_best[pad - 1..pad - 1 + len]);
        best_tokens.copy_from_slice(&old_best_tokens[pad - 1..pad - 1 + len]);
        for advance in 2..=pad {
            let from = pad - advance;
            keep_least(
                best,
                best_tokens,
                &old_best[from..from + len],
                &old_best_tokens[from..from + len],
            );
        }
        if unbounded {
            keep_least(best, best_tokens, &old_best[pad..], &old_best_tokens[pad..]);
        }
        if self.entry <= best[0] || !unbounded {
            (best[0], best_tokens[0]) = (self.entry, self.token);
        }
        add(best, self.local);
        if rows > 0 {
            stays[..len].copy_from_slice(best);
            stay_tokens[..len].copy_from_slice(best_tokens);
            for stay in 1..=rows {
                let old = (stay - 1) * len..stay * len;
                let (old_costs, old_tokens) =
                    (&old_stays[old.clone()], &old_stay_tokens[old.clone()]);
                if stay < rows {
                    let row = &mut stays[stay * len..(stay + 1) * len];
                    row.copy_from_slice(old_costs);
                    add(row, self.local);
                    stay_tokens[stay * len..(stay + 1) * len].copy_from_slice(old_tokens);
                }
                keep_least_after(best, best_tokens, old_costs, old_tokens, self.local);
            }
        }
        let last = len - 1;
        if wait_at_end {
            let waited = old_best[pad + last] + self.local[last];
            if waited < best[last] {
                (best[last], best_tokens[last]) = (waited, old_best_tokens[pad + last]);
            }
        }
        (least(&best[..last]), best[last])
    }
}

#[inline(always)]
fn keep_least(best: &mut [f32], tokens: &mut [u32], other: &[f32], other_tokens: &[u32]) {
    for (((best, token), &other), &other_token) in
        best.iter_mut().zip(tokens).zip(other).zip(other_tokens)
    {
        let better = other < *best;
        *best = if better { other } else { *best };
        *token = if better { other_token } else { *token };
    }
}

#[inline(always)]
fn keep_least_after(
    best: &mut [f32],
    tokens: &mut [u32],
    other: &[f32],
    other_tokens: &[u32],
    local: &[f32],
) {
    let others = other.iter().zip(other_tokens).zip(local);
    for ((best, token), ((&other, &other_token), &local)) in best.iter_mut().zip(tokens).zip(others)
    {
        let other = other + local;
        let better = other < *best;
        *best = if better { other } else { *best };
        *token = if better { other_token } else { *token };
    }
}

#[inline(always)]
fn add(row: &mut [f32], local: &[f32]) {
    for (cost, &local) in row.iter_mut().zip(local) {
        *cost += local;
    }
}

#[inline(always)]
fn least(row: &[f32]) -> f32 {
    f32::from_bits(
        row.iter()
            .map(|cost| cost.to_bits())
            .fold(INFINITE_BITS, u32::min),
    )
}

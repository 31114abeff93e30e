//! The one-stage pass: every word advances one query frame at a time.
//!
//! Each live state carries its cost and a *token*, the number of a record that says when its word
//! was entered and from where (token passing: Young, Russell & Thornton 1989), so memory grows with
//! the number of entries, not with states × frames. The alignment inside a word is recomputed
//! afterwards, for the words found only.

use pulp::Arch;

use super::advance::Advance;
use super::align::align;
use super::explanation::{Decoding, Segment, SegmentKind};
use super::grammar::{Arc, ValidGrammar, WordId};
use super::remaining::Remaining;
use super::settings::{Filler, FrameCosts, Settings};
use super::states::{Entry, Exits, FILLER, NONE, Place, States, Token};
use crate::cost::check_costs;
use crate::error::{Error, Result, filled};
use crate::real::Real;

/// What no state that can be part of the answer costs more than: by itself, and with what is known
/// of the rest of the query.
struct Bounds<T> {
    cost: T,
    total: T,
}

/// Decodes queries against one grammar; keeps its tables from one query to the next.
#[derive(Debug)]
pub struct Decoder<'g, T = f32> {
    grammar: &'g ValidGrammar<T>,
    places: Vec<Place>,
    old: States<T>,
    new: States<T>,
    exits: Exits<T>,
    entries: Vec<Entry<T>>,
    hubs: Vec<Entry<T>>,
    local: Vec<T>,
    tokens: Vec<Token<T>>,
}

impl<'g, T: Real> Decoder<'g, T> {
    /// Lays out the tables for `grammar`.
    ///
    /// # Errors
    /// [`Error::TooLarge`] when the states (reference frames × stays) are more than 2³⁰, or
    /// [`Error::OutOfMemory`].
    pub fn new(grammar: &'g ValidGrammar<T>) -> Result<Self> {
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
        let longest = places.iter().map(|place| place.len).max().unwrap_or(0);
        Ok(Decoder {
            grammar,
            old: States::new(base)?,
            new: States::new(base)?,
            exits: Exits::new(words)?,
            entries: filled(Entry::NEVER, words, "words")?,
            hubs: filled(Entry::NEVER, grammar.into_hub.targets(), "hubs")?,
            local: filled(T::ZERO, longest, "reference frames")?,
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
    /// Totals accumulate in `T`; the returned costs are summed again in `f64` along the answer.
    ///
    /// # Errors
    /// An empty query, a filler of the wrong length or with a negative or non-finite
    /// cost, or a local cost that is negative or NaN.
    pub fn decode(
        &mut self,
        len: usize,
        costs: &mut impl FrameCosts<T>,
        settings: &Settings<T>,
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
            let most = remaining.most(frame, filler.cost);
            let bounds = Bounds {
                cost: most,
                total: most * remaining.slack(),
            };
            let any_live = self.advance_words(frame, &bounds, costs)?;
            if !any_live && filler.cost > remaining.abandon_above {
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
        self.exits.reset();
        self.tokens.clear();
    }

    /// Best complete exit into each hub after the frame before.
    fn enter_hubs(&mut self) {
        for hub in 0..self.hubs.len() {
            let mut best = Entry::NEVER;
            for arc in self.grammar.into_hub.to(hub) {
                self.offer_edge(&mut best, arc);
            }
            self.hubs[hub] = best;
        }
    }

    fn offer_edge(&self, best: &mut Entry<T>, arc: &Arc<T>) {
        let from = arc.from as usize;
        let word = &self.grammar.words[from];
        if let Some(exit) = word.exit {
            let transition = exit + arc.cost;
            best.offer(
                self.exits.complete[from],
                transition,
                self.exits.complete_token[from],
                true,
            );
        }
        if let (true, Some(broken)) = (arc.broken, word.broken) {
            let cost = self.exits.broken[from];
            let transition = broken + arc.cost;
            if cost + transition < best.cost {
                best.offer(cost, transition, self.broken_token(from), false);
            }
        }
    }

    /// Token of the first state that has the word's least broken cost.
    fn broken_token(&self, word: usize) -> u32 {
        let best = self.places[word].best_of(self.exits.reached[word].clone());
        let least = self.exits.broken[word];
        let at = self.old.costs[best.clone()]
            .iter()
            .position(|&cost| cost == least);
        at.map_or(NONE, |offset| self.old.tokens[best.start + offset])
    }

    /// Cheapest way into each word at `frame`.
    fn enter_words(&mut self, frame: usize, filler: T, filler_token: u32) {
        for word in 0..self.entries.len() {
            let mut best = Entry::NEVER;
            let declared = &self.grammar.words[word];
            if frame == 0 {
                if let Some(cost) = declared.from_start {
                    best.offer(T::ZERO, cost, NONE, true);
                }
            } else {
                for arc in self.grammar.edges.to(word) {
                    self.offer_edge(&mut best, arc);
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
        filler: &Filler<T>,
        cost: T,
        old: Entry<T>,
        old_token: u32,
    ) -> (Entry<T>, u32) {
        let mut best = Entry::NEVER;
        if frame == 0 {
            best.offer(T::ZERO, filler.from_start, NONE, true);
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
            self.offer_edge(&mut best, &arc);
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
        if best.cost == T::INFINITY {
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

    fn token(&mut self, word: u32, frame: usize, entry: Entry<T>) -> u32 {
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
        bounds: &Bounds<T>,
        costs: &mut impl FrameCosts<T>,
    ) -> Result<bool> {
        let mut any_live = false;
        let bound = bounds.cost;
        for index in 0..self.places.len() {
            let place = self.places[index];
            let mut entry = self.entries[index];
            if !(entry.cost <= bound && entry.cost < T::INFINITY) {
                entry = Entry::NEVER;
            } else if let Some(rest) = costs.entered(frame, WordId(index))
                && (rest == T::INFINITY || entry.cost + rest > bounds.total)
            {
                entry = Entry::NEVER;
            }
            if !self.exits.live[index] && entry.cost == T::INFINITY {
                continue;
            }
            let useful = self.exits.useful[index].clone();
            let rows = place.reach(&useful, entry.cost < T::INFINITY);
            self.old.forget(&place, &rows, &useful);
            let local = &mut self.local[..place.len];
            let (word, some) = (WordId(index), &mut local[rows.clone()]);
            if some.len() == place.len || !costs.fill_from(frame, word, rows.start, some) {
                costs.fill(frame, word, local);
            }
            check_costs(frame, index, rows.start, &local[rows.clone()])?;
            let token = if entry.cost < T::INFINITY {
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
                rows: rows.clone(),
                local: &self.local[rows.clone()],
                old_costs: &self.old.costs[block.clone()],
                old_tokens: &self.old.tokens[block.clone()],
                new_costs: &mut self.new.costs[block.clone()],
                new_tokens: &mut self.new.tokens[block],
                entry: entry.cost,
                token,
            });
            let last = place.best().end - 1;
            let least = broken.least(complete);
            let mut useful = 0..0;
            if least <= bound && least < T::INFINITY {
                let best = &self.new.costs[place.best_of(rows.clone())];
                let rest = &mut self.local[..place.len];
                let of = if costs.rest(frame, word, rest) {
                    let rest = &rest[rows.clone()];
                    let fits = |row: &usize| best[*row] + rest[*row] <= bounds.total;
                    span(rows.len(), fits)
                } else {
                    span(rows.len(), |row: &usize| best[*row] <= bound)
                };
                useful = rows.start + of.start..rows.start + of.end;
            }
            let live = !useful.is_empty();
            (self.exits.reached[index], self.exits.useful[index]) = (rows, useful);
            self.exits.live[index] = live;
            self.exits.complete[index] = if live { complete } else { T::INFINITY };
            self.exits.complete_token[index] = self.new.tokens[last];
            self.exits.broken[index] = if live { broken } else { T::INFINITY };
            any_live |= live;
        }
        std::mem::swap(&mut self.old, &mut self.new);
        Ok(any_live)
    }

    /// The last token, whether its word is complete, and the cost of ending there.
    fn finish(&self, filler: T, filler_token: u32, limit: T) -> Option<(u32, bool, T)> {
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
        best.offer(filler, T::ZERO, filler_token, true);
        (best.cost <= limit && best.cost < T::INFINITY).then_some((
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
        ending: T,
        costs: &mut impl FrameCosts<T>,
        filler: Option<&[T]>,
    ) -> Result<Decoding> {
        let mut segments = Vec::new();
        let (mut at, mut end, mut complete) = (last, len, complete);
        while let Some(token) = self.tokens.get(at as usize) {
            let start = token.start as usize;
            let segment = if token.word == FILLER {
                let spent = filler.map_or(0.0, |frames| {
                    frames[start..end].iter().map(|&cost| cost.to_f64()).sum()
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
                transition: token.transition.to_f64(),
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
            total: spent + ending.to_f64(),
            segments,
            ending: ending.to_f64(),
        })
    }
}

/// From the first to the last of `len` rows that fit; empty when none does.
fn span(len: usize, fits: impl Fn(&usize) -> bool) -> std::ops::Range<usize> {
    let first = (0..len).find(&fits);
    let last = (0..len).rfind(&fits);
    first
        .zip(last)
        .map_or(0..0, |(first, last)| first..last + 1)
}

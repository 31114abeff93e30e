use proptest::prelude::*;

use super::*;
use crate::real::Real;
use crate::{Absolute, Dtw, Series};

/// Every explanation of a query, by plain recursion; nothing is shared with the decoder.
struct Enumeration<'a> {
    words: &'a [Word],
    /// (from, to, cost, also when broken)
    edges: &'a [(usize, usize, f32, bool)],
    /// Arcs into and out of one hub.
    into_hub: &'a [(usize, f32)],
    out_of_hub: &'a [(usize, f32)],
    filler: Option<&'a Filler>,
    /// `costs[t][w][j]`
    costs: &'a [Vec<Vec<f32>>],
}

#[derive(Clone, Copy)]
enum State {
    Start,
    Filler,
    Word {
        word: usize,
        at: usize,
        stays: usize,
    },
}

impl Enumeration<'_> {
    fn least(&self, t: usize, state: State) -> f32 {
        let ending = t == self.costs.len();
        if ending {
            return match state {
                State::Start => f32::INFINITY,
                State::Filler => 0.0,
                State::Word { word, at, .. } => {
                    let word = &self.words[word];
                    let cost = if at + 1 == word.len {
                        word.at_end
                    } else {
                        word.broken_at_end
                    };
                    cost.unwrap_or(f32::INFINITY)
                }
            };
        }
        let mut least = f32::INFINITY;
        let mut offer = |cost: f32| least = least.min(cost);
        match state {
            State::Start => {
                if let Some(filler) = self.filler {
                    offer(filler.from_start + self.fill(t));
                }
                for (index, word) in self.words.iter().enumerate() {
                    if let Some(cost) = word.from_start {
                        offer(cost + self.enter(t, index));
                    }
                }
            }
            State::Filler => {
                offer(self.fill(t));
                for (index, word) in self.words.iter().enumerate() {
                    if let Some(cost) = word.from_filler {
                        offer(cost + self.enter(t, index));
                    }
                }
            }
            State::Word {
                word: from,
                at,
                stays,
            } => {
                let word = &self.words[from];
                let last = at + 1 == word.len;
                for next in at + 1..word.len.min(at + 2 + word.tempo.max_skip) {
                    offer(self.stand(t, from, next, 0));
                }
                if word.tempo.max_stay.is_none_or(|most| stays < most) || (last && word.wait_at_end)
                {
                    offer(self.stand(t, from, at, stays + 1));
                }
                if let Some(leave) = if last { word.exit } else { word.broken } {
                    if let Some(filler) = self.filler {
                        offer(leave + filler.from_word + self.fill(t));
                    }
                    for &(_, to, cost, broken) in self.edges.iter().filter(|edge| edge.0 == from) {
                        if last || broken {
                            offer(leave + cost + self.enter(t, to));
                        }
                    }
                    for &(_, into) in self.into_hub.iter().filter(|arc| last && arc.0 == from) {
                        for &(to, out) in self.out_of_hub {
                            offer(leave + into + out + self.enter(t, to));
                        }
                    }
                }
            }
        }
        least
    }

    fn fill(&self, t: usize) -> f32 {
        let cost = match &self.filler.unwrap().cost {
            FillerCost::Constant(cost) => *cost,
            FillerCost::PerFrame(costs) => costs[t],
        };
        cost + self.least(t + 1, State::Filler)
    }

    fn enter(&self, t: usize, word: usize) -> f32 {
        self.stand(t, word, 0, 0)
    }

    fn stand(&self, t: usize, word: usize, at: usize, stays: usize) -> f32 {
        let cost = self.costs[t][word][at];
        if cost.is_infinite() {
            cost
        } else {
            cost + self.least(t + 1, State::Word { word, at, stays })
        }
    }

    fn grammar<T: Real>(&self) -> ValidGrammar<T> {
        let number = |cost: f32| T::from_f64(cost.into());
        let mut grammar = Grammar::new();
        for word in self.words {
            grammar.word(Word {
                len: word.len,
                tempo: word.tempo,
                wait_at_end: word.wait_at_end,
                from_start: word.from_start.map(number),
                from_filler: word.from_filler.map(number),
                exit: word.exit.map(number),
                at_end: word.at_end.map(number),
                broken: word.broken.map(number),
                broken_at_end: word.broken_at_end.map(number),
            });
        }
        for &(from, to, cost, broken) in self.edges {
            if broken {
                grammar.edge_even_broken(WordId(from), WordId(to), number(cost));
            } else {
                grammar.edge(WordId(from), WordId(to), number(cost));
            }
        }
        let hub = grammar.hub();
        for &(from, cost) in self.into_hub {
            grammar.into_hub(WordId(from), hub, number(cost));
        }
        for &(to, cost) in self.out_of_hub {
            grammar.out_of_hub(hub, WordId(to), number(cost));
        }
        grammar.check().unwrap()
    }

    /// The decoder's answer when it is told what is to come, exactly.
    fn told(&self, settings: &Settings) -> Option<Decoding> {
        let grammar = self.grammar();
        let mut decoder = Decoder::new(&grammar).unwrap();
        let len = self.costs.len();
        decoder.decode(len, &mut Told(self), settings).unwrap()
    }

    /// The decoder's answer in a number type.
    fn decoded<T: Real>(&self, settings: &Settings) -> Option<Decoding> {
        let number = |cost: f32| T::from_f64(cost.into());
        let filler = settings.filler.as_ref().map(|filler| Filler {
            cost: match &filler.cost {
                FillerCost::Constant(cost) => FillerCost::Constant(number(*cost)),
                FillerCost::PerFrame(costs) => {
                    FillerCost::PerFrame(costs.iter().copied().map(number).collect())
                }
            },
            from_start: number(filler.from_start),
            from_word: number(filler.from_word),
        });
        let settings = Settings {
            filler,
            abandon_above: settings.abandon_above.map(number),
        };
        let mut fill = |t: usize, word: WordId, out: &mut [T]| {
            for (out, &cost) in out.iter_mut().zip(&self.costs[t][word.0]) {
                *out = number(cost);
            }
        };
        let grammar = self.grammar();
        let mut decoder = Decoder::new(&grammar).unwrap();
        decoder
            .decode(self.costs.len(), &mut fill, &settings)
            .unwrap()
    }

    /// Adds the answer up again from its own words, checking that each move is allowed.
    fn verify(&self, answer: &Decoding) {
        let mut total = answer.ending;
        let mut end = 0;
        let mut before: Option<&Segment> = None;
        for segment in &answer.segments {
            assert_eq!(segment.start, end);
            assert!(segment.end > segment.start);
            end = segment.end;
            let mut cost = 0.0;
            match segment.kind {
                SegmentKind::Filler => {
                    assert!(segment.alignment.is_empty() && segment.complete);
                    for t in segment.start..segment.end {
                        cost += match &self.filler.unwrap().cost {
                            FillerCost::Constant(cost) => *cost,
                            FillerCost::PerFrame(costs) => costs[t],
                        };
                    }
                }
                SegmentKind::Word(WordId(index)) => {
                    let word = &self.words[index];
                    assert_eq!(segment.alignment.len(), segment.end - segment.start);
                    assert_eq!(segment.alignment[0], 0);
                    let last = *segment.alignment.last().unwrap() as usize;
                    assert_eq!(segment.complete, last + 1 == word.len);
                    let mut stays = 0;
                    for pair in segment.alignment.windows(2) {
                        let advance = pair[1].checked_sub(pair[0]).unwrap() as usize;
                        assert!(advance <= 1 + word.tempo.max_skip);
                        stays = if advance == 0 { stays + 1 } else { 0 };
                        let waiting = word.wait_at_end && pair[1] as usize + 1 == word.len;
                        assert!(waiting || word.tempo.max_stay.is_none_or(|most| stays <= most));
                    }
                    for (t, &j) in (segment.start..).zip(&segment.alignment) {
                        cost += self.costs[t][index][j as usize];
                    }
                }
            }
            assert_eq!(segment.cost, f64::from(cost));
            assert_eq!(
                Some(segment.transition),
                self.transition(before, segment).map(f64::from)
            );
            total += segment.cost + segment.transition;
            before = Some(segment);
        }
        assert_eq!(end, self.costs.len());
        assert_eq!(answer.total, total);
    }

    /// Least allowed cost of the move from one segment to the next.
    fn transition(&self, before: Option<&Segment>, next: &Segment) -> Option<f32> {
        let to = match next.kind {
            SegmentKind::Word(WordId(to)) => Some(to),
            SegmentKind::Filler => None,
        };
        let Some(before) = before else {
            return to.map_or(self.filler.map(|filler| filler.from_start), |to| {
                self.words[to].from_start
            });
        };
        let SegmentKind::Word(WordId(from)) = before.kind else {
            return to.and_then(|to| self.words[to].from_filler);
        };
        let leave = if before.complete {
            self.words[from].exit?
        } else {
            self.words[from].broken?
        };
        let Some(to) = to else {
            return Some(leave + self.filler?.from_word);
        };
        let edges = self
            .edges
            .iter()
            .filter(|edge| edge.0 == from && edge.1 == to && (before.complete || edge.3));
        let into = self
            .into_hub
            .iter()
            .filter(|arc| before.complete && arc.0 == from);
        let out = self.out_of_hub.iter().filter(|arc| arc.0 == to);
        let hub = into.flat_map(|into| out.clone().map(move |out| into.1 + out.1));
        let step = edges.map(|edge| edge.2).chain(hub).reduce(f32::min)?;
        Some(leave + step)
    }
}

fn whole(most: u8) -> impl Strategy<Value = f32> {
    (0..=most).prop_map(f32::from)
}

fn maybe(most: u8) -> impl Strategy<Value = Option<f32>> {
    prop_oneof![1 => Just(None), 3 => whole(most).prop_map(Some)]
}

fn word() -> impl Strategy<Value = Word> {
    let stay = prop_oneof![3 => (0usize..=2).prop_map(Some), 1 => Just(None)];
    let costs = (maybe(3), maybe(3), maybe(2), maybe(2), maybe(3), maybe(3));
    (1usize..=3, 0usize..=2, stay, any::<bool>(), costs).prop_map(
        |(len, max_skip, max_stay, wait_at_end, costs)| Word {
            len,
            tempo: Tempo { max_skip, max_stay },
            wait_at_end,
            from_start: costs.0,
            from_filler: costs.1,
            exit: costs.2,
            at_end: costs.3,
            broken: costs.4,
            broken_at_end: costs.5,
        },
    )
}

/// Costs with the least that follows, by enumeration.
struct Told<'a>(&'a Enumeration<'a>);

impl FrameCosts for Told<'_> {
    fn fill(&mut self, t: usize, word: WordId, out: &mut [f32]) {
        out.copy_from_slice(&self.0.costs[t][word.0]);
    }

    fn entered(&mut self, t: usize, word: WordId) -> Option<f32> {
        Some(self.0.enter(t, word.0))
    }

    fn rest(&mut self, t: usize, word: WordId, least: &mut [f32]) -> bool {
        let (word, most) = (word.0, self.0.words[word.0].tempo.max_stay.unwrap_or(0));
        for (at, least) in least.iter_mut().enumerate() {
            let after = |stays| self.0.least(t + 1, State::Word { word, at, stays });
            *least = (0..=most).map(after).fold(f32::INFINITY, f32::min);
        }
        true
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1500))]

    /// Costs are whole numbers, so sums are exact and totals compare with `==`.
    #[test]
    fn equals_exhaustive_enumeration(
        words in prop::collection::vec(word(), 1..=3),
        edges in prop::collection::vec((0usize..3, 0usize..3, whole(3), any::<bool>()), 0..=4),
        into_hub in prop::collection::vec((0usize..3, whole(3)), 0..=2),
        out_of_hub in prop::collection::vec((0usize..3, whole(3)), 0..=2),
        cells in prop::collection::vec(prop_oneof![9 => whole(6), 1 => Just(f32::INFINITY)], 6 * 9),
        frames in 1usize..=6,
        filler in prop::option::of((prop::collection::vec(whole(5), 6), whole(2), whole(2))),
        constant in any::<bool>(),
    ) {
        let known = |index: &usize| *index < words.len();
        let edges: Vec<_> = edges.into_iter().filter(|edge| known(&edge.0) && known(&edge.1)).collect();
        let into_hub: Vec<_> = into_hub.into_iter().filter(|arc| known(&arc.0)).collect();
        let out_of_hub: Vec<_> = out_of_hub.into_iter().filter(|arc| known(&arc.0)).collect();
        let costs: Vec<Vec<Vec<f32>>> = (0..frames)
            .map(|t| (0..words.len()).map(|w| (0..words[w].len).map(|j| cells[t * 9 + w * 3 + j]).collect()).collect())
            .collect();
        let filler = filler.map(|(per_frame, from_start, from_word)| Filler {
            cost: if constant { FillerCost::Constant(per_frame[0]) } else { FillerCost::PerFrame(per_frame[..frames].to_vec()) },
            from_start,
            from_word,
        });
        let all = Enumeration {
            words: &words, edges: &edges, into_hub: &into_hub, out_of_hub: &out_of_hub,
            filler: filler.as_ref(), costs: &costs,
        };
        let expected = all.least(0, State::Start);
        let mut settings = Settings { filler: filler.clone(), ..Settings::default() };
        let answer = all.decoded::<f32>(&settings);
        prop_assert_eq!(&all.decoded::<f64>(&settings), &answer);
        match &answer {
            None => prop_assert_eq!(expected, f32::INFINITY),
            Some(answer) => {
                prop_assert_eq!(answer.total, f64::from(expected));
                all.verify(answer);
            }
        }
        // What is to come changes nothing, with and without a bound at the answer.
        prop_assert_eq!(&all.told(&settings), &answer);
        settings.abandon_above = Some(expected);
        prop_assert_eq!(&all.told(&settings), &answer);
        // A bound at the answer changes nothing; a bound below it leaves none.
        prop_assert_eq!(&all.decoded::<f32>(&settings), &answer);
        prop_assert_eq!(&all.decoded::<f64>(&settings), &answer);
        settings.abandon_above = Some(expected - 1.0);
        if expected.is_finite() {
            prop_assert_eq!(all.decoded::<f32>(&settings), None);
            prop_assert_eq!(all.decoded::<f64>(&settings), None);
        }
    }
}

/// Two words in any order, unbounded tempo, free transitions (recomputed with a plain program, no
/// published source).
#[test]
fn finds_three_words_in_a_small_example() {
    let query = [0.0f32, 2.0, 2.0, 0.0, 5.0, 4.0, 3.0, 0.0, 1.0, 0.0];
    let references = [[0.0f32, 2.0, 0.0], [5.0, 5.0, 3.0]];
    let mut grammar = Grammar::new();
    let word = Word {
        tempo: Tempo {
            max_skip: 0,
            max_stay: None,
        },
        ..Word::new(3)
    };
    let (a, b) = (grammar.word(word.clone()), grammar.word(word));
    for from in [a, b] {
        for to in [a, b] {
            grammar.edge(from, to, 0.0);
        }
    }
    let grammar = grammar.check().unwrap();
    let mut costs = |t: usize, w: WordId, out: &mut [f32]| {
        for (out, r) in out.iter_mut().zip(references[w.0]) {
            *out = (query[t] - r).abs();
        }
    };
    let answer = Decoder::new(&grammar)
        .unwrap()
        .decode(10, &mut costs, &Settings::default())
        .unwrap()
        .unwrap();
    assert_eq!(answer.total, 2.0);
    let found: Vec<_> = answer
        .segments
        .iter()
        .map(|s| (s.kind, s.start, s.end, s.complete))
        .collect();
    let word = SegmentKind::Word;
    assert_eq!(
        found,
        [
            (word(a), 0, 4, true),
            (word(b), 4, 7, true),
            (word(a), 7, 10, true)
        ]
    );
    assert_eq!(answer.segments[0].alignment, [0, 1, 1, 2]);
}

/// The same example with the number of words forced by a chain of copies, as level building does
/// (Myers & Rabiner 1981). Ten query frames hold three words of three frames; skipping one, five.
/// With steps that also let several reference frames share a query frame, which the decoder has
/// not, five words cost 8: the levels put together from plain distances of every stretch.
/// (Recomputed with a plain program that fills one table a level; no published source.)
#[test]
fn costs_by_number_of_words() {
    let query = [0.0f32, 2.0, 2.0, 0.0, 5.0, 4.0, 3.0, 0.0, 1.0, 0.0];
    let references = [[0.0f32, 2.0, 0.0], [5.0, 5.0, 3.0]];
    let plain = [(0, 1usize, 9.0), (0, 2, 9.0), (0, 3, 2.0)];
    let skipping = [
        (1, 1, 9.0),
        (1, 2, 9.0),
        (1, 3, 2.0),
        (1, 4, 5.0),
        (1, 5, 9.0),
    ];
    for (max_skip, count, expected) in plain.into_iter().chain(skipping) {
        let mut grammar = Grammar::new();
        for place in 0..count {
            for _ in 0..2 {
                let word = grammar.word(Word {
                    tempo: Tempo {
                        max_skip,
                        max_stay: None,
                    },
                    from_start: (place == 0).then_some(0.0),
                    at_end: (place + 1 == count).then_some(0.0),
                    ..Word::new(3)
                });
                for before in (2 * place).saturating_sub(2)..2 * place {
                    grammar.edge(WordId(before), word, 0.0);
                }
            }
        }
        let grammar = grammar.check().unwrap();
        let mut costs = |t: usize, w: WordId, out: &mut [f32]| {
            for (out, r) in out.iter_mut().zip(references[w.0 % 2]) {
                *out = (query[t] - r).abs();
            }
        };
        let answer = Decoder::new(&grammar)
            .unwrap()
            .decode(10, &mut costs, &Settings::default())
            .unwrap()
            .unwrap();
        assert_eq!((answer.total, answer.segments.len()), (expected, count));
    }
    let dtw = Dtw::with_cost(Absolute).check().unwrap();
    let [a, b] = references.map(|word| Series::univariate(&word).unwrap());
    let stretch = |from: usize, to: usize| {
        let stretch = Series::univariate(&query[from..to]).unwrap();
        let of = |word| dtw.distance(&stretch, word).unwrap();
        of(&a).min(of(&b))
    };
    let mut level: Vec<f32> = (0..=10)
        .map(|end| if end == 0 { 0.0 } else { f32::INFINITY })
        .collect();
    let mut found = Vec::new();
    for _ in 0..5 {
        let next = |end: usize| {
            (0..end)
                .map(|from| level[from] + stretch(from, end))
                .fold(f32::INFINITY, f32::min)
        };
        level = (0..=10).map(next).collect();
        found.push(level[10]);
    }
    assert_eq!(found, [9.0, 9.0, 2.0, 5.0, 8.0]);
}

#[test]
fn bad_input_is_an_error() {
    use crate::Error;
    assert!(matches!(
        Grammar::<f32>::new().check(),
        Err(Error::Empty(_))
    ));
    let mut grammar = Grammar::<f32>::new();
    let word = grammar.word(Word::new(2));
    grammar.edge(word, WordId(4), 0.0);
    assert!(matches!(
        grammar.clone().check(),
        Err(Error::UnknownNode {
            index: 4,
            count: 1,
            ..
        })
    ));
    let mut grammar = Grammar::new();
    grammar.word(Word {
        exit: Some(-1.0),
        ..Word::new(2)
    });
    assert!(matches!(grammar.check(), Err(Error::TransitionCost { .. })));
    let mut grammar = Grammar::<f32>::new();
    grammar.word(Word::new(0));
    assert!(matches!(grammar.check(), Err(Error::EmptySeries)));

    let mut grammar = Grammar::new();
    grammar.word(Word::new(2));
    let grammar = grammar.check().unwrap();
    let mut decoder = Decoder::new(&grammar).unwrap();
    let plain = Settings::default();
    let mut free = |_: usize, _: WordId, out: &mut [f32]| out.fill(0.0);
    assert!(matches!(
        decoder.decode(0, &mut free, &plain),
        Err(Error::EmptySeries)
    ));
    assert_eq!(decoder.decode(1, &mut free, &plain), Ok(None));
    for bad in [-1.0, f32::NAN] {
        let mut costs =
            |t: usize, _: WordId, out: &mut [f32]| out.fill(if t == 1 { bad } else { 0.0 });
        assert!(matches!(
            decoder.decode(3, &mut costs, &plain),
            Err(Error::LocalCost {
                query: 1,
                word: 0,
                ..
            })
        ));
    }
    let short = Filler {
        cost: FillerCost::PerFrame(vec![1.0]),
        ..Filler::constant(1.0)
    };
    let settings = Settings {
        filler: Some(short),
        ..Settings::default()
    };
    assert!(matches!(
        decoder.decode(3, &mut free, &settings),
        Err(Error::LengthMismatch {
            expected: 3,
            found: 1,
            ..
        })
    ));
}

/// Series as words cost what their local cost says, and what does not fit is an error.
#[test]
fn series_as_words() {
    use crate::{CappedSquared, Error, Gaps, Series};
    let number = |at: usize| ((at * 37) % 19) as f64 / 4.0;
    let make = |len: usize, from: usize, gap: usize| {
        let values: Vec<f64> = (from..from + 2 * len)
            .map(|at| if at % 11 < gap { f64::NAN } else { number(at) })
            .collect();
        Series::from_frames_with_gaps(&values, 2).unwrap()
    };
    let (query, references) = (make(40, 3, 1), [make(21, 8, 0), make(5, 1, 2)]);
    let (cap, gap) = (2.5, 0.75);
    let cost = CappedSquared::new(cap).unwrap();
    let mut costs = ReferenceCosts::new(&query, &references, cost, Gaps::Cost(gap)).unwrap();
    for (word, reference) in references.iter().enumerate() {
        for t in 0..query.len() {
            let mut row = vec![0.0; reference.len()];
            costs.fill(t, WordId(word), &mut row);
            for (j, &found) in row.iter().enumerate() {
                let of = |dim: usize| {
                    let apart = query.get(t, dim).unwrap() - reference.get(j, dim).unwrap();
                    if apart.is_nan() {
                        gap
                    } else {
                        (apart * apart).min(cap)
                    }
                };
                assert_eq!(found, of(0) + of(1));
            }
        }
    }
    let mut grammar = Grammar::new();
    grammar.word(Word::new(21));
    grammar.word(Word::new(6));
    let grammar = grammar.check().unwrap();
    let found = Decoder::new(&grammar)
        .unwrap()
        .decode(40, &mut costs, &Settings::default());
    assert!(matches!(found, Err(Error::LocalCost { word: 1, .. })));
    let other = [Series::univariate(&[1.0]).unwrap()];
    assert!(ReferenceCosts::new(&query, &other, cost, Gaps::default()).is_err());
    assert!(ReferenceCosts::new(&query, &references, cost, Gaps::Cost(-1.0)).is_err());
}

//! From a playbook to its step graph: every option from every arrangement it can be entered in.

use crate::book::{After, Book};
use crate::check;
use crate::diagnostic::{Diagnostics, Note};
use crate::graph::{
    Declared, DeclaredOption, Edge, Expectation, ExpectationKind, Graph, Node, NodeIx, PlayOption,
    RoleIx,
};
use crate::plan::{Said, State, plan};
use crate::read_expect::Expect;
use crate::sample::{actions, cue_event, end_exactly, motion, placement};
use crate::schedule::{Past, past_of, schedule};
use crate::sentence::{CueWords, Sentence, Verb, Who};
use crate::variants::variants;
use std::collections::VecDeque;

/// Arrangements in which nobody is further apart than this count as one, metres.
pub const SAME_STATE: f64 = 0.3;
/// Most nodes a playbook may grow to.
pub const MAX_NODES: usize = 600;

/// A compiled playbook and what looks odd in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Compiled {
    /// The graph.
    pub graph: Graph,
    /// Warnings; no errors.
    pub warnings: Diagnostics,
}

impl Book {
    /// Compiles to the step graph.
    ///
    /// # Errors
    /// All that cannot be: the ball in two hands, cues that never come, options nothing leads to …
    pub fn compile(&self) -> Result<Compiled, Diagnostics> {
        let mut b = Builder {
            book: self,
            states: Vec::new(),
            entries: Vec::new(),
            nodes: Vec::new(),
            exits: Vec::new(),
            notes: Vec::new(),
            queue: VecDeque::new(),
        };
        b.grow();
        let graph = b.finish();
        let mut notes = b.notes;
        check::check(self, &graph, &mut notes);
        let mut found = self.diagnostics(notes);
        if found.has_errors() {
            return Err(found);
        }
        found.list.extend(self.warnings.list.iter().cloned());
        found.list.sort_by_key(|d| d.span.start);
        Ok(Compiled {
            graph,
            warnings: found,
        })
    }
}

/// A step of an option, to be entered from a state.
struct Entry {
    option: usize,
    step: usize,
    state: usize,
    nodes: Vec<NodeIx>,
}

struct Builder<'b> {
    book: &'b Book,
    states: Vec<State>,
    entries: Vec<Entry>,
    nodes: Vec<Node>,
    exits: Vec<usize>,
    notes: Vec<Note>,
    queue: VecDeque<(usize, Vec<Past>)>,
}

impl Builder<'_> {
    fn grow(&mut self) {
        for (o, option) in self.book.options.iter().enumerate() {
            for a in &option.after {
                if let After::Formation(f) = a.value {
                    let s = self.formation_state(f);
                    self.enter(o, 0, s, &[]);
                }
            }
        }
        while let Some((e, past)) = self.queue.pop_front() {
            self.expand(e, &past);
            if self.nodes.len() > MAX_NODES {
                self.too_many();
                return;
            }
        }
    }

    fn too_many(&mut self) {
        let mut counts = vec![0usize; self.book.options.len()];
        for x in &self.entries {
            if x.step == 0 {
                counts[x.option] += 1;
            }
        }
        let most = (0..counts.len()).max_by_key(|o| counts[*o]).unwrap_or(0);
        let o = &self.book.options[most];
        self.notes.push(
            Note::error(
                "grows-too-large",
                o.span.clone(),
                format!(
                    "the playbook grows beyond {MAX_NODES} steps: option `{}` alone is entered in \
                     {} different arrangements",
                    o.id, counts[most]
                ),
            )
            .help(
                "let loops end in a formation with `returns`, so that they come back to the same \
                 arrangement",
            ),
        );
    }

    fn formation_state(&mut self, f: usize) -> usize {
        let formation = &self.book.formations[f].0;
        self.state(State {
            places: formation.places.clone(),
            holder: formation.ball,
            shot: false,
        })
    }

    /// The index of an arrangement: an earlier one that is the same, or a new one.
    fn state(&mut self, s: State) -> usize {
        let same = |t: &State| {
            t.holder == s.holder
                && t.shot == s.shot
                && t.places
                    .iter()
                    .zip(&s.places)
                    .all(|(a, b)| a.distance(*b) <= SAME_STATE)
        };
        if let Some(i) = self.states.iter().position(same) {
            return i;
        }
        self.states.push(s);
        self.states.len() - 1
    }

    fn enter(&mut self, option: usize, step: usize, state: usize, past: &[Past]) {
        let known = self
            .entries
            .iter()
            .any(|e| e.option == option && e.step == step && e.state == state);
        if !known && self.book.options[option].steps.get(step).is_some() {
            self.entries.push(Entry {
                option,
                step,
                state,
                nodes: Vec::new(),
            });
            self.queue
                .push_back((self.entries.len() - 1, past.to_vec()));
        }
    }

    fn expand(&mut self, e: usize, past: &[Past]) {
        let book = self.book;
        let (option, step, state_ix) = {
            let x = &self.entries[e];
            (x.option, x.step, x.state)
        };
        let words = &book.options[option];
        let sentences = &words.steps[step];
        let state = self.states[state_ix].clone();
        if state.shot {
            self.notes.push(Note::warning(
                "after-shot",
                words.span.clone(),
                format!(
                    "option `{}` would follow a shot and is left out there",
                    words.id
                ),
            ));
            return;
        }
        let mut good = 0;
        let mut first_bad: Option<Vec<Note>> = None;
        for said in variants(sentences, &state) {
            let mut notes = Vec::new();
            let p = plan(book, &state, &said, &mut notes);
            let maybe = |c: &CueWords| could_happen(sentences, c);
            let timed = schedule(
                &p.items,
                past,
                &state.places,
                &maybe,
                book.roles(),
                &mut notes,
            );
            let bad = notes
                .iter()
                .any(|n| n.severity == crate::diagnostic::Severity::Error);
            let Some(timed) = timed.filter(|_| !bad) else {
                // A branch nobody can take (the ball is elsewhere) is no mistake if another can.
                first_bad.get_or_insert(notes);
                continue;
            };
            good += 1;
            self.notes.extend(notes);
            let last = step + 1 == words.steps.len();
            let mut end = p.end.clone();
            let mut items = p.items;
            let mut timed = timed;
            if last && let Some(r) = &words.returns {
                let f = &book.formations[r.value].0;
                if let (Some(d), Some(b), Some(h)) = (&words.refill, f.ball, end.holder)
                    && crate::refill::moves_ball(&d.value, b, h)
                {
                    self.notes.push(
                        Note::error(
                            "refill-ball",
                            d.span.clone(),
                            format!(
                                "at the end `{}` has the ball, but this refill makes another \
                                 player role `{}`, who has it in `{}`",
                                book.roles()[h],
                                book.roles()[b],
                                f.name
                            ),
                        )
                        .help(format!(
                            "write {} = {} in the refill",
                            book.roles()[b],
                            book.roles()[h]
                        )),
                    );
                }
                let who = crate::refill::fill(book, &end, f, words.refill.as_ref());
                crate::refill::walk_home(sentences, &mut items, &mut timed, &mut end, f, &who);
            }
            let m = motion(book, &state, &items, &timed);
            check::crowding(book, &m, &said, words, &mut self.notes);
            let n_frames = m.frames();
            let acts = actions(book, &state, &items, &timed, n_frames);
            let acts = if last && words.returns.is_some() {
                // The walk home at a reset is drawn but is nobody's declared action.
                acts.into_iter().take(p_len(&said)).collect()
            } else {
                acts
            };
            let exit_past = past_of(&items, &timed);
            self.push_node(
                e,
                Node {
                    option,
                    step,
                    last,
                    motion: m,
                    actions: acts,
                },
                end,
                exit_past,
            );
        }
        if good == 0 {
            self.notes.extend(first_bad.unwrap_or_default());
            // Later steps are still worth reading, from where this one leaves people.
            let mut ignored = Vec::new();
            if let Some(said) = variants(sentences, &state).into_iter().next() {
                let p = plan(book, &state, &said, &mut ignored);
                if step + 1 < words.steps.len() {
                    let s = self.state(p.end);
                    self.enter(option, step + 1, s, past);
                }
            }
        }
    }

    fn push_node(&mut self, e: usize, mut node: Node, end: State, past: Vec<Past>) {
        let (option, step) = (node.option, node.step);
        let after = self.state(end);
        let canonical = self.states[after].places.clone();
        let ball_held = self.states[after].holder;
        end_exactly(&mut node.motion, &canonical);
        if let Some(h) = ball_held {
            let f = node.motion.frames() - 1;
            node.motion.ball[f] = canonical[h];
        }
        let last = node.last;
        self.nodes.push(node);
        let ix = self.nodes.len() - 1;
        self.entries[e].nodes.push(ix);
        self.exits.push(after);
        if !last {
            self.enter(option, step + 1, after, &past);
        }
        let (next, refilled, _) = self.followers(option, step, after);
        for o in next {
            self.enter(o, 0, refilled, &past);
        }
    }

    /// What may follow this step of an option, the arrangement it then begins in, and the refill.
    fn followers(
        &mut self,
        option: usize,
        step: usize,
        exit: usize,
    ) -> (Vec<usize>, usize, Option<Vec<RoleIx>>) {
        let words = &self.book.options[option];
        let last = step + 1 == words.steps.len();
        let mut state = exit;
        let mut refill = None;
        if last && let Some(r) = &words.returns {
            let f = r.value;
            let formation = &self.book.formations[f].0;
            let who = crate::refill::fill(
                self.book,
                &self.states[exit],
                formation,
                words.refill.as_ref(),
            );
            state = self.formation_state(f);
            if who.iter().enumerate().any(|(new, old)| new != *old) {
                refill = Some(who);
            }
        }
        let next = self
            .book
            .options
            .iter()
            .enumerate()
            .filter(|(_, o)| {
                o.after.iter().any(|a| match a.value {
                    After::Option(x) => last && x == option,
                    After::Step(x, s) => x == option && s == step,
                    After::Formation(f) => {
                        last && words.returns.as_ref().is_some_and(|r| r.value == f)
                    }
                })
            })
            .map(|(i, _)| i)
            .collect();
        (next, state, refill)
    }

    fn nodes_at(&self, option: usize, step: usize, state: usize) -> Vec<NodeIx> {
        self.entries
            .iter()
            .find(|e| e.option == option && e.step == step && e.state == state)
            .map_or_else(Vec::new, |e| e.nodes.clone())
    }

    fn finish(&mut self) -> Graph {
        let book = self.book;
        let mut edges = Vec::new();
        for n in 0..self.nodes.len() {
            let (option, step, last) = {
                let x = &self.nodes[n];
                (x.option, x.step, x.last)
            };
            let exit = self.exits[n];
            if !last {
                for to in self.nodes_at(option, step + 1, exit) {
                    edges.push(Edge {
                        from: n,
                        to,
                        refill: None,
                    });
                }
            }
            let (next, state, refill) = self.followers(option, step, exit);
            for o in next {
                for to in self.nodes_at(o, 0, state) {
                    edges.push(Edge {
                        from: n,
                        to,
                        refill: refill.clone(),
                    });
                }
            }
        }
        let mut starts = Vec::new();
        for (o, option) in book.options.iter().enumerate() {
            for a in &option.after {
                if let After::Formation(f) = a.value {
                    let s = self.formation_state(f);
                    for n in self.nodes_at(o, 0, s) {
                        if !starts.contains(&n) {
                            starts.push(n);
                        }
                    }
                }
            }
        }
        Graph {
            name: book.name.clone(),
            court: book.court().clone(),
            unit: book.unit,
            roles: book.roles().to_vec(),
            formations: book.formations.iter().map(|f| f.0.clone()).collect(),
            options: book.options.iter().map(|o| option(book, o)).collect(),
            nodes: std::mem::take(&mut self.nodes),
            edges,
            starts,
            declared: declared(book),
        }
    }
}

fn p_len(said: &[Said<'_>]) -> usize {
    said.iter().map(|s| s.who.len()).sum()
}

/// Whether any sentence of the step, branches and conditions aside, could be the event.
fn could_happen(step: &[crate::book::Spanned<Sentence>], c: &CueWords) -> bool {
    use crate::sentence::Event;
    step.iter().any(|s| {
        let s = &s.value;
        if s.guards.is_empty() && !matches!(s.who, Who::OneOf(_)) && !has_choice(&s.verb) {
            return false;
        }
        let by = match &s.who {
            Who::All(r) | Who::OneOf(r) => r.contains(&c.role),
            Who::Everyone => true,
        };
        match (&c.event, &s.verb) {
            (Event::Catches, Verb::Pass { to, .. }) => to.contains(&c.role),
            (Event::Passes, Verb::Pass { .. })
            | (Event::Dribbles, Verb::DribbleTo(_) | Verb::DribbleAt(_))
            | (Event::Screens, Verb::Screen { .. })
            | (Event::HandsOff, Verb::HandOff(_))
            | (Event::Cuts | Event::Reaches(_), Verb::Cut { .. } | Verb::Replace(_)) => by,
            _ => false,
        }
    })
}

fn has_choice(v: &Verb) -> bool {
    matches!(v, Verb::Pass { to, .. } | Verb::HandOff(to) if to.len() > 1)
}

fn option(book: &Book, o: &crate::book::OptionWords) -> PlayOption {
    PlayOption {
        id: o.id.clone(),
        title: o.title.clone(),
        series: o.series.clone(),
        steps: o.steps.len(),
        expect: o
            .expect
            .iter()
            .map(|e| Expectation {
                kind: expectation(book, &e.value),
                text: e.text.clone(),
            })
            .collect(),
        returns: o.returns.as_ref().map(|r| r.text.clone()),
        read: (!o.read.is_empty()).then(|| {
            let all: Vec<&str> = o.read.iter().map(|r| r.text.as_str()).collect();
            all.join(" and ")
        }),
    }
}

fn expectation(book: &Book, e: &Expect) -> ExpectationKind {
    // Expectations are over the whole option, so a role in them as a place is where its first
    // formation puts it.
    let places = book
        .formations
        .first()
        .map_or_else(Vec::new, |f| f.0.places.clone());
    match e {
        Expect::Spacing(d, roles) => ExpectationKind::Spacing {
            least: d.metres(),
            roles: if roles.is_empty() {
                (0..book.roles().len()).collect()
            } else {
                roles.clone()
            },
        },
        Expect::Clear(zone, roles, when) => ExpectationKind::Clear {
            zone: *zone,
            roles: roles.clone(),
            when: when
                .as_ref()
                .map(|(r, e)| (*r, cue_event(e, book, &places))),
        },
        Expect::BallSide(low, high) => ExpectationKind::BallSide {
            least: low.unwrap_or(0),
            most: high.unwrap_or(book.roles().len()),
        },
        Expect::MiddleTouches(n) => ExpectationKind::MiddleTouches { least: *n },
        Expect::Reversals(n) => ExpectationKind::Reversals { least: *n },
        Expect::Catches(r, w) => ExpectationKind::Catch {
            role: *r,
            placement: placement(w, book, &places),
        },
    }
}

fn declared(book: &Book) -> Declared {
    let roles = book.roles();
    Declared {
        court: book.court_words.clone(),
        spots: book.spot_words.clone(),
        tolerance: book.tolerance_words.clone(),
        formations: book.formations.iter().map(|f| f.1.clone()).collect(),
        options: book
            .options
            .iter()
            .map(|o| DeclaredOption {
                after: o.after.iter().map(|a| a.text.clone()).collect(),
                steps: o
                    .steps
                    .iter()
                    .map(|s| s.iter().map(|x| x.text.clone()).collect())
                    .collect(),
                refill: o.refill.as_ref().map_or_else(Vec::new, |r| {
                    r.value
                        .iter()
                        .enumerate()
                        .filter_map(|(new, old)| {
                            old.map(|old| (roles[new].clone(), roles[old].clone()))
                        })
                        .collect()
                }),
                read: o.read.iter().map(|r| r.text.clone()).collect(),
            })
            .collect(),
    }
}

//! The options: steps, what they follow, what is expected of them.

use super::{MAX_OPTIONS, MAX_SENTENCES, MAX_STEPS, OPTION_KEYS, Reader, shorten};
use crate::book::{After, OptionWords, Spanned};
use crate::cursor::{Lexicon, Miss};
use crate::diagnostic::{Note, did_you_mean};
use crate::graph::{Formation, RoleIx};
use crate::read_expect::{read_expect, read_read};
use crate::read_sentence::read_sentence;
use crate::toml_read::{Entry, Text, table};
use std::ops::Range;
use toml_edit::Item;

impl Reader<'_> {
    pub(super) fn options(
        &mut self,
        e: &Entry<'_>,
        lex: &Lexicon,
        formations: &[(Formation, Vec<String>, Range<usize>)],
    ) -> Vec<OptionWords> {
        let Some(entries) = table(e.item, "`options`", self.source, self.notes) else {
            return Vec::new();
        };
        if entries.is_empty() {
            self.missing("options", e.key_span.clone(), "[options.first]");
        }
        if entries.len() > MAX_OPTIONS {
            self.notes.push(Note::error(
                "too-many",
                e.key_span.clone(),
                format!("{} options, {MAX_OPTIONS} at most", entries.len()),
            ));
        }
        let mut out = Vec::new();
        let counts: Vec<(String, usize)> = entries
            .iter()
            .map(|o| {
                let n = table(o.item, "", self.source, &mut Vec::new())
                    .and_then(|f| {
                        f.iter()
                            .find(|x| x.key == "steps")
                            .and_then(|x| x.item.as_array().map(toml_edit::Array::len))
                    })
                    .unwrap_or(0);
                (o.key.clone(), n)
            })
            .collect();
        for o in entries.iter().take(MAX_OPTIONS) {
            if self.full() {
                break;
            }
            if let Some(f) = formations.iter().find(|f| f.0.name == o.key) {
                self.notes.push(
                    Note::error(
                        "name-twice",
                        o.key_span.clone(),
                        format!("`{}` is a formation and an option", f.0.name),
                    )
                    .help("give one of them another name, so that `after` is clear"),
                );
            }
            if let Some(w) = self.option(o, lex, formations, &counts) {
                out.push(w);
            }
        }
        out
    }

    pub(super) fn option(
        &mut self,
        o: &Entry<'_>,
        lex: &Lexicon,
        formations: &[(Formation, Vec<String>, Range<usize>)],
        options: &[(String, usize)],
    ) -> Option<OptionWords> {
        let what = format!("option `{}`", o.key);
        let fields = table(o.item, &what, self.source, self.notes)?;
        self.known_keys(&fields, &OPTION_KEYS, &what);
        let find = |k: &str| fields.iter().find(|f| f.key == k);
        let title = find("title")
            .and_then(|f| self.text(f))
            .map_or_else(|| title_of(&o.key), |t| t.text);
        let series = find("series").and_then(|f| self.text(f)).map(|t| t.text);
        let steps = match find("steps") {
            Some(f) => self.steps(f, lex),
            None => {
                self.missing("steps", o.key_span.clone(), "steps = [[\"1 passes to 2\"]]");
                Vec::new()
            }
        };
        let after = match find("after") {
            Some(f) => self.after(f, formations, options),
            None => {
                let first = formations.first().map_or("start", |f| &f.0.name);
                self.missing(
                    "after",
                    o.key_span.clone(),
                    &format!("after = [\"{first}\"]"),
                );
                Vec::new()
            }
        };
        let expect =
            find("expect").map_or_else(Vec::new, |f| self.sentences(f, |t| read_expect(t, lex)));
        let read = find("read").map_or_else(Vec::new, |f| self.sentences(f, |t| read_read(t, lex)));
        let returns = find("returns").and_then(|f| {
            let t = self.text(f)?;
            let at = formations.iter().position(|x| x.0.name == t.text);
            if at.is_none() {
                let names: Vec<&str> = formations.iter().map(|x| x.0.name.as_str()).collect();
                self.notes.push(
                    Note::error(
                        "unknown-formation",
                        t.span.clone(),
                        format!("no formation is called `{}`", t.text),
                    )
                    .expected(format!("one of: {}", names.join(", ")))
                    .maybe_help(did_you_mean(&t.text, names)),
                );
            }
            Some(Spanned {
                value: at?,
                span: t.span.clone(),
                text: t.text,
            })
        });
        let refill = find("refill").and_then(|f| self.refill(f, lex));
        if let (Some(r), None) = (&refill, find("returns")) {
            self.notes.push(
                Note::error(
                    "refill-without-returns",
                    r.span.clone(),
                    format!("{what} says who fills which role, but not into which formation"),
                )
                .help("write returns = \"…\" with the formation's name"),
            );
        }
        Some(OptionWords {
            id: o.key.clone(),
            span: o.key_span.clone(),
            title,
            series,
            after,
            steps,
            expect,
            returns,
            refill,
            read,
        })
    }

    /// One text or a list of them.
    pub(super) fn texts(&mut self, item: &Item, span: Range<usize>, key: &str) -> Vec<Text> {
        let Some(array) = item.as_array() else {
            return Text::read(item, span, key, self.source, self.notes)
                .into_iter()
                .collect();
        };
        let mut out = Vec::new();
        for v in array {
            let span = v.span().unwrap_or(span.clone());
            if self.full() {
                break;
            }
            out.extend(Text::of_value(v, span, key, self.source, self.notes));
        }
        out
    }

    pub(super) fn sentences<T>(
        &mut self,
        f: &Entry<'_>,
        read: impl Fn(&str) -> Result<T, Miss>,
    ) -> Vec<Spanned<T>> {
        let mut out = Vec::new();
        for t in self.texts(f.item, f.value_span.clone(), &f.key) {
            if self.full() {
                break;
            }
            match read(&t.text) {
                Ok(value) => out.push(Spanned {
                    value,
                    span: t.span.clone(),
                    text: t.text,
                }),
                Err(m) => self.miss(m, &t),
            }
        }
        out
    }

    pub(super) fn steps(
        &mut self,
        f: &Entry<'_>,
        lex: &Lexicon,
    ) -> Vec<Vec<Spanned<crate::sentence::Sentence>>> {
        let mut out = Vec::new();
        let Some(array) = f.item.as_array() else {
            self.notes.push(
                Note::error(
                    "expected-list",
                    f.value_span.clone(),
                    "`steps` is not a list".to_owned(),
                )
                .expected("a list of steps, each a list of sentences"),
            );
            return out;
        };
        if array.is_empty() || array.len() > MAX_STEPS {
            self.notes.push(
                Note::error(
                    "step-count",
                    f.value_span.clone(),
                    format!("{} steps", array.len()),
                )
                .expected(format!("1 to {MAX_STEPS} steps")),
            );
            return out;
        }
        for v in array {
            let span = v.span().unwrap_or(f.value_span.clone());
            if self.full() {
                break;
            }
            let mut step = Vec::new();
            // A step of one sentence may be written without brackets.
            let texts: Vec<Text> = match v.as_array() {
                Some(a) => a
                    .iter()
                    .take(MAX_SENTENCES + 1)
                    .filter_map(|s| {
                        let span = s.span().unwrap_or(span.clone());
                        Text::of_value(s, span, "steps", self.source, self.notes)
                    })
                    .collect(),
                None => Text::of_value(v, span.clone(), "steps", self.source, self.notes)
                    .into_iter()
                    .collect(),
            };
            if v.as_array().is_some_and(toml_edit::Array::is_empty) || texts.len() > MAX_SENTENCES {
                self.notes.push(
                    Note::error("sentence-count", span, format!("{} sentences", texts.len()))
                        .expected(format!("1 to {MAX_SENTENCES} sentences in a step")),
                );
            }
            for t in texts.into_iter().take(MAX_SENTENCES) {
                if self.full() {
                    break;
                }
                match read_sentence(&t.text, lex) {
                    Ok(value) => step.push(Spanned {
                        value,
                        span: t.span.clone(),
                        text: t.text,
                    }),
                    Err(m) => self.miss(m, &t),
                }
            }
            out.push(step);
        }
        out
    }

    pub(super) fn after(
        &mut self,
        f: &Entry<'_>,
        formations: &[(Formation, Vec<String>, Range<usize>)],
        options: &[(String, usize)],
    ) -> Vec<Spanned<After>> {
        let mut out: Vec<Spanned<After>> = Vec::new();
        for t in self.texts(f.item, f.value_span.clone(), "after") {
            if self.full() {
                break;
            }
            let (name, step) = match t.text.rsplit_once(" step ") {
                Some((n, s)) => (n.to_owned(), Some(s.to_owned())),
                None => (t.text.clone(), None),
            };
            let option = options.iter().position(|(o, _)| *o == name);
            let formation = formations.iter().position(|x| x.0.name == name);
            let value = match (option, formation, &step) {
                (Some(o), _, Some(s)) => {
                    let n = s.parse::<usize>().unwrap_or(0);
                    if n == 0 || n > options[o].1 {
                        self.notes.push(
                            Note::error(
                                "unknown-step",
                                t.span.clone(),
                                format!("option `{name}` has no step `{s}`"),
                            )
                            .expected(format!("a step from 1 to {}", options[o].1)),
                        );
                        continue;
                    }
                    After::Step(o, n - 1)
                }
                (Some(o), _, None) => After::Option(o),
                (None, Some(x), None) => After::Formation(x),
                _ => {
                    let known: Vec<&str> = formations
                        .iter()
                        .map(|x| x.0.name.as_str())
                        .chain(options.iter().map(|o| o.0.as_str()))
                        .collect();
                    self.notes.push(
                        Note::error(
                            "unknown-after",
                            t.span.clone(),
                            format!("no formation and no option is called `{name}`"),
                        )
                        .expected(format!("one of: {}", shorten(&known)))
                        .maybe_help(did_you_mean(&name, known)),
                    );
                    continue;
                }
            };
            if !out.iter().any(|a| a.value == value) {
                out.push(Spanned {
                    value,
                    span: t.span.clone(),
                    text: t.text,
                });
            }
        }
        if out.is_empty() && f.item.as_array().is_some_and(toml_edit::Array::is_empty) {
            self.notes.push(
                Note::error(
                    "expected-list",
                    f.value_span.clone(),
                    "`after` names nothing".to_owned(),
                )
                .expected("at least one formation or option"),
            );
        }
        out
    }

    pub(super) fn refill(
        &mut self,
        f: &Entry<'_>,
        lex: &Lexicon,
    ) -> Option<Spanned<Vec<Option<RoleIx>>>> {
        let entries = table(f.item, "`refill`", self.source, self.notes)?;
        let roles: Vec<&str> = lex.roles.iter().map(String::as_str).collect();
        self.known_keys(&entries, &roles, "a refill");
        let mut to: Vec<Option<RoleIx>> = vec![None; roles.len()];
        for e in &entries {
            let old = self.ball(e, &lex.roles);
            if let (Some(new), Some(old)) = (roles.iter().position(|r| *r == e.key), old) {
                to[new] = Some(old);
            }
        }
        let twice = to
            .iter()
            .enumerate()
            .any(|(i, o)| o.is_some() && to[..i].contains(o));
        if twice {
            self.notes.push(
                Note::error(
                    "bad-refill",
                    f.value_span.clone(),
                    "one player would fill two roles".to_owned(),
                )
                .expected("each role once on each side, such as { 1 = 2, 2 = 1 }"),
            );
            return None;
        }
        Some(Spanned {
            value: to,
            text: String::new(),
            span: f.value_span.clone(),
        })
    }
}

/// `side-screen` → `Side screen`.
fn title_of(key: &str) -> String {
    let words = key.replace(['-', '_'], " ");
    let mut c = words.chars();
    c.next()
        .map_or(String::new(), |f| f.to_uppercase().chain(c).collect())
}

//! Small readers over TOML items that keep the place of what they read.

use crate::diagnostic::{MAX_NOTES, Note};
use std::ops::Range;
use toml_edit::{Item, Value};

/// Everything that keeps a text from being TOML, in the order of the file: the first of it as
/// found, and what a reader that goes on after a slip finds besides.
pub(crate) fn not_toml(source: &str, first: &toml_edit::TomlError) -> Vec<Note> {
    let (_, errors) = toml::de::DeTable::parse_recoverable(source);
    let mut notes: Vec<Note> = Vec::new();
    let mut all: Vec<(&str, Option<Range<usize>>)> =
        errors.iter().map(|e| (e.message(), e.span())).collect();
    if all.is_empty() {
        all.push((first.message(), first.span()));
    }
    for (message, span) in all.into_iter().take(MAX_NOTES) {
        let message = message.lines().collect::<Vec<_>>().join(", ");
        let span = clamp(span.unwrap_or(0..0), source);
        // One slip often trips the reader twice at one place.
        if notes.last().is_some_and(|n| n.span.start == span.start) {
            continue;
        }
        notes.push(
            Note::error("not-toml", span, format!("this is not TOML: {message}"))
                .help("strings need quotes, lists need brackets and commas"),
        );
    }
    notes
}

/// A key of a table with its value and both their places.
pub(crate) struct Entry<'a> {
    pub key: String,
    pub key_span: Range<usize>,
    pub item: &'a Item,
    pub value_span: Range<usize>,
}

/// The entries of a table in the order written, or a note that it is none.
pub(crate) fn table<'a>(
    item: &'a Item,
    what: &str,
    source: &str,
    notes: &mut Vec<Note>,
) -> Option<Vec<Entry<'a>>> {
    let Some(t) = item.as_table_like() else {
        notes.push(
            Note::error(
                "expected-table",
                clamp(item.span().unwrap_or(0..0), source),
                format!("{what} is not a table"),
            )
            .expected("a table of keys and values"),
        );
        return None;
    };
    let mut out: Vec<Entry<'a>> = Vec::new();
    for (k, item) in t.iter() {
        let key_span = t
            .key(k)
            .and_then(toml_edit::Key::span)
            .or_else(|| item.span())
            .unwrap_or(0..0);
        let value_span = item.span().unwrap_or(key_span.clone());
        out.push(Entry {
            key: k.to_owned(),
            key_span: clamp(key_span, source),
            item,
            value_span: clamp(value_span, source),
        });
    }
    // Tables may be written apart from each other; the reader of the file sees them in its order.
    out.sort_by_key(|e| e.key_span.start);
    Some(out)
}

fn clamp(r: Range<usize>, source: &str) -> Range<usize> {
    r.start.min(source.len())..r.end.min(source.len())
}

/// A number, or all numbers of a list.
pub(crate) fn numbers(item: &Item) -> Option<Vec<f64>> {
    fn one(v: &Value) -> Option<f64> {
        let x = v.as_float().or_else(|| v.as_integer().map(|i| i as f64))?;
        (x.is_finite() && x.abs() < 1e6).then_some(x)
    }
    match item.as_array() {
        Some(a) => a.iter().map(one).collect(),
        None => item.as_value().and_then(one).map(|x| vec![x]),
    }
}

/// A string with its place.
#[derive(Debug, Clone)]
pub(crate) struct Text {
    pub text: String,
    /// The whole value, quotes included.
    pub span: Range<usize>,
    /// First byte of the content, when it stands in the file just as it reads.
    start: Option<usize>,
}

impl Text {
    pub fn read(
        item: &Item,
        span: Range<usize>,
        key: &str,
        source: &str,
        notes: &mut Vec<Note>,
    ) -> Option<Self> {
        match item.as_value() {
            Some(v) => Self::of_value(v, span, key, source, notes),
            None => {
                notes.push(not_text(span, key));
                None
            }
        }
    }

    pub fn of_value(
        v: &Value,
        span: Range<usize>,
        key: &str,
        source: &str,
        notes: &mut Vec<Note>,
    ) -> Option<Self> {
        let span = clamp(span, source);
        let Some(text) = v.as_str() else {
            notes.push(not_text(span, key));
            return None;
        };
        let text = text.to_owned();
        let raw = source.get(span.clone()).unwrap_or("");
        let start = [3, 1]
            .into_iter()
            .find(|q| {
                raw.len() == text.len() + 2 * q && raw.get(*q..raw.len() - q) == Some(text.as_str())
            })
            .map(|q| span.start + q);
        if text.trim().is_empty() {
            notes.push(
                Note::error("empty-text", span, format!("`{key}` holds an empty text"))
                    .expected("words"),
            );
            return None;
        }
        Some(Self { text, span, start })
    }

    /// Bytes of the file for bytes of the text; the whole value where escapes hide the place.
    pub fn at(&self, within: Range<usize>) -> Range<usize> {
        match self.start {
            Some(s) => s + within.start..s + within.end,
            None => self.span.clone(),
        }
    }
}

fn not_text(span: Range<usize>, key: &str) -> Note {
    Note::error("expected-text", span, format!("`{key}` is not a text")).expected("words in quotes")
}

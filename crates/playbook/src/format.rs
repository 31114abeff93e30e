//! The formatter: one layout for all playbooks, comments kept.

use crate::diagnostic::{Diagnostics, Note, place};
use crate::read_book::MAX_SOURCE;
use crate::toml_read::not_toml;
use toml_edit::{Array, DocumentMut, InlineTable, Item, Table, Value};

/// Widest line, columns.
const WIDTH: usize = 92;

/// Lays a playbook out anew. Words, their order and comments stay; spaces, line breaks and empty
/// lines are made regular. Formatting twice changes nothing more.
///
/// # Errors
/// A text that is not TOML, or is too large, with its place.
pub fn format(source: &str, name: &str) -> Result<String, Diagnostics> {
    if source.len() > MAX_SOURCE {
        let note = Note::error(
            "too-large",
            0..0,
            format!("{} bytes, {MAX_SOURCE} at most", source.len()),
        );
        return Err(place(vec![note], name, ""));
    }
    let mut doc: DocumentMut = source
        .parse()
        .map_err(|e: toml_edit::TomlError| place(not_toml(source, &e), name, source))?;
    let trailing = comment_lines(doc.trailing().as_str().unwrap_or(""), "");
    table(doc.as_table_mut(), true);
    doc.set_trailing(if trailing.is_empty() {
        String::new()
    } else {
        format!("\n{trailing}")
    });
    let text = doc.to_string();
    // The lines of a text over several lines are its own.
    let own_lines = ["\"\"\"", "'''"].iter().any(|q| source.contains(q));
    Ok(if own_lines { text } else { tidy(&text) })
}

fn table(t: &mut Table, root: bool) {
    if !root {
        let before = comment_lines(prefix(t.decor()), "");
        t.decor_mut().set_prefix(format!("\n{before}"));
        let after = end_comment(suffix(t.decor()));
        t.decor_mut().set_suffix(after);
    }
    for (mut key, item) in t.iter_mut() {
        let before = comment_lines(prefix(key.leaf_decor()), "");
        let width = key.get().chars().count() + 5;
        match item {
            Item::Value(v) => {
                key.leaf_decor_mut().set_prefix(before);
                key.leaf_decor_mut().set_suffix(" ");
                let after = end_comment(suffix(v.decor()));
                value(v, 0, width);
                v.decor_mut().set_prefix(" ");
                v.decor_mut().set_suffix(after);
            }
            Item::Table(t) => table(t, false),
            Item::ArrayOfTables(a) => {
                for t in a.iter_mut() {
                    table(t, false);
                }
            }
            Item::None => {}
        }
    }
}

fn value(v: &mut Value, indent: usize, used: usize) {
    match v {
        Value::Array(a) => array(a, indent, used),
        Value::InlineTable(t) => inline(t),
        Value::String(s) => {
            // One space between words; a text with escapes or line breaks is left as it is.
            let plain = s.value().clone();
            let spaced: Vec<&str> = plain.split(' ').filter(|w| !w.is_empty()).collect();
            let spaced = spaced.join(" ");
            if spaced != plain && !plain.contains(['\n', '\t', '\r']) {
                let decor = s.decor().clone();
                *s = toml_edit::Formatted::new(spaced);
                *s.decor_mut() = decor;
            }
        }
        _ => {}
    }
}

fn inline(t: &mut InlineTable) {
    let n = t.len();
    for (i, (mut key, v)) in t.iter_mut().enumerate() {
        key.leaf_decor_mut().set_prefix(" ");
        key.leaf_decor_mut().set_suffix(" ");
        value(v, 0, 0);
        v.decor_mut().set_prefix(" ");
        v.decor_mut().set_suffix(if i + 1 == n { " " } else { "" });
    }
}

/// The comments around one element of a list.
#[derive(Default, Clone)]
struct Around {
    /// On the line of the element before.
    beside_last: Option<String>,
    /// On lines of their own, above.
    above: Vec<String>,
}

fn around(text: &str) -> Around {
    let mut a = Around::default();
    for (i, l) in text.split('\n').enumerate() {
        let l = l.trim();
        if l.is_empty() {
            continue;
        }
        if i == 0 {
            a.beside_last = Some(l.to_owned());
        } else {
            a.above.push(l.to_owned());
        }
    }
    a
}

fn array(a: &mut Array, indent: usize, used: usize) {
    let mut gaps: Vec<Around> = Vec::new();
    let mut carried: Vec<String> = Vec::new();
    for v in a.iter() {
        let mut g = around(prefix(v.decor()));
        if !carried.is_empty() {
            // A comment between an element and its comma moves behind the comma.
            g.above.splice(0..0, carried.drain(..));
        }
        gaps.push(g);
        let after = around(suffix(v.decor()));
        carried.extend(after.beside_last);
        carried.extend(after.above);
    }
    let mut end = around(a.trailing().as_str().unwrap_or(""));
    end.above.splice(0..0, carried);
    for v in a.iter_mut() {
        v.decor_mut().set_prefix("");
        v.decor_mut().set_suffix("");
        value(v, indent + 2, indent + 2);
    }
    let comments = gaps
        .iter()
        .chain(std::iter::once(&end))
        .any(|g| g.beside_last.is_some() || !g.above.is_empty());
    let flat: usize = a
        .iter()
        .map(|v| v.to_string().chars().count() + 2)
        .sum::<usize>();
    let broken = a.iter().any(|v| v.to_string().contains('\n'));
    if !comments && !broken && used + flat <= WIDTH {
        for (i, v) in a.iter_mut().enumerate() {
            v.decor_mut().set_prefix(if i == 0 { "" } else { " " });
        }
        a.set_trailing("");
        a.set_trailing_comma(false);
        return;
    }
    let pad = " ".repeat(indent + 2);
    for (v, g) in a.iter_mut().zip(&gaps) {
        v.decor_mut().set_prefix(gap(g, &pad));
    }
    let empty = a.is_empty();
    a.set_trailing(gap(&end, &" ".repeat(indent)));
    a.set_trailing_comma(!empty);
}

fn gap(g: &Around, pad: &str) -> String {
    let mut s = String::new();
    if let Some(c) = &g.beside_last {
        s.push_str("  ");
        s.push_str(c);
    }
    s.push('\n');
    for c in &g.above {
        s.push_str(pad);
        s.push_str(c);
        s.push('\n');
    }
    s.push_str(pad);
    s
}

fn prefix(d: &toml_edit::Decor) -> &str {
    d.prefix().and_then(|r| r.as_str()).unwrap_or("")
}

fn suffix(d: &toml_edit::Decor) -> &str {
    d.suffix().and_then(|r| r.as_str()).unwrap_or("")
}

/// Comment lines and single empty lines of a gap, each line ended.
fn comment_lines(gap: &str, pad: &str) -> String {
    let mut out = String::new();
    for l in gap.lines() {
        let l = l.trim();
        if l.is_empty() {
            out.push('\n');
        } else {
            out.push_str(pad);
            out.push_str(l);
            out.push('\n');
        }
    }
    out
}

fn end_comment(gap: &str) -> String {
    let c = gap.trim();
    if c.is_empty() {
        String::new()
    } else {
        format!("  {c}")
    }
}

/// No spaces at line ends, one empty line at most, none at the start, one line end at the end.
fn tidy(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut empty = true;
    for l in text.lines() {
        let l = l.trim_end();
        if l.is_empty() {
            if !empty {
                out.push('\n');
            }
            empty = true;
        } else {
            out.push_str(l);
            out.push('\n');
            empty = false;
        }
    }
    while out.ends_with("\n\n") {
        out.pop();
    }
    out
}

//! A graph written as text again.

use crate::graph::Graph;
use setdrift_court::Court;
use std::fmt::Write;
use toml_edit::{Key, Value};

/// Why a graph cannot be written as text.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("this graph was not made from text, so its sentences are not known")]
pub struct NoText;

/// Writes the playbook a graph was compiled from. Compiling the text gives the graph again.
///
/// # Errors
/// [`NoText`] for a graph that holds no sentences, such as one read from a file of its motion.
pub fn to_text(g: &Graph) -> Result<String, NoText> {
    let d = &g.declared;
    if d.options.len() != g.options.len() || d.formations.len() != g.formations.len() {
        return Err(NoText);
    }
    let mut s = String::new();
    // Writing into a string cannot fail.
    let mut line = |l: String| {
        let _ = writeln!(s, "{l}");
    };
    line(format!("name = {}", text(&g.name)));
    if d.court.is_empty() && Court::named(g.court.name()).is_ok() {
        line(format!("court = {}", text(g.court.name())));
    }
    line(format!("units = {}", text(&g.unit.to_string())));
    if !d.court.is_empty() {
        line("\n[court]".to_owned());
        for (k, v) in &d.court {
            line(format!("{} = {v}", key(k)));
        }
    }
    if !d.tolerance.is_empty() {
        line("\n[tolerance]".to_owned());
        for (k, v) in &d.tolerance {
            line(format!("{} = {v}", key(k)));
        }
    }
    if !d.spots.is_empty() {
        line("\n[spots]".to_owned());
        for (k, [x, y]) in &d.spots {
            line(format!("{} = [{x}, {y}]", key(k)));
        }
    }
    for (f, places) in g.formations.iter().zip(&d.formations) {
        line(format!("\n[formations.{}]", key(&f.name)));
        for (r, p) in g.roles.iter().zip(places) {
            line(format!("{} = {}", key(r), text(p)));
        }
        if let Some(b) = f.ball {
            line(format!("ball = {}", text(&g.roles[b])));
        }
    }
    for (o, w) in g.options.iter().zip(&d.options) {
        line(format!("\n[options.{}]", key(&o.id)));
        line(format!("title = {}", text(&o.title)));
        if let Some(series) = &o.series {
            line(format!("series = {}", text(series)));
        }
        line(format!("after = {}", list(&w.after)));
        if !w.read.is_empty() {
            line(format!("read = {}", list(&w.read)));
        }
        line("steps = [".to_owned());
        for step in &w.steps {
            line(format!("  {},", list(step)));
        }
        line("]".to_owned());
        if !o.expect.is_empty() {
            let all: Vec<String> = o.expect.iter().map(|e| e.text.clone()).collect();
            line(format!("expect = {}", list(&all)));
        }
        if let Some(r) = &o.returns {
            line(format!("returns = {}", text(r)));
        }
        if !w.refill.is_empty() {
            let pairs: Vec<String> = w
                .refill
                .iter()
                .map(|(new, old)| format!("{} = {}", key(new), text(old)))
                .collect();
            line(format!("refill = {{ {} }}", pairs.join(", ")));
        }
    }
    Ok(s)
}

fn text(s: &str) -> String {
    Value::from(s).to_string()
}

fn key(s: &str) -> String {
    Key::new(s).to_string()
}

fn list(of: &[String]) -> String {
    let all: Vec<String> = of.iter().map(|s| text(s)).collect();
    format!("[{}]", all.join(", "))
}

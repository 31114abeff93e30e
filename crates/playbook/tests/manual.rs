//! The manual says what the program reads: its tables are made from the program's own.
#![allow(clippy::unwrap_used, clippy::panic)]

use setdrift_court::{spot_names, zone_names};
use setdrift_playbook::{load_str, patterns};
use std::fmt::Write;

fn manual() -> String {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/playbook.md");
    std::fs::read_to_string(path).unwrap()
}

fn spots() -> String {
    let mut names: Vec<&str> = Vec::new();
    for n in spot_names() {
        let bare = n.strip_prefix("left ").unwrap_or(n);
        if !n.starts_with("right ") {
            names.push(bare);
        }
    }
    let all: Vec<String> = names.iter().map(|n| format!("`{n}`")).collect();
    format!("{}.", all.join(", "))
}

fn zones() -> String {
    let all: Vec<String> = zone_names().map(|n| format!("`{n}`")).collect();
    format!("{}.", all.join(", "))
}

fn grammar() -> String {
    let mut s = String::new();
    for (chapter, rows) in patterns() {
        let _ = writeln!(
            s,
            "#### {chapter}\n\n| Pattern | Meaning | Example |\n| --- | --- | --- |"
        );
        for p in rows {
            let _ = writeln!(s, "| `{}` | {} | `{}` |", p.pattern, p.meaning, p.example);
        }
        s.push('\n');
    }
    s.trim_end().to_owned()
}

#[test]
fn the_tables_are_the_programs() {
    let text = manual();
    for (mark, made) in [
        ("spots", spots()),
        ("zones", zones()),
        ("grammar", grammar()),
    ] {
        let want = format!("<!-- {mark} -->\n{made}\n<!-- /{mark} -->");
        assert!(
            text.contains(&want),
            "docs/playbook.md should hold:\n{want}"
        );
    }
}

/// The tutorial's two pieces, put together, are a playbook.
#[test]
fn the_tutorial_compiles() {
    let text = manual();
    let pieces: Vec<&str> = text
        .split("```toml\n")
        .skip(1)
        .map(|p| p.split("```").next().unwrap())
        .collect();
    assert_eq!(pieces.len(), 2);
    let c = load_str(&pieces.concat(), "tutorial").unwrap_or_else(|d| panic!("{d}"));
    assert_eq!(c.graph.options[0].title, "Entry");
}

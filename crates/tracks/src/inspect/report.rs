//! The guessed mapping as text, with reasons beside the keys.

use super::{Confidence, Finding, Question};
use crate::mapping::Mapping;

/// Columns a comment may take.
const WIDTH: usize = 96;

pub(super) fn annotated(mapping: &Mapping, findings: &[Finding], questions: &[Question]) -> String {
    let mut out = String::from(
        "# What this file of tracks is, as far as its content tells. Correct what is wrong;\n\
         # docs/data-formats.md lists every key. Comments say why a value was chosen.\n",
    );
    for q in questions {
        let word = if q.needed { "NEEDED" } else { "please check" };
        comment(&mut out, &format!("{word}, {}: {}", q.key, q.question));
    }
    let mut table = String::new();
    let mut said: Vec<&Finding> = Vec::new();
    for line in mapping.to_toml().lines() {
        let trimmed = line.trim();
        if trimmed.starts_with('[') && !trimmed.contains('=') {
            trimmed.trim_matches(['[', ']']).clone_into(&mut table);
            out.push('\n');
            for f in findings.iter().filter(|f| f.key == table) {
                if !said.contains(&f) {
                    comment(&mut out, &reason(f));
                    said.push(f);
                }
            }
        } else if let Some((key, _)) = trimmed.split_once(" = ") {
            let full = if table.is_empty() {
                key.to_owned()
            } else {
                format!("{table}.{key}")
            };
            for f in findings.iter().filter(|f| f.key == full) {
                comment(&mut out, &reason(f));
                said.push(f);
            }
        }
        if !trimmed.is_empty() {
            out.push_str(line);
            out.push('\n');
        }
    }
    // What the mapping leaves at its default has no line of its own.
    let rest: Vec<&Finding> = findings.iter().filter(|f| !said.contains(f)).collect();
    if !rest.is_empty() {
        out.push('\n');
        for f in rest {
            comment(&mut out, &format!("{}: {}; {}", f.key, f.guess, reason(f)));
        }
    }
    out
}

fn reason(f: &Finding) -> String {
    let word = match f.confidence {
        Confidence::Sure => "sure",
        Confidence::Likely => "likely",
        Confidence::Assumed => "assumed",
    };
    format!("{word}: {}", f.reason)
}

/// A comment, wrapped.
fn comment(out: &mut String, text: &str) {
    let mut line = String::from("#");
    for word in text.split_whitespace() {
        if line.chars().count() + 1 + word.chars().count() > WIDTH {
            out.push_str(&line);
            out.push('\n');
            line = String::from("#  ");
        }
        line.push(' ');
        line.push_str(word);
    }
    out.push_str(&line);
    out.push('\n');
}

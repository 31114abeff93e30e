//! `setdrift check`: what is wrong with a playbook, all of it at once.

use crate::{
    error::{CommandError, Kind},
    load,
    printer::Printer,
};
use serde_json::{Value, json};
use setdrift_playbook::{Compiled, Diagnostic};
use std::path::PathBuf;

/// Check playbooks: what is wrong, where, and how to mend it.
#[derive(clap::Args)]
pub struct CheckArgs {
    /// Playbook files.
    #[arg(required = true)]
    playbooks: Vec<PathBuf>,
    /// Fail on warnings too.
    #[arg(long)]
    strict: bool,
}

/// Runs the command.
pub fn run(args: &CheckArgs, printer: &Printer) -> Result<(), CommandError> {
    let mut all: Option<CommandError> = None;
    let mut found = Vec::new();
    for path in &args.playbooks {
        let source = load::playbook_text(path)?;
        let name = path.display().to_string();
        match setdrift_playbook::load_str(&source, &name) {
            Ok(c) => {
                found.extend(c.warnings.list.iter().map(value));
                if !printer.json() {
                    printer.text(&summary(&name, &c));
                }
                let odd = !c.warnings.list.is_empty();
                if args.strict && odd {
                    keep_first(&mut all, load::diagnostics(c.warnings, name));
                } else {
                    for w in &c.warnings.list {
                        printer.note(&w.to_string());
                    }
                }
            }
            Err(d) => {
                found.extend(d.list.iter().map(value));
                keep_first(&mut all, load::diagnostics(d, name));
            }
        }
    }
    if printer.json() {
        printer.value(&json!({ "diagnostics": found }));
    }
    all.map_or(Ok(()), Err)
}

/// Problems point into one text; those of further files are told as lines with their place.
fn keep_first(all: &mut Option<CommandError>, next: CommandError) {
    match all {
        None => *all = Some(next),
        Some(first) => {
            let name = next.source.map_or(String::new(), |(n, _)| n);
            for mut p in next.problems {
                p.marks.clear();
                p.message = format!("{name}: {}", p.message);
                first.problems.push(p);
            }
            first.kind = Kind::Input;
        }
    }
}

fn summary(name: &str, c: &Compiled) -> String {
    let g = &c.graph;
    format!(
        "{name}: {}, {} roles, {} options, {} steps in {} arrangements\n",
        g.name,
        g.roles.len(),
        g.options.len(),
        g.options.iter().map(|o| o.steps).sum::<usize>(),
        g.nodes.len(),
    )
}

fn value(d: &Diagnostic) -> Value {
    json!({
        "severity": d.severity.to_string(),
        "code": d.code,
        "file": d.file,
        "line": d.line,
        "column": d.column,
        "start": d.span.start,
        "end": d.span.end,
        "message": d.message,
        "expected": d.expected,
        "help": d.help,
    })
}

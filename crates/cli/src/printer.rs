//! All output goes through here: tables and JSON to standard output, progress and errors to
//! standard error, colour only on a terminal.
#![expect(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "the one place that prints"
)]

use crate::error::{CommandError, Problem};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use miette::{
    GraphicalReportHandler, GraphicalTheme, LabeledSpan, MietteDiagnostic, NamedSource, Report,
};
use std::io::IsTerminal;

/// Columns of every table and message.
pub const WIDTH: usize = 80;

/// Where output goes and how.
pub struct Printer {
    json: bool,
    quiet: bool,
}

impl Printer {
    /// A printer for `--json` and `--quiet` as given.
    pub fn new(json: bool, quiet: bool) -> Self {
        Self { json, quiet }
    }

    /// Whether the user asked for JSON.
    pub fn json(&self) -> bool {
        self.json
    }

    /// Writes text to standard output as it is.
    pub fn text(&self, text: &str) {
        print!("{text}");
    }

    /// Writes a value as JSON to standard output.
    pub fn value(&self, value: &serde_json::Value) {
        println!("{value:#}");
    }

    /// Says something that is not a result, to standard error.
    pub fn note(&self, text: &str) {
        if !self.quiet {
            eprintln!("{text}");
        }
    }

    /// A progress bar over `steps`, drawn on a terminal only.
    pub fn progress(&self, steps: u64) -> ProgressBar {
        if self.quiet || !std::io::stderr().is_terminal() {
            return ProgressBar::hidden();
        }
        let bar = ProgressBar::with_draw_target(Some(steps), ProgressDrawTarget::stderr());
        if let Ok(style) = ProgressStyle::with_template("{bar:24} {pos}/{len} {msg}") {
            bar.set_style(style);
        }
        bar
    }

    /// Shows an error with its place and how to mend it.
    pub fn error(&self, error: &CommandError) {
        let theme = if std::io::stderr().is_terminal() {
            GraphicalTheme::unicode()
        } else {
            GraphicalTheme::none()
        };
        let handler = GraphicalReportHandler::new_themed(theme).with_width(WIDTH);
        for problem in &error.problems {
            let mut text = String::new();
            let report = report(problem, error.source.as_ref());
            if handler.render_report(&mut text, report.as_ref()).is_err() {
                text.clone_from(&problem.message);
            }
            eprintln!("{}", text.trim_end());
        }
        if error.problems.len() > 1 {
            eprintln!("{} problems", error.problems.len());
        }
    }
}

fn report(problem: &Problem, source: Option<&(String, String)>) -> Report {
    let mut d = MietteDiagnostic::new(&problem.message);
    if let Some(help) = &problem.help {
        d = d.with_help(help);
    }
    d = d.with_labels(
        problem
            .marks
            .iter()
            .map(|m| LabeledSpan::at(m.start..m.start + m.len, &m.label)),
    );
    match source {
        Some((name, text)) if !problem.marks.is_empty() => {
            Report::new(d).with_source_code(NamedSource::new(name, text.clone()))
        }
        _ => Report::new(d),
    }
}

//! Files named on the command line, to data; a library's error to the command line's.

use crate::error::{CommandError, Kind, Mark, Problem};
use setdrift_playbook::{Compiled, Diagnostic, Diagnostics};
use setdrift_tracks::{Problem as TracksProblem, Source, TracksError};
use std::path::{Path, PathBuf};

/// Reads a playbook's text.
pub fn playbook_text(path: &Path) -> Result<String, CommandError> {
    std::fs::read_to_string(path).map_err(|e| {
        CommandError::input(
            format!("playbook `{}` cannot be read: {e}", path.display()),
            "check the path of the playbook; it is a text file in UTF-8",
        )
    })
}

/// Reads and compiles a playbook.
pub fn playbook(path: &Path) -> Result<Compiled, CommandError> {
    let name = path.display().to_string();
    setdrift_playbook::load_str(&playbook_text(path)?, &name).map_err(|d| diagnostics(d, name))
}

/// All diagnostics of a playbook as one error.
pub fn diagnostics(found: Diagnostics, name: String) -> CommandError {
    CommandError {
        kind: Kind::Input,
        problems: found.list.iter().map(problem).collect(),
        source: Some((name, found.source)),
    }
}

fn problem(d: &Diagnostic) -> Problem {
    let label = if d.expected.is_empty() {
        "here".to_owned()
    } else {
        format!("expected {}", d.expected)
    };
    Problem {
        message: d.message.clone(),
        marks: vec![Mark {
            start: d.span.start,
            len: d.span.len(),
            label,
        }],
        help: d.help.clone(),
    }
}

/// Every session at the paths given: files, or folders of them.
pub fn sources(paths: &[PathBuf]) -> Result<Vec<Source>, CommandError> {
    let mut all = Vec::new();
    for path in paths {
        all.extend(setdrift_tracks::sources(path)?);
    }
    Ok(all)
}

impl From<TracksError> for CommandError {
    fn from(e: TracksError) -> Self {
        match *e.problem {
            TracksProblem::Io {
                action: "write", ..
            } => Self::system(e.to_string(), e.mend()),
            _ => Self::input(e.to_string(), e.mend()),
        }
    }
}

//! Files named on the command line, to data; a library's error to the command line's.

use crate::error::{CommandError, Kind, Mark, Problem};
use setdrift_playbook::{Compiled, Diagnostic, Diagnostics};
use setdrift_season::settings::{SettingsError, SettingsFile};
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

/// Settings files together, or the defaults where none is named.
pub fn settings(paths: &[PathBuf]) -> Result<SettingsFile, CommandError> {
    let mut texts = Vec::new();
    for path in paths {
        let text = std::fs::read_to_string(path).map_err(|e| {
            CommandError::input(
                format!("settings `{}` cannot be read: {e}", path.display()),
                "check the path; it is a text file in UTF-8",
            )
        })?;
        texts.push(text);
    }
    SettingsFile::together(&texts).map_err(|(i, e)| {
        let name = paths
            .get(i)
            .map_or_else(String::new, |p| p.display().to_string());
        CommandError {
            kind: Kind::Input,
            problems: vec![Problem {
                marks: e
                    .span
                    .iter()
                    .map(|span| Mark {
                        start: span.start,
                        len: span.len(),
                        label: "here".to_owned(),
                    })
                    .collect(),
                message: format!("settings `{name}`: {}", e.message),
                help: Some(
                    "docs/method.md lists the settings; what is left out is as by default"
                        .to_owned(),
                ),
            }],
            source: Some((
                name,
                texts.swap_remove(i.min(texts.len().saturating_sub(1))),
            )),
        }
    })
}

/// Refuses to write where a file is, unless told to.
pub fn keep(out: Option<&Path>, force: bool) -> Result<(), CommandError> {
    match out.filter(|o| o.exists() && !force) {
        Some(out) => Err(CommandError::input(
            format!("`{}` is there already", out.display()),
            "name --force to replace it, or another file",
        )),
        None => Ok(()),
    }
}

/// A setting outside its range.
pub fn wrong_settings(e: SettingsError) -> CommandError {
    CommandError::input(e.message, "mend it in the settings file, or leave it out")
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

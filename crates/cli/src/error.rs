//! The one error of the command line: what happened, where, and how to mend it.

use std::process::ExitCode;

/// Exit codes, stable for scripts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// The input is wrong: a file, a playbook, a mapping. Exit code 1. (2 is for wrong arguments.)
    Input,
    /// The machine would not: a full disk, a folder that cannot be written. Exit code 3.
    System,
}

impl From<Kind> for ExitCode {
    fn from(kind: Kind) -> Self {
        match kind {
            Kind::Input => Self::from(1),
            Kind::System => Self::from(3),
        }
    }
}

/// A part of a source text with what is to be said of it.
#[derive(Debug)]
pub struct Mark {
    /// Byte offset.
    pub start: usize,
    /// Bytes.
    pub len: usize,
    /// What was expected there.
    pub label: String,
}

/// One thing that is wrong.
#[derive(Debug)]
pub struct Problem {
    /// What happened.
    pub message: String,
    /// Where in the source text, if there is one.
    pub marks: Vec<Mark>,
    /// How to mend it.
    pub help: Option<String>,
}

/// Why a command did not do its work.
#[derive(Debug)]
pub struct CommandError {
    /// Decides the exit code.
    pub kind: Kind,
    /// What is wrong, one or several things.
    pub problems: Vec<Problem>,
    /// Name and text of the file that the marks point into.
    pub source: Option<(String, String)>,
}

impl CommandError {
    /// Wrong input, with a way to mend it.
    pub fn input(message: impl Into<String>, help: impl Into<String>) -> Self {
        Self::one(Kind::Input, message.into(), help.into())
    }

    /// The machine would not.
    pub fn system(message: impl Into<String>, help: impl Into<String>) -> Self {
        Self::one(Kind::System, message.into(), help.into())
    }

    fn one(kind: Kind, message: String, help: String) -> Self {
        let help = Some(help);
        Self {
            kind,
            problems: vec![Problem {
                message,
                marks: Vec::new(),
                help,
            }],
            source: None,
        }
    }
}

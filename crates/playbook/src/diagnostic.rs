//! What is wrong with a playbook, where, and how to mend it.

use std::{collections::BTreeSet, fmt, ops::Range};

/// How bad it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// The playbook cannot be used.
    Error,
    /// It can be used, but probably not as meant.
    Warning,
}

impl fmt::Display for Severity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Error => "error",
            Self::Warning => "warning",
        })
    }
}

/// One thing wrong with a playbook.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Diagnostic {
    /// How bad it is.
    pub severity: Severity,
    /// A stable name for the kind of trouble, such as `unknown-spot`.
    pub code: &'static str,
    /// The file's name as given.
    pub file: String,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// Bytes of the source concerned.
    pub span: Range<usize>,
    /// What is wrong.
    pub message: String,
    /// What was expected there; empty where nothing in particular was.
    pub expected: String,
    /// How to mend it.
    pub help: Option<String>,
}

impl fmt::Display for Diagnostic {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}:{}:{}: {}: {}",
            self.file, self.line, self.column, self.severity, self.message
        )?;
        if !self.expected.is_empty() {
            write!(f, "; expected {}", self.expected)?;
        }
        if let Some(help) = &self.help {
            write!(f, " (help: {help})")?;
        }
        Ok(())
    }
}

/// Everything wrong with a playbook, in the order of the file, never only the first thing.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Diagnostics {
    /// The text they point into.
    pub source: String,
    /// What is wrong, in the order of the file.
    pub list: Vec<Diagnostic>,
}

impl Diagnostics {
    /// Whether any of them makes the playbook unusable.
    #[must_use]
    pub fn has_errors(&self) -> bool {
        self.list.iter().any(|d| d.severity == Severity::Error)
    }

    /// The errors, without the warnings.
    pub fn errors(&self) -> impl Iterator<Item = &Diagnostic> {
        self.list.iter().filter(|d| d.severity == Severity::Error)
    }

    /// The line of the source a diagnostic points at, without its line end.
    #[must_use]
    pub fn line_of(&self, d: &Diagnostic) -> &str {
        self.source.lines().nth(d.line - 1).unwrap_or("")
    }
}

impl fmt::Display for Diagnostics {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, d) in self.list.iter().enumerate() {
            if i > 0 {
                f.write_str("\n")?;
            }
            write!(f, "{d}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Diagnostics {}

/// A diagnostic before it knows its file, line and column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Note {
    pub severity: Severity,
    pub code: &'static str,
    pub span: Range<usize>,
    pub message: String,
    pub expected: String,
    pub help: Option<String>,
}

impl Note {
    pub fn error(code: &'static str, span: Range<usize>, message: impl Into<String>) -> Self {
        Self {
            severity: Severity::Error,
            code,
            span,
            message: message.into(),
            expected: String::new(),
            help: None,
        }
    }

    pub fn warning(code: &'static str, span: Range<usize>, message: impl Into<String>) -> Self {
        Self {
            severity: Severity::Warning,
            ..Self::error(code, span, message)
        }
    }

    pub fn expected(mut self, what: impl Into<String>) -> Self {
        self.expected = what.into();
        self
    }

    pub fn help(mut self, how: impl Into<String>) -> Self {
        self.help = Some(how.into());
        self
    }

    pub fn maybe_help(mut self, how: Option<String>) -> Self {
        self.help = how.or(self.help);
        self
    }
}

/// After so many, the rest of a playbook is not read: they are of no more help to anyone.
pub(crate) const MAX_NOTES: usize = 200;

/// Where each line of a text starts, so that positions are found without reading it again.
pub(crate) struct LineIndex<'a> {
    source: &'a str,
    starts: Vec<usize>,
}

impl<'a> LineIndex<'a> {
    pub fn new(source: &'a str) -> Self {
        let starts = std::iter::once(0)
            .chain(source.match_indices('\n').map(|(i, _)| i + 1))
            .collect();
        Self { source, starts }
    }

    /// Line and column, both from 1, of a byte; beyond the text, of its end.
    pub fn locate(&self, byte: usize) -> (usize, usize) {
        let byte = byte.min(self.source.len());
        let line = self.starts.partition_point(|s| *s <= byte) - 1;
        let column = self.source[self.starts[line]..]
            .char_indices()
            .take_while(|(i, _)| self.starts[line] + i < byte)
            .count();
        (line + 1, column + 1)
    }
}

/// Gives notes their places, in the order of the file, each thing said once.
pub(crate) fn place(notes: Vec<Note>, file: &str, source: &str) -> Diagnostics {
    let index = LineIndex::new(source);
    let mut list: Vec<Diagnostic> = Vec::with_capacity(notes.len());
    let mut said = BTreeSet::new();
    for n in notes {
        // The same sentence is compiled from several entry states; one of them is enough to read.
        if !said.insert((n.code, n.span.start, n.span.end)) {
            continue;
        }
        let (line, column) = index.locate(n.span.start);
        list.push(Diagnostic {
            severity: n.severity,
            code: n.code,
            file: file.to_owned(),
            line,
            column,
            span: n.span,
            message: n.message,
            expected: n.expected,
            help: n.help,
        });
    }
    list.sort_by_key(|d| (d.span.start, d.severity));
    Diagnostics {
        source: source.to_owned(),
        list,
    }
}

/// The known word nearest to what was written, if one is near enough to be meant.
pub(crate) fn nearest<'a>(
    written: &str,
    known: impl IntoIterator<Item = &'a str>,
) -> Option<&'a str> {
    let written: String = written.chars().take(40).collect();
    let limit = (written.chars().count() / 3).max(1);
    known
        .into_iter()
        .map(|k| (strsim::damerau_levenshtein(&written, k), k))
        .filter(|(d, _)| *d <= limit)
        .min_by_key(|(d, _)| *d)
        .map(|(_, k)| k)
}

/// `did you mean …?` for the nearest known word.
pub(crate) fn did_you_mean<'a>(
    written: &str,
    known: impl IntoIterator<Item = &'a str>,
) -> Option<String> {
    nearest(written, known).map(|k| format!("did you mean `{k}`?"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_and_columns_count_characters_from_one() {
        let i = LineIndex::new("ab\ncdé f\n");
        assert_eq!(i.locate(0), (1, 1));
        assert_eq!(i.locate(3), (2, 1));
        assert_eq!(i.locate(8), (2, 5));
        assert_eq!(i.locate(99), (3, 1));
    }

    #[test]
    fn nearest_word_is_near() {
        assert_eq!(
            nearest("lft wing", ["left wing", "right wing"]),
            Some("left wing")
        );
        assert_eq!(nearest("qqqq", ["left wing", "top"]), None);
    }
}

//! What can be wrong with a file of tracks: where, what was found, what was expected, how to mend.

use std::fmt;
use std::path::{Path, PathBuf};

/// Where in a file something is wrong.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Place {
    /// The file.
    pub file: PathBuf,
    /// Line of a text file, or row of a table file, from 1. Header lines count in text files.
    pub row: Option<u64>,
    /// Column by name, or by number from 1 where there are no names.
    pub column: Option<String>,
}

impl Place {
    /// A whole file.
    #[must_use]
    pub fn file(file: &Path) -> Self {
        Self {
            file: file.to_owned(),
            row: None,
            column: None,
        }
    }

    /// A line or row of a file.
    #[must_use]
    pub fn row(file: &Path, row: u64) -> Self {
        Self {
            row: Some(row),
            ..Self::file(file)
        }
    }

    /// The same place, in a column.
    #[must_use]
    pub fn column(mut self, column: impl Into<String>) -> Self {
        self.column = Some(column.into());
        self
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file.display())?;
        if let Some(row) = self.row {
            write!(f, ", row {row}")?;
        }
        if let Some(column) = &self.column {
            write!(f, ", column `{column}`")?;
        }
        Ok(())
    }
}

/// A file that cannot be used, with the place and the mend.
#[derive(Debug, Clone, PartialEq)]
pub struct TracksError {
    /// Where.
    pub place: Place,
    /// What is wrong and what was expected.
    pub problem: Box<Problem>,
}

impl fmt::Display for TracksError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.place, self.problem)
    }
}

impl std::error::Error for TracksError {}

impl TracksError {
    /// An error at a place.
    #[must_use]
    pub fn new(place: Place, problem: Problem) -> Self {
        Self {
            place,
            problem: Box::new(problem),
        }
    }

    /// How to mend it: one sentence.
    #[must_use]
    pub fn mend(&self) -> String {
        self.problem.mend()
    }
}

/// What is wrong.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Problem {
    /// The operating system refused.
    #[error("cannot {action}: {reason}")]
    Io {
        /// What was tried: `read`, `write`.
        action: &'static str,
        /// What the system said.
        reason: String,
    },
    /// No mapping beside the data.
    #[error("no mapping found: expected {}", .looked.join(" or "))]
    NoMapping {
        /// File names looked for, in order.
        looked: Vec<String>,
    },
    /// A folder without any file of tracks.
    #[error("no file of tracks in this folder: expected names ending in {expected}")]
    NoData {
        /// Known endings.
        expected: &'static str,
    },
    /// The mapping is not valid TOML or has an unknown key.
    #[error("{message}")]
    Toml {
        /// What the parser expected.
        message: String,
    },
    /// A value of the mapping that cannot be.
    #[error("`{field}` is {found}: expected {expected}")]
    Value {
        /// The key, with its table.
        field: String,
        /// The value.
        found: String,
        /// What was expected.
        expected: String,
    },
    /// Something the mapping must say and does not.
    #[error("the mapping does not say `{field}`: {why}")]
    Missing {
        /// The key, with its table.
        field: &'static str,
        /// Why it is needed.
        why: String,
    },
    /// A folder where one file was expected.
    #[error("this is a folder of {files} files of tracks: expected one file")]
    Folder {
        /// How many it holds.
        files: usize,
    },
    /// Unknown kind of file.
    #[error("cannot tell the format of this file: expected a name ending in {expected}")]
    Format {
        /// Known endings.
        expected: &'static str,
    },
    /// A column of the mapping is not in the file.
    #[error("no column `{wanted}`: the file has {}", list(.found))]
    NoColumn {
        /// The column asked for.
        wanted: String,
        /// Columns of the file.
        found: Vec<String>,
        /// The most similar name, if one is near.
        nearest: Option<String>,
    },
    /// A column that appears twice.
    #[error("column `{name}` appears twice in the header: expected each name once")]
    TwiceColumn {
        /// The name.
        name: String,
    },
    /// A cell that is not what the mapping says.
    #[error("found `{found}`: expected {expected}")]
    Cell {
        /// The cell, shortened.
        found: String,
        /// What was expected.
        expected: String,
        /// How to mend it.
        mend: &'static str,
    },
    /// A row with more or fewer cells than the others.
    #[error("{found} cells: expected {expected} as in the first row")]
    Cells {
        /// Cells in this row.
        found: usize,
        /// Cells in the first row.
        expected: usize,
    },
    /// Not text in UTF-8.
    #[error("not text in UTF-8")]
    Utf8,
    /// No rows at all.
    #[error("the file is empty: expected {expected}")]
    Empty {
        /// What was expected.
        expected: &'static str,
    },
    /// A binary file that does not decode.
    #[error("not a whole {format} file: {reason}")]
    Damaged {
        /// The format.
        format: &'static str,
        /// What the decoder said.
        reason: String,
    },
    /// A JSON text that does not parse or lacks a member.
    #[error("{message}")]
    Json {
        /// What was wrong, and expected.
        message: String,
    },
    /// Positions on the earth instead of on a floor.
    #[error("coordinates are longitudes and latitudes (`{crs}`): expected positions on a plane")]
    Degrees {
        /// The reference system as the file names it.
        crs: String,
    },
    /// A column of a type that holds no such value.
    #[error("values of type {found}: expected {expected}")]
    ColumnType {
        /// The type in the file.
        found: String,
        /// What was expected.
        expected: &'static str,
    },
    /// Larger than we read.
    #[error("{what} is {found}: expected at most {limit}")]
    Limit {
        /// What is too large.
        what: &'static str,
        /// The size.
        found: String,
        /// The limit.
        limit: String,
    },
    /// An object of no team.
    #[error("object `{object}` belongs to no team: expected one of {}", list(.teams))]
    NoTeam {
        /// The object.
        object: String,
        /// Declared teams.
        teams: Vec<String>,
    },
    /// A team the mapping does not declare.
    #[error("team `{team}` of object `{object}` is not declared: expected one of {}", list(.teams))]
    UnknownTeam {
        /// The team as the file has it.
        team: String,
        /// The object.
        object: String,
        /// Declared teams.
        teams: Vec<String>,
    },
    /// An object that changes team.
    #[error("object `{object}` is of team `{first}` and later of team `{second}`")]
    TwoTeams {
        /// The object.
        object: String,
        /// Its first team.
        first: String,
        /// Its other team.
        second: String,
    },
    /// No object but the ball.
    #[error("no player has a single position in this file")]
    NoPlayers,
    /// More players of one side than rules allow.
    #[error(
        "team `{team}` has {count} players on the floor from {from_s:.1} s to {to_s:.1} s ({}): \
         expected at most {limit}", .who.join(", ")
    )]
    TooMany {
        /// The team.
        team: String,
        /// How many at once.
        count: usize,
        /// From, session seconds.
        from_s: f64,
        /// To, session seconds.
        to_s: f64,
        /// Who.
        who: Vec<String>,
        /// How many are allowed.
        limit: usize,
        /// The two, of different sides, whom a person has exchanged by then.
        exchanged: Option<Box<(String, String)>>,
    },
    /// Positions that fill no floor.
    #[error(
        "the players fill too little of the floor: over {seconds:.0} s the middle 98 % of positions \
         reach over {length:.1} by {width:.1} m, expected more than {least:.0} m both ways, or \
         {long:.0} m one way"
    )]
    Cramped {
        /// Duration, seconds.
        seconds: f64,
        /// Extent along the floor, metres.
        length: f64,
        /// Extent across, metres.
        width: f64,
        /// Expected both ways, metres.
        least: f64,
        /// Expected one way, metres.
        long: f64,
        /// What is probably wrong.
        hint: String,
    },
    /// Positions that fit no floor.
    #[error(
        "positions do not fit the floor: the middle 98 % reach from ({x0:.1}, {y0:.1}) to \
         ({x1:.1}, {y1:.1}) m, expected within {length:.1} by {width:.1} m about (0, 0)"
    )]
    OffFloor {
        /// Least x, metres.
        x0: f64,
        /// Least y, metres.
        y0: f64,
        /// Greatest x, metres.
        x1: f64,
        /// Greatest y, metres.
        y1: f64,
        /// Length of the floor, metres.
        length: f64,
        /// Width of the floor, metres.
        width: f64,
        /// What is probably wrong.
        hint: String,
    },
    /// No frame rate given, and none to be found.
    #[error("cannot find a frame rate: {why}")]
    Rate {
        /// Why.
        why: String,
    },
    /// One object in two places at one time.
    #[error(
        "object `{object}` is at ({x0}, {y0}) and at ({x1}, {y1}) at {time} s, and in two places at \
         {share:.0} % of its times: expected one position per object and time"
    )]
    TwoPlaces {
        /// The object.
        object: String,
        /// First position, metres.
        x0: f64,
        /// First position, metres.
        y0: f64,
        /// Second position, metres.
        x1: f64,
        /// Second position, metres.
        y1: f64,
        /// When, session seconds.
        time: f64,
        /// Share of times, per cent.
        share: f64,
    },
    /// Landmarks that do not fix a homography.
    #[error("landmarks do not fix the floor: {why}")]
    Landmarks {
        /// Why.
        why: String,
    },
    /// Parts that do not make a session.
    #[error(transparent)]
    Session(#[from] crate::SessionError),
}

fn list(names: &[String]) -> String {
    const SHOWN: usize = 12;
    let mut text = names
        .iter()
        .take(SHOWN)
        .map(|n| format!("`{}`", shown(n)))
        .collect::<Vec<_>>()
        .join(", ");
    if names.is_empty() {
        text.push_str("none");
    }
    if names.len() > SHOWN {
        text.push_str(&format!(" and {} more", names.len() - SHOWN));
    }
    text
}

impl Problem {
    /// How to mend it: one sentence.
    #[must_use]
    pub fn mend(&self) -> String {
        match self {
            Self::Io { .. } => "Check the path and the permission to use it.".into(),
            Self::NoMapping { .. } => {
                "Run `setdrift inspect` on the data file: it writes a mapping to be checked.".into()
            }
            Self::NoData { .. } => "Name the data file, or put it in this folder.".into(),
            Self::Toml { .. } => "Correct the mapping; docs/data-formats.md lists its keys.".into(),
            Self::Value { field, .. } => format!("Correct `{field}` in the mapping."),
            Self::Missing { field, .. } => format!("Add `{field}` to the mapping."),
            Self::Folder { .. } => {
                "Name one of its files; as `tracks.toml` in the folder, what is written for it serves \
                 all, and `file.parts = true` there makes them one session."
                    .into()
            }
            Self::Format { .. } => "Rename the file, or set `file.format` in the mapping.".into(),
            Self::NoColumn {
                nearest: Some(n), ..
            } => format!("Did you mean `{n}`? Correct the column in the mapping."),
            Self::NoColumn { .. } => "Correct the column's name in the mapping.".into(),
            Self::TwiceColumn { .. } => "Rename one of the two columns.".into(),
            Self::Cell { mend, .. } => (*mend).into(),
            Self::Cells { .. } => {
                "Correct the row, or set `file.delimiter` in the mapping if cells are cut wrongly."
                    .into()
            }
            Self::Utf8 => "Save the file as UTF-8.".into(),
            Self::Empty { .. } => "Export the data again.".into(),
            Self::Damaged { .. } => {
                "Copy or export the file again; it may have been cut short.".into()
            }
            Self::Json { .. } => "Correct the JSON text at this place.".into(),
            Self::Degrees { .. } => {
                "Project them to metres on the floor, or correct `crs` if they are on a plane \
                 already."
                    .into()
            }
            Self::ColumnType { .. } => {
                "Name another column in the mapping, or export this one as numbers or text.".into()
            }
            Self::Limit { what, .. } if what.contains("column") => {
                "Check `file.delimiter` in the mapping, or leave out columns that are no positions."
                    .into()
            }
            Self::Limit { what, .. } if what.contains("objects") => {
                "Check `columns.object` in the mapping: it must tell players apart, not rows."
                    .into()
            }
            Self::Limit { .. } => "Cut the file into sessions, one file each.".into(),
            Self::NoTeam { .. } => {
                "List it under `members` of its team, in the roster, or under `ignore`.".into()
            }
            Self::UnknownTeam { .. } => {
                "Add a `[[teams]]` entry with this id, or list the object under `ignore`.".into()
            }
            Self::TwoTeams { .. } => {
                "Give the two players different ids; shirt numbers alone repeat between teams."
                    .into()
            }
            Self::NoPlayers => "Check `columns`, `ignore` and `ball` in the mapping.".into(),
            Self::TooMany {
                exchanged: Some(two),
                ..
            } => format!(
                "Correct `[[exchanges]]` of `{}` and `{}` in the mapping: it takes one of the other \
                 side among them. Else correct the team of one of them.",
                two.0, two.1
            ),
            Self::TooMany { .. } => {
                "Correct the team of one of them, or list who is not playing under `ignore`.".into()
            }
            Self::OffFloor { hint, .. } | Self::Cramped { hint, .. } => hint.clone(),
            Self::Rate { .. } => "Set `time.rate` (frames per second) in the mapping.".into(),
            Self::TwoPlaces { .. } => {
                "Check `columns.object` in the mapping: it must tell all objects apart.".into()
            }
            Self::Landmarks { .. } => {
                "Give at least four landmarks, no three of them on one line, in image and floor \
                 coordinates."
                    .into()
            }
            Self::Session(_) => "Check the mapping's `time` and `columns`.".into(),
        }
    }
}

/// Something a person should know about data that can be used all the same.
#[derive(Debug, Clone, PartialEq)]
pub struct Warning {
    /// Where.
    pub place: Place,
    /// What, in one sentence.
    pub message: String,
}

impl Warning {
    pub(crate) fn new(file: &Path, message: impl Into<String>) -> Self {
        Self {
            place: Place::file(file),
            message: message.into(),
        }
    }
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.place, self.message)
    }
}

/// A cell shortened for a message, without control characters.
pub(crate) fn shown(cell: &str) -> String {
    let mut s: String = cell
        .chars()
        .take(40)
        .map(|c| if c.is_control() { '·' } else { c })
        .collect();
    if cell.chars().count() > 40 {
        s.push('…');
    }
    s
}

/// The name nearest to `wanted` by edit distance, if at most a third of it differs.
pub(crate) fn nearest<'a>(
    wanted: &str,
    names: impl IntoIterator<Item = &'a str>,
) -> Option<String> {
    let w = wanted.to_lowercase();
    names
        .into_iter()
        .map(|n| (edits(&w, &n.to_lowercase()), n))
        .filter(|(d, n)| *d * 3 <= n.chars().count().max(w.chars().count()))
        .min_by_key(|(d, _)| *d)
        .map(|(_, n)| n.to_owned())
}

/// Levenshtein distance.
fn edits(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, ca) in a.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, cb) in b.iter().enumerate() {
            let cost = diagonal + usize::from(ca != *cb);
            diagonal = row[j + 1];
            row[j + 1] = cost.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn message_has_place_and_mend() {
        let e = TracksError::new(
            Place::row(Path::new("g.csv"), 7).column("x"),
            Problem::Cell {
                found: "abc".into(),
                expected: "a number".into(),
                mend: "Correct the cell.",
            },
        );
        assert_eq!(
            e.to_string(),
            "g.csv, row 7, column `x`: found `abc`: expected a number"
        );
        assert_eq!(e.mend(), "Correct the cell.");
    }

    #[test]
    fn near_names() {
        assert_eq!(nearest("x_pos", ["y", "xpos", "t"]), Some("xpos".into()));
        assert_eq!(nearest("zzz", ["time", "object"]), None);
        // Levenshtein 1966: kitten to sitting takes three edits.
        assert_eq!(edits("kitten", "sitting"), 3);
    }
}

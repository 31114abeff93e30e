//! The tables of a review read back, for what is made from them afterwards: marks for video.

use crate::{
    results::Results,
    tables,
    write::{EncodeError, frame},
};
use arrow::error::ArrowError;
use polars::prelude::{DataFrame, ParquetReader, PolarsError, SerReader};
use std::{
    fs::File,
    path::{Path, PathBuf},
};

/// A review's tables, session by session in their order.
#[derive(Debug, Clone, PartialEq)]
pub struct Reviewed {
    /// Sessions in the order of the `sessions` table.
    pub sessions: Vec<ReviewedSession>,
}

/// One session of a review.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ReviewedSession {
    /// Session id.
    pub id: String,
    /// Its date, where known.
    pub date: Option<String>,
    /// Its players.
    pub players: Vec<PlayerRow>,
    /// Its possessions, in time order.
    pub possessions: Vec<PossessionRow>,
    /// Stretches of possessions, in time order.
    pub stretches: Vec<StretchRow>,
    /// What was wrong with runs.
    pub faults: Vec<FaultRow>,
    /// Cues, judged.
    pub cues: Vec<CueRow>,
    /// Placements and expectations, judged.
    pub placements: Vec<PlacementRow>,
}

/// A row of `players`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlayerRow {
    /// Id, the same in every table.
    pub id: String,
    /// Shirt number, where known.
    pub number: Option<String>,
    /// What to call the player.
    pub label: String,
    /// Whether of the team whose offence is audited.
    pub audited: bool,
}

/// A row of `possessions`.
#[derive(Debug, Clone, PartialEq)]
pub struct PossessionRow {
    /// Number in the session.
    pub number: usize,
    /// From, session seconds.
    pub from_s: f64,
    /// To, session seconds.
    pub to_s: f64,
    /// Result in words.
    pub result: String,
    /// Points, where known.
    pub points: Option<usize>,
}

/// A row of `segments`.
#[derive(Debug, Clone, PartialEq)]
pub struct StretchRow {
    /// Number of the possession in the session.
    pub possession: usize,
    /// Index in the possession, from 0.
    pub segment: usize,
    /// From, session seconds.
    pub from_s: f64,
    /// To, session seconds.
    pub to_s: f64,
    /// `option`, `set`, `off script` or `not enough data`.
    pub what: String,
    /// Option key; empty where it is none.
    pub option: String,
    /// Title of the option, or the formation; empty otherwise.
    pub title: String,
    /// `right` or `left`; empty where it is no option.
    pub hand: String,
    /// Verdict in words; empty where there is none.
    pub verdict: String,
    /// Role and player's id.
    pub roles: Vec<(String, String)>,
}

/// A row of `faults`.
#[derive(Debug, Clone, PartialEq)]
pub struct FaultRow {
    /// Number of the possession in the session.
    pub possession: usize,
    /// Index of the segment in the possession.
    pub segment: usize,
    /// When, session seconds.
    pub time_s: f64,
    /// In words.
    pub text: String,
}

/// A row of `cues`.
#[derive(Debug, Clone, PartialEq)]
pub struct CueRow {
    /// Number of the possession in the session.
    pub possession: usize,
    /// Option key.
    pub option: String,
    /// The action as declared.
    pub text: String,
    /// Role of the mover.
    pub role: String,
    /// Player's id.
    pub player: String,
    /// When the cue came, session seconds.
    pub cue_s: Option<f64>,
    /// When the player went, session seconds.
    pub onset_s: Option<f64>,
    /// Latest good lag, seconds.
    pub window_to_s: f64,
    /// `early`, `on time`, `late`, `never` or `cannot tell`.
    pub verdict: String,
    /// What it rests on.
    pub evidence: String,
}

/// A row of `placements`.
#[derive(Debug, Clone, PartialEq)]
pub struct PlacementRow {
    /// Number of the possession in the session.
    pub possession: usize,
    /// Option key.
    pub option: String,
    /// As declared.
    pub text: String,
    /// Role concerned; empty where it is none.
    pub role: String,
    /// Player's id; empty where it is none.
    pub player: String,
    /// When it was judged, session seconds.
    pub time_s: f64,
    /// `kept`, `not kept` or `cannot tell`.
    pub verdict: String,
    /// What it rests on.
    pub evidence: String,
}

/// Why the tables of a review could not be read.
#[derive(Debug, thiserror::Error)]
pub enum ReviewedError {
    /// There is no such table.
    #[error("no review in `{}`: `{}` is not there", .folder.display(), .file.display())]
    Missing {
        /// The folder named.
        folder: PathBuf,
        /// The file looked for.
        file: PathBuf,
    },
    /// The file cannot be opened.
    #[error("`{}` cannot be read: {source}", .file.display())]
    Io {
        /// The file.
        file: PathBuf,
        /// Cause.
        source: std::io::Error,
    },
    /// The file is no Parquet file.
    #[error("`{file}` is no Parquet table: {source}")]
    Format {
        /// The file or table.
        file: String,
        /// Cause.
        source: PolarsError,
    },
    /// A column is not there, or of another type.
    #[error("`{file}`: column `{column}` of {expected} is missing")]
    Column {
        /// The file or table.
        file: String,
        /// The column looked for.
        column: &'static str,
        /// What it has to hold.
        expected: &'static str,
    },
    /// A row lacks what it must have.
    #[error("`{file}`, row {row}: `{column}` is empty")]
    Empty {
        /// The file or table.
        file: String,
        /// The row, from 1.
        row: usize,
        /// The column.
        column: &'static str,
    },
    /// Of tables in memory; no input should bring that about.
    #[error(transparent)]
    Table(#[from] ArrowError),
    /// Of tables in memory; no input should bring that about.
    #[error(transparent)]
    Encode(#[from] EncodeError),
}

impl Reviewed {
    /// Reads the Parquet tables of the folder that a review was written to, or of its `tables`.
    ///
    /// # Errors
    /// [`ReviewedError`] for a folder without a review, or a table that lacks a column.
    pub fn read(folder: &Path) -> Result<Self, ReviewedError> {
        let inner = folder.join("tables");
        let tables = if inner.is_dir() {
            inner
        } else {
            folder.to_owned()
        };
        Self::from(&|name| {
            let path = tables.join(format!("{name}.parquet"));
            if !path.is_file() {
                return Err(ReviewedError::Missing {
                    folder: folder.to_owned(),
                    file: path,
                });
            }
            let file = File::open(&path).map_err(|source| ReviewedError::Io {
                file: path.clone(),
                source,
            })?;
            let shown = path.display().to_string();
            ParquetReader::new(file)
                .finish()
                .map(|frame| Columns {
                    file: shown.clone(),
                    frame,
                })
                .map_err(|source| ReviewedError::Format {
                    file: shown,
                    source,
                })
        })
    }

    /// The same of results in memory.
    ///
    /// # Errors
    /// [`ReviewedError`]; no results should bring one about.
    pub fn of(results: &Results) -> Result<Self, ReviewedError> {
        let all = tables(results)?;
        Self::from(&|name| {
            let Some(table) = all.iter().find(|t| t.name == name) else {
                return Err(ReviewedError::Missing {
                    folder: PathBuf::new(),
                    file: name.into(),
                });
            };
            Ok(Columns {
                file: name.to_owned(),
                frame: frame(table)?,
            })
        })
    }

    fn from(
        open: &dyn Fn(&'static str) -> Result<Columns, ReviewedError>,
    ) -> Result<Self, ReviewedError> {
        let t = open("sessions")?;
        let (ids, dates) = (t.must_text("session")?, t.text("date")?);
        let mut sessions: Vec<ReviewedSession> = ids
            .into_iter()
            .zip(dates)
            .map(|(id, date)| ReviewedSession {
                id,
                date,
                ..ReviewedSession::default()
            })
            .collect();
        fill(&mut sessions, &open("players")?, players, |s| {
            &mut s.players
        })?;
        fill(&mut sessions, &open("possessions")?, possessions, |s| {
            &mut s.possessions
        })?;
        fill(&mut sessions, &open("segments")?, stretches, |s| {
            &mut s.stretches
        })?;
        fill(&mut sessions, &open("faults")?, faults, |s| &mut s.faults)?;
        fill(&mut sessions, &open("cues")?, cues, |s| &mut s.cues)?;
        fill(&mut sessions, &open("placements")?, placements, |s| {
            &mut s.placements
        })?;
        Ok(Self { sessions })
    }
}

impl ReviewedSession {
    /// What to call a player: the label, or the id where the player is not in the table.
    #[must_use]
    pub fn label<'a>(&'a self, id: &'a str) -> &'a str {
        self.players
            .iter()
            .find(|p| p.id == id)
            .map_or(id, |p| p.label.as_str())
    }
}

/// Gives each row to its session.
fn fill<T>(
    sessions: &mut [ReviewedSession],
    table: &Columns,
    rows: impl Fn(&Columns) -> Result<Vec<T>, ReviewedError>,
    of: impl Fn(&mut ReviewedSession) -> &mut Vec<T>,
) -> Result<(), ReviewedError> {
    for (id, row) in table.must_text("session")?.iter().zip(rows(table)?) {
        if let Some(s) = sessions.iter_mut().find(|s| s.id == *id) {
            of(s).push(row);
        }
    }
    Ok(())
}

fn players(t: &Columns) -> Result<Vec<PlayerRow>, ReviewedError> {
    let (mut id, mut number) = (t.must_text("player")?, t.text("number")?);
    let (mut label, audited) = (t.must_text("label")?, t.flag("audited")?);
    Ok((0..t.frame.height())
        .map(|i| PlayerRow {
            id: std::mem::take(&mut id[i]),
            number: number[i].take(),
            label: std::mem::take(&mut label[i]),
            audited: audited[i],
        })
        .collect())
}

fn possessions(t: &Columns) -> Result<Vec<PossessionRow>, ReviewedError> {
    let (number, points) = (t.must_count("possession")?, t.count("points")?);
    let (from, to) = (t.must_number("from")?, t.must_number("to")?);
    let result = t.any_text("result")?;
    Ok((0..t.frame.height())
        .map(|i| PossessionRow {
            number: number[i],
            from_s: from[i],
            to_s: to[i],
            result: result[i].clone(),
            points: points[i],
        })
        .collect())
}

fn stretches(t: &Columns) -> Result<Vec<StretchRow>, ReviewedError> {
    let (possession, segment) = (t.must_count("possession")?, t.must_count("segment")?);
    let (from, to) = (t.must_number("from")?, t.must_number("to")?);
    let (what, option) = (t.must_text("what")?, t.any_text("option")?);
    let (title, hand) = (t.any_text("title")?, t.any_text("hand")?);
    let (verdict, roles) = (t.any_text("verdict")?, t.any_text("roles")?);
    Ok((0..t.frame.height())
        .map(|i| StretchRow {
            possession: possession[i],
            segment: segment[i],
            from_s: from[i],
            to_s: to[i],
            what: what[i].clone(),
            option: option[i].clone(),
            title: title[i].clone(),
            hand: hand[i].clone(),
            verdict: verdict[i].clone(),
            roles: pairs(&roles[i]),
        })
        .collect())
}

/// `1=H05 2=H11` as pairs. An id may hold a space.
fn pairs(text: &str) -> Vec<(String, String)> {
    let mut out: Vec<(String, String)> = Vec::new();
    for word in text.split(' ').filter(|w| !w.is_empty()) {
        match (word.split_once('='), out.last_mut()) {
            (Some((role, id)), _) => out.push((role.to_owned(), id.to_owned())),
            (None, Some(last)) => {
                last.1.push(' ');
                last.1.push_str(word);
            }
            (None, None) => {}
        }
    }
    out
}

fn faults(t: &Columns) -> Result<Vec<FaultRow>, ReviewedError> {
    let (possession, segment) = (t.must_count("possession")?, t.must_count("segment")?);
    let (time, text) = (t.must_number("time")?, t.any_text("fault")?);
    Ok((0..t.frame.height())
        .map(|i| FaultRow {
            possession: possession[i],
            segment: segment[i],
            time_s: time[i],
            text: text[i].clone(),
        })
        .collect())
}

fn cues(t: &Columns) -> Result<Vec<CueRow>, ReviewedError> {
    let (possession, option) = (t.must_count("possession")?, t.any_text("option")?);
    let (text, role) = (t.any_text("action")?, t.any_text("role")?);
    let (player, verdict) = (t.any_text("player")?, t.must_text("verdict")?);
    let (cue, onset) = (t.number("cue")?, t.number("onset")?);
    let (window, evidence) = (t.must_number("window_to")?, t.any_text("evidence")?);
    Ok((0..t.frame.height())
        .map(|i| CueRow {
            possession: possession[i],
            option: option[i].clone(),
            text: text[i].clone(),
            role: role[i].clone(),
            player: player[i].clone(),
            cue_s: cue[i],
            onset_s: onset[i],
            window_to_s: window[i],
            verdict: verdict[i].clone(),
            evidence: evidence[i].clone(),
        })
        .collect())
}

fn placements(t: &Columns) -> Result<Vec<PlacementRow>, ReviewedError> {
    let (possession, option) = (t.must_count("possession")?, t.any_text("option")?);
    let (text, role) = (t.any_text("declared")?, t.any_text("role")?);
    let (player, time) = (t.any_text("player")?, t.must_number("time")?);
    let (verdict, evidence) = (t.must_text("verdict")?, t.any_text("evidence")?);
    Ok((0..t.frame.height())
        .map(|i| PlacementRow {
            possession: possession[i],
            option: option[i].clone(),
            text: text[i].clone(),
            role: role[i].clone(),
            player: player[i].clone(),
            time_s: time[i],
            verdict: verdict[i].clone(),
            evidence: evidence[i].clone(),
        })
        .collect())
}

/// The columns of one table by name.
struct Columns {
    file: String,
    frame: DataFrame,
}

impl Columns {
    fn missing(&self, column: &'static str, expected: &'static str) -> ReviewedError {
        ReviewedError::Column {
            file: self.file.clone(),
            column,
            expected,
        }
    }

    fn text(&self, name: &'static str) -> Result<Vec<Option<String>>, ReviewedError> {
        let column = self.frame.column(name).and_then(|c| c.str());
        let column = column.map_err(|_| self.missing(name, "text"))?;
        Ok(column.iter().map(|v| v.map(str::to_owned)).collect())
    }

    fn number(&self, name: &'static str) -> Result<Vec<Option<f64>>, ReviewedError> {
        let column = self.frame.column(name).and_then(|c| c.f64());
        let column = column.map_err(|_| self.missing(name, "numbers"))?;
        Ok(column.iter().collect())
    }

    fn count(&self, name: &'static str) -> Result<Vec<Option<usize>>, ReviewedError> {
        let column = self.frame.column(name).and_then(|c| c.i64());
        let column = column.map_err(|_| self.missing(name, "whole numbers"))?;
        Ok(column
            .iter()
            .map(|v| v.and_then(|v| usize::try_from(v).ok()))
            .collect())
    }

    fn flag(&self, name: &'static str) -> Result<Vec<bool>, ReviewedError> {
        let column = self.frame.column(name).and_then(|c| c.bool());
        let column = column.map_err(|_| self.missing(name, "yes or no"))?;
        Ok(column.iter().map(|v| v.unwrap_or(false)).collect())
    }

    /// Text in which nothing is as good as empty.
    fn any_text(&self, name: &'static str) -> Result<Vec<String>, ReviewedError> {
        let all = self.text(name)?;
        Ok(all.into_iter().map(Option::unwrap_or_default).collect())
    }

    fn all<T>(&self, name: &'static str, values: Vec<Option<T>>) -> Result<Vec<T>, ReviewedError> {
        values
            .into_iter()
            .enumerate()
            .map(|(i, v)| {
                v.ok_or_else(|| ReviewedError::Empty {
                    file: self.file.clone(),
                    row: i + 1,
                    column: name,
                })
            })
            .collect()
    }

    fn must_text(&self, name: &'static str) -> Result<Vec<String>, ReviewedError> {
        self.all(name, self.text(name)?)
    }

    fn must_number(&self, name: &'static str) -> Result<Vec<f64>, ReviewedError> {
        self.all(name, self.number(name)?)
    }

    fn must_count(&self, name: &'static str) -> Result<Vec<usize>, ReviewedError> {
        self.all(name, self.count(name)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{table::TableBuilder, to_parquet};

    fn folder(name: &str) -> PathBuf {
        let path = std::env::temp_dir().join(format!("setdrift-{}-{name}", std::process::id()));
        let _ = std::fs::remove_dir_all(&path);
        std::fs::create_dir_all(&path).unwrap();
        path
    }

    #[test]
    fn roles_are_read_back_whatever_the_ids() {
        let of = |a: &str, b: &str| (a.to_owned(), b.to_owned());
        assert_eq!(pairs(""), []);
        assert_eq!(
            pairs("1=H05 2=Anna K. 3=7"),
            [of("1", "H05"), of("2", "Anna K."), of("3", "7")]
        );
    }

    #[test]
    fn a_folder_without_a_review_is_named() {
        let empty = folder("no-review");
        let e = Reviewed::read(&empty).unwrap_err().to_string();
        assert!(
            e.starts_with("no review in") && e.contains("sessions.parquet"),
            "{e}"
        );
        std::fs::write(empty.join("sessions.parquet"), "session\npractice\n").unwrap();
        let e = Reviewed::read(&empty).unwrap_err().to_string();
        assert!(e.contains("is no Parquet table"), "{e}");
        std::fs::remove_dir_all(empty).unwrap();
    }

    #[test]
    fn a_column_that_is_not_there_and_a_cell_that_is_empty_are_named() {
        let path = folder("columns");
        let write = |rows: &[Option<String>], date: bool| {
            let t = TableBuilder::new("sessions", "a session", rows).text(
                "session",
                "id",
                Clone::clone,
            );
            let t = if date {
                t.text("date", "date", Clone::clone)
            } else {
                t
            };
            let bytes = to_parquet(&t.build().unwrap()).unwrap();
            std::fs::write(path.join("sessions.parquet"), bytes).unwrap();
            Reviewed::read(&path).unwrap_err().to_string()
        };
        let e = write(&[Some("a".into())], false);
        assert!(e.contains("column `date` of text is missing"), "{e}");
        let e = write(&[Some("a".into()), None], true);
        assert!(e.contains("row 2: `session` is empty"), "{e}");
        std::fs::remove_dir_all(path).unwrap();
    }
}

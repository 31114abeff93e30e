//! Files beside the tracks: roster, results, tags.

use crate::error::{Place, Problem, TracksError, nearest, shown};
use crate::given::{GivenResult, OutcomeKind, Tag};
use crate::mapping::FileSpec;
use crate::read::Opened;
use crate::table::{Column, Request, Want};
use std::path::Path;

/// One line of a roster.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RosterEntry {
    /// As the tracks write the object; or any unique name, when `number` and `team` match instead.
    pub id: String,
    /// Shirt number.
    pub number: Option<String>,
    /// Name for people.
    pub name: Option<String>,
    /// Team id.
    pub team: Option<String>,
    /// Roles of the playbook the player may take.
    pub roles: Vec<String>,
}

/// A small table of texts and numbers with its rows' places.
struct SideTable<'p> {
    path: &'p Path,
    first_row: u64,
    names: Vec<String>,
    columns: Vec<Option<Column>>,
}

impl<'p> SideTable<'p> {
    /// Read columns `(name, what, required)`.
    fn read(path: &'p Path, wanted: &[(&str, Want, bool)]) -> Result<Self, TracksError> {
        let opened = Opened::open(path, &FileSpec::default())?;
        let mut requests = Vec::new();
        let mut places = Vec::new();
        for (name, want, required) in wanted {
            let index = opened
                .names()
                .iter()
                .position(|n| n.eq_ignore_ascii_case(name));
            if index.is_none() && *required {
                return Err(TracksError::new(
                    Place::file(path),
                    Problem::NoColumn {
                        wanted: (*name).to_owned(),
                        found: opened.names().to_vec(),
                        nearest: nearest(name, opened.names().iter().map(String::as_str)),
                    },
                ));
            }
            places.push(index.map(|_| requests.len()));
            requests.extend(index.map(|index| Request { index, want: *want }));
        }
        let mut read: Vec<Option<Column>> = opened.read(&requests)?.into_iter().map(Some).collect();
        Ok(Self {
            path,
            first_row: if matches!(opened, Opened::Csv(_)) {
                2
            } else {
                1
            },
            names: wanted.iter().map(|w| w.0.to_owned()).collect(),
            columns: places
                .into_iter()
                .map(|p| p.and_then(|p| read[p].take()))
                .collect(),
        })
    }

    fn rows(&self) -> usize {
        self.columns.iter().flatten().next().map_or(0, Column::len)
    }

    fn text(&self, column: usize, row: usize) -> Option<&str> {
        match self.columns[column].as_ref()? {
            Column::Label(l) => l.get(row),
            _ => None,
        }
    }

    fn number(&self, column: usize, row: usize) -> Option<f64> {
        match self.columns[column].as_ref()? {
            Column::Number(v) => Some(v[row]).filter(|v| v.is_finite()),
            _ => None,
        }
    }

    fn wrong(&self, column: usize, row: usize, found: &str, expected: String) -> TracksError {
        TracksError::new(
            Place::row(self.path, row as u64 + self.first_row).column(self.names[column].clone()),
            Problem::Cell {
                found: shown(found),
                expected,
                mend: "Correct the cell.",
            },
        )
    }

    fn need_text(&self, column: usize, row: usize) -> Result<&str, TracksError> {
        self.text(column, row)
            .ok_or_else(|| self.wrong(column, row, "", "a value".into()))
    }

    fn need_number(&self, column: usize, row: usize) -> Result<f64, TracksError> {
        self.number(column, row)
            .ok_or_else(|| self.wrong(column, row, "", "a number".into()))
    }
}

/// Read a roster: columns `id`, and optionally `number`, `name`, `team`, `roles` (role names
/// between spaces, `;` or `|`).
///
/// # Errors
/// [`TracksError`] with row and column.
pub fn read_roster(path: &Path) -> Result<Vec<RosterEntry>, TracksError> {
    let table = SideTable::read(
        path,
        &[
            ("id", Want::Label, true),
            ("number", Want::Label, false),
            ("name", Want::Label, false),
            ("team", Want::Label, false),
            ("roles", Want::Label, false),
        ],
    )?;
    let mut entries: Vec<RosterEntry> = Vec::with_capacity(table.rows());
    for row in 0..table.rows() {
        let id = table.need_text(0, row)?.to_owned();
        if entries.iter().any(|e| e.id == id) {
            return Err(table.wrong(0, row, &id, "each id once".into()));
        }
        let owned = |c| table.text(c, row).map(str::to_owned);
        entries.push(RosterEntry {
            id,
            number: owned(1),
            name: owned(2),
            team: owned(3),
            roles: table
                .text(4, row)
                .unwrap_or_default()
                .split([' ', ';', '|'])
                .filter(|r| !r.is_empty())
                .map(str::to_owned)
                .collect(),
        });
    }
    Ok(entries)
}

/// Read an event file: columns `time_s` (when the possession ended, session seconds or a clock),
/// `team`, `result` (`made`, `missed`, `turnover`, `foul`, `stopped`, `unknown`) and optionally
/// `points`. Lines come back in the order of time.
///
/// # Errors
/// [`TracksError`] with row and column; a team not in `teams` is one.
pub fn read_results(path: &Path, teams: &[String]) -> Result<Vec<GivenResult>, TracksError> {
    const KINDS: [(&str, OutcomeKind); 6] = [
        ("made", OutcomeKind::Made),
        ("missed", OutcomeKind::Missed),
        ("turnover", OutcomeKind::Turnover),
        ("foul", OutcomeKind::Foul),
        ("stopped", OutcomeKind::Stopped),
        ("unknown", OutcomeKind::Unknown),
    ];
    let table = SideTable::read(
        path,
        &[
            ("time_s", Want::Seconds, true),
            ("team", Want::Label, true),
            ("result", Want::Label, true),
            ("points", Want::Number, false),
        ],
    )?;
    let mut out = Vec::with_capacity(table.rows());
    for row in 0..table.rows() {
        let team = table.need_text(1, row)?;
        if !teams.iter().any(|t| t == team) {
            let expected = format!("one of the session's teams: {}", teams.join(", "));
            return Err(table.wrong(1, row, team, expected));
        }
        let word = table.need_text(2, row)?;
        let kind = KINDS.iter().find(|k| k.0.eq_ignore_ascii_case(word));
        let Some((_, kind)) = kind else {
            let expected = format!("one of {}", KINDS.map(|k| k.0).join(", "));
            return Err(table.wrong(2, row, word, expected));
        };
        let points = match table.number(3, row) {
            None => None,
            Some(p) if (0.0..=4.0).contains(&p) && p.fract() == 0.0 => Some(p as u32),
            Some(p) => {
                let expected = "a whole number from 0 to 4".into();
                return Err(table.wrong(3, row, &p.to_string(), expected));
            }
        };
        out.push(GivenResult {
            time_s: table.need_number(0, row)?,
            team: team.to_owned(),
            kind: *kind,
            points,
        });
    }
    out.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    Ok(out)
}

/// Read a tag file: columns `from_s`, `to_s`, `option` and optionally `hand` (`right` or `left`).
/// Lines come back in the order of time.
///
/// # Errors
/// [`TracksError`] with row and column.
pub fn read_tags(path: &Path) -> Result<Vec<Tag>, TracksError> {
    let table = SideTable::read(
        path,
        &[
            ("from_s", Want::Seconds, true),
            ("to_s", Want::Seconds, true),
            ("option", Want::Label, true),
            ("hand", Want::Label, false),
        ],
    )?;
    let mut out = Vec::with_capacity(table.rows());
    for row in 0..table.rows() {
        let from_s = table.need_number(0, row)?;
        let to_s = table.need_number(1, row)?;
        if to_s <= from_s {
            let expected = format!("a time after from_s, {from_s}");
            return Err(table.wrong(1, row, &to_s.to_string(), expected));
        }
        let hand = table.text(3, row);
        if let Some(h) = hand.filter(|h| !["right", "left"].contains(h)) {
            return Err(table.wrong(3, row, h, "right or left".into()));
        }
        out.push(Tag {
            from_s,
            to_s,
            option: table.need_text(2, row)?.to_owned(),
            hand: hand.map(str::to_owned),
        });
    }
    out.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
    Ok(out)
}

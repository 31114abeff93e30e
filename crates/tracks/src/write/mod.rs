//! Raw tracks to files in our own plain layout, with the mapping that reads them back.
//!
//! Reading a file written here gives back the same raw tracks, bit for bit, in every format.

mod frame;
mod moving;
mod sinks;

use crate::atomic::write_atomic;
use crate::error::{Place, Problem, TracksError};
use crate::mapping::{
    BallSpec, ColumnRef, Columns, CourtSpec, EndSpec, ExchangeSpec, FileSpec, Format, MAPPING_NAME,
    Mapping, SessionSpec, SideFiles, TeamSpec, TimeSpec, Wide,
};
use crate::raw::RawTracks;
use crate::read::stem;
use crate::session::Player;
use setdrift_court::Court;
use std::path::{Path, PathBuf};

/// Rows of the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Layout {
    /// A row per object and time: `time_s, object, team, x_m, y_m, z_m`.
    #[default]
    Long,
    /// A row per time: `time_s`, then `x_<object>, y_<object>` each, and `z_<object>`.
    Wide,
}

/// How to write.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct WriteOptions {
    /// By default from the file's name (`.csv`, `.tsv`, `.ndjson`, `.jsonl`, also with `.gz` or
    /// `.zst`; `.parquet`; `.arrow`, `.ipc`, `.feather` for an IPC file, `.arrows` for a stream;
    /// `.mfjson` for Moving Features).
    pub format: Option<Format>,
    /// Long or wide; Moving Features have a trajectory per object in any case.
    pub layout: Layout,
    /// Files the mapping shall name. Where no roster is named and players have names, numbers or
    /// roles of their own, `<stem>.roster.csv` is written.
    pub files: SideFiles,
}

/// Write a session's raw tracks to `data`, and `<stem>.tracks.toml` beside it.
///
/// The data is written first and the mapping last, each in one step: a mapping never describes a
/// file that is not there.
///
/// # Errors
/// [`Problem::Io`], or [`Problem::Format`] for a name of no known format.
pub fn write(raw: &RawTracks, data: &Path, options: &WriteOptions) -> Result<Mapping, TracksError> {
    let format = options
        .format
        .or_else(|| crate::read::format_of(data))
        .ok_or_else(|| {
            TracksError::new(
                Place::file(data),
                Problem::Format {
                    expected: crate::read::ENDINGS,
                },
            )
        })?;
    let moving = format == Format::MovingFeatures;
    if moving {
        sinks::text(data, |out| moving::write(out, raw))?;
    } else {
        let columns = match options.layout {
            Layout::Long => frame::long(raw),
            Layout::Wide => frame::wide(raw),
        };
        sinks::write(data, format, columns)?;
    }
    let mut mapping = mapping(raw, options, format);
    if mapping.files.roster.is_none() && raw.players.iter().any(has_more_than_an_id) {
        let name = format!("{}.roster.csv", stem(data));
        write_atomic(&data.with_file_name(&name), roster_csv(raw).as_bytes())?;
        mapping.files.roster = Some(PathBuf::from(name));
    }
    let path = data.with_file_name(format!("{}.{MAPPING_NAME}", stem(data)));
    mapping.save(&path)?;
    mapping.path = path;
    Ok(mapping)
}

fn has_more_than_an_id(p: &Player) -> bool {
    let own_number = p.number.as_ref().is_some_and(|n| *n != p.id);
    own_number || p.name.is_some() || !p.roles.is_empty()
}

fn roster_csv(raw: &RawTracks) -> String {
    let quoted = |s: &str| {
        if s.contains([',', '"', '\n', '\r']) || s.trim() != s {
            format!("\"{}\"", s.replace('"', "\"\""))
        } else {
            s.to_owned()
        }
    };
    let mut text = String::from("id,number,name,team,roles\n");
    for p in &raw.players {
        let cells = [
            quoted(&p.id),
            quoted(p.number.as_deref().unwrap_or_default()),
            quoted(p.name.as_deref().unwrap_or_default()),
            quoted(&raw.teams[p.team].id),
            quoted(&p.roles.join(" ")),
        ];
        text.push_str(&cells.join(","));
        text.push('\n');
    }
    text
}

/// Name of the ball in files we write.
const BALL: &str = "ball";

fn mapping(raw: &RawTracks, options: &WriteOptions, format: Format) -> Mapping {
    let name = |n: &str| Some(ColumnRef::name(n));
    let moving = format == Format::MovingFeatures;
    let wide = options.layout == Layout::Wide && !moving;
    let axis = |n: &'static str| name(&n[..if moving { 1 } else { n.len() }]);
    let by_name = Court::named(raw.court.name()).is_ok_and(|c| c == raw.court);
    let court = if by_name {
        CourtSpec::Named(raw.court.name().to_owned())
    } else {
        CourtSpec::Own(raw.court.clone())
    };
    let members = |team: usize| {
        raw.players
            .iter()
            .filter(|p| wide && p.team == team)
            .map(|p| p.id.clone())
            .collect()
    };
    Mapping {
        session: SessionSpec {
            id: Some(raw.id.clone()),
            date: raw.date.clone(),
            kind: Some(raw.kind),
            opponent: raw.opponent.clone(),
            court: Some(court),
            players: Some(raw.per_side),
            ignore: Vec::new(),
        },
        file: FileSpec {
            format: Some(format),
            ..FileSpec::default()
        },
        columns: Columns {
            time: name("time_s"),
            object: name("object").filter(|_| !wide),
            team: name("team").filter(|_| !wide),
            x: axis("x_m").filter(|_| !wide),
            y: axis("y_m").filter(|_| !wide),
            z: axis("z_m").filter(|_| !wide && frame::any_height(raw)),
            ..Columns::default()
        },
        wide: wide.then(|| Wide {
            x: Some("x_{object}".into()),
            y: Some("y_{object}".into()),
            z: frame::any_height(raw).then(|| "z_{object}".into()),
            objects: Vec::new(),
        }),
        time: TimeSpec {
            rate: raw.rate_hz,
            ..TimeSpec::default()
        },
        teams: raw
            .teams
            .iter()
            .enumerate()
            .map(|(i, t)| TeamSpec {
                id: t.id.clone(),
                name: (t.name != t.id).then(|| t.name.clone()),
                members: members(i),
            })
            .collect(),
        ball: raw.ball.as_ref().map(|_| BallSpec {
            object: BALL.into(),
        }),
        ends: raw
            .ends
            .iter()
            .map(|e| EndSpec {
                period: None,
                from: Some(e.from_s),
                to: Some(e.to_s),
                attacks: e.end,
            })
            .collect(),
        // Those that happened are undone in what is written.
        exchanges: raw
            .exchanges
            .iter()
            .filter(|e| !e.happened)
            .map(|e| ExchangeSpec {
                players: [e.players.0, e.players.1]
                    .map(|i| raw.players[i].id.clone())
                    .to_vec(),
                from: e.from_s,
                to: e.to_s,
                happened: false,
            })
            .collect(),
        files: options.files.clone(),
        ..Mapping::default()
    }
}

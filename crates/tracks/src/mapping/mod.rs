//! `tracks.toml`: what each column of a file is, in which units, from which origin, for which teams.

mod check;
mod column;
mod load;

pub use column::ColumnRef;
pub use load::{MAPPING_NAME, mapping_names};

use crate::SessionKind;
use crate::clean::Cleaning;
use serde::{Deserialize, Serialize};
use setdrift_court::{Court, End};
use std::path::PathBuf;

/// A mapping file. `docs/data-formats.md` describes each key with examples.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub struct Mapping {
    /// What session this is.
    pub session: SessionSpec,
    /// How the file is written.
    pub file: FileSpec,
    /// Which column is what.
    pub columns: Columns,
    /// Column names of a wide file (several columns per object).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wide: Option<Wide>,
    /// What the time column means.
    pub time: TimeSpec,
    /// What the coordinates mean.
    pub space: SpaceSpec,
    /// From image to floor, for coordinates in pixels.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub homography: Option<HomographySpec>,
    /// Teams; the first is the one whose offence is audited.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub teams: Vec<TeamSpec>,
    /// Which object is the ball.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ball: Option<BallSpec>,
    /// Which end the first team attacks, when.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub ends: Vec<EndSpec>,
    /// What a person says of players a tracker took for each other, in the order in which it is
    /// put right.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub exchanges: Vec<ExchangeSpec>,
    /// Files beside the tracks, relative to the mapping.
    pub files: SideFiles,
    /// Limits of the cleaning steps.
    pub cleaning: Cleaning,
    /// The mapping file itself; empty for a mapping made in memory.
    #[serde(skip)]
    pub path: PathBuf,
}

/// What session this is.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub struct SessionSpec {
    /// Short name; by default the data file's name without its ending.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
    /// `YYYY-MM-DD`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub date: Option<String>,
    /// `game` or `practice`; by default a game where two teams are declared.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kind: Option<SessionKind>,
    /// Opponent's name; by default the second team's.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub opponent: Option<String>,
    /// The floor: a rule book's name (`fiba`, `ncaa`, `nfhs`, `nba`, `3x3`) or one's own measures.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub court: Option<CourtSpec>,
    /// Players of one side on the floor at most; by default 5, or 3 on a `3x3` court.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub players: Option<usize>,
    /// Objects left out (officials, spares); `*` stands for any text.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub ignore: Vec<String>,
}

/// A court by name or by measures.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum CourtSpec {
    /// A rule book's floor.
    Named(String),
    /// One's own.
    Own(Court),
}

/// Formats of track files.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Format {
    /// Delimited text.
    Csv,
    /// Apache Parquet.
    Parquet,
    /// Apache Arrow IPC, file or stream.
    Ipc,
    /// A JSON object per line.
    Ndjson,
    /// OGC Moving Features JSON (19-045r3).
    MovingFeatures,
    /// MOTChallenge text: boxes in an image.
    Motchallenge,
}

/// How the file is written.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub struct FileSpec {
    /// By default from the file's name.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub format: Option<Format>,
    /// Between cells; by default a tab for `.tsv`, else a comma.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub delimiter: Option<char>,
    /// Decimal sign of text files; by default a point.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub decimal: Option<char>,
    /// Whether the first line names the columns; by default yes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub header: Option<bool>,
    /// What else stands for a missing value, beside empty cells, `NA`, `NaN`, `null`, `None`.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub missing: Vec<String>,
    /// The folder's files are parts of one session, in the order of their names.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub parts: bool,
}

/// Which column is what; names, or numbers from 1 where there is no header.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
#[allow(missing_docs, reason = "each is the column of that name")]
pub struct Columns {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub time: Option<ColumnRef>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub object: Option<ColumnRef>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub team: Option<ColumnRef>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub x: Option<ColumnRef>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub y: Option<ColumnRef>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub z: Option<ColumnRef>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub period: Option<ColumnRef>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub clock: Option<ColumnRef>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left: Option<ColumnRef>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub top: Option<ColumnRef>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub width: Option<ColumnRef>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub height: Option<ColumnRef>,
}

/// Columns of a wide file: by a pattern with `{object}`, or object by object.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub struct Wide {
    /// Pattern of x columns, for instance `x_{object}`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub x: Option<String>,
    /// Pattern of y columns.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub y: Option<String>,
    /// Pattern of height columns; need not exist for every object.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub z: Option<String>,
    /// Objects named one by one, instead of patterns.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub objects: Vec<WideObject>,
}

/// One object's columns in a wide file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct WideObject {
    /// Its id.
    pub id: String,
    /// Column of x.
    pub x: ColumnRef,
    /// Column of y.
    pub y: ColumnRef,
    /// Column of the height.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub z: Option<ColumnRef>,
}

/// What the time column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum TimeUnit {
    /// Seconds.
    #[default]
    S,
    /// Milliseconds.
    Ms,
    /// Microseconds.
    Us,
    /// Nanoseconds.
    Ns,
    /// Frame numbers; needs `time.rate`.
    Frame,
    /// ISO 8601 date and time.
    Iso,
}

/// Which way a game clock runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ClockWay {
    /// Time left in the period.
    #[default]
    Down,
    /// Time played in the period.
    Up,
}

/// What the time column means.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub struct TimeSpec {
    /// Its unit; by default seconds.
    pub unit: TimeUnit,
    /// Frames per second; found from the times where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate: Option<f64>,
    /// Number of the first frame, at session time 0; by default 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_frame: Option<f64>,
    /// Frames per second to bring the session to; by default the file's own.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub resample: Option<f64>,
    /// Which way the clock column runs.
    pub clock: ClockWay,
    /// Length of a period in seconds, for times from period and clock.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub period: Option<f64>,
    /// Number of periods before overtime; by default 4.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub periods: Option<u32>,
    /// Length of an overtime period in seconds; by default 300.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub overtime: Option<f64>,
}

/// Unit of the coordinates.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum SpaceUnit {
    /// Metres.
    #[default]
    M,
    /// Feet.
    Ft,
    /// Centimetres.
    Cm,
    /// Millimetres.
    Mm,
    /// Inches.
    In,
    /// Pixels of a straight-down view; needs `space.scale`. Pixels of a camera need `homography`.
    Px,
}

impl SpaceUnit {
    /// Metres in one unit; `None` for pixels.
    #[must_use]
    pub fn metres(self) -> Option<f64> {
        match self {
            Self::M => Some(1.0),
            Self::Ft => Some(0.3048),
            Self::Cm => Some(0.01),
            Self::Mm => Some(0.001),
            Self::In => Some(0.0254),
            Self::Px => None,
        }
    }
}

/// Where the file's (0, 0) lies.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Origin {
    /// At a corner of the floor; coordinates on the floor are positive.
    #[serde(serialize_with = "column::corner")]
    Corner,
    /// The file's coordinates of the centre of the floor.
    Centre([f64; 2]),
}

impl Default for Origin {
    fn default() -> Self {
        Self::Centre([0.0, 0.0])
    }
}

/// An axis of the file, with the way it points.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Axis {
    /// The file's x.
    #[serde(rename = "x")]
    X,
    /// Against the file's x.
    #[serde(rename = "-x")]
    MinusX,
    /// The file's y.
    #[serde(rename = "y")]
    Y,
    /// Against the file's y.
    #[serde(rename = "-y")]
    MinusY,
}

impl Axis {
    /// 0 for x, 1 for y.
    #[must_use]
    pub fn index(self) -> usize {
        usize::from(matches!(self, Self::Y | Self::MinusY))
    }

    /// 1 or −1.
    #[must_use]
    pub fn sign(self) -> f64 {
        match self {
            Self::X | Self::Y => 1.0,
            Self::MinusX | Self::MinusY => -1.0,
        }
    }
}

/// What the coordinates mean.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub struct SpaceSpec {
    /// Their unit; by default metres.
    pub unit: SpaceUnit,
    /// Metres per pixel, for `unit = "px"`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scale: Option<f64>,
    /// `"corner"`, `"centre"`, or the file's coordinates of the centre of the floor.
    pub origin: Origin,
    /// The file's axis along the length of the floor, towards the end called `right`.
    pub along: Axis,
    /// The file's axis across the floor: to the left of one who looks from the left end to the right.
    pub across: Axis,
}

impl Default for SpaceSpec {
    fn default() -> Self {
        Self {
            unit: SpaceUnit::M,
            scale: None,
            origin: Origin::default(),
            along: Axis::X,
            across: Axis::Y,
        }
    }
}

/// From image to floor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct HomographySpec {
    /// At least four places seen in the image.
    pub landmarks: Vec<Landmark>,
    /// Leave out landmarks that contradict the others, where there are more than four.
    #[serde(default)]
    pub robust: bool,
}

/// One place in the image and on the floor.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Landmark {
    /// Pixels: across, down.
    pub image: [f64; 2],
    /// On the floor, in the unit, origin and axes of `space`.
    pub floor: [f64; 2],
}

/// A team.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct TeamSpec {
    /// As the file writes it.
    pub id: String,
    /// For people; by default the id.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Its objects, where no column says it; `*` stands for any text.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub members: Vec<String>,
}

/// Which object is the ball.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct BallSpec {
    /// Its value in the object column, or its name in a wide file.
    pub object: String,
}

/// Which end the first team attacks, when.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct EndSpec {
    /// In this period; needs a period column.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub period: Option<u32>,
    /// From, session seconds; by default the start.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<f64>,
    /// To, session seconds; by default the end.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<f64>,
    /// `left` (negative court x) or `right`.
    pub attacks: End,
}

/// Two players who were taken for each other, or were not although it looks so.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct ExchangeSpec {
    /// The two, by id or by a shirt number nobody else has.
    pub players: Vec<String>,
    /// From when on each is the other, session time: seconds, or MM:SS.
    #[serde(deserialize_with = "column::moment")]
    pub from: f64,
    /// Until when; by default to the end of the session.
    #[serde(
        default,
        deserialize_with = "column::maybe_moment",
        skip_serializing_if = "Option::is_none"
    )]
    pub to: Option<f64>,
    /// False where nobody was exchanged, whatever it looks like; by default true.
    #[serde(default = "yes", skip_serializing_if = "is_yes")]
    pub happened: bool,
}

fn yes() -> bool {
    true
}

// What serde asks for takes a reference.
fn is_yes(v: &bool) -> bool {
    *v
}

/// Files beside the tracks, relative to the mapping.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub struct SideFiles {
    /// Players: `id, number, name, team, roles`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub roster: Option<PathBuf>,
    /// Possession results: `time_s, team, result, points`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub results: Option<PathBuf>,
    /// Hand tags: `from_s, to_s, option, hand`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tags: Option<PathBuf>,
}

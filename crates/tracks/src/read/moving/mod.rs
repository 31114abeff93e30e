//! OGC Moving Features JSON (OGC 19-045r3) as a table: a row per position.
//!
//! Both encodings are read: *trajectories* (a line string whose `properties.datetimes` time its
//! positions) and *prisms* (`temporalGeometry` of moving points). Columns are `datetimes`, `id`,
//! `x`, `y`, `z`, then what `properties` and `temporalProperties` hold, each by its own name.

mod document;
mod series;

use super::csv::too_many_labels;
use super::text::Bytes;
use super::{Ready, Sink};
use crate::error::{Place, Problem, TracksError, shown};
use crate::limits;
use crate::mapping::FileSpec;
use crate::table::{Column, Interner, Labels, Request, Want, instant, number_label, seconds};
use document::{
    Coordinates, Document, Node, Parametric, Property, Scalar, Stamp, TemporalGeometry, Whole,
};
use serde::de::DeserializeSeed;
use series::{Positions, Series};
use std::collections::BTreeMap;
use std::io::BufReader;
use std::path::{Path, PathBuf};

/// Columns that every document has, before those of its own.
pub(crate) const DATETIMES: &str = "datetimes";
pub(crate) const ID: &str = "id";
const FIXED: [&str; 5] = [DATETIMES, ID, "x", "y", "z"];

/// A document, parsed.
pub(crate) struct MovingFeatures {
    file: PathBuf,
    tracks: Vec<Track>,
    names: Vec<String>,
    /// Name of the reference system, where it gives longitudes and latitudes.
    degrees: Option<String>,
    missing: Vec<String>,
}

/// One feature's positions, or one prism's.
struct Track {
    id: Option<Scalar>,
    times: Vec<Stamp>,
    positions: Positions,
    values: BTreeMap<String, Held>,
}

/// Values of a track's column.
enum Held {
    Throughout(Scalar),
    Each(Series),
}

impl MovingFeatures {
    pub(super) fn open(file: &Path, spec: &FileSpec) -> Result<Self, TracksError> {
        let mut bytes = Bytes::open(file)?;
        match bytes.first()? {
            Some(b'{') => {}
            Some(_) => {
                return Err(TracksError::new(
                    Place::row(file, 1),
                    Problem::Json {
                        message: "not a JSON object: expected a document that begins with \
                                  {\"type\": \"FeatureCollection\", \"features\": [...]}"
                            .into(),
                    },
                ));
            }
            None => {
                return Err(TracksError::new(
                    Place::file(file),
                    Problem::Empty {
                        expected: "a Moving Features JSON document",
                    },
                ));
            }
        }
        let at = |problem| TracksError::new(Place::file(file), problem);
        let mut reading = Reading::default();
        let mut wrong = None;
        let mut sink = |i: usize, feature: Node| {
            let read = reading.member(i, feature);
            read.inspect_err(|problem| wrong = Some(problem.clone()))
        };
        let mut json = serde_json::Deserializer::from_reader(BufReader::new(&mut bytes));
        let document = Document(&mut sink)
            .deserialize(&mut json)
            .and_then(|whole| json.end().map(|()| whole));
        drop(json);
        let whole = document.map_err(|e| match (bytes.failed(), wrong) {
            (Some(failed), _) => failed,
            (None, Some(problem)) => at(problem),
            (None, None) => no_document(file, &e),
        })?;
        reading.document(whole).map_err(at)?;
        let rows: usize = reading.tracks.iter().map(|t| t.times.len()).sum();
        super::check_rows(file, rows as u64)?;
        if rows == 0 {
            return Err(at(Problem::Json {
                message: "no feature moves: expected a `temporalGeometry`, or a line string with \
                          `properties.datetimes`"
                    .into(),
            }));
        }
        let heights = reading.tracks.iter().any(|t| !t.positions.z.is_empty());
        let mut names: Vec<String> = FIXED[..if heights { 5 } else { 4 }]
            .iter()
            .map(|n| (*n).to_owned())
            .collect();
        for name in reading.tracks.iter().flat_map(|t| t.values.keys()) {
            if names.len() <= limits::COLUMNS && !names.contains(name) {
                names.push(name.clone());
            }
        }
        Ok(Self {
            file: file.to_owned(),
            tracks: reading.tracks,
            names,
            degrees: reading.degrees,
            missing: spec.missing.clone(),
        })
    }

    pub(super) fn names(&self) -> &[String] {
        &self.names
    }

    pub(super) fn sample(&self, rows: usize) -> Vec<Vec<String>> {
        // As many rows of every track as of the others, so that all objects are seen.
        let each = rows.div_ceil(self.tracks.len()).max(1);
        let text = |cell: Cell| match cell {
            Cell::Number(v) => number_label(v),
            Cell::Text(t) => t.to_owned(),
            Cell::Instant(ns) => jiff::Timestamp::from_nanosecond(i128::from(ns))
                .map_or_else(|_| String::new(), |t| t.to_string()),
            Cell::Missing => String::new(),
        };
        // In the order of time, as rows of a table of positions come.
        let mut order: Vec<(Stamp, usize, usize)> = self
            .tracks
            .iter()
            .enumerate()
            .flat_map(|(k, t)| {
                let times = t.times.iter().take(each).enumerate();
                times.map(move |(i, s)| (*s, k, i))
            })
            .collect();
        order.sort();
        order.truncate(rows);
        (0..self.names.len())
            .map(|column| {
                let sources: Vec<Source<'_>> =
                    self.tracks.iter().map(|t| self.source(t, column)).collect();
                order
                    .iter()
                    .map(|(_, k, i)| text(self.cell(&sources[*k], *i)))
                    .collect()
            })
            .collect()
    }

    pub(super) fn read_parts(
        &self,
        requests: &[Request],
        sink: Sink<'_>,
    ) -> Result<(), TracksError> {
        if let Some(crs) = &self.degrees {
            return Err(TracksError::new(
                Place::file(&self.file),
                Problem::Degrees { crs: crs.clone() },
            ));
        }
        let mut before = 0;
        for track in &self.tracks {
            let columns: Result<_, _> = requests
                .iter()
                .map(|r| self.column(track, *r, before))
                .collect();
            sink(&mut Ready::new(columns?))?;
            before += track.times.len();
        }
        Ok(())
    }

    /// A track's values; `before` rows come before its own.
    fn column(
        &self,
        track: &Track,
        request: Request,
        before: usize,
    ) -> Result<Column, TracksError> {
        let rows = track.times.len();
        let mut column = Column::empty(request.want, rows);
        let mut interner = Interner::default();
        let source = self.source(track, request.index);
        for i in 0..rows {
            let cell = self.cell(&source, i);
            push(&mut column, &mut interner, cell, request.want).map_err(|problem| {
                let place = Place::row(&self.file, (before + i) as u64 + 1);
                TracksError::new(place.column(self.names[request.index].clone()), problem)
            })?;
        }
        if let Column::Label(Labels { names, .. }) = &mut column {
            *names = interner.into_names();
        }
        Ok(column)
    }

    /// Where a track's values of a column are.
    fn source<'t>(&self, track: &'t Track, column: usize) -> Source<'t> {
        match self.names[column].as_str() {
            DATETIMES => Source::Datetimes(&track.times),
            ID => track.id.as_ref().map_or(Source::Nowhere, Source::One),
            "x" => Source::Axis(&track.positions.x),
            "y" => Source::Axis(&track.positions.y),
            "z" => Source::Axis(&track.positions.z),
            name => match track.values.get(name) {
                None => Source::Nowhere,
                Some(Held::Throughout(s)) => Source::One(s),
                Some(Held::Each(v)) => Source::Each(v),
            },
        }
    }

    fn cell<'t>(&self, source: &Source<'t>, i: usize) -> Cell<'t> {
        let scalar = |s: &'t Scalar| match s {
            Scalar::Missing => Cell::Missing,
            Scalar::Number(v) => Cell::Number(*v),
            Scalar::Text(t) => Cell::Text(t),
        };
        let cell = match source {
            Source::Nowhere => Cell::Missing,
            Source::Datetimes(t) => Cell::Instant(t[i].0),
            Source::Axis(v) => v.get(i).map_or(Cell::Missing, |v| Cell::Number(*v)),
            Source::One(s) => scalar(s),
            Source::Each(Series::Numbers(v)) => match v.get(i) {
                Some(v) if !v.is_nan() => Cell::Number(*v),
                _ => Cell::Missing,
            },
            Source::Each(Series::Mixed(v)) => v.get(i).map_or(Cell::Missing, scalar),
        };
        let stands_for_none = match &cell {
            Cell::Number(v) => !self.missing.is_empty() && self.missing.contains(&number_label(*v)),
            Cell::Text(t) => self.missing.iter().any(|m| m == t),
            _ => false,
        };
        if stands_for_none { Cell::Missing } else { cell }
    }
}

enum Source<'t> {
    Nowhere,
    Datetimes(&'t [Stamp]),
    Axis(&'t [f64]),
    One(&'t Scalar),
    Each(&'t Series),
}

enum Cell<'t> {
    Missing,
    Number(f64),
    Text(&'t str),
    Instant(i64),
}

fn push(
    column: &mut Column,
    interner: &mut Interner,
    cell: Cell<'_>,
    want: Want,
) -> Result<(), Problem> {
    let wrong = |found: &str| Problem::Cell {
        found: shown(found),
        expected: want.expected().to_owned(),
        mend: "Correct the value, or name another column in the mapping.",
    };
    match column {
        Column::Number(values) => values.push(match cell {
            Cell::Missing => f64::NAN,
            Cell::Number(v) => v,
            Cell::Text(t) if want == Want::Seconds => seconds(t).ok_or_else(|| wrong(t))?,
            Cell::Text(t) => return Err(wrong(t)),
            Cell::Instant(_) => {
                return Err(Problem::ColumnType {
                    found: "date and time".into(),
                    expected: want.expected(),
                });
            }
        }),
        Column::Instant(values) => values.push(match cell {
            Cell::Missing => i64::MIN,
            Cell::Instant(ns) => ns,
            Cell::Text(t) => instant(t).ok_or_else(|| wrong(t))?,
            Cell::Number(v) => return Err(wrong(&number_label(v))),
        }),
        Column::Label(labels) => {
            let text = match cell {
                Cell::Text(t) => t.to_owned(),
                Cell::Number(v) if v.is_finite() => number_label(v),
                _ => String::new(),
            };
            labels.codes.push(if text.is_empty() {
                Labels::MISSING
            } else {
                interner.code(text.as_bytes())?
            });
            if interner.len() > limits::OBJECTS {
                return Err(too_many_labels());
            }
        }
    }
    Ok(())
}

/// Tracks as they are found, with the way to where they are.
#[derive(Default)]
struct Reading {
    tracks: Vec<Track>,
    degrees: Option<String>,
}

impl Reading {
    /// A feature of a collection.
    fn member(&mut self, i: usize, feature: Node) -> Result<(), Problem> {
        let way = format!("features[{i}]");
        if !matches!(feature.kind.as_str(), "Feature" | "MovingFeature") {
            return Err(unexpected(&way, &feature.kind, "Feature"));
        }
        self.crs(feature.crs.as_ref().and_then(document::Crs::name));
        self.feature(feature, &way)
    }

    /// What there is beside the members of a collection.
    fn document(&mut self, Whole { node, collection }: Whole) -> Result<(), Problem> {
        self.crs(node.crs.as_ref().and_then(document::Crs::name));
        match node.kind.as_str() {
            "FeatureCollection" | "MovingFeatureCollection" if collection => Ok(()),
            "FeatureCollection" | "MovingFeatureCollection" => Err(Problem::Json {
                message: format!(
                    "a {} without `features`: expected a list of features",
                    node.kind
                ),
            }),
            "Feature" | "MovingFeature" => {
                self.tracks.clear();
                self.feature(node, "")
            }
            other => Err(Problem::Json {
                message: format!(
                    "`type` is `{}`: expected `FeatureCollection` or `Feature`",
                    shown(other)
                ),
            }),
        }
    }

    /// Only systems that are said to be of longitude and latitude; without any word, coordinates
    /// are taken as the mapping says.
    fn crs(&mut self, name: Option<&str>) {
        const GEOGRAPHIC: [&str; 4] = ["CRS84", "CRS83", "EPSG::4326", "EPSG:4326"];
        if let Some(name) = name
            && GEOGRAPHIC.iter().any(|g| name.ends_with(g))
        {
            self.degrees.get_or_insert_with(|| shown(name));
        }
    }

    fn feature(&mut self, feature: Node, way: &str) -> Result<(), Problem> {
        let mut properties = feature.properties.unwrap_or_default();
        let times = properties.remove(DATETIMES);
        // Some writers name the feature among its properties only.
        let id = feature.id.or_else(|| match properties.get(ID) {
            Some(Property::One(s)) => Some(s.clone()),
            _ => None,
        });
        let from = self.tracks.len();
        if let Some(g) = feature.temporal_geometry {
            self.geometry(g, &join(way, "temporalGeometry"))?;
        } else if let (Some(Property::Many(times)), Some(g)) = (times, feature.geometry) {
            let way = join(way, "geometry");
            let Coordinates::Line(positions) = g.coordinates else {
                return Err(unexpected(&way, &g.kind, "LineString"));
            };
            let stamps = (0..times.len())
                .map(|i| {
                    let t = times.get(i);
                    stamp(&t).ok_or_else(|| no_stamp(&t, i, &way))
                })
                .collect::<Result<Vec<_>, _>>()?;
            self.track(stamps, positions, &way)?;
        }
        let mut parametric = feature.temporal_properties.unwrap_or_default();
        let tracks = self.tracks.len();
        for (k, track) in self.tracks.iter_mut().enumerate().skip(from) {
            track.id.clone_from(&id);
            // All but the last get copies: most features have one track.
            let (own, measured) = if k + 1 == tracks {
                (
                    std::mem::take(&mut properties),
                    std::mem::take(&mut parametric),
                )
            } else {
                (properties.clone(), parametric.clone())
            };
            for (name, property) in own {
                track.describe(&name, property);
            }
            for (i, p) in measured.into_iter().enumerate() {
                let way = format!("{}[{i}]", join(way, "temporalProperties"));
                track.measure(p, &way)?;
            }
        }
        Ok(())
    }

    fn geometry(&mut self, g: TemporalGeometry, way: &str) -> Result<(), Problem> {
        self.crs(g.crs.as_ref().and_then(document::Crs::name));
        match g.kind.as_str() {
            "MovingPoint" => match g.coordinates {
                Coordinates::Line(positions) => self.track(g.datetimes, positions, way),
                Coordinates::None => Err(Problem::Json {
                    message: format!("`{way}` has no `coordinates`: expected a list of positions"),
                }),
                Coordinates::Other => Err(Problem::Json {
                    message: format!(
                        "`{way}.coordinates` is no list of positions: expected [[x, y], ...]"
                    ),
                }),
            },
            "MovingGeometryCollection" => {
                for (i, prism) in g.prisms.into_iter().enumerate() {
                    let way = format!("{way}.prisms[{i}]");
                    if prism.kind == "MovingGeometryCollection" {
                        return Err(unexpected(&way, &prism.kind, "MovingPoint"));
                    }
                    self.geometry(prism, &way)?;
                }
                Ok(())
            }
            other => Err(unexpected(way, other, "MovingPoint")),
        }
    }

    fn track(
        &mut self,
        mut times: Vec<Stamp>,
        positions: Positions,
        way: &str,
    ) -> Result<(), Problem> {
        if times.len() != positions.len() {
            return Err(Problem::Json {
                message: format!(
                    "`{way}` has {} datetimes and {} positions: expected as many of each",
                    times.len(),
                    positions.len()
                ),
            });
        }
        times.shrink_to_fit();
        self.tracks.push(Track {
            id: None,
            times,
            positions,
            values: BTreeMap::new(),
        });
        Ok(())
    }
}

impl Track {
    /// A property: one value, one per position, or one per piece between two positions.
    fn describe(&mut self, name: &str, property: Property) {
        let n = self.times.len();
        let held = match property {
            Property::One(s) => Held::Throughout(s),
            Property::Many(v) if v.len() == 1 => Held::Throughout(v.get(0)),
            Property::Many(v) if v.len() == n || v.len() + 1 == n => Held::Each(v),
            Property::Many(_) | Property::Other => return,
        };
        self.hold(name, "properties", held);
    }

    /// Values at the times at which the track has positions; elsewhere missing.
    fn measure(&mut self, p: Parametric, way: &str) -> Result<(), Problem> {
        let same = p.datetimes == self.times;
        let at: BTreeMap<Stamp, usize> = if same {
            BTreeMap::new()
        } else {
            p.datetimes
                .iter()
                .enumerate()
                .map(|(i, t)| (*t, i))
                .collect()
        };
        for (name, v) in p.values {
            if v.values.len() != p.datetimes.len() {
                return Err(Problem::Json {
                    message: format!(
                        "`{way}.{name}` has {} values and {} datetimes: expected as many of each",
                        v.values.len(),
                        p.datetimes.len()
                    ),
                });
            }
            let each = if same {
                v.values
            } else {
                let mut each = Series::default();
                for t in &self.times {
                    each.push(at.get(t).map_or(Scalar::Missing, |i| v.values.get(*i)));
                }
                each.shrunk()
            };
            self.hold(&name, "temporalProperties", Held::Each(each));
        }
        Ok(())
    }

    /// Under its own name, or with where it is from where that name is taken.
    fn hold(&mut self, name: &str, from: &str, held: Held) {
        let name = if FIXED.contains(&name) || self.values.contains_key(name) {
            format!("{from}.{name}")
        } else {
            name.to_owned()
        };
        self.values.insert(name, held);
    }
}

fn join(way: &str, member: &str) -> String {
    if way.is_empty() {
        member.to_owned()
    } else {
        format!("{way}.{member}")
    }
}

fn stamp(s: &Scalar) -> Option<Stamp> {
    match s {
        Scalar::Text(t) => instant(t).map(Stamp),
        Scalar::Number(ms) => {
            let ns = (ms * 1e6).round();
            (ns.abs() < 9e18).then_some(Stamp(ns as i64))
        }
        Scalar::Missing => None,
    }
}

fn no_stamp(s: &Scalar, i: usize, way: &str) -> Problem {
    let found = match s {
        Scalar::Text(t) => shown(t),
        Scalar::Number(v) => number_label(*v),
        Scalar::Missing => "null".into(),
    };
    Problem::Json {
        message: format!(
            "`{found}` times position {i} of `{way}`: expected an ISO 8601 date and time, or \
             milliseconds since 1970"
        ),
    }
}

fn unexpected(way: &str, found: &str, expected: &str) -> Problem {
    Problem::Json {
        message: format!("`{way}` is a `{}`: expected `{expected}`", shown(found)),
    }
}

/// What a parser did not understand, and where.
fn no_document(file: &Path, e: &serde_json::Error) -> TracksError {
    let message = e.to_string();
    let message = message
        .rsplit_once(" at line ")
        .map_or(message.as_str(), |(m, _)| m);
    TracksError::new(
        Place::row(file, e.line() as u64),
        Problem::Json {
            message: format!(
                "not a Moving Features document: {}, at character {}",
                shown_message(message),
                e.column()
            ),
        },
    )
}

/// A parser's message without the input's control characters, shortened.
fn shown_message(message: &str) -> String {
    let clean: String = message
        .chars()
        .map(|c| if c.is_control() { '·' } else { c })
        .take(160)
        .collect();
    if message.chars().count() > 160 {
        format!("{clean}…")
    } else {
        clean
    }
}

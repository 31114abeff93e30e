//! A table and its mapping make raw tracks: who is who, when, and where on the court.

mod identity;
mod place;
mod plan;
mod times;

use crate::error::{Place, Problem, TracksError, Warning};
use crate::homography::LandmarkFit;
use crate::limits;
use crate::mapping::Mapping;
use crate::raw::{RawTracks, Samples};
use crate::read::{self, Opened};
use crate::session::EndSpan;
use crate::side::RosterEntry;
use crate::table::Column;
use identity::Identity;
use place::ToCourt;
use plan::Plan;
use std::path::PathBuf;

/// Read data files (parts of one session, in order) through a mapping.
///
/// # Errors
/// [`TracksError`] with the place.
pub(crate) fn read_raw(
    files: &[PathBuf],
    mapping: &Mapping,
    roster: &[RosterEntry],
) -> Result<Read, TracksError> {
    let mut read = read_unplaced(files, mapping, roster)?;
    let file = files.first().cloned().unwrap_or_default();
    place::check_on_floor(&read.raw, mapping, &mut read.warnings, &file)
        .map_err(|problem| TracksError::new(Place::file(&file), problem))?;
    Ok(read)
}

/// What reading gives.
pub(crate) struct Read {
    pub(crate) raw: RawTracks,
    pub(crate) warnings: Vec<Warning>,
    /// Number, first and last time of each period.
    pub(crate) periods: Vec<(u32, f64, f64)>,
    /// How well landmarks fix the floor, where there are any.
    pub(crate) landmarks: Option<LandmarkFit>,
}

/// As [`read_raw`], before anybody asks whether the positions fit the floor.
pub(crate) fn read_unplaced(
    files: &[PathBuf],
    mapping: &Mapping,
    roster: &[RosterEntry],
) -> Result<Read, TracksError> {
    let Some(first) = files.first() else {
        return Err(TracksError::new(
            Place::file(&mapping.path),
            Problem::NoData {
                expected: read::ENDINGS,
            },
        ));
    };
    let in_mapping = |problem| TracksError::new(Place::file(&mapping.path), problem);
    let mut warnings = Vec::new();
    let court = mapping.court().map_err(in_mapping)?;
    let to_court = ToCourt::new(mapping, &court).map_err(in_mapping)?;
    let source = Source::read(files, mapping)?;
    let at_file = |problem| TracksError::new(Place::file(first), problem);
    let mut objects = match &source.wide {
        Some(wide) => source.wide_objects(wide),
        None => source.long_objects(mapping),
    }
    .map_err(at_file)?;
    if source.skipped > 0 {
        warnings.push(Warning::new(
            first,
            format!("{} rows without a time were left out", source.skipped),
        ));
    }
    let mut seen = Vec::with_capacity(objects.len());
    for object in &mut objects {
        let n = object.samples.len();
        let outside = to_court.apply(&mut object.samples);
        seen.push((object.label.clone(), outside, n));
        let sorted = times::sort(&mut object.samples, &object.label).map_err(at_file)?;
        if sorted.moved {
            warnings.push(Warning::new(
                first,
                format!(
                    "`{}` was not in the order of time and was sorted",
                    object.label
                ),
            ));
        }
        if sorted.twice > 0 {
            warnings.push(Warning::new(
                first,
                format!(
                    "`{}` has {} rows at times it already had; the first of each was kept",
                    object.label, sorted.twice
                ),
            ));
        }
    }
    let landmarks = to_court.fit(&seen);
    for remark in landmarks.iter().flat_map(LandmarkFit::remarks) {
        warnings.push(Warning::new(first, remark));
    }
    let periods = source.periods();
    let identity = Identity::new(mapping, roster);
    let found = identity
        .sort_out(objects, &mut warnings, first)
        .map_err(at_file)?;
    let mut raw = RawTracks {
        id: mapping
            .session
            .id
            .clone()
            .unwrap_or_else(|| read::stem(first)),
        date: mapping.session.date.clone(),
        kind: mapping.kind(),
        opponent: mapping
            .session
            .opponent
            .clone()
            .or_else(|| found.teams.get(1).map(|t| t.name.clone())),
        court,
        per_side: mapping.players_per_side(),
        teams: found.teams,
        players: found.players,
        samples: found.samples,
        ball: found.ball,
        rate_hz: mapping.time.rate,
        ends: Vec::new(),
    };
    raw.ends = ends(mapping, &raw, &periods).map_err(in_mapping)?;
    Ok(Read {
        raw,
        warnings,
        periods,
        landmarks,
    })
}

/// Samples of one object as the file names it.
pub(super) struct Object {
    pub(super) label: String,
    pub(super) team: Option<String>,
    pub(super) samples: Samples,
}

/// The columns of a session, read.
struct Source {
    times: Vec<f64>,
    skipped: usize,
    object: Option<Column>,
    team: Option<Column>,
    period: Option<Column>,
    /// x, y, z of a long file.
    long: Option<[Option<Vec<f64>>; 3]>,
    /// Objects of a wide file.
    wide: Option<Vec<WideColumns>>,
}

struct WideColumns {
    id: String,
    values: [Option<Vec<f64>>; 3],
}

impl Source {
    fn read(files: &[PathBuf], mapping: &Mapping) -> Result<Self, TracksError> {
        let mut columns: Vec<Column> = Vec::new();
        let mut plan = None;
        for file in files {
            let opened = Opened::open(file, &mapping.file)?;
            let p = Plan::new(&opened, mapping)
                .map_err(|problem| TracksError::new(Place::file(file), problem))?;
            let part = opened.read(&p.asked.0)?;
            if columns.is_empty() {
                columns = part;
            } else {
                for (whole, part) in columns.iter_mut().zip(part) {
                    whole.append(part);
                }
            }
            plan = Some(p);
        }
        let Some(plan) = plan else {
            return Err(TracksError::new(Place::default(), Problem::NoPlayers));
        };
        let file = &files[0];
        let mut taken: Vec<Option<Column>> = columns.into_iter().map(Some).collect();
        let mut take = |i: Option<usize>| i.and_then(|i| taken[i].take());
        let numbers = |c: Option<Column>| match c {
            Some(Column::Number(v)) => Some(v),
            _ => None,
        };
        let time = take(plan.time);
        let clock = numbers(take(plan.clock));
        let period = take(plan.period);
        let times = times::session_times(time, clock, period.as_ref(), &mapping.time_spec())
            .map_err(|problem| TracksError::new(Place::file(file), problem))?;
        let skipped = times.iter().filter(|t| t.is_nan()).count();
        let long = match (plan.long, plan.boxed) {
            (Some(xyz), _) => Some(xyz.map(|i| numbers(take(i)))),
            (None, Some(b)) => {
                let [left, top, width, height] =
                    b.map(|i| numbers(take(Some(i))).unwrap_or_default());
                // A player stands where the lower edge of the box has its middle.
                let foot = |a: &[f64], b: &[f64], share: f64| {
                    a.iter().zip(b).map(|(a, b)| a + share * b).collect()
                };
                Some([
                    Some(foot(&left, &width, 0.5)),
                    Some(foot(&top, &height, 1.0)),
                    None,
                ])
            }
            _ => None,
        };
        Ok(Self {
            times,
            skipped,
            object: take(plan.object),
            team: take(plan.team),
            period,
            long,
            wide: plan.wide.map(|objects| {
                objects
                    .into_iter()
                    .map(|(id, xyz)| WideColumns {
                        id,
                        values: xyz.map(|i| numbers(take(i))),
                    })
                    .collect()
            }),
        })
    }

    fn wide_objects(&self, wide: &[WideColumns]) -> Result<Vec<Object>, Problem> {
        Ok(wide
            .iter()
            .map(|w| {
                let mut samples = Samples {
                    z: w.values[2].as_ref().map(|_| Vec::new()),
                    ..Samples::default()
                };
                let (Some(x), Some(y)) = (&w.values[0], &w.values[1]) else {
                    return Object {
                        label: w.id.clone(),
                        team: None,
                        samples,
                    };
                };
                for (i, t) in self.times.iter().enumerate() {
                    if t.is_finite() && x[i].is_finite() && y[i].is_finite() {
                        samples.t.push(*t);
                        samples.x.push(x[i]);
                        samples.y.push(y[i]);
                        if let (Some(to), Some(from)) = (&mut samples.z, &w.values[2]) {
                            to.push(from[i]);
                        }
                    }
                }
                Object {
                    label: w.id.clone(),
                    team: None,
                    samples,
                }
            })
            .collect())
    }

    fn long_objects(&self, mapping: &Mapping) -> Result<Vec<Object>, Problem> {
        let Some([Some(x), Some(y), z]) = &self.long else {
            return Err(Problem::NoPlayers);
        };
        let Some(Column::Label(objects)) = &self.object else {
            return Err(Problem::Missing {
                field: "columns.object",
                why: "a long file needs to say whose row it is".into(),
            });
        };
        let teams = match &self.team {
            Some(Column::Label(l)) => Some(l),
            _ => None,
        };
        let ball = mapping.ball.as_ref().map(|b| b.object.as_str());
        // Objects are told apart by team and label, since shirt numbers repeat between teams.
        let width = objects.names.len() + 1;
        let place = |row: usize| {
            let o = (objects.codes[row] as usize).min(width - 1);
            let t = teams.map_or(0, |l| (l.codes[row] as usize).min(l.names.len()));
            t * width + o
        };
        let kinds = width * teams.map_or(1, |l| l.names.len() + 1);
        let mut slot: Vec<Option<usize>> = vec![None; kinds];
        let mut counts: Vec<usize> = vec![0; kinds];
        let rows = self.times.len();
        for row in 0..rows {
            counts[place(row)] += 1;
        }
        let mut out: Vec<Object> = Vec::new();
        for row in 0..rows {
            let (t, x, y) = (self.times[row], x[row], y[row]);
            if !(t.is_finite() && x.is_finite() && y.is_finite()) {
                continue;
            }
            let k = place(row);
            let at = if let Some(at) = slot[k] {
                at
            } else {
                let team = teams.and_then(|l| l.get(row));
                let label = match (objects.get(row), team) {
                    (Some(o), _) => o,
                    (None, Some(t)) if Some(t) == ball => t,
                    // A row of nobody: counted once below, as it has no label.
                    (None, _) => "",
                };
                let label = if team.is_some() && team == ball {
                    ball.unwrap_or_default()
                } else {
                    label
                };
                let n = counts[k];
                let is_ball = Some(label) == ball;
                let existing = out
                    .iter()
                    .position(|o| o.label == label && (is_ball || label.is_empty()));
                let at = existing.unwrap_or_else(|| {
                    out.push(Object {
                        label: label.to_owned(),
                        team: team.filter(|_| !is_ball).map(str::to_owned),
                        samples: Samples {
                            t: Vec::with_capacity(n),
                            x: Vec::with_capacity(n),
                            y: Vec::with_capacity(n),
                            z: z.as_ref().map(|_| Vec::with_capacity(n)),
                        },
                    });
                    out.len() - 1
                });
                if out.len() > limits::OBJECTS {
                    return Err(Problem::Limit {
                        what: "the number of different objects",
                        found: format!("more than {}", limits::OBJECTS),
                        limit: limits::OBJECTS.to_string(),
                    });
                }
                slot[k] = Some(at);
                at
            };
            let s = &mut out[at].samples;
            s.t.push(t);
            s.x.push(x);
            s.y.push(y);
            if let (Some(to), Some(from)) = (&mut s.z, z) {
                to.push(from[row]);
            }
        }
        for o in &mut out {
            if o.samples
                .z
                .as_ref()
                .is_some_and(|z| z.iter().all(|v| v.is_nan()))
            {
                o.samples.z = None;
            }
        }
        Ok(out)
    }

    /// First and last time of each period, in the order of their numbers.
    fn periods(&self) -> Vec<(u32, f64, f64)> {
        let Some(Column::Number(period)) = &self.period else {
            return Vec::new();
        };
        let mut spans: std::collections::BTreeMap<u32, (f64, f64)> =
            std::collections::BTreeMap::new();
        for (p, t) in period.iter().zip(&self.times) {
            if p.is_finite() && t.is_finite() && *p >= 0.0 {
                let span = spans.entry(*p as u32).or_insert((*t, *t));
                span.0 = span.0.min(*t);
                span.1 = span.1.max(*t);
            }
        }
        spans.into_iter().map(|(p, (a, b))| (p, a, b)).collect()
    }
}

/// The ends team 0 attacks, as spans of session time.
fn ends(
    mapping: &Mapping,
    raw: &RawTracks,
    periods: &[(u32, f64, f64)],
) -> Result<Vec<EndSpan>, Problem> {
    // Beyond the last frame, so that a span's open end includes it.
    const BEYOND: f64 = 1.0;
    let (start, end) = raw.span().unwrap_or((0.0, 0.0));
    let mut spans = Vec::with_capacity(mapping.ends.len());
    for e in &mapping.ends {
        let (mut from, mut to) = (start, end + BEYOND);
        if let Some(number) = e.period {
            let i = periods
                .iter()
                .position(|p| p.0 == number)
                .ok_or_else(|| Problem::Value {
                    field: "ends.period".into(),
                    found: number.to_string(),
                    expected: format!(
                        "a period of the file: {}",
                        periods
                            .iter()
                            .map(|p| p.0.to_string())
                            .collect::<Vec<_>>()
                            .join(", ")
                    ),
                })?;
            from = periods[i].1;
            to = periods.get(i + 1).map_or(to, |next| next.1);
        }
        spans.push(EndSpan {
            from_s: e.from.unwrap_or(from),
            to_s: e.to.unwrap_or(to),
            end: e.attacks,
        });
    }
    spans.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
    Ok(spans)
}

/// Whether a name fits a pattern in which `*` stands for any text.
pub(crate) fn fits(pattern: &str, name: &str) -> bool {
    let mut parts = pattern.split('*');
    let first = parts.next().unwrap_or_default();
    let Some(mut rest) = name.strip_prefix(first) else {
        return false;
    };
    let parts: Vec<&str> = parts.collect();
    let Some((last, middle)) = parts.split_last() else {
        return rest.is_empty();
    };
    for part in middle {
        match rest.find(part) {
            Some(at) => rest = &rest[at + part.len()..],
            None => return false,
        }
    }
    rest.len() >= last.len() && rest.ends_with(last)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns() {
        assert!(fits("O_*", "O_top") && !fits("O_*", "D_top"));
        assert!(fits("*", "") && fits("a*c*e", "abcde") && !fits("a*c*e", "abcd"));
        assert!(fits("7", "7") && !fits("7", "17") && !fits("a*a", "a"));
    }
}

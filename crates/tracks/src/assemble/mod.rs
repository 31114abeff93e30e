//! A table and its mapping make raw tracks: who is who, when, and where on the court.

mod exchanges;
mod gather;
mod identity;
mod place;
mod plan;
mod times;

use crate::error::{Place, Problem, TracksError, Warning};
use crate::homography::LandmarkFit;
use crate::mapping::Mapping;
use crate::raw::{RawTracks, Samples};
use crate::read;
use crate::session::EndSpan;
use crate::side::RosterEntry;
use gather::Gather;
use identity::Identity;
use place::ToCourt;
use rayon::prelude::*;
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
    let gathered = Gather::read(files, mapping)?;
    let at_file = |problem| TracksError::new(Place::file(first), problem);
    if gathered.skipped > 0 {
        warnings.push(Warning::new(
            first,
            format!("{} rows without a time were left out", gathered.skipped),
        ));
    }
    let (mut objects, periods) = gathered.finish();
    objects.retain(|o| !o.samples.is_empty());
    let put: Vec<_> = objects
        .par_iter_mut()
        .map(|object| {
            let n = object.samples.len();
            let outside = to_court.apply(&mut object.samples);
            let sorted = times::sort(&mut object.samples, &object.label);
            (outside, n, sorted)
        })
        .collect();
    let mut seen = Vec::with_capacity(objects.len());
    for (object, (outside, n, sorted)) in objects.iter().zip(put) {
        seen.push((object.label.clone(), outside, n));
        let sorted = sorted.map_err(at_file)?;
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
        exchanges: Vec::new(),
        ends: Vec::new(),
    };
    raw.ends = ends(mapping, &raw, &periods).map_err(in_mapping)?;
    exchanges::put_right(mapping, &mut raw, &mut warnings).map_err(in_mapping)?;
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

//! Unit, origin, axes and floor, from where players have been.

use super::profile::words;
use super::{Confidence, Notes, has};
use crate::mapping::{Axis, ColumnRef, CourtSpec, Format, Mapping, Origin, SpaceSpec, SpaceUnit};
use crate::raw::{RawTracks, Samples};
use setdrift_court::Court;

/// A way to lay the positions on a floor.
#[derive(Clone)]
struct Fit {
    court: &'static str,
    unit: SpaceUnit,
    origin: &'static str,
    along: Axis,
    centre: [f64; 2],
    /// How much of the floor, or of one half of it, the positions fill, less what lies beyond it.
    score: f64,
    half: bool,
}

const UNITS: [SpaceUnit; 5] = [
    SpaceUnit::M,
    SpaceUnit::Ft,
    SpaceUnit::Cm,
    SpaceUnit::Mm,
    SpaceUnit::In,
];

pub(super) fn find(
    tracks: &RawTracks,
    mapping: &mut Mapping,
    given: &toml::Table,
    notes: &mut Notes,
) {
    let per_side = most_per_side(tracks, mapping);
    let image = mapping.file.format == Some(Format::Motchallenge);
    if has(given, "space") || image || mapping.homography.is_some() {
        return;
    }
    let Some(range) = range(tracks) else { return };
    let seconds = tracks.span().map_or(0.0, |(from, to)| to - from);
    let courts: Vec<&'static str> = match &mapping.session.court {
        Some(CourtSpec::Named(n)) => Court::NAMES.iter().copied().filter(|c| c == n).collect(),
        Some(CourtSpec::Own(_)) => Vec::new(),
        None if per_side <= 3 => vec!["3x3", "fiba", "nba"],
        None => vec!["fiba", "nba", "nfhs"],
    };
    let named = named_unit(mapping);
    let mut fits: Vec<Fit> = Vec::new();
    for name in courts {
        let Ok(court) = Court::named(name) else {
            continue;
        };
        for unit in UNITS.into_iter().filter(|u| named.is_none_or(|n| n == *u)) {
            // Only rule books in feet are used in feet and inches.
            let feet = matches!(unit, SpaceUnit::Ft | SpaceUnit::In);
            if feet && matches!(name, "fiba" | "3x3") {
                continue;
            }
            fits.extend(on_court(name, &court, unit, range, seconds));
        }
    }
    // Earlier ones win among equals: metres before other units, the middle before corners.
    fits.sort_by(|a, b| b.score.total_cmp(&a.score));
    let text = format!(
        "98 % of positions lie from ({:.2}, {:.2}) to ({:.2}, {:.2})",
        range[0].0, range[1].0, range[0].1, range[1].1
    );
    let Some(best) = fits.first().cloned().filter(|f| f.score > 0.3) else {
        notes.ask(
            "space.unit",
            format!(
                "In which unit, from which origin, on which court are the coordinates? {text}, \
                 which no known floor explains."
            ),
            true,
        );
        return;
    };
    let rival = fits
        .iter()
        .find(|f| (f.unit, f.origin, f.along) != (best.unit, best.origin, best.along));
    let margin = rival.map_or(1.0, |r| best.score - r.score);
    let confidence = if best.score > 0.7 && margin > 0.1 {
        Confidence::Sure
    } else if margin > 0.02 {
        Confidence::Likely
    } else {
        Confidence::Assumed
    };
    let other = rival
        .filter(|_| confidence == Confidence::Assumed)
        .map_or_else(String::new, |r| {
            format!(
                "; {:?} with the origin at the {} fits nearly as well",
                r.unit, r.origin
            )
        });
    mapping.space = SpaceSpec {
        unit: best.unit,
        scale: None,
        origin: match best.origin {
            "corner" => Origin::Corner,
            "middle" => Origin::default(),
            _ => Origin::Centre(best.centre),
        },
        along: best.along,
        across: if best.along == Axis::X {
            Axis::Y
        } else {
            Axis::X
        },
    };
    // Swapping two axes mirrors; turning one of them round makes it a turn again.
    if best.along == Axis::Y {
        mapping.space.across = Axis::MinusX;
        if best.origin == "corner" {
            mapping.space.origin = Origin::Centre(best.centre);
        }
    }
    let floor = if best.half {
        "half of the floor"
    } else {
        "floor"
    };
    notes.found(
        "space.unit",
        format!("{:?}, origin at the {}", best.unit, best.origin).to_lowercase(),
        format!(
            "{}{text}, {:.0} % of the {floor}{other}",
            if named.is_some() {
                "the unit by the column's name; "
            } else {
                ""
            },
            best.score * 100.0
        ),
        confidence,
    );
    notes.found(
        "space.across",
        if best.along == Axis::X { "y" } else { "-x" },
        "right-handed axes as seen from above; if left and right are exchanged, change its sign",
        Confidence::Assumed,
    );
    if mapping.session.court.is_none() {
        mapping.session.court = Some(CourtSpec::Named(best.court.to_owned()));
        let sure = best.court == "3x3" && best.score > 0.7;
        notes.found(
            "session.court",
            best.court,
            format!("its floor is filled best, {per_side} of a side at once"),
            if sure {
                Confidence::Likely
            } else {
                Confidence::Assumed
            },
        );
        if matches!(best.court, "nba" | "nfhs") {
            notes.ask(
                "session.court",
                "Which rule book's lines are on the floor: nba, ncaa or nfhs? Positions cannot \
                 tell lanes and arcs.",
                false,
            );
        }
    }
}

/// The unit that the name of the x column ends with, as in `x_m` or `X [ft]`.
fn named_unit(mapping: &Mapping) -> Option<SpaceUnit> {
    let wide = mapping.wide.as_ref().and_then(|w| w.x.clone());
    let name = match &mapping.columns.x {
        Some(ColumnRef::Name(n)) => n.clone(),
        _ => wide?.replace("{object}", " "),
    };
    let words = words(&name);
    let unit = match words.last()?.as_str() {
        "m" | "metres" | "meters" => SpaceUnit::M,
        "ft" | "feet" => SpaceUnit::Ft,
        "cm" => SpaceUnit::Cm,
        "mm" => SpaceUnit::Mm,
        "in" | "inches" => SpaceUnit::In,
        _ => return None,
    };
    (words.len() > 1).then_some(unit)
}

/// The greatest number of players of one team on the floor at once, from the number of objects.
fn most_per_side(tracks: &RawTracks, mapping: &Mapping) -> usize {
    let team_of = |id: &str| {
        mapping
            .teams
            .iter()
            .position(|t| t.members.iter().any(|m| crate::assemble::fits(m, id)))
    };
    let mut counts = [0_usize; 2];
    for p in &tracks.players {
        let team = team_of(&p.id).unwrap_or(p.team).min(1);
        counts[team] += 1;
    }
    counts[0].max(counts[1]).min(5)
}

type Range = (f64, f64);

/// From the 1st to the 99th percentile of both coordinates.
fn range(tracks: &RawTracks) -> Option<[Range; 2]> {
    let axis = |pick: fn(&Samples) -> &Vec<f64>| {
        let total: usize = tracks.samples.iter().map(Samples::len).sum();
        let step = (total / 100_000).max(1);
        let mut v: Vec<f64> = tracks
            .samples
            .iter()
            .flat_map(|s| pick(s).iter().step_by(step).copied())
            .collect();
        v.sort_by(f64::total_cmp);
        let at = |q: f64| v[((v.len() - 1) as f64 * q) as usize];
        (!v.is_empty()).then(|| (at(0.01), at(0.99)))
    };
    Some([axis(|s| &s.x)?, axis(|s| &s.y)?])
}

fn on_court(
    name: &'static str,
    court: &Court,
    unit: SpaceUnit,
    range: [Range; 2],
    seconds: f64,
) -> Vec<Fit> {
    /// Beyond the lines, where players may still be, metres.
    const AROUND: f64 = 1.5;
    /// Who plays at one end comes as near as this to its end line: the ring is 1.575 m from it
    /// (FIBA OBR Art. 2), and rebounds fall around it. A single short play need not get there.
    const NEAR_END: f64 = 2.5;
    const PLAYS_S: f64 = 60.0;
    let m = court.measures();
    let metre = unit.metres().unwrap_or(1.0);
    let (half, side) = (m.length / 2.0, m.width / 2.0);
    let mut out = Vec::new();
    for along in [Axis::X, Axis::Y] {
        let scaled = |i: usize| (range[i].0 * metre, range[i].1 * metre);
        let (a, c) = (scaled(along.index()), scaled(1 - along.index()));
        for (origin, ca, cc) in [
            ("middle", 0.0, 0.0),
            ("corner", half, side),
            ("middle of an end line", half, 0.0),
        ] {
            let (a0, a1) = (a.0 - ca, a.1 - ca);
            let (c0, c1) = (c.0 - cc, c.1 - cc);
            let beyond = (-half - a0).max(a1 - half).max(-side - c0).max(c1 - side);
            if beyond > AROUND {
                continue;
            }
            let one_half = name == "3x3" || a1 < 1.5 || a0 > -1.5;
            let length = if one_half { half } else { 2.0 * half };
            let filled = ((a1 - a0) / length).min(1.0) * ((c1 - c0) / m.width).min(1.0);
            let off = beyond.max(0.0) / AROUND * 0.3;
            // A half that nobody leaves, but whose basket nobody goes near, is the wrong half.
            let far = seconds > PLAYS_S && (a0 + half).min(half - a1) > NEAR_END;
            // Floors laid out in feet are measured in feet more often than in metres.
            let feet = matches!(unit, SpaceUnit::Ft | SpaceUnit::In);
            let foreign = matches!(name, "nba" | "nfhs") && !feet;
            let mut centre = [0.0; 2];
            centre[along.index()] = ca / metre;
            centre[1 - along.index()] = cc / metre;
            out.push(Fit {
                court: name,
                unit,
                origin,
                along,
                centre,
                score: filled
                    - off
                    - if one_half && name != "3x3" { 0.05 } else { 0.0 }
                    - if one_half && far { 0.3 } else { 0.0 }
                    - if foreign { 0.05 } else { 0.0 },
                half: one_half,
            });
        }
    }
    out
}

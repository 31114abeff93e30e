//! Which column is what, by its name and by what it holds.

use super::profile::{Profile, wide_objects, wide_pattern, words};
use super::{Confidence, Notes};
use crate::error::{Place, Problem, TracksError};
use crate::mapping::{BallSpec, ColumnRef, Format, Mapping, TimeUnit};
use crate::read::Opened;
use std::collections::BTreeSet;
use std::path::Path;

const ROWS: usize = 6000;

pub(super) fn find(
    opened: &Opened,
    path: &Path,
    mapping: &mut Mapping,
    notes: &mut Notes,
) -> Result<(), TracksError> {
    if mapping.file.format == Some(Format::Motchallenge) {
        mapping.time.unit = TimeUnit::Frame;
        mapping.time.first_frame = Some(1.0);
        boxes(notes);
        return Ok(());
    }
    let cells = opened.sample(ROWS)?;
    let comma = mapping.file.decimal == Some(',');
    let profiles: Vec<Profile> = opened
        .names()
        .iter()
        .zip(&cells)
        .map(|(n, c)| Profile::new(n, c, comma))
        .collect();
    let named = opened.named();
    let reference = |i: usize| {
        if named {
            ColumnRef::name(profiles[i].name.clone())
        } else {
            ColumnRef::Number(i + 1)
        }
    };
    let shown = |i: usize| {
        if named {
            format!("`{}`", profiles[i].name)
        } else {
            format!("column {}", i + 1)
        }
    };
    let mut free: BTreeSet<usize> = (0..profiles.len()).collect();
    let wide = if named { wide_pattern(&profiles) } else { None };
    // Time.
    let time = best(&free, |i| time_score(&profiles[i]));
    if let Some(i) = time {
        free.remove(&i);
        let p = &profiles[i];
        mapping.columns.time = Some(reference(i));
        let (unit, reason, confidence) = time_unit(p, wide.is_some());
        mapping.time.unit = unit;
        notes.found(
            "columns.time",
            shown(i),
            format!("{reason}; it never goes back"),
            confidence,
        );
        if unit == TimeUnit::Iso {
            // Times of day are in the zone of the file; the date is that of its first sample there.
            let first = cells[i].iter().find(|c| !c.is_empty());
            let date = first.and_then(|c| c.get(..10));
            if let Some(date) = date.filter(|d| d.parse::<jiff::civil::Date>().is_ok()) {
                mapping.session.date = Some(date.to_owned());
                notes.found(
                    "session.date",
                    date,
                    "the first of its times",
                    Confidence::Sure,
                );
            }
        }
        if unit == TimeUnit::Frame {
            mapping.time.first_frame = Some(p.low);
            mapping.time.rate = Some(25.0);
        }
    }
    let mut clock = None;
    for (key, slot, words) in [
        ("columns.period", &mut mapping.columns.period, &PERIOD[..]),
        ("columns.clock", &mut mapping.columns.clock, &CLOCK[..]),
    ] {
        let found = best(&free, |i| {
            let p = &profiles[i];
            let fits = if key == "columns.period" {
                p.whole && p.high <= 20.0 && p.low >= 0.0
            } else {
                p.numeric || p.clock
            };
            if fits && named_as(p, words) { 2.0 } else { 0.0 }
        });
        if let Some(i) = found {
            free.remove(&i);
            *slot = Some(reference(i));
            notes.found(key, shown(i), "its name", Confidence::Likely);
            if key == "columns.clock" {
                clock = Some(i);
            }
        }
    }
    if mapping.columns.time.is_none() && clock.is_none() {
        clock = running_down(&profiles, &free);
        if let Some(i) = clock {
            free.remove(&i);
            mapping.columns.clock = Some(reference(i));
            let reason = format!("it runs down from {:.0}", profiles[i].high);
            notes.found("columns.clock", shown(i), reason, Confidence::Likely);
        }
        let first = |i: &usize| {
            let p = &profiles[*i];
            p.whole && p.steady && p.low >= 1.0 && p.high <= 10.0
        };
        if let Some(i) = free.iter().copied().find(first)
            && clock.is_some()
            && mapping.columns.period.is_none()
        {
            free.remove(&i);
            mapping.columns.period = Some(reference(i));
            let reason = "a small whole number that never goes back";
            notes.found("columns.period", shown(i), reason, Confidence::Likely);
        }
    }
    if let Some(p) = clock.map(|i| &profiles[i])
        && mapping.columns.time.is_none()
        && mapping.columns.period.is_some()
    {
        period_length(p, mapping, notes);
    }
    if mapping.columns.time.is_none() && mapping.columns.clock.is_none() {
        notes.ask(
            "columns.time",
            format!("Which column is the time? The file has {}.", all(&profiles)),
            true,
        );
    }
    if let Some((w, n)) = wide {
        notes.found(
            "wide.x",
            w.x.clone().unwrap_or_default(),
            format!("{n} pairs of columns differ only in x and y"),
            Confidence::Sure,
        );
        let ball = wide_objects(&profiles, &w).into_iter().find(|o| is_ball(o));
        if let Some(object) = ball {
            notes.found("ball.object", object.clone(), "its name", Confidence::Sure);
            mapping.ball = Some(BallSpec { object });
        }
        mapping.wide = Some(w);
        return Ok(());
    }
    long(
        &profiles, &cells, &mut free, &reference, &shown, mapping, notes,
    )
    .map_err(|p| TracksError::new(Place::file(path), p))
}

/// A column that goes down as a game clock does, where nothing names one.
fn running_down(profiles: &[Profile], free: &BTreeSet<usize>) -> Option<usize> {
    /// The longest period of a rule book, seconds, and values enough to see a direction.
    const LONGEST: f64 = 1200.0;
    const VALUES: usize = 20;
    free.iter().copied().find(|i| {
        let p = &profiles[*i];
        (p.numeric || p.clock)
            && p.falling
            && p.distinct >= VALUES
            && p.low >= 0.0
            && p.high <= LONGEST
    })
}

/// How long a period is, from where its clock begins.
fn period_length(clock: &Profile, mapping: &mut Mapping, notes: &mut Notes) {
    /// Quarters and halves of rule books: FIBA and women's quarters, NBA quarters, school quarters,
    /// halves of men's colleges (FIBA OBR Art. 8, NBA Rule 5, NFHS and NCAA Rule 5).
    const USUAL: [f64; 4] = [480.0, 600.0, 720.0, 1200.0];
    let length = USUAL.into_iter().find(|l| clock.high <= *l);
    let Some(length) = length else {
        notes.ask(
            "time.period",
            "How long is a period, in seconds? The file has periods and a clock, but no times.",
            true,
        );
        return;
    };
    mapping.time.period = Some(length);
    let near = length - clock.high < 5.0;
    notes.found(
        "time.period",
        format!("{length} s"),
        format!("the clock begins at {:.0} s", clock.high),
        if near {
            Confidence::Likely
        } else {
            Confidence::Assumed
        },
    );
}

fn boxes(notes: &mut Notes) {
    notes.ask(
        "homography",
        "Where are at least four places of the floor (corners, lane corners) in the image? Write \
         [homography] landmarks = [{ image = [across, down], floor = [x, y] }, ...].",
        true,
    );
    notes.ask(
        "time.rate",
        "How many frames per second? The file only numbers them.",
        true,
    );
    notes.ask(
        "session.court",
        format!(
            "Which court: one of {}, or one's own measures?",
            setdrift_court::Court::NAMES.join(", ")
        ),
        true,
    );
}

type Reference<'a> = &'a dyn Fn(usize) -> ColumnRef;
type Shown<'a> = &'a dyn Fn(usize) -> String;

fn long(
    profiles: &[Profile],
    cells: &[Vec<String>],
    free: &mut BTreeSet<usize>,
    reference: Reference<'_>,
    shown: Shown<'_>,
    mapping: &mut Mapping,
    notes: &mut Notes,
) -> Result<(), Problem> {
    let unnamed = mapping.file.header == Some(false);
    let position = |p: &Profile| p.numeric && p.distinct > 20 && !(p.whole && p.steady);
    // Coordinates: by name, else the first two columns that hold many different numbers.
    let by_name = |axis: &str| {
        best(free, |i| {
            let p = &profiles[i];
            if p.numeric && p.words.iter().any(|w| w == axis) {
                // The shortest name is the plainest: `x` before `x velocity`.
                3.0 - 0.1 * p.words.len() as f64
            } else {
                0.0
            }
        })
    };
    let mut xyz = [by_name("x"), by_name("y"), by_name("z")];
    let mut confidence = Confidence::Sure;
    let mut reason = "its name";
    if xyz[0].is_none() && xyz[1].is_none() {
        let mut candidates = free.iter().copied().filter(|i| position(&profiles[*i]));
        xyz = [candidates.next(), candidates.next(), None];
        confidence = Confidence::Likely;
        reason = "the first columns with many different numbers";
        if !unnamed && xyz[1].is_some() {
            confidence = Confidence::Assumed;
        }
    }
    let [Some(x), Some(y), z] = xyz else {
        notes.ask(
            "columns.x",
            format!(
                "Which columns are the coordinates? The file has {}.",
                all(profiles)
            ),
            true,
        );
        return Ok(());
    };
    mapping.columns.x = Some(reference(x));
    mapping.columns.y = Some(reference(y));
    notes.found("columns.x", shown(x), reason, confidence);
    notes.found("columns.y", shown(y), reason, confidence);
    free.remove(&x);
    free.remove(&y);
    let z = z.or_else(|| {
        best(free, |i| {
            if profiles[i].numeric && named_as(&profiles[i], &HEIGHT) {
                1.0
            } else {
                0.0
            }
        })
    });
    if let Some(z) = z {
        free.remove(&z);
        mapping.columns.z = Some(reference(z));
        notes.found("columns.z", shown(z), "its name", Confidence::Likely);
    }
    let team = best(free, |i| {
        let p = &profiles[i];
        if named_as(p, &TEAM) && p.distinct <= 6 {
            2.0
        } else {
            0.0
        }
    });
    if let Some(i) = team {
        free.remove(&i);
        mapping.columns.team = Some(reference(i));
        notes.found("columns.team", shown(i), "its name", Confidence::Sure);
    }
    let object = best(free, |i| object_score(i, profiles, cells, mapping));
    let Some(object) = object else {
        notes.ask(
            "columns.object",
            format!(
                "Which column says whose row it is? The file has {}.",
                all(profiles)
            ),
            true,
        );
        return Ok(());
    };
    mapping.columns.object = Some(reference(object));
    notes.found(
        "columns.object",
        shown(object),
        format!(
            "{} different values in the first {} rows, each once per time",
            profiles[object].distinct,
            cells[object].len()
        ),
        Confidence::Likely,
    );
    let team = team.or_else(|| {
        let i = free
            .iter()
            .copied()
            .find(|i| *i != object && divides(&cells[*i], &cells[object]))?;
        mapping.columns.team = Some(reference(i));
        let reason = "each object has one of its few values";
        notes.found("columns.team", shown(i), reason, Confidence::Likely);
        Some(i)
    });
    let values: BTreeSet<&str> = cells[object]
        .iter()
        .chain(team.iter().flat_map(|t| &cells[*t]))
        .map(String::as_str)
        .collect();
    if let Some(ball) = values.into_iter().find(|v| is_ball(v)) {
        notes.found("ball.object", ball, "its name", Confidence::Sure);
        mapping.ball = Some(BallSpec {
            object: ball.to_owned(),
        });
    }
    if let Some(t) = team {
        spare_teams(&cells[t], &cells[object], mapping, notes);
    }
    Ok(())
}

/// Whether a column divides the objects as teams do: each has one value, and the two most frequent
/// values have several objects each.
fn divides(column: &[String], object: &[String]) -> bool {
    /// Fewer than this do not make a team, and more values than this are not teams, the ball and
    /// officials.
    const TEAM: usize = 3;
    const VALUES: usize = 4;
    let mut of: std::collections::BTreeMap<&str, &str> = std::collections::BTreeMap::new();
    for (v, o) in column.iter().zip(object) {
        if *of.entry(o).or_insert(v) != v {
            return false;
        }
    }
    let mut sizes: std::collections::BTreeMap<&str, usize> = std::collections::BTreeMap::new();
    for (_, v) in of.iter().filter(|(o, v)| !v.is_empty() && !is_ball(o)) {
        *sizes.entry(v).or_default() += 1;
    }
    let teams = sizes.values().filter(|n| **n >= TEAM).count();
    teams == 2 && sizes.len() <= VALUES
}

/// Of more than two values of a team column, the two with most objects are teams. A third of a single
/// object is the ball, where nothing else is.
fn spare_teams(team: &[String], object: &[String], mapping: &mut Mapping, notes: &mut Notes) {
    let mut members: std::collections::BTreeMap<&str, BTreeSet<&str>> =
        std::collections::BTreeMap::new();
    for (t, o) in team.iter().zip(object) {
        if !t.is_empty() && !is_ball(t) && !is_ball(o) {
            members.entry(t).or_default().insert(o);
        }
    }
    let mut sizes: Vec<(usize, &str)> = members.iter().map(|(t, o)| (o.len(), *t)).collect();
    sizes.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(b.1)));
    /// Fewer than this do not make a team.
    const TEAM: usize = 3;
    for (n, id) in sizes.iter().skip(2) {
        let alone = *n == 1 && sizes.len() == 3 && sizes[1].0 >= TEAM;
        if alone && mapping.ball.is_none() {
            let ball = members[id].first().copied().unwrap_or(id);
            mapping.ball = Some(BallSpec {
                object: ball.to_owned(),
            });
            notes.found(
                "ball.object",
                ball,
                "the only object of neither team",
                Confidence::Likely,
            );
            continue;
        }
        mapping.session.ignore.push((*id).to_owned());
        notes.found(
            "session.ignore",
            *id,
            format!("two other teams have more than its {n} objects"),
            Confidence::Likely,
        );
    }
}

/// An object column takes few values, and each at most once per time.
fn object_score(i: usize, profiles: &[Profile], cells: &[Vec<String>], mapping: &Mapping) -> f64 {
    let p = &profiles[i];
    if p.distinct < 2 || p.distinct > 120 || p.filled == 0 {
        return 0.0;
    }
    // A clock tells rows of one moment from others as well as a time does.
    let time = match mapping
        .columns
        .time
        .as_ref()
        .or(mapping.columns.clock.as_ref())
    {
        Some(ColumnRef::Number(n)) => Some(n - 1),
        Some(ColumnRef::Name(n)) => profiles.iter().position(|p| p.name == *n),
        None => None,
    };
    let Some(time) = time else {
        return if named_as(p, &OBJECT) { 1.0 } else { 0.0 };
    };
    let team = match &mapping.columns.team {
        Some(ColumnRef::Number(n)) => Some(n - 1),
        Some(ColumnRef::Name(n)) => profiles.iter().position(|p| p.name == *n),
        None => None,
    };
    let empty = String::new();
    let mut seen = BTreeSet::new();
    for (row, (when, who)) in cells[time].iter().zip(&cells[i]).enumerate() {
        seen.insert((when, team.map_or(&empty, |t| &cells[t][row]), who));
    }
    let unique = seen.len() as f64 / cells[i].len() as f64;
    if unique < 0.9 {
        return 0.0;
    }
    // Words tell more than numbers: of an id and a name that go together, the name is taken.
    let words = if p.numeric { 0.0 } else { 0.4 };
    let named = if named_as(p, &OBJECT) { 1.0 } else { 0.0 };
    unique + words + named
}

fn best(free: &BTreeSet<usize>, score: impl Fn(usize) -> f64) -> Option<usize> {
    let mut top = (0.0, None);
    for i in free {
        let s = score(*i);
        if s > top.0 {
            top = (s, Some(*i));
        }
    }
    top.1
}

const TIME: [&str; 10] = [
    "time",
    "t",
    "timestamp",
    "ts",
    "seconds",
    "sec",
    "datetime",
    "millis",
    "date",
    "elapsed",
];
const FRAME: [&str; 4] = ["frame", "frames", "index", "step"];
const PERIOD: [&str; 4] = ["period", "quarter", "half", "qtr"];
const CLOCK: [&str; 2] = ["clock", "remaining"];
const OBJECT: [&str; 10] = [
    "object", "player", "id", "entity", "track", "tag", "jersey", "number", "name", "who",
];
const TEAM: [&str; 3] = ["team", "side", "club"];
const HEIGHT: [&str; 3] = ["height", "elevation", "altitude"];

fn named_as(p: &Profile, words: &[&str]) -> bool {
    p.words.iter().any(|w| words.contains(&w.as_str()))
}

fn is_ball(value: &str) -> bool {
    words(value)
        .iter()
        .any(|w| w == "ball" || w == "basketball")
}

fn time_score(p: &Profile) -> f64 {
    let clock = named_as(p, &CLOCK);
    if p.filled == 0 || clock || !(p.numeric || p.iso || p.clock) || !p.steady || p.distinct < 2 {
        return 0.0;
    }
    let name = if named_as(p, &TIME) {
        3.0
    } else if named_as(p, &FRAME) {
        2.5
    } else {
        0.0
    };
    let kind = if p.iso { 1.0 } else { 0.0 };
    // Of unnamed columns, the one with most different values is the time.
    1.0 + name + kind + 0.1 * (p.distinct as f64).log10()
}

fn time_unit(p: &Profile, wide: bool) -> (TimeUnit, String, Confidence) {
    if p.iso {
        return (
            TimeUnit::Iso,
            "dates and times of ISO 8601".into(),
            Confidence::Sure,
        );
    }
    let has = |w: &str| p.words.iter().any(|x| x == w);
    for (words, unit, what) in [
        (
            &["ms", "millis", "milliseconds"][..],
            TimeUnit::Ms,
            "milliseconds",
        ),
        (
            &["us", "micros", "microseconds"],
            TimeUnit::Us,
            "microseconds",
        ),
        (&["ns", "nanos", "nanoseconds"], TimeUnit::Ns, "nanoseconds"),
        (&["s", "sec", "secs", "seconds"], TimeUnit::S, "seconds"),
    ] {
        if words.iter().any(|w| has(w)) {
            return (unit, format!("{what}, by its name"), Confidence::Sure);
        }
    }
    let step = (p.high - p.low) / (p.distinct.max(2) - 1) as f64;
    if p.clock {
        return (TimeUnit::S, "clock times".into(), Confidence::Likely);
    }
    if p.whole && step <= 3.0 && (named_as(p, &FRAME) || !named_as(p, &TIME) || step == 1.0) {
        let sure = named_as(p, &FRAME) || wide;
        return (
            TimeUnit::Frame,
            "whole numbers in steps of one: frame numbers".into(),
            if sure {
                Confidence::Sure
            } else {
                Confidence::Likely
            },
        );
    }
    for (size, unit, what) in [
        (1.0, TimeUnit::S, "seconds"),
        (1e-3, TimeUnit::Ms, "milliseconds"),
        (1e-6, TimeUnit::Us, "microseconds"),
        (1e-9, TimeUnit::Ns, "nanoseconds"),
    ] {
        // Sensors give from 4 to 250 positions a second.
        if (0.004..=0.25).contains(&(step * size)) {
            return (
                unit,
                format!(
                    "{what}: steps of {step:.4} are then {:.1} a second",
                    1.0 / (step * size)
                ),
                Confidence::Likely,
            );
        }
    }
    (TimeUnit::S, "seconds".into(), Confidence::Assumed)
}

fn all(profiles: &[Profile]) -> String {
    let names: Vec<String> = profiles
        .iter()
        .take(20)
        .map(|p| format!("`{}`", p.name))
        .collect();
    names.join(", ")
}

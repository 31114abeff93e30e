//! Players a person says were taken for each other.

use crate::clean::{exchange_samples, moment};
use crate::error::{Problem, Warning};
use crate::mapping::{ExchangeSpec, Mapping, SpaceUnit};
use crate::raw::{Exchange, RawTracks, Samples};
use setdrift_court::LengthUnit;

/// A person's eye is off by so much; within it the exchange is put where it makes both paths
/// shortest, seconds.
const ABOUT_S: f64 = 0.5;

/// Undo the exchanges the mapping names, in its order; warn of those nothing in the tracks speaks for.
pub(super) fn put_right(
    mapping: &Mapping,
    raw: &mut RawTracks,
    warnings: &mut Vec<Warning>,
) -> Result<(), Problem> {
    for e in &mapping.exchanges {
        let players = both(e, raw)?;
        let from_s = time(raw, "exchanges.from", e.from)?;
        let to_s = e.to.map(|t| time(raw, "exchanges.to", t)).transpose()?;
        for (key, t) in std::iter::once(("from", from_s)).chain(to_s.map(|t| ("to", t))) {
            if let Some(why) = doubt(mapping, raw, players, t) {
                let (a, b) = (&raw.players[players.0].id, &raw.players[players.1].id);
                let done = if e.happened {
                    "It was done as written"
                } else {
                    "So there was nothing to deny"
                };
                warnings.push(Warning::new(
                    &mapping.path,
                    format!(
                        "`exchanges.{key}` of `{a}` and `{b}`: {why}. {done}; check the time \
                         (seconds of the session, or \"MM:SS\") and both names"
                    ),
                ));
            }
        }
        let mut said = Exchange {
            players,
            from_s,
            to_s,
            happened: e.happened,
        };
        if e.happened {
            said.from_s = exchange(raw, players, from_s);
            said.to_s = to_s.map(|t| exchange(raw, players, t));
        }
        raw.exchanges.push(said);
    }
    Ok(())
}

/// Why two players can hardly have been exchanged about a time, if so.
fn doubt(mapping: &Mapping, raw: &RawTracks, players: (usize, usize), t: f64) -> Option<String> {
    let (a, b) = (&raw.samples[players.0], &raw.samples[players.1]);
    let near = mapping.cleaning.swap_distance;
    let unit = match mapping.space.unit {
        SpaceUnit::Ft | SpaceUnit::In => LengthUnit::Foot,
        _ => LengthUnit::Metre,
    };
    let length = |metres: f64| format!("{:.1} {unit}", unit.from_metres(metres));
    match nearest(a, b, t) {
        None => Some(format!(
            "they are not both seen within {ABOUT_S} s of {t:.1} s"
        )),
        Some(apart) if apart > near => Some(format!(
            "at their nearest within {ABOUT_S} s of {t:.1} s they are {} apart, and trackers take \
             players for each other who are nearer than about {}",
            length(apart),
            length(near)
        )),
        Some(_) => None,
    }
}

/// The nearest that two come within [`ABOUT_S`] of a time, metres.
fn nearest(a: &Samples, b: &Samples, t: f64) -> Option<f64> {
    let about = |s: &Samples| {
        let first = s.t.partition_point(|v| *v < t - ABOUT_S);
        first..s.t.partition_point(|v| *v <= t + ABOUT_S)
    };
    let (ours, theirs) = (about(a), about(b));
    ours.filter_map(|i| {
        let next = b.t.partition_point(|v| *v < a.t[i]);
        (next.saturating_sub(1)..=next)
            .filter(|j| theirs.contains(j))
            .map(|j| (a.x[i] - b.x[j]).hypot(a.y[i] - b.y[j]))
            .min_by(f64::total_cmp)
    })
    .min_by(f64::total_cmp)
}

/// From about a time on, each is the other; when exactly.
fn exchange(raw: &mut RawTracks, (a, b): (usize, usize), about: f64) -> f64 {
    let (head, tail) = raw.samples.split_at_mut(b);
    let (a, b) = (&mut head[a], &mut tail[0]);
    let at = moment(a, b, about - ABOUT_S, about + ABOUT_S);
    exchange_samples(a, b, at);
    at
}

fn both(e: &ExchangeSpec, raw: &RawTracks) -> Result<(usize, usize), Problem> {
    let find = |name: &str| {
        let by_id = raw.players.iter().position(|p| p.id == name);
        let numbered = |p: &&crate::Player| p.number.as_deref() == Some(name);
        let alone = raw.players.iter().filter(numbered).count() == 1;
        by_id
            .or_else(|| raw.players.iter().position(|p| alone && numbered(&p)))
            .ok_or_else(|| Problem::Value {
                field: "exchanges.players".into(),
                found: format!("`{name}`"),
                expected: format!(
                    "two players of the session: {}",
                    raw.players
                        .iter()
                        .map(|p| p.id.as_str())
                        .collect::<Vec<_>>()
                        .join(", ")
                ),
            })
    };
    let all: Vec<usize> = e
        .players
        .iter()
        .map(|p| find(p))
        .collect::<Result<_, _>>()?;
    match all[..] {
        [a, b] if a != b => Ok((a.min(b), a.max(b))),
        _ => Err(Problem::Value {
            field: "exchanges.players".into(),
            found: format!("`{}`", e.players.join("`, `")),
            expected: "two players, not one by two names".into(),
        }),
    }
}

fn time(raw: &RawTracks, field: &str, t: f64) -> Result<f64, Problem> {
    let (first, last) = raw.span().unwrap_or((0.0, 0.0));
    if t >= first && t <= last {
        return Ok(t);
    }
    Err(Problem::Value {
        field: field.into(),
        found: format!("{t} s"),
        expected: format!("a time of the session, from {first:.1} to {last:.1} s"),
    })
}

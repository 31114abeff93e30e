//! Players a person says were taken for each other.

use crate::clean::{exchange_samples, moment};
use crate::error::Problem;
use crate::mapping::{ExchangeSpec, Mapping};
use crate::raw::{Exchange, RawTracks};

/// A person's eye is off by so much; within it the exchange is put where it makes both paths
/// shortest, seconds.
const ABOUT_S: f64 = 0.5;

/// Undo the exchanges the mapping names, in its order.
pub(super) fn put_right(mapping: &Mapping, raw: &mut RawTracks) -> Result<(), Problem> {
    for e in &mapping.exchanges {
        let players = both(e, raw)?;
        let from_s = time(raw, "exchanges.from", e.from)?;
        let to_s = e.to.map(|t| time(raw, "exchanges.to", t)).transpose()?;
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

//! Raw tracks as columns.

use super::BALL;
use crate::raw::{RawTracks, Samples};

/// A column to be written.
pub(super) struct OutColumn {
    pub(super) name: String,
    pub(super) data: OutData,
}

pub(super) enum OutData {
    /// NaN is "no value".
    Numbers(Vec<f64>),
    /// Places in a list of texts; `None` is "no value".
    Texts(Vec<Option<u32>>, Vec<String>),
}

impl OutColumn {
    fn numbers(name: impl Into<String>, values: Vec<f64>) -> Self {
        Self {
            name: name.into(),
            data: OutData::Numbers(values),
        }
    }
}

pub(super) fn any_height(raw: &RawTracks) -> bool {
    raw.samples.iter().chain(&raw.ball).any(|s| s.z.is_some())
}

/// Objects with what the file calls them and their team.
pub(super) fn objects(raw: &RawTracks) -> impl Iterator<Item = (&str, Option<usize>, &Samples)> {
    let players = raw
        .players
        .iter()
        .zip(&raw.samples)
        .map(|(p, s)| (p.id.as_str(), Some(p.team), s));
    players.chain(raw.ball.iter().map(|s| (BALL, None, s)))
}

pub(super) fn long(raw: &RawTracks) -> Vec<OutColumn> {
    let all: Vec<_> = objects(raw).collect();
    let mut order: Vec<(f64, u32, u32)> = Vec::new();
    for (o, (_, _, s)) in all.iter().enumerate() {
        order.extend(
            s.t.iter()
                .enumerate()
                .map(|(i, t)| (*t, o as u32, i as u32)),
        );
    }
    order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let sample = |o: u32| all[o as usize].2;
    let numbers = |name, pick: fn(&Samples, usize) -> f64| {
        let values = order
            .iter()
            .map(|(_, o, i)| pick(sample(*o), *i as usize))
            .collect();
        OutColumn::numbers(name, values)
    };
    let ids = all.iter().map(|o| o.0.to_owned()).collect();
    let teams = raw.teams.iter().map(|t| t.id.clone()).collect();
    let mut columns = vec![
        OutColumn::numbers("time_s", order.iter().map(|o| o.0).collect()),
        OutColumn {
            name: "object".into(),
            data: OutData::Texts(order.iter().map(|o| Some(o.1)).collect(), ids),
        },
        OutColumn {
            name: "team".into(),
            data: OutData::Texts(
                order
                    .iter()
                    .map(|o| all[o.1 as usize].1.map(|t| t as u32))
                    .collect(),
                teams,
            ),
        },
        numbers("x_m", |s, i| s.x[i]),
        numbers("y_m", |s, i| s.y[i]),
    ];
    if any_height(raw) {
        columns.push(numbers("z_m", |s, i| {
            s.z.as_ref().map_or(f64::NAN, |z| z[i])
        }));
    }
    columns
}

pub(super) fn wide(raw: &RawTracks) -> Vec<OutColumn> {
    let mut times: Vec<f64> = objects(raw).flat_map(|o| o.2.t.iter().copied()).collect();
    times.sort_by(f64::total_cmp);
    times.dedup();
    let mut columns = Vec::new();
    for (id, _, s) in objects(raw) {
        let mut at = 0;
        let rows: Vec<Option<usize>> = times
            .iter()
            .map(|t| {
                (s.t.get(at) == Some(t)).then(|| {
                    at += 1;
                    at - 1
                })
            })
            .collect();
        let pick = |v: &[f64]| rows.iter().map(|r| r.map_or(f64::NAN, |i| v[i])).collect();
        columns.push(OutColumn::numbers(format!("x_{id}"), pick(&s.x)));
        columns.push(OutColumn::numbers(format!("y_{id}"), pick(&s.y)));
        if let Some(z) = &s.z {
            columns.push(OutColumn::numbers(format!("z_{id}"), pick(z)));
        }
    }
    columns.insert(0, OutColumn::numbers("time_s", times));
    columns
}

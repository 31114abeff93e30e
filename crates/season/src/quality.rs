//! The quality sheet as tables: what was tracked and how well, exchanged identities, and which
//! verdicts the data supports.

use crate::results::{Results, SessionResults};
use crate::table::{Table, TableBuilder};
use arrow::error::ArrowError;
use setdrift_tracks::{ObjectQuality, SideQuality, Support, Swap};

/// The tables of this module, in a fixed order.
///
/// # Errors
/// [`ArrowError`] when a table breaks its own schema; no input should bring that about.
pub(crate) fn tables(results: &Results) -> Result<Vec<Table>, ArrowError> {
    Ok(vec![
        tracks(results)?,
        sides(results)?,
        exchanges(results)?,
        supports(results)?,
    ])
}

type Row<'a, T> = (&'a SessionResults, &'a T);

fn rows<'a, T>(
    results: &'a Results,
    of: impl Fn(&'a SessionResults) -> Vec<&'a T>,
) -> Vec<Row<'a, T>> {
    results
        .sessions
        .iter()
        .flat_map(|s| of(s).into_iter().map(move |r| (s, r)))
        .collect()
}

fn keyed<'a, T>(
    name: &'static str,
    about: &'static str,
    rows: &'a [Row<'a, T>],
) -> TableBuilder<'a, Row<'a, T>> {
    TableBuilder::new(name, about, rows)
        .text("session", "session id", |r| Some(r.0.session.id.clone()))
        .text("date", "date, YYYY-MM-DD", |r| r.0.session.date.clone())
}

fn tracks(results: &Results) -> Result<Table, ArrowError> {
    let rows: Vec<Row<'_, ObjectQuality>> = rows(results, |s| {
        s.quality.players.iter().chain(&s.quality.ball).collect()
    });
    keyed(
        "quality",
        "how well a player or the ball was tracked, and what cleaning changed",
        &rows,
    )
    .text("object", "player id, or ball", |r| Some(r.1.id.clone()))
    .text("team", "team id; empty for the ball", |r| r.1.team.clone())
    .number("measured", "", "share of frames measured, 0 to 1", |r| {
        Some(r.1.measured)
    })
    .number("filled", "", "share of frames filled in, 0 to 1", |r| {
        Some(r.1.filled)
    })
    .count(
        "gaps",
        "gaps of up to a minute left unknown between two known frames",
        |r| Some(r.1.gaps),
    )
    .number("longest_gap", "s", "the longest of them", |r| {
        Some(r.1.longest_gap_s)
    })
    .number(
        "noise",
        "m",
        "noise from frame to frame, standard deviation per axis, before smoothing",
        |r| Some(r.1.noise_m),
    )
    .number(
        "error",
        "m",
        "the same with what wanders over half a second",
        |r| Some(r.1.error_m),
    )
    .count("jumps_cut", "samples cut as reached too fast", |r| {
        Some(r.1.jumps_cut)
    })
    .count("spikes_cut", "samples cut as single spikes", |r| {
        Some(r.1.spikes_cut)
    })
    .number(
        "off_floor",
        "s",
        "time beyond the lines, left unknown",
        |r| Some(r.1.off_floor_s),
    )
    .number(
        "substitution",
        "s",
        "time unknown while another went off",
        |r| Some(r.1.substitution_s),
    )
    .count("swaps_mended", "exchanges of identity undone", |r| {
        Some(r.1.swaps_mended)
    })
    .count("swaps_doubtful", "exchanges of identity in doubt", |r| {
        Some(r.1.swaps_doubtful)
    })
    .number(
        "doubt",
        "s",
        "time left unknown for doubtful exchanges",
        |r| Some(r.1.doubt_s),
    )
    .number(
        "speed_p95",
        "m/s",
        "95th percentile of speed over quarter seconds",
        |r| Some(r.1.speed_p95),
    )
    .build()
}

fn sides(results: &Results) -> Result<Table, ArrowError> {
    let rows: Vec<Row<'_, SideQuality>> = rows(results, |s| s.quality.sides.iter().collect());
    keyed("sides", "a team in a session: rate and coverage", &rows)
        .text("team", "team id", |r| Some(r.1.team.clone()))
        .count(
            "on_floor",
            "players on the floor at a time; 0 where not in the data",
            |r| Some(r.1.on_floor),
        )
        .count("seen", "players of the team seen at any time", |r| {
            Some(r.1.seen)
        })
        .number(
            "coverage",
            "",
            "share of their frames known, 0 to 1, breaks left out",
            |r| Some(r.1.coverage),
        )
        .number(
            "source_rate",
            "Hz",
            "samples per second of the sensor",
            |r| Some(r.0.quality.source_hz),
        )
        .number(
            "jitter",
            "s",
            "robust standard deviation of the steps between samples",
            |r| Some(r.0.quality.jitter_s),
        )
        .number("rate", "Hz", "frames per second after cleaning", |r| {
            Some(r.0.quality.rate_hz)
        })
        .text(
            "switched_off",
            "cleaning steps switched off, between spaces",
            |r| Some(r.0.quality.switched_off.join(" ")),
        )
        .count(
            "window",
            "frames in the smoothing window; 0 for none",
            |r| Some(r.0.quality.smoothing.window),
        )
        .number(
            "bandwidth",
            "Hz",
            "where smoothing has halved the power of a movement",
            |r| Some(r.0.quality.smoothing.bandwidth_hz),
        )
        .number(
            "onset_bound",
            "s",
            "most by which smoothing moves the beginning of a movement",
            |r| Some(r.0.quality.smoothing.onset_bound_s),
        )
        .build()
}

fn exchanges(results: &Results) -> Result<Table, ArrowError> {
    let rows: Vec<Row<'_, Swap>> = rows(results, |s| s.quality.swaps.iter().collect());
    let id = |s: &SessionResults, i: usize| s.session.players.get(i).map(|p| p.id.clone());
    keyed(
        "swaps",
        "a place where a tracker seems to have exchanged two players",
        &rows,
    )
    .number("time", "s", "when, session time", |r| Some(r.1.time_s))
    .text("player", "one of the two", move |r| id(r.0, r.1.players.0))
    .text("other", "the other", move |r| id(r.0, r.1.players.1))
    .number("apart", "m", "how far apart they were", |r| {
        Some(r.1.apart_m)
    })
    .number(
        "odds",
        "",
        "how much likelier exchanged than not, as a power of ten",
        |r| Some(r.1.odds_log10),
    )
    .flag(
        "mended",
        "whether it was undone; else both were left unknown",
        |r| Some(r.1.mended),
    )
    .number("unknown", "s", "how long both were left unknown", |r| {
        Some(r.1.unknown_s)
    })
    .build()
}

fn supports(results: &Results) -> Result<Table, ArrowError> {
    let rows: Vec<Row<'_, Support>> = rows(results, |s| s.quality.supports.iter().collect());
    keyed(
        "supports",
        "whether a session's data supports a kind of verdict",
        &rows,
    )
    .text("verdict", "kind of verdict", |r| {
        Some(r.1.kind.words().to_owned())
    })
    .text("supported", "yes, with caution, no", |r| {
        Some(r.1.level.to_string())
    })
    .text("reason", "why, in words with numbers", |r| {
        Some(r.1.reason.clone())
    })
    .build()
}

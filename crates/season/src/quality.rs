//! The quality sheet as tables: what was tracked and how well, exchanged identities, and which
//! verdicts the data supports.

use crate::results::Results;
use crate::table::Table;
use crate::tables::{id, keyed, rows};
use arrow::error::ArrowError;

/// The tables of this module, in a fixed order.
///
/// # Errors
/// [`ArrowError`] when a table breaks its own schema; no input should bring that about.
pub(crate) fn tables(results: &Results) -> Result<Vec<Table>, ArrowError> {
    Ok(vec![
        tracks(results)?,
        sides(results)?,
        exchanges(results)?,
        meetings(results)?,
        supports(results)?,
    ])
}

fn tracks(results: &Results) -> Result<Table, ArrowError> {
    let rows = rows(results, |s| s.quality.players.iter().chain(&s.quality.ball));
    keyed(
        "quality",
        "how well a player or the ball was tracked, and what cleaning changed",
        &rows,
    )
    .text("object", "player id, or ball", |r| Some(r.is.id.clone()))
    .text("team", "team id; empty for the ball", |r| r.is.team.clone())
    .number("measured", "", "share of frames measured, 0 to 1", |r| {
        Some(r.is.measured)
    })
    .number("filled", "", "share of frames filled in, 0 to 1", |r| {
        Some(r.is.filled)
    })
    .count(
        "gaps",
        "gaps of up to a minute left unknown between two known frames",
        |r| Some(r.is.gaps),
    )
    .number("longest_gap", "s", "the longest of them", |r| {
        Some(r.is.longest_gap_s)
    })
    .number(
        "noise",
        "m",
        "noise from frame to frame, standard deviation per axis, before smoothing",
        |r| Some(r.is.noise_m),
    )
    .number(
        "error",
        "m",
        "the same with what wanders over half a second",
        |r| Some(r.is.error_m),
    )
    .count("jumps_cut", "samples cut as reached too fast", |r| {
        Some(r.is.jumps_cut)
    })
    .count("spikes_cut", "samples cut as single spikes", |r| {
        Some(r.is.spikes_cut)
    })
    .number(
        "off_floor",
        "s",
        "time beyond the lines, left unknown",
        |r| Some(r.is.off_floor_s),
    )
    .number(
        "substitution",
        "s",
        "time unknown while another went off",
        |r| Some(r.is.substitution_s),
    )
    .count("swaps_mended", "exchanges of identity undone", |r| {
        Some(r.is.swaps_mended)
    })
    .count("swaps_doubtful", "exchanges of identity in doubt", |r| {
        Some(r.is.swaps_doubtful)
    })
    .number(
        "doubt",
        "s",
        "time left unknown for doubtful exchanges",
        |r| Some(r.is.doubt_s),
    )
    .number(
        "speed_p95",
        "m/s",
        "95th percentile of speed over quarter seconds",
        |r| Some(r.is.speed_p95),
    )
    .build()
}

fn sides(results: &Results) -> Result<Table, ArrowError> {
    let rows = rows(results, |s| &s.quality.sides);
    keyed("sides", "a team in a session: rate and coverage", &rows)
        .text("team", "team id", |r| Some(r.is.team.clone()))
        .count(
            "on_floor",
            "players on the floor at a time; 0 where not in the data",
            |r| Some(r.is.on_floor),
        )
        .count("seen", "players of the team seen at any time", |r| {
            Some(r.is.seen)
        })
        .number(
            "coverage",
            "",
            "share of their frames known, 0 to 1, breaks left out",
            |r| Some(r.is.coverage),
        )
        .number(
            "source_rate",
            "Hz",
            "samples per second of the sensor",
            |r| Some(r.of.quality.source_hz),
        )
        .number(
            "jitter",
            "s",
            "robust standard deviation of the steps between samples",
            |r| Some(r.of.quality.jitter_s),
        )
        .number("rate", "Hz", "frames per second after cleaning", |r| {
            Some(r.of.quality.rate_hz)
        })
        .text(
            "switched_off",
            "cleaning steps switched off, between spaces",
            |r| Some(r.of.quality.switched_off.join(" ")),
        )
        .count(
            "window",
            "frames in the smoothing window; 0 for none",
            |r| Some(r.of.quality.smoothing.window),
        )
        .number(
            "bandwidth",
            "Hz",
            "where smoothing has halved the power of a movement",
            |r| Some(r.of.quality.smoothing.bandwidth_hz),
        )
        .number(
            "onset_bound",
            "s",
            "most by which smoothing moves the beginning of a movement",
            |r| Some(r.of.quality.smoothing.onset_bound_s),
        )
        .build()
}

fn exchanges(results: &Results) -> Result<Table, ArrowError> {
    let rows = rows(results, |s| &s.quality.swaps);
    keyed(
        "swaps",
        "a place where a tracker seems to have exchanged two players",
        &rows,
    )
    .number("time", "s", "when, session time", |r| Some(r.is.time_s))
    .text("player", "one of the two", move |r| {
        id(r.of, r.is.players.0)
    })
    .text("other", "the other", move |r| id(r.of, r.is.players.1))
    .number("apart", "m", "how far apart they were", |r| {
        Some(r.is.apart_m)
    })
    .number(
        "odds",
        "",
        "how much likelier exchanged than not, as a power of ten",
        |r| Some(r.is.odds_log10),
    )
    .flag(
        "mended",
        "whether it was undone; else both were left unknown, or a person said it was none",
        |r| Some(r.is.mended),
    )
    .flag("by_hand", "whether a person said what happened here", |r| {
        Some(r.is.by_hand)
    })
    .number("unknown", "s", "how long both were left unknown", |r| {
        Some(r.is.unknown_s)
    })
    .build()
}

fn meetings(results: &Results) -> Result<Table, ArrowError> {
    let rows = rows(results, |s| &s.quality.meetings);
    keyed(
        "meetings",
        "a stretch in which an exchange of two players would not show",
        &rows,
    )
    .number("from", "s", "start, session time", |r| Some(r.is.from_s))
    .number("to", "s", "end, session time", |r| Some(r.is.to_s))
    .text("player", "one of the two", move |r| {
        id(r.of, r.is.players.0)
    })
    .text("other", "the other", move |r| id(r.of, r.is.players.1))
    .number(
        "odds",
        "",
        "how much likelier exchanged than not, as a power of ten",
        |r| Some(r.is.odds_log10),
    )
    .build()
}

fn supports(results: &Results) -> Result<Table, ArrowError> {
    let rows = rows(results, |s| &s.quality.supports);
    keyed(
        "supports",
        "whether a session's data supports a kind of verdict",
        &rows,
    )
    .text("verdict", "kind of verdict", |r| {
        Some(r.is.kind.words().to_owned())
    })
    .text("supported", "yes, with caution, no", |r| {
        Some(r.is.level.to_string())
    })
    .text("reason", "why, in words with numbers", |r| {
        Some(r.is.reason.clone())
    })
    .build()
}

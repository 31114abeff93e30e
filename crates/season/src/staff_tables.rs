//! Tables over many runs: cue checks by player, role, option, opponent and date, their change over
//! sessions, what cost most, and what each player might fix.

use crate::{
    results::Results,
    staff,
    table::{Table, TableBuilder},
};
use arrow::error::ArrowError;
use setdrift_timing::{
    Aggregate, By, Clip, CostlyCue, CueTrend, Measure, Per, PlayerSheet, ToFix, TrendPoint,
    aggregate, costly_cues,
};

/// What the aggregates are taken by, with their words.
const BY: [(&[By], &str); 8] = [
    (&[By::Cue], "cue"),
    (&[By::Player], "player"),
    (&[By::Role], "role"),
    (&[By::Option], "option"),
    (&[By::Opponent], "opponent"),
    (&[By::Date], "date"),
    (&[By::Player, By::Option], "player, option"),
    (&[By::Player, By::Date], "player, date"),
];

/// All tables of this kind, in a fixed order.
pub fn tables(results: &Results) -> Result<Vec<Table>, ArrowError> {
    Ok(vec![
        cue_groups(results)?,
        cue_trends(results)?,
        costly(results)?,
        to_fix(results)?,
    ])
}

fn per(per: Per) -> &'static str {
    match per {
        Per::Month => "30 days",
        Per::Week => "week",
        Per::Session => "session",
    }
}

fn cue_groups(results: &Results) -> Result<Table, ArrowError> {
    let audited = staff::audited(&results.sessions);
    let rows: Vec<(&str, Aggregate)> = BY
        .iter()
        .flat_map(|(by, words)| {
            aggregate(&audited, &results.graph, by)
                .into_iter()
                .map(move |a| (*words, a))
        })
        .collect();
    TableBuilder::new("cue_groups", "cue checks with something in common", &rows)
        .text("by", "what they have in common", |r| Some(r.0.to_owned()))
        .text(
            "group",
            "its value; of two, separated by a semicolon",
            |r| {
                let names: Vec<&str> = r.1.group.iter().map(|g| g.1.as_str()).collect();
                Some(names.join("; "))
            },
        )
        .count("judged", "checks that could be judged", |r| {
            Some(r.1.judged())
        })
        .count("early", "times early", |r| Some(r.1.counts[0]))
        .count("on_time", "times on time", |r| Some(r.1.counts[1]))
        .count("late", "times late", |r| Some(r.1.counts[2]))
        .count("never", "times never", |r| Some(r.1.counts[3]))
        .count("cannot_tell", "times the data do not tell", |r| {
            Some(r.1.counts[4])
        })
        .flag(
            "few",
            "under ten judged: no ground to speak of anybody",
            |r| Some(r.1.few()),
        )
        .number("share_on_time", "", "of those judged, 0 to 1", |r| {
            r.1.on_time
        })
        .number("share_low", "", "its 95 % interval (Wilson), low", |r| {
            r.1.on_time_interval.map(|i| i.0)
        })
        .number("share_high", "", "its 95 % interval (Wilson), high", |r| {
            r.1.on_time_interval.map(|i| i.1)
        })
        .text(
            "measure",
            "what the next four measure: lag, or time outside the window (0 inside it)",
            |r| {
                Some(
                    match r.1.measure {
                        Measure::Lag => "lag",
                        Measure::OffWindow => "outside window",
                    }
                    .to_owned(),
                )
            },
        )
        .number("median", "s", "median", |r| r.1.median_s)
        .number("low", "s", "its bootstrap 95 % interval, low", |r| {
            r.1.interval_s.map(|i| i.0)
        })
        .number("high", "s", "its bootstrap 95 % interval, high", |r| {
            r.1.interval_s.map(|i| i.1)
        })
        .number("spread", "s", "interquartile range", |r| r.1.spread_s)
        .number("trend", "", "change of the share on time", |r| {
            r.1.trend.as_ref().map(|t| t.slope)
        })
        .number("trend_low", "", "its bootstrap 95 % interval, low", |r| {
            r.1.trend.as_ref().map(|t| t.interval.0)
        })
        .number("trend_high", "", "its bootstrap 95 % interval, high", |r| {
            r.1.trend.as_ref().map(|t| t.interval.1)
        })
        .text("trend_per", "what the change is per", |r| {
            r.1.trend.as_ref().map(|t| per(t.per).to_owned())
        })
        .build()
}

fn cue_trends(results: &Results) -> Result<Table, ArrowError> {
    let trends = staff::cue_trends(results);
    let rows: Vec<(&CueTrend, &TrendPoint)> = trends
        .iter()
        .flat_map(|t| t.points.iter().map(move |p| (t, p)))
        .collect();
    TableBuilder::new(
        "cue_trends",
        "one cue in one session, of one player or of all",
        &rows,
    )
    .text("option", "option key", |r| Some(r.0.option.clone()))
    .text("action", "as declared", |r| Some(r.0.text.clone()))
    .text("player", "player; empty for all", |r| r.0.player.clone())
    .text("session", "session id", |r| Some(r.1.session.clone()))
    .text("date", "date, YYYY-MM-DD", |r| r.1.date.clone())
    .text("opponent", "the other team", |r| r.1.opponent.clone())
    .count("early", "times early", |r| Some(r.1.counts[0]))
    .count("on_time", "times on time", |r| Some(r.1.counts[1]))
    .count("late", "times late", |r| Some(r.1.counts[2]))
    .count("never", "times never", |r| Some(r.1.counts[3]))
    .count("cannot_tell", "times the data do not tell", |r| {
        Some(r.1.counts[4])
    })
    .number("median", "s", "median lag in the session", |r| r.1.median_s)
    .number("low", "s", "its bootstrap 95 % interval, low", |r| {
        r.1.interval_s.map(|i| i.0)
    })
    .number("high", "s", "its bootstrap 95 % interval, high", |r| {
        r.1.interval_s.map(|i| i.1)
    })
    .number(
        "slope",
        "s",
        "change of the lag over all sessions (Theil-Sen)",
        |r| r.0.slope,
    )
    .number("slope_low", "s", "its bootstrap 95 % interval, low", |r| {
        r.0.slope_interval.map(|i| i.0)
    })
    .number(
        "slope_high",
        "s",
        "its bootstrap 95 % interval, high",
        |r| r.0.slope_interval.map(|i| i.1),
    )
    .text("slope_per", "what the slope is per", |r| {
        Some(per(r.0.per).to_owned())
    })
    .build()
}

fn costly(results: &Results) -> Result<Table, ArrowError> {
    let rows = costly_cues(&staff::audited(&results.sessions), &results.graph);
    TableBuilder::<CostlyCue>::new(
        "costly_cues",
        "a missed cue, beside what became of the runs; counts, not causes",
        &rows,
    )
    .text("option", "option key", |r| Some(r.option.clone()))
    .text("title", "title of the option", |r| Some(r.title.clone()))
    .text("action", "as declared", |r| Some(r.text.clone()))
    .count("early", "runs with the cue answered early", |r| {
        Some(r.early)
    })
    .count("late", "runs with the cue answered late", |r| Some(r.late))
    .count("never", "runs with the cue never answered", |r| {
        Some(r.never)
    })
    .count(
        "missed",
        "runs with the cue missed: the three together",
        |r| Some(r.missed.runs),
    )
    .count("missed_broken_off", "of those, broken off", |r| {
        Some(r.missed.broken_off)
    })
    .count(
        "missed_with_result",
        "of those, in possessions with a known result",
        |r| Some(r.missed.with_result),
    )
    .count("missed_scored", "of the latter, scored", |r| {
        Some(r.missed.scored)
    })
    .count("missed_points", "points on them", |r| {
        Some(r.missed.points as usize)
    })
    .count("met", "runs with the cue answered on time", |r| {
        Some(r.met.runs)
    })
    .count("met_broken_off", "of those, broken off", |r| {
        Some(r.met.broken_off)
    })
    .count(
        "met_with_result",
        "of those, in possessions with a known result",
        |r| Some(r.met.with_result),
    )
    .count("met_scored", "of the latter, scored", |r| {
        Some(r.met.scored)
    })
    .count("met_points", "points on them", |r| {
        Some(r.met.points as usize)
    })
    .flag("few", "under ten runs: read with care", |r| Some(r.few()))
    .text("words", "all this in a sentence", |r| Some(r.words.clone()))
    .build()
}

fn to_fix(results: &Results) -> Result<Table, ArrowError> {
    type Row<'a> = (&'a PlayerSheet, usize, bool, &'a ToFix, &'a Clip);
    let sheets = staff::sheets(results);
    let rows: Vec<Row<'_>> = sheets
        .iter()
        .flat_map(|s| {
            let fix = s.fix.iter().map(|f| (true, f));
            let seen = s.seen.iter().map(|f| (false, f));
            fix.chain(seen)
                .enumerate()
                .flat_map(move |(i, (habit, f))| {
                    f.clips.iter().map(move |c| (s, i + 1, habit, f, c))
                })
        })
        .collect();
    TableBuilder::new("to_fix", "a moment to look at with a player", &rows)
        .text("player", "player id", |r| Some(r.0.player.clone()))
        .text("label", "what to call the player", |r| {
            Some(r.0.label.clone())
        })
        .count("thing", "which of the player's things, from 1", |r| {
            Some(r.1)
        })
        .flag("habit", "three times or more; otherwise only seen", |r| {
            Some(r.2)
        })
        .text("words", "what to do, or what was seen", |r| {
            Some(r.3.words.clone())
        })
        .count("wrong", "times wrong", |r| Some(r.3.wrong))
        .count("judged", "times judged", |r| Some(r.3.judged))
        .text("session", "session id", |r| Some(r.4.session.clone()))
        .count("possession", "number in the session", |r| {
            Some(r.4.possession)
        })
        .number("from", "s", "start of the clip, session time", |r| {
            Some(r.4.from_s)
        })
        .number("moment", "s", "the moment itself, session time", |r| {
            Some(r.4.moment_s)
        })
        .number("to", "s", "end of the clip, session time", |r| {
            Some(r.4.to_s)
        })
        .text("evidence", "what the verdict rests on", |r| {
            Some(r.4.evidence.clone())
        })
        .build()
}

/// The columns of all tables, as a table.
pub fn columns(tables: &[Table]) -> Result<Table, ArrowError> {
    let rows: Vec<_> = tables
        .iter()
        .flat_map(|t| {
            t.batch
                .schema()
                .fields()
                .iter()
                .map(|f| (t, f.clone()))
                .collect::<Vec<_>>()
        })
        .collect();
    let said = |f: &arrow::datatypes::Field, key: &str| f.metadata().get(key).cloned();
    TableBuilder::new("columns", "a column of a table of this folder", &rows)
        .text("table", "the table", |r| Some(r.0.name.to_owned()))
        .text("row", "what a row of it is", |r| Some(r.0.about.to_owned()))
        .text("column", "the column", |r| Some(r.1.name().clone()))
        .text("type", "text, number, count or flag", |r| {
            use arrow::datatypes::DataType;
            let name = match r.1.data_type() {
                DataType::Utf8 => "text",
                DataType::Float64 => "number",
                DataType::Int64 => "count",
                _ => "flag",
            };
            Some(name.to_owned())
        })
        .text("unit", "unit, where it has one", |r| said(&r.1, "unit"))
        .text("description", "what it holds", |r| {
            said(&r.1, "description")
        })
        .build()
}

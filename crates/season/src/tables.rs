//! The result tables and their columns. One row type per table, made from [`Results`].

use crate::{
    results::{Results, SessionResults},
    table::{Table, TableBuilder},
    words,
};
use arrow::error::ArrowError;
use setdrift_drift::model::StretchId;
use setdrift_recognise::model::{Run, Segment, StepRun, What};
use setdrift_timing::model::Place;

/// All result tables, in a fixed order.
///
/// # Errors
/// [`ArrowError`] when a table breaks its own schema; no input should bring that about.
pub fn tables(results: &Results) -> Result<Vec<Table>, ArrowError> {
    let mut all = vec![
        sessions(results)?,
        players(results)?,
        possessions(results)?,
        events(results)?,
        segments(results)?,
        steps(results)?,
        faults(results)?,
        cues(results)?,
        placements(results)?,
        lags(results)?,
        off_script(results)?,
        groups(results)?,
        drift(results)?,
    ];
    all.extend(crate::staff_tables::tables(results)?);
    all.extend(crate::quality::tables(results)?);
    all.push(crate::staff_tables::columns(&all)?);
    Ok(all)
}

/// Something found in a session.
pub(crate) struct Row<'a, T> {
    pub of: &'a SessionResults,
    pub is: T,
}

pub(crate) fn rows<'a, T: 'a, I: IntoIterator<Item = T>>(
    results: &'a Results,
    each: impl Fn(&'a SessionResults) -> I,
) -> Vec<Row<'a, T>> {
    results
        .sessions
        .iter()
        .flat_map(|of| {
            each(of)
                .into_iter()
                .map(move |is| Row { of, is })
                .collect::<Vec<_>>()
        })
        .collect()
}

pub(crate) fn keyed<'a, T>(
    name: &'static str,
    about: &'static str,
    rows: &'a [Row<'a, T>],
) -> TableBuilder<'a, Row<'a, T>> {
    TableBuilder::new(name, about, rows)
        .text("session", "session id", |r| Some(r.of.session.id.clone()))
        .text("date", "date, YYYY-MM-DD", |r| r.of.session.date.clone())
}

pub(crate) fn id(of: &SessionResults, player: usize) -> Option<String> {
    of.session.players.get(player).map(|p| p.id.clone())
}

fn sessions(results: &Results) -> Result<Table, ArrowError> {
    let rows = rows(results, |_| [()]);
    keyed("sessions", "a practice or game", &rows)
        .text("kind", "game or practice", |r| {
            Some(words::kind(r.of.session.kind).to_owned())
        })
        .text("opponent", "the other team", |r| {
            r.of.session.opponent.clone()
        })
        .number("rate", "Hz", "frames per second", |r| {
            Some(r.of.session.rate_hz)
        })
        .count("frames", "number of frames", |r| {
            Some(r.of.session.frames())
        })
        .flag("ball", "whether the ball is in the data", |r| {
            Some(r.of.session.ball.is_some())
        })
        .count("possessions", "possessions of the audited team", |r| {
            Some(r.of.possessions.len())
        })
        .text("limits", "what could not be judged", |r| {
            Some(r.of.limits.join("; "))
        })
        .build()
}

fn players(results: &Results) -> Result<Table, ArrowError> {
    let rows = rows(results, |s| &s.session.players);
    keyed("players", "a player of a session, of either team", &rows)
        .text("player", "id, the same in every table", |r| {
            Some(r.is.id.clone())
        })
        .text("number", "shirt number", |r| r.is.number.clone())
        .text("label", "what to call the player", |r| Some(r.is.label()))
        .text("team", "team", |r| {
            r.of.session.teams.get(r.is.team).map(|t| t.name.clone())
        })
        .flag("audited", "of the team whose offence is audited", |r| {
            Some(r.is.team == 0)
        })
        .build()
}

fn possessions(results: &Results) -> Result<Table, ArrowError> {
    let rows = rows(results, |s| {
        s.possessions.iter().zip(&s.readings).zip(&s.coverage)
    });
    keyed("possessions", "a possession of the audited team", &rows)
        .count("possession", "number in the session", |r| {
            Some(r.is.0.0.number)
        })
        .number("from", "s", "start, session time", |r| {
            Some(r.is.0.0.from_s)
        })
        .number("to", "s", "end, session time", |r| Some(r.is.0.0.to_s))
        .text("pace", "transition or half court", |r| {
            Some(words::pace(r.is.0.0.pace).to_owned())
        })
        .text("start", "how it began", |r| {
            Some(words::start(r.is.0.0.start).to_owned())
        })
        .text("result", "how it ended", |r| {
            Some(words::outcome(r.is.0.0.result.kind).to_owned())
        })
        .count("points", "points scored", |r| {
            r.is.0.0.result.points.map(|p| p as usize)
        })
        .text(
            "result_source",
            "given by the event file, or inferred",
            |r| Some(words::source(r.is.0.0.result.source).to_owned()),
        )
        .text("attackers", "players on the floor", |r| {
            let ids = r.is.0.0.attackers.iter().filter_map(|p| id(r.of, *p));
            Some(ids.collect::<Vec<_>>().join(" "))
        })
        .number(
            "attackers_known",
            "",
            "share of their frames known, 0 to 1",
            |r| Some(r.is.1.attackers),
        )
        .number(
            "ball_known",
            "",
            "share of its frames with the ball known, 0 to 1; empty without a ball",
            |r| r.is.1.ball,
        )
        .text("read_as", "segments in order", |r| {
            Some(words::sentence(&results.graph, r.is.0.1))
        })
        .build()
}

fn events(results: &Results) -> Result<Table, ArrowError> {
    let rows = rows(results, |s| &s.story.events);
    keyed("events", "an event on or off the ball", &rows)
        .number("time", "s", "when, session time", |r| Some(r.is.time_s))
        .text("event", "what", |r| {
            Some(words::event(&r.is.kind).name.to_owned())
        })
        .text("player", "who", |r| {
            words::event(&r.is.kind).player.and_then(|p| id(r.of, p))
        })
        .text("other", "to whom, or for whom", |r| {
            words::event(&r.is.kind).other.and_then(|p| id(r.of, p))
        })
        .number("catch", "s", "when a pass was caught", |r| {
            words::event(&r.is.kind).catch_s
        })
        .number("x", "m", "where, along the court from its centre", |r| {
            Some(r.is.place.x)
        })
        .number("y", "m", "where, across the court from its centre", |r| {
            Some(r.is.place.y)
        })
        .number("confidence", "", "0 to 1", |r| Some(r.is.confidence))
        .text("evidence", "what it rests on", |r| {
            Some(r.is.evidence.clone())
        })
        .build()
}

/// A segment with where it stands.
type SegmentRow<'a> = (usize, usize, &'a Segment);

fn all_segments(s: &SessionResults) -> Vec<SegmentRow<'_>> {
    s.readings
        .iter()
        .flat_map(|r| {
            r.segments
                .iter()
                .enumerate()
                .map(|(i, g)| (r.possession, i, g))
        })
        .collect()
}

fn run_of<'a>(row: &SegmentRow<'a>) -> Option<&'a Run> {
    match &row.2.what {
        What::Option(run) => Some(run),
        _ => None,
    }
}

fn segments(results: &Results) -> Result<Table, ArrowError> {
    let rows = rows(results, all_segments);
    let graph = &results.graph;
    keyed(
        "segments",
        "a stretch of a possession and what it is",
        &rows,
    )
    .count("possession", "number in the session", |r| Some(r.is.0))
    .count("segment", "index in the possession, from 0", |r| {
        Some(r.is.1)
    })
    .number("from", "s", "start, session time", |r| Some(r.is.2.from_s))
    .number("to", "s", "end, session time", |r| Some(r.is.2.to_s))
    .text("what", "option, set, off script or not enough data", |r| {
        Some(words::what(&r.is.2.what).to_owned())
    })
    .text("option", "option key", |r| {
        run_of(&r.is).map(|run| graph.options[run.option].id.clone())
    })
    .text(
        "title",
        "title of the option, or the formation",
        |r| match &r.is.2.what {
            What::Option(run) => Some(graph.options[run.option].title.clone()),
            What::Set { formation } => Some(formation.clone()),
            _ => None,
        },
    )
    .text("hand", "right as declared, left mirrored", |r| {
        run_of(&r.is).map(|run| words::hand(run.hand).to_owned())
    })
    .text("verdict", "ran, ran with faults, broken off", |r| {
        run_of(&r.is).map(|run| words::verdict(run.verdict))
    })
    .text("roles", "role=player", |r| {
        run_of(&r.is).map(|run| {
            let pairs = graph.roles.iter().zip(&run.players);
            let known = pairs.filter_map(|(role, p)| Some(format!("{role}={}", id(r.of, (*p)?)?)));
            known.collect::<Vec<_>>().join(" ")
        })
    })
    .number(
        "cost",
        "",
        "mean cost per frame; 1 is everyone one tolerance away",
        |r| run_of(&r.is).map(|run| run.cost),
    )
    .text("runner_up", "the best other explanation", |r| {
        run_of(&r.is).map(|run| {
            run.runner_up
                .map_or_else(|| "off script".to_owned(), |o| graph.options[o].id.clone())
        })
    })
    .number(
        "margin",
        "",
        "how much worse the runner-up is, cost per frame",
        |r| run_of(&r.is).map(|run| run.margin),
    )
    .number("confidence", "", "0 to 1", |r| {
        run_of(&r.is).map(|run| run.confidence)
    })
    .count("faults", "number of faults", |r| {
        run_of(&r.is).map(|run| run.faults.len())
    })
    .build()
}

fn steps(results: &Results) -> Result<Table, ArrowError> {
    let rows = rows(results, |s| {
        all_segments(s).into_iter().flat_map(|row| {
            let Some(run) = run_of(&row) else {
                return Vec::new();
            };
            let each =
                |step| (0..run.players.len()).map(move |role| (row.0, row.1, run, step, role));
            run.steps
                .iter()
                .flat_map(each)
                .collect::<Vec<(usize, usize, &Run, &StepRun, usize)>>()
        })
    });
    let graph = &results.graph;
    keyed("steps", "one role in one step of a run", &rows)
        .count("possession", "number in the session", |r| Some(r.is.0))
        .count("segment", "index in the possession, from 0", |r| {
            Some(r.is.1)
        })
        .text("option", "option key", |r| {
            Some(graph.options[r.is.2.option].id.clone())
        })
        .count("step", "step of the option, from 1", |r| {
            Some(graph.nodes[r.is.3.node].step + 1)
        })
        .number("from", "s", "start, session time", |r| Some(r.is.3.from_s))
        .number("to", "s", "end, session time", |r| Some(r.is.3.to_s))
        .flag("complete", "whether its end was reached", |r| {
            Some(r.is.3.complete)
        })
        .text("role", "role", |r| graph.roles.get(r.is.4).cloned())
        .text("player", "who had the role", |r| {
            r.is.2.players[r.is.4].and_then(|p| id(r.of, p))
        })
        .number(
            "deviation",
            "m",
            "root-mean-square distance from the declared path",
            |r| r.is.3.deviation.get(r.is.4).copied().flatten(),
        )
        .build()
}

fn faults(results: &Results) -> Result<Table, ArrowError> {
    let rows = rows(results, |s| {
        all_segments(s).into_iter().flat_map(|row| {
            let faults = run_of(&row)
                .map(|run| run.faults.as_slice())
                .unwrap_or_default();
            faults
                .iter()
                .map(move |f| (row.0, row.1, f))
                .collect::<Vec<_>>()
        })
    });
    keyed("faults", "something wrong with a run", &rows)
        .count("possession", "number in the session", |r| Some(r.is.0))
        .count("segment", "index in the possession, from 0", |r| {
            Some(r.is.1)
        })
        .number("time", "s", "when, session time", |r| Some(r.is.2.time_s))
        .text("role", "role concerned", |r| {
            r.is.2
                .role
                .and_then(|x| results.graph.roles.get(x).cloned())
        })
        .text("player", "player concerned", |r| {
            r.is.2.player.and_then(|p| id(r.of, p))
        })
        .text("fault", "in words", |r| Some(r.is.2.text.clone()))
        .build()
}

/// Option key and step (from 1) that a check belongs to.
fn step_of(results: &Results, place: &Place) -> (String, usize) {
    results.graph.nodes.get(place.node).map_or_else(
        || (String::new(), 0),
        |n| (results.graph.options[n.option].id.clone(), n.step + 1),
    )
}

fn cues(results: &Results) -> Result<Table, ArrowError> {
    let rows = rows(results, |s| &s.audit.cues);
    keyed("cues", "one cue of one run, judged", &rows)
        .count("possession", "number in the session", |r| {
            Some(r.is.place.possession)
        })
        .count("segment", "index in the possession, from 0", |r| {
            Some(r.is.place.segment)
        })
        .text("option", "option key", |r| {
            Some(step_of(results, &r.is.place).0)
        })
        .count("step", "step of the option, from 1", |r| {
            Some(step_of(results, &r.is.place).1)
        })
        .text("action", "as declared", |r| Some(r.is.text.clone()))
        .text("role", "role of the mover", |r| {
            results.graph.roles.get(r.is.role).cloned()
        })
        .text("player", "the mover", |r| id(r.of, r.is.player))
        .number("cue", "s", "when the cue came, session time", |r| {
            r.is.cue_s
        })
        .number("onset", "s", "when the player went, session time", |r| {
            r.is.onset_s
        })
        .number("lag", "s", "onset less cue", |r| r.is.lag_s)
        .number(
            "uncertainty",
            "s",
            "one standard deviation of the lag",
            |r| r.is.uncertainty_s,
        )
        .number("window_from", "s", "earliest good lag", |r| {
            Some(r.is.window_s.0)
        })
        .number("window_to", "s", "latest good lag", |r| {
            Some(r.is.window_s.1)
        })
        .text("verdict", "early, on time, late, never, cannot tell", |r| {
            Some(words::when(r.is.when).to_owned())
        })
        .number("jab", "s", "when a jab came before the movement", |r| {
            r.is.jab_s
        })
        .text("evidence", "what it rests on", |r| {
            Some(r.is.evidence.clone())
        })
        .build()
}

fn placements(results: &Results) -> Result<Table, ArrowError> {
    let rows = rows(results, |s| &s.audit.placements);
    keyed(
        "placements",
        "one placement or expectation of one run, judged",
        &rows,
    )
    .count("possession", "number in the session", |r| {
        Some(r.is.place.possession)
    })
    .count("segment", "index in the possession, from 0", |r| {
        Some(r.is.place.segment)
    })
    .text("option", "option key", |r| {
        Some(step_of(results, &r.is.place).0)
    })
    .count("step", "step of the option, from 1", |r| {
        Some(step_of(results, &r.is.place).1)
    })
    .text("declared", "as declared", |r| Some(r.is.text.clone()))
    .text("role", "role concerned", |r| {
        r.is.role.and_then(|x| results.graph.roles.get(x).cloned())
    })
    .text("player", "player concerned", |r| {
        r.is.player.and_then(|p| id(r.of, p))
    })
    .number("time", "s", "when it was judged, session time", |r| {
        Some(r.is.time_s)
    })
    .number("x", "m", "distance from the end line", |r| {
        r.is.at.map(|p| p.x)
    })
    .number("y", "m", "to the right of the middle, hand undone", |r| {
        r.is.at.map(|p| p.y)
    })
    .number("off_by", "m", "how far outside what was declared", |r| {
        r.is.off_by
    })
    .text("verdict", "kept, not kept, cannot tell", |r| {
        Some(words::kept(r.is.kept).to_owned())
    })
    .text("evidence", "what it rests on", |r| {
        Some(r.is.evidence.clone())
    })
    .build()
}

fn lags(results: &Results) -> Result<Table, ArrowError> {
    TableBuilder::new(
        "lags",
        "lags at one cue, of one player or of all",
        &results.lags,
    )
    .text("option", "option key", |r| Some(r.option.clone()))
    .text("action", "as declared", |r| Some(r.text.clone()))
    .text("player", "player; empty for all", |r| r.player.clone())
    .count("early", "times early", |r| Some(r.counts[0]))
    .count("on_time", "times on time", |r| Some(r.counts[1]))
    .count("late", "times late", |r| Some(r.counts[2]))
    .count("never", "times never", |r| Some(r.counts[3]))
    .count("cannot_tell", "times the data do not tell", |r| {
        Some(r.counts[4])
    })
    .number("median", "s", "median lag", |r| r.median_s)
    .number(
        "low",
        "s",
        "bootstrap 95 % interval of the median, low",
        |r| r.interval_s.map(|i| i.0),
    )
    .number(
        "high",
        "s",
        "bootstrap 95 % interval of the median, high",
        |r| r.interval_s.map(|i| i.1),
    )
    .number("spread", "s", "interquartile range", |r| r.spread_s)
    .number("window_from", "s", "earliest good lag", |r| {
        Some(r.window_s.0)
    })
    .number("window_to", "s", "latest good lag", |r| Some(r.window_s.1))
    .build()
}

fn group_of(results: &Results, id: &StretchId) -> Option<String> {
    let group = results
        .grouping
        .groups
        .iter()
        .find(|g| g.members.contains(id));
    group.map(|g| g.name.clone())
}

fn off_script(results: &Results) -> Result<Table, ArrowError> {
    TableBuilder::new(
        "off_script",
        "an off-script stretch that was compared",
        &results.stretches,
    )
    .text("session", "session id", |r| Some(r.id.session.clone()))
    .count("possession", "number in the session", |r| {
        Some(r.id.possession)
    })
    .count("segment", "index in the possession, from 0", |r| {
        Some(r.id.segment)
    })
    .number("from", "s", "start, session time", |r| Some(r.from_s))
    .number("to", "s", "end, session time", |r| Some(r.to_s))
    .text(
        "group",
        "group it belongs to; empty when like no other",
        |r| group_of(results, &r.id),
    )
    .count("points", "points scored on the possession", |r| {
        r.points.map(|p| p as usize)
    })
    .build()
}

fn groups(results: &Results) -> Result<Table, ArrowError> {
    TableBuilder::new(
        "groups",
        "a group of alike off-script stretches",
        &results.grouping.groups,
    )
    .text("group", "letter, by size", |r| Some(r.name.clone()))
    .text("description", "in trade words", |r| {
        Some(r.description.clone())
    })
    .count("times", "number of members", |r| Some(r.members.len()))
    .number(
        "spread",
        "m",
        "mean distance between members, per player",
        |r| Some(r.spread_m),
    )
    .number(
        "stability",
        "",
        "share of resamples in which it comes back",
        |r| Some(r.stability),
    )
    .count("results_known", "possessions with a known result", |r| {
        Some(r.results.0)
    })
    .count("points", "points scored on them", |r| {
        Some(r.results.1 as usize)
    })
    .build()
}

fn drift(results: &Results) -> Result<Table, ArrowError> {
    let rows: Vec<_> = results
        .drift
        .iter()
        .flat_map(|d| d.sessions.iter().map(move |s| (d, s)))
        .collect();
    TableBuilder::new(
        "drift",
        "executed against declared: a role in a step in a session",
        &rows,
    )
    .text("option", "option key", |r| Some(r.0.option.clone()))
    .count("step", "step of the option, from 1", |r| Some(r.0.step))
    .text("role", "role", |r| Some(r.0.role.clone()))
    .text("session", "session id", |r| Some(r.1.session.clone()))
    .text("date", "date, YYYY-MM-DD", |r| r.1.date.clone())
    .count("runs", "number of runs", |r| Some(r.1.runs))
    .number("out", "m", "mean offset, further from the end line", |r| {
        Some(r.1.out_m)
    })
    .number("right", "m", "mean offset, to the right", |r| {
        Some(r.1.right_m)
    })
    .number("half_width", "m", "half of the 95 % interval", |r| {
        r.1.half_width_m
    })
    .text("finding", "where the change is more than chance", |r| {
        r.0.finding.clone()
    })
    .build()
}

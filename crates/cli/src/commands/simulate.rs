//! `setdrift simulate`: the bundled sample, remade bit for bit.

use crate::{error::CommandError, load, printer::Printer};
use serde_json::Value;
use setdrift_simulate::{SimPlayer, SimulatedSession, Truth, TruthFile, sample};
use setdrift_tracks::{
    EndSpan, Player, RawTracks, Samples, SessionKind, Team, WriteOptions, atomic::write_atomic,
    write,
};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Make the bundled sample: a practice and three games of an invented club, with the truth.
#[derive(clap::Args)]
pub struct SimulateArgs {
    /// Folder for the sample; it holds the playbook `lantern.toml`, or --playbook names one.
    #[arg(long, default_value = "sample-tracks")]
    sample: PathBuf,
    /// The playbook that is played.
    #[arg(long, short)]
    playbook: Option<PathBuf>,
}

/// Runs the command.
pub fn run(args: &SimulateArgs, printer: &Printer) -> Result<(), CommandError> {
    let own = args.sample.join("lantern.toml");
    let graph = load::playbook(args.playbook.as_deref().unwrap_or(&own))?.graph;
    let sessions = sample::sessions(&graph).map_err(|e| {
        CommandError::input(
            e.to_string(),
            "the sample needs a playbook with an option `zipper` and roles 1 to 5",
        )
    })?;
    let herons = sessions.first().map_or(&[][..], |(s, _)| &s.players);
    save(&args.sample.join("roster.csv"), &roster(herons))?;
    let per_side = graph.roles.len();
    let mut lines = String::new();
    for (session, truth) in &sessions {
        let file = one(&args.sample, session, truth, per_side)?;
        let minutes = session.ball.present.len() as f64 / session.rate_hz / 60.0;
        let _ = writeln!(
            lines,
            "{file}: {minutes:.0} min at {} Hz, {} possessions",
            session.rate_hz,
            truth.possessions.iter().filter(|p| p.team == 0).count()
        );
    }
    if printer.json() {
        let names: Vec<&str> = sessions.iter().map(|(s, _)| s.id.as_str()).collect();
        printer.value(&serde_json::json!({ "folder": args.sample, "sessions": names }));
    } else {
        printer.text(&lines);
    }
    Ok(())
}

/// Writes one session's files; returns the name of its tracks.
fn one(
    folder: &Path,
    session: &SimulatedSession,
    truth: &Truth,
    per_side: usize,
) -> Result<String, CommandError> {
    let id = &session.id;
    let ending = if session.practice { "csv" } else { "parquet" };
    let name = format!("{id}.{ending}");
    let mut options = WriteOptions::default();
    options.files.roster = Some("roster.csv".into());
    options.files.tags = Some(format!("{id}.tags.csv").into());
    save(&folder.join(format!("{id}.tags.csv")), &tags(session))?;
    if !session.practice {
        options.files.results = Some(format!("{id}.results.csv").into());
        save(&folder.join(format!("{id}.results.csv")), &results(session))?;
    }
    write(&raw(session, per_side), &folder.join(&name), &options)?;
    let file = TruthFile {
        session: id.clone(),
        players: session.players.iter().map(|p| p.id.clone()).collect(),
        truth: truth.clone(),
    };
    let mut value = serde_json::to_value(&file)
        .map_err(|e| CommandError::system(format!("truth of {id}: {e}"), "report this"))?;
    round(&mut value);
    save(
        &folder.join("truth").join(format!("{id}.json")),
        &format!("{value}\n"),
    )?;
    Ok(name)
}

/// Tenths of a millisecond and of a millimetre are enough for a truth.
fn round(value: &mut Value) {
    match value {
        Value::Number(n) if n.is_f64() => {
            let v = n.as_f64().unwrap_or_default();
            *value = serde_json::json!((v * 1e4).round() / 1e4);
        }
        Value::Array(list) => list.iter_mut().for_each(round),
        Value::Object(map) => map.values_mut().for_each(round),
        _ => {}
    }
}

fn save(path: &Path, text: &str) -> Result<(), CommandError> {
    Ok(write_atomic(path, text.as_bytes())?)
}

fn roster(players: &[SimPlayer]) -> String {
    let mut text = String::from("id,number,name,team,roles\n");
    for p in players.iter().filter(|p| p.team == 0) {
        let roles = p.roles.join(" ");
        let _ = writeln!(text, "{},{},{},herons,{roles}", p.id, p.number, p.name);
    }
    text
}

fn tags(session: &SimulatedSession) -> String {
    let mut text = String::from("from_s,to_s,option,hand\n");
    for t in &session.tags {
        let _ = writeln!(
            text,
            "{:.1},{:.1},{},{}",
            t.from_s, t.to_s, t.option, t.hand
        );
    }
    text
}

fn results(session: &SimulatedSession) -> String {
    let mut text = String::from("time_s,team,result,points\n");
    for r in &session.results {
        let team = &session.teams[r.team].0;
        let _ = writeln!(text, "{:.1},{team},{},{}", r.time_s, r.kind, r.points);
    }
    text
}

/// Positions to the centimetre, as such systems give them.
fn samples(s: &setdrift_simulate::Samples, rate_hz: f64) -> Samples {
    let seen: Vec<usize> = (0..s.present.len()).filter(|i| s.present[*i]).collect();
    let pick = |v: &[f64]| {
        seen.iter()
            .map(|i| (v[*i] * 100.0).round() / 100.0)
            .collect()
    };
    Samples {
        t: seen
            .iter()
            .map(|i| (*i as f64 / rate_hz * 1000.0).round() / 1000.0)
            .collect(),
        x: pick(&s.x),
        y: pick(&s.y),
        z: (!s.z.is_empty()).then(|| pick(&s.z)),
    }
}

fn raw(s: &SimulatedSession, per_side: usize) -> RawTracks {
    let tracks: Vec<Samples> = s.tracks.iter().map(|t| samples(t, s.rate_hz)).collect();
    // Who was never on the floor is not in the file.
    let there: Vec<usize> = (0..tracks.len())
        .filter(|i| !tracks[*i].is_empty())
        .collect();
    RawTracks {
        id: s.id.clone(),
        date: Some(s.date.clone()),
        kind: if s.practice {
            SessionKind::Practice
        } else {
            SessionKind::Game
        },
        opponent: s.teams.get(1).filter(|_| !s.practice).map(|t| t.1.clone()),
        court: s.court.clone(),
        per_side,
        teams: s
            .teams
            .iter()
            .map(|(id, name)| Team {
                id: id.clone(),
                name: name.clone(),
            })
            .collect(),
        players: there
            .iter()
            .map(|i| {
                let p = &s.players[*i];
                Player {
                    id: p.id.clone(),
                    team: p.team,
                    number: Some(p.number.clone()),
                    name: Some(p.name.clone()),
                    roles: p.roles.clone(),
                }
            })
            .collect(),
        samples: there.iter().map(|i| tracks[*i].clone()).collect(),
        ball: Some(samples(&s.ball, s.rate_hz)),
        rate_hz: Some(s.rate_hz),
        exchanges: Vec::new(),
        ends: s
            .periods
            .iter()
            .map(|p| EndSpan {
                from_s: p.from_s,
                to_s: p.to_s,
                end: p.end,
            })
            .collect(),
    }
}

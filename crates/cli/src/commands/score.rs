//! `setdrift score`: verdicts beside a person's tags.

use super::review::{check_name, internal};
use crate::{
    error::CommandError,
    load,
    printer::{Printer, WIDTH},
    show,
};
use serde_json::json;
use setdrift_playbook::graph::Graph;
use setdrift_recognise::score::{OVERLAPS, Score};
use setdrift_report::confusion;
use setdrift_season::{
    agreement::{Agreement, RATE_HZ, agreement},
    calibrate::{Calibration, calibrate, candidates},
    pipeline::{self, Input, STAGES_OF_ALL, STAGES_PER_SESSION},
    settings::Section,
};
use setdrift_tracks::{Tag, atomic::write_atomic};
use std::{collections::BTreeMap, fmt::Write as _, ops::Range, path::PathBuf};

/// Compare verdicts with a person's tags, and say what the tags speak for.
///
/// Tags are named under `[files]` in each session's `tracks.toml`: from_s, to_s, option, hand.
#[derive(clap::Args)]
pub struct ScoreArgs {
    /// Track files, or folders of them.
    #[arg(required = true)]
    tracks: Vec<PathBuf>,
    /// The playbook.
    #[arg(long, short)]
    playbook: PathBuf,
    /// Folder for the confusion table; made if it does not exist.
    #[arg(long, short, default_value = "out/score")]
    out: PathBuf,
    /// Settings to use; may be named several times.
    #[arg(long, value_name = "FILE")]
    settings: Vec<PathBuf>,
    /// Try other thresholds, and write those that agree best to this file. Nothing uses them
    /// until it is given to `--settings`.
    #[arg(long, value_name = "FILE")]
    calibrate: Option<PathBuf>,
    /// Replace a settings file that is there.
    #[arg(long)]
    force: bool,
}

/// Runs the command.
pub fn run(args: &ScoreArgs, printer: &Printer) -> Result<(), CommandError> {
    load::keep(args.calibrate.as_deref(), args.force)?;
    let graph = load::playbook(&args.playbook)?.graph;
    let file = load::settings(&args.settings)?;
    let settings = file.clone().check().map_err(load::wrong_settings)?;
    let sources = load::sources(&args.tracks)?;
    let mut stages = sources.len() * (1 + STAGES_PER_SESSION) + STAGES_OF_ALL;
    if args.calibrate.is_some() {
        stages += candidates(&file).len();
    }
    let bar = printer.progress(stages as u64);
    let mut tags: BTreeMap<String, Vec<Tag>> = BTreeMap::new();
    let mut names = std::collections::BTreeSet::new();
    let mut inputs: Vec<Input> = Vec::new();
    for source in &sources {
        let loaded = source.open()?;
        tags.insert(loaded.session.id.clone(), loaded.tags.clone());
        let input = super::review::input(loaded);
        check_name(&mut names, &input)?;
        inputs.push(input);
        bar.inc(1);
    }
    let wrong = |e: &dyn std::fmt::Display| {
        CommandError::input(
            e.to_string(),
            "mend the tag files, or name the playbook they are for",
        )
    };
    let calibration = match &args.calibrate {
        None => None,
        Some(_) => {
            Some(calibrate(&inputs, &tags, &graph, &file, &|| bar.inc(1)).map_err(|e| wrong(&e))?)
        }
    };
    let results =
        pipeline::review(inputs, graph, &settings, &|_| bar.inc(1)).map_err(|e| internal(&e))?;
    let found = agreement(&results, &tags).map_err(|e| wrong(&e))?;
    bar.finish_and_clear();
    let drawing = args.out.join("confusion.svg");
    let svg = confusion::confusion_svg(&results.graph, &found.all, RATE_HZ);
    write_atomic(&drawing, svg.as_bytes())?;
    if let (Some(path), Some(c)) = (&args.calibrate, &calibration) {
        let section = c.best.section(Section::Recognition);
        let text = section.map_err(|e| internal(&e))?;
        write_atomic(path, text.as_bytes())?;
    }
    if printer.json() {
        printer.value(&json!({
            "all": numbers(&found.all),
            "sessions": found.sessions.iter().map(|s| json!({
                "session": s.session, "score": numbers(&s.score)
            })).collect::<Vec<_>>(),
            "untagged": found.untagged,
            "hands": { "compared": found.hands.0, "same": found.hands.1 },
            "reliability": found.reliability.iter().map(|c| json!({
                "above": c.above, "to": c.to, "runs": c.runs, "right": c.right,
                "said": c.said
            })).collect::<Vec<_>>(),
            "calibration": calibration.as_ref().map(|c| json!({
                "in_use": c.in_use, "held_out": c.held_out, "folds": c.folds
            })),
            "confusion": drawing.display().to_string(),
        }));
        return Ok(());
    }
    printer.text(&text(&results.graph, &found));
    if let (Some(path), Some(c)) = (&args.calibrate, &calibration) {
        printer.text(&calibrated(c, &path.display().to_string()));
    }
    printer.text(&format!("\nConfusion  {}\n", drawing.display()));
    Ok(())
}

fn numbers(score: &Score) -> serde_json::Value {
    let f1 = score.f1();
    json!({
        "frame_accuracy": score.frame_accuracy(),
        "f1": OVERLAPS.iter().zip(f1).map(|(o, f)| json!({ "overlap": o, "f1": f })).collect::<Vec<_>>(),
        "edit": score.edit(),
        "kappa": score.kappa(),
    })
}

fn table(header: &[&str], numbers: Range<usize>, rows: Vec<Vec<String>>) -> String {
    let mut t = show::table(header, numbers);
    t.add_rows(rows);
    show::text(&t)
}

fn percent(share: Option<f64>) -> String {
    share.map_or("-".into(), |s| format!("{:.1} %", 100.0 * s))
}

fn text(graph: &Graph, found: &Agreement) -> String {
    let mut rows = Vec::new();
    let one = |name: &str, s: &Score| {
        let f1 = s.f1().map(percent);
        vec![
            name.to_owned(),
            percent(s.frame_accuracy()),
            f1[0].clone(),
            f1[1].clone(),
            f1[2].clone(),
            s.edit().map_or("-".into(), |e| format!("{e:.1}")),
            s.kappa().map_or("-".into(), |k| format!("{k:.2}")),
        ]
    };
    for s in &found.sessions {
        rows.push(one(&s.session, &s.score));
    }
    if found.sessions.len() > 1 {
        rows.push(one("all", &found.all));
    }
    let mut out = format!(
        "Verdicts beside tags\n{}",
        table(
            &[
                "Session", "Frames", "F1@10", "F1@25", "F1@50", "Edit", "Kappa"
            ],
            1..7,
            rows
        )
    );
    if !found.untagged.is_empty() {
        let _ = writeln!(out, "without tags, left out: {}", found.untagged.join(", "));
    }
    let (compared, same) = found.hands;
    if compared > 0 {
        let _ = writeln!(out, "same hand in {same} of {compared} runs");
    }
    let _ = write!(
        out,
        "\nWhere they differ, seconds\n{}",
        differ(graph, &found.all)
    );
    let rows: Vec<Vec<String>> = found
        .reliability
        .iter()
        .filter(|c| c.runs > 0)
        .map(|c| {
            vec![
                format!("{:.2} to {:.2}", c.above, c.to),
                c.runs.to_string(),
                format!("{:.2}", c.said / c.runs as f64),
                format!("{:.2}", c.right as f64 / c.runs as f64),
            ]
        })
        .collect();
    let _ = write!(
        out,
        "\nConfidence\n{}",
        table(&["Confidence", "Runs", "Said", "Right"], 1..4, rows)
    );
    out
}

/// The confusions that cost most time.
fn differ(graph: &Graph, score: &Score) -> String {
    let mut all: Vec<_> = score
        .confusion()
        .iter()
        .filter(|((is, said), _)| is != said)
        .collect();
    all.sort_by(|a, b| b.1.cmp(a.1).then(a.0.cmp(b.0)));
    let rows: Vec<Vec<String>> = all
        .into_iter()
        .take(10)
        .map(|((is, said), n)| {
            vec![
                confusion::name(graph, *is).to_owned(),
                confusion::name(graph, *said).to_owned(),
                format!("{:.1}", *n as f64 / RATE_HZ),
            ]
        })
        .collect();
    table(&["Tag", "Verdict", "Seconds"], 2..3, rows)
}

fn calibrated(c: &Calibration, path: &str) -> String {
    let rows: Vec<Vec<String>> = c
        .tried
        .iter()
        .enumerate()
        .map(|(i, t)| {
            vec![
                format!("{:.2}", t.off_script),
                format!("{:.2}", t.tolerance_scale),
                percent(Some(t.accuracy)),
                percent(t.f1),
                if i == 0 { "in use" } else { "" }.to_owned(),
            ]
        })
        .collect();
    let best = &c.best.recognition;
    let mut out = format!(
        "\nThresholds tried\n{}",
        table(
            &["off_script", "tolerance_scale", "Frames", "F1@50", ""],
            0..4,
            rows
        )
    );
    let told = format!(
        "Best on all tags: off_script {:.2}, tolerance_scale {:.2}; written to {path}, used only with \
         --settings. Chosen on part of the tags and judged on the rest ({} parts), choosing gave {} of \
         frames; the settings in use give {}.",
        best.off_script,
        best.tolerance_scale,
        c.folds,
        percent(Some(c.held_out)),
        percent(Some(c.in_use)),
    );
    for line in textwrap::wrap(&told, WIDTH) {
        let _ = writeln!(out, "{line}");
    }
    out
}

//! `setdrift review`: the main job, from tracks to tables and page.

use crate::{
    error::CommandError,
    load,
    printer::Printer,
    show::{self, Part},
};
use setdrift_report::PageOptions;
use setdrift_season::{
    pipeline::{self, Done, Input, STAGES_OF_ALL, STAGES_PER_SESSION},
    results::Results,
};
use setdrift_tracks::{Loaded, atomic};
use std::{
    collections::BTreeSet,
    path::{Path, PathBuf},
};

/// What is printed unless asked otherwise.
const USUAL: [Part; 5] = [
    Part::Options,
    Part::Costly,
    Part::Instead,
    Part::Drift,
    Part::Limits,
];

/// Review practices and games against a playbook: tables and a page.
///
/// TRACKS are files of coordinates, or folders of them, each with its `tracks.toml`.
#[derive(clap::Args)]
pub struct ReviewArgs {
    /// Track files, or folders of them.
    #[arg(required = true)]
    tracks: Vec<PathBuf>,
    /// The playbook.
    #[arg(long, short)]
    playbook: PathBuf,
    /// Folder for the results; made if it does not exist.
    #[arg(long, short, default_value = "out/review")]
    out: PathBuf,
    /// Settings to use in place of the defaults; may be named several times, as for those of
    /// `setdrift fit` and of `setdrift score --calibrate`.
    #[arg(long, value_name = "FILE")]
    settings: Vec<PathBuf>,
    /// What to print, in this order.
    #[arg(
        long,
        value_enum,
        value_delimiter = ',',
        default_values_t = USUAL
    )]
    show: Vec<Part>,
}

impl ReviewArgs {
    /// Arguments as if given on the command line, printing the usual parts.
    pub fn new(tracks: Vec<PathBuf>, playbook: PathBuf, out: PathBuf) -> Self {
        Self {
            tracks,
            playbook,
            out,
            settings: Vec::new(),
            show: USUAL.to_vec(),
        }
    }
}

/// Runs the command.
pub fn run(args: &ReviewArgs, printer: &Printer) -> Result<(), CommandError> {
    let compiled = load::playbook(&args.playbook)?;
    for warning in &compiled.warnings.list {
        printer.note(&warning.to_string());
    }
    let sources = load::sources(&args.tracks)?;
    let stages = sources.len() * (1 + STAGES_PER_SESSION) + STAGES_OF_ALL + 1;
    let bar = printer.progress(stages as u64);
    let settings = load::settings(&args.settings)?
        .check()
        .map_err(load::wrong_settings)?;
    let graph = compiled.graph;
    let told = |done: Done<'_>| {
        bar.set_message(format!(
            "{} {}",
            done.stage,
            done.session.unwrap_or_default()
        ));
        bar.inc(1);
    };
    // Session by session, so that what one was read from is gone before the next is read.
    let mut names = BTreeSet::new();
    let mut sessions = Vec::with_capacity(sources.len());
    for source in &sources {
        let name = source
            .files
            .first()
            .map(|f| f.display().to_string())
            .unwrap_or_default();
        bar.set_message(format!("reading {name}"));
        let input = input(source.open()?);
        bar.inc(1);
        check_name(&mut names, &input)?;
        let done = pipeline::one_session(input, &graph, &settings, &told);
        sessions.push(done.map_err(|e| internal(&e))?);
    }
    let results =
        pipeline::together(sessions, graph, &settings, &told).map_err(|e| internal(&e))?;
    bar.set_message("writing");
    let page = write(&results, &args.out)?;
    bar.finish_and_clear();
    if printer.json() {
        let mut value = show::json(&results);
        value["page"] = page.display().to_string().into();
        value["tables"] = args.out.join("tables").display().to_string().into();
        printer.value(&value);
    } else {
        printer.text(&show::parts(&results, &args.show));
        printer.text(&format!(
            "\nTables  {}\nPage    {}\n",
            args.out.join("tables").display(),
            page.display()
        ));
    }
    Ok(())
}

pub fn input(loaded: Loaded) -> Input {
    let limits = loaded.warnings.iter().map(|w| w.message.clone()).collect();
    Input {
        session: loaded.session,
        given: loaded.results,
        limits,
        quality: loaded.quality,
    }
}

/// Two sessions of one name would be one in every table.
pub fn check_name(seen: &mut BTreeSet<String>, input: &Input) -> Result<(), CommandError> {
    let id = &input.session.id;
    if seen.insert(id.clone()) {
        return Ok(());
    }
    Err(CommandError::input(
        format!("two sessions are called `{id}`"),
        "give each its own `id` in its tracks.toml, or name each file once",
    ))
}

/// Encodes everything first, so that a failure leaves nothing behind; then writes, the page last.
fn write(results: &Results, out: &Path) -> Result<PathBuf, CommandError> {
    let tables = setdrift_season::tables(results).map_err(|e| internal(&e))?;
    let mut files = Vec::new();
    for table in &tables {
        let path = |ending| out.join("tables").join(format!("{}.{ending}", table.name));
        let encode = |e| internal(&e);
        files.push((
            path("parquet"),
            setdrift_season::to_parquet(table).map_err(encode)?,
        ));
        files.push((path("csv"), setdrift_season::to_csv(table).map_err(encode)?));
    }
    let page = out.join("page.html");
    let html = setdrift_report::page(results, &PageOptions::default());
    files.push((page.clone(), html.into_bytes()));
    for (path, bytes) in files {
        atomic::write_atomic(&path, &bytes)?;
    }
    Ok(page)
}

/// An error that no input should bring about.
pub fn internal(error: &dyn std::fmt::Display) -> CommandError {
    CommandError::system(
        error.to_string(),
        "this is a fault of setdrift, please report it",
    )
}

//! Reading and cleaning a 48-minute game at 25 Hz with 11 objects, beside polars' bare read of the
//! same file in the same run. `cargo bench -p setdrift-tracks` (release), or with `--profile dev`.
//! Memory is the greatest of a process of its own that opens the file, and nothing else.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    missing_docs,
    reason = "a benchmark prints and may stop"
)]

#[path = "../tests/common/mod.rs"]
mod common;

use common::{Folder, game};
use polars::prelude::{CsvReadOptions, IpcReader, ParquetReader, SerReader};
use setdrift_tracks::{Samples, WriteOptions, open, sources, write};
use std::fs::File;
use std::hint::black_box;
use std::path::Path;
use std::process::Command;
use std::time::Instant;

/// Argument with which this program opens the sessions of a path and tells its memory.
const OPEN: &str = "--open";

/// Least of five runs, seconds.
fn least(mut f: impl FnMut()) -> f64 {
    (0..5)
        .map(|_| {
            let start = Instant::now();
            f();
            start.elapsed().as_secs_f64()
        })
        .fold(f64::INFINITY, f64::min)
}

/// polars' own read of the file, where it has one with the features we build it with.
fn bare(path: &Path) -> Option<f64> {
    let file = || File::open(path).unwrap();
    let read = || {
        Some(match path.extension()?.to_str()? {
            "parquet" => ParquetReader::new(file()).finish(),
            "arrow" => IpcReader::new(file()).finish(),
            "csv" => CsvReadOptions::default()
                .try_into_reader_with_file_path(Some(path.to_owned()))
                .and_then(SerReader::finish),
            _ => return None,
        })
    };
    drop(read()?);
    Some(least(|| {
        black_box(read().map(|frame| frame.unwrap().height()));
    }))
}

/// Most memory of this process so far, MB, where the system tells it.
fn peak_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|l| l.starts_with("VmHWM:"));
    line.and_then(|l| l.split_whitespace().nth(1)?.parse::<f64>().ok())
        .map_or(f64::NAN, |kb| kb / 1024.0)
}

/// Memory of a process that opens the sessions of a path one after the other, MB beyond what it has
/// before.
fn memory(path: &Path) -> f64 {
    let program = std::env::current_exe().unwrap();
    let done = Command::new(program).arg(OPEN).arg(path).output().unwrap();
    String::from_utf8(done.stdout)
        .unwrap()
        .trim()
        .parse()
        .unwrap()
}

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    if let Some(at) = arguments.iter().position(|a| a == OPEN) {
        let before = peak_mb();
        for source in sources(Path::new(&arguments[at + 1])).unwrap() {
            black_box(source.open().unwrap());
        }
        println!("{:.1}", peak_mb() - before);
        return;
    }
    let folder = Folder::new("bench");
    let raw = game(48.0 * 60.0, 25.0, 0.05, 1);
    let rows: usize = raw.samples.iter().chain(&raw.ball).map(Samples::len).sum();
    let session = rows as f64 * 17.0 / 1e6;
    println!("{rows} rows; session {session:.0} MB");
    println!(
        "{:<14}{:>7}{:>9}{:>16}{:>8}{:>9}{:>10}{:>10}",
        "file", "MB", "read s", "read + clean s", "bare s", "ratio", "memory MB", "sessions"
    );
    for name in [
        "game.parquet",
        "game.arrow",
        "game.csv",
        "game.ndjson",
        "game.mfjson",
    ] {
        let path = folder.file(name);
        let mapping = write(&raw, &path, &WriteOptions::default()).unwrap();
        let size = std::fs::metadata(&path).unwrap().len() as f64 / 1e6;
        let read = least(|| {
            black_box(sources(&path).unwrap()[0].read_raw(&mapping).unwrap());
        });
        let both = least(|| {
            black_box(open(&path).unwrap());
        });
        let bare = bare(&path).unwrap_or(f64::NAN);
        let memory = memory(&path);
        println!(
            "{name:<14}{size:>7.1}{read:>9.3}{both:>16.3}{bare:>8.3}{:>9.2}{memory:>10.0}{:>10.1}",
            both / bare,
            memory / session
        );
    }
    // A folder of sessions takes no more than one of them.
    let season = Folder::new("bench-season");
    for i in 0..4 {
        let path = season.file(&format!("game-{i}.parquet"));
        write(&raw, &path, &WriteOptions::default()).unwrap();
    }
    let memory = memory(&season.file(""));
    println!(
        "four sessions one after the other: {memory:.0} MB, {:.1} sessions",
        memory / session
    );
}

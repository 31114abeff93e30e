//! Reading and cleaning a 48-minute game at 25 Hz with 11 objects, beside polars' bare read of the
//! same file in the same run. `cargo bench -p setdrift-tracks` (release), or with `--profile dev`.
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
use setdrift_tracks::{WriteOptions, open, write};
use std::fs::File;
use std::hint::black_box;
use std::path::Path;
use std::time::Instant;

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

fn bare(path: &Path) {
    let file = || File::open(path).unwrap();
    let frame = match path.extension().and_then(|e| e.to_str()) {
        Some("parquet") => ParquetReader::new(file()).finish(),
        Some("arrow") => IpcReader::new(file()).finish(),
        Some("csv") => CsvReadOptions::default()
            .try_into_reader_with_file_path(Some(path.to_owned()))
            .and_then(SerReader::finish),
        _ => return,
    };
    black_box(frame.unwrap().height());
}

/// Most memory of this process so far, MB, where the system tells it.
fn peak_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|l| l.starts_with("VmHWM:"));
    line.and_then(|l| l.split_whitespace().nth(1)?.parse::<f64>().ok())
        .map_or(f64::NAN, |kb| kb / 1024.0)
}

fn main() {
    let folder = Folder::new("bench");
    let raw = game(48.0 * 60.0, 25.0, 0.05, 1);
    let rows: usize = raw
        .samples
        .iter()
        .chain(&raw.ball)
        .map(setdrift_tracks::Samples::len)
        .sum();
    println!("{rows} rows; session {:.0} MB", rows as f64 * 17.0 / 1e6);
    println!(
        "{:<12}{:>8}{:>12}{:>12}{:>8}{:>10}",
        "file", "MB", "clean s", "bare s", "ratio", "peak MB"
    );
    for name in ["game.parquet", "game.arrow", "game.csv", "game.ndjson"] {
        let path = folder.file(name);
        write(&raw, &path, &WriteOptions::default()).unwrap();
        let size = std::fs::metadata(&path).unwrap().len() as f64 / 1e6;
        let ours = least(|| {
            black_box(open(&path).unwrap());
        });
        let theirs = least(|| bare(&path));
        let ratio = if name.ends_with("ndjson") {
            f64::NAN
        } else {
            ours / theirs
        };
        println!(
            "{name:<12}{size:>8.1}{ours:>12.3}{theirs:>12.3}{ratio:>8.2}{:>10.0}",
            peak_mb()
        );
    }
}

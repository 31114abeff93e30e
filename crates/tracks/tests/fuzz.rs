//! Broken copies of good files, for every parser: an error or a session, never a panic. Bounded and
//! the same on every machine; `SETDRIFT_FUZZ=N` runs N broken copies of each file instead.

mod common;

use common::{Folder, Random, game};
use setdrift_tracks::{
    Mapping, WriteOptions, inspect, open_with, read_results, read_roster, read_tags, write,
};
use std::path::Path;

fn rounds() -> usize {
    std::env::var("SETDRIFT_FUZZ")
        .ok()
        .and_then(|v| v.parse().ok())
        .unwrap_or(120)
}

/// One to eight edits: a byte changed, cut, doubled; a stretch cut or repeated; a false number.
fn broken(good: &[u8], random: &mut Random) -> Vec<u8> {
    const WORDS: [&[u8]; 10] = [
        b"NaN",
        b"-",
        b"1e999",
        b"\"",
        b"\n",
        b"\xff\xff\xff\x7f",
        b"{",
        b",,",
        b"9999999999999999999",
        b"[",
    ];
    let mut bytes = good.to_vec();
    let edits = 1 + (random.unit() * 8.0) as usize;
    for _ in 0..edits {
        if bytes.is_empty() {
            break;
        }
        let at = (random.unit() * bytes.len() as f64) as usize;
        let to = (at + (random.unit() * 64.0) as usize).min(bytes.len());
        match (random.unit() * 6.0) as usize {
            0 => bytes[at] = (random.unit() * 256.0) as u8,
            1 => bytes[at] ^= 1 << (random.unit() * 8.0) as u8,
            2 => drop(bytes.drain(at..to)),
            3 => {
                let copy = bytes[at..to].to_vec();
                bytes.splice(at..at, copy);
            }
            4 => {
                let word = WORDS[(random.unit() * WORDS.len() as f64) as usize];
                bytes.splice(at..at, word.iter().copied());
            }
            _ => bytes.truncate(at.max(1)),
        }
    }
    bytes
}

#[test]
fn broken_files_of_every_format_never_panic() {
    let folder = Folder::new("fuzz");
    let raw = game(1.0, 25.0, 0.03, 9);
    let (mut errors, mut total) = (0, 0);
    for name in [
        "a.csv",
        "b.csv.gz",
        "c.csv.zst",
        "d.ndjson",
        "e.parquet",
        "f.arrow",
        "g.arrows",
        "h.mfjson",
    ] {
        let path = folder.file(name);
        let mapping = write(&raw, &path, &WriteOptions::default()).unwrap();
        let good = std::fs::read(&path).unwrap();
        let mut random = Random(name.len() as u64 * 31 + u64::from(name.as_bytes()[0]));
        for _ in 0..rounds() {
            std::fs::write(&path, broken(&good, &mut random)).unwrap();
            let opened = open_with(&path, &mapping);
            if let Err(e) = &opened {
                assert!(!e.to_string().is_empty() && !e.mend().is_empty());
            }
            errors += usize::from(opened.is_err());
            let _ = inspect(&path, "");
            total += 1;
        }
    }
    // Most edits hurt; some fall on digits and only move a player.
    assert!(errors > total / 4 && errors < total, "{errors} of {total}");
}

/// Text of boxes, and columns of every type of another writer (tests/reference/tracks).
#[test]
fn broken_files_of_others_never_panic() {
    const BOXES: &str = "session.court = \"fiba\"\nfile.format = \"motchallenge\"\ntime.rate = 25.0\n\
        homography.landmarks = [\
        { image = [0, 0], floor = [-14, -7] }, { image = [1280, 0], floor = [14, -7] }, \
        { image = [1280, 720], floor = [14, 7] }, { image = [0, 720], floor = [-14, 7] }]\n";
    const COLUMNS: &str = "session.court = \"fiba\"\ntime.unit = \"iso\"\n\
        space = { unit = \"cm\", origin = \"corner\" }\n\
        columns = { time = \"at_us_zone\", object = \"who_small_category\", team = \"side_category\", \
        x = \"x_decimal\", y = \"y_i16\", z = \"z_u8\" }\n";
    let fixtures =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference/tracks/fixtures");
    let folder = Folder::new("fuzz-others");
    for (name, mapping) in [
        ("boxes.txt", BOXES),
        ("columns.parquet", COLUMNS),
        ("columns.arrow", COLUMNS),
        ("columns.arrows", COLUMNS),
    ] {
        let good = std::fs::read(fixtures.join(name)).unwrap();
        let mapping = Mapping::parse(mapping, Path::new("t.toml")).unwrap();
        let path = folder.file(name);
        std::fs::write(&path, &good).unwrap();
        open_with(&path, &mapping).unwrap();
        let mut random = Random(name.len() as u64 + 5);
        for _ in 0..rounds() {
            std::fs::write(&path, broken(&good, &mut random)).unwrap();
            if let Err(e) = open_with(&path, &mapping) {
                assert!(!e.to_string().is_empty() && !e.mend().is_empty());
            }
            let _ = inspect(&path, "");
        }
    }
}

#[test]
fn broken_mappings_and_side_files_never_panic() {
    let folder = Folder::new("fuzz-side");
    let raw = game(1.0, 25.0, 0.03, 9);
    let mapping = write(&raw, &folder.file("a.csv"), &WriteOptions::default())
        .unwrap()
        .to_toml();
    let mut random = Random(77);
    let teams = ["herons".to_owned()];
    for _ in 0..rounds() * 4 {
        let text = broken(mapping.as_bytes(), &mut random);
        let _ = Mapping::parse(&String::from_utf8_lossy(&text), Path::new("t.toml"));
        for good in [
            "id,number,name,team,roles\n1,7,Odell,herons,1 2\n",
            "time_s,team,result,points\n7.0,herons,made,2\n",
            "from_s,to_s,option,hand\n1,3.5,zipper,left\n",
        ] {
            let path = folder.file("side.csv");
            std::fs::write(&path, broken(good.as_bytes(), &mut random)).unwrap();
            let _ = read_roster(&path);
            let _ = read_results(&path, &teams);
            let _ = read_tags(&path);
        }
    }
}

//! `inspect` and `convert` as a newcomer meets them: a file, nothing beside it.

use crate::{folder, root, text};
use std::{
    fs,
    path::Path,
    process::{Command, Output},
};

fn run(dir: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_setdrift"))
        .args(args)
        .current_dir(dir)
        .output()
        .unwrap()
}

/// Standard output of a command that succeeds, at most 80 columns wide.
fn said(dir: &Path, args: &[&str]) -> String {
    let done = run(dir, args);
    assert!(done.status.success(), "{}", text(&done.stderr));
    let out = text(&done.stdout);
    assert!(out.lines().all(|l| l.chars().count() <= 80), "{out}");
    out
}

/// What a command that is refused says, white space folded.
fn refused(dir: &Path, args: &[&str]) -> String {
    let done = run(dir, args);
    let error = text(&done.stderr);
    assert_eq!(done.status.code(), Some(1), "{error}");
    let words = error.split_whitespace().filter(|w| !["│", "|"].contains(w));
    words.collect::<Vec<_>>().join(" ")
}

/// A folder with the sample's practice and nothing that says what it is.
fn practice(name: &str) -> std::path::PathBuf {
    let dir = folder(name);
    fs::copy(
        root().join("sample-tracks/practice.csv"),
        dir.join("practice.csv"),
    )
    .unwrap();
    dir
}

const INSPECTED: &str = "\
practice.csv: 763.4 s, positions 10.00 a second; herons (8), scouts (5), ball;
  fiba floor.

columns.time = `time_s`  (seconds, by its name; it never goes back)         sure
columns.x = `x_m`  (its name)                                               sure
columns.y = `y_m`  (its name)                                               sure
columns.z = `z_m`  (its name)                                             likely
columns.team = `team`  (its name)                                           sure
columns.object = `object`                                                 likely
    6 different values in the first 6000 rows, each once per time
ball.object = ball  (its name)                                              sure
teams = herons and scouts  (the values of the team column)                  sure
space.unit = m, origin at the middle                                      likely
    the unit by the column's name; 98 % of positions lie from (4.18, -7.27) to
    (13.23, 7.20), 57 % of the half of the floor
space.across = y                                                         assumed
    right-handed axes as seen from above; if left and right are exchanged,
    change its sign
session.court = fiba  (its floor is filled best, 5 of a side at once)    assumed
time.rate = 10.00 a second  (times are usually 0.1000 s apart)              sure
ends = right, throughout  (100 % of positions are in that half)             sure

Check   teams: Whose offence is to be audited, that of `herons` or of `scouts`?
        The first [[teams]] is.

Mapping  practice.tracks.toml
Picture  practice.density.svg
Picture  practice.density.png
Next: look at the picture, correct practice.tracks.toml where it is wrong, then
  run setdrift review.
";

#[test]
fn inspect_says_what_a_file_is_and_what_it_writes_is_enough_for_a_review() {
    let dir = practice("inspect");
    assert_eq!(said(&dir, &["inspect", "practice.csv"]), INSPECTED);
    for file in ["practice.density.svg", "practice.density.png"] {
        assert!(dir.join(file).is_file(), "{file}");
    }
    let mapping = fs::read_to_string(dir.join("practice.tracks.toml")).unwrap();
    assert!(mapping.contains("# likely: its name"), "{mapping}");
    // A mapping somebody may have corrected is not lost.
    let error = refused(&dir, &["inspect", "practice.csv"]);
    assert!(
        error.contains("practice.tracks.toml is there already") && error.contains("--force"),
        "{error}"
    );
    let known = [
        "inspect",
        "practice.csv",
        "--force",
        "--known",
        "session.court = \"ncaa\"",
    ];
    let out = said(&dir, &known);
    assert!(
        out.contains("ncaa floor") && !out.contains("session.court"),
        "{out}"
    );
    let playbook = root().join("sample-tracks/lantern.toml");
    let playbook = playbook.display().to_string();
    said(&dir, &["inspect", "practice.csv", "--force"]);
    let review = [
        "review",
        "practice.csv",
        "--playbook",
        &playbook,
        "--out",
        "out",
    ];
    assert!(said(&dir, &review).contains("page.html"));
}

#[test]
fn inspect_as_json_is_one_document() {
    let dir = practice("inspect-json");
    let done = run(&dir, &["--json", "inspect", "practice.csv"]);
    let value: serde_json::Value = serde_json::from_slice(&done.stdout).unwrap();
    assert_eq!(value["mapping"], "practice.tracks.toml");
    assert_eq!(value["findings"][0]["key"], "columns.time");
    assert_eq!(value["questions"][0]["needed"], false);
    assert!(value["problem"].is_null());
}

const ASKED: &str = "\
file.header = none                                                          sure
    the first line already holds numbers; columns are counted from 1
file.format = MOTChallenge text                                             sure
    frame, id, then a box of left, top, width and height, then -1 or a
    confidence
teams = one team  (2 objects, no more than a side has)                    likely

NEEDED  homography: Where are at least four places of the floor (corners, lane
        corners) in the image? Write [homography] landmarks = [{ image =
        [across, down], floor = [x, y] }, ...].
NEEDED  time.rate: How many frames per second? The file only numbers them.
NEEDED  session.court: Which court: one of fiba, ncaa, nfhs, nba, 3x3, or one's
        own measures?

Mapping  boxes.tracks.toml
Next: answer what is NEEDED in boxes.tracks.toml, or here with --known 'KEY =
  VALUE' --force.
";

#[test]
fn inspect_asks_for_exactly_what_no_file_tells() {
    let dir = folder("inspect-asks");
    let mut boxes = String::new();
    for f in 1..=60 {
        let x = 300 + 4 * f;
        boxes.push_str(&format!(
            "{f},1,{x},250,40,110,1,-1,-1,-1\n{f},2,640,{x},40,110,1,-1,-1,-1\n"
        ));
    }
    fs::write(dir.join("boxes.txt"), boxes).unwrap();
    assert_eq!(said(&dir, &["inspect", "boxes.txt"]), ASKED);
    let landmarks = "homography.landmarks = [\
        { image = [100, 100], floor = [-14, 7.5] }, { image = [1180, 100], floor = [14, 7.5] }, \
        { image = [1280, 720], floor = [14, -7.5] }, { image = [0, 720], floor = [-14, -7.5] }]";
    let answered = [
        "inspect",
        "boxes.txt",
        "--force",
        "--known",
        "session.court = \"fiba\"\ntime.rate = 25",
        "--known",
        landmarks,
    ];
    let out = said(&dir, &answered);
    assert!(!out.contains("NEEDED") && !out.contains("ERROR"), "{out}");
    assert!(out.contains("map's error is not known"), "{out}");
}

#[test]
fn inspect_refuses_what_is_no_table() {
    let dir = folder("inspect-refuses");
    fs::write(
        dir.join("night.parquet"),
        "PAR1 and then nothing of the kind",
    )
    .unwrap();
    let error = refused(&dir, &["inspect", "night.parquet"]);
    assert!(
        error.contains("night.parquet: not a whole Parquet file"),
        "{error}"
    );
    let error = refused(&dir, &["inspect", "nowhere.csv"]);
    assert!(error.contains("nowhere.csv"), "{error}");
    assert_eq!(fs::read_dir(&dir).unwrap().count(), 1, "nothing is written");
}

/// A folder with a sample session and all that lies beside it.
fn session(name: &str) -> std::path::PathBuf {
    let dir = practice(name);
    for file in ["practice.tracks.toml", "practice.tags.csv", "roster.csv"] {
        fs::copy(root().join("sample-tracks").join(file), dir.join(file)).unwrap();
    }
    dir
}

#[test]
fn convert_there_and_back_gives_the_same_text() {
    let dir = session("convert");
    fs::create_dir(dir.join("new")).unwrap();
    let out = said(&dir, &["convert", "practice.csv", "new/plain.csv"]);
    assert_eq!(
        out,
        "Tracks   new/plain.csv\nMapping  new/plain.tracks.toml\n"
    );
    let plain = fs::read(dir.join("new/plain.csv")).unwrap();
    for (i, name) in [
        "a.parquet",
        "b.arrow",
        "c.arrows",
        "d.ndjson.gz",
        "e.mfjson",
        "f.tsv",
        "g.csv.zst",
    ]
    .into_iter()
    .enumerate()
    {
        let there = format!("new/{name}");
        let mut args = vec!["convert", "practice.csv", &there];
        if i % 2 == 1 && name != "e.mfjson" {
            args.push("--wide");
        }
        said(&dir, &args);
        let back = format!("new/back-{i}.csv");
        said(&dir, &["convert", &there, &back]);
        assert!(fs::read(dir.join(&back)).unwrap() == plain, "{name}");
    }
    // Roster and tags came along, and what was set for cleaning.
    assert!(dir.join("new/roster.csv").is_file() && dir.join("new/practice.tags.csv").is_file());
    let mapping = fs::read_to_string(dir.join("new/a.tracks.toml")).unwrap();
    assert!(
        mapping.contains("tags = \"practice.tags.csv\""),
        "{mapping}"
    );
    assert!(
        mapping.contains("name = \"Herons scout team\""),
        "{mapping}"
    );
}

#[test]
fn convert_refuses_what_would_be_lost_or_is_not_one_session() {
    let dir = session("convert-refuses");
    let error = refused(&dir, &["convert", "practice.csv", "practice.csv"]);
    assert!(error.contains("the new file is the old one"), "{error}");
    let error = refused(&dir, &["convert", "practice.csv", "practice.xlsx"]);
    assert!(error.contains("cannot tell the format"), "{error}");
    fs::create_dir(dir.join("other")).unwrap();
    fs::write(dir.join("other/roster.csv"), "id\nH99\n").unwrap();
    let error = refused(&dir, &["convert", "practice.csv", "other/p.parquet"]);
    assert!(
        error.contains("is there already, and is another file"),
        "{error}"
    );
    assert!(!dir.join("other/p.parquet").exists());
    let two = folder("convert-two");
    for name in ["a", "b"] {
        fs::copy(dir.join("practice.csv"), two.join(format!("{name}.csv"))).unwrap();
        let mapping = fs::read_to_string(dir.join("practice.tracks.toml")).unwrap();
        fs::write(two.join(format!("{name}.tracks.toml")), mapping).unwrap();
    }
    let error = refused(&two, &["convert", ".", "all.parquet"]);
    assert!(error.contains("holds 2 sessions"), "{error}");
}

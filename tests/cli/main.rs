//! The command as a person uses it: the main job on the bundled sample, and wrong input at each
//! stage.

#![allow(clippy::unwrap_used, reason = "a test may fail where it stands")]

mod examples;
mod fit;
mod marks;
mod open_data;
mod score;
mod staff;
mod tracks;

use std::{
    env, fs,
    path::{Path, PathBuf},
    process::{Command, Output},
};

/// The root of the repository.
fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// A fresh folder for one test.
fn folder(name: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).unwrap();
    path
}

fn setdrift(args: &[&str], threads: &str) -> Output {
    Command::new(env!("CARGO_BIN_EXE_setdrift"))
        .args(args)
        .current_dir(root())
        .env("RAYON_NUM_THREADS", threads)
        .output()
        .unwrap()
}

/// A review of some tracks by the club's playbook, without its `--out`.
fn review(tracks: &str) -> [&str; 4] {
    ["review", tracks, "--playbook", "sample-tracks/lantern.toml"]
}

/// Compares a file that is kept with what it should hold now; SETDRIFT_BLESS=1 rewrites it.
fn kept(path: &Path, now: &str) {
    if env::var_os("SETDRIFT_BLESS").is_some() {
        fs::write(path, now).unwrap();
    } else {
        assert!(
            fs::read_to_string(path).unwrap_or_default() == now,
            "{} is not what it should be; SETDRIFT_BLESS=1 rewrites it:\n{now}",
            path.display()
        );
    }
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// Runs with input that is wrong; the error text, with white space folded, after checking exit
/// code and that nothing was written.
fn refused(args: &[&str], out: &Path) -> String {
    let mut all = args.to_vec();
    let out_text = out.display().to_string();
    all.extend(["--out", &out_text]);
    let done = setdrift(&all, "2");
    let error = text(&done.stderr);
    assert_eq!(done.status.code(), Some(1), "{error}");
    assert!(!out.exists(), "nothing half-written");
    assert!(error.lines().all(|l| l.chars().count() <= 100), "{error}");
    error
        .split_whitespace()
        .filter(|w| !["│", "|"].contains(w))
        .collect::<Vec<_>>()
        .join(" ")
}

/// Copies one sample session into a folder of its own.
fn sample(name: &str, to: &Path) {
    for entry in fs::read_dir(root().join("sample-tracks")).unwrap() {
        let path = entry.unwrap().path();
        let file = path.file_name().unwrap().to_str().unwrap().to_owned();
        if path.is_file() && (file.starts_with(name) || file == "roster.csv") {
            fs::copy(&path, to.join(file)).unwrap();
        }
    }
}

fn files(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(files(&path));
        } else {
            found.push((
                path.strip_prefix(folder).unwrap().to_owned(),
                fs::read(&path).unwrap(),
            ));
        }
    }
    found.sort();
    found
}

#[test]
fn the_demo_finds_what_the_sample_was_made_with_whatever_the_threads() {
    let (one, two) = (folder("demo-1"), folder("demo-2"));
    let run = |out: &Path, threads: &str| {
        let done = setdrift(&["demo", "--out", &out.display().to_string()], threads);
        assert!(done.status.success(), "{}", text(&done.stderr));
        text(&done.stdout)
    };
    let shown = run(&one, "1");
    run(&two, "2");
    let (a, b) = (files(&one), files(&two));
    assert_eq!(a.len(), b.len());
    for ((path, x), (_, y)) in a.iter().zip(&b) {
        assert!(
            x == y,
            "{} differs with the number of threads",
            path.display()
        );
    }
    assert!(shown.lines().all(|l| l.chars().count() <= 80), "{shown}");
    // The sample was made with one role that starts higher from game to game.
    let folded = shown.split_whitespace().collect::<Vec<_>>().join(" ");
    let (_, line) = folded.split_once("role 3 stands").unwrap_or(("", &folded));
    assert!(
        line.contains("ft higher in Zipper entry, step 1, than declared"),
        "{shown}"
    );
    assert!(line.contains("moved up"), "{shown}");
    let page = fs::read_to_string(one.join("page.html")).unwrap();
    assert!(
        page.contains("default-src 'none'"),
        "the page may load nothing"
    );
    for (path, _) in &a {
        assert!(
            !path.to_string_lossy().contains("part"),
            "a temporary file was left"
        );
    }
}

#[test]
fn json_is_one_document_that_names_page_and_tables() {
    let (tracks, out) = (folder("json-in"), folder("json-out"));
    sample("practice", &tracks);
    let out_text = out.display().to_string();
    let done = setdrift(
        &[
            &["--json"],
            &review(&tracks.display().to_string())[..],
            &["--out", &out_text],
        ]
        .concat(),
        "2",
    );
    assert!(done.status.success(), "{}", text(&done.stderr));
    let value: serde_json::Value = serde_json::from_slice(&done.stdout).unwrap();
    assert!(Path::new(value["page"].as_str().unwrap()).is_file());
    assert!(value["options"].as_array().unwrap().len() >= 8);
    assert_eq!(value["sessions"].as_array().unwrap().len(), 1);
}

#[test]
fn a_typo_in_the_playbook_is_shown_in_its_place() {
    let dir = folder("typo");
    let playbook = dir.join("book.toml");
    let source = fs::read_to_string(root().join("sample-tracks/lantern.toml")).unwrap();
    fs::write(
        &playbook,
        source.replace("1 dribbles to left slot", "1 dribbels to left slot"),
    )
    .unwrap();
    let error = refused(
        &[
            "review",
            "sample-tracks/practice.csv",
            "--playbook",
            &playbook.display().to_string(),
        ],
        &dir.join("out"),
    );
    assert!(
        error.contains("dribbels") && error.contains("dribbles"),
        "{error}"
    );
    assert!(error.contains("book.toml:"), "{error}");
}

#[test]
fn an_unknown_role_is_named() {
    let dir = folder("role");
    let playbook = dir.join("book.toml");
    let source = fs::read_to_string(root().join("sample-tracks/lantern.toml")).unwrap();
    fs::write(&playbook, source.replace("1 passes to 5", "1 passes to 9")).unwrap();
    let error = refused(
        &[
            "review",
            "sample-tracks/practice.csv",
            "--playbook",
            &playbook.display().to_string(),
        ],
        &dir.join("out"),
    );
    assert!(
        error.contains("`9` is not a role of this playbook")
            && error.contains("expected a role: 1, 2, 3, 4, 5"),
        "{error}"
    );
}

/// A copy of the practice with its CSV changed.
fn changed(name: &str, change: impl Fn(&str) -> String) -> (PathBuf, String) {
    let dir = folder(name);
    sample("practice", &dir);
    let file = dir.join("practice.csv");
    let source = fs::read_to_string(&file).unwrap();
    fs::write(&file, change(&source)).unwrap();
    let error = refused(&review(&file.display().to_string()), &dir.join("out"));
    (file, error)
}

#[test]
fn a_missing_column_is_named() {
    let (_, error) = changed("column", |s| {
        let (head, rest) = s.split_once('\n').unwrap();
        format!("{}\n{rest}", head.replacen(",x", ",across", 1))
    });
    assert!(
        error.contains("no column `x_m`") && error.contains("practice.csv"),
        "{error}"
    );
}

#[test]
fn an_empty_file_is_said_to_be_empty() {
    let (_, error) = changed("empty", |_| String::new());
    assert!(
        error.contains("practice.csv") && error.contains("empty"),
        "{error}"
    );
}

/// The practice's error when its mapping names another unit.
fn with_unit(unit: &str) -> String {
    let dir = folder(&format!("unit-{unit}"));
    sample("practice", &dir);
    let mapping = dir.join("practice.tracks.toml");
    let source = fs::read_to_string(&mapping).unwrap();
    let wrong = source.replace("unit = \"m\"", &format!("unit = \"{unit}\""));
    assert_ne!(source, wrong, "the mapping names its unit");
    fs::write(&mapping, wrong).unwrap();
    let file = dir.join("practice.csv").display().to_string();
    refused(&review(&file), &dir.join("out"))
}

#[test]
fn a_wrong_unit_is_noticed_and_the_right_one_named() {
    assert!(with_unit("furlong").contains("furlong"));
    for unit in ["ft", "cm", "in"] {
        let error = with_unit(unit);
        assert!(error.contains("too little of the floor"), "{error}");
        assert!(error.contains("`space.unit = \"m\"`"), "{error}");
    }
}

#[test]
fn feet_that_are_said_to_be_metres_do_not_fit_the_floor() {
    let (_, error) = changed("feet", |s| {
        let lines = s.lines().enumerate().map(|(i, line)| {
            let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
            for cell in &mut cells[3..5] {
                if let (true, Ok(metres)) = (i > 0, cell.parse::<f64>()) {
                    *cell = format!("{:.2}", metres / 0.3048);
                }
            }
            cells.join(",")
        });
        lines.collect::<Vec<_>>().join("\n") + "\n"
    });
    assert!(error.contains("do not fit the floor"), "{error}");
    assert!(error.contains("`space.unit = \"ft\"`"), "{error}");
}

#[test]
fn a_truncated_parquet_file_is_refused() {
    let dir = folder("truncated");
    sample("game-1", &dir);
    let file = dir.join("game-1.parquet");
    let bytes = fs::read(&file).unwrap();
    fs::write(&file, &bytes[..bytes.len() / 2]).unwrap();
    let error = refused(&review(&file.display().to_string()), &dir.join("out"));
    assert!(error.contains("game-1.parquet"), "{error}");
}

#[test]
fn six_on_one_side_is_refused_with_team_and_time() {
    let (_, error) = changed("six", |s| {
        // One more Heron, never off the floor.
        let extra: Vec<String> = s
            .lines()
            .skip(1)
            .filter(|l| l.split(',').nth(1) == Some("ball"))
            .map(|l| {
                let mut cells: Vec<&str> = l.split(',').collect();
                (cells[1], cells[2], cells[3]) = ("H99", "herons", "-3.00");
                cells.join(",")
            })
            .collect();
        format!("{}\n{}\n", s.trim_end(), extra.join("\n"))
    });
    assert!(
        error.contains("team `herons` has 6 players on the floor"),
        "{error}"
    );
    assert!(error.contains("expected at most 5"), "{error}");
}

#[test]
fn a_folder_that_cannot_be_written_is_the_systems_fault() {
    let dir = folder("no-folder");
    let blocked = dir.join("a-file");
    fs::write(&blocked, "in the way").unwrap();
    let out = blocked.join("out").display().to_string();
    for args in [
        vec!["draw", "sample-tracks/lantern.toml", "--out", &out],
        [&review("sample-tracks/practice.csv")[..], &["--out", &out]].concat(),
    ] {
        let done = setdrift(&args, "2");
        assert_eq!(done.status.code(), Some(3), "{}", text(&done.stderr));
        assert_eq!(fs::read_to_string(&blocked).unwrap(), "in the way");
    }
}

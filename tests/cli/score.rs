//! `setdrift score`: verdicts beside a person's tags.

use super::{folder, refused, sample, setdrift, text};
use serde_json::Value;
use std::fs;

const BOOK: &str = "sample-tracks/lantern.toml";

#[test]
fn the_practice_is_scored_against_its_tags() {
    let dir = folder("score");
    let out = dir.join("out").display().to_string();
    let args = [
        "score",
        "sample-tracks/practice.csv",
        "--playbook",
        BOOK,
        "--out",
        &out,
    ];
    let done = setdrift(&args, "2");
    let said = text(&done.stdout);
    assert!(done.status.success(), "{}", text(&done.stderr));
    for part in [
        "Verdicts beside tags",
        "Where they differ, seconds",
        "Confidence",
    ] {
        assert!(said.contains(part), "{said}");
    }
    assert!(
        said.lines()
            .all(|l| l.chars().count() <= 80 || l.contains("confusion.svg")),
        "{said}"
    );
    let svg = fs::read_to_string(dir.join("out/confusion.svg")).unwrap();
    assert!(svg.contains("Zipper entry"));

    let mut json = args.to_vec();
    json.push("--json");
    let value: Value = serde_json::from_slice(&setdrift(&json, "1").stdout).unwrap();
    let frames = value["all"]["frame_accuracy"].as_f64().unwrap();
    assert!((0.75..1.0).contains(&frames), "{frames}");
    let runs: u64 = value["reliability"]
        .as_array()
        .unwrap()
        .iter()
        .map(|c| c["runs"].as_u64().unwrap())
        .sum();
    assert!(runs > 10, "{runs}");
}

/// Thresholds are tried, shown and written, and what is written can be used.
#[test]
fn thresholds_are_shown_before_they_are_used() {
    let dir = folder("calibrate");
    let (out, best) = (dir.join("out"), dir.join("best.toml"));
    let (out, best_text) = (out.display().to_string(), best.display().to_string());
    let tracks = "sample-tracks/practice.csv";
    let done = setdrift(
        &[
            "score",
            tracks,
            "--playbook",
            BOOK,
            "--out",
            &out,
            "--calibrate",
            &best_text,
        ],
        "2",
    );
    let said = text(&done.stdout);
    assert!(done.status.success(), "{}", text(&done.stderr));
    assert!(
        said.contains("Thresholds tried") && said.contains("in use"),
        "{said}"
    );
    assert!(said.contains("judged on the rest (5 parts)"), "{said}");
    let written = fs::read_to_string(&best).unwrap();
    assert!(written.contains("[recognition]") && written.contains("off_script"));
    assert!(!written.contains("[events]"), "{written}");
    // What is there is not replaced unasked.
    let unasked = setdrift(
        &[
            "score",
            tracks,
            "--playbook",
            BOOK,
            "--calibrate",
            &best_text,
        ],
        "2",
    );
    assert_eq!(unasked.status.code(), Some(1));
    let error = text(&unasked.stderr);
    assert!(
        error.contains("is there already") && error.contains("--force"),
        "{error}"
    );
    let again = setdrift(
        &[
            "score",
            tracks,
            "--playbook",
            BOOK,
            "--out",
            &out,
            "--settings",
            &best_text,
        ],
        "2",
    );
    assert!(again.status.success(), "{}", text(&again.stderr));
}

#[test]
fn tags_of_another_playbook_are_named() {
    let dir = folder("score-tags");
    sample("practice", &dir);
    let tags = dir.join("practice.tags.csv");
    let source = fs::read_to_string(&tags).unwrap();
    fs::write(&tags, source.replacen("zipper", "zip", 1)).unwrap();
    let tracks = dir.join("practice.csv").display().to_string();
    let error = refused(&["score", &tracks, "--playbook", BOOK], &dir.join("out"));
    assert!(
        error.contains("of session `practice` names `zip`, which the playbook does not have"),
        "{error}"
    );
    let mapping = dir.join("practice.tracks.toml");
    let source = fs::read_to_string(&mapping).unwrap();
    let without: Vec<&str> = source.lines().filter(|l| !l.starts_with("tags")).collect();
    assert!(without.len() < source.lines().count());
    fs::write(&mapping, without.join("\n")).unwrap();
    let error = refused(&["score", &tracks, "--playbook", BOOK], &dir.join("out"));
    assert!(error.contains("no session has tags"), "{error}");
}

#[test]
fn wrong_settings_are_named_with_their_place() {
    let dir = folder("settings");
    let file = dir.join("ours.toml");
    let path = file.display().to_string();
    let args = |path| {
        [
            "review",
            "sample-tracks/practice.csv",
            "--playbook",
            BOOK,
            "--settings",
            path,
        ]
    };
    fs::write(&file, "[recognition]\noff_scrpt = 2.0\n").unwrap();
    let error = refused(&args(&path), &dir.join("out"));
    assert!(error.contains("unknown field `off_scrpt`"), "{error}");
    assert!(error.contains("ours.toml:2:1"), "{error}");
    fs::write(&file, "[recognition]\noff_script = -2.0\n").unwrap();
    let error = refused(&args(&path), &dir.join("out"));
    assert!(
        error.contains("`off_script` is -2: expected 0.05 to 50"),
        "{error}"
    );
}

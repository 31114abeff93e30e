//! `setdrift marks`: from a review's folder to marks for the video.

use super::{folder, refused, review, setdrift, text};
use serde_json::Value;
use std::{fs, path::Path};

/// The practice reviewed into `out`.
fn reviewed(out: &Path) -> String {
    let out = out.display().to_string();
    let done = setdrift(
        &[&review("sample-tracks/practice.csv")[..], &["--out", &out]].concat(),
        "2",
    );
    assert!(done.status.success(), "{}", text(&done.stderr));
    out
}

#[test]
fn a_practice_is_marked_in_four_formats_that_agree() {
    let dir = folder("marks");
    let review = reviewed(&dir.join("review"));
    let out = dir.join("marks").display().to_string();
    let args = [
        "marks",
        &review,
        "--at",
        "0:12.4=3:05",
        "--out",
        &out,
        "--video",
        "walk.mp4",
        "--rate",
        "50",
        "--before",
        "1",
        "--after",
        "1.5",
    ];
    let done = setdrift(&args, "1");
    let said = text(&done.stdout);
    assert!(done.status.success(), "{}", text(&done.stderr));
    assert!(
        said.starts_with("practice: ") && said.contains("cuts.sh"),
        "{said}"
    );
    let read = |name: &str| fs::read_to_string(dir.join("marks/practice").join(name)).unwrap();
    let csv = read("marks.csv");
    let rows: Vec<&str> = csv.trim_end().split("\r\n").skip(1).collect();
    assert!(rows.len() > 20);
    // 185 s of the video are 12.4 s of the session, so all is 172.6 s later, and a second earlier
    // for what is shown before.
    for row in &rows {
        let n: Vec<f64> = row.split(',').take(4).map(|c| c.parse().unwrap()).collect();
        assert!((n[0] - (n[2] + 172.6 - 1.0)).abs() < 2e-3, "{row}");
        assert!((n[1] - (n[3] + 172.6 + 1.5)).abs() < 2e-3, "{row}");
    }
    let otio: Value = serde_json::from_str(&read("marks.otio")).unwrap();
    let clips = otio["tracks"]["children"][0]["children"]
        .as_array()
        .unwrap();
    assert_eq!(clips.len(), rows.len());
    assert_eq!(
        clips[0]["media_references"]["DEFAULT_MEDIA"]["target_url"],
        "walk.mp4"
    );
    let cuts = read("cuts.sh");
    assert_eq!(
        cuts.lines().filter(|l| l.starts_with("cut ")).count(),
        rows.len()
    );
    assert!(read("chapters.vtt").starts_with("WEBVTT\n"));

    // Only what is asked for.
    let mut some = args.to_vec();
    some.extend(["--cue", "early,late,never", "--option", "zipper", "--json"]);
    let done = setdrift(&some, "1");
    assert!(done.status.success(), "{}", text(&done.stderr));
    let value: Value = serde_json::from_slice(&done.stdout).unwrap();
    let marks = value["marks"].as_array().unwrap();
    let cues = fs::read_to_string(dir.join("review/tables/cues.csv")).unwrap();
    let expected = cues
        .lines()
        .filter(|l| l.contains(",zipper,"))
        .filter(|l| {
            [",early,", ",late,", ",never,"]
                .iter()
                .any(|v| l.contains(v))
        })
        .count();
    assert!(expected > 0);
    assert_eq!(marks.len(), expected);
    assert_eq!(value["files"].as_array().unwrap().len(), 4);
}

#[test]
fn wrong_moments_sessions_and_choices_are_named_and_nothing_is_written() {
    let dir = folder("marks-wrong");
    let review = reviewed(&dir.join("review"));
    let out = dir.join("marks");
    let no = |args: &[&str]| {
        let mut all = vec!["marks", review.as_str()];
        all.extend(args);
        refused(&all, &out)
    };
    for (args, said) in [
        (&["--at", "0:12.4"][..], "there is no `=`"),
        (
            &["--at", "0:12.4=soon"],
            "`soon` is no time: expected seconds",
        ),
        (
            &["--at", "0:10=1:00", "--at", "0:20=0:30"],
            "contradict each other",
        ),
        (
            &["--at", "0=0", "--session", "game-9"],
            "no session `game-9`",
        ),
        (&["--at", "0=0", "--player", "99"], "no player `99`"),
        (
            &["--at", "0=0", "--option", "fist"],
            "option `fist` was not run",
        ),
        (&["--at", "9999=0"], "nothing in `practice` fits"),
    ] {
        let error = no(args);
        assert!(error.contains(said), "{args:?}: {error}");
        assert!(error.contains("help:"), "{error}");
    }
    let error = refused(&["marks", "docs", "--at", "0=0"], &out);
    assert!(error.contains("no review in `docs`"), "{error}");
    // A table that was changed by hand.
    fs::write(dir.join("review/tables/cues.parquet"), "not a table").unwrap();
    let error = no(&["--at", "0=0"]);
    assert!(error.contains("is no Parquet table"), "{error}");
}

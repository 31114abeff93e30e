//! `setdrift fit`: estimates beside the defaults, a file only when asked for, and `review` with it
//! only when named.

use crate::{folder, setdrift, text};
use std::fs;

#[test]
fn estimates_are_shown_written_when_asked_and_refused_when_out_of_range() {
    let dir = folder("fit");
    let file = dir.join("ours.toml");
    let path = file.display().to_string();
    let done = setdrift(&["fit", "sample-tracks/game-1.parquet"], "1");
    let out = text(&done.stdout);
    assert!(done.status.success(), "{}", text(&done.stderr));
    assert!(out.contains("median speed of passes"), "{out}");
    assert!(out.contains("Nothing written"), "{out}");
    assert!(out.lines().all(|l| l.chars().count() <= 80), "{out}");

    let done = setdrift(
        &["fit", "sample-tracks/game-1.parquet", "--out", &path],
        "1",
    );
    assert!(done.status.success(), "{}", text(&done.stderr));
    let written = fs::read_to_string(&file).unwrap();
    assert!(written.contains("pass_speed_mps"), "{written}");
    // What is there is not replaced unasked.
    let again = setdrift(
        &["fit", "sample-tracks/game-1.parquet", "--out", &path],
        "1",
    );
    assert_eq!(again.status.code(), Some(1));

    let review = |name: &str| {
        let out = dir.join("out").display().to_string();
        setdrift(
            &[
                "review",
                "sample-tracks/practice.csv",
                "--playbook",
                "sample-tracks/lantern.toml",
                "--out",
                &out,
                "--settings",
                name,
            ],
            "1",
        )
    };
    let done = review(&path);
    assert!(done.status.success(), "{}", text(&done.stderr));
    for (wrong, said) in [
        ("[events]\npass_speed_mps = 90.0", "expected 4 to 16"),
        ("[events]\npass_sped_mps = 9.0", "pass_sped_mps"),
        ("[events]\npass_speed_mps = fast", "settings"),
    ] {
        fs::write(&file, wrong).unwrap();
        let done = review(&path);
        assert_eq!(done.status.code(), Some(1), "{wrong}");
        assert!(text(&done.stderr).contains(said), "{}", text(&done.stderr));
    }
}

//! `setdrift fit`: estimates beside the defaults, a file only when asked for, and `review` with it
//! only when named.

use crate::{folder, review, setdrift, text};
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
    // Of recognition it says nothing, so that it can be used beside calibrated settings.
    assert!(!written.contains("[recognition]"), "{written}");
    // What is there is not replaced unasked.
    let again = setdrift(
        &["fit", "sample-tracks/game-1.parquet", "--out", &path],
        "1",
    );
    assert_eq!(again.status.code(), Some(1));

    let review_with = |names: &[&str]| {
        let out = dir.join("out").display().to_string();
        let mut args = [&review("sample-tracks/practice.csv")[..], &["--out", &out]].concat();
        for name in names {
            args.extend(["--settings", name]);
        }
        setdrift(&args, "1")
    };
    let review_by = |name: &str| review_with(&[name]);
    let calibrated = dir.join("calibrated.toml");
    fs::write(&calibrated, "[recognition]\noff_script = 1.5\n").unwrap();
    let calibrated = calibrated.display().to_string();
    let done = review_with(&[&path, &calibrated]);
    assert!(done.status.success(), "{}", text(&done.stderr));
    // Two files that contradict each other are not silently one or the other.
    let other = dir.join("other.toml");
    fs::write(&other, "[recognition]\noff_script = 1.7\n").unwrap();
    let done = review_with(&[&calibrated, &other.display().to_string()]);
    assert_eq!(done.status.code(), Some(1));
    let error = text(&done.stderr);
    assert!(
        error.contains("`recognition.off_script`")
            && error.contains("already set to another value"),
        "{error}"
    );
    for (wrong, said) in [
        ("[events]\npass_speed_mps = 90.0", "expected 4 to 16"),
        ("[events]\npass_sped_mps = 9.0", "pass_sped_mps"),
        ("[events]\npass_speed_mps = fast", "settings"),
    ] {
        fs::write(&file, wrong).unwrap();
        let done = review_by(&path);
        assert_eq!(done.status.code(), Some(1), "{wrong}");
        assert!(text(&done.stderr).contains(said), "{}", text(&done.stderr));
    }
}

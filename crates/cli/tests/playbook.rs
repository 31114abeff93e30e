//! The commands about playbooks, run as a user runs them.
#![allow(clippy::unwrap_used)]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn folder(name: &str) -> PathBuf {
    let f = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = std::fs::remove_dir_all(&f);
    std::fs::create_dir_all(&f).unwrap();
    f
}

fn setdrift(args: &[&str], at: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_setdrift"))
        .args(args)
        .current_dir(at)
        .output()
        .unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn check_says_what_it_read_or_what_is_wrong() {
    let at = folder("check");
    let lantern = root().join("sample-tracks/lantern.toml");
    std::fs::copy(&lantern, at.join("lantern.toml")).unwrap();
    let good = setdrift(&["check", "lantern.toml"], &at);
    assert!(good.status.success(), "{}", text(&good.stderr));
    assert_eq!(
        text(&good.stdout),
        "lantern.toml: Lantern, 5 roles, 9 options, 17 steps in 22 arrangements\n"
    );

    let broken = std::fs::read_to_string(&lantern)
        .unwrap()
        .replace("1 passes to 2\"", "1 pases to 2\"")
        .replace("rolls to rim", "rolls to rin");
    std::fs::write(at.join("broken.toml"), broken).unwrap();
    let bad = setdrift(&["check", "broken.toml"], &at);
    assert_eq!(bad.status.code(), Some(1));
    let said = text(&bad.stderr);
    for part in [
        "broken.toml:",
        "did you mean `passes`?",
        "did you mean `rim`?",
    ] {
        assert!(said.contains(part), "{said}");
    }
    let json = setdrift(&["check", "broken.toml", "--json"], &at);
    assert_eq!(json.status.code(), Some(1));
    let value: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    assert_eq!(value["diagnostics"][0]["code"], "unknown-verb");
}

#[test]
fn new_check_draw_and_format_go_together() {
    let at = folder("new");
    assert!(
        setdrift(&["new", "ours.toml", "--name", "Ours"], &at)
            .status
            .success()
    );
    let again = setdrift(&["new", "ours.toml"], &at);
    assert_eq!(again.status.code(), Some(1));
    assert!(
        setdrift(&["check", "--strict", "ours.toml"], &at)
            .status
            .success()
    );
    assert!(
        setdrift(&["format", "--check", "ours.toml"], &at)
            .status
            .success()
    );

    let drawn = setdrift(&["draw", "ours.toml", "--out", "d", "--hand", "left"], &at);
    assert!(drawn.status.success(), "{}", text(&drawn.stderr));
    for f in ["sheet.svg", "page.html", "01-entry.svg", "03-reset.svg"] {
        let s = std::fs::read_to_string(at.join("d").join(f)).unwrap();
        assert!(s.contains("<svg") && s.contains("left hand"), "{f}");
        assert!(
            !s.contains("http:")
                || s.matches("http:").count() == s.matches("xmlns=\"http:").count()
        );
    }

    let untidy = std::fs::read_to_string(at.join("ours.toml"))
        .unwrap()
        .replace("name = ", "name    =   ");
    std::fs::write(at.join("ours.toml"), &untidy).unwrap();
    let check = setdrift(&["format", "--check", "ours.toml"], &at);
    assert_eq!(check.status.code(), Some(1));
    assert_eq!(
        std::fs::read_to_string(at.join("ours.toml")).unwrap(),
        untidy
    );
    assert!(setdrift(&["format", "ours.toml"], &at).status.success());
    assert!(
        setdrift(&["format", "--check", "ours.toml"], &at)
            .status
            .success()
    );
}

#[test]
fn schema_is_json() {
    let out = setdrift(&["schema"], &root());
    assert!(out.status.success());
    let v: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!(v["$schema"], "https://json-schema.org/draft/2020-12/schema");
}

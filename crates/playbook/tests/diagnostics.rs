//! What is said of what is wrong: which trouble, where, and how to mend it.
#![allow(clippy::unwrap_used, clippy::panic)]

use setdrift_playbook::{Diagnostics, load_str};

const HEAD: &str = "\
name = \"t\"
court = \"fiba\"

[formations.set]
1 = \"top\"
2 = \"left wing\"
3 = \"right wing\"
4 = \"left block\"
5 = \"right block\"
ball = 1

[options.a]
after = [\"set\"]
";

fn with(rest: &str) -> Diagnostics {
    let source = format!("{HEAD}{rest}\n");
    match load_str(&source, "t.toml") {
        Ok(c) => c.warnings,
        Err(d) => d,
    }
}

fn said(rest: &str) -> Vec<(String, usize, usize)> {
    with(rest)
        .list
        .iter()
        .filter(|d| d.code != "dead-end")
        .map(|d| (d.code.to_owned(), d.line, d.column))
        .collect()
}

/// Each mistake, the code it gets, and the line and column it is shown at. `HEAD` has 13 lines.
#[test]
fn every_mistake_has_its_name_and_place() {
    let cases: &[(&str, &str, usize, usize)] = &[
        ("steps = [[\"1 pases to 2\"]]", "unknown-verb", 14, 14),
        ("steps = [[\"1 cuts to lft wing\"]]", "unknown-spot", 14, 22),
        ("steps = [[\"7 cuts to top\"]]", "unknown-role", 14, 12),
        (
            "steps = [[\"2 cuts to nail inside lain\"]]",
            "unknown-zone",
            14,
            34,
        ),
        (
            "steps = [[\"2 cuts to nail when 1 pases\"]]",
            "unknown-event",
            14,
            34,
        ),
        (
            "steps = [[\"2 cuts to nail sideways\"]]",
            "unknown-tail",
            14,
            27,
        ),
        (
            "steps = [[\"2 cuts to nail within 3 of top\"]]",
            "expected-unit",
            14,
            36,
        ),
        ("steps = [[\"2 cuts nail\"]]", "expected-word", 14, 19),
        ("steps = [[\"2 cuts to\"]]", "unknown-spot", 14, 21),
        (
            "steps = [[\"2 cuts to nail when 1 passes between 2 and 1 s\"]]",
            "bad-window",
            14,
            41,
        ),
        ("steps = [[\"2 and 2 hold\"]]", "role-twice", 14, 20),
        (
            "steps = [[\"2 cuts to nail off 4 off 5\"]]",
            "said-twice",
            14,
            33,
        ),
        ("steps = [[\"1 waits -3 s\"]]", "expected-number", 14, 20),
        ("stepz = [[\"1 shoots\"]]", "unknown-key", 14, 1),
        ("steps = \"1 shoots\"", "expected-list", 14, 9),
        ("steps = [[]]", "sentence-count", 14, 10),
        ("steps = [[3]]", "expected-text", 14, 11),
        ("steps = [[\"2 passes to 3\"]]", "ball-not-held", 14, 11),
        ("steps = [[\"1 passes to 1\"]]", "ball-to-self", 14, 11),
        ("steps = [[\"1 cuts to nail\"]]", "moves-with-ball", 14, 11),
        (
            "steps = [[\"1 shoots\", \"1 passes to 2\"]]",
            "ball-gone",
            14,
            23,
        ),
        (
            "steps = [[\"2 cuts to right corner in 0.6 s\"]]",
            "too-fast",
            14,
            11,
        ),
        (
            "steps = [[\"2 cuts to nail when 3 cuts\"]]",
            "cue-never",
            14,
            11,
        ),
        (
            "steps = [[\"2 cuts to nail when 3 cuts\", \"3 cuts to rim when 2 cuts\"]]",
            "waits-for-itself",
            14,
            11,
        ),
        ("steps = [[\"2 cuts to left block\"]]", "one-place", 14, 11),
        (
            "steps = [[\"1 hands off to 5\"]]",
            "hand-off-too-far",
            14,
            11,
        ),
        ("steps = [[\"4 screens for 4\"]]", "screen-for-self", 14, 11),
        ("steps = [[\"2 cuts to nail off 5\"]]", "off-nobody", 14, 11),
        ("steps = [[\"2 holds via nail\"]]", "no-way", 14, 11),
        (
            "steps = [[\"1 shoots\"]]\nreturns = \"sett\"",
            "unknown-formation",
            15,
            11,
        ),
        (
            "steps = [[\"1 shoots\"]]\nrefill = { 1 = 2 }",
            "refill-without-returns",
            15,
            10,
        ),
        (
            "steps = [[\"1 passes to 2\"]]\nreturns = \"set\"\nrefill = { 1 = 2, 3 = 2 }",
            "bad-refill",
            16,
            10,
        ),
        (
            "steps = [[\"1 passes to 2\"]]\nreturns = \"set\"\nrefill = { 1 = 3 }",
            "refill-ball",
            16,
            10,
        ),
        (
            "steps = [[\"1 shoots\"]]\nread = \"when X9 is above 2\"",
            "unknown-defender",
            15,
            14,
        ),
        (
            "steps = [[\"1 shoots\"]]\nread = \"when X2 sleeps\"",
            "unknown-read",
            15,
            17,
        ),
        (
            "steps = [[\"1 shoots\"]]\nexpect = [\"everyone happy\"]",
            "unknown-expectation",
            15,
            12,
        ),
        (
            "steps = [[\"1 shoots\"]]\n[options.b]\nafter = [\"aa\"]\nsteps = [\"1 holds\"]",
            "unknown-after",
            16,
            10,
        ),
        (
            "steps = [[\"1 shoots\"]]\n[options.b]\nafter = [\"b\"]\nsteps = [\"1 holds\"]",
            "unreachable",
            15,
            10,
        ),
        (
            "steps = [[\"1 shoots\"]]\n[options.b]\nafter = [\"a step 2\"]\nsteps = [\"1 holds\"]",
            "unknown-step",
            16,
            10,
        ),
        (
            "steps = [[\"1 shoots\"]]\n[spots]\nyard = [100, 0]",
            "off-floor",
            16,
            8,
        ),
        (
            "steps = [[\"1 shoots\"]]\n[formations.two]\n1 = \"top\"",
            "missing-role",
            15,
            13,
        ),
        ("steps = [[\"1 shoots\"]", "not-toml", 14, 22),
    ];
    for (text, code, line, column) in cases {
        let found = said(text);
        assert!(
            found.contains(&((*code).to_owned(), *line, *column)),
            "{text}\n  wanted {code} at {line}:{column}, got {found:?}\n{}",
            with(text)
        );
    }
}

#[test]
fn all_that_is_not_toml_is_told_at_once() {
    let source = "name = Lantern\nunits = \"m\"\n[formations.f\n1 = \"top\"\n2 = \"nail\"\nball = = 1\n\
                  [options.a]\nsteps = [[\"1 holds\"]]\nsteps = []\n";
    for found in [
        setdrift_playbook::parse(source, "t").unwrap_err(),
        setdrift_playbook::format(source, "t").unwrap_err(),
    ] {
        assert!(found.list.iter().all(|d| d.code == "not-toml"), "{found}");
        let lines: Vec<usize> = found.list.iter().map(|d| d.line).collect();
        for line in [1, 3, 6, 9] {
            assert!(lines.contains(&line), "line {line}: {found}");
        }
    }
}

#[test]
fn all_mistakes_are_told_at_once() {
    let found = said(
        "steps = [[\"1 pases to 2\", \"2 cuts to lft wing\"], [\"3 flys\"]]\n\
         expect = [\"spacing\"]\nreturns = \"sett\"",
    );
    let codes: Vec<&str> = found.iter().map(|f| f.0.as_str()).collect();
    assert_eq!(
        codes,
        [
            "unknown-verb",
            "unknown-spot",
            "unknown-verb",
            "expected-word",
            "unknown-formation"
        ]
    );
    // So are those that only compiling finds.
    let found = said("steps = [[\"2 passes to 3\"], [\"4 cuts to nail when 5 cuts\"]]");
    let codes: Vec<&str> = found.iter().map(|f| f.0.as_str()).collect();
    assert_eq!(codes, ["ball-not-held", "cue-never"]);
}

#[test]
fn the_nearest_known_word_is_offered() {
    for (text, help) in [
        ("steps = [[\"1 pases to 2\"]]", "did you mean `passes`?"),
        (
            "steps = [[\"2 cuts to lft wing\"]]",
            "did you mean `left wing`?",
        ),
        (
            "steps = [[\"2 bck cuts to rim\"]]",
            "did you mean `back cuts`?",
        ),
        (
            "steps = [[\"2 cuts to rim when 1 dribles\"]]",
            "did you mean `dribbles`?",
        ),
        (
            "steps = [[\"1 shoots\"]]\nreturns = \"sett\"",
            "did you mean `set`?",
        ),
        ("stesp = [[\"1 shoots\"]]", "did you mean `steps`?"),
    ] {
        let d = with(text);
        assert!(
            d.list.iter().any(|x| x.help.as_deref() == Some(help)),
            "{text}: {d}"
        );
    }
}

#[test]
fn a_diagnostic_reads_as_one_line() {
    let d = with("steps = [[\"2 cuts to lft wing\"]]");
    assert_eq!(
        d.to_string(),
        "t.toml:14:22: error: no spot is called `lft wing`; expected a spot such as `left wing`, \
         a role, or `3 ft above left elbow` (help: did you mean `left wing`?)"
    );
}

#[test]
fn a_dead_end_is_a_warning_and_a_shot_is_none() {
    let dead = with("steps = [[\"1 passes to 2\"]]");
    assert!(!dead.has_errors());
    assert_eq!(dead.list[0].code, "dead-end");
    assert!(with("steps = [[\"1 shoots\"]]").list.is_empty());
}

//! The tables over many runs, and the page that documents every table.

use super::{folder, kept, review, root, setdrift, text};
use std::{collections::BTreeMap, fmt::Write as _, fs, path::Path};

/// A CSV table as rows of named cells. Quotes are undone; no cell of ours breaks a line.
fn rows(path: &Path) -> Vec<BTreeMap<String, String>> {
    let all = fs::read_to_string(path).unwrap();
    let mut lines = all.lines().map(cells);
    let header = lines.next().unwrap();
    lines
        .map(|row| header.iter().cloned().zip(row).collect())
        .collect()
}

fn cells(line: &str) -> Vec<String> {
    let (mut out, mut cell, mut quoted) = (Vec::new(), String::new(), false);
    let mut chars = line.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '"' if quoted && chars.peek() == Some(&'"') => {
                cell.push('"');
                chars.next();
            }
            '"' => quoted = !quoted,
            ',' if !quoted => out.push(std::mem::take(&mut cell)),
            c => cell.push(c),
        }
    }
    out.push(cell);
    out
}

fn n(row: &BTreeMap<String, String>, column: &str) -> usize {
    row[column].parse().unwrap()
}

#[test]
fn staff_tables_agree_with_the_checks_they_are_made_of() {
    let dir = folder("staff");
    let out = dir.display().to_string();
    let done = setdrift(
        &[
            &review("sample-tracks")[..],
            &["--out", &out, "--show", "costly,cues,players"],
        ]
        .concat(),
        "2",
    );
    assert!(done.status.success(), "{}", text(&done.stderr));
    let shown = text(&done.stdout);
    assert!(shown.lines().all(|l| l.chars().count() <= 80), "{shown}");
    for part in [
        "The cues that cost most",
        "Counts, not causes",
        "What each player might fix",
        "look at ",
    ] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    let table = |name: &str| rows(&dir.join("tables").join(format!("{name}.csv")));
    let cues = table("cues");
    let judged: Vec<_> = cues
        .iter()
        .filter(|c| c["verdict"] != "cannot tell")
        .collect();
    let groups = table("cue_groups");
    // However they are grouped, all checks are there once.
    for by in [
        "cue",
        "player",
        "role",
        "option",
        "opponent",
        "date",
        "player, option",
        "player, date",
    ] {
        let of = groups.iter().filter(|g| g["by"] == by);
        let sum: usize = of.map(|g| n(g, "judged")).sum();
        assert_eq!(sum, judged.len(), "{by}");
    }
    for g in groups.iter().filter(|g| g["by"] == "player") {
        let own = judged.iter().filter(|c| c["player"] == g["group"]);
        assert_eq!(
            own.clone().filter(|c| c["verdict"] == "late").count(),
            n(g, "late")
        );
        assert_eq!((own.count() < 10).to_string(), g["few"]);
    }
    let segments: BTreeMap<_, _> = table("segments")
        .into_iter()
        .map(|s| {
            let key = (
                s["session"].clone(),
                s["possession"].clone(),
                s["segment"].clone(),
            );
            (key, s["verdict"].clone())
        })
        .collect();
    for c in table("costly_cues") {
        let own = || {
            judged
                .iter()
                .filter(|x| x["option"] == c["option"] && x["action"] == c["action"])
        };
        let missed = || own().filter(|x| x["verdict"] != "on time");
        assert_eq!(n(&c, "missed"), missed().count());
        assert_eq!(n(&c, "met"), own().count() - missed().count());
        let broke = missed()
            .filter(|x| {
                let key = (
                    x["session"].clone(),
                    x["possession"].clone(),
                    x["segment"].clone(),
                );
                segments[&key].starts_with("broken off")
            })
            .count();
        assert_eq!(n(&c, "missed_broken_off"), broke);
    }
    for f in table("to_fix") {
        assert_eq!(f["habit"] == "true", n(&f, "wrong") >= 3);
        assert!(n(&f, "thing") <= 3);
        let t = |c: &str| f[c].parse::<f64>().unwrap();
        assert!(t("from") < t("moment") && t("moment") < t("to"));
    }
    documented(&table("columns"));
}

/// `docs/tables.md` says what the tables hold; with `SETDRIFT_BLESS=1` it is rewritten instead.
fn documented(columns: &[BTreeMap<String, String>]) {
    let path = root().join("docs/tables.md");
    let page = fs::read_to_string(&path).unwrap_or_default();
    let (head, _) = page.split_once("\n## ").unwrap_or((&page, ""));
    let mut now = format!("{}\n", head.trim_end());
    let mut last = "";
    for c in columns {
        if c["table"] != last {
            last = &c["table"];
            let _ = write!(
                now,
                "\n## `{last}`\n\nA row is {}.\n\n| column | type | unit | what it holds |\n| --- | --- | --- | --- |\n",
                c["row"]
            );
        }
        let _ = writeln!(
            now,
            "| `{}` | {} | {} | {} |",
            c["column"], c["type"], c["unit"], c["description"]
        );
    }
    kept(&path, &now);
}

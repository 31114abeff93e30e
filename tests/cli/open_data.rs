//! Real people: the openly licensed three-a-side tracks, read from beside the repository when
//! they are there. Yamada et al. 2025, arXiv:2503.18282 (Apache-2.0): plays of 1.5–15 s, no ball,
//! 19.98 frames a second, positions in about centimetres with roles `O_*` and `D_*`.

use crate::{folder, root, setdrift, text};
use std::{collections::BTreeSet, fs};

#[test]
fn three_a_side_without_a_ball_is_read_and_its_limits_said() {
    let data = root().join("../shared/open-data/3x3-indoor/court");
    if !data.is_dir() {
        println!("skipped: no open data at {}", data.display());
        return;
    }
    let (tracks, out) = (folder("three-in"), folder("three-out"));
    let mapping = root().join("tests/open-data.tracks.toml");
    fs::copy(mapping, tracks.join("tracks.toml")).unwrap();
    let mut plays = 0;
    for entry in fs::read_dir(&data).unwrap() {
        let path = entry.unwrap().path();
        fs::copy(&path, tracks.join(path.file_name().unwrap())).unwrap();
        plays += 1;
    }
    let playbook = "notebooks-free-examples/playbooks/three-a-side.toml";
    let (tracks, out_text) = (tracks.display().to_string(), out.display().to_string());
    let args = [
        "--json",
        "review",
        &tracks,
        "--playbook",
        playbook,
        "--out",
        &out_text,
    ];
    let done = setdrift(&args, "2");
    assert!(done.status.success(), "{}", text(&done.stderr));
    let value: serde_json::Value = serde_json::from_slice(&done.stdout).unwrap();
    let sessions = value["sessions"].as_array().unwrap();
    assert_eq!(sessions.len(), plays);
    for s in sessions {
        assert_eq!(s["possessions"], 1, "each file is one play: {s}");
        let limits = s["limits"].to_string();
        assert!(limits.contains("no ball in the tracks"), "{limits}");
    }
    // Nothing that needs a ball may be claimed.
    let events = fs::read_to_string(out.join("tables/events.csv")).unwrap();
    let named: BTreeSet<&str> = events
        .lines()
        .skip(1)
        .filter_map(|l| l.split(',').nth(3))
        .collect();
    for ball in ["pass", "hand-off", "dribble", "shot", "rebound", "turnover"] {
        assert!(!named.contains(ball), "{named:?}");
    }
    let possessions = fs::read_to_string(out.join("tables/possessions.csv")).unwrap();
    assert_eq!(
        possessions
            .lines()
            .filter(|l| l.contains(",unknown,"))
            .count(),
        plays
    );
    // Pick-up players do run some of the common actions, never all of the time.
    let runs: u64 = value["options"]
        .as_array()
        .unwrap()
        .iter()
        .map(|o| o["runs"].as_u64().unwrap())
        .sum();
    assert!(
        runs > 0 && runs < 2 * plays as u64,
        "{runs} runs in {plays} plays"
    );
}

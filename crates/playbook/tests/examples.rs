//! Every playbook that ships compiles, without a warning, and keeps what it declares.
#![allow(clippy::unwrap_used, clippy::panic)]

use setdrift_playbook::graph::{ActionKind, Graph};
use setdrift_playbook::{format, load_str, to_text};
use std::path::PathBuf;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn all() -> Vec<(String, String)> {
    let mut files: Vec<PathBuf> =
        std::fs::read_dir(root().join("notebooks-free-examples/playbooks"))
            .unwrap()
            .map(|e| e.unwrap().path())
            .filter(|p| p.extension().is_some_and(|x| x == "toml"))
            .collect();
    files.push(root().join("sample-tracks/lantern.toml"));
    files.sort();
    files
        .into_iter()
        .map(|p| {
            let name = p.file_name().unwrap().to_str().unwrap().to_owned();
            (name, std::fs::read_to_string(p).unwrap())
        })
        .collect()
}

fn graph(name: &str) -> Graph {
    let (_, source) = all().into_iter().find(|(n, _)| n == name).unwrap();
    load_str(&source, name)
        .unwrap_or_else(|d| panic!("{d}"))
        .graph
}

#[test]
fn all_compile_without_a_warning() {
    let all = all();
    assert!(all.len() >= 6);
    for (name, source) in all {
        let c = load_str(&source, &name).unwrap_or_else(|d| panic!("{d}"));
        assert!(c.warnings.list.is_empty(), "{}", c.warnings);
    }
}

#[test]
fn all_are_laid_out_as_the_formatter_lays_them_out() {
    for (name, source) in all() {
        let f = format(&source, &name).unwrap();
        assert!(f == source, "{name} is not as `format` would write it");
    }
}

#[test]
fn text_made_from_a_graph_gives_the_graph() {
    for (name, source) in all() {
        let g = load_str(&source, &name).unwrap().graph;
        let again = load_str(&to_text(&g).unwrap(), &name).unwrap_or_else(|d| panic!("{d}"));
        assert!(again.graph == g, "{name}");
    }
}

#[test]
fn motion_goes_on_without_jumps_in_all() {
    for (name, source) in all() {
        let g = load_str(&source, &name).unwrap().graph;
        assert!(!g.starts.is_empty());
        for e in &g.edges {
            let (a, b) = (&g.nodes[e.from].motion, &g.nodes[e.to].motion);
            for new in 0..g.roles.len() {
                let old = e.refill.as_ref().map_or(new, |r| r[new]);
                let end = a.roles[old][a.frames() - 1];
                assert!(end.distance(b.roles[new][0]) < 1e-9, "{name}");
            }
        }
    }
}

/// A continuity goes round three times along the edges, each round in new roles, and the player
/// who began as 1 has been back there by then.
#[test]
fn a_continuity_goes_round_three_times() {
    let g = graph("continuity.toml");
    let round = g.option("round").unwrap();
    let mut at = g
        .starts
        .iter()
        .copied()
        .find(|n| g.nodes[*n].option == round)
        .unwrap();
    let start = at;
    // players[role] = who is in it.
    let mut players = vec![0, 1, 2, 3, 4];
    let mut in_role_one = Vec::new();
    for _ in 0..3 {
        in_role_one.push(players[0]);
        while !g.nodes[at].last {
            let e = g
                .edges
                .iter()
                .find(|e| e.from == at && g.nodes[e.to].option == round)
                .unwrap();
            at = e.to;
        }
        let e = g
            .edges
            .iter()
            .find(|e| e.from == at && g.nodes[e.to].option == round)
            .unwrap();
        players = e
            .refill
            .as_ref()
            .unwrap()
            .iter()
            .map(|old| players[*old])
            .collect();
        at = e.to;
        assert_eq!(at, start, "the loop closes");
    }
    assert_eq!(in_role_one, [0, 1, 3]);
    assert_eq!(players[0], 0);
}

/// `after = ["gate step 1"]`: two options share a step; the graph has it once.
#[test]
fn options_share_steps() {
    let g = graph("set-play.toml");
    let (gate, curl) = (g.option("gate").unwrap(), g.option("curl").unwrap());
    let first: Vec<_> = g.nodes_of(gate, 0).collect();
    assert_eq!(first.len(), 1);
    assert!(
        g.edges
            .iter()
            .any(|e| e.from == first[0] && g.nodes[e.to].option == curl && g.nodes[e.to].step == 0)
    );
}

/// "2 or 5 shoots" after "4 passes to 2 or 5": a branch for each, and no branch in which someone
/// shoots who has no ball.
#[test]
fn branches_are_nodes() {
    let g = graph("zone.toml");
    let middle = g.option("middle").unwrap();
    let passes: Vec<_> = g.nodes_of(middle, 1).collect();
    assert_eq!(passes.len(), 2);
    let mut shooters = Vec::new();
    for p in passes {
        let next: Vec<_> = g.edges.iter().filter(|e| e.from == p).collect();
        assert_eq!(next.len(), 1);
        let shot = &g.nodes[next[0].to].actions[0];
        assert_eq!(shot.kind, ActionKind::Shot);
        shooters.push(shot.role);
    }
    shooters.sort_unstable();
    assert_eq!(shooters, [1, 4]);
}

#[test]
fn a_reset_walks_everyone_into_the_formation() {
    let g = graph("three-a-side.toml");
    let fill = g.option("fill").unwrap();
    for n in g.nodes_of(fill, 0) {
        let m = &g.nodes[n].motion;
        let e = g.edges.iter().find(|e| e.from == n).unwrap();
        for (new, place) in g.formations[0].places.iter().enumerate() {
            let old = e.refill.as_ref().map_or(new, |r| r[new]);
            assert!(m.roles[old][m.frames() - 1].distance(*place) < 1e-9);
        }
    }
}

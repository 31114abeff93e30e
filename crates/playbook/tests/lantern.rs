//! The sample offence compiles to a graph that the later stages can rely on.

#![allow(clippy::unwrap_used, clippy::panic)]

use setdrift_playbook::graph::{ActionKind, Graph};
use setdrift_playbook::load_str;

fn lantern() -> Graph {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../sample-tracks/lantern.toml"
    );
    let source = std::fs::read_to_string(path).unwrap();
    let c = load_str(&source, "lantern.toml").unwrap_or_else(|d| panic!("{d}"));
    assert!(c.warnings.list.is_empty(), "{}", c.warnings);
    c.graph
}

#[test]
fn every_option_is_there_and_short() {
    let g = lantern();
    assert_eq!(g.roles, ["1", "2", "3", "4", "5"]);
    assert_eq!(g.options.len(), 9);
    for (o, option) in g.options.iter().enumerate() {
        for step in 0..option.steps {
            assert!(g.nodes_of(o, step).count() > 0, "{} {step}", option.id);
        }
    }
    for n in &g.nodes {
        assert!(n.motion.duration_s() <= 5.5, "{}", g.options[n.option].id);
    }
}

/// What follows begins exactly where what went before ended, refills included.
#[test]
fn motion_goes_on_without_jumps() {
    let g = lantern();
    for e in &g.edges {
        let (a, b) = (&g.nodes[e.from].motion, &g.nodes[e.to].motion);
        for new in 0..g.roles.len() {
            let old = e.refill.as_ref().map_or(new, |r| r[new]);
            let end = a.roles[old][a.frames() - 1];
            assert!(end.distance(b.roles[new][0]) < 1e-9);
        }
        assert!(a.ball[a.frames() - 1].distance(b.ball[0]) < 1e-9);
    }
}

#[test]
fn rows_are_of_equal_length_and_actions_lie_within() {
    let g = lantern();
    for n in &g.nodes {
        assert!(n.motion.frames() >= 2);
        assert_eq!(n.motion.tolerance.len(), g.roles.len());
        for r in &n.motion.roles {
            assert_eq!(r.len(), n.motion.frames());
        }
        for a in &n.actions {
            assert!(a.from <= a.to && a.to < n.motion.frames(), "{}", a.text);
        }
    }
}

/// A cued action starts inside its window in the reference motion, and a screener stands before
/// the user comes by.
#[test]
fn cues_and_screens_are_kept_in_the_drawing() {
    let g = lantern();
    let (mut cues, mut screens) = (0, 0);
    for n in &g.nodes {
        for a in &n.actions {
            cues += usize::from(a.cue.is_some());
            if let ActionKind::Screen { user, at } = a.kind {
                let used_here = n.actions.iter().any(|b| {
                    b.role == user
                        && matches!(b.kind, ActionKind::Cut { off: Some(r), .. } if r == a.role)
                });
                if !used_here {
                    continue;
                }
                screens += 1;
                let passes = (0..n.motion.frames())
                    .min_by(|x, y| {
                        let d = |f: usize| n.motion.roles[user][f].distance(at);
                        d(*x).total_cmp(&d(*y))
                    })
                    .unwrap();
                assert!(passes >= a.to, "{}", a.text);
            }
        }
    }
    assert!(cues >= 15 && screens >= 3, "{cues} {screens}");
}

/// The reset closes the loop: from it the entries can be run again.
#[test]
fn the_reset_leads_back_to_the_entries() {
    let g = lantern();
    let reset = g.option("reset").unwrap();
    let zipper = g.option("zipper").unwrap();
    for n in g.nodes_of(reset, 0) {
        let next: Vec<_> = g.edges.iter().filter(|e| e.from == n).collect();
        assert!(next.iter().any(|e| g.nodes[e.to].option == zipper));
        assert!(next.iter().all(|e| e.refill.as_ref().unwrap()[4] == 4));
    }
}

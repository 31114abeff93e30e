//! Facts of the trade, each declared in an arrangement of our own and judged on tracks whose truth is
//! known, once kept and once broken. Every fact is common practice, no published source.
#![allow(clippy::panic, reason = "a test may stop")]

mod common;

use common::*;
use setdrift_court::AttackPoint;
use setdrift_events::model::{EventKind, Spell};
use setdrift_playbook::graph::Graph;
use setdrift_recognise::model::Verdict;
use setdrift_timing::model::{Audit, CueCheck, Kept, PlacementCheck, When};
use setdrift_timing::{ValidParams, audit};

/// The Herons' Lantern with one option.
fn lantern(steps: &str, expect: &str) -> Graph {
    let text = format!(
        r#"
name = "Lantern"
court = "fiba"
units = "m"

[formations.lamps]
1 = "top"
2 = "left wing"
3 = "right wing"
4 = "left corner"
5 = "left elbow"
ball = 1

[options.wick]
title = "Wick"
after = ["lamps"]
steps = {steps}
expect = {expect}
"#
    );
    match setdrift_playbook::load_str(&text, "lantern.toml") {
        Ok(p) => p.graph,
        Err(e) => panic!("{e:?}"),
    }
}

const FROM: f64 = 3.0;

/// Start and end of each step, one after the other.
fn spans(g: &Graph) -> Vec<(f64, f64)> {
    let mut at = FROM;
    g.nodes
        .iter()
        .map(|n| {
            let from = at;
            at += n.motion.duration_s();
            (from, at)
        })
        .collect()
}

/// When an action should begin and end.
fn due(g: &Graph, text: &str) -> (f64, f64) {
    let spans = spans(g);
    for (n, span) in g.nodes.iter().zip(spans) {
        if let Some(a) = n.actions.iter().find(|a| a.text.contains(text)) {
            return (span.0 + a.from as f64 / 10.0, span.0 + a.to as f64 / 10.0);
        }
    }
    panic!("no action {text}");
}

/// Everyone does what is declared, but for the movements given: role and its course from then on.
fn world(g: &Graph, others: &[(usize, Vec<Move>)]) -> World {
    let ends = spans(g);
    let courses = (0..g.roles.len())
        .map(|r| {
            let start = g.nodes[0].motion.roles[r][0];
            let own = others.iter().find(|o| o.0 == r).map(|o| o.1.clone());
            let moves = own.unwrap_or_else(|| {
                g.nodes
                    .iter()
                    .zip(&ends)
                    .flat_map(|(n, span)| {
                        n.actions.iter().filter(|a| a.role == r).map(move |a| {
                            let row = &n.motion.roles[r];
                            let to = a.to.min(row.len() - 1);
                            let long = (a.to.saturating_sub(a.from) as f64 / 10.0).max(0.8);
                            go(span.0 + a.from as f64 / 10.0, long, row[to])
                        })
                    })
                    .collect()
            });
            Course::moving(start, moves)
        })
        .collect();
    let mut w = World::new(OPTICAL, courses);
    w.long_s = ends[ends.len() - 1].1 + 3.0;
    w
}

fn judged(g: &Graph, w: &World, events: Vec<(f64, usize, EventKind)>) -> Audit {
    let reading = w.reading(g, &spans(g), Verdict::Ran);
    audit(
        &w.session(),
        g,
        &w.story(events),
        &[w.possession()],
        &[reading],
        &ValidParams::default(),
    )
}

fn cue<'a>(a: &'a Audit, text: &str) -> &'a CueCheck {
    let found = a.cues.iter().find(|c| c.text.contains(text));
    found.unwrap_or_else(|| panic!("no cue {text}: {:?}", a.cues))
}

fn placed<'a>(a: &'a Audit, text: &str) -> &'a PlacementCheck {
    let found = a.placements.iter().find(|c| c.text.contains(text));
    found.unwrap_or_else(|| panic!("no check {text}: {:?}", a.placements))
}

/// A back cut answered by the pass starts while the ball to the inside player is still in the air:
/// between release and catch.
#[test]
fn the_back_cut_starts_while_the_ball_is_in_the_air() {
    let g = lantern(
        r#"[["1 passes to 5", "2 back cuts to rim when 1 passes between 0 and 0.6 s"]]"#,
        "[]",
    );
    let release = due(&g, "1 passes").0;
    let catch = release + 0.6;
    let rim = AttackPoint::new(2.2, -0.3);
    for (onset, expected) in [
        (release + 0.3, When::OnTime),
        (catch + 0.5, When::Late),
        (release - 0.6, When::Early),
    ] {
        let w = world(&g, &[(1, vec![go(onset, 2.4, rim)])]);
        let a = judged(&g, &w, vec![w.pass(0, 4, release, catch)]);
        let c = cue(&a, "back cuts");
        assert_eq!(c.when, expected, "{}", c.evidence);
        assert!((c.onset_s.unwrap() - onset).abs() < 0.15, "{}", c.evidence);
    }
    // A jab away first is reported beside the true cut.
    let wing = g.nodes[0].motion.roles[1][0];
    let away = AttackPoint::new(wing.x + 0.15, wing.y - 0.35);
    let moves = vec![go(release - 0.25, 0.5, away), go(release + 0.25, 2.4, rim)];
    let w = world(&g, &[(1, moves)]);
    let a = judged(&g, &w, vec![w.pass(0, 4, release, catch)]);
    let c = cue(&a, "back cuts");
    assert_eq!(c.when, When::OnTime, "{}", c.evidence);
    assert!(
        c.jab_s.is_some_and(|j| (j - (release - 0.25)).abs() < 0.25),
        "{}",
        c.evidence
    );
}

/// Two may wait for one cue: each is told his own start.
#[test]
fn two_who_wait_for_one_cue_are_told_apart() {
    let g = lantern(
        r#"[["1 passes to 5", "2 cuts to left block when 1 passes within 0.6 s", "3 cuts to right corner when 1 passes within 0.6 s"]]"#,
        "[]",
    );
    let (release, catch) = due(&g, "1 passes");
    let to = |role: usize| *g.nodes[0].motion.roles[role].last().unwrap();
    for (lag, expected) in [
        ([0.3, 1.2], [When::OnTime, When::Late]),
        ([1.2, 0.3], [When::Late, When::OnTime]),
    ] {
        let moves = [1, 2].map(|r| (r, vec![go(release + lag[r - 1], 1.8, to(r))]));
        let w = world(&g, &moves);
        let a = judged(&g, &w, vec![w.pass(0, 4, release, catch)]);
        for (i, text) in ["2 cuts", "3 cuts"].into_iter().enumerate() {
            let c = cue(&a, text);
            assert_eq!(c.when, expected[i], "{}", c.evidence);
            let off = c.lag_s.unwrap() - lag[i];
            assert!(off.abs() < 0.15, "{}", c.evidence);
        }
    }
}

/// An inside player's dribble, for which a far-side wing waits.
fn dribbled_in() -> Graph {
    lantern(
        r#"[["1 passes to 5"], ["5 dribbles to left slot", "3 cuts to high post when 5 dribbles within 0.6 s"]]"#,
        "[]",
    )
}

/// A far-side wing who is to cut off an inside player's dribble leaves on the first dribble;
/// leaving earlier fills the space the two need.
#[test]
fn the_far_wing_leaves_on_the_first_dribble() {
    let g = dribbled_in();
    let (release, catch) = due(&g, "1 passes");
    let dribble = due(&g, "5 dribbles").0.max(catch + 0.1);
    let post = *g.nodes[1].motion.roles[2].last().unwrap();
    for (onset, expected) in [(dribble + 0.3, When::OnTime), (dribble - 0.7, When::Early)] {
        let w = world(&g, &[(2, vec![go(onset, 1.8, post)])]);
        let first = EventKind::DribbleStart {
            player: w.players[4],
            sd_s: 0.0,
        };
        let a = judged(
            &g,
            &w,
            vec![w.pass(0, 4, release, catch), (dribble, 4, first)],
        );
        let c = cue(&a, "3 cuts");
        assert_eq!(c.when, expected, "{}", c.evidence);
    }
}

/// A dribble is no event one sees well in tracks: where its moment is uncertain or nobody saw it, it began
/// when the holder set out the declared way, and without the ball in his hands it did not.
#[test]
fn a_dribble_seen_badly_began_when_the_holder_set_out() {
    let g = dribbled_in();
    let (release, catch) = due(&g, "1 passes");
    let dribble = due(&g, "5 dribbles").0;
    let post = *g.nodes[1].motion.roles[2].last().unwrap();
    let w = world(&g, &[(2, vec![go(dribble + 0.3, 1.8, post)])]);
    let holder = w.players[4];
    let pass = w.pass(0, 4, release, catch);
    let said = |off: Option<f64>, holds: bool| {
        let mut events = vec![pass.clone()];
        events.extend(off.map(|off| {
            let kind = EventKind::DribbleStart {
                player: holder,
                sd_s: 0.3,
            };
            (dribble + off, 4, kind)
        }));
        let mut story = w.story(events);
        story.spells.extend(holds.then_some(Spell {
            player: holder,
            from_s: catch,
            to_s: dribble + 4.0,
        }));
        let reading = w.reading(&g, &spans(&g), Verdict::Ran);
        let (session, here) = (w.session(), [w.possession()]);
        let params = ValidParams::default();
        cue(
            &audit(&session, &g, &story, &here, &[reading], &params),
            "3 cuts",
        )
        .clone()
    };
    for c in [
        said(Some(0.35), true),
        said(Some(-0.35), true),
        said(None, true),
    ] {
        assert!((c.cue_s.unwrap() - dribble).abs() < 0.15, "{}", c.evidence);
        assert_eq!(c.when, When::OnTime, "{}", c.evidence);
    }
    let c = said(None, false);
    assert_eq!(c.when, When::CannotTell);
    assert!(c.evidence.contains("was not seen"), "{}", c.evidence);
}

/// A screen meant to end in a post-up is set inside the lane: outside it the screener ends about
/// two feet (0.6 m) off the lane.
#[test]
fn the_screen_for_a_post_up_is_set_inside_the_lane() {
    let g = lantern(
        r#"[["1 dribbles to right slot", "5 screens for 2 at left block inside lane", "2 cuts to top off 5"]]"#,
        "[]",
    );
    let (from, to) = due(&g, "5 screens");
    // The lane is 4.90 m wide (FIBA Official Basketball Rules, Art. 2).
    let edge = 4.90 / 2.0;
    for (y, expected) in [(-(edge - 0.5), Kept::Yes), (-(edge + 0.6), Kept::No)] {
        let place = AttackPoint::new(2.6, y);
        let w = world(&g, &[(4, vec![go(from, (to - from).max(0.9), place)])]);
        let screen = EventKind::Screen {
            screener: w.players[4],
            user: w.players[1],
            screened: None,
            set: true,
            stood: None,
            angle: 0.0,
        };
        let set = to.max(from + 1.0) + 0.4;
        let a = judged(&g, &w, vec![(set, 4, screen)]);
        let p = placed(&a, ": inside the lane");
        assert_eq!(p.kept, expected, "{}", p.evidence);
        let off = -edge - y;
        assert!((p.off_by.unwrap() - off).abs() < 0.15, "{}", p.evidence);
    }
}

/// A guard who makes room flattens all the way to the corner, which leaves the lane free with three
/// players on the other side.
#[test]
fn who_makes_room_flattens_all_the_way() {
    let g = lantern(
        r#"[["1 dribbles to right wing", "3 flattens to right corner"]]"#,
        r#"["lane clear of 1 2 3 4", "ball side at most 2"]"#,
    );
    let (from, to) = due(&g, "3 flattens");
    let corner = *g.nodes[0].motion.roles[2].last().unwrap();
    let lane = AttackPoint::new(2.6, 1.0);
    let over = AttackPoint::new(8.0, 2.0);
    let flat = (2, vec![go(from, (to - from).max(1.2), corner)]);
    for (others, room, three) in [
        (vec![flat.clone()], Kept::Yes, Kept::Yes),
        (vec![(2, vec![go(from, 1.2, lane)])], Kept::No, Kept::Yes),
        (
            vec![flat, (1, vec![go(from, 1.6, over)])],
            Kept::Yes,
            Kept::No,
        ),
    ] {
        let mut w = world(&g, &others);
        w.ball = Some(w.courses[0].clone());
        let a = judged(&g, &w, vec![]);
        let (clear, side) = (placed(&a, "lane clear"), placed(&a, "ball side"));
        assert_eq!(clear.kept, room, "{}", clear.evidence);
        assert_eq!(side.kept, three, "{}", side.evidence);
    }
}

/// A reset ends wide and high: everyone at a perimeter or high spot before anything new starts.
#[test]
fn a_reset_ends_wide_and_high() {
    let g = lantern(
        r#"[["1 dribbles to top", "5 lifts to right slot above right elbow", "4 lifts to left slot above left elbow"]]"#,
        r#"["lane clear of 1 2 3 4 5", "spacing at least 2.5 m among 2 3 4 5"]"#,
    );
    let from = due(&g, "5 lifts").0;
    for (others, expected) in [
        (vec![], Kept::Yes),
        (
            vec![(4, vec![go(from, 1.4, AttackPoint::new(2.4, -0.6))])],
            Kept::No,
        ),
    ] {
        let w = world(&g, &others);
        let a = judged(&g, &w, vec![]);
        for text in [
            "lane clear",
            "5 lifts to right slot above right elbow: above",
        ] {
            let p = placed(&a, text);
            assert_eq!(p.kept, expected, "{text}: {}", p.evidence);
        }
        assert_eq!(
            placed(&a, "4 lifts to left slot above left elbow: above").kept,
            Kept::Yes
        );
    }
}

//! A small playbook graph made by hand, and a cast for it.
#![allow(dead_code, clippy::unwrap_used)]

use setdrift_court::{AttackPoint, Court, LengthUnit, Zone, spot};
use setdrift_playbook::graph::*;
use setdrift_simulate::{Occasion, SimPlayer};

pub fn at(name: &str) -> AttackPoint {
    spot(&Court::fiba(), name).unwrap().1
}

/// Moves each role evenly along its points over the step.
fn motion(
    start: &[AttackPoint],
    moves: &[(usize, Vec<AttackPoint>)],
    ball: [usize; 2],
    n: usize,
) -> Motion {
    let mut roles = Vec::new();
    for (r, s) in start.iter().enumerate() {
        let mut pts = vec![*s];
        if let Some((_, m)) = moves.iter().find(|(k, _)| *k == r) {
            pts.extend(m);
        }
        let legs = pts.len() - 1;
        let row = (0..n)
            .map(|f| {
                if legs == 0 {
                    return pts[0];
                }
                let u = f as f64 / (n - 1) as f64;
                // Minimum jerk over the whole way (Flash & Hogan 1985).
                let s = u * u * u * (10.0 - 15.0 * u + 6.0 * u * u) * legs as f64;
                let k = (s as usize).min(legs - 1);
                pts[k].lerp(pts[k + 1], s - k as f64)
            })
            .collect();
        roles.push(row);
    }
    let ball = (0..n)
        .map(|f| {
            let who = if f * 2 < n { ball[0] } else { ball[1] };
            let row: &Vec<AttackPoint> = &roles[who];
            row[f]
        })
        .collect();
    Motion {
        tolerance: vec![1.2; start.len()],
        roles,
        ball,
    }
}

fn act(role: usize, kind: ActionKind, from: usize, to: usize, cue: Option<Cue>) -> Action {
    Action {
        role,
        kind,
        from,
        to,
        cue,
        placements: vec![],
        text: String::new(),
    }
}

/// Two options of two steps and a reset: `zip` (dribble, screen, cut on the dribble, pass),
/// `back` (back cut on the pass, hand-off), `reset`.
pub fn graph() -> Graph {
    let four = vec![
        at("top"),
        at("left block"),
        at("right wing"),
        at("right corner"),
        at("left elbow"),
    ];
    let mut nodes = Vec::new();
    let cue = |role, event, to_s| {
        Some(Cue {
            role,
            event,
            from_s: 0.0,
            to_s,
        })
    };
    // zip 1
    let lw = at("left wing");
    let scr = AttackPoint::new(4.2, -2.0);
    let mut m = motion(
        &four,
        &[
            (0, vec![lw]),
            (4, vec![scr]),
            (1, vec![AttackPoint::new(4.6, -1.4), at("top")]),
        ],
        [0, 0],
        25,
    );
    for r in &mut m.roles[1][..6] {
        *r = four[1];
    }
    let mut screen = act(4, ActionKind::Screen { user: 1, at: scr }, 0, 12, None);
    screen.placements = vec![Placement::Inside(Zone::Lane)];
    nodes.push(Node {
        option: 0,
        step: 0,
        last: false,
        motion: m,
        actions: vec![
            act(0, ActionKind::Dribble { to: lw, at: None }, 0, 18, None),
            screen,
            act(
                1,
                ActionKind::Cut {
                    kind: CutKind::Cut,
                    path: vec![at("top")],
                    off: Some(4),
                },
                6,
                24,
                cue(0, CueEvent::Dribbles, 0.6),
            ),
        ],
    });
    let s2 = vec![lw, at("top"), at("right wing"), at("right corner"), scr];
    let m = motion(&s2, &[(4, vec![at("left block")])], [0, 1], 15);
    nodes.push(Node {
        option: 0,
        step: 1,
        last: true,
        motion: m,
        actions: vec![
            act(
                0,
                ActionKind::Pass {
                    to: 1,
                    kind: PassKind::Any,
                },
                3,
                8,
                None,
            ),
            act(
                4,
                ActionKind::Leave {
                    kind: LeaveKind::Roll,
                    to: at("left block"),
                },
                2,
                14,
                None,
            ),
        ],
    });
    // back 1: 2 passes to 3 on the wing, 4 back cuts on the pass from the corner to the far block.
    let s3 = vec![
        lw,
        at("top"),
        at("right wing"),
        at("right corner"),
        at("left block"),
    ];
    let rb = at("right block");
    let mut m = motion(
        &s3,
        &[(3, vec![rb]), (0, vec![at("left corner")])],
        [1, 2],
        22,
    );
    for r in &mut m.roles[3][..6] {
        *r = s3[3];
    }
    let cut = act(
        3,
        ActionKind::Cut {
            kind: CutKind::BackCut,
            path: vec![rb],
            off: None,
        },
        6,
        21,
        cue(1, CueEvent::Passes, 0.5),
    );
    nodes.push(Node {
        option: 1,
        step: 0,
        last: false,
        motion: m,
        actions: vec![
            act(
                1,
                ActionKind::Pass {
                    to: 2,
                    kind: PassKind::Any,
                },
                2,
                8,
                None,
            ),
            cut,
            act(
                0,
                ActionKind::Cut {
                    kind: CutKind::Flatten,
                    path: vec![at("left corner")],
                    off: None,
                },
                0,
                20,
                None,
            ),
        ],
    });
    // back 2: 2 comes for a hand-off from 3.
    let s4 = vec![
        at("left corner"),
        at("top"),
        at("right wing"),
        rb,
        at("left block"),
    ];
    let hand = AttackPoint::new(5.6, 5.6);
    let m = motion(&s4, &[(1, vec![hand, at("right corner")])], [2, 1], 28);
    nodes.push(Node {
        option: 1,
        step: 1,
        last: true,
        motion: m,
        actions: vec![
            act(
                1,
                ActionKind::Cut {
                    kind: CutKind::Cut,
                    path: vec![hand, at("right corner")],
                    off: None,
                },
                0,
                27,
                None,
            ),
            act(2, ActionKind::HandOff { to: 1 }, 10, 14, None),
        ],
    });
    // reset: all to the formation, 2 (ball in the corner) dribbles to the top.
    let s5 = vec![
        at("left corner"),
        at("right corner"),
        at("right wing"),
        rb,
        at("left block"),
    ];
    let m = motion(
        &s5,
        &[
            (1, vec![AttackPoint::new(6.5, 3.5), at("top")]),
            (0, vec![at("left block")]),
            (3, vec![at("right corner")]),
            (4, vec![at("left elbow")]),
        ],
        [1, 1],
        35,
    );
    nodes.push(Node {
        option: 2,
        step: 0,
        last: true,
        motion: m,
        actions: vec![act(
            1,
            ActionKind::Dribble {
                to: at("top"),
                at: None,
            },
            0,
            34,
            None,
        )],
    });
    let option = |id: &str, steps, returns: Option<&str>| PlayOption {
        id: id.into(),
        title: id.into(),
        series: None,
        steps,
        expect: vec![],
        returns: returns.map(Into::into),
        read: None,
    };
    let edge = |from, to| Edge {
        from,
        to,
        refill: None,
    };
    Graph {
        name: "Test".into(),
        court: Court::fiba(),
        unit: LengthUnit::Metre,
        roles: ["1", "2", "3", "4", "5"].map(Into::into).to_vec(),
        formations: vec![Formation {
            name: "four-out".into(),
            places: four,
            ball: Some(0),
        }],
        options: vec![
            option("zip", 2, None),
            option("back", 2, None),
            option("reset", 1, Some("four-out")),
        ],
        nodes,
        edges: vec![
            edge(0, 1),
            edge(1, 2),
            edge(2, 3),
            edge(3, 4),
            Edge {
                from: 4,
                to: 0,
                refill: Some(vec![1, 0, 2, 3, 4]),
            },
        ],
        starts: vec![0],
        declared: Declared::default(),
    }
}

pub fn occasion() -> Occasion {
    let mut players = Vec::new();
    for team in 0..2 {
        for k in 0..8 {
            let roles: Vec<String> = if team == 0 {
                [
                    &["1", "2"][..],
                    &["1", "2"],
                    &["2", "3"],
                    &["2", "3"],
                    &["3", "4"],
                    &["3", "4"],
                    &["4", "5"],
                    &["4", "5"],
                ][k]
                    .iter()
                    .map(|r| (*r).to_owned())
                    .collect()
            } else {
                vec![]
            };
            players.push(SimPlayer {
                id: format!("{}{k}", ["h", "o"][team]),
                team,
                number: format!("{}", 3 + k),
                name: String::new(),
                roles,
            });
        }
    }
    Occasion {
        id: "s".into(),
        date: "2026-10-03".into(),
        teams: [("h".into(), "Home".into()), ("o".into(), "Others".into())],
        players,
    }
}

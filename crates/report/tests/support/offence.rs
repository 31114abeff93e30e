//! The hand-made offence of the support module: two options with reference motion.

use setdrift_court::{AttackPoint, Court, LengthUnit, spot};
use setdrift_playbook::graph::{
    Action, ActionKind, Cue, CueEvent, CutKind, Declared, Edge, Expectation, ExpectationKind,
    Formation, Graph, Motion, Node, PassKind, Placement, PlayOption,
};

pub(super) fn at(name: &str) -> AttackPoint {
    spot(&Court::fiba(), name).expect("a known spot").1
}

/// Even speed through the points, `frames` samples.
fn along(points: &[AttackPoint], frames: usize) -> Vec<AttackPoint> {
    let legs: Vec<f64> = points.windows(2).map(|w| w[0].distance(w[1])).collect();
    let whole: f64 = legs.iter().sum();
    (0..frames)
        .map(|f| {
            let t = f as f64 / (frames - 1) as f64;
            let ease = t * t * (3.0 - 2.0 * t);
            let mut left = ease * whole;
            for (i, leg) in legs.iter().enumerate() {
                if left <= *leg || i + 1 == legs.len() {
                    let share = if *leg > 0.0 {
                        (left / leg).min(1.0)
                    } else {
                        0.0
                    };
                    return points[i].lerp(points[i + 1], share);
                }
                left -= leg;
            }
            points[0]
        })
        .collect()
}

fn hold(p: AttackPoint, frames: usize) -> Vec<AttackPoint> {
    vec![p; frames]
}

/// A path that waits, goes, and waits.
fn go(
    from: AttackPoint,
    to: AttackPoint,
    start: usize,
    end: usize,
    frames: usize,
) -> Vec<AttackPoint> {
    let mut v = hold(from, start);
    v.extend(along(&[from, to], end - start + 1));
    v.extend(hold(to, frames.saturating_sub(end + 1)));
    v
}

fn action(role: usize, kind: ActionKind, from: usize, to: usize, text: &str) -> Action {
    Action {
        role,
        kind,
        from,
        to,
        cue: None,
        placements: vec![],
        text: text.to_owned(),
    }
}

/// The invented club's offence, two options of it and one that nobody runs.
pub fn graph() -> Graph {
    let n = 26;
    let (top, lw, rw) = (at("top"), at("left wing"), at("right wing"));
    let (rc, lb, le, ls) = (
        at("right corner"),
        at("left block"),
        at("left elbow"),
        at("left slot"),
    );
    let dribble = go(top, lw, 2, 20, n);
    let first = Node {
        option: 0,
        step: 0,
        last: false,
        motion: Motion {
            roles: vec![
                dribble.clone(),
                go(lb, top, 7, 24, n),
                hold(rw, n),
                hold(rc, n),
                hold(le, n),
            ],
            ball: dribble,
            tolerance: vec![1.2, 1.2, 1.5, 1.5, 1.0],
        },
        actions: vec![
            action(
                0,
                ActionKind::Dribble { to: lw, at: None },
                2,
                20,
                "1 dribbles to left wing",
            ),
            Action {
                placements: vec![Placement::Inside(setdrift_court::Zone::Lane)],
                ..action(
                    4,
                    ActionKind::Screen { user: 1, at: le },
                    6,
                    18,
                    "5 screens for 2 at left elbow inside lane",
                )
            },
            Action {
                cue: Some(Cue {
                    role: 0,
                    event: CueEvent::Dribbles,
                    from_s: 0.0,
                    to_s: 0.5,
                }),
                ..action(
                    1,
                    ActionKind::Cut {
                        kind: CutKind::Cut,
                        path: vec![top],
                        off: Some(4),
                    },
                    7,
                    24,
                    "2 cuts to top off 5 when 1 dribbles within 0.5 s",
                )
            },
        ],
    };
    let m = 16;
    let pass = go(lw, top, 2, 9, m);
    let second = Node {
        option: 0,
        step: 1,
        last: true,
        motion: Motion {
            roles: vec![
                hold(lw, m),
                hold(top, m),
                hold(rw, m),
                hold(rc, m),
                go(le, lb, 4, 14, m),
            ],
            ball: pass,
            tolerance: vec![1.2; 5],
        },
        actions: vec![
            action(
                0,
                ActionKind::Pass {
                    to: 1,
                    kind: PassKind::Any,
                },
                2,
                9,
                "1 passes to 2",
            ),
            action(
                4,
                ActionKind::Leave {
                    kind: setdrift_playbook::graph::LeaveKind::Roll,
                    to: lb,
                },
                4,
                14,
                "5 rolls to left block",
            ),
        ],
    };
    let k = 22;
    let mut ball = hold(top, 8);
    ball.extend(along(&[top, rw], 8));
    ball.extend(hold(rw, k - 16));
    let flare = Node {
        option: 1,
        step: 0,
        last: true,
        motion: Motion {
            roles: vec![
                go(lw, ls, 3, 16, k),
                hold(top, k),
                hold(rw, k),
                go(rc, at("right short corner"), 6, 18, k),
                hold(lb, k),
            ],
            ball,
            tolerance: vec![1.5; 5],
        },
        actions: vec![
            action(
                1,
                ActionKind::Pass {
                    to: 2,
                    kind: PassKind::Any,
                },
                8,
                15,
                "2 passes to 3",
            ),
            Action {
                cue: Some(Cue {
                    role: 2,
                    event: CueEvent::Catches,
                    from_s: -0.2,
                    to_s: 0.4,
                }),
                ..action(
                    3,
                    ActionKind::Cut {
                        kind: CutKind::Cut,
                        path: vec![at("right short corner")],
                        off: None,
                    },
                    6,
                    18,
                    "4 cuts to right short corner when 3 catches",
                )
            },
            action(
                0,
                ActionKind::Cut {
                    kind: CutKind::Replace,
                    path: vec![ls],
                    off: None,
                },
                3,
                16,
                "1 replaces at left slot",
            ),
        ],
    };
    let mut never = flare.clone();
    never.option = 2;
    let option = |id: &str, title: &str, steps: usize| PlayOption {
        id: id.into(),
        title: title.into(),
        series: None,
        steps,
        expect: vec![],
        returns: None,
        read: None,
    };
    let mut zipper = option("zipper", "Zipper entry", 2);
    zipper.series = Some("zipper".into());
    zipper.expect = vec![Expectation {
        kind: ExpectationKind::Spacing {
            least: 3.6,
            roles: vec![0, 1, 2, 3],
        },
        text: "spacing at least 12 ft among 1 2 3 4".into(),
    }];
    let mut flare_option = option("flare", "Flare", 1);
    flare_option.read = Some("the defender of 2 follows over the top".into());
    Graph {
        name: "Lantern".into(),
        court: Court::fiba(),
        unit: LengthUnit::Foot,
        roles: ["1", "2", "3", "4", "5"].map(String::from).to_vec(),
        formations: vec![Formation {
            name: "four-out".into(),
            places: vec![top, lb, rw, rc, le],
            ball: Some(0),
        }],
        options: vec![zipper, flare_option, option("hand-back", "Hand-back", 1)],
        nodes: vec![first, second, flare, never],
        edges: vec![
            Edge {
                from: 0,
                to: 1,
                refill: None,
            },
            Edge {
                from: 1,
                to: 2,
                refill: None,
            },
        ],
        starts: vec![0],
        declared: Declared::default(),
    }
}

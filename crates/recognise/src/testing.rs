//! A small offence and tracks for it, for the tests beneath the modules.

use setdrift_court::{AttackPoint, Court, End, LengthUnit};
use setdrift_events::model::{Outcome, Pace, Possession, Source, Start};
use setdrift_playbook::graph::{
    Action, ActionKind, Declared, Edge, Formation, Graph, Motion, Node, PassKind, PlayOption,
};
use setdrift_tracks::{
    EndSpan, Known, OutcomeKind, Player, Session, SessionKind, SessionParts, Team, Track,
};

/// Places of three roles and the ball, `(x, y)` in the attack frame.
pub type Shot = [(f64, f64); 4];

pub const SET: Shot = [(9.0, 0.0), (6.0, -6.0), (6.0, 6.0), (9.0, 0.0)];
/// 1 passes to 2 and cuts to the rim.
pub const CUT: Shot = [(2.0, -1.0), (6.0, -6.0), (6.0, 6.0), (6.0, -6.0)];
/// Then 3 fills the top.
pub const FILLED: Shot = [(2.0, -1.0), (6.0, -6.0), (9.0, 0.5), (6.0, -6.0)];
/// Or 2 dribbles to the top and 1 clears to the far corner.
pub const CLEARED: Shot = [(1.2, 6.8), (8.5, -1.5), (6.0, 6.0), (8.5, -1.5)];

/// Frames of a step at 10 Hz.
pub const STEP: usize = 21;

fn at(p: (f64, f64)) -> AttackPoint {
    AttackPoint::new(p.0, p.1)
}

fn smooth(t: f64) -> f64 {
    t * t * t * (10.0 + t * (6.0 * t - 15.0))
}

pub fn between(a: &Shot, b: &Shot, t: f64) -> [AttackPoint; 4] {
    std::array::from_fn(|i| at(a[i]).lerp(at(b[i]), smooth(t)))
}

fn node(option: usize, step: usize, last: bool, a: &Shot, b: &Shot) -> Node {
    let frames: Vec<[AttackPoint; 4]> = (0..STEP)
        .map(|f| between(a, b, f as f64 / (STEP - 1) as f64))
        .collect();
    let row = |i: usize| frames.iter().map(|f| f[i]).collect::<Vec<_>>();
    let pass = Action {
        role: 0,
        kind: ActionKind::Pass {
            to: 1,
            kind: PassKind::Any,
        },
        from: 0,
        to: 8,
        cue: None,
        placements: vec![],
        text: "1 passes to 2".into(),
    };
    Node {
        option,
        step,
        last,
        motion: Motion {
            roles: (0..3).map(row).collect(),
            ball: row(3),
            tolerance: vec![1.2; 3],
        },
        actions: if a == &SET { vec![pass] } else { vec![] },
    }
}

/// Options `fill` (cut, then fill) and `clear` (cut, then clear) that share their beginning.
pub fn graph() -> Graph {
    Graph {
        name: "Test".into(),
        court: Court::fiba(),
        unit: LengthUnit::Foot,
        roles: vec!["1".into(), "2".into(), "3".into()],
        formations: vec![Formation {
            name: "three-out".into(),
            places: SET[..3].iter().map(|p| at(*p)).collect(),
            ball: Some(0),
        }],
        options: vec![option("fill"), option("clear")],
        nodes: vec![
            node(0, 0, false, &SET, &CUT),
            node(0, 1, true, &CUT, &FILLED),
            node(1, 0, false, &SET, &CUT),
            node(1, 1, true, &CUT, &CLEARED),
        ],
        edges: vec![
            Edge {
                from: 0,
                to: 1,
                refill: None,
            },
            Edge {
                from: 2,
                to: 3,
                refill: None,
            },
            // After `fill`, 3 is the new 1, 2 stays, 1 comes out as the new 3.
            Edge {
                from: 1,
                to: 0,
                refill: Some(vec![2, 1, 0]),
            },
            Edge {
                from: 1,
                to: 2,
                refill: Some(vec![2, 1, 0]),
            },
        ],
        starts: vec![0, 2],
        declared: Declared::default(),
    }
}

/// Tracks at 10 Hz from a list of per-frame places; row `i` of the session is role `order[i]`.
pub fn session(frames: &[[Option<AttackPoint>; 4]], order: [usize; 3]) -> (Session, Possession) {
    let court = Court::fiba();
    let track = |i: usize| {
        let mut t = Track::default();
        for f in frames {
            let p = f[i].map(|p| p.to_court(&court, End::Right));
            t.x.push(p.map_or(0.0, |p| p.x));
            t.y.push(p.map_or(0.0, |p| p.y));
            t.known.push(if p.is_some() {
                Known::Measured
            } else {
                Known::Unknown
            });
        }
        t
    };
    let to_s = (frames.len() - 1) as f64 / 10.0;
    let session = Session::new(SessionParts {
        id: "test".into(),
        date: None,
        kind: SessionKind::Practice,
        opponent: None,
        rate_hz: 10.0,
        start_s: 0.0,
        teams: vec![Team {
            id: "a".into(),
            name: "A".into(),
        }],
        players: (0..3)
            .map(|i| Player {
                id: format!("p{i}"),
                team: 0,
                number: None,
                name: None,
                roles: vec![],
            })
            .collect(),
        tracks: order.iter().map(|r| track(*r)).collect(),
        ball: Some(track(3)),
        ends: vec![EndSpan {
            from_s: 0.0,
            to_s: to_s + 1.0,
            end: End::Right,
        }],
        court: court.clone(),
    })
    .unwrap();
    let possession = Possession {
        number: 1,
        from_s: 0.0,
        to_s,
        team: 0,
        end: End::Right,
        attackers: vec![0, 1, 2],
        defenders: vec![],
        set_s: Some(0.0),
        start: Start::Repetition,
        result: Outcome {
            kind: OutcomeKind::Unknown,
            points: None,
            source: Source::Inferred,
        },
        second_chances: 0,
        pace: Pace::Unknown,
    };
    (session, possession)
}

/// Plays through shots, `seconds[i]` from shot `i` to `i + 1`, after a hold of one second.
pub fn play(shots: &[Shot], seconds: &[f64]) -> Vec<[Option<AttackPoint>; 4]> {
    let mut frames = vec![between(&shots[0], &shots[0], 0.0).map(Some); 10];
    for (pair, s) in shots.windows(2).zip(seconds) {
        let n = (s * 10.0) as usize;
        for f in 1..=n {
            frames.push(between(&pair[0], &pair[1], f as f64 / n as f64).map(Some));
        }
    }
    frames
}

fn option(id: &str) -> PlayOption {
    PlayOption {
        id: id.into(),
        title: id.into(),
        series: None,
        steps: 2,
        expect: vec![],
        returns: None,
        read: None,
    }
}

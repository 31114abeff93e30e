//! A role that drifts is found, with its direction and pace; roles that do not are left alone.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

mod planted;

use planted::Rng;
use setdrift_court::{AttackPoint, End};
use setdrift_drift::model::RoleDrift;
use setdrift_drift::{DriftParams, Error, SessionRuns, role_drift, stretches};
use setdrift_events::model::{
    BallStory, Event, EventKind, Outcome, Pace, Possession, Source, Spell, Start,
};
use setdrift_playbook::graph::{Graph, RATE_HZ};
use setdrift_recognise::model::{Hand, Reading, Run, Segment, StepRun, Verdict, What};
use setdrift_tracks::{
    EndSpan, Known, OutcomeKind, Player, Session, SessionKind, SessionParts, Team, Track,
};

const BOOK: &str = r#"
name  = "Lantern"
court = "fiba"
units = "ft"

[formations.four-out]
1 = "top"
2 = "left wing"
3 = "right wing"
4 = "right corner"
5 = "left block"
ball = 1

[options.flare]
title = "Flare"
after = ["four-out"]
steps = [
  ["1 passes to 3", "5 screens for 2 at left elbow"],
  ["2 cuts to left corner", "3 dribbles to right slot"],
]
"#;

const RATE: f64 = 25.0;

/// What is done to a run besides its declared motion.
type Shift<'a> = &'a dyn Fn(usize, usize, &str) -> [f64; 2];

/// A session of `runs` runs of the first option, ten seconds apart, both hands and both ends.
///
/// `shift(session, step, role name)` is how far the role is off, out and to the right, metres.
fn session(
    graph: &Graph,
    number: usize,
    runs: usize,
    rng: &mut Rng,
    shift: Shift<'_>,
) -> (Session, Vec<Possession>, Vec<Reading>) {
    let frames = (runs as f64 * 12.0 * RATE) as usize;
    let players: Vec<Player> = (0..6)
        .map(|p| Player {
            id: format!("p{p}"),
            team: 0,
            number: None,
            name: None,
            roles: Vec::new(),
        })
        .collect();
    let mut tracks = vec![
        Track {
            x: vec![0.0; frames],
            y: vec![0.0; frames],
            z: None,
            known: vec![Known::Unknown; frames],
        };
        6
    ];
    let court = graph.court.clone();
    let (mut possessions, mut readings) = (Vec::new(), Vec::new());
    let nodes: Vec<usize> = (0..2)
        .map(|step| graph.nodes_of(0, step).next().unwrap())
        .collect();
    for run in 0..runs {
        let hand = if rng.unit() < 0.4 {
            Hand::Left
        } else {
            Hand::Right
        };
        let end = if rng.unit() < 0.5 {
            End::Left
        } else {
            End::Right
        };
        let mut order: Vec<usize> = (0..6).collect();
        for i in (1..6).rev() {
            order.swap(i, rng.below(i + 1));
        }
        let from_s = run as f64 * 12.0 + rng.between(0.5, 2.0);
        let tempo = rng.between(0.85, 1.2);
        let mut steps = Vec::new();
        let mut t = from_s;
        let misses: Vec<[f64; 2]> = (0..5)
            .map(|_| [0.4 * rng.normal(), 0.4 * rng.normal()])
            .collect();
        for (step, &node) in nodes.iter().enumerate() {
            let motion = &graph.nodes[node].motion;
            let to_s = t + motion.duration_s() * tempo;
            let mut path = Vec::new();
            for frame in (t * RATE).ceil() as usize..=(to_s * RATE).floor() as usize {
                let time_s = frame as f64 / RATE;
                let at = ((time_s - t) / tempo * RATE_HZ).min((motion.frames() - 1) as f64);
                for (role, miss) in misses.iter().enumerate() {
                    let low = at.floor() as usize;
                    let high = (low + 1).min(motion.frames() - 1);
                    let place = motion.roles[role][low].lerp(motion.roles[role][high], at.fract());
                    let off = shift(number, step, &graph.roles[role]);
                    let place = AttackPoint::new(
                        place.x + off[0] + miss[0] + 0.08 * rng.normal(),
                        place.y + off[1] + miss[1] + 0.08 * rng.normal(),
                    );
                    let place = if hand == Hand::Left {
                        place.mirrored()
                    } else {
                        place
                    };
                    let place = place.to_court(&court, end);
                    let track = &mut tracks[order[role]];
                    track.x[frame] = place.x;
                    track.y[frame] = place.y;
                    track.known[frame] = Known::Measured;
                }
                // The recogniser works at the rate of the reference.
                if (frame as f64 * RATE_HZ / RATE).fract() < 0.39 {
                    path.push((time_s, at.round() as u32));
                }
            }
            steps.push(StepRun {
                node,
                from_s: t,
                to_s,
                complete: true,
                path,
                deviation: vec![None; 5],
            });
            t = to_s;
        }
        possessions.push(possession(run + 1, from_s, t, end, (0..6).collect()));
        readings.push(Reading {
            possession: run + 1,
            segments: vec![Segment {
                from_s,
                to_s: t,
                what: What::Option(Box::new(Run {
                    option: 0,
                    hand,
                    players: order[..5].iter().copied().map(Some).collect(),
                    steps,
                    verdict: Verdict::Ran,
                    faults: Vec::new(),
                    cost: 0.0,
                    runner_up: None,
                    margin: 1.0,
                    confidence: 1.0,
                })),
            }],
            limits: Vec::new(),
        });
    }
    let session = Session::new(SessionParts {
        id: format!("game-{number}"),
        date: Some(format!("2026-10-{:02}", 3 + 7 * number)),
        kind: SessionKind::Game,
        opponent: None,
        court,
        rate_hz: RATE,
        start_s: 0.0,
        teams: vec![Team {
            id: "herons".into(),
            name: "Marrow Bay Herons".into(),
        }],
        players,
        tracks,
        ball: None,
        ends: Vec::<EndSpan>::new(),
    })
    .unwrap();
    (session, possessions, readings)
}

fn possession(
    number: usize,
    from_s: f64,
    to_s: f64,
    end: End,
    attackers: Vec<usize>,
) -> Possession {
    Possession {
        number,
        from_s,
        to_s,
        team: 0,
        end,
        attackers,
        defenders: Vec::new(),
        set_s: Some(from_s),
        start: Start::Unknown,
        result: Outcome {
            kind: OutcomeKind::Made,
            points: Some(2),
            source: Source::Given,
        },
        second_chances: 0,
        pace: Pace::HalfCourt,
    }
}

fn graph() -> Graph {
    setdrift_playbook::load_str(BOOK, "lantern.toml")
        .unwrap()
        .graph
}

type Played = (Session, Vec<Possession>, Vec<Reading>);

fn played(graph: &Graph, count: usize, seed: u64, shift: Shift<'_>) -> Vec<Played> {
    let mut rng = Rng(seed);
    (0..count)
        .map(|n| session(graph, n, 9, &mut rng, shift))
        .collect()
}

fn drift(graph: &Graph, count: usize, seed: u64, shift: Shift<'_>) -> Vec<RoleDrift> {
    drift_of(graph, &played(graph, count, seed, shift))
}

fn drift_of(graph: &Graph, all: &[Played]) -> Vec<RoleDrift> {
    // Given in the wrong order: dates decide.
    let runs: Vec<SessionRuns<'_>> = all
        .iter()
        .rev()
        .map(|(session, possessions, readings)| SessionRuns {
            session,
            possessions,
            readings,
        })
        .collect();
    role_drift(graph, &runs, &DriftParams::default().check().unwrap()).unwrap()
}

#[test]
fn a_role_that_moves_up_is_found_and_no_other() {
    let graph = graph();
    let found = drift(&graph, 3, 11, &|session, step, role| {
        if role == "4" && step == 0 {
            [0.4 + 0.45 * session as f64, 0.0]
        } else {
            [0.0, 0.0]
        }
    });
    assert_eq!(found.len(), 10);
    for r in &found {
        let drifts = r.role == "4" && r.step == 1;
        assert_eq!(
            r.finding.is_some(),
            drifts,
            "{} {}: {:?}",
            r.step,
            r.role,
            r.finding
        );
        let runs: Vec<_> = r
            .sessions
            .iter()
            .map(|s| (s.session.as_str(), s.runs))
            .collect();
        assert_eq!(runs, [("game-0", 9), ("game-1", 9), ("game-2", 9)]);
        if !drifts {
            continue;
        }
        let t = r.trend.unwrap();
        assert!(t.p <= t.q && t.q < 0.05, "{t:?}");
        // Standard error of the slope: 0.4 m over √(27 · 2/3) is 0.1 m.
        assert!(
            (t.out_m - 0.45).abs() < 0.3 && t.right_m.abs() < 0.3,
            "{t:?}"
        );
        for (k, s) in r.sessions.iter().enumerate() {
            let expected = 0.4 + 0.45 * k as f64;
            assert!((s.out_m - expected).abs() < 0.5, "{k}: {}", s.out_m);
            assert!((s.place.x - r.declared[r.frame].x - s.out_m).abs() < 1e-12);
            assert!(s.half_width_m.unwrap() < 0.7);
        }
        let line = r.finding.as_deref().unwrap();
        assert!(line.starts_with("right corner role 4 "), "{line}");
        assert!(
            line.contains(" ft higher in Flare, step 1, than declared"),
            "{line}"
        );
        assert!(line.contains("and has moved up 1."), "{line}");
        assert!(line.ends_with(" ft per session since 2026-10-03"), "{line}");
    }
}

/// The same season twice: once with six players throughout, once with six new ones every session.
/// Only in the first has anybody moved.
#[test]
fn a_change_that_comes_with_other_players_is_not_said_of_a_player() {
    let graph = graph();
    let mut all = played(&graph, 3, 11, &|session, step, role| {
        if role == "4" && step == 0 {
            [0.4 + 0.45 * session as f64, 0.0]
        } else {
            [0.0, 0.0]
        }
    });
    let line = |all: &[Played]| {
        let found = drift_of(&graph, all);
        let mut lines: Vec<String> = found.into_iter().filter_map(|r| r.finding).collect();
        assert_eq!(lines.len(), 1, "{lines:?}");
        lines.remove(0)
    };
    assert!(line(&all).contains("and has moved up 1."));
    for (number, (session, ..)) in all.iter_mut().enumerate() {
        let mut parts = (**session).clone();
        for p in &mut parts.players {
            p.id = format!("{}-{number}", p.id);
        }
        *session = Session::new(parts).unwrap();
    }
    let line = line(&all);
    assert!(
        line.starts_with("right corner role 4 ")
            && line.contains(" ft higher in Flare, step 1, than declared; the change since 2026-10-03 comes with who has the role (mostly p"),
        "{line}"
    );
    assert!(
        line.ends_with("in the last session), not with a player who has moved"),
        "{line}"
    );
}

#[test]
fn roles_that_only_vary_make_no_line() {
    let graph = graph();
    let false_lines: usize = (1..=8)
        .map(|seed| {
            let found = drift(&graph, 3, seed, &|_, _, _| [0.0, 0.0]);
            found.iter().filter(|r| r.finding.is_some()).count()
        })
        .sum();
    // Eight seasons without drift, each of ten roles and steps: at a level of 5 % fewer than one
    // in two has a false line, which then shows in both steps of the role.
    assert!(false_lines <= 2, "{false_lines}");
}

#[test]
fn one_odd_session_is_no_trend() {
    let graph = graph();
    let found = drift(&graph, 5, 3, &|session, _, role| {
        if role == "3" && session == 2 {
            [1.2, 0.0]
        } else {
            [0.0, 0.0]
        }
    });
    assert!(found.iter().all(|r| r.finding.is_none()), "{found:#?}");
}

#[test]
fn a_steady_difference_beyond_tolerance_is_a_line_of_its_own() {
    let graph = graph();
    let found = drift(&graph, 2, 5, &|_, step, role| {
        if role == "4" && step == 1 {
            [0.0, -3.0]
        } else {
            [0.0, 0.0]
        }
    });
    let lines: Vec<_> = found.iter().filter_map(|r| r.finding.clone()).collect();
    assert_eq!(lines.len(), 1, "{lines:?}");
    assert!(
        lines[0].contains("further left in Flare, step 2, than declared"),
        "{lines:?}"
    );
    assert!(
        lines[0].ends_with("on average of 18 runs in 2 sessions"),
        "{lines:?}"
    );
    let r = found.iter().find(|r| r.finding.is_some()).unwrap();
    let off = r.mean[r.frame].y - r.declared[r.frame].y;
    assert!((off + 3.0).abs() < 0.5, "{off}");
}

#[test]
fn readings_of_another_playbook_are_refused() {
    let graph = graph();
    let mut rng = Rng(3);
    let (s, p, mut r) = session(&graph, 0, 1, &mut rng, &|_, _, _| [0.0, 0.0]);
    let What::Option(run) = &mut r[0].segments[0].what else {
        panic!("a run");
    };
    run.steps[0].node = 99;
    let runs = [SessionRuns {
        session: &s,
        possessions: &p,
        readings: &r,
    }];
    let e = role_drift(&graph, &runs, &DriftParams::default().check().unwrap()).unwrap_err();
    assert!(
        matches!(
            e,
            Error::Foreign {
                what: "step",
                found: 99,
                ..
            }
        ),
        "{e}"
    );
}

/// A session whose off-script segments are cut where they should be.
#[test]
fn stretches_are_cut_to_the_set_team_and_the_shot() {
    let graph = graph();
    let mut rng = Rng(9);
    let (s, mut p, mut r) = session(&graph, 0, 4, &mut rng, &|_, _, _| [0.0, 0.0]);
    for (p, r) in p.iter_mut().zip(&mut r) {
        r.segments[0].what = What::OffScript;
        p.attackers
            .retain(|a| s.tracks[*a].at(s.frame_at(p.from_s + 1.0)).is_some());
    }
    // 1: whole; 2: set late, shot early; 3: the team never set; 4: over too soon.
    p[1].set_s = Some(p[1].from_s + 0.5);
    p[2].set_s = None;
    let shot = |at: f64, player: usize| Event {
        kind: EventKind::Shot {
            player,
            ring_s: at,
            made: None,
        },
        time_s: at,
        place: s.tracks[player].at(s.frame_at(at)).unwrap(),
        confidence: 1.0,
        evidence: String::new(),
    };
    let story = BallStory {
        spells: vec![Spell {
            player: p[1].attackers[0],
            from_s: p[1].from_s,
            to_s: p[1].to_s,
        }],
        events: vec![
            Event {
                kind: EventKind::HandOff {
                    from: p[1].attackers[1],
                    to: p[1].attackers[0],
                },
                ..shot(p[1].from_s + 1.0, p[1].attackers[1])
            },
            shot(p[1].from_s + 3.0, p[1].attackers[0]),
            shot(p[3].from_s + 1.0, p[3].attackers[0]),
        ],
        limits: Vec::new(),
    };
    let found = stretches(&s, &story, &p, &r);
    let numbers: Vec<_> = found.iter().map(|f| f.id.possession).collect();
    assert_eq!(numbers, [1, 2]);
    assert_eq!(found[0].players.len(), 5);
    assert!((found[1].from_s - p[1].from_s - 0.5).abs() < 1e-9);
    assert!((found[1].to_s - p[1].from_s - 3.0).abs() < 1e-9);
    assert_eq!(found[1].paths[0].len(), 26);
    assert_eq!(found[1].events, ["hand-off", "shot"]);
    assert_eq!(found[1].moves[0].frame, 5);
    assert_eq!(found[1].points, Some(2));
    // The attack frame: the players are where the session has them.
    let f = &found[0];
    for (row, id) in f.players.iter().enumerate() {
        let player = s.players.iter().position(|p| p.id == *id).unwrap();
        for k in [0, 5, 12] {
            let t = f.from_s + k as f64 / 10.0;
            let Some(here) = s.tracks[player].at(s.frame_at(t)) else {
                continue;
            };
            let Some(there) = f.paths[row][k] else {
                // The first sample falls before the first frame.
                assert_eq!(k, 0);
                continue;
            };
            let there = there.to_court(&s.court, p[0].end);
            assert!(here.distance(there) < 0.6, "{id} {k}");
        }
    }
    assert!(f.ball.is_empty());
}

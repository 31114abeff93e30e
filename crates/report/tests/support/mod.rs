//! A small, hand-made set of results: two options, one practice and any number of games. Nothing
//! here is computed by the stages; tests of the page must not depend on how good those are.

#![allow(
    dead_code,
    missing_docs,
    reason = "shared by tests and the example, each of which uses a part"
)]

mod offence;

use offence::at;
pub use offence::graph;

use setdrift_court::{AttackPoint, Court, End};
use setdrift_drift::model::{
    Fit, Group, Grouping, RoleDrift, SessionDrift, Stretch, StretchId, Trend,
};
use setdrift_events::model::{
    BallStory, Event, EventKind, Flight, Outcome, Pace, Possession, Source, Spell, Start,
};
use setdrift_playbook::graph::{Graph, RATE_HZ};
use setdrift_recognise::model::{Fault, Hand, Reading, Run, Segment, StepRun, Verdict, What};
use setdrift_season::results::{Coverage, Results, SessionResults};
use setdrift_timing::model::{Audit, CueCheck, Kept, LagSummary, Place, PlacementCheck, When};
use setdrift_tracks::{
    EndSpan, Known, OutcomeKind, Player, Session, SessionKind, SessionParts, Team, Track,
};

/// How much to make.
#[derive(Debug, Clone, Copy)]
pub struct Shape {
    pub games: usize,
    pub per_game: usize,
    pub reps: usize,
}

impl Shape {
    pub const SMALL: Self = Self {
        games: 1,
        per_game: 3,
        reps: 2,
    };
    /// As much as three games of ten minutes and a practice hold.
    pub const FULL: Self = Self {
        games: 3,
        per_game: 34,
        reps: 20,
    };
}

/// A small generator (Knuth's MMIX constants), so that the fixture needs no crate for it.
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }
    pub fn unit(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
    pub fn around(&mut self, spread: f64) -> f64 {
        (self.unit() + self.unit() + self.unit() - 1.5) * spread
    }
    pub fn below(&mut self, n: usize) -> usize {
        (self.unit() * n as f64) as usize
    }
}

fn roster() -> Vec<Player> {
    let ours = [
        ("4", "Odell"),
        ("7", "Pasko"),
        ("11", "Brandt"),
        ("15", "Mirel"),
        ("23", "Tamsin"),
    ];
    let theirs = ["3", "8", "10", "21", "32"];
    let mut v: Vec<Player> = ours
        .iter()
        .map(|(n, name)| Player {
            id: format!("herons-{n}"),
            team: 0,
            number: Some((*n).into()),
            name: Some((*name).into()),
            roles: vec![],
        })
        .collect();
    v.extend(theirs.iter().map(|n| Player {
        id: format!("otters-{n}"),
        team: 1,
        number: Some((*n).into()),
        name: None,
        roles: vec![],
    }));
    v
}

struct Making {
    court: Court,
    end: End,
    tracks: Vec<Track>,
    ball: Track,
    readings: Vec<Reading>,
    possessions: Vec<Possession>,
    story: BallStory,
    audit: Audit,
    stretches: Vec<Stretch>,
    session: String,
}

impl Making {
    fn frame(&mut self, five: &[AttackPoint], ball: Option<AttackPoint>, defended: bool) {
        for (i, p) in five.iter().enumerate() {
            let c = p.to_court(&self.court, self.end);
            push(&mut self.tracks[i], Some((c.x, c.y)));
            let guard = p.lerp(self.court.ring(), 0.22);
            let g = guard.to_court(&self.court, self.end);
            push(&mut self.tracks[5 + i], defended.then_some((g.x, g.y)));
        }
        let b = ball.map(|b| {
            let c = b.to_court(&self.court, self.end);
            (c.x, c.y)
        });
        push(&mut self.ball, b);
    }
}

fn push(t: &mut Track, p: Option<(f64, f64)>) {
    let (x, y) = p.unwrap_or((0.0, 0.0));
    t.x.push(x);
    t.y.push(y);
    t.known.push(if p.is_some() {
        Known::Measured
    } else {
        Known::Unknown
    });
}

/// One possession: the set, a zipper entry, perhaps a flare, perhaps something of their own.
#[allow(clippy::too_many_lines, reason = "one story told in order")]
fn possession(
    m: &mut Making,
    g: &Graph,
    number: usize,
    rate: f64,
    game: bool,
    dice: &mut Dice,
    late: f64,
) {
    let from = m.ball.len();
    let time = |f: usize| f as f64 / rate;
    let mut segments = Vec::new();
    let hand = if number % 4 == 3 {
        Hand::Left
    } else {
        Hand::Right
    };
    let flip = |p: AttackPoint| if hand == Hand::Left { p.mirrored() } else { p };
    let places = g.formations[0].places.clone();
    for _ in 0..(rate * 1.6) as usize {
        let five: Vec<AttackPoint> = places
            .iter()
            .map(|p| {
                flip(AttackPoint::new(
                    p.x + dice.around(0.1),
                    p.y + dice.around(0.1),
                ))
            })
            .collect();
        m.frame(&five, Some(five[0]), game);
    }
    segments.push(Segment {
        from_s: time(from),
        to_s: time(m.ball.len()),
        what: What::Set {
            formation: "four-out".into(),
        },
    });
    let breaks = number % 5 == 4;
    let plan: &[&[usize]] = if breaks {
        &[&[0]]
    } else if number.is_multiple_of(2) {
        &[&[0, 1], &[2]]
    } else {
        &[&[0, 1]]
    };
    let mut last = places;
    for nodes in plan {
        let seg_from = m.ball.len();
        let mut steps = Vec::new();
        for &node in *nodes {
            let step_from = m.ball.len();
            let motion = &g.nodes[node].motion;
            let tempo = 0.85 + 0.4 * dice.unit();
            let frames = (motion.frames() as f64 / RATE_HZ * rate * tempo) as usize;
            let mut path = Vec::new();
            for f in 0..frames {
                let r =
                    (f as f64 / (frames - 1).max(1) as f64 * (motion.frames() - 1) as f64) as usize;
                let mut five: Vec<AttackPoint> = motion
                    .roles
                    .iter()
                    .enumerate()
                    .map(|(role, row)| {
                        let behind = if role == 1 { (late * 4.0) as usize } else { 0 };
                        let p = row[r.saturating_sub(behind)];
                        let out = if role == 2 { late } else { 0.0 };
                        AttackPoint::new(p.x + out + dice.around(0.15), p.y + dice.around(0.15))
                    })
                    .collect();
                let ball = flip(motion.ball[r]);
                last.clone_from(&five);
                for p in &mut five {
                    *p = flip(*p);
                }
                path.push((time(m.ball.len()), r as u32));
                m.frame(&five, Some(ball), game);
            }
            steps.push(StepRun {
                node,
                from_s: time(step_from),
                to_s: time(m.ball.len()),
                complete: !breaks,
                path,
                deviation: vec![
                    Some(0.3),
                    Some(0.4 + late),
                    Some(late + 0.2),
                    None,
                    Some(0.2),
                ],
            });
        }
        let option = g.nodes[nodes[0]].option;
        let faulty = late > 0.6 && dice.unit() < 0.6;
        let step_from = time(seg_from);
        let verdict = if breaks {
            Verdict::BrokenOff { step: 1 }
        } else if faulty {
            Verdict::RanWithFaults
        } else {
            Verdict::Ran
        };
        let segment = segments.len();
        let place = |node, action| Place {
            possession: number,
            segment,
            node,
            action,
        };
        let lag = late + dice.around(0.4);
        let (window, role, node, act) = if option == 0 {
            ((0.0, 0.5), 1, 0, 2)
        } else {
            ((-0.2, 0.4), 3, 2, 1)
        };
        let when = if number % 9 == 8 {
            When::Never
        } else if lag < window.0 {
            When::Early
        } else if lag > window.1 {
            When::Late
        } else {
            When::OnTime
        };
        let cue = step_from + 0.4;
        let went = (when != When::Never).then_some(cue + lag);
        m.audit.cues.push(CueCheck {
            place: place(node, act),
            player: role,
            role,
            text: g.nodes[node].actions[act].text.clone(),
            cue_s: Some(cue),
            onset_s: went,
            lag_s: went.map(|w| w - cue),
            uncertainty_s: Some(0.06),
            window_s: window,
            when,
            jab_s: number.is_multiple_of(7).then_some(cue - 0.3),
            evidence: format!(
                "went {lag:.2} s after the cue, ± 0.06 s; the window is {} to {} s",
                window.0, window.1
            ),
        });
        if option == 0 {
            let off = dice.around(1.4);
            m.audit.placements.push(PlacementCheck {
                place: place(0, 1),
                player: Some(4),
                role: Some(4),
                text: g.nodes[0].actions[1].text.clone(),
                time_s: step_from + 1.2,
                at: Some(AttackPoint::new(5.6 + dice.around(0.6), -2.45 - off)),
                off_by: Some(off),
                kept: if off <= 0.0 { Kept::Yes } else { Kept::No },
                evidence: format!(
                    "5 stood {:.1} ft {} the lane line",
                    off.abs() / 0.3048,
                    if off <= 0.0 { "inside" } else { "outside" }
                ),
            });
        }
        segments.push(Segment {
            from_s: step_from,
            to_s: time(m.ball.len()),
            what: What::Option(Box::new(Run {
                option,
                hand,
                players: (0..5).map(Some).collect(),
                steps,
                verdict,
                faults: if faulty {
                    vec![Fault {
                        time_s: step_from + 1.0,
                        role: Some(2),
                        player: Some(2),
                        text: format!(
                            "3 was {:.1} ft above the right wing at the catch",
                            late / 0.3048
                        ),
                    }]
                } else {
                    vec![]
                },
                cost: 0.4 + dice.unit(),
                runner_up: Some(1 - option.min(1)),
                margin: 0.2 + 2.0 * dice.unit(),
                confidence: 0.55 + 0.44 * dice.unit(),
            })),
        });
    }
    if number.is_multiple_of(3) || breaks {
        let off_from = m.ball.len();
        let target = at("right block");
        let n = (rate * 3.0) as usize;
        let mut paths = vec![Vec::new(); 5];
        for f in 0..n {
            let t = f as f64 / n as f64;
            let five: Vec<AttackPoint> = last
                .iter()
                .enumerate()
                .map(|(i, p)| {
                    let q = if i == 2 { p.lerp(target, t) } else { *p };
                    AttackPoint::new(q.x + dice.around(0.2), q.y + dice.around(0.2))
                })
                .collect();
            let known = !(number.is_multiple_of(6) && f > n / 2);
            let flipped: Vec<AttackPoint> = five.iter().map(|p| flip(*p)).collect();
            if f % ((rate / 10.0) as usize).max(1) == 0 {
                for (row, p) in paths.iter_mut().zip(&flipped) {
                    row.push(Some(*p));
                }
            }
            m.frame(
                &flipped,
                known.then(|| flipped[1].lerp(flipped[2], t)),
                game,
            );
        }
        m.stretches.push(Stretch {
            id: StretchId {
                session: m.session.clone(),
                possession: number,
                segment: segments.len(),
            },
            from_s: time(off_from),
            to_s: time(m.ball.len()),
            players: (0..5).map(|i| roster()[i].id.clone()).collect(),
            ball: paths[2].clone(),
            paths,
            events: vec!["pass".into()],
            moves: vec![],
            points: Some(2 * (number % 2) as u32),
        });
        segments.push(Segment {
            from_s: time(off_from),
            to_s: time(m.ball.len()),
            what: What::OffScript,
        });
    }
    if number % 11 == 10 {
        let gap = m.ball.len();
        for _ in 0..(rate * 2.0) as usize {
            for t in m.tracks.iter_mut().chain(std::iter::once(&mut m.ball)) {
                push(t, None);
            }
        }
        segments.push(Segment {
            from_s: time(gap),
            to_s: time(m.ball.len()),
            what: What::NotEnoughData { missing: 0.97 },
        });
    }
    let to_s = time(m.ball.len());
    let start = segments[1].from_s;
    m.story.spells.push(Spell {
        player: 0,
        from_s: time(from),
        to_s: start + 2.2,
    });
    for (t, kind) in [
        (
            start + 0.4,
            EventKind::DribbleStart {
                player: 0,
                sd_s: 0.0,
            },
        ),
        (
            start + 2.2,
            EventKind::Pass {
                from: 0,
                to: 1,
                catch_s: start + 2.8,
                catch_place: at("top").to_court(&m.court, m.end),
                flight: Some(Flight::Chest),
            },
        ),
        (
            to_s - 0.2,
            EventKind::Shot {
                player: 2,
                ring_s: to_s,
                made: None,
            },
        ),
    ] {
        m.story.events.push(Event {
            kind,
            time_s: t,
            place: at("top").to_court(&m.court, m.end),
            confidence: 0.9,
            evidence: "ball 0.4 m from the hand".into(),
        });
    }
    m.readings.push(Reading {
        possession: number,
        segments,
        limits: if number % 11 == 10 {
            vec!["the last 2 s have no tracks".into()]
        } else {
            vec![]
        },
    });
    m.possessions.push(Possession {
        number,
        from_s: time(from),
        to_s,
        team: 0,
        end: m.end,
        attackers: (0..5).collect(),
        defenders: if game { (5..10).collect() } else { vec![] },
        set_s: Some(time(from)),
        start: if game {
            Start::DeadBall
        } else {
            Start::Repetition
        },
        second_chances: 0,
        pace: Pace::Unknown,
        result: Outcome {
            kind: match (game, number % 3) {
                (false, _) => OutcomeKind::Unknown,
                (true, 0) => OutcomeKind::Made,
                (true, 1) => OutcomeKind::Missed,
                (true, _) => OutcomeKind::Turnover,
            },
            points: game.then(|| if number.is_multiple_of(3) { 2 } else { 0 }),
            source: if game {
                Source::Given
            } else {
                Source::Inferred
            },
        },
    });
    // Between possessions nobody is looked at.
    for _ in 0..(rate * 2.0) as usize {
        for t in m.tracks.iter_mut().chain(std::iter::once(&mut m.ball)) {
            push(t, None);
        }
    }
}

fn session(
    g: &Graph,
    index: usize,
    game: bool,
    count: usize,
    late: f64,
) -> (SessionResults, Vec<Stretch>) {
    let rate = if game { 25.0 } else { 10.0 };
    let date = format!("2026-10-{:02}", 2 + 7 * index);
    let id = if game {
        format!("{date}-otters")
    } else {
        format!("{date}-practice")
    };
    let mut m = Making {
        court: g.court.clone(),
        end: if index.is_multiple_of(2) {
            End::Right
        } else {
            End::Left
        },
        tracks: vec![Track::default(); 10],
        ball: Track::default(),
        readings: vec![],
        possessions: vec![],
        story: BallStory::default(),
        audit: Audit::default(),
        stretches: vec![],
        session: id.clone(),
    };
    let mut dice = Dice::new(index as u64 + 1);
    for number in 1..=count {
        possession(&mut m, g, number, rate, game, &mut dice, late);
    }
    let end = m.end;
    let session = Session::new(SessionParts {
        id,
        date: Some(date),
        kind: if game {
            SessionKind::Game
        } else {
            SessionKind::Practice
        },
        opponent: game.then(|| "Quarry Lane Otters".into()),
        court: g.court.clone(),
        rate_hz: rate,
        start_s: 0.0,
        teams: vec![
            Team {
                id: "herons".into(),
                name: "Marrow Bay Herons".into(),
            },
            Team {
                id: "otters".into(),
                name: "Quarry Lane Otters".into(),
            },
        ],
        players: roster(),
        tracks: m.tracks,
        ball: Some(m.ball),
        ends: vec![EndSpan {
            from_s: 0.0,
            to_s: 1e6,
            end,
        }],
    })
    .expect("the fixture is a session");
    let stretches = m.stretches.clone();
    (
        SessionResults {
            quality: setdrift_tracks::Quality::of(&session),
            coverage: m
                .possessions
                .iter()
                .map(|p| Coverage::of(&session, (p.from_s, p.to_s), &p.attackers, 0))
                .collect(),
            session,
            story: m.story,
            possessions: m.possessions,
            readings: m.readings,
            audit: m.audit,
            limits: if game {
                vec!["the ball's height is not in the data: bounce and lob passes cannot be told apart".into()]
            } else {
                vec![
                    "no defenders in the data: screens are judged without the defender they hold"
                        .into(),
                ]
            },
        },
        stretches,
    )
}

fn lags(sessions: &[SessionResults], g: &Graph) -> Vec<LagSummary> {
    let mut out = Vec::new();
    for (option, role, node, act) in [("zipper", 1, 0, 2), ("flare", 3, 2, 1)] {
        let text = &g.nodes[node].actions[act].text;
        let mut counts = [0; 5];
        let mut all = Vec::new();
        let mut window = (0.0, 0.5);
        for s in sessions {
            for c in s.audit.cues.iter().filter(|c| &c.text == text) {
                counts[c.when as usize] += 1;
                all.extend(c.lag_s);
                window = c.window_s;
            }
        }
        all.sort_by(f64::total_cmp);
        let median = all.get(all.len() / 2).copied();
        for player in [Some(roster()[role].id.clone()), None] {
            out.push(LagSummary {
                option: option.into(),
                text: text.clone(),
                player,
                counts,
                median_s: median,
                interval_s: (all.len() >= 5).then(|| (all[all.len() / 3], all[2 * all.len() / 3])),
                spread_s: median.map(|_| 0.2),
                window_s: window,
            });
        }
    }
    out
}

/// Results of the shape asked for.
pub fn results(shape: Shape) -> Results {
    let graph = graph();
    let mut sessions = Vec::new();
    let mut stretches = Vec::new();
    for i in 0..=shape.games {
        let (count, late) = if i == 0 {
            (shape.reps, 0.2)
        } else {
            (shape.per_game, 0.3 + 0.25 * i as f64)
        };
        let (s, st) = session(&graph, i, i > 0, count, late);
        sessions.push(s);
        stretches.extend(st);
    }
    let ids: Vec<StretchId> = stretches.iter().map(|s| s.id.clone()).collect();
    let half = ids.len().div_ceil(2);
    let medoid = &stretches[0];
    let mean: Vec<Vec<AttackPoint>> = medoid
        .paths
        .iter()
        .map(|row| row.iter().flatten().copied().collect())
        .collect();
    let drift_of = |role: usize, finding: Option<String>| {
        let declared = graph.nodes[0].motion.roles[role].clone();
        let sign = if role == 2 { 1.0 } else { 0.2 };
        RoleDrift {
            option: "zipper".into(),
            step: 1,
            role: graph.roles[role].clone(),
            mean: declared
                .iter()
                .map(|p| AttackPoint::new(p.x + 0.8 * sign, p.y - 0.2))
                .collect(),
            sessions: sessions
                .iter()
                .enumerate()
                .map(|(i, s)| SessionDrift {
                    session: s.session.id.clone(),
                    date: s.session.date.clone(),
                    runs: s.readings.len(),
                    place: AttackPoint::new(
                        declared[9].x + 0.4 * i as f64 * sign,
                        declared[9].y - 0.1,
                    ),
                    out_m: 0.4 * i as f64 * sign,
                    right_m: -0.1,
                    half_width_m: (s.readings.len() >= 3).then_some(0.3),
                })
                .collect(),
            region_m: vec![Some(0.3); declared.len()],
            frame: 9,
            trend: finding.as_ref().map(|_| Trend {
                frame: 9,
                out_m: 0.4,
                right_m: 0.0,
                p: 0.002,
                q: 0.01,
            }),
            declared,
            finding,
        }
    };
    let drift = vec![
        drift_of(0, None),
        drift_of(2, Some("In step 1 of Zipper entry, 3 now stands 3.9 ft further out than declared (± 1.0 ft, 34 runs); in the first session it was 0.0 ft.".into())),
    ];
    let lags = lags(&sessions, &graph);
    Results {
        graph,
        sessions,
        stretches: stretches.clone(),
        grouping: Grouping {
            groups: vec![Group {
                name: "A".into(),
                description:
                    "3 drives from the right wing to the right block after a pass from the top"
                        .into(),
                members: ids[..half].to_vec(),
                fits: (0..half)
                    .map(|i| Fit {
                        rows: (0..5).collect(),
                        mirrored: false,
                        distance_m: 0.1 * i as f64,
                    })
                    .collect(),
                mean: mean.clone(),
                ball: mean.get(2).cloned().unwrap_or_default(),
                players: vec![(roster()[2].id.clone(), half), (roster()[1].id.clone(), 1)],
                spread_m: 0.7,
                stability: 0.86,
                results: (half, 4),
            }],
            noise: ids[half..].to_vec(),
            radius_m: 1.1,
            least: 3,
            silhouette: 0.41,
            tried: vec![(0.9, 0.3), (1.1, 0.41)],
            limits: vec![],
        },
        drift,
        lags,
    }
}

/// What a name should never be able to do.
pub const HOSTILE: &str = "</script></style><img src=x onerror=alert(1)>\"'&<!--";

/// Small results in which every string that may come from a file is hostile.
pub fn hostile() -> Results {
    let bad = HOSTILE;
    let mut r = results(Shape::SMALL);
    r.graph.name = bad.into();
    r.graph.roles = (0..5).map(|i| format!("{bad}{i}")).collect();
    for o in &mut r.graph.options {
        o.title = bad.into();
        o.series = Some(bad.into());
    }
    for n in &mut r.graph.nodes {
        for a in &mut n.actions {
            a.text = bad.into();
        }
    }
    for f in &mut r.graph.formations {
        f.name = bad.into();
    }
    for s in &mut r.sessions {
        s.limits.push(bad.into());
        s.story.limits.push(bad.into());
        let mut parts = s.session.clone().into_parts();
        parts.opponent = Some(bad.into());
        parts.date = Some(bad.into());
        for p in &mut parts.players {
            p.name = Some(bad.into());
            p.number = Some(bad.into());
        }
        for t in &mut parts.teams {
            t.name = bad.into();
        }
        s.session = Session::new(parts).expect("still a session");
        for c in &mut s.audit.cues {
            c.text = bad.into();
            c.evidence = bad.into();
        }
        for c in &mut s.audit.placements {
            c.text = bad.into();
            c.evidence = bad.into();
        }
        for reading in &mut s.readings {
            reading.limits.push(bad.into());
            for seg in &mut reading.segments {
                match &mut seg.what {
                    What::Option(run) => {
                        for f in &mut run.faults {
                            f.text = bad.into();
                        }
                    }
                    What::Set { formation } => *formation = bad.into(),
                    _ => {}
                }
            }
        }
    }
    for g in &mut r.grouping.groups {
        g.name = bad.into();
        g.description = bad.into();
        g.players = vec![(bad.into(), 1)];
    }
    r.grouping.limits.push(bad.into());
    for d in &mut r.drift {
        d.option = bad.into();
        d.role = bad.into();
        d.finding = Some(bad.into());
        for s in &mut d.sessions {
            s.session = bad.into();
        }
    }
    r
}

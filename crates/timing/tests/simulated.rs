//! The audit against simulated games, whose truth is known: people with reaction times, sway,
//! bowed paths, jabs and habits, sensors with noise that wanders. Segments and ball events are
//! the true ones, with every step aligned evenly, so that only the audit is measured.
//!
//! Print the table with `cargo test -p setdrift-timing --test simulated -- --nocapture`.
#![allow(clippy::unwrap_used, reason = "a test may stop")]

use setdrift_court::CourtPoint;
use setdrift_events::model::{
    BallStory, Event, EventKind, Outcome, Pace, Possession, Source, Start,
};
use setdrift_playbook::graph::{ActionKind, Graph};
use setdrift_recognise::model::{Hand, Reading, Run, Segment, StepRun, Verdict, What};
use setdrift_simulate::{Did, OptionRun, SensorModel, Settings, Truth, simulate_game};
use setdrift_simulated::{lantern, occasion};
use setdrift_timing::model::{Audit, CueCheck, When};
use setdrift_timing::stats::median;
use setdrift_timing::{ValidParams, audit};
use setdrift_tracks::{OutcomeKind, Session};

fn story(t: &Truth, session: &Session) -> BallStory {
    let at = |player: usize, time: f64| {
        session.tracks[player]
            .at(session.frame_at(time))
            .unwrap_or(CourtPoint::new(0.0, 0.0))
    };
    let mut events: Vec<Event> = Vec::new();
    let mut add = |time_s: f64, place: CourtPoint, kind: EventKind| {
        events.push(Event {
            kind,
            time_s,
            place,
            confidence: 1.0,
            evidence: String::new(),
        });
    };
    for p in t.passes.iter().filter(|p| !p.stolen) {
        let kind = EventKind::Pass {
            from: p.from,
            to: p.to,
            catch_s: p.catch_s,
            catch_place: at(p.to, p.catch_s),
            flight: None,
        };
        add(p.release_s, at(p.from, p.release_s), kind);
    }
    for h in &t.hand_offs {
        let kind = EventKind::HandOff {
            from: h.from,
            to: h.to,
        };
        add(h.time_s, at(h.from, h.time_s), kind);
    }
    for d in &t.dribbles {
        add(
            d.time_s,
            at(d.player, d.time_s),
            EventKind::DribbleStart { player: d.player },
        );
    }
    for s in &t.screens {
        let kind = EventKind::Screen {
            screener: s.screener,
            user: s.user,
            screened: None,
            set: true,
            angle: 0.0,
        };
        add(s.set_s, s.place, kind);
    }
    for s in &t.shots {
        let kind = EventKind::Shot {
            player: s.player,
            ring_s: s.ring_s,
            made: None,
        };
        add(s.release_s, at(s.player, s.release_s), kind);
    }
    events.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    BallStory {
        events,
        ..BallStory::default()
    }
}

fn run_of(graph: &Graph, r: &OptionRun) -> Run {
    let steps = r
        .steps
        .iter()
        .map(|s| {
            let frames = graph.nodes[s.node].motion.frames();
            let n = ((s.to_s - s.from_s) * 10.0).round().max(1.0) as usize;
            // A step left unfinished is taken to have come half-way.
            let reach = if s.complete { frames - 1 } else { frames / 2 };
            StepRun {
                node: s.node,
                from_s: s.from_s,
                to_s: s.to_s,
                complete: s.complete,
                path: (0..=n)
                    .map(|i| {
                        let f = (i as f64 / n as f64 * reach as f64).round() as u32;
                        (s.from_s + i as f64 / 10.0, f)
                    })
                    .collect(),
                deviation: vec![None; r.players.len()],
            }
        })
        .collect();
    Run {
        option: graph.option(&r.option).unwrap(),
        hand: if r.hand == "left" {
            Hand::Left
        } else {
            Hand::Right
        },
        players: r.players.iter().map(|p| Some(*p)).collect(),
        steps,
        verdict: if r.complete {
            Verdict::Ran
        } else {
            Verdict::BrokenOff {
                step: r.steps.len(),
            }
        },
        faults: vec![],
        cost: 0.0,
        runner_up: None,
        margin: 1.0,
        confidence: 1.0,
    }
}

/// Possessions of the audited team with their true readings; beside each segment the index of
/// its true span.
fn readings(graph: &Graph, t: &Truth) -> (Vec<Possession>, Vec<Reading>, Vec<Vec<usize>>) {
    let (mut possessions, mut readings, mut spans) = (vec![], vec![], vec![]);
    for (i, p) in t.possessions.iter().enumerate().filter(|p| p.1.team == 0) {
        possessions.push(Possession {
            number: i + 1,
            from_s: p.from_s,
            to_s: p.to_s,
            team: 0,
            end: p.end,
            attackers: vec![],
            defenders: vec![],
            set_s: None,
            start: Start::Live,
            result: Outcome {
                kind: OutcomeKind::Unknown,
                points: None,
                source: Source::Given,
            },
            second_chances: p.second_chances,
            pace: Pace::HalfCourt,
        });
        let mut segments = vec![];
        let mut own = vec![];
        for (si, s) in t.spans.iter().enumerate().filter(|s| s.1.possession == i) {
            if let Did::Option(r) = &s.what {
                segments.push(Segment {
                    from_s: s.from_s,
                    to_s: s.to_s,
                    what: What::Option(Box::new(run_of(graph, r))),
                });
                own.push(si);
            }
        }
        readings.push(Reading {
            possession: i + 1,
            segments,
            limits: vec![],
        });
        spans.push(own);
    }
    (possessions, readings, spans)
}

fn named(when: When) -> &'static str {
    match when {
        When::Early => "early",
        When::OnTime => "on-time",
        When::Late => "late",
        When::Never => "never",
        When::CannotTell => "cannot tell",
    }
}

#[derive(Default)]
struct Measured {
    errors: Vec<f64>,
    z: Vec<f64>,
    right: usize,
    judged: usize,
    unsure: usize,
    places: Vec<f64>,
    jabs: [usize; 3],
}

fn measure(graph: &Graph, sensor: &SensorModel, seeds: std::ops::Range<u64>) -> Measured {
    let mut m = Measured::default();
    for seed in seeds {
        let (world, truth) = simulate_game(graph, &occasion(), &Settings::default(), seed).unwrap();
        let seen = world.sense(sensor, seed).unwrap();
        let session = setdrift_simulated::session(&seen).unwrap();
        let (possessions, readings, spans) = readings(graph, &truth);
        let story = story(&truth, &session);
        let a: Audit = audit(
            &session,
            graph,
            &story,
            &possessions,
            &readings,
            &ValidParams::default(),
        );
        let span_of = |possession: usize, segment: usize| {
            let i = readings.iter().position(|r| r.possession == possession)?;
            spans[i].get(segment).copied()
        };
        let truly = |c: &setdrift_timing::model::Place| {
            let span = span_of(c.possession, c.segment)?;
            truth
                .actions
                .iter()
                .find(|t| t.span == span && t.node == c.node && t.action == c.action)
        };
        for c in &a.cues {
            if let Some(t) = truly(&c.place) {
                count(graph, &mut m, c, t);
            }
        }
        for p in &a.placements {
            let action = &graph.nodes[p.place.node].actions;
            if p.role.is_none() || action.get(p.place.action).is_none_or(|a| a.text != p.text) {
                continue;
            }
            if let (Some(t), Some(at)) = (truly(&p.place), p.at)
                && let Some(place) = t.place
            {
                // Truth is taken on the way in, 0.5 m before the end; the audit looks at the nearest.
                m.places.push(at.distance(place));
            }
        }
    }
    m
}

fn count(graph: &Graph, m: &mut Measured, c: &CueCheck, t: &setdrift_simulate::TrueAction) {
    let action = &graph.nodes[c.place.node].actions[c.place.action];
    if let Some(class) = &t.class {
        m.judged += 1;
        let said = named(c.when);
        if said == class {
            m.right += 1;
        }
        if c.when == When::CannotTell {
            m.unsure += 1;
        }
    }
    let moves = !matches!(
        action.kind,
        ActionKind::Pass { .. } | ActionKind::HandOff { .. } | ActionKind::Dribble { .. }
    );
    // Who is already running has no start from standing to be found.
    if moves
        && !t.moving
        && let (Some(said), Some(onset)) = (c.onset_s, t.onset_s)
    {
        m.errors.push(said - onset);
        if let Some(sd) = c.uncertainty_s {
            m.z.push((said - onset) / sd);
        }
        match (t.jab_s, c.jab_s) {
            (Some(_), Some(_)) => m.jabs[0] += 1,
            (Some(_), None) => m.jabs[1] += 1,
            (None, Some(_)) => m.jabs[2] += 1,
            (None, None) => {}
        }
    }
}

#[test]
fn simulated_games_at_three_sensors() {
    let graph = lantern().unwrap();
    println!(
        "{:<10} {:>7} {:>7} {:>7} {:>7} {:>7} {:>7} {:>6} {:>20}",
        "sensor",
        "median",
        "bias",
        "class",
        "unsure",
        "calib",
        "place",
        "cues",
        "jabs hit miss false"
    );
    // What holds today, so that it does not get worse. What is aimed at stands in
    // docs/method-timing.md and is not reached here: 0.05, 0.09 and 0.15 s, 0.92, 0.88 and 0.80.
    let floors = [
        ("optical", SensorModel::optical(), 0.13, 0.03, 0.77),
        ("radio 20", SensorModel::radio_20(), 0.19, 0.07, 0.65),
        ("radio 10", SensorModel::radio_10(), 0.24, 0.15, 0.58),
    ];
    let mut short = vec![];
    for (name, sensor, worst, worst_bias, least) in floors {
        let m = measure(&graph, &sensor, 0..3);
        let abs: Vec<f64> = m.errors.iter().map(|e| e.abs()).collect();
        let med = median(&abs).unwrap();
        let bias = median(&m.errors).unwrap();
        let mean = m.errors.iter().sum::<f64>() / m.errors.len() as f64;
        let class = m.right as f64 / m.judged as f64;
        let inside = m.z.iter().filter(|z| z.abs() <= 1.96).count() as f64 / m.z.len() as f64;
        let place = median(&m.places).unwrap();
        println!(
            "{name:<10} {med:>7.3} {bias:>+7.3} {class:>7.3} {:>7.3} {inside:>7.3} {place:>7.3} {:>6} {:>6?} mean {mean:+.3}",
            m.unsure as f64 / m.judged as f64,
            m.judged,
            m.jabs
        );
        for (what, ok) in [
            ("median", med <= worst),
            ("bias", bias.abs() <= worst_bias),
            ("class", class >= least),
            ("place", place <= 0.5),
        ] {
            if !ok {
                short.push(format!("{name}: {what}"));
            }
        }
    }
    assert!(short.is_empty(), "{short:?}");
}

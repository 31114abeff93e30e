//! The audit against simulated games, whose truth is known: people with reaction times, sway,
//! bowed paths, jabs and habits, sensors with noise that wanders. Segments and ball events are
//! the true ones, with every step aligned evenly, so that only the audit is measured.
//!
//! Print the table with `cargo test -p setdrift-timing --test simulated -- --nocapture`.
#![allow(clippy::unwrap_used, reason = "a test may stop")]

use setdrift_court::{AttackPoint, CourtPoint, End};
use setdrift_events::ball_story;
use setdrift_events::model::{
    BallStory, Event, EventKind, Outcome, Pace, Possession, Source, Start,
};
use setdrift_playbook::graph::{ActionKind, CueEvent, Graph};
use setdrift_recognise::model::{Hand, Reading, Run, Segment, StepRun, Verdict, What};
use setdrift_simulate::{
    Did, OptionRun, SensorModel, Settings, TrueAction, Truth, World, simulate_game,
};
use setdrift_simulated::{lantern, occasion};
use setdrift_timing::model::{Audit, CueCheck, When};
use setdrift_timing::stats::{median, quantile, sorted};
use setdrift_timing::{ValidParams, audit};
use setdrift_tracks::{OutcomeKind, Session};
use std::collections::BTreeMap;

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
            EventKind::DribbleStart {
                player: d.player,
                sd_s: 0.0,
            },
        );
    }
    for s in &t.screens {
        let kind = EventKind::Screen {
            screener: s.screener,
            user: s.user,
            screened: None,
            set: true,
            stood: Some(s.set_s),
            angle: 0.0,
        };
        let contact_s = s.used_s.or(s.contact_s).unwrap_or(s.set_s);
        add(contact_s.max(s.set_s), s.place, kind);
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
    bounds: Vec<f64>,
    z: Vec<f64>,
    /// Right and judged, of players who stood and of those on the move already.
    standing: (usize, usize),
    moving: (usize, usize),
    /// Right and judged of what was truly not on time.
    off: (usize, usize),
    on_time: usize,
    unsure: usize,
    places: Vec<f64>,
    jabs: [usize; 3],
    /// Errors of the cues' moments, seconds, by what the cue is.
    cues: BTreeMap<&'static str, Vec<f64>>,
}

impl Measured {
    fn judged(&self) -> usize {
        self.standing.1 + self.moving.1
    }

    fn class(&self) -> f64 {
        (self.standing.0 + self.moving.0) as f64 / self.judged() as f64
    }
}

/// World frames per second.
const WORLD: f64 = 100.0;

fn at(world: &World, player: usize, t: f64) -> Option<(f64, f64)> {
    world.player(player, (t * WORLD).round().max(0.0) as usize)
}

/// Cramér–Rao bound on the standard deviation of one onset, seconds: the true movement is known
/// but for place and speed before it, its size along both axes and its tempo; the noise is the
/// sensor's, with its colour, and the body's sway. A body's wandering while it waits is left out, so
/// nobody reaches the bound.
fn bound(world: &World, sensor: &SensorModel, t: &TrueAction) -> Option<f64> {
    let onset = t.onset_s?;
    let sway = Settings::default().body;
    let end = t.done_s?.clamp(onset + 0.6, onset + 1.8);
    let rest = 1.2;
    let n = ((end - onset + rest) * sensor.rate_hz) as usize;
    let velocity = |s: f64| {
        let h = 0.05;
        let (a, b) = (at(world, t.player, s - h)?, at(world, t.player, s + h)?);
        Some(((b.0 - a.0) / (2.0 * h), (b.1 - a.1) / (2.0 * h)))
    };
    let from = at(world, t.player, onset)?;
    let before = {
        let a = at(world, t.player, onset - 0.15)?;
        ((from.0 - a.0) / 0.15, (from.1 - a.1) / 0.15)
    };
    let times: Vec<f64> = (0..n)
        .map(|i| onset - rest + i as f64 / sensor.rate_hz)
        .collect();
    let variance = sensor.noise_m * sensor.noise_m;
    let covariance = |i: usize, j: usize| {
        let apart = (times[i] - times[j]).abs();
        let white = if i == j { variance * sensor.white } else { 0.0 };
        white
            + variance * (1.0 - sensor.white) * (-apart / sensor.colour_s).exp()
            + sway.sway_m.powi(2) * (-apart / sway.sway_s).exp()
    };
    let l = cholesky(n, covariance);
    // Place and speed before, size: per axis; onset and tempo: of both.
    let mut columns = vec![vec![0.0; 2 * n]; 8];
    for (i, s) in times.iter().enumerate() {
        let u = s - onset;
        columns[0][i] = 1.0;
        columns[1][n + i] = 1.0;
        columns[2][i] = u;
        columns[3][n + i] = u;
        if u <= 0.0 {
            continue;
        }
        let (p, v) = (at(world, t.player, *s)?, velocity(*s)?);
        let d = (v.0 - before.0, v.1 - before.1);
        columns[4][i] = p.0 - from.0 - before.0 * u;
        columns[5][n + i] = p.1 - from.1 - before.1 * u;
        (columns[6][i], columns[6][n + i]) = (u * d.0, u * d.1);
        (columns[7][i], columns[7][n + i]) = (d.0, d.1);
    }
    for c in &mut columns {
        let (x, y) = c.split_at_mut(n);
        solve_lower(&l, x);
        solve_lower(&l, y);
    }
    // What of the onset's column none of the others explains.
    let mut own: Vec<Vec<f64>> = Vec::new();
    for mut c in columns {
        let size = dot(&c, &c);
        for o in &own {
            let k = dot(&c, o);
            c.iter_mut().zip(o).for_each(|(c, o)| *c -= k * o);
        }
        let left = dot(&c, &c);
        if left > 1e-9 * size && left > 0.0 {
            let k = left.sqrt();
            c.iter_mut().for_each(|c| *c /= k);
            own.push(c);
            if own.len() == 8 {
                return Some(1.0 / k);
            }
        }
    }
    None
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn cholesky(n: usize, c: impl Fn(usize, usize) -> f64) -> Vec<Vec<f64>> {
    let mut l = vec![vec![0.0; n]; n];
    for i in 0..n {
        for j in 0..=i {
            let v = c(i, j) - dot(&l[i][..j], &l[j][..j]);
            l[i][j] = if i == j { v.sqrt() } else { v / l[j][j] };
        }
    }
    l
}

fn solve_lower(l: &[Vec<f64>], b: &mut [f64]) {
    for i in 0..b.len() {
        b[i] = (b[i] - dot(&l[i][..i], &b[..i])) / l[i][i];
    }
}

/// Where a player truly came nearest to a declared place, from setting out until a second after
/// arriving or the next thing he did.
fn nearest(
    world: &World,
    truth: &Truth,
    t: &TrueAction,
    (session, end, left): (&Session, End, bool),
    target: AttackPoint,
) -> Option<AttackPoint> {
    let (from, done) = (t.onset_s?, t.done_s?);
    let next = truth
        .actions
        .iter()
        .filter(|a| a.player == t.player)
        .filter_map(|a| a.onset_s)
        .filter(|o| *o > from + 0.2)
        .fold(done + 1.0, f64::min);
    let steps = ((next.max(done) - from) * WORLD) as usize;
    (0..=steps)
        .filter_map(|i| at(world, t.player, from + i as f64 / WORLD))
        .map(|p| {
            let q = CourtPoint::new(p.0, p.1).to_attack(&session.court, end);
            if left { q.mirrored() } else { q }
        })
        .min_by(|a, b| a.distance(target).total_cmp(&b.distance(target)))
}

/// Where the ball events come from.
#[derive(Clone, Copy, PartialEq)]
enum Events {
    True,
    Found,
}

fn measure(
    graph: &Graph,
    sensor: &SensorModel,
    seeds: std::ops::Range<u64>,
    events: Events,
) -> Measured {
    let mut m = Measured::default();
    for seed in seeds {
        let (world, truth) = simulate_game(graph, &occasion(), &Settings::default(), seed).unwrap();
        let seen = world.sense(sensor, seed).unwrap();
        let session = setdrift_simulated::session(&seen).unwrap();
        let (possessions, readings, spans) = readings(graph, &truth);
        let story = match events {
            Events::True => story(&truth, &session),
            Events::Found => ball_story(&session, &setdrift_events::ValidParams::default()),
        };
        let a: Audit = audit(
            &session,
            graph,
            &story,
            &possessions,
            &readings,
            &ValidParams::default(),
        );
        let index = |possession: usize| readings.iter().position(|r| r.possession == possession);
        let truly = |c: &setdrift_timing::model::Place| {
            let span = *spans[index(c.possession)?].get(c.segment)?;
            truth
                .actions
                .iter()
                .find(|t| t.span == span && t.node == c.node && t.action == c.action)
        };
        for c in &a.cues {
            if let Some(t) = truly(&c.place)
                && count(graph, &mut m, c, t)
                && let Some(b) = bound(&world, sensor, t)
            {
                m.bounds.push(b);
            }
        }
        for p in &a.placements {
            let actions = &graph.nodes[p.place.node].actions;
            let Some(action) = actions.get(p.place.action).filter(|a| a.text == p.text) else {
                continue;
            };
            let target = match &action.kind {
                ActionKind::Post { at, .. } => *at,
                ActionKind::Dribble { to, .. } | ActionKind::Leave { to, .. } => *to,
                ActionKind::Cut { path, .. } => *path.last().unwrap(),
                _ => continue,
            };
            let i = index(p.place.possession).unwrap();
            let What::Option(run) = &readings[i].segments[p.place.segment].what else {
                continue;
            };
            let here = (&session, possessions[i].end, run.hand == Hand::Left);
            if p.role.is_some()
                && let (Some(t), Some(at)) = (truly(&p.place), p.at)
                && let Some(place) = nearest(&world, &truth, t, here, target)
            {
                m.places.push(at.distance(place));
            }
        }
    }
    m
}

/// Counts one check; whether its onset was measured.
fn count(graph: &Graph, m: &mut Measured, c: &CueCheck, t: &TrueAction) -> bool {
    let action = &graph.nodes[c.place.node].actions[c.place.action];
    if let (Some(said), Some(cue_s), Some(cue)) = (c.cue_s, t.cue_s, &action.cue) {
        let kind = match cue.event {
            CueEvent::Passes => "passes",
            CueEvent::Catches => "catches",
            CueEvent::Dribbles => "dribbles",
            CueEvent::HandsOff => "hands off",
            CueEvent::Screens => "screens",
            CueEvent::Reaches { .. } => "reaches",
            CueEvent::Cuts => "cuts",
        };
        m.cues.entry(kind).or_default().push(said - cue_s);
    }
    if let Some(class) = &t.class {
        let right = usize::from(named(c.when) == class);
        let of = if t.moving {
            &mut m.moving
        } else {
            &mut m.standing
        };
        of.0 += right;
        of.1 += 1;
        if class == "on-time" {
            m.on_time += 1;
        } else {
            m.off.0 += right;
            m.off.1 += 1;
        }
        m.unsure += usize::from(c.when == When::CannotTell);
    }
    let moves = !matches!(
        action.kind,
        ActionKind::Pass { .. } | ActionKind::HandOff { .. } | ActionKind::Dribble { .. }
    );
    // Who is already running has no start from standing to be found.
    let (true, false, Some(said), Some(onset)) = (moves, t.moving, c.onset_s, t.onset_s) else {
        return false;
    };
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
    true
}

#[test]
fn simulated_games_at_three_sensors() {
    let graph = lantern().unwrap();
    println!(
        "{:<9} {:>6} {:>6} {:>6} {:>6} {:>6} {:>8} {:>6} {:>6} {:>6} {:>6} {:>13} {:>5} jabs hit miss false",
        "sensor",
        "median",
        "bound",
        "bias",
        "mean",
        "class",
        "standing",
        "moving",
        "off",
        "unsure",
        "calib",
        "place 50 90 %",
        "cues",
    );
    // What holds today, so that it does not get worse; what is aimed at stands in
    // docs/method-timing.md.
    let floors = [
        ("optical", SensorModel::optical(), 0.060, 0.02, 0.92),
        ("radio 20", SensorModel::radio_20(), 0.092, 0.03, 0.88),
        ("radio 10", SensorModel::radio_10(), 0.103, 0.04, 0.84),
    ];
    let mut short = vec![];
    for (name, sensor, worst, worst_bias, least) in floors {
        let m = measure(&graph, &sensor, 0..3, Events::True);
        let abs: Vec<f64> = m.errors.iter().map(|e| e.abs()).collect();
        let med = median(&abs).unwrap();
        let bias = median(&m.errors).unwrap();
        let mean = m.errors.iter().sum::<f64>() / m.errors.len() as f64;
        let class = m.class();
        let inside = m.z.iter().filter(|z| z.abs() <= 1.96).count() as f64 / m.z.len() as f64;
        let places = sorted(&m.places);
        let place = quantile(&places, 0.5).unwrap();
        let share = |(a, b): (usize, usize)| a as f64 / b.max(1) as f64;
        println!(
            "{name:<9} {med:>6.3} {:>6.3} {bias:>+6.3} {mean:>+6.3} {class:>6.3} {:>8.3} {:>6.3} {:>6.3} {:>6.3} {inside:>6.3} {place:>6.3} {:>6.3} {:>5} {:?}, always on time {:.3}",
            0.6745 * median(&m.bounds).unwrap(),
            share(m.standing),
            share(m.moving),
            share(m.off),
            m.unsure as f64 / m.judged() as f64,
            quantile(&places, 0.9).unwrap(),
            m.judged(),
            m.jabs,
            m.on_time as f64 / m.judged() as f64,
        );
        for (what, ok) in [
            ("median", med <= worst),
            ("bias", bias.abs() <= worst_bias),
            ("class", class >= least),
            ("place", place <= 0.22),
        ] {
            if !ok {
                short.push(format!("{name}: {what}"));
            }
        }
    }
    assert!(short.is_empty(), "{short:?}");
}

/// The moments of cues with ball events and screens as they are found in the tracks, and what
/// becomes of the classes. A screen is seen at contact, and is a cue when the screener stands.
#[test]
fn cues_from_events_as_they_are_found() {
    let graph = lantern().unwrap();
    let mut short = vec![];
    // Least class right, most seconds a cue on a screen is off in the median: what holds today.
    for (name, sensor, least, worst) in [
        ("optical", SensorModel::optical(), 0.92, 0.20),
        ("radio 20", SensorModel::radio_20(), 0.84, 0.40),
        ("radio 10", SensorModel::radio_10(), 0.79, 0.45),
    ] {
        let m = measure(&graph, &sensor, 0..3, Events::Found);
        let class = m.class();
        println!(
            "{name}: class right {class:.3}, cannot tell {:.3}, of {}",
            m.unsure as f64 / m.judged() as f64,
            m.judged()
        );
        for (kind, errors) in &m.cues {
            let off = median(&errors.iter().map(|e| e.abs()).collect::<Vec<_>>()).unwrap();
            let bias = median(errors).unwrap();
            println!(
                "  {kind:<10} {:>4} cues, off {off:.3} s, {bias:+.3}",
                errors.len()
            );
            if *kind == "screens" && (off > worst || errors.len() < 8) {
                short.push(format!(
                    "{name}: screens off {off:.3} s of {}",
                    errors.len()
                ));
            }
        }
        if class < least {
            short.push(format!("{name}: class {class:.3}"));
        }
    }
    assert!(short.is_empty(), "{short:?}");
}

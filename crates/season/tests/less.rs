//! The whole job on less than everything: no ball, no ball height, no opponents, fewer players, gaps,
//! noise. What is missing is said, and no stage claims what the quality sheet denies.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may stop, and prints what it measured"
)]

use setdrift_events::model::{Event, EventKind, Possession, Source};
use setdrift_playbook::graph::{CueEvent, Graph};
use setdrift_recognise::model::What;
use setdrift_season::pipeline::{Input, review};
use setdrift_season::results::{Results, SessionResults};
use setdrift_season::settings::Settings;
use setdrift_simulate::{MixSettings, SensorModel, World, simulate_game};
use setdrift_simulated::{lantern, occasion};
use setdrift_timing::model::{CueCheck, Kept, When};
use setdrift_tracks::{Cleaning, Level, OutcomeKind, RawTracks, Samples, VerdictKind, clean};
use std::sync::LazyLock;

fn graph() -> Graph {
    lantern().unwrap()
}

/// A short game; eight on each roster, so that some are substituted.
static WORLD: LazyLock<World> = LazyLock::new(|| {
    let settings = setdrift_simulate::Settings {
        mix: MixSettings {
            possessions: 10,
            ..MixSettings::default()
        },
        ..setdrift_simulate::Settings::default()
    };
    simulate_game(&graph(), &occasion(), &settings, 31)
        .unwrap()
        .0
});

fn optical() -> RawTracks {
    sensed(&SensorModel::optical())
}

fn sensed(model: &SensorModel) -> RawTracks {
    setdrift_simulated::raw(&WORLD.sense(model, 3).unwrap(), 5)
}

fn reviewed(raw: &RawTracks) -> SessionResults {
    all(raw).sessions.remove(0)
}

fn all(raw: &RawTracks) -> Results {
    all_with(raw, &Cleaning::default())
}

fn all_with(raw: &RawTracks, cleaning: &Cleaning) -> Results {
    let (session, quality) = clean(raw, cleaning, None).unwrap();
    let input = Input {
        session,
        given: vec![],
        limits: vec![],
        quality,
    };
    let settings = Settings::standard().unwrap();
    review(vec![input], graph(), &settings, &|_| {}).unwrap()
}

fn level(s: &SessionResults, kind: VerdictKind) -> Level {
    s.quality.support(kind).unwrap().level
}

fn runs(s: &SessionResults) -> usize {
    s.readings
        .iter()
        .flat_map(|r| &r.segments)
        .filter(|g| matches!(g.what, What::Option(_)))
        .count()
}

fn on_the_ball(graph: &Graph, cue: &CueCheck) -> bool {
    let action = &graph.nodes[cue.place.node].actions[cue.place.action];
    matches!(
        action.cue.as_ref().unwrap().event,
        CueEvent::Passes | CueEvent::Catches | CueEvent::Dribbles | CueEvent::HandsOff
    )
}

fn said(s: &SessionResults) -> String {
    let readings = s.readings.iter().flat_map(|r| &r.limits);
    s.limits
        .iter()
        .chain(readings)
        .cloned()
        .collect::<Vec<_>>()
        .join("\n")
}

#[test]
fn with_everything_all_kinds_of_verdict_are_given() {
    let results = all(&optical());
    let docs = include_str!("../../../docs/method-cleaning.md");
    for table in setdrift_season::tables(&results).unwrap() {
        if !["quality", "sides", "swaps", "meetings", "supports"].contains(&table.name) {
            continue;
        }
        let row = docs
            .lines()
            .find(|l| l.starts_with(&format!("| `{}` |", table.name)))
            .unwrap();
        for field in table.batch.schema().fields() {
            let known = ["session", "date"].contains(&field.name().as_str());
            assert!(
                known || row.contains(&format!("`{}`", field.name())),
                "{field}"
            );
            assert!(!field.metadata()["description"].is_empty());
        }
        assert!(
            ["swaps", "meetings"].contains(&table.name) || table.batch.num_rows() > 1,
            "{}",
            table.name
        );
    }
    let s = &results.sessions[0];
    assert!(VerdictKind::ALL.iter().all(|k| level(s, *k) == Level::Yes));
    assert!(runs(s) > 10);
    let told = s.audit.cues.iter().filter(|c| c.when != When::CannotTell);
    assert!(told.count() > 10);
    // Ten on the floor of sixteen who were seen: the others came on as substitutes.
    for side in &s.quality.sides {
        assert_eq!(side.on_floor, 5);
        assert!(side.seen > 5 && side.coverage > 0.97, "{side:?}");
    }
    assert!(s.possessions.iter().all(|p| p.attackers.len() <= 5));
}

#[test]
fn a_gap_over_the_moment_of_going_cannot_be_told() {
    let raw = optical();
    let whole = reviewed(&raw);
    let mut tried = 0;
    for cue in whole
        .audit
        .cues
        .iter()
        .filter(|c| c.when != When::CannotTell)
    {
        let (Some(onset), Some(at)) = (cue.onset_s, cue.cue_s) else {
            continue;
        };
        tried += 1;
        if tried > 4 {
            break;
        }
        let mut raw = raw.clone();
        let s = &mut raw.samples[cue.player];
        let keep: Vec<usize> = (0..s.len())
            .filter(|i| (s.t[*i] - onset).abs() > 0.7)
            .collect();
        for v in [&mut s.t, &mut s.x, &mut s.y] {
            *v = keep.iter().map(|i| v[*i]).collect();
        }
        let holed = reviewed(&raw);
        let f = holed.session.frame_at(onset);
        assert_eq!(holed.session.tracks[cue.player].at(f), None, "not filled");
        for c in &holed.audit.cues {
            let same = c.player == cue.player && c.text == cue.text;
            if same && c.cue_s.is_some_and(|t| (t - at).abs() < 0.3) {
                assert_eq!(c.when, When::CannotTell, "{c:?}");
            }
        }
    }
    assert!(tried > 3);
}

/// Keeps of some samples those at which `keep` holds.
fn thin(s: &mut Samples, keep: impl Fn(f64) -> bool) {
    let kept: Vec<usize> = (0..s.len()).filter(|i| keep(s.t[*i])).collect();
    for v in [&mut s.t, &mut s.x, &mut s.y].into_iter().chain(&mut s.z) {
        *v = kept.iter().map(|i| v[*i]).collect();
    }
}

/// When an event of the ball is claimed to have happened; nothing for events of players.
fn moments(e: &Event) -> Vec<f64> {
    match e.kind {
        EventKind::Screen { .. } | EventKind::CutOnset { .. } | EventKind::Arrival { .. } => vec![],
        EventKind::Pass { catch_s, .. } => vec![e.time_s, catch_s],
        EventKind::Shot { ring_s, .. } => vec![e.time_s, ring_s],
        _ => vec![e.time_s],
    }
}

#[test]
fn where_the_ball_is_unknown_nothing_it_did_is_said() {
    let raw = optical();
    let whole = reviewed(&raw);
    let mut holed = raw.clone();
    let inside = |t: f64| (4.0..8.0).contains(&(t % 12.0));
    thin(holed.ball.as_mut().unwrap(), |t| !inside(t));
    let s = reviewed(&holed);
    // Well inside a gap: farther than a quarter second from its ends.
    let deep = |e: &Event| {
        let all = moments(e);
        all.iter().any(|t| inside(t - 0.3) && inside(t + 0.3))
    };
    assert!(whole.story.events.iter().filter(|e| deep(e)).count() > 10);
    let said: Vec<&Event> = s.story.events.iter().filter(|e| deep(e)).collect();
    assert!(said.is_empty(), "{said:#?}");
    // What was seen is still said.
    let seen = |s: &SessionResults| {
        let outside = |e: &&Event| {
            let all = moments(e);
            !all.is_empty() && all.iter().all(|t| !inside(t - 1.0) && !inside(t + 1.0))
        };
        s.story.events.iter().filter(outside).count()
    };
    println!("{} of {} events between gaps", seen(&s), seen(&whole));
    assert!(seen(&s) * 10 >= seen(&whole) * 8);
    let holes = s.coverage.iter().filter(|k| k.ball.unwrap() < 0.8).count();
    assert!(holes > 3 && whole.coverage.iter().all(|k| k.ball.unwrap() > 0.9));
    let graph = graph();
    for cue in s.audit.cues.iter().filter(|c| on_the_ball(&graph, c)) {
        let unseen = |t: f64| inside(t - 0.3) && inside(t + 0.3);
        if cue.cue_s.is_some_and(unseen) {
            assert_eq!(cue.when, When::CannotTell, "{cue:?}");
        }
    }
    assert!(
        s.limits.iter().any(|l| l.contains("ball event")),
        "{:?}",
        s.limits
    );
}

#[test]
fn a_possession_of_unknown_players_gets_no_verdict() {
    let raw = optical();
    let whole = reviewed(&raw);
    let run = |r: &setdrift_recognise::model::Reading| {
        r.segments.iter().any(|g| matches!(g.what, What::Option(_)))
    };
    let (p, _) = whole
        .possessions
        .iter()
        .zip(&whole.readings)
        .find(|(_, r)| run(r))
        .unwrap();
    let mut holed = raw.clone();
    for i in &p.attackers[..3] {
        thin(&mut holed.samples[*i], |t| {
            t < p.from_s - 1.0 || t > p.to_s + 1.0
        });
    }
    let s = reviewed(&holed);
    let middle = (p.from_s + p.to_s) / 2.0;
    let k = s
        .possessions
        .iter()
        .position(|q| q.from_s <= middle && middle <= q.to_s)
        .unwrap();
    assert!(s.coverage[k].attackers < 0.5, "{:?}", s.coverage[k]);
    assert!(!run(&s.readings[k]), "{:?}", s.readings[k]);
    let number = s.possessions[k].number;
    assert!(s.audit.cues.iter().all(|c| c.place.possession != number));
    let limits = s.readings[k].limits.join(" ");
    assert!(limits.contains("attackers known"), "{limits}");
    // The others are judged as before.
    assert!(runs(&s) + 4 > runs(&whole), "{} {}", runs(&s), runs(&whole));
}

#[test]
fn a_ball_too_noisy_gives_no_passes_and_no_shots() {
    let noisy = SensorModel {
        ball_noise_m: 1.8,
        ..SensorModel::optical()
    };
    let s = reviewed(&sensed(&noisy));
    assert_eq!(level(&s, VerdictKind::Passes), Level::No);
    assert_eq!(level(&s, VerdictKind::Shots), Level::No);
    let ball: Vec<&Event> = s
        .story
        .events
        .iter()
        .filter(|e| !moments(e).is_empty())
        .collect();
    assert!(ball.is_empty(), "{ball:#?}");
    assert!(said(&s).contains("ball noise"));
    let inferred = |p: &&Possession| p.result.source == Source::Inferred;
    for p in s.possessions.iter().filter(inferred) {
        assert!(
            !matches!(p.result.kind, OutcomeKind::Made | OutcomeKind::Missed),
            "{p:?}"
        );
    }
}

#[test]
fn without_a_ball_nothing_that_needs_it_is_claimed() {
    let mut raw = optical();
    raw.ball = None;
    let s = reviewed(&raw);
    assert_eq!(level(&s, VerdictKind::Passes), Level::No);
    assert_eq!(level(&s, VerdictKind::Shots), Level::No);
    assert_eq!(level(&s, VerdictKind::CueLag), Level::Caution);
    // What bodies show is left: screens, and who began to move and came to a place.
    assert!(s.story.events.iter().all(|e| matches!(
        e.kind,
        EventKind::Screen { .. } | EventKind::CutOnset { .. } | EventKind::Arrival { .. }
    )));
    let graph = graph();
    let on_ball: Vec<&CueCheck> = s
        .audit
        .cues
        .iter()
        .filter(|c| on_the_ball(&graph, c))
        .collect();
    assert!(!on_ball.is_empty());
    assert!(
        on_ball.iter().all(|c| c.when == When::CannotTell),
        "{on_ball:#?}"
    );
    assert!(said(&s).contains("no ball in the tracks"));
    // Options are still told apart by how players move.
    assert!(runs(&s) > 5);
}

#[test]
fn without_ball_height_a_shot_is_less_sure_and_passes_have_no_kind() {
    let mut raw = optical();
    raw.ball.as_mut().unwrap().z = None;
    let s = reviewed(&raw);
    assert_eq!(level(&s, VerdictKind::Shots), Level::Caution);
    let (mut shots, mut passes) = (0, 0);
    for e in &s.story.events {
        match e.kind {
            EventKind::Shot { .. } => {
                assert!(e.evidence.contains("no height to confirm it"), "{e:?}");
                assert!(e.confidence < 0.9);
                shots += 1;
            }
            EventKind::Pass { flight, .. } => {
                assert_eq!(flight, None);
                passes += 1;
            }
            _ => {}
        }
    }
    assert!(shots > 0 && passes > 10);
    assert!(said(&s).contains("no ball height"));
}

#[test]
fn without_opponents_screens_are_judged_by_their_place() {
    let mut raw = optical();
    let ours = raw.players.iter().filter(|p| p.team == 0).count();
    raw.players.truncate(ours);
    raw.samples.truncate(ours);
    let s = reviewed(&raw);
    assert_eq!(level(&s, VerdictKind::Placement), Level::Caution);
    assert!(said(&s).contains("no opponents"));
    assert!(runs(&s) > 5);
    assert!(
        s.audit
            .placements
            .iter()
            .any(|c| c.kept != Kept::CannotTell)
    );
}

/// Four, and three, of each side: roles that nobody is left for are not judged, and that is said.
#[test]
fn fewer_than_five_a_side_are_read_and_their_number_said() {
    for left in [4, 3] {
        let mut raw = optical();
        // Drop whole players, those seen least last, until no more than `left` play at a time.
        for team in 0..2 {
            loop {
                let (_, q) = clean(&raw, &Cleaning::default(), None).unwrap();
                if q.sides[team].on_floor <= left {
                    break;
                }
                let most = (0..raw.players.len())
                    .filter(|i| raw.players[*i].team == team)
                    .max_by_key(|i| raw.samples[*i].len())
                    .unwrap();
                raw.players.remove(most);
                raw.samples.remove(most);
            }
        }
        let s = reviewed(&raw);
        assert_eq!(s.quality.sides[0].on_floor, left);
        let text = said(&s);
        assert!(text.contains("of 5 attackers are in the data"), "{text}");
        for r in &s.readings {
            for segment in &r.segments {
                if let What::Option(run) = &segment.what {
                    assert!(run.players.iter().flatten().count() <= left);
                }
            }
        }
    }
}

#[test]
fn in_heavy_noise_no_lag_is_said() {
    let noisy = SensorModel {
        noise_m: 0.6,
        ball_noise_m: 0.6,
        ..SensorModel::optical()
    };
    let s = reviewed(&sensed(&noisy));
    assert_eq!(level(&s, VerdictKind::CueLag), Level::No);
    assert!(
        s.audit
            .cues
            .iter()
            .all(|c| c.when == When::CannotTell && c.lag_s.is_none())
    );
    let why = &s.quality.support(VerdictKind::CueLag).unwrap().reason;
    assert!(why.contains("position error"), "{why}");
}

#[test]
fn when_most_is_unknown_no_option_is_named() {
    let patchy = SensorModel {
        lost: 0.6,
        burst_s: 3.0,
        ..SensorModel::optical()
    };
    let s = reviewed(&sensed(&patchy));
    assert_eq!(level(&s, VerdictKind::Option), Level::No);
    assert_eq!(runs(&s), 0);
    assert!(s.audit.cues.is_empty() && s.audit.placements.is_empty());
    assert!(said(&s).contains("attackers known"));
}

/// Smoothing changes no lag by more than the sheet's bound, on the whole: the same cues judged on
/// smoothed tracks and on tracks as they came.
#[test]
fn smoothing_does_not_bias_lags() {
    let mut moved: Vec<f64> = Vec::new();
    for seed in 3..7 {
        let raw = setdrift_simulated::raw(&WORLD.sense(&SensorModel::optical(), seed).unwrap(), 5);
        let plain = Cleaning {
            smooth: false,
            ..Cleaning::default()
        };
        let (a, b) = (all_with(&raw, &plain), all(&raw));
        let (a, b) = (&a.sessions[0].audit.cues, &b.sessions[0].audit.cues);
        for c in b {
            let same = |o: &&CueCheck| {
                (o.player, &o.text, o.place.possession) == (c.player, &c.text, c.place.possession)
                    && o.cue_s
                        .zip(c.cue_s)
                        .is_some_and(|(x, y)| (x - y).abs() < 0.2)
            };
            if let Some(o) = a.iter().find(same)
                && let (Some(x), Some(y)) = (o.onset_s, c.onset_s)
            {
                moved.push(y - x);
            }
        }
    }
    let n = moved.len() as f64;
    let mean = moved.iter().sum::<f64>() / n;
    let sd = (moved.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / n).sqrt();
    moved.sort_by(f64::total_cmp);
    println!(
        "{n} starts: moved by {mean:+.4} s, scatter {sd:.4} s, median {:+.4} s",
        moved[moved.len() / 2]
    );
    assert!(n > 40.0);
    assert!(moved[moved.len() / 2].abs() < 0.01);
    assert!(mean.abs() < 0.01 + 3.0 * sd / n.sqrt());
}

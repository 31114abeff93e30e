//! The accuracy table: what is found against what truly happened, at three sensor models.
//!
//! `cargo run -p setdrift-events --example accuracy [-- WORDS [LABEL [SEED [SEEDS]]]]`, where WORDS among
//! `pass hand-off screen possession shot dribble` lists what was wrong, and LABEL picks rows; SEED is the
//! first and SEEDS how many.
#![expect(clippy::print_stdout, reason = "a table for people")]
#![allow(missing_docs)]

#[path = "../tests/support/mod.rs"]
mod support;

use cpu_time::ProcessTime;
use setdrift_events::{ValidParams, ball_story, possessions};
use setdrift_simulate::{PracticeSettings, SensorModel, Settings};
use setdrift_tracks::Session;
use support::declared;
use support::score::{Score, median, score};
use support::street::{Facts, Street, Style};

struct Row {
    label: String,
    make: Box<dyn Fn(u64) -> (Session, Facts)>,
}

fn main() {
    let say = std::env::args().nth(1).unwrap_or_default();
    let only = std::env::args().nth(2).unwrap_or_default();
    let first: u64 = std::env::args()
        .nth(3)
        .and_then(|s| s.parse().ok())
        .unwrap_or(11);
    let many: u64 = std::env::args()
        .nth(4)
        .and_then(|s| s.parse().ok())
        .unwrap_or(3);
    let params = ValidParams::default();
    println!(
        "{:42} pass  rel.s catch hand  screen poss  shot  dribb start",
        ""
    );
    let (mut frames, mut spent) = (0.0, 0.0);
    for row in rows().into_iter().filter(|r| r.label.contains(&only)) {
        let mut total = Score::default();
        for seed in 0..many {
            let (session, facts) = (row.make)(first + seed);
            let began = ProcessTime::now();
            let story = ball_story(&session, &params);
            let found = possessions(&session, &story, &[], &params);
            spent += began.elapsed().as_secs_f64();
            frames += session.frames() as f64;
            total.add(&score(&facts, &story, &found, &say));
        }
        line(&row.label, &total);
    }
    println!(
        "{:.3} million frames a second of processor time",
        frames / spent / 1e6
    );
}

fn rows() -> Vec<Row> {
    let sensors = [
        ("optical", SensorModel::optical(), Style::optical()),
        ("radio 20", SensorModel::radio_20(), Style::radio_20()),
        ("radio 10", SensorModel::radio_10(), Style::radio_10()),
    ];
    let mut out = Vec::new();
    for (name, sensor, style) in sensors {
        for (vary, settings) in settings() {
            let sensor = sensor.clone();
            out.push(Row {
                label: format!("{name}, declared game, {vary}"),
                make: Box::new(move |seed| declared::game(&settings, &sensor, seed)),
            });
        }
        let sensor2 = sensor.clone();
        out.push(Row {
            label: format!("{name}, declared practice"),
            make: Box::new(move |seed| {
                declared::practice(
                    &Settings::default(),
                    &PracticeSettings::default(),
                    &sensor2,
                    seed,
                )
            }),
        });
        for (vary, style) in styles(style) {
            out.push(Row {
                label: format!("{name}, street, {vary}"),
                make: Box::new(move |seed| Street::new(style, seed, true).game(24)),
            });
        }
        for stops in [false, true] {
            out.push(Row {
                label: format!("{name}, street practice, stops {stops}"),
                make: Box::new(move |seed| Street::new(style, seed, false).practice(10, stops)),
            });
        }
    }
    out
}

fn settings() -> Vec<(&'static str, Settings)> {
    let vary = |f: &dyn Fn(&mut Settings)| {
        let mut s = Settings::default();
        f(&mut s);
        s
    };
    vec![
        ("plain", vary(&|_| {})),
        (
            "heavy bodies",
            vary(&|s| {
                s.body.accel = 3.0;
                s.body.top_speed = 5.5;
                s.body.response_s = 0.45;
            }),
        ),
        (
            "quick bodies",
            vary(&|s| {
                s.body.accel = 6.5;
                s.body.top_speed = 8.0;
                s.body.response_s = 0.2;
            }),
        ),
        (
            "ball held close",
            vary(&|s| {
                s.ball.hold_m = 0.25;
                s.ball.dribble_m = 0.45;
            }),
        ),
        (
            "ball held out",
            vary(&|s| {
                s.ball.hold_m = 0.55;
                s.ball.dribble_m = 0.8;
            }),
        ),
        ("slow passes", vary(&|s| s.ball.pass_speed = (5.5, 8.0))),
        ("hard passes", vary(&|s| s.ball.pass_speed = (10.0, 15.0))),
        ("tight defence", vary(&|s| s.defence.pressure = 1.5)),
        ("loose defence", vary(&|s| s.defence.pressure = 0.6)),
    ]
}

fn styles(b: Style) -> Vec<(&'static str, Style)> {
    vec![
        ("plain", b),
        ("coloured noise", Style { colour_s: 0.3, ..b }),
        (
            "heavy bodies",
            Style {
                accel: 3.0,
                top: 5.5,
                ..b
            },
        ),
        (
            "quick bodies",
            Style {
                accel: 6.5,
                top: 8.0,
                ..b
            },
        ),
        (
            "ball held close",
            Style {
                hold_m: 0.25,
                dribble_m: 0.45,
                ..b
            },
        ),
        (
            "ball held out",
            Style {
                hold_m: 0.55,
                dribble_m: 0.8,
                ..b
            },
        ),
        (
            "slow passes",
            Style {
                pass_speed: (5.5, 8.0),
                ..b
            },
        ),
        (
            "hard passes",
            Style {
                pass_speed: (10.0, 15.0),
                ..b
            },
        ),
        ("tight defence", Style { gap_m: 0.75, ..b }),
        ("loose defence", Style { gap_m: 2.0, ..b }),
        ("three a side", Style { per_side: 3, ..b }),
    ]
}

fn line(label: &str, s: &Score) {
    println!(
        "{label:42} {:.3} {:.3} {:.3} {:.3} {:.3}  {:.3} {:.3} {:.3} {:.3}  {:?}",
        s.passes.f1(),
        s.median_release(),
        median(&s.catch_errors),
        s.hand_offs.f1(),
        s.screens.f1(),
        s.possessions.f1(),
        s.shots.f1(),
        s.dribbles.f1(),
        median(&s.dribble_errors),
        (
            s.passes.hit,
            s.hand_offs.hit,
            s.screens.hit,
            s.possessions.hit
        ),
    );
}

//! When screeners come to a stand, against when they truly did. Run with `--nocapture` to see
//! the errors.
#![expect(clippy::print_stdout, reason = "errors for people")]

mod support;

use setdrift_events::{ValidParams, ball_story};
use setdrift_simulate::{SensorModel, Settings};
use support::declared;
use support::score::{Score, median, score};
use support::street::{Facts, Street, Style};

/// Three games; the median error must be within `most_s`, and `told` of the screens found have it.
fn within(
    name: &str,
    most_s: f64,
    told: f64,
    made: impl Fn(u64) -> (setdrift_tracks::Session, Facts),
) {
    let mut all = Score::default();
    for seed in 301..304 {
        let (session, facts) = made(seed);
        let story = ball_story(&session, &ValidParams::default());
        all.add(&score(&facts, &story, &[], ""));
    }
    let n = all.stood_errors.len();
    let share = n as f64 / (n + all.not_stood) as f64;
    let off = median(&all.stood_errors);
    println!("{name}: {n} screeners, median error {off:.3} s, told of {share:.2} of them");
    assert!(off <= most_s && share >= told, "{name} {off} {share}");
}

#[test]
fn screeners_of_declared_games_come_to_a_stand_when_they_do() {
    let plain = Settings::default();
    for (name, sensor, most_s) in [
        ("optical", SensorModel::optical(), 0.1),
        ("radio 20", SensorModel::radio_20(), 0.2),
        ("radio 10", SensorModel::radio_10(), 0.3),
    ] {
        within(name, most_s, 0.9, |seed| {
            declared::game(&plain, &sensor, seed)
        });
    }
}

#[test]
fn screeners_of_another_simulator_come_to_a_stand_when_they_do() {
    for (name, style, most_s) in [
        ("optical", Style::optical(), 0.25),
        ("radio 20", Style::radio_20(), 0.35),
        ("radio 10", Style::radio_10(), 0.5),
    ] {
        within(name, most_s, 0.9, |seed| {
            Street::new(style, seed, true).game(24)
        });
    }
}

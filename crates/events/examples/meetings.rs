//! Meetings of team-mates with and without a screen, for fitting the trees of `screens.trees`:
//! `cargo run -p setdrift-events --example meetings -- FIRST LAST > FILE` over seeds FIRST to LAST
//! of two simulators at three sensor models; `tests/reference/events/screens.py` fits.
#![expect(clippy::print_stdout, reason = "a table for a script")]
#![allow(missing_docs)]

#[path = "../tests/support/mod.rs"]
mod support;

use setdrift_events::{ValidParams, ball_story, meetings};
use setdrift_simulate::{PracticeSettings, SensorModel, Settings};
use setdrift_tracks::Session;
use support::declared;
use support::street::{Facts, Street, Style};

fn main() {
    let seed = |n: usize| std::env::args().nth(n).and_then(|s| s.parse().ok());
    let (first, last): (u64, u64) = (seed(1).unwrap_or(11), seed(2).unwrap_or(14));
    let sensors = [
        ("optical", SensorModel::optical(), Style::optical()),
        ("radio-20", SensorModel::radio_20(), Style::radio_20()),
        ("radio-10", SensorModel::radio_10(), Style::radio_10()),
    ];
    for seed in first..=last {
        for (name, sensor, style) in &sensors {
            for (world, session, facts) in worlds(sensor, *style, seed) {
                print(&format!("{world},{name},{seed}"), &session, &facts);
            }
        }
    }
}

fn worlds(sensor: &SensorModel, style: Style, seed: u64) -> Vec<(&'static str, Session, Facts)> {
    let mut other = Settings::default();
    let mut odd = style;
    if seed.is_multiple_of(2) {
        other.defence.pressure = 1.5;
        odd.gap_m = 0.75;
    } else {
        other.body.accel = 3.0;
        other.body.top_speed = 5.5;
        other.body.response_s = 0.45;
        odd.accel = 3.0;
        odd.top = 5.5;
    }
    let plain = Settings::default();
    let (a, b) = declared::game(&plain, sensor, seed);
    let (c, d) = declared::game(&other, sensor, seed);
    let (e, f) = declared::practice(&plain, &PracticeSettings::default(), sensor, seed);
    let (g, h) = Street::new(style, seed, true).game(24);
    let (i, j) = Street::new(odd, seed, true).game(24);
    vec![
        ("declared", a, b),
        ("declared-other", c, d),
        ("practice", e, f),
        ("street", g, h),
        ("street-other", i, j),
    ]
}

/// `S` a session, `T` a true screen, `P` one that may count either way, `M` a meeting.
fn print(session_name: &str, session: &Session, facts: &Facts) {
    println!("S,{session_name}");
    for (mark, list) in [('T', &facts.screens), ('P', &facts.perhaps)] {
        for (screener, user, time) in list {
            println!("{mark},{screener},{user},{time:.3}");
        }
    }
    let params = ValidParams::default();
    let story = ball_story(session, &params);
    for m in meetings(session, &story, &params) {
        let looks: Vec<String> = m.looks.iter().map(|v| format!("{v:.3}")).collect();
        println!(
            "M,{},{},{:.3},{}",
            m.screener,
            m.user,
            m.time_s,
            looks.join(",")
        );
    }
}

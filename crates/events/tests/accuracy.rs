//! What the methods reach today must not be lost. The bars of the project's plan are higher for
//! noisy sensors; `examples/accuracy.rs` prints the whole table.

#![expect(clippy::print_stdout, reason = "figures for people")]

mod support;

use setdrift_events::model::EventKind;
use setdrift_events::{ValidParams, ball_story, possessions};
use setdrift_simulate::{PracticeSettings, SensorModel, Settings};
use support::declared;
use support::score::{Score, median, score};
use support::street::{Street, Style};

type Made = (setdrift_tracks::Session, support::street::Facts);

/// Sums over sessions; seeds from 41 on were never used to choose a number.
fn total(made: impl Iterator<Item = Made>) -> Score {
    let params = ValidParams::default();
    let mut all = Score::default();
    for (session, facts) in made {
        let story = ball_story(&session, &params);
        let found = possessions(&session, &story, &[], &params);
        all.add(&score(&facts, &story, &found, ""));
    }
    all
}

/// Three games by each of two sets of players.
fn declared_games(sensor: &SensorModel) -> Score {
    let plain = Settings::default();
    total(
        (41..44)
            .map(|seed| declared::game(&plain, sensor, seed))
            .chain((51..54).map(|seed| declared::others_game(&plain, sensor, seed))),
    )
}

fn street_games(style: Style) -> Score {
    total((41..47).map(|seed| Street::new(style, seed, true).game(24)))
}

/// What F1 of passes, hand-offs, screens, possessions, shots and dribbles, and the median errors of
/// releases and of dribbles' starts must reach.
struct Floor {
    pass: f64,
    hand_off: f64,
    screen: f64,
    possession: f64,
    shot: f64,
    release_s: f64,
    dribble: f64,
    dribble_s: f64,
}

impl Floor {
    fn holds(&self, s: &Score) {
        println!(
            "pass {:.3} hand-off {:.3} screen {:.3} possession {:.3} shot {:.3} release {:.3} s dribble {:.3} start {:.3} s",
            s.passes.f1(),
            s.hand_offs.f1(),
            s.screens.f1(),
            s.possessions.f1(),
            s.shots.f1(),
            s.median_release(),
            s.dribbles.f1(),
            median(&s.dribble_errors)
        );
        for (what, tally, least) in [
            ("pass", s.passes, self.pass),
            ("hand-off", s.hand_offs, self.hand_off),
            ("screen", s.screens, self.screen),
            ("possession", s.possessions, self.possession),
            ("shot", s.shots, self.shot),
            ("dribble", s.dribbles, self.dribble),
        ] {
            assert!(tally.f1() >= least, "{what} {:.3} {tally:?}", tally.f1());
        }
        assert!(s.median_release() <= self.release_s);
        let start = median(&s.dribble_errors);
        assert!(start <= self.dribble_s, "dribbles start {start:.3} s off");
    }
}

#[test]
fn optical_tracks_of_two_unlike_simulators() {
    Floor {
        pass: 0.98,
        hand_off: 0.94,
        screen: 0.955,
        possession: 0.985,
        shot: 0.98,
        release_s: 0.03,
        dribble: 0.885,
        dribble_s: 0.06,
    }
    .holds(&declared_games(&SensorModel::optical()));
    Floor {
        pass: 0.965,
        hand_off: 0.965,
        screen: 0.9,
        possession: 0.96,
        shot: 0.98,
        release_s: 0.04,
        dribble: 0.83,
        dribble_s: 0.08,
    }
    .holds(&street_games(Style::optical()));
}

#[test]
fn radio_tracks_at_20_hz_of_two_unlike_simulators() {
    Floor {
        pass: 0.965,
        hand_off: 0.9,
        screen: 0.895,
        possession: 0.96,
        shot: 0.96,
        release_s: 0.03,
        dribble: 0.865,
        dribble_s: 0.09,
    }
    .holds(&declared_games(&SensorModel::radio_20()));
    Floor {
        pass: 0.965,
        hand_off: 0.98,
        screen: 0.91,
        possession: 0.97,
        shot: 0.975,
        release_s: 0.07,
        dribble: 0.83,
        dribble_s: 0.09,
    }
    .holds(&street_games(Style::radio_20()));
}

#[test]
fn radio_tracks_at_10_hz_of_two_unlike_simulators() {
    Floor {
        pass: 0.89,
        hand_off: 0.86,
        screen: 0.88,
        possession: 0.905,
        shot: 0.78,
        release_s: 0.04,
        dribble: 0.845,
        dribble_s: 0.15,
    }
    .holds(&declared_games(&SensorModel::radio_10()));
    Floor {
        pass: 0.91,
        hand_off: 0.945,
        screen: 0.84,
        possession: 0.945,
        shot: 0.87,
        release_s: 0.09,
        dribble: 0.83,
        dribble_s: 0.15,
    }
    .holds(&street_games(Style::radio_10()));
}

/// Noise that lasts a third of a second, as filters in front of the tracks leave it.
#[test]
fn coloured_noise() {
    Floor {
        pass: 0.915,
        hand_off: 0.92,
        screen: 0.89,
        possession: 0.95,
        shot: 0.975,
        release_s: 0.05,
        dribble: 0.82,
        dribble_s: 0.09,
    }
    .holds(&street_games(Style {
        colour_s: 0.3,
        ..Style::radio_20()
    }));
}

/// Repetitions of practices, without the others' stops and with them.
#[test]
fn practices_on_optical_tracks() {
    let declared = total((41..47).map(|seed| {
        declared::practice(
            &Settings::default(),
            &PracticeSettings::default(),
            &SensorModel::optical(),
            seed,
        )
    }));
    println!(
        "practice: screen {:.3} repetition {:.3}",
        declared.screens.f1(),
        declared.possessions.f1()
    );
    assert!(declared.screens.f1() >= 0.935, "{:?}", declared.screens);
    assert!(
        declared.possessions.f1() >= 0.74,
        "{:?}",
        declared.possessions
    );
    let street = total((41..47).map(|seed| {
        Street::new(Style::optical(), seed, false).practice(10, seed.is_multiple_of(2))
    }));
    println!(
        "practice, street: repetition {:.3}",
        street.possessions.f1()
    );
    assert!(street.possessions.f1() >= 0.72, "{:?}", street.possessions);
}

/// Hands and passes unlike the defaults are found again, from two simulators.
#[test]
fn parameters_are_estimated_from_tracks() {
    let close = Style {
        hold_m: 0.25,
        dribble_m: 0.45,
        pass_speed: (5.5, 7.0),
        ..Style::optical()
    };
    let far = Style {
        hold_m: 0.55,
        dribble_m: 0.8,
        pass_speed: (10.0, 14.0),
        ..Style::optical()
    };
    let of = |style: Style| {
        let (session, _) = Street::new(style, 21, true).game(16);
        setdrift_events::fit(&[&session])
    };
    let (a, b) = (of(close), of(far));
    assert!(a.settled && b.settled, "{a:?} {b:?}");
    assert!((5.2..7.3).contains(&a.params.pass_speed_mps), "{a:?}");
    assert!((9.0..14.3).contains(&b.params.pass_speed_mps), "{b:?}");
    assert!(
        a.params.hold_spread_m + 0.08 < b.params.hold_spread_m,
        "{a:?} {b:?}"
    );
    assert_eq!(a, of(close));
    let nothing = setdrift_events::fit(&[]);
    assert_eq!(nothing.params, setdrift_events::Params::default());
    assert!(nothing.estimates.iter().all(|e| e.found.is_none()));
}

/// A player who runs to the corner without the ball cuts and arrives there.
#[test]
fn cuts_and_arrivals_are_told_off_the_ball() {
    let (session, _) = Street::new(Style::optical(), 31, true).game(6);
    let story = ball_story(&session, &ValidParams::default());
    let mut spots = 0;
    let mut cuts = 0;
    for e in &story.events {
        match &e.kind {
            EventKind::CutOnset { player, to_s } => {
                cuts += 1;
                assert!(*to_s > e.time_s);
                let has = |t: f64| {
                    story
                        .spells
                        .iter()
                        .any(|s| s.player == *player && s.from_s < t && t < s.to_s)
                };
                assert!(!has((e.time_s + to_s) / 2.0), "{e:?}");
            }
            EventKind::Arrival { spot, .. } => spots += usize::from(spot.is_some()),
            _ => {}
        }
    }
    assert!(cuts > 20 && spots > 5, "{cuts} {spots}");
}

#[test]
fn without_a_ball_a_short_file_is_one_play_and_says_what_is_lost() {
    let (session, _) = Street::new(Style::optical(), 5, true).game(1);
    let mut parts = session.into_parts();
    parts.ball = None;
    let keep = (20.0 * parts.rate_hz) as usize;
    for t in &mut parts.tracks {
        t.x.truncate(keep);
        t.y.truncate(keep);
        t.known.truncate(keep);
    }
    let session = setdrift_tracks::Session::new(parts).unwrap();
    let params = ValidParams::default();
    let story = ball_story(&session, &params);
    assert!(story.spells.is_empty());
    assert!(story.limits.iter().any(|l| l.contains("no ball")));
    let found = possessions(&session, &story, &[], &params);
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].attackers.len(), 5);
    assert_eq!(found[0].defenders.len(), 5);
}

/// Moving the clock changes times and nothing else.
#[test]
fn a_later_clock_moves_every_time_alike() {
    let (session, _) = Street::new(Style::radio_20(), 9, true).game(3);
    let params = ValidParams::default();
    let story = ball_story(&session, &params);
    let mut parts = session.into_parts();
    parts.start_s += 1000.0;
    for e in &mut parts.ends {
        e.from_s += 1000.0;
        e.to_s += 1000.0;
    }
    let later = ball_story(&setdrift_tracks::Session::new(parts).unwrap(), &params);
    assert_eq!(story.spells.len(), later.spells.len());
    assert_eq!(story.events.len(), later.events.len());
    for (a, b) in story.events.iter().zip(&later.events) {
        assert!((a.time_s + 1000.0 - b.time_s).abs() < 1e-6);
    }
}

//! The quality sheet against known truth: noise, the onset bound, and what is said to be supported.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may stop, and prints what it measured"
)]

mod common;
mod made;

use common::{Random, game};
use made::{graph, world};
use setdrift_simulate::SensorModel;
use setdrift_tracks::{
    Cleaning, Known, Level, Quality, RawTracks, Samples, Session, VerdictKind, clean,
};

/// Median of what a sheet says of players seen for at least a minute.
fn median(quality: &Quality, of: impl Fn(&setdrift_tracks::ObjectQuality) -> f64) -> f64 {
    let mut all: Vec<f64> = quality
        .players
        .iter()
        .filter(|p| (p.measured + p.filled) * quality.length_s > 60.0)
        .map(of)
        .collect();
    all.sort_by(f64::total_cmp);
    all[all.len() / 2]
}

/// The simulator's three sensors, their noise white, half of it wandering, or nearly all of it.
#[test]
fn noise_is_as_the_sensor_was_made() {
    let world = world(&graph(), 31);
    println!("sensor        white share  frame to frame: said / true  all: said / true");
    for (name, model) in [
        ("optical 25 Hz", SensorModel::optical()),
        ("radio 20 Hz", SensorModel::radio_20()),
        ("radio 10 Hz", SensorModel::radio_10()),
    ] {
        for white in [1.0, 0.5, 0.1] {
            let model = SensorModel {
                white,
                ..model.clone()
            };
            let raw = setdrift_simulated::raw(&world.sense(&model, 9).unwrap(), 8);
            let (_, quality) = clean(&raw, &Cleaning::default(), None).unwrap();
            let (frame, all) = (
                median(&quality, |p| p.noise_m),
                median(&quality, |p| p.error_m),
            );
            let true_frame = model.noise_m * white.sqrt();
            println!(
                "{name:<13} {white:>11.1}  {frame:.3} / {true_frame:.3} = {:.2}        {all:.3} / {:.3} = {:.2}",
                frame / true_frame,
                model.noise_m,
                all / model.noise_m
            );
            let off = |said: f64, truth: f64| (said / truth - 1.0).abs();
            // From frame to frame white noise shows whole; of noise that wanders, its fresh part
            // shows as well.
            assert!(white < 0.5 || off(frame, true_frame) < 0.1, "{name}");
            assert!(off(all, model.noise_m) < 0.25, "{name}");
        }
    }
}

/// A player who stands, goes three metres in a second at known instants, stands, and goes back.
struct Shuttle {
    rate_hz: f64,
    noise_m: f64,
    jerk: bool,
}

impl Shuttle {
    const TRIALS: usize = 300;
    /// No multiple of a frame at any of the rates, so that starts fall anywhere between frames.
    const EVERY_S: f64 = 5.0137;
    const WAY_M: f64 = 3.0;
    const LONG_S: f64 = 1.0;

    fn start(k: usize) -> f64 {
        2.0 + k as f64 * Self::EVERY_S
    }

    fn at(&self, t: f64) -> f64 {
        let k = ((t - 2.0) / Self::EVERY_S).floor().max(0.0);
        let u = ((t - 2.0 - k * Self::EVERY_S) / Self::LONG_S).clamp(0.0, 1.0);
        let s = if self.jerk {
            u * u * u * (10.0 - 15.0 * u + 6.0 * u * u)
        } else if u < 0.5 {
            2.0 * u * u
        } else {
            1.0 - 2.0 * (1.0 - u) * (1.0 - u)
        };
        let there = if (k as usize).is_multiple_of(2) {
            s
        } else {
            1.0 - s
        };
        Self::WAY_M * there
    }

    fn raw(&self) -> RawTracks {
        let mut raw = game(1.0, self.rate_hz, 0.0, 1);
        let mut random = Random(17);
        let n = (Self::start(Self::TRIALS) * self.rate_hz) as usize;
        let t: Vec<f64> = (0..n).map(|i| i as f64 / self.rate_hz).collect();
        raw.samples[0] = Samples {
            x: t.iter()
                .map(|t| self.at(*t) + self.noise_m * random.normal())
                .collect(),
            y: t.iter().map(|_| self.noise_m * random.normal()).collect(),
            z: None,
            t,
        };
        raw
    }

    /// When the speed, on straight lines as the timing of cues has them, last rose to 1 m/s before
    /// the middle of each movement, seconds after its start.
    fn seen(&self, session: &Session) -> Vec<f64> {
        let half = (0.15 + 0.9 * self.noise_m).clamp(0.2_f64.max(1.5 / self.rate_hz), 0.45);
        let half = (half * self.rate_hz).floor() as usize;
        let x = &session.tracks[0].x;
        let speed = |f: usize| {
            let (mut sum, mut squares) = (0.0, 0.0);
            for k in 1..=half {
                sum += k as f64 * (x[f + k] - x[f - k]);
                squares += 2.0 * (k * k) as f64;
            }
            sum / squares * self.rate_hz
        };
        (0..Self::TRIALS - 1)
            .map(|k| {
                let sign = if k.is_multiple_of(2) { 1.0 } else { -1.0 };
                let mut f = session.frame_at(Self::start(k) + Self::LONG_S / 2.0);
                while sign * speed(f - 1) >= 1.0 {
                    f -= 1;
                }
                let (a, b) = (sign * speed(f - 1), sign * speed(f));
                session.time(f - 1) + (1.0 - a) / (b - a) / self.rate_hz - Self::start(k)
            })
            .collect()
    }
}

/// Smoothing moves no beginning by more than the sheet says, with or without noise, whichever of
/// two courses of speed a movement has.
#[test]
fn beginnings_are_not_smeared() {
    println!("rate   noise   course        seen after  smoothed  moved by (± 1 se)   bound");
    for rate_hz in [10.0, 20.0, 25.0] {
        for noise_m in [0.0, 0.10, 0.25, 0.35] {
            for jerk in [true, false] {
                let made = Shuttle {
                    rate_hz,
                    noise_m,
                    jerk,
                };
                let raw = made.raw();
                let plain = Cleaning {
                    smooth: false,
                    ..Cleaning::default()
                };
                let (before, _) = clean(&raw, &plain, None).unwrap();
                let (after, sheet) = clean(&raw, &Cleaning::default(), None).unwrap();
                let (a, b) = (made.seen(&before), made.seen(&after));
                let n = a.len() as f64;
                let mean = |v: &[f64]| v.iter().sum::<f64>() / n;
                let moved: Vec<f64> = b.iter().zip(&a).map(|(b, a)| b - a).collect();
                let m = mean(&moved);
                let sd = (moved.iter().map(|d| (d - m).powi(2)).sum::<f64>() / n).sqrt();
                let se = sd / n.sqrt();
                let bound = sheet.smoothing.onset_bound_s;
                println!(
                    "{rate_hz:>2} Hz  {noise_m:.2} m  {:<12}  {:.3} s     {:.3} s   {:+.4} ± {se:.4} s   {bound:.4} s",
                    if jerk { "minimum jerk" } else { "bang-bang" },
                    mean(&a),
                    mean(&b),
                    m
                );
                assert!(
                    m.abs() <= bound + 3.0 * se + 1e-9,
                    "moved by {m}, bound {bound}"
                );
            }
        }
    }
}

/// A simulated game as one sensor saw it, changed by `change`, cleaned.
fn sheet(model: &SensorModel, change: impl Fn(&mut RawTracks)) -> Quality {
    let world = world(&graph(), 31);
    let mut raw = setdrift_simulated::raw(&world.sense(model, 9).unwrap(), 5);
    change(&mut raw);
    clean(&raw, &Cleaning::default(), None).unwrap().1
}

fn levels(quality: &Quality) -> Vec<(VerdictKind, Level)> {
    assert!(quality.supports.iter().all(|s| !s.reason.is_empty()));
    quality.supports.iter().map(|s| (s.kind, s.level)).collect()
}

/// All yes but for the kinds named.
fn but(named: &[(VerdictKind, Level)]) -> Vec<(VerdictKind, Level)> {
    VerdictKind::ALL
        .into_iter()
        .map(|k| {
            let level = named.iter().find(|n| n.0 == k).map_or(Level::Yes, |n| n.1);
            (k, level)
        })
        .collect()
}

#[test]
fn what_the_data_supports_is_said() {
    use Level::{Caution, No};
    use VerdictKind::{CueLag, Drift, Option, Passes, Placement, Release, Roles, Shots, Spacing};
    let optical = SensorModel::optical();
    let full = sheet(&optical, |_| {});
    assert_eq!(levels(&full), but(&[]), "{:#?}", full.supports);

    let q = sheet(&optical, |r| r.ball = None);
    let expected = [
        (Option, Caution),
        (Passes, No),
        (Release, No),
        (CueLag, Caution),
        (Shots, No),
    ];
    assert_eq!(levels(&q), but(&expected), "{:#?}", q.supports);
    let said = &q.support(CueLag).unwrap().reason;
    assert!(said.contains("no ball"), "{said}");

    let q = sheet(&optical, |r| r.ball.as_mut().unwrap().z = None);
    let expected = [(Passes, Caution), (Shots, Caution)];
    assert_eq!(levels(&q), but(&expected), "{:#?}", q.supports);

    let q = sheet(&optical, |r| {
        r.players.retain(|p| p.team == 0);
        r.samples.truncate(r.players.len());
    });
    assert_eq!(q.sides[1].on_floor, 0);
    assert_eq!(
        levels(&q),
        but(&[(Placement, Caution)]),
        "{:#?}",
        q.supports
    );

    let slow = SensorModel {
        rate_hz: 10.0,
        ..optical.clone()
    };
    let q = sheet(&slow, |_| {});
    let expected = [(Release, Caution), (CueLag, Caution)];
    assert_eq!(levels(&q), but(&expected), "{:#?}", q.supports);

    let noisy = SensorModel {
        noise_m: 0.6,
        ball_noise_m: 0.6,
        ..optical.clone()
    };
    let q = sheet(&noisy, |_| {});
    let said: Vec<Level> = [CueLag, Option, Roles, Placement, Spacing, Drift]
        .iter()
        .map(|k| q.support(*k).unwrap().level)
        .collect();
    let expected = [No, Caution, Caution, Caution, Caution, Caution];
    // At such noise a third of it wanders as people do: it is said to be greater than it is.
    let error = q.error_m();
    assert!((0.5..0.95).contains(&error), "{error}");
    assert_eq!(said, expected, "{:#?}", q.supports);

    let patchy = SensorModel {
        lost: 0.4,
        burst_s: 3.0,
        ..optical
    };
    let q = sheet(&patchy, |_| {});
    assert!((0.5..0.7).contains(&q.sides[0].coverage), "{:?}", q.sides);
    assert!(
        q.supports
            .iter()
            .all(|s| s.level != Level::Yes || s.kind == Release),
        "{:#?}",
        q.supports
    );
    let said = &q.support(Option).unwrap().reason;
    assert!(said.contains("attackers known"), "{said}");
}

/// What each step of the cleaning does stands in the sheet, and a step switched off does nothing.
#[test]
fn every_step_can_be_seen_and_switched_off() {
    let mut raw = game(60.0, 25.0, 0.02, 3);
    let x = &mut raw.samples[0].x;
    for v in &mut x[200..210] {
        *v += 9.0;
    }
    x[500] += 0.5;
    let lost = &mut raw.samples[1];
    for v in [&mut lost.t, &mut lost.x, &mut lost.y] {
        v.drain(300..306);
        v.drain(700..760);
    }
    let benched = &mut raw.samples[2];
    for (x, t) in benched.x.iter_mut().zip(&benched.t) {
        if *t > 40.0 && *t < 50.0 {
            *x = 17.0;
        }
    }
    let (session, q) = clean(&raw, &Cleaning::default(), None).unwrap();
    let [cut, gap, bench] = [0, 1, 2].map(|i| &q.players[i]);
    assert!(cut.jumps_cut >= 10 && cut.spikes_cut == 1, "{cut:?}");
    assert!((gap.filled * 1500.0 - 6.0).abs() < 1e-6, "{gap:?}");
    assert_eq!(gap.gaps, 1);
    assert!((gap.longest_gap_s - 60.0 / 25.0).abs() < 1e-9, "{gap:?}");
    assert!((9.0..10.5).contains(&bench.off_floor_s), "{bench:?}");
    assert_eq!(q.smoothing.window, 7);
    assert!(q.switched_off.is_empty());
    let (plain, q) = clean(&raw, &Cleaning::none(), None).unwrap();
    assert_eq!(q.switched_off.len(), 5);
    for p in &q.players {
        assert_eq!((p.jumps_cut, p.spikes_cut, p.filled), (0, 0, 0.0));
        assert_eq!((p.off_floor_s, p.swaps_mended), (0.0, 0));
    }
    assert_eq!(q.smoothing.window, 0);
    // Without any step the frames are the samples.
    assert_eq!(plain.tracks[0].x, raw.samples[0].x);
    assert_ne!(session.tracks[0].x, raw.samples[0].x);
    let unknown = |s: &Session, i: usize| {
        s.tracks[i]
            .known
            .iter()
            .filter(|k| **k == Known::Unknown)
            .count()
    };
    assert_eq!((unknown(&session, 1), unknown(&plain, 1)), (60, 66));
}

//! Statistics, hull and onsets against scipy 1.16.3 and ruptures 1.1.10
//! (`tests/reference/timing/make.py` makes the values, `check.sh` remakes and compares them).
#![allow(clippy::unwrap_used, reason = "a test may stop")]

use setdrift_timing::hull::hull_area;
use setdrift_timing::onset::{Prior, Search, fit_onset};
use setdrift_timing::profile::Profile;
use setdrift_timing::stats::{median, median_interval, sorted, theil_sen, wilson};
use setdrift_timing::trace::Sample;
use std::path::Path;

fn rows(name: &str) -> Vec<Vec<f64>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../tests/reference/timing/fixtures")
        .join(name);
    std::fs::read_to_string(path)
        .unwrap()
        .lines()
        .map(|l| l.split(',').map(|v| v.parse().unwrap()).collect())
        .collect()
}

fn pairs(flat: &[f64]) -> Vec<(f64, f64)> {
    flat.chunks_exact(2).map(|c| (c[0], c[1])).collect()
}

#[test]
fn bootstrap_intervals_agree_with_scipy() {
    for r in rows("bootstrap.csv") {
        let values = &r[2..];
        let (lo, hi) = median_interval(values, 11).unwrap();
        // A resampled median can only be one of the lags or half-way between two, so where its
        // distribution steps near the tail, draws decide which side: the ends agree to within
        // the neighbouring lag.
        let lags = sorted(values);
        let near = |own: f64, other: f64| {
            let below = lags.iter().rfind(|v| **v < other - 1e-6);
            let above = lags.iter().find(|v| **v > other + 1e-6);
            own >= below.copied().unwrap_or(other) - 1e-6
                && own <= above.copied().unwrap_or(other) + 1e-6
        };
        assert!(near(lo, r[0]), "{lo} {}", r[0]);
        assert!(near(hi, r[1]), "{hi} {}", r[1]);
    }
}

#[test]
fn shares_slopes_and_hulls_are_scipys() {
    for r in rows("wilson.csv") {
        let (lo, hi) = wilson(r[0] as usize, r[1] as usize).unwrap();
        assert!((lo - r[2]).abs() < 2e-6 && (hi - r[3]).abs() < 2e-6);
    }
    for r in rows("theil_sen.csv") {
        let slope = theil_sen(&pairs(&r[1..])).unwrap();
        assert!((slope - r[0]).abs() < 2e-6, "{slope} {}", r[0]);
    }
    for r in rows("hull.csv") {
        let area = hull_area(&pairs(&r[1..]));
        assert!((area - r[0]).abs() < 2e-6, "{area} {}", r[0]);
    }
}

/// A search for a movement along x that begins between half a second and 2.1 s.
fn rightward(white_m: f64) -> Search {
    Search {
        from_s: 0.5,
        to_s: 2.1,
        toward: (1.0, 0.0),
        white_m,
        colour_m: 0.0,
        expected: None,
        start: None,
        jab_share: 0.03,
    }
}

/// A general change-point search on the same series cannot know that speed begins at zero, so
/// it comes late; the movement fit has to be nearer, and the two must agree on the movement.
#[test]
fn onsets_are_nearer_than_a_general_change_point() {
    let (mut ours, mut theirs) = (Vec::new(), Vec::new());
    for r in rows("change_points.csv") {
        let (truth, change, rate, noise) = (r[0], r[1], r[2], r[3]);
        let samples: Vec<Sample> = r[4..]
            .iter()
            .enumerate()
            .map(|(i, x)| Sample {
                t: i as f64 / rate,
                x: *x,
                y: 0.0,
                measured: true,
            })
            .collect();
        let search = rightward(noise);
        let o = fit_onset(&samples, &search, &Prior::default()).unwrap();
        assert!((o.time_s - change).abs() < 1.0, "{} {change}", o.time_s);
        ours.push((o.time_s - truth).abs());
        theirs.push((change - truth).abs());
    }
    let (a, b) = (median(&ours).unwrap(), median(&theirs).unwrap());
    assert!(a < b && a < 0.15, "ours {a:.3} s, change point {b:.3} s");
}

/// Without noise the onset of a known profile is known in closed form.
#[test]
fn onsets_of_known_profiles_are_found() {
    for profile in Profile::ALL {
        for onset in [1.1, 1.313, 1.5] {
            let samples: Vec<Sample> = (0..80)
                .map(|i| f64::from(i) / 25.0)
                .map(|t| Sample {
                    t,
                    x: 4.5 * profile.progress((t - onset) / 2.2),
                    y: 0.0,
                    measured: true,
                })
                .collect();
            let search = rightward(0.02);
            let o = fit_onset(&samples, &search, &Prior::default()).unwrap();
            let off = (o.time_s - onset).abs();
            assert!(off < 0.06, "{profile:?} {onset}: {}", o.time_s);
        }
    }
}

/// A step away that is turned into the cut without a stop: constant accelerations, so its way and its turn
/// are known in closed form.
#[test]
fn a_jab_turned_without_a_stop_is_seen() {
    let (away, back, began, pushes) = (2.4, 5.0, 1.1, 1.4);
    let turns = pushes + away * (pushes - began) / back;
    let samples: Vec<Sample> = (0..65)
        .map(|i| f64::from(i) / 25.0)
        .map(|t| {
            let (u, w) = ((t - began).max(0.0), (t - pushes).max(0.0));
            Sample {
                t,
                x: 0.5 * (-away * u * u + (away + back) * w * w),
                y: 0.0,
                measured: true,
            }
        })
        .collect();
    let search = Search {
        jab_share: Prior::default().jab_share.0,
        ..rightward(0.02)
    };
    let o = fit_onset(&samples, &search, &Prior::default()).unwrap();
    assert!((o.time_s - pushes).abs() < 0.1, "{}", o.time_s);
    let jab = o.jab.unwrap();
    let way = 0.5 * away * (pushes - began) * (turns - began);
    assert!(jab.probability > 0.8, "{jab:?}");
    assert!((jab.from_s - began).abs() < 0.15, "{jab:?}");
    assert!((jab.way - way).abs() < 0.06, "{jab:?} {way}");
}

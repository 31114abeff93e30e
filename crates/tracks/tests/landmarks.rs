//! From boxes in an image to the floor: how well the landmarks agree, who was seen beyond them.

#![allow(clippy::unwrap_used, reason = "a test may fail where it stands")]

mod common;

use common::Folder;
use setdrift_tracks::{Loaded, open};

/// The floor point of an image point through a made-up camera at the side of the floor, centimetres.
fn floor(p: [f64; 2]) -> [f64; 2] {
    let w = 0.4 + 0.001 * p[1];
    [
        (1.2 * p[0] - 0.1 * p[1] - 300.0) / w,
        (0.1 * p[0] + 2.0 * p[1] - 250.0) / w,
    ]
}

/// Places of the floor that are easy to see.
const SEEN: [[f64; 2]; 7] = [
    [400.0, 150.0],
    [1180.0, 160.0],
    [1240.0, 700.0],
    [300.0, 690.0],
    [700.0, 300.0],
    [520.0, 420.0],
    [980.0, 520.0],
];

fn session(name: &str, shifts: &[(usize, f64)], robust: bool, n: usize) -> Loaded {
    let folder = Folder::new(name);
    let mut text = String::new();
    for f in 1..=200 {
        let t = f64::from(f) / 25.0;
        // Two players stay among the landmarks; the third leaves them for the last quarter.
        for (id, x, y) in [
            (1, 600.0 + 60.0 * t.sin(), 400.0),
            (2, 900.0, 400.0 + 60.0 * t.cos()),
            (3, if f > 150 { 200.0 } else { 450.0 }, 500.0),
        ] {
            text.push_str(&format!(
                "{f},{id},{},{},20,60,1,-1,-1,-1\n",
                x - 10.0,
                y - 60.0
            ));
        }
    }
    let mut landmarks = String::new();
    for (i, p) in SEEN.iter().take(n).enumerate() {
        let [x, mut y] = floor(*p);
        y += shifts.iter().filter(|s| s.0 == i).map(|s| s.1).sum::<f64>();
        landmarks.push_str(&format!(
            "  {{ image = [{:.1}, {:.1}], floor = [{x:.3}, {y:.3}] }},\n",
            p[0], p[1]
        ));
    }
    folder.put(
        "boxes.tracks.toml",
        &format!(
            "session.court = \"fiba\"\nfile.format = \"motchallenge\"\ntime.rate = 25.0\n\
             space = {{ unit = \"cm\", origin = [1400, 750] }}\ncleaning.leave-floor = false\n\
             [homography]\nrobust = {robust}\nlandmarks = [\n{landmarks}]\n"
        ),
    );
    open(&folder.put("boxes.txt", &text)).unwrap()
}

/// Warnings that speak of landmarks.
fn said(loaded: &Loaded) -> Vec<&str> {
    let all = loaded.warnings.iter().map(|w| w.message.as_str());
    all.filter(|m| m.contains("landmark")).collect()
}

#[test]
fn four_landmarks_say_nothing_of_their_error() {
    let loaded = session("four", &[], false, 4);
    let fit = loaded.landmarks.as_ref().unwrap();
    assert_eq!(fit.error_m, None);
    assert!(fit.residuals_m.iter().all(|r| *r < 1e-6));
    assert!(
        said(&loaded)[0].contains("a fifth would tell"),
        "{:?}",
        said(&loaded)
    );
}

#[test]
fn the_error_of_more_is_in_metres_on_the_floor() {
    // As if somebody had pointed 40 cm beside a place.
    let loaded = session("seven", &[(4, 40.0)], false, 7);
    let fit = loaded.landmarks.as_ref().unwrap();
    let error = fit.error_m.unwrap();
    let squares: f64 = fit.residuals_m.iter().map(|r| r * r).sum();
    assert!((error - (squares / 7.0).sqrt()).abs() < 1e-12);
    // Fourteen numbers, eight of them spent on the map: what is left of 40 cm is less.
    assert!((0.05..0.4 / 7.0_f64.sqrt()).contains(&error), "{error}");
    assert!(fit.residuals_m[4] > fit.residuals_m[0] && fit.residuals_m[4] < 0.4);
    let text = said(&loaded).join("\n");
    assert!(text.contains("the worst, number 5, is"), "{text}");
}

#[test]
fn a_false_landmark_is_left_out_where_asked() {
    let plain = session("false", &[(5, 300.0)], false, 7);
    let text = said(&plain).join("\n");
    assert!(text.contains("`homography.robust = true`"), "{text}");
    let robust = session("robust", &[(5, 300.0)], true, 7);
    let fit = robust.landmarks.as_ref().unwrap();
    assert_eq!(fit.used, [true, true, true, true, true, false, true]);
    assert!(fit.error_m.unwrap() < 1e-4 && (fit.residuals_m[5] - 3.0).abs() < 1e-3);
    let text = said(&robust).join("\n");
    assert!(
        text.contains("landmark 6 contradicts the others by 3.00 m"),
        "{text}"
    );
}

#[test]
fn whoever_is_seen_beyond_the_landmarks_is_named() {
    let loaded = session("outside", &[], false, 7);
    let fit = loaded.landmarks.as_ref().unwrap();
    assert_eq!(fit.outside, [("3".to_owned(), 0.25)]);
    assert!((fit.outside_share - 50.0 / 600.0).abs() < 1e-12);
    let text = said(&loaded).join("\n");
    assert!(
        text.contains("8 % of positions lie outside") && text.contains("`3` 25 %"),
        "{text}"
    );
}

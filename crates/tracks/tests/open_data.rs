//! Real three-a-side tracks (Yamada et al. 2025, arXiv:2503.18282), where they are present.
#![allow(clippy::unwrap_used, reason = "a test may fail where it stands")]

mod common;

use common::open_data;
use setdrift_tracks::{Mapping, open_with, quarter_second_speeds, sources};
use std::path::Path;

/// How the court files are written; the command's tests use it too.
fn court() -> String {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    std::fs::read_to_string(root.join("tests/open-data.tracks.toml")).unwrap()
}

/// Means over five samples, a quarter of a second.
fn means(v: &[f64]) -> Vec<f64> {
    v.windows(5).map(|w| w.iter().sum::<f64>() / 5.0).collect()
}

/// Median, 95th and 99th percentile.
fn quantiles(speeds: &mut [f64]) -> [f64; 3] {
    speeds.sort_by(f64::total_cmp);
    [0.5, 0.95, 0.99].map(|q| speeds[((speeds.len() - 1) as f64 * q).round() as usize])
}

#[test]
fn court_files_without_a_header_read_through_numbered_columns() {
    let Some(data) = open_data() else { return };
    let mapping = Mapping::parse(&court(), Path::new("tracks.toml")).unwrap();
    let files: Vec<_> = std::fs::read_dir(data.join("court"))
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    assert_eq!(files.len(), 42);
    let (mut cleaned, mut plain, mut smooth) = (Vec::new(), Vec::new(), Vec::new());
    let mut noise = Vec::new();
    for file in &files {
        let loaded = open_with(file, &mapping).unwrap();
        assert_eq!(loaded.session.players.len(), 6, "{}", file.display());
        for (t, q) in loaded.session.tracks.iter().zip(&loaded.quality.players) {
            assert!(t.coverage() > 0.95, "{} {q:?}", file.display());
            noise.push(q.noise_m);
        }
        // The offence's left is on the left of one who faces the basket.
        let at = |id: &str| {
            let i = loaded
                .session
                .players
                .iter()
                .position(|p| p.id == id)
                .unwrap();
            loaded.session.tracks[i].at(0).unwrap().y
        };
        assert!(at("O_left") < at("O_right"), "{}", file.display());
        for t in &loaded.session.tracks {
            cleaned.extend(quarter_second_speeds(t, loaded.session.rate_hz));
        }
        let (raw, _) = sources(file).unwrap()[0].read_raw(&mapping).unwrap();
        for s in &raw.samples {
            let steps = |x: &[f64], y: &[f64]| -> Vec<f64> {
                let step = |i: usize| (x[i + 5] - x[i]).hypot(y[i + 5] - y[i]) * 19.98 / 5.0;
                (0..x.len().saturating_sub(5)).map(step).collect()
            };
            plain.extend(steps(&s.x, &s.y));
            smooth.extend(steps(&means(&s.x), &means(&s.y)));
        }
    }
    noise.sort_by(f64::total_cmp);
    println!(
        "noise: median {:.3} m, greatest {:.3} m",
        noise[126], noise[251]
    );
    // Below the absolute error published for optical tracking, 0.08 to 0.09 m (Linke et al. 2020),
    // as a filter has been over these tracks.
    assert!((0.005..0.04).contains(&noise[126]) && noise[251] < 0.09);
    let [cleaned, plain, smooth] = [cleaned, plain, smooth].map(|mut v| quantiles(&mut v));
    println!("cleaned {cleaned:.2?}, as they are {plain:.2?}, means of five {smooth:.2?}");
    // The data's README: 250 ms speeds of median 1.4, 95th percentile 3.9, 99th 4.8 m/s. These are
    // the speeds of means over a quarter of a second (five samples): reading gives them to the
    // decimal they are printed with. Our cleaning smooths less than that, and never adds speed.
    for (i, printed) in [1.4, 3.9, 4.8].into_iter().enumerate() {
        assert!((smooth[i] - printed).abs() < 0.05, "{smooth:?}");
        assert!(
            smooth[i] <= cleaned[i] && cleaned[i] <= plain[i],
            "{cleaned:?}"
        );
    }
}

const PIXELS: &str = r#"
[session]
court = "3x3"
[file]
format = "motchallenge"
[time]
rate = 19.98
first-frame = 1
[space]
unit = "cm"
origin = [1100, 752.5]
[homography]
landmarks = [
  { image = [509.651, 346.444], floor = [0, 0] },
  { image = [1182.068, 423.028], floor = [0, 1505] },
  { image = [121.543, 430.870], floor = [950, 0] },
  { image = [983.043, 678.370], floor = [950, 1505] },
]
[[teams]]
id = "offence"
members = ["1", "2", "3"]
[[teams]]
id = "defence"
members = ["4", "5", "6"]
"#;

/// Pixels through the landmarks give the authors' court coordinates, except where they repaired
/// identities.
#[test]
fn pixels_through_the_landmarks_give_the_authors_coordinates() {
    let Some(data) = open_data() else { return };
    let mapping = Mapping::parse(PIXELS, Path::new("tracks.toml")).unwrap();
    let court = court().replace("object = 5", "object = 2");
    let court = Mapping::parse(&court, Path::new("t")).unwrap();
    let (mut same, mut all, mut worst) = (0, 0, 0.0_f64);
    for entry in std::fs::read_dir(data.join("pixels")).unwrap() {
        let path = entry.unwrap().path();
        let authors = data.join("court").join(path.file_name().unwrap());
        let ours = sources(&path).unwrap()[0].read_raw(&mapping).unwrap().0;
        let mut court = court.clone();
        court.teams = mapping.teams.clone();
        let theirs = sources(&authors).unwrap()[0].read_raw(&court).unwrap().0;
        for (a, b) in ours.samples.iter().zip(&theirs.samples) {
            for i in 0..a.len().min(b.len()) {
                let d = (a.x[i] - b.x[i]).hypot(a.y[i] - b.y[i]);
                all += 1;
                // A tenth of a millimetre: landmarks are given to a thousandth of a pixel.
                if d < 0.01 {
                    same += 1;
                    worst = worst.max(d);
                }
            }
        }
    }
    println!("{same} of {all} agree, the worst of them by {worst} m");
    assert!(same as f64 > 0.9 * all as f64);
}

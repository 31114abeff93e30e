//! Against general-purpose libraries: `tests/reference/tracks/make.py` writes what OpenCV, scipy,
//! pyarrow, movingpandas and motmetrics give, and `check.sh` remakes it in CI.
#![allow(clippy::unwrap_used, reason = "a test may fail where it stands")]

mod common;

use common::{Folder, game};
use serde_json::Value;
use setdrift_tracks::{
    Homography, Mapping, RawTracks, Samples, SavitzkyGolay, WriteOptions, inspect, sources, write,
};
use std::path::{Path, PathBuf};

fn reference(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../tests/reference/tracks")
        .join(name)
}

fn fixture(name: &str) -> Value {
    let path = reference("fixtures").join(name);
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array()
        .unwrap()
        .iter()
        .map(|x| x.as_f64().unwrap())
        .collect()
}

fn points(v: &Value) -> Vec<[f64; 2]> {
    v.as_array()
        .unwrap()
        .iter()
        .map(|p| {
            let p = numbers(p);
            [p[0], p[1]]
        })
        .collect()
}

#[test]
fn homographies_are_those_of_opencv() {
    let mut kinds = std::collections::BTreeMap::new();
    for case in fixture("homography.json").as_array().unwrap() {
        let kind = case["kind"].as_str().unwrap();
        let pairs: Vec<_> = points(&case["image"])
            .into_iter()
            .zip(points(&case["floor"]))
            .collect();
        let fit = Homography::fit(&pairs, kind == "false").unwrap();
        let used: Vec<bool> = case["used"]
            .as_array()
            .unwrap()
            .iter()
            .map(|u| u.as_bool().unwrap())
            .collect();
        assert_eq!(fit.used, used, "{kind}");
        for (i, p) in points(&case["probes"]).into_iter().enumerate() {
            let ours = fit.apply(p).unwrap();
            let apart = |key: &str| {
                let q = points(&case[key])[i];
                (ours[0] - q[0]).hypot(ours[1] - q[1])
            };
            let worst: &mut [f64; 2] = kinds.entry(kind.to_owned()).or_default();
            worst[0] = worst[0].max(apart("opencv"));
            worst[1] = worst[1].max(apart("least"));
        }
    }
    println!("{kinds:?}");
    assert_eq!(kinds.len(), 4);
    for [opencv, least] in kinds.values() {
        // Metres. OpenCV takes points in single precision and few steps; scipy goes to the end.
        assert!(*opencv < 5e-5 && *least < 5e-7, "{kinds:?}");
    }
}

#[test]
fn smoothing_is_that_of_scipy() {
    for case in fixture("savitzky-golay.json").as_array().unwrap() {
        let size = |key: &str| case[key].as_u64().unwrap() as usize;
        let filter = SavitzkyGolay::new(size("window"), size("order")).unwrap();
        let ours = filter.smooth(&numbers(&case["values"]));
        let theirs = numbers(&case["smooth"]);
        assert_eq!(ours.len(), theirs.len());
        for (a, b) in ours.iter().zip(&theirs) {
            assert!((a - b).abs() < 1e-10, "{a} {b}");
        }
    }
}

fn read(file: &Path, mapping: &str) -> RawTracks {
    let mapping = Mapping::parse(mapping, Path::new("tracks.toml")).unwrap();
    sources(file).unwrap()[0].read_raw(&mapping).unwrap().0
}

/// Every column type that pyarrow writes into Parquet and Arrow files, and each means the same.
#[test]
fn columns_of_every_type_mean_the_same() {
    let expected = fixture("columns.json");
    let (x, y, z) = (
        numbers(&expected["x"]),
        numbers(&expected["y"]),
        numbers(&expected["z"]),
    );
    let times = [
        ("frame_u16", "frame"),
        ("frame_i8", "frame"),
        ("frame_decimal", "frame"),
        ("at_s", "iso"),
        ("at_ms", "iso"),
        ("at_us_zone", "iso"),
        ("at_ns", "iso"),
        ("at_ns_zone", "s"),
        ("at_text", "iso"),
    ];
    let whos = [
        "who_text",
        "who_large",
        "who_view",
        "who_i8",
        "who_u8",
        "who_category",
        "who_small_category",
    ];
    let xs = ["x_i16", "x_u16", "x_u32", "x_i64", "x_f32", "x_decimal"];
    for file in ["columns.parquet", "columns.arrow", "columns.arrows"] {
        let path = reference("fixtures").join(file);
        for k in 0..times.len() {
            let (time, unit) = times[k];
            let (who, along) = (whos[k % whos.len()], xs[k % xs.len()]);
            let raw = read(
                &path,
                &format!(
                    "session.court = \"fiba\"\ntime = {{ unit = \"{unit}\", rate = 1.0 }}\n\
                     space = {{ unit = \"cm\", origin = \"corner\" }}\n\
                     columns = {{ time = \"{time}\", object = \"{who}\", team = \"side_category\", \
                     x = \"{along}\", y = \"y_i16\", z = \"z_u8\" }}\n"
                ),
            );
            let case = format!("{file} {time} {who} {along}");
            let ids: Vec<&str> = raw.players.iter().map(|p| p.id.as_str()).collect();
            assert_eq!(ids, ["7", "23", "11"], "{case}");
            assert_eq!(raw.teams[1].id, "otters", "{case}");
            for (p, s) in raw.players.iter().zip(&raw.samples) {
                let rows: Vec<usize> = (0..x.len())
                    .filter(|i| expected["who"][i] == p.id.as_str())
                    .collect();
                assert_eq!(s.len(), rows.len(), "{case}");
                for (i, row) in rows.into_iter().enumerate() {
                    assert_eq!(s.t[i], numbers(&expected["frame"])[row], "{case}");
                    assert!((s.x[i] - (x[row] / 100.0 - 14.0)).abs() < 1e-12, "{case}");
                    assert!((s.y[i] - (y[row] / 100.0 - 7.5)).abs() < 1e-12, "{case}");
                    let height = s.z.as_ref().unwrap()[i];
                    assert!((height - z[row] / 100.0).abs() < 1e-12, "{case}");
                }
            }
        }
        // Lists and durations are no positions, and say so.
        for column in ["list", "length"] {
            let text = format!(
                "session.court = \"fiba\"\ntime.unit = \"iso\"\n\
                 columns = {{ time = \"at_ms\", object = \"who_text\", x = \"{column}\", y = \"y_i16\" }}\n"
            );
            let mapping = Mapping::parse(&text, Path::new("tracks.toml")).unwrap();
            let e = sources(&path).unwrap()[0].read_raw(&mapping).unwrap_err();
            assert!(e.to_string().contains("values of type"), "{e}");
        }
        // A file of such columns can be looked at.
        let seen = inspect(&path, "columns.x = \"x_i16\"\ncolumns.y = \"y_i16\"").unwrap();
        assert!(seen.findings.iter().any(|f| f.key == "columns.time"));
    }
}

#[test]
fn a_moving_features_document_of_another_writer_is_read() {
    let expected = fixture("theirs.json");
    let raw = read(
        &reference("fixtures/theirs.mfjson"),
        "session.court = \"fiba\"\ncolumns = { object = \"shirt\", team = \"side\" }\n",
    );
    assert_eq!(raw.players.len(), 3);
    for (p, s) in raw.players.iter().zip(&raw.samples) {
        let rows: Vec<usize> = (0..numbers(&expected["x"]).len())
            .filter(|i| expected["shirt"][i] == p.id.as_str())
            .collect();
        assert_eq!(s.t.len(), rows.len());
        for (i, row) in rows.into_iter().enumerate() {
            assert_eq!(s.t[i], i as f64);
            assert_eq!(s.x[i], numbers(&expected["x"])[row]);
            assert_eq!(s.y[i], numbers(&expected["y"])[row]);
            assert_eq!(expected["side"][row], raw.teams[p.team].id.as_str());
        }
    }
}

/// The examples of OGC 19-045r3 (7.1, trajectories; 7.2, a moving point with every member a feature may
/// have), of the values typed in tests/reference/tracks/moving_features.py.
#[test]
fn the_examples_of_the_moving_features_standard_are_read() {
    let expected = fixture("standard.json");
    let check = |s: &Samples, wanted: &Value, origin: [f64; 2]| {
        assert_eq!(s.t, numbers(&wanted["t"]));
        let at = wanted["at"].as_array().unwrap();
        assert_eq!(s.len(), at.len());
        for (i, p) in at.iter().map(numbers).enumerate() {
            assert!((s.x[i] - (p[0] - origin[0])).abs() < 1e-12);
            assert!((s.y[i] - (p[1] - origin[1])).abs() < 1e-12);
            assert_eq!(s.z.as_ref().map(|z| z[i]), p.get(2).copied());
        }
    };
    let walks = read(
        &reference("fixtures/standard-trajectory.mfjson"),
        "session.court = \"fiba\"\n",
    );
    assert_eq!(walks.players.len(), 2);
    for (p, s) in walks.players.iter().zip(&walks.samples) {
        check(s, &expected["trajectory"][&p.id], [0.0; 2]);
    }
    let origin = [139.757, 35.627];
    let mapping = format!("session.court = \"fiba\"\nspace.origin = {origin:?}\n");
    let prism = reference("fixtures/standard-prism.mfjson");
    let raw = read(&prism, &mapping);
    assert_eq!(raw.players[0].id, "A");
    check(&raw.samples[0], &expected["prism"], origin);
    // As the standard has it, in degrees: no floor is told in those.
    let mut whole: Value = serde_json::from_slice(&std::fs::read(prism).unwrap()).unwrap();
    let crs = "urn:ogc:def:crs:OGC:1.3:CRS84";
    whole["crs"] = serde_json::json!({"type": "Name", "properties": {"name": crs}});
    let folder = Folder::new("standard-degrees");
    let file = folder.put("prism.mfjson", &whole.to_string());
    let mapping = Mapping::parse(&mapping, Path::new("tracks.toml")).unwrap();
    let refused = sources(&file).unwrap()[0].read_raw(&mapping).unwrap_err();
    assert!(
        refused.to_string().contains("longitudes and latitudes"),
        "{refused}"
    );
}

/// Landmarks that leave pixels as they are, one to a centimetre.
const PLAIN: &str = r#"
session.court = "fiba"
file.format = "motchallenge"
time.rate = 25.0
space = { unit = "cm", origin = "corner" }
homography.landmarks = [
  { image = [0, 0], floor = [0, 0] },
  { image = [2000, 0], floor = [2000, 0] },
  { image = [2000, 1000], floor = [2000, 1000] },
  { image = [0, 1000], floor = [0, 1000] },
]
"#;

#[test]
fn boxes_are_those_of_another_loader() {
    let raw = read(&reference("fixtures/boxes.txt"), PLAIN);
    let boxes: Vec<Vec<f64>> = fixture("boxes.json")
        .as_array()
        .unwrap()
        .iter()
        .map(numbers)
        .collect();
    let mut seen = 0;
    for (p, s) in raw.players.iter().zip(&raw.samples) {
        let theirs = boxes.iter().filter(|b| b[1].to_string() == p.id);
        for (i, b) in theirs.enumerate() {
            assert_eq!(s.t[i], (b[0] - 1.0) / 25.0);
            let foot = [b[2] + b[4] / 2.0, b[3] + b[5]];
            assert!((s.x[i] - (foot[0] / 100.0 - 14.0)).abs() < 1e-9);
            assert!((s.y[i] - (foot[1] / 100.0 - 7.5)).abs() < 1e-9);
            seen += 1;
        }
    }
    assert_eq!(seen, boxes.len());
}

/// What `check.py` reads with other readers. `SETDRIFT_WRITE=1` replaces it.
#[test]
fn our_files_are_those_that_other_readers_check() {
    let folder = Folder::new("written");
    let mut raw = game(0.4, 25.0, 0.02, 7);
    raw.ball = None;
    // To millimetres, so that no platform's sine shows.
    for s in &mut raw.samples {
        for v in s.x.iter_mut().chain(&mut s.y) {
            *v = (*v * 1e3).round() / 1e3;
        }
    }
    for name in ["written.mfjson", "written.csv"] {
        let path = folder.file(name);
        write(&raw, &path, &WriteOptions::default()).unwrap();
        let ours = std::fs::read(&path).unwrap();
        let committed = reference("ours").join(name);
        if std::env::var("SETDRIFT_WRITE").is_ok() {
            std::fs::write(&committed, &ours).unwrap();
        }
        assert!(ours == std::fs::read(&committed).unwrap(), "{name}");
    }
}

//! The same session through every format.

mod common;

use common::{Folder, game};
use proptest::prelude::*;
use setdrift_tracks::mapping::{Mapping, SideFiles};
use setdrift_tracks::{
    Known, Layout, Player, Problem, RawTracks, Samples, WriteOptions, open, sources, write,
};
use std::collections::{BTreeMap, BTreeSet};

const NAMES: [&str; 13] = [
    "a.csv",
    "b.tsv",
    "c.csv.gz",
    "d.csv.zst",
    "e.ndjson",
    "f.jsonl.gz",
    "g.parquet",
    "h.arrow",
    "i.arrows",
    "j.feather",
    "k.mfjson",
    "l.mfjson.zst",
    "m.geojson",
];

/// Holes, odd numbers and a bench: what real files have.
fn awkward() -> RawTracks {
    let mut raw = game(8.0, 25.0, 0.03, 5);
    let s = &mut raw.samples[3];
    s.t.drain(50..80);
    s.x.drain(50..80);
    s.y.drain(50..80);
    raw.samples[0].x[7] = 0.1 + 0.2;
    raw.samples[0].y[7] = -1.0 / 3.0;
    if let Some(z) = raw.ball.as_mut().and_then(|b| b.z.as_mut()) {
        z[10] = f64::NAN;
    }
    raw.players[2].number = Some("23".into());
    raw.players[2].name = Some("Odell, \"Ice\"".into());
    raw.players[2].roles = vec!["1".into(), "2".into()];
    raw
}

/// Every bit of the samples.
fn bits(raw: &RawTracks) -> Vec<u64> {
    let mut out = Vec::new();
    for s in raw.samples.iter().chain(&raw.ball) {
        for v in [&s.t, &s.x, &s.y].into_iter().chain(&s.z) {
            out.push(v.len() as u64);
            out.extend(v.iter().map(|x| if x.is_nan() { 1 } else { x.to_bits() }));
        }
    }
    out
}

#[test]
fn every_format_and_layout_gives_back_the_same_bits() {
    let folder = Folder::new("formats");
    let raw = awkward();
    for layout in [Layout::Long, Layout::Wide] {
        for name in NAMES {
            let path = folder.file(&format!("{layout:?}-{name}"));
            let options = WriteOptions {
                layout,
                ..WriteOptions::default()
            };
            let mapping = write(&raw, &path, &options).unwrap();
            let source = &sources(&path).unwrap()[0];
            assert_eq!(source.mapping().unwrap().to_toml(), mapping.to_toml());
            let (back, warnings) = source.read_raw(&mapping).unwrap();
            assert_eq!(warnings, [], "{name}");
            assert_eq!(bits(&back), bits(&raw), "{name} {layout:?}");
            assert_eq!(back.players, raw.players, "{name}");
            let plain = |mut r: RawTracks| {
                r.samples.clear();
                r.ball = None;
                r
            };
            assert_eq!(plain(back), plain(raw.clone()), "{name}");
        }
    }
}

/// Times that need not be even, positions with every bit in use, zero and minus zero among them.
fn samples(heights: bool) -> impl Strategy<Value = Samples> {
    let number = prop_oneof![
        8 => -7.0..7.0_f64,
        1 => Just(0.0),
        1 => Just(-0.0),
        1 => Just(1.0 / 3.0),
        1 => Just(f64::MIN_POSITIVE),
    ];
    let row = (
        1e-3..0.5_f64,
        number.clone(),
        number,
        prop::option::of(0.0..4.0_f64),
    );
    prop::collection::vec(row, 1..12).prop_map(move |rows| {
        let mut s = Samples {
            z: heights.then(Vec::new),
            ..Samples::default()
        };
        let mut t = 0.0;
        for (step, x, y, z) in rows {
            t += step;
            s.t.push(t);
            s.x.push(x);
            s.y.push(y);
            if let Some(to) = &mut s.z {
                to.push(z.unwrap_or(f64::NAN));
            }
        }
        // A height that is never given is no height.
        s.z = s.z.filter(|z| z.iter().any(|v| !v.is_nan()));
        s
    })
}

/// One to ten players with awkward names, and sometimes a ball.
fn sessions() -> impl Strategy<Value = RawTracks> {
    let id = "[A-Za-zäé0-9][A-Za-zäé0-9 ,;'\"|._-]{0,6}[A-Za-z0-9]";
    let ids = prop::collection::btree_set(id, 1..=10);
    let tracks = prop::collection::vec(samples(false), 10);
    (ids, tracks, prop::option::of(samples(true))).prop_map(|(ids, tracks, ball)| {
        let missing = ["NA", "nan", "null", "NaN", "None", "NULL", "ball"];
        let ids: BTreeSet<String> = ids
            .into_iter()
            .map(|id| {
                if missing.contains(&id.as_str()) {
                    "p1".into()
                } else {
                    id
                }
            })
            .collect();
        let mut raw = game(1.0, 25.0, 0.0, 1);
        raw.rate_hz = None;
        raw.players = ids
            .iter()
            .enumerate()
            .map(|(i, id)| Player {
                id: id.clone(),
                team: i % 2,
                number: None,
                name: None,
                roles: Vec::new(),
            })
            .collect();
        raw.samples = tracks.into_iter().take(ids.len()).collect();
        raw.ball = ball;
        raw
    })
}

/// Team and samples of each object, by its name.
fn by_name(raw: &RawTracks) -> BTreeMap<String, (usize, Vec<u64>)> {
    let one = |s: &Samples| {
        let values = [&s.t, &s.x, &s.y].into_iter().chain(&s.z);
        values
            .flatten()
            .map(|v| if v.is_nan() { 1 } else { v.to_bits() })
            .collect()
    };
    let players = raw
        .players
        .iter()
        .zip(&raw.samples)
        .map(|(p, s)| (p.id.clone(), (p.team, one(s))));
    players
        .chain(raw.ball.iter().map(|b| ("the ball".into(), (9, one(b)))))
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn any_session_comes_back_bit_for_bit_from_every_format_and_layout(raw in sessions()) {
        let folder = Folder::new("any");
        let expected = by_name(&raw);
        for layout in [Layout::Long, Layout::Wide] {
            for name in NAMES {
                let path = folder.file(&format!("{layout:?}-{name}"));
                let options = WriteOptions { layout, ..WriteOptions::default() };
                write(&raw, &path, &options).unwrap();
                let source = &sources(&path).unwrap()[0];
                let (back, _) = source.read_raw(&source.mapping().unwrap()).unwrap();
                prop_assert_eq!(&by_name(&back), &expected, "{:?} {}", layout, name);
            }
        }
    }
}

#[test]
fn a_session_opens_with_masks_and_quality() {
    let folder = Folder::new("opens");
    let raw = awkward();
    let path = folder.file("night.parquet");
    folder.put(
        "results.csv",
        "time_s,team,result,points\n00:07.0,herons,made,2\n3.5,otters,turnover,\n",
    );
    folder.put("tags.csv", "from_s,to_s,option,hand\n1,3.5,zipper,left\n");
    let options = WriteOptions {
        files: SideFiles {
            roster: None,
            results: Some("results.csv".into()),
            tags: Some("tags.csv".into()),
        },
        ..WriteOptions::default()
    };
    write(&raw, &path, &options).unwrap();
    let loaded = open(&path).unwrap();
    let s = &loaded.session;
    assert_eq!((s.frames(), s.rate_hz, s.teams.len()), (200, 25.0, 2));
    assert_eq!(s.players[2].label(), "23 Odell, \"Ice\"");
    assert_eq!(s.tracks[3].known[60], Known::Unknown);
    assert!(s.ball.as_ref().unwrap().height(20).is_some());
    assert_eq!(loaded.results[1].points, Some(2));
    assert_eq!(loaded.tags[0].option, "zipper");
    let q = &loaded.quality;
    assert!(
        (q.players[0].noise_m - 0.03).abs() < 0.005,
        "{}",
        q.players[0].noise_m
    );
    assert_eq!(q.players[3].gaps, 1);
    assert!((q.players[3].longest_gap_s - 1.2).abs() < 1e-9);
}

/// The samples of `raw` from one time to another.
fn between(raw: &RawTracks, from: f64, to: f64) -> RawTracks {
    let mut part = raw.clone();
    for s in part.samples.iter_mut().chain(&mut part.ball) {
        let keep: Vec<bool> = s.t.iter().map(|t| (from..to).contains(t)).collect();
        for v in [&mut s.t, &mut s.x, &mut s.y].into_iter().chain(&mut s.z) {
            let mut k = keep.iter();
            v.retain(|_| k.next() == Some(&true));
        }
    }
    part
}

/// Engines write a table as a folder of parts; they are one session, whatever the format.
#[test]
fn a_folder_of_parts_is_one_session() {
    let raw = awkward();
    for ending in ["parquet", "csv.gz", "arrow", "ndjson", "mfjson"] {
        let folder = Folder::new(&format!("parts-{ending}"));
        let mut text = String::new();
        for (i, from) in [0.0, 2.5, 5.0].into_iter().enumerate() {
            let path = folder.file(&format!("part-0000{i}.{ending}"));
            let part = between(&raw, from, from + if i == 2 { 9.0 } else { 2.5 });
            let options = WriteOptions {
                files: SideFiles {
                    roster: Some("roster.csv".into()),
                    ..SideFiles::default()
                },
                ..WriteOptions::default()
            };
            text = write(&part, &path, &options).unwrap().to_toml();
            std::fs::remove_file(folder.file(&format!("part-0000{i}.tracks.toml"))).unwrap();
        }
        folder.put(
            "roster.csv",
            "id,number,name,team,roles\nh3,23,\"Odell, \"\"Ice\"\"\",herons,1 2\n",
        );
        // Engines leave such marks beside the parts.
        folder.put("_SUCCESS", "");
        folder.put(
            "tracks.toml",
            &text.replace("[file]", "[file]\nparts = true"),
        );
        let found = sources(&folder.file("")).unwrap();
        assert_eq!((found.len(), found[0].files.len()), (1, 3), "{ending}");
        let (back, _) = found[0].read_raw(&found[0].mapping().unwrap()).unwrap();
        assert_eq!(bits(&back), bits(&raw), "{ending}");
        assert_eq!(back.players, raw.players, "{ending}");
        assert_eq!(open(&folder.file("")).unwrap().session.id, "night");
    }
}

/// A folder of sessions is listed without reading them; each is opened by itself, through its own
/// mapping or the folder's.
#[test]
fn a_folder_of_sessions_gives_them_one_by_one() {
    let folder = Folder::new("sessions");
    let mut text = String::new();
    for (i, name) in ["b.parquet", "a.csv.zst", "c.mfjson"]
        .into_iter()
        .enumerate()
    {
        let raw = game(2.0, 25.0, 0.03, 20 + i as u64);
        let path = folder.file(name);
        text = write(&raw, &path, &WriteOptions::default())
            .unwrap()
            .to_toml();
        let own = folder.file(&format!("{}.tracks.toml", &name[..1]));
        if name.starts_with('c') {
            std::fs::write(&own, text.replace("id = \"night\"", "id = \"its-own\"")).unwrap();
        } else {
            std::fs::remove_file(&own).unwrap();
        }
    }
    // The shared mapping serves any format and names no session.
    let shared: String = text
        .replace("id = \"night\"\n", "")
        .replace("format = \"moving-features\"\n", "")
        .replace("x = \"x\"", "x = \"x_m\"")
        .replace("y = \"y\"", "y = \"y_m\"")
        .replace("z = \"z\"", "z = \"z_m\"");
    folder.put("tracks.toml", &shared);
    // Something that is no session is met only when it is opened.
    folder.put("d.csv", "not,tracks\n");
    let found = sources(&folder.file("")).unwrap();
    let ids: Vec<String> = found[..3]
        .iter()
        .map(|s| s.open().unwrap().session.id.clone())
        .collect();
    assert_eq!(ids, ["a", "b", "its-own"]);
    assert!(found[3].open().is_err());
    assert!(open(&folder.file("")).is_err(), "four sessions are not one");
}

#[test]
fn six_on_one_side_by_a_false_exchange_are_traced_to_it() {
    let folder = Folder::new("six-by-exchange");
    let mut raw = game(60.0, 10.0, 0.02, 5);
    // `h6` plays the first five seconds in place of `h5`, then sits.
    let mut sixth = raw.players[4].clone();
    sixth.id = "h6".into();
    raw.players.push(sixth);
    let whole = raw.samples[4].clone();
    let part = |from: usize, to: usize| Samples {
        t: whole.t[from..to].to_vec(),
        x: whole.x[from..to].to_vec(),
        y: whole.y[from..to].to_vec(),
        z: None,
    };
    raw.samples[4] = part(50, whole.len());
    raw.samples.push(part(0, 50));
    let path = folder.file("six.csv");
    let mapping = write(&raw, &path, &WriteOptions::default()).unwrap();
    assert!(open(&path).is_ok());
    let said = "\n[[exchanges]]\nplayers = [\"h6\", \"o1\"]\nfrom = 20.0\n";
    let mapping = Mapping::parse(&(mapping.to_toml() + said), &mapping.path).unwrap();
    let e = sources(&path).unwrap()[0].open_with(&mapping).unwrap_err();
    assert!(matches!(&*e.problem, Problem::TooMany { team, .. } if team == "herons"));
    assert!(
        e.problem
            .mend()
            .contains("`[[exchanges]]` of `h6` and `o1`"),
        "{e}"
    );
}

#[test]
fn six_on_one_side_is_an_error_with_time_and_names() {
    let folder = Folder::new("six");
    let mut raw = game(40.0, 10.0, 0.02, 5);
    raw.players[5].team = 0;
    let path = folder.file("six.csv");
    write(&raw, &path, &WriteOptions::default()).unwrap();
    let e = open(&path).unwrap_err();
    let Problem::TooMany {
        team, count, who, ..
    } = &*e.problem
    else {
        panic!("{e}");
    };
    assert_eq!((team.as_str(), *count, who.len()), ("herons", 6, 6));
    assert!(
        e.to_string()
            .contains("from 0.0 s to 39.9 s (h1, h2, h3, h4, h5, o1)"),
        "{e}"
    );
}

#[test]
fn a_substitution_is_no_error() {
    let folder = Folder::new("substitution");
    let mut raw = game(60.0, 10.0, 0.02, 5);
    // The first otter becomes a sixth heron, who comes at 30 s; h1 goes at 34 s.
    raw.players[5].team = 0;
    let cut = |s: &mut setdrift_tracks::Samples, from: usize, to: usize| {
        for v in [&mut s.t, &mut s.x, &mut s.y] {
            v.drain(from..to);
        }
    };
    cut(&mut raw.samples[0], 340, 600);
    cut(&mut raw.samples[5], 0, 300);
    let path = folder.file("substitution.csv");
    write(&raw, &path, &WriteOptions::default()).unwrap();
    let loaded = open(&path).unwrap();
    let s = &loaded.session;
    assert_eq!(s.roster(0).count(), 6);
    let comes = s.players.iter().position(|p| p.id == "o1").unwrap();
    assert_eq!(s.tracks[comes].known[320], Known::Unknown);
    assert_ne!(s.tracks[comes].known[341], Known::Unknown);
    assert!((loaded.quality.players[comes].substitution_s - 4.0).abs() < 0.11);
}

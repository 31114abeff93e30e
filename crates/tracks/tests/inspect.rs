//! Files nobody has described.

mod common;

use common::{Folder, Random, game, open_data};
use setdrift_tracks::mapping::{CourtSpec, Format, SpaceUnit, TimeUnit};
use setdrift_tracks::{
    Density, Inspection, Layout, RawTracks, WriteOptions, clean, inspect, open_with, write,
};
use std::path::Path;

fn look(path: &Path, known: &str) -> Inspection {
    inspect(path, known).expect("the file is a table")
}

fn needed(i: &Inspection) -> Vec<&str> {
    i.questions
        .iter()
        .filter(|q| q.needed)
        .map(|q| q.key.as_str())
        .collect()
}

/// Both teams on one half after the other, defenders nearer to the basket.
fn contest(seconds: f64) -> RawTracks {
    let mut raw = game(seconds, 25.0, 0.03, 11);
    let mut random = Random(3);
    for (i, s) in raw.samples.iter_mut().enumerate() {
        let angle = (i % 5) as f64 * 1.2;
        let reach = 5.5;
        for k in 0..s.t.len() {
            let t = s.t[k];
            // Ten seconds at one end, then ten at the other; team 0 attacks the right one.
            let right = ((t / 10.0) as usize).is_multiple_of(2);
            let reach = if (i < 5) == right {
                reach + 1.0
            } else {
                reach - 1.0
            };
            let sway = 0.6 * (0.8 * t + angle).sin();
            let (dx, dy) = ((angle + sway).cos() * reach, (angle + sway).sin() * reach);
            s.x[k] = if right {
                12.0 - dx.abs()
            } else {
                dx.abs() - 12.0
            } + 0.02 * random.normal();
            s.y[k] = dy.clamp(-7.2, 7.2) + 0.02 * random.normal();
        }
    }
    raw.ends.clear();
    raw
}

/// Long text in other units, names and signs.
fn feet_from_a_corner(raw: &RawTracks) -> String {
    let mut text = String::from("Timestamp (ms);Player ID;Team;pos_x;pos_y;Height\n");
    for f in 0..raw.samples[0].len() {
        for (i, s) in raw.samples.iter().chain(&raw.ball).enumerate() {
            let (id, team) = match raw.players.get(i) {
                Some(p) => (p.id.as_str(), raw.teams[p.team].id.as_str()),
                None => ("Ball", ""),
            };
            let ft = |v: f64| format!("{:.3}", v / 0.3048).replace('.', ",");
            let z = s.z.as_ref().map_or(String::new(), |z| ft(z[f]));
            text.push_str(&format!(
                "{:.0};{id};{team};{};{};{z}\n",
                s.t[f] * 1000.0,
                ft(s.x[f] + 14.3256),
                ft(s.y[f] + 7.62),
            ));
        }
    }
    text
}

#[test]
fn our_own_files_need_no_help_in_any_format() {
    let folder = Folder::new("inspect-own");
    let raw = contest(60.0);
    for (name, layout) in [
        ("a.csv", Layout::Long),
        ("b.csv", Layout::Wide),
        ("c.parquet", Layout::Long),
        ("d.ndjson.gz", Layout::Long),
        ("e.arrow", Layout::Wide),
    ] {
        let path = folder.file(name);
        let options = WriteOptions {
            layout,
            ..WriteOptions::default()
        };
        write(&raw, &path, &options).unwrap();
        let i = look(&path, "");
        assert!(i.problem.is_none(), "{name}: {:?}", i.problem);
        assert_eq!(needed(&i), Vec::<&str>::new(), "{name}");
        let back = i.raw.as_ref().unwrap();
        assert_eq!(back.samples.len(), 10);
        assert_eq!(i.mapping.space.unit, SpaceUnit::M, "{name}");
        assert_eq!(i.mapping.ball.as_ref().unwrap().object, "ball");
        for (a, b) in back.samples[0].x.iter().zip(&raw.samples[0].x) {
            assert_eq!(a.to_bits(), b.to_bits(), "{name}");
        }
        assert_eq!(i.mapping.ends.len(), 1, "{name}: {:?}", i.mapping.ends);
        assert_eq!(
            i.mapping.ends[0].attacks,
            setdrift_court::End::Right,
            "{name}"
        );
        // What is written is a mapping that reads the file.
        let written = setdrift_tracks::Mapping::parse(&i.toml, Path::new("t.toml")).unwrap();
        assert_eq!(written.to_toml(), i.mapping.to_toml());
        open_with(&path, &written).unwrap();
    }
}

#[test]
fn feet_decimal_commas_and_milliseconds_are_seen() {
    let folder = Folder::new("inspect-feet");
    let raw = contest(60.0);
    let path = folder.put("export.csv", &feet_from_a_corner(&raw));
    let i = look(&path, "");
    assert!(i.problem.is_none(), "{:?}", i.problem);
    assert_eq!(needed(&i), Vec::<&str>::new());
    let m = &i.mapping;
    assert_eq!((m.file.delimiter, m.file.decimal), (Some(';'), Some(',')));
    assert_eq!((m.time.unit, m.space.unit), (TimeUnit::Ms, SpaceUnit::Ft));
    assert_eq!(m.ball.as_ref().unwrap().object, "Ball");
    let back = i.raw.as_ref().unwrap();
    for (a, b) in back.samples.iter().zip(&raw.samples) {
        for k in 0..a.len() {
            // Three decimals of a foot.
            assert!((a.x[k] - b.x[k]).abs() < 2e-4 && (a.y[k] - b.y[k]).abs() < 2e-4);
        }
    }
    // Lines of a rule book cannot be seen in positions: that is asked.
    assert!(i.questions.iter().any(|q| q.key == "session.court"));
}

#[test]
fn a_change_of_ends_is_found() {
    let folder = Folder::new("inspect-ends");
    let mut raw = contest(240.0);
    for s in &mut raw.samples {
        for k in 0..s.t.len() {
            if s.t[k] >= 120.0 {
                s.x[k] = -s.x[k];
            }
        }
    }
    let path = folder.file("halves.csv");
    write(&raw, &path, &WriteOptions::default()).unwrap();
    let i = look(&path, "");
    let ends = &i.mapping.ends;
    assert_eq!(ends.len(), 2, "{ends:?}");
    assert!((ends[1].from.unwrap() - 120.0).abs() <= 2.0);
    assert_ne!(ends[0].attacks, ends[1].attacks);
}

/// Half a floor fits at either end of either origin: the basket tells which.
#[test]
fn a_practice_at_one_end_is_laid_at_that_end() {
    let folder = Folder::new("inspect-half");
    let mut raw = contest(120.0);
    for s in &mut raw.samples {
        for (k, x) in s.x.iter_mut().enumerate() {
            // Out to the middle and in to the ring, never beyond.
            *x = 4.5 + (x.abs() - 5.5).clamp(0.0, 6.5) / 6.5 * 8.5 + 0.1 * (k as f64 * 0.01).sin();
        }
    }
    raw.ball = None;
    let path = folder.file("half.csv");
    write(&raw, &path, &WriteOptions::default()).unwrap();
    let i = look(&path, "");
    assert!(i.problem.is_none(), "{:?}", i.problem);
    assert_eq!(
        i.mapping.session.court,
        Some(CourtSpec::Named("fiba".into()))
    );
    let back = i.raw.as_ref().unwrap();
    assert_eq!(back.samples[0].x, raw.samples[0].x);
    assert_eq!(i.mapping.ends[0].attacks, setdrift_court::End::Right);
}

/// A ball of no name, and a unit that stands in the header.
#[test]
fn the_object_of_neither_team_is_the_ball_and_headers_tell_units() {
    let folder = Folder::new("inspect-minus");
    let raw = contest(60.0);
    let mut text = String::from("t;tid;pid;X [cm];Y [cm]\n");
    for f in 0..raw.samples[0].len() {
        for (i, s) in raw.samples.iter().chain(&raw.ball).enumerate() {
            let (team, id) = match raw.players.get(i) {
                Some(p) => (p.team + 40, i + 100),
                None => (0, 0),
            };
            text.push_str(&format!(
                "{};{team};{id};{:.1};{:.1}\n",
                s.t[f],
                s.x[f] * 100.0,
                s.y[f] * 100.0
            ));
        }
    }
    let text = text.replace("tid", "team").replace("pid", "player");
    let i = look(&folder.put("plain.csv", &text), "");
    assert!(i.problem.is_none(), "{:?}", i.problem);
    assert_eq!(needed(&i), Vec::<&str>::new());
    assert_eq!(i.mapping.ball.as_ref().unwrap().object, "0");
    assert_eq!(i.mapping.space.unit, SpaceUnit::Cm);
    let back = i.raw.as_ref().unwrap();
    assert_eq!((back.players.len(), back.ball.is_some()), (10, true));
    let said = i.findings.iter().find(|f| f.key == "space.unit").unwrap();
    assert!(
        said.reason.contains("by the column's name"),
        "{}",
        said.reason
    );
}

#[test]
fn a_folder_is_not_looked_at_but_its_files_are() {
    let folder = Folder::new("inspect-folder");
    folder.put("a.csv", "t,id,x,y\n");
    let e = inspect(&folder.file(""), "").unwrap_err();
    assert!(e.to_string().contains("a folder of 1 files"), "{e}");
    assert!(e.mend().contains("file.parts = true"), "{}", e.mend());
}

#[test]
fn periods_and_a_clock_are_times() {
    let folder = Folder::new("inspect-clock");
    let mut text = String::from("quarter,game_clock,player_id,team_id,x,y\n");
    let raw = contest(200.0);
    for f in 0..raw.samples[0].len() {
        let t = raw.samples[0].t[f];
        // The second quarter begins after 120 s of the first.
        let (quarter, left) = if t < 120.0 {
            (1, 600.0 - t)
        } else {
            (2, 720.0 - t)
        };
        for (p, s) in raw.players.iter().zip(&raw.samples) {
            text.push_str(&format!(
                "{quarter},{:02}:{:05.2},{},{},{:.3},{:.3}\n",
                (left / 60.0) as u32,
                left % 60.0,
                p.id,
                raw.teams[p.team].id,
                s.x[f],
                s.y[f]
            ));
        }
    }
    let i = look(&folder.put("clock.csv", &text), "");
    assert!(i.problem.is_none(), "{:?}", i.problem);
    assert_eq!(i.mapping.time.period, Some(600.0));
    let times = &i.raw.as_ref().unwrap().samples[0].t;
    assert!((times[3000] - 600.0).abs() < 0.011, "{}", times[3000]);
    // No period of a rule book begins at 25 minutes: that is asked.
    let i = look(
        &folder.put("long.csv", &text.replace("1,10:00", "1,25:00")),
        "",
    );
    assert!(needed(&i).contains(&"time.period"), "{:?}", i.questions);
}

/// Names in another language, or none at all: teams and clocks show in what columns hold.
#[test]
fn teams_and_clocks_are_seen_without_their_names() {
    let folder = Folder::new("inspect-unnamed");
    let raw = contest(60.0);
    let text = feet_from_a_corner(&raw).replace("Player ID;Team;", "Spieler;Mannschaft;");
    let i = look(&folder.put("export.csv", &text), "");
    assert!(i.problem.is_none(), "{:?}", i.problem);
    let column = i.mapping.columns.team.as_ref().unwrap().to_string();
    assert_eq!(column, "Mannschaft");
    assert_eq!(i.raw.as_ref().unwrap().teams[0].id, raw.teams[0].id);

    let mut text = String::new();
    for f in 0..raw.samples[0].len() {
        for (p, s) in raw.players.iter().zip(&raw.samples) {
            text.push_str(&format!(
                "1,{:.2},{},{},{:.3},{:.3}\n",
                600.0 - s.t[f],
                raw.teams[p.team].id,
                p.id,
                s.x[f],
                s.y[f]
            ));
        }
    }
    let i = look(&folder.put("bare.csv", &text), "");
    assert!(i.problem.is_none(), "{:?}", i.problem);
    assert_eq!(needed(&i), Vec::<&str>::new());
    let c = &i.mapping.columns;
    let all = [&c.period, &c.clock, &c.team, &c.object, &c.x, &c.y];
    let found = all.map(|c| c.as_ref().map_or(String::new(), ToString::to_string));
    assert_eq!(found, ["1", "2", "3", "4", "5", "6"]);
    assert!((i.raw.as_ref().unwrap().samples[0].t[50] - 2.0).abs() < 0.006);
}

#[test]
fn what_cannot_be_told_is_asked_and_answers_win() {
    let folder = Folder::new("inspect-ask");
    let path = folder.put(
        "boxes.txt",
        "1,1,504.9,412.6,51,153,-1,-1,-1,-1\n2,1,505,412,51,153,-1,-1,-1,-1\n",
    );
    let i = look(&path, "");
    assert_eq!(i.mapping.file.format, Some(Format::Motchallenge));
    assert_eq!(needed(&i), ["homography", "time.rate", "session.court"]);
    let path = folder.put("five.csv", "a,b,c\n1,x,2\n2,y,3\n");
    let i = look(&path, "");
    assert!(needed(&i).contains(&"columns.x"), "{:?}", i.questions);
    let e = inspect(&path, "time.rat = 25").unwrap_err();
    assert!(e.to_string().contains("rat"), "{e}");
}

#[test]
fn the_picture_shows_the_floor() {
    let raw = contest(20.0);
    let d = Density::of(&raw, 0.25);
    let svg = d.svg();
    assert!(svg.starts_with("<svg") && svg.matches("<polyline").count() == 8);
    let png = d.png();
    assert_eq!(&png[..8], b"\x89PNG\r\n\x1a\n");
    assert!(png.ends_with(&[0x49, 0x45, 0x4e, 0x44, 0xae, 0x42, 0x60, 0x82]));
}

const ANSWERS: &str = r#"
session.court = "3x3"
time.rate = 19.98
space = { unit = "cm", origin = [1100, 752.5] }
homography.landmarks = [
  { image = [509.651, 346.444], floor = [0, 0] },
  { image = [1182.068, 423.028], floor = [0, 1505] },
  { image = [121.543, 430.870], floor = [950, 0] },
  { image = [983.043, 678.370], floor = [950, 1505] },
]
teams = [
  { id = "offence", members = ["1", "2", "3"] },
  { id = "defence", members = ["4", "5", "6"] },
]
"#;

/// Every open file, without help where its content tells: court and wide files. Pixels need their
/// landmarks, which no content tells.
#[test]
fn open_files_are_inspected_read_cleaned_and_converted() {
    let Some(data) = open_data() else { return };
    let folder = Folder::new("inspect-open");
    let mut seen = 0;
    for kind in ["court", "wide", "pixels"] {
        for entry in std::fs::read_dir(data.join(kind)).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            let i = if kind == "pixels" {
                assert!(look(&path, "").raw.is_none());
                look(&path, ANSWERS)
            } else {
                look(&path, "")
            };
            assert!(i.problem.is_none(), "{kind}/{name}: {:?}", i.problem);
            assert_eq!(needed(&i), Vec::<&str>::new(), "{kind}/{name}");
            let m = &i.mapping;
            assert_eq!(
                m.session.court,
                Some(CourtSpec::Named("3x3".into())),
                "{kind}/{name}"
            );
            assert_eq!(m.space.unit, SpaceUnit::Cm, "{kind}/{name}: {:?}", m.space);
            assert_eq!((m.time.unit, m.teams.len()), (TimeUnit::Frame, 2));
            assert_eq!(m.ends.len(), 1, "{kind}/{name}");
            assert_eq!(
                m.ends[0].attacks,
                setdrift_court::End::Left,
                "{kind}/{name}"
            );
            // The true rate is 19.98.
            let rate = m.time.rate.unwrap();
            assert!((10.0..=30.0).contains(&rate), "{kind}/{name}: {rate}");
            let raw = i.raw.unwrap();
            let (session, _) = clean(&raw, &m.cleaning, None).unwrap();
            assert_eq!(session.players.len(), 6);
            let out = folder.file(&format!("{kind}-{name}.parquet"));
            let mapping = write(&raw, &out, &WriteOptions::default()).unwrap();
            assert_eq!(
                open_with(&out, &mapping).unwrap().session,
                session,
                "{kind}/{name}"
            );
            seen += 1;
        }
    }
    assert_eq!(seen, 62);
}

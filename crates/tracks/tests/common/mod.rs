//! Raw tracks made for tests, and folders to write them to.
#![allow(
    dead_code,
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "helpers of tests, each file of which uses its part"
)]

use setdrift_court::{Court, End};
use setdrift_tracks::{EndSpan, Player, RawTracks, Samples, SessionKind, Team};
use std::path::{Path, PathBuf};

/// A folder that goes away at the end of the test.
pub struct Folder(PathBuf);

impl Folder {
    pub fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("setdrift-{name}-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&path);
        std::fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    pub fn file(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }

    pub fn put(&self, name: &str, text: &str) -> PathBuf {
        let path = self.file(name);
        std::fs::write(&path, text).unwrap();
        path
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// Own generator, so that tests are the same everywhere.
pub struct Random(pub u64);

impl Random {
    pub fn unit(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}

/// Two teams of five and a ball that wander over the floor at human speeds.
pub fn game(seconds: f64, rate_hz: f64, noise: f64, seed: u64) -> RawTracks {
    let mut random = Random(seed);
    let frames = (seconds * rate_hz) as usize;
    let players: Vec<Player> = (0..10)
        .map(|i| Player {
            id: format!("{}{}", if i < 5 { "h" } else { "o" }, i % 5 + 1),
            team: i / 5,
            number: None,
            name: None,
            roles: Vec::new(),
        })
        .collect();
    let mut path = |speed: f64, height: bool| {
        // Slow sinusoids of random phase: smooth, bounded, below a human's top speed.
        let phase: Vec<f64> = (0..4)
            .map(|_| random.unit() * std::f64::consts::TAU)
            .collect();
        let mut s = Samples {
            z: height.then(Vec::new),
            ..Samples::default()
        };
        for f in 0..frames {
            let t = f as f64 / rate_hz;
            s.t.push(t);
            s.x.push(
                9.0 * (speed * 0.11 * t + phase[0]).sin()
                    + 2.0 * (speed * 0.7 * t + phase[1]).sin()
                    + noise * random.normal(),
            );
            s.y.push(
                5.0 * (speed * 0.17 * t + phase[2]).sin()
                    + 1.0 * (speed * 0.9 * t + phase[3]).sin()
                    + noise * random.normal(),
            );
            if let Some(z) = &mut s.z {
                z.push(1.5 + 0.5 * (3.0 * t).sin());
            }
        }
        s
    };
    let samples = (0..10).map(|_| path(1.0, false)).collect();
    let ball = Some(path(1.3, true));
    RawTracks {
        id: "night".into(),
        date: Some("2031-10-04".into()),
        kind: SessionKind::Game,
        opponent: Some("Quarry Lane Otters".into()),
        court: Court::fiba(),
        per_side: 5,
        teams: vec![
            Team {
                id: "herons".into(),
                name: "Marrow Bay Herons".into(),
            },
            Team {
                id: "otters".into(),
                name: "Quarry Lane Otters".into(),
            },
        ],
        players,
        samples,
        ball,
        rate_hz: Some(rate_hz),
        exchanges: Vec::new(),
        ends: vec![EndSpan {
            from_s: 0.0,
            to_s: seconds + 1.0,
            end: End::Right,
        }],
    }
}

/// The open data beside the repository, where present.
pub fn open_data() -> Option<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let path = root.join("../shared/open-data/3x3-indoor");
    if path.is_dir() {
        Some(path)
    } else {
        println!("skipped: no open data at {}", path.display());
        None
    }
}

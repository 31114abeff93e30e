//! Numbers checked against what others have printed or measured.
#![allow(clippy::unwrap_used, clippy::panic)]

use setdrift_court::{AttackPoint, Court, Zone, spot};
use setdrift_playbook::graph::{Graph, RATE_HZ};
use setdrift_playbook::{load_str, motion};

const FT: f64 = 0.3048;

/// Where a playbook's words put people, from the rule books: elbows are where the free-throw line
/// meets the lane lines (FIBA OBR Art. 2.4.3 and 2.4.4: 5.80 m and 4.90 m; NBA Rule 1: 19 ft and
/// 16 ft; NCAA and NFHS Rule 1: 19 ft and 12 ft); a player at the top stands outside an arc of
/// 6.75 m (FIBA, and 3x3 on half of its court), 23 ft 9 in (NBA), 22 ft 1 3/4 in (NCAA), 19 ft 9 in (NFHS) about the ring, whose
/// centre is 1.575 m (FIBA) or 63 in from the end line.
#[test]
fn spots_are_where_the_rule_books_put_them() {
    let books = [
        ("fiba", 5.80, 2.45, 6.75, 1.575),
        ("3x3", 5.80, 2.45, 6.75, 1.575),
        ("nba", 19.0 * FT, 8.0 * FT, 23.75 * FT, 5.25 * FT),
        (
            "ncaa",
            19.0 * FT,
            6.0 * FT,
            (22.0 + 1.75 / 12.0) * FT,
            5.25 * FT,
        ),
        ("nfhs", 19.0 * FT, 6.0 * FT, 19.75 * FT, 5.25 * FT),
    ];
    for (name, line, lane, arc, ring) in books {
        let source = format!(
            "name = \"t\"\ncourt = \"{name}\"\n[formations.f]\n1 = \"right elbow\"\n2 = \"top\"\n\
             3 = \"left elbow\"\nball = 1\n[options.a]\nafter = [\"f\"]\nsteps = [\"1 shoots\"]\n"
        );
        let g = load_str(&source, name).unwrap().graph;
        let places = &g.formations[0].places;
        assert!(
            places[0].distance(AttackPoint::new(line, lane)) < 1e-9,
            "{name}"
        );
        assert!(
            places[2].distance(AttackPoint::new(line, -lane)) < 1e-9,
            "{name}"
        );
        let from_ring = places[1].x - ring;
        assert!(
            from_ring > arc && from_ring < arc + 1.0,
            "{name}: {from_ring}"
        );
        assert!(Zone::BehindArc.contains(&g.court, places[1]));
        let court = Court::named(name).unwrap();
        let rim = spot(&court, "rim").unwrap().1;
        assert!((rim.x - ring).abs() < 1e-9);
    }
}

fn lantern() -> Graph {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../sample-tracks/lantern.toml"
    );
    load_str(&std::fs::read_to_string(path).unwrap(), "lantern.toml")
        .unwrap()
        .graph
}

/// Reference motion is run at speeds people run at. TrackID3x3 (Yamada et al. 2025, arXiv
/// 2503.18282, open tracks of real plays): speeds over 250 ms reach 3.9 m/s at the 95th and
/// 4.8 m/s at the 99th percentile. Nobody passes the sprint peaks of match play.
#[test]
fn reference_motion_is_run_at_human_speeds() {
    let g = lantern();
    let mut speeds = Vec::new();
    for n in &g.nodes {
        for row in &n.motion.roles {
            for w in row.windows(3) {
                speeds.push(w[0].distance(w[2]) * RATE_HZ / 2.0);
            }
        }
    }
    speeds.sort_by(f64::total_cmp);
    let at = |q: f64| speeds[((speeds.len() - 1) as f64 * q) as usize];
    assert!((3.0..=4.3).contains(&at(0.95)), "{}", at(0.95));
    assert!((3.9..=5.3).contains(&at(0.99)), "{}", at(0.99));
    assert!(at(1.0) < motion::MAX_SPEED);
}

/// Zones of speed found in matches: "A Proposal of Speed Zone Classification in Basketball", MHSalud
/// 19(2), 2022, 1-14 (abstract): up to 10 km/h, to 13.8, to 17.6, to 21.5, and sprints above that.
/// Cuts as we draw them peak in the third or fourth zone, dribbles below it, nobody is asked to
/// sprint, and what is refused as faster than a person lies well inside the sprints.
#[test]
fn speeds_lie_in_the_zones_of_time_motion_studies() {
    use setdrift_playbook::graph::ActionKind;
    let kmh = |v: f64| v * 3.6;
    let folder = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../notebooks-free-examples/playbooks"
    );
    let mut books = vec![lantern()];
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let source = std::fs::read_to_string(&path).unwrap();
        books.push(load_str(&source, "example").unwrap().graph);
    }
    let (mut long_cuts, mut dribbles) = (0, 0);
    for n in books.iter().flat_map(|g| &g.nodes) {
        for a in &n.actions {
            let row = &n.motion.roles[a.role][a.from..=a.to];
            let way: f64 = row.windows(2).map(|w| w[0].distance(w[1])).sum();
            let peak = row
                .windows(3)
                .map(|w| kmh(w[0].distance(w[2]) * RATE_HZ / 2.0))
                .fold(0.0, f64::max);
            assert!(peak < 21.5, "{}: {peak}", a.text);
            match a.kind {
                // A short cut ends before it is at speed.
                ActionKind::Cut { .. } if way > 5.0 && !a.text.contains(" in ") => {
                    long_cuts += 1;
                    assert!((10.0..21.5).contains(&peak), "{}: {peak}", a.text);
                }
                ActionKind::Dribble { .. } => {
                    dribbles += 1;
                    assert!(peak < 13.8, "{}: {peak}", a.text);
                }
                _ => {}
            }
        }
    }
    assert!(long_cuts > 10 && dribbles > 8, "{long_cuts} {dribbles}");
    assert!((21.5..36.0).contains(&kmh(motion::MAX_SPEED)));
}

/// A single straight cut follows the closed form of Flash & Hogan 1985: with `τ = t / T`, the
/// share of the way gone is `10 τ³ − 15 τ⁴ + 6 τ⁵`, half the way at half the time, and the peak
/// speed is 1.875 times the mean.
#[test]
fn a_straight_cut_is_a_minimum_jerk_movement() {
    let source = "name = \"t\"\nunits = \"m\"\n[spots]\na = [2.0, -6.0]\nb = [8.0, -6.0]\n\
                  [formations.f]\n1 = \"a\"\n2 = \"right wing\"\n[options.o]\nafter = \"f\"\n\
                  steps = [\"1 cuts to b in 2 s\"]\n";
    let g = load_str(source, "t").unwrap().graph;
    let row = &g.nodes[0].motion.roles[0];
    assert_eq!(row.len(), 21);
    for (f, p) in row.iter().enumerate() {
        let t = f as f64 / 20.0;
        let share = 10.0 * t.powi(3) - 15.0 * t.powi(4) + 6.0 * t.powi(5);
        assert!((p.x - (2.0 + 6.0 * share)).abs() < 1e-9, "{f}");
    }
    assert!((row[10].x - 5.0).abs() < 1e-9);
    let peak = (row[11].x - row[9].x) / 0.2;
    assert!((peak - 1.875 * 3.0).abs() < 0.05, "{peak}");
}

//! How near the audit comes to known truth at three sensor models, through the whole of it:
//! the cut is looked for about a loosely aligned moment, not handed over.
//!
//! Print the table with `cargo test -p setdrift-timing --test accuracy -- --nocapture`.

mod common;

use common::*;
use setdrift_court::AttackPoint;
use setdrift_playbook::graph::{Action, ActionKind, Cue, CueEvent, CutKind, Graph};
use setdrift_recognise::model::{Hand, Verdict};
use setdrift_timing::model::When;
use setdrift_timing::profile::Profile;
use setdrift_timing::random::Rng;
use setdrift_timing::stats::median;
use setdrift_timing::{ValidParams, audit};

const TOP: AttackPoint = AttackPoint::new(8.8, 0.0);
const ELBOW: AttackPoint = AttackPoint::new(5.8, -2.45);
const WINDOW: (f64, f64) = (0.0, 0.5);
const CASES: usize = 400;

/// Starts and ends of cuts on a FIBA half court, one pair each.
const CUTS: [(AttackPoint, AttackPoint); 6] = [
    (AttackPoint::new(5.0, 6.4), AttackPoint::new(2.3, 2.45)),
    (AttackPoint::new(1.2, 7.1), AttackPoint::new(6.0, 6.2)),
    (AttackPoint::new(8.2, 3.4), AttackPoint::new(2.0, -0.8)),
    (AttackPoint::new(2.3, -2.45), AttackPoint::new(8.3, -2.0)),
    (AttackPoint::new(5.0, -6.4), AttackPoint::new(1.2, -7.1)),
    (AttackPoint::new(6.0, 2.45), AttackPoint::new(2.3, 0.5)),
];

/// What a case really was.
struct Case {
    world: World,
    graph: Graph,
    lag: Option<f64>,
    profile: Profile,
    end: AttackPoint,
    kind: usize,
    way: f64,
    long: f64,
}

fn case(rng: &mut Rng, sensor: Sensor, seed: u64) -> Case {
    let (start, target) = CUTS[rng.below(CUTS.len())];
    let mut near = |p: AttackPoint, by: f64| {
        AttackPoint::new(p.x + by * rng.normal(), p.y + by * rng.normal())
    };
    let (from, end) = (near(start, 0.4), near(target, 0.4));
    let profile = if rng.unit() < 0.5 {
        Profile::MinimumJerk
    } else {
        Profile::BangBang
    };
    let way = from.distance(end);
    // 2.5 to 5.5 m/s² at the peak: brisk to hard (high intensity begins at 3.5 to 4 m/s²,
    // Tuttle et al. 2024, Ibáñez et al. 2024), at most 6.5 m/s.
    let hard = 2.5 + 3.0 * rng.unit();
    let long = (profile.peak_acceleration() * way / hard)
        .sqrt()
        .max(profile.peak_speed() * way / 6.5);
    let lag = (rng.unit() > 0.08).then(|| -0.8 + 2.1 * rng.unit());
    let pass = 5.0;
    let mut moves = Vec::new();
    let mut begin = from;
    let onset = pass + lag.unwrap_or(0.0);
    let kind = rng.below(5);
    match kind {
        // Arrives from elsewhere shortly before.
        0 | 1 => {
            begin = AttackPoint::new(from.x + 1.5 * rng.normal(), from.y + 1.5 * rng.normal());
            let took = 0.9 + 0.6 * rng.unit();
            moves.push(go(onset - took - 0.3 - 1.2 * rng.unit(), took, from));
        }
        // Sways on the spot.
        2 => {
            let aside =
                AttackPoint::new(from.x + 0.12 * rng.normal(), from.y + 0.12 * rng.normal());
            moves.push(go(onset - 1.8, 0.8, aside));
            moves.push(go(onset - 0.9, 0.8, from));
        }
        _ => {}
    }
    if lag.is_some() {
        moves.push(Move {
            from_s: onset,
            long_s: long,
            to: end,
            profile,
        });
    }
    let mut world = World::new(
        sensor,
        vec![
            Course::still(TOP),
            Course {
                start: begin,
                moves,
                eager: None,
            },
            Course::still(ELBOW),
        ],
    );
    world.seed = seed;
    world.long_s = 12.0;
    if rng.unit() < 0.5 {
        world.hand = Hand::Left;
    }
    Case {
        world,
        graph: playbook(start, target),
        lag,
        profile,
        end,
        kind,
        way,
        long,
    }
}

fn playbook(start: AttackPoint, target: AttackPoint) -> Graph {
    let nominal = (start.distance(target) / 2.2).max(1.0);
    let frames = (nominal * 10.0).round() as usize;
    let step = Step {
        long_s: nominal + 1.5,
        courses: vec![
            Course::still(TOP),
            Course {
                start,
                moves: vec![go(1.2, nominal, target)],
                eager: None,
            },
            Course::still(ELBOW),
        ],
        actions: vec![
            pass(),
            Action {
                role: 1,
                kind: ActionKind::Cut {
                    kind: CutKind::Cut,
                    path: vec![target],
                    off: None,
                },
                from: 12,
                to: 12 + frames,
                cue: Some(Cue {
                    role: 0,
                    event: CueEvent::Passes,
                    from_s: WINDOW.0,
                    to_s: WINDOW.1,
                }),
                placements: vec![],
                text: "2 cuts when 1 passes within 0.5 s".into(),
            },
        ],
    };
    graph(vec![step], vec![])
}

fn truth(lag: Option<f64>) -> When {
    match lag {
        None => When::Never,
        Some(l) if l < WINDOW.0 => When::Early,
        Some(l) if l > WINDOW.1 => When::Late,
        Some(_) => When::OnTime,
    }
}

/// Cramér–Rao bound on the standard deviation of an onset, seconds, when noise, profile and
/// direction are known but place, way and duration are not: the inverse Fisher information of
/// `p0 + way·s((t - onset) / long)` in white noise, over samples from `rest` before the onset to
/// the end of the movement.
fn bound(profile: Profile, way: f64, long: f64, sensor: Sensor, rest: f64) -> f64 {
    let n = ((rest + long) * sensor.rate_hz * (1.0 - sensor.lost)) as usize;
    let dt = (rest + long) / n as f64;
    let h = 1e-4;
    let mut f = [[0.0; 4]; 4];
    for i in 0..n {
        let t = -rest + i as f64 * dt;
        let s = |onset: f64, long: f64| profile.progress((t - onset) / long);
        let g = [
            1.0,
            s(0.0, long),
            way * (s(h, long) - s(-h, long)) / (2.0 * h),
            way * (s(0.0, long + h) - s(0.0, long - h)) / (2.0 * h),
        ];
        for a in 0..4 {
            for b in 0..4 {
                f[a][b] += g[a] * g[b] / sensor.noise_m.powi(2);
            }
        }
    }
    inverse_diagonal(f, 2).sqrt()
}

/// One diagonal element of the inverse of a positive definite matrix, by Gauss–Jordan.
fn inverse_diagonal(mut m: [[f64; 4]; 4], k: usize) -> f64 {
    let mut inv = [[0.0; 4]; 4];
    for (i, row) in inv.iter_mut().enumerate() {
        row[i] = 1.0;
    }
    for i in 0..4 {
        let p = m[i][i];
        for j in 0..4 {
            m[i][j] /= p;
            inv[i][j] /= p;
        }
        for r in 0..4 {
            if r != i {
                let v = m[r][i];
                for j in 0..4 {
                    m[r][j] -= v * m[i][j];
                    inv[r][j] -= v * inv[i][j];
                }
            }
        }
    }
    inv[k][k]
}

#[test]
fn onsets_classes_and_places_at_three_sensors() {
    println!(
        "{:<24} {:>7} {:>7} {:>7} {:>7} {:>7} {:>7} {:>7} {:>7}",
        "sensor", "median", "bound", "bias", "class", "unsure", "calib", "place", "cases"
    );
    // Sensor, greatest median error and bias of the onset (s), least share of right classes.
    let floors = [
        (OPTICAL, 0.05, 0.02, 0.93),
        (RADIO_20, 0.09, 0.03, 0.90),
        (RADIO_10, 0.15, 0.06, 0.84),
    ];
    let mut short = Vec::new();
    for (sensor, worst, worst_bias, least) in floors {
        let mut rng = Rng::new(17);
        let mut errors: Vec<(Profile, f64)> = Vec::new();
        let (mut bounds, mut z, mut places) = (Vec::new(), Vec::new(), Vec::new());
        let mut kinds: Vec<Vec<f64>> = vec![vec![]; 5];
        let (mut right, mut unsure, mut judged) = (0, 0, 0);
        for i in 0..CASES {
            let c = case(&mut rng, sensor, 1000 + i as u64);
            let story = c.world.story(vec![c.world.pass(0, 2, 5.0, 5.4)]);
            let shift = 0.3 * rng.normal();
            let long = c.graph.nodes[0].motion.duration_s();
            let span = (
                4.0 + shift,
                4.0 + shift + long + c.lag.unwrap_or(0.0).max(0.0),
            );
            let reading = c.world.reading(&c.graph, &[span], Verdict::Ran);
            let a = audit(
                &c.world.session(),
                &c.graph,
                &story,
                &[c.world.possession()],
                &[reading],
                &ValidParams::default(),
            );
            let check = &a.cues[0];
            judged += 1;
            if check.when == truth(c.lag) {
                right += 1;
            }
            if check.when == When::CannotTell {
                unsure += 1;
            }
            if let (Some(onset), Some(lag), Some(sd)) = (check.onset_s, c.lag, check.uncertainty_s)
            {
                let e = onset - (5.0 + lag);
                errors.push((c.profile, e));
                kinds[c.kind].push(e);
                z.push(e / sd);
                bounds.push(bound(c.profile, c.way, c.long, sensor, 1.2));
            }
            if c.lag.is_some()
                && let Some(p) = a.placements.iter().find(|p| p.role == Some(1))
                && let Some(at) = p.at
            {
                places.push(at.distance(c.end));
            }
        }
        let show = |name: &str, of: &[f64], class: Option<f64>| {
            let abs: Vec<f64> = of.iter().map(|e| e.abs()).collect();
            let bias = of.iter().sum::<f64>() / of.len() as f64;
            println!(
                "{name:<24} {:>7.3} {:>7} {bias:>+7.3} {:>7}",
                median(&abs).unwrap(),
                "",
                class.map_or(String::new(), |c| format!("{c:.3}"))
            );
            (median(&abs).unwrap(), bias)
        };
        let place = median(&places).unwrap();
        let all: Vec<f64> = errors.iter().map(|e| e.1).collect();
        let share = f64::from(right) / f64::from(judged);
        let abs: Vec<f64> = all.iter().map(|e| e.abs()).collect();
        let med = median(&abs).unwrap();
        let bias = all.iter().sum::<f64>() / all.len() as f64;
        let inside = z.iter().filter(|z| z.abs() <= 1.96).count() as f64 / z.len() as f64;
        println!(
            "{:<24} {med:>7.3} {:>7.3} {bias:>+7.3} {share:>7.3} {:>7.3} {inside:>7.3} {:>7.3} {:>7}",
            sensor.name,
            0.6745 * median(&bounds).unwrap(),
            f64::from(unsure) / f64::from(judged),
            place,
            all.len()
        );
        for p in [Profile::MinimumJerk, Profile::BangBang] {
            let own: Vec<f64> = errors.iter().filter(|e| e.0 == p).map(|e| e.1).collect();
            show(&format!("  {p:?}"), &own, None);
        }
        for (i, k) in kinds.iter().enumerate() {
            show(&format!("  kind {i}"), k, None);
        }
        for (what, value, ok) in [
            ("median error", med, med <= worst),
            ("bias", bias, bias.abs() <= worst_bias),
            ("classes right", share, share >= least),
            ("place", place, place <= 0.3),
        ] {
            if !ok {
                short.push(format!("{}: {what} {value:.3}", sensor.name));
            }
        }
    }
    assert!(short.is_empty(), "{short:?}");
}

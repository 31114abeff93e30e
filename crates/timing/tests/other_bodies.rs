//! Bodies and noise that no constant was chosen on: critically damped followers that turn on their
//! way, go in two parts or straight, seen by sensors whose noise is correlated from frame to frame.
//!
//! Print the table with `cargo test -p setdrift-timing --test other_bodies -- --nocapture`.

mod common;

use common::*;
use setdrift_court::AttackPoint;
use setdrift_playbook::graph::{Action, ActionKind, Cue, CueEvent, CutKind, Graph};
use setdrift_recognise::model::Verdict;
use setdrift_timing::model::When;
use setdrift_timing::random::Rng;
use setdrift_timing::stats::median;
use setdrift_timing::{ValidParams, audit};

const WINDOW: (f64, f64) = (0.0, 0.6);
const TOP: AttackPoint = AttackPoint::new(8.8, 0.0);
const WING: AttackPoint = AttackPoint::new(5.0, 6.4);
const ELBOW: AttackPoint = AttackPoint::new(5.8, -2.45);
const BLOCK: AttackPoint = AttackPoint::new(2.3, 2.45);
const CASES: usize = 120;

fn playbook() -> Graph {
    let cut = Action {
        role: 1,
        kind: ActionKind::Cut {
            kind: CutKind::Cut,
            path: vec![BLOCK],
            off: None,
        },
        from: 12,
        to: 32,
        cue: Some(Cue {
            role: 0,
            event: CueEvent::Passes,
            from_s: WINDOW.0,
            to_s: WINDOW.1,
        }),
        placements: vec![],
        text: "2 cuts when 1 passes within 0.6 s".into(),
    };
    let step = Step {
        long_s: 3.4,
        courses: vec![
            Course::still(TOP),
            Course::moving(WING, vec![go(1.2, 2.0, BLOCK)]),
            Course::still(ELBOW),
        ],
        actions: vec![pass(), cut],
    };
    graph(vec![step], vec![])
}

/// Lag of the onset and the mover's course.
fn case(rng: &mut Rng) -> (f64, Course) {
    let lag = -0.7 + 2.0 * rng.unit();
    let onset = 5.0 + lag;
    let mut near = |p: AttackPoint, by: f64| {
        AttackPoint::new(p.x + by * rng.normal(), p.y + by * rng.normal())
    };
    let (start, end) = (near(WING, 0.3), near(BLOCK, 0.3));
    let way = start.distance(end);
    let speed = 2.2 + 1.4 * rng.unit();
    let long = way / speed;
    let (dx, dy) = ((end.x - start.x) / way, (end.y - start.y) / way);
    let moves = match rng.below(3) {
        // Bent: half-way stands a screener.
        0 => {
            let mid = start.lerp(end, 0.5);
            let mid = AttackPoint::new(mid.x - 0.7 * dy, mid.y + 0.7 * dx);
            vec![
                go(onset, 0.5 * long, mid),
                go(onset + 0.5 * long, 0.5 * long, end),
            ]
        }
        // In two parts with a short stop between.
        1 => vec![
            go(onset, 0.6 * long, start.lerp(end, 0.6)),
            go(onset + 0.6 * long + 0.2, 0.4 * long, end),
        ],
        _ => vec![go(onset, long, end)],
    };
    let mut course = Course::moving(start, moves);
    // At 2.2 to 3.6 m/s this is 2.4 to 6 m/s² at the peak, as people do.
    course.eager = Some(3.0 + 1.5 * rng.unit());
    (lag, course)
}

#[test]
fn followers_under_coloured_noise() {
    // Correlations over one frame: a third at 25 Hz, six tenths at 20 and 10 Hz.
    let sensors = [
        (
            Sensor {
                colour: 0.3,
                ..OPTICAL
            },
            0.08,
            0.86,
        ),
        (
            Sensor {
                colour: 0.6,
                ..RADIO_20
            },
            0.12,
            0.79,
        ),
        (
            Sensor {
                colour: 0.6,
                ..RADIO_10
            },
            0.145,
            0.77,
        ),
    ];
    let g = playbook();
    let mut short = Vec::new();
    for (sensor, worst, least) in sensors {
        let mut rng = Rng::new(4242);
        let (mut errors, mut right) = (Vec::new(), 0);
        for i in 0..CASES {
            let (lag, course) = case(&mut rng);
            let mut w = World::new(
                sensor,
                vec![Course::still(TOP), course, Course::still(ELBOW)],
            );
            w.seed = 9000 + i as u64;
            w.long_s = 12.0;
            let shift = 0.3 * rng.normal();
            let a = audit(
                &w.session(),
                &g,
                &w.story(vec![w.pass(0, 2, 5.0, 5.4)]),
                &[w.possession()],
                &[w.reading(&g, &[(4.0 + shift, 8.0 + shift)], Verdict::Ran)],
                &ValidParams::default(),
            );
            let truth = if lag < WINDOW.0 {
                When::Early
            } else if lag > WINDOW.1 {
                When::Late
            } else {
                When::OnTime
            };
            right += usize::from(a.cues[0].when == truth);
            if let Some(t) = a.cues[0].onset_s {
                errors.push(t - 5.0 - lag);
            }
        }
        let abs: Vec<f64> = errors.iter().map(|e| e.abs()).collect();
        let (med, bias) = (median(&abs).unwrap(), median(&errors).unwrap());
        let class = right as f64 / CASES as f64;
        println!(
            "{:<24} median {med:.3} bias {bias:+.3} class {class:.3} of {}",
            sensor.name,
            errors.len()
        );
        if med > worst || class < least {
            short.push(sensor.name);
        }
    }
    assert!(short.is_empty(), "{short:?}");
}

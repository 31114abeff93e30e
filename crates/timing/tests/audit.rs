//! The audit of one cut against one pass, with everything known.

mod common;

use common::*;
use setdrift_court::{AttackPoint, End};
use setdrift_playbook::graph::{Action, ActionKind, Cue, CueEvent, CutKind, Graph, Placement};
use setdrift_recognise::model::{Hand, Verdict};
use setdrift_timing::model::{Audit, Kept, When};
use setdrift_timing::{ValidParams, audit};

const TOP: AttackPoint = AttackPoint::new(8.8, 0.0);
const WING: AttackPoint = AttackPoint::new(5.0, 6.4);
const ELBOW: AttackPoint = AttackPoint::new(5.8, -2.45);
const BLOCK: AttackPoint = AttackPoint::new(2.3, 2.45);
const CORNER: AttackPoint = AttackPoint::new(1.2, -7.1);

/// Role 1 passes to 3 at 1.0 s of the step, 2 cuts from the wing to the block within 0.5 s.
fn playbook() -> Graph {
    let cut = Action {
        role: 1,
        kind: ActionKind::Cut {
            kind: CutKind::BackCut,
            path: vec![BLOCK],
            off: None,
        },
        from: 12,
        to: 28,
        cue: Some(Cue {
            role: 0,
            event: CueEvent::Passes,
            from_s: 0.0,
            to_s: 0.5,
        }),
        placements: vec![Placement::Within {
            distance: 1.0,
            place: BLOCK,
            name: "right block".into(),
        }],
        text: "2 back cuts to right block when 1 passes within 0.5 s within 1 m of right block"
            .into(),
    };
    let step = Step {
        long_s: 3.0,
        courses: vec![
            Course::still(TOP),
            Course {
                start: WING,
                moves: vec![go(1.2, 1.6, BLOCK)],
                eager: None,
            },
            Course::still(ELBOW),
            Course::still(CORNER),
        ],
        actions: vec![pass(), cut],
    };
    graph(vec![step], vec![])
}

/// The pass leaves at 4.0 s of the session; the cut begins `lag` later.
fn world(lag: Option<f64>, sensor: Sensor) -> World {
    let cut = lag.map_or(Course::still(WING), |l| Course {
        start: WING,
        moves: vec![go(4.0 + l, 1.5, BLOCK)],
        eager: None,
    });
    World::new(
        sensor,
        vec![
            Course::still(TOP),
            cut,
            Course::still(ELBOW),
            Course::still(CORNER),
        ],
    )
}

fn run(w: &World) -> Audit {
    let g = playbook();
    let story = w.story(vec![w.pass(0, 2, 4.0, 4.45)]);
    let reading = w.reading(&g, &[(3.0, 6.2)], Verdict::Ran);
    audit(
        &w.session(),
        &g,
        &story,
        &[w.possession()],
        &[reading],
        &ValidParams::default(),
    )
}

#[test]
fn early_on_time_late_and_never_are_told_apart() {
    for (lag, expected) in [
        (Some(-0.6), When::Early),
        (Some(0.2), When::OnTime),
        (Some(1.1), When::Late),
        (None, When::Never),
    ] {
        let a = run(&world(lag, OPTICAL));
        assert_eq!(a.cues.len(), 1);
        let c = &a.cues[0];
        assert_eq!(c.when, expected, "{lag:?}: {}", c.evidence);
        assert_eq!(c.cue_s, Some(4.0));
        if let Some(l) = lag {
            assert!((c.lag_s.unwrap() - l).abs() < 0.15, "{}", c.evidence);
            assert!(c.uncertainty_s.unwrap() > 0.0);
        }
    }
}

#[test]
fn end_hand_and_numbering_of_players_change_nothing() {
    let right = run(&world(Some(0.3), OPTICAL));
    let mut w = world(Some(0.3), OPTICAL);
    w.end = End::Left;
    w.hand = Hand::Left;
    w.players = vec![3, 2, 0, 1];
    let other = run(&w);
    let (a, b) = (&right.cues[0], &other.cues[0]);
    assert_eq!(a.when, b.when);
    assert_eq!(b.player, 2);
    // Noise differs, since the tracks are drawn in another place.
    assert!((a.lag_s.unwrap() - b.lag_s.unwrap()).abs() < 0.15);
    let (p, q) = (&right.placements[0], &other.placements[0]);
    assert!(p.at.unwrap().distance(q.at.unwrap()) < 0.3);
}

#[test]
fn a_gap_at_the_start_is_no_verdict() {
    let mut w = world(Some(0.3), OPTICAL);
    w.hidden = vec![(1, 3.5, 5.5)];
    let a = run(&w);
    assert_eq!(a.cues[0].when, When::CannotTell, "{}", a.cues[0].evidence);
    assert!(
        a.cues[0].evidence.contains("measured"),
        "{}",
        a.cues[0].evidence
    );
}

#[test]
fn without_a_ball_the_cue_is_said_to_be_unseen() {
    let w = world(Some(0.3), OPTICAL);
    let g = playbook();
    let reading = w.reading(&g, &[(3.0, 6.2)], Verdict::Ran);
    let a = audit(
        &w.session(),
        &g,
        &w.story(vec![]),
        &[w.possession()],
        &[reading],
        &ValidParams::default(),
    );
    let c = &a.cues[0];
    assert_eq!(c.when, When::CannotTell);
    assert!(c.onset_s.is_some() && c.lag_s.is_none());
    assert!(c.evidence.contains("no ball"), "{}", c.evidence);
}

#[test]
fn a_jab_away_is_reported_beside_the_true_cut() {
    // Common practice, no published source: a step away from the basket first, then the cut.
    let mut w = world(None, OPTICAL);
    w.courses[1] = Course {
        start: WING,
        moves: vec![
            go(3.75, 0.45, AttackPoint::new(5.5, 7.2)),
            go(4.2, 1.5, BLOCK),
        ],
        eager: None,
    };
    let a = run(&w);
    let c = &a.cues[0];
    assert_eq!(c.when, When::OnTime, "{}", c.evidence);
    assert!((c.onset_s.unwrap() - 4.2).abs() < 0.15, "{}", c.evidence);
    assert!(c.jab_s.is_some_and(|j| (j - 3.75).abs() < 0.25), "{c:?}");
}

#[test]
fn drifting_and_shuffling_are_no_cut() {
    // A slow drift towards the block, then a shuffle there and back.
    let mut w = world(None, OPTICAL);
    let near = WING.lerp(BLOCK, 0.08);
    w.courses[1] = Course {
        start: WING,
        moves: vec![go(3.0, 3.0, near), go(6.2, 0.6, WING), go(6.9, 0.6, near)],
        eager: None,
    };
    let c = &run(&w).cues[0];
    assert_eq!(c.when, When::Never, "{}", c.evidence);
}

#[test]
fn who_comes_to_his_place_has_not_left_it() {
    // Comes down the cut's own direction, 2.3 m of it, and stands.
    let from = AttackPoint::new(6.3, 8.3);
    for came in [1.8, 2.6, 3.4] {
        for (cut, expected) in [(None, When::Never), (Some(5.3), When::Late)] {
            let mut moves = vec![go(came, 1.2, WING)];
            moves.extend(cut.map(|at| go(at, 1.5, BLOCK)));
            let mut w = world(None, OPTICAL);
            w.courses[1] = Course {
                start: from,
                moves,
                eager: None,
            };
            let c = &run(&w).cues[0];
            assert_eq!(c.when, expected, "{came} {}", c.evidence);
        }
    }
}

#[test]
fn where_the_cut_ended_is_told_with_its_error() {
    let a = run(&world(Some(0.2), RADIO_20));
    let own = a.placements.iter().find(|p| p.role == Some(1)).unwrap();
    assert_eq!(own.kept, Kept::Yes, "{}", own.evidence);
    assert!(own.at.unwrap().distance(BLOCK) < 0.3, "{}", own.evidence);
    let mut w = world(None, RADIO_20);
    let short = AttackPoint::new(3.4, 5.0);
    w.courses[1].moves = vec![go(4.2, 1.5, short)];
    let a = run(&w);
    let own = a
        .placements
        .iter()
        .find(|p| p.text.contains(": within"))
        .unwrap();
    assert_eq!(own.kept, Kept::No, "{}", own.evidence);
    let truth = short.distance(BLOCK) - 1.0;
    assert!(
        (own.off_by.unwrap() - truth).abs() < 0.3,
        "{}",
        own.evidence
    );
    assert!(own.evidence.contains(" ft"), "{}", own.evidence);
}

#[test]
fn a_run_that_does_not_fit_the_session_is_passed_over() {
    let w = world(Some(0.3), OPTICAL);
    let g = playbook();
    let mut reading = w.reading(&g, &[(3.0, 6.2)], Verdict::Ran);
    if let setdrift_recognise::model::What::Option(run) = &mut reading.segments[0].what {
        run.players[2] = Some(99);
    }
    let a = audit(
        &w.session(),
        &g,
        &w.story(vec![]),
        &[w.possession()],
        &[reading],
        &ValidParams::default(),
    );
    assert_eq!(a, Audit::default());
}

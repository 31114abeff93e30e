//! Whole possessions of the small offence of [`crate::testing`], case by case.

use crate::{
    Params, Recogniser,
    model::{Hand, Reading, Run, Verdict, What},
    testing::{CLEARED, CUT, FILLED, SET, Shot, graph, play, session},
};
use setdrift_court::AttackPoint;
use setdrift_events::model::{BallStory, Event, EventKind, Spell};

type Frames = Vec<[Option<AttackPoint>; 4]>;

fn read_as(frames: &Frames, order: [usize; 3], story: &BallStory) -> Reading {
    let (session, possession) = session(frames, order);
    let params = Params::default().check().unwrap();
    Recogniser::new(&graph(), &params)
        .read(&session, story, &[possession])
        .unwrap()
        .pop()
        .unwrap()
}

fn read(frames: &Frames) -> Reading {
    read_as(frames, [0, 1, 2], &BallStory::default())
}

fn runs(reading: &Reading) -> Vec<&Run> {
    reading
        .segments
        .iter()
        .filter_map(|s| match &s.what {
            What::Option(run) => Some(run.as_ref()),
            _ => None,
        })
        .collect()
}

fn names(reading: &Reading) -> Vec<(usize, Verdict)> {
    runs(reading)
        .iter()
        .map(|r| (r.option, r.verdict))
        .collect()
}

fn mirrored(mut frames: Frames) -> Frames {
    for p in frames.iter_mut().flatten() {
        *p = p.map(AttackPoint::mirrored);
    }
    frames
}

/// Everybody somewhere else, moving in circles.
fn milling(seconds: f64) -> Frames {
    (0..(seconds * 10.0) as usize)
        .map(|f| {
            let a = f as f64 / 6.0;
            std::array::from_fn(|i| {
                let b = a + i as f64 * 2.0;
                Some(AttackPoint::new(4.0 + 3.0 * b.cos(), 4.5 * (1.3 * b).sin()))
            })
        })
        .collect()
}

#[test]
fn a_clean_run_is_named_with_roles_and_bounds() {
    let reading = read_as(
        &play(&[SET, CUT, FILLED], &[2.0, 2.0]),
        [2, 0, 1],
        &BallStory::default(),
    );
    assert_eq!(names(&reading), [(0, Verdict::Ran)]);
    let run = runs(&reading)[0];
    assert_eq!(
        run.players,
        [Some(1), Some(2), Some(0)],
        "role 1 is row 1, 2 is row 2, 3 is row 0"
    );
    assert_eq!(run.hand, Hand::Right);
    assert!(run.cost < 0.1, "{}", run.cost);
    assert!(run.margin > 0.3, "{}", run.margin);
    let last = reading.segments.last().unwrap();
    assert!((last.to_s - 5.0).abs() < 0.11, "to the possession's end");
}

/// Where the bounds of runs are said to be, within a frame, with everyone half a metre beside their
/// place: a step begins with its movement, however long all stood before, and whatever the tempo.
#[test]
fn a_run_begins_with_its_movement() {
    for seconds in [1.4, 2.0, 3.0] {
        let mut frames = play(&[SET, CUT, FILLED], &[seconds, seconds]);
        frames.splice(0..0, vec![frames[0]; 7]);
        for (i, p) in frames
            .iter_mut()
            .flat_map(|f| f[..3].iter_mut().enumerate())
        {
            let beside = [(0.5, 0.1), (-0.3, 0.4), (0.1, -0.5)][i];
            *p = p.map(|p| AttackPoint::new(p.x + beside.0, p.y + beside.1));
        }
        let reading = read(&frames);
        assert_eq!(names(&reading), [(0, Verdict::Ran)], "{seconds} s a step");
        let mut segments = reading.segments.iter();
        let run = segments
            .find(|s| matches!(s.what, What::Option(_)))
            .unwrap();
        assert!(
            (run.from_s - 1.7).abs() < 0.15,
            "{seconds} s a step: {}",
            run.from_s
        );
        let What::Option(said) = &run.what else {
            unreachable!()
        };
        let second = said.steps[1].from_s;
        assert!(
            (second - 1.7 - seconds).abs() < 0.15,
            "{seconds} s a step: {second}"
        );
    }
}

/// A possession that ends with a run ends it; one that goes on does not.
#[test]
fn the_end_of_a_possession_is_the_end_of_a_run_that_has_just_been_finished() {
    for (wait, is_the_end) in [(0, true), (4, true), (20, false)] {
        let mut frames = play(&[SET, CUT, FILLED], &[2.0, 2.0]);
        let held = *frames.last().unwrap();
        frames.extend(vec![held; wait]);
        let reading = read(&frames);
        let last = reading.segments.last().unwrap();
        assert_eq!(
            matches!(last.what, What::Option(_)),
            is_the_end,
            "{wait}: {reading:?}"
        );
    }
}

#[test]
fn the_shared_beginning_is_named_by_its_ending() {
    let filled = read(&play(&[SET, CUT, FILLED], &[2.0, 2.0]));
    let cleared = read(&play(&[SET, CUT, CLEARED], &[2.0, 2.0]));
    assert_eq!(names(&filled), [(0, Verdict::Ran)]);
    assert_eq!(names(&cleared), [(1, Verdict::Ran)]);
    // The runner-up is the other option that begins alike.
    assert_eq!(runs(&cleared)[0].steps.len(), 2);
}

#[test]
fn run_to_the_other_side() {
    let reading = read(&mirrored(play(&[SET, CUT, FILLED], &[2.0, 2.0])));
    assert_eq!(names(&reading), [(0, Verdict::Ran)]);
    assert_eq!(runs(&reading)[0].hand, Hand::Left);
}

#[test]
fn at_half_and_at_double_tempo() {
    for seconds in [1.1, 4.0, 5.5] {
        let reading = read(&play(&[SET, CUT, FILLED], &[seconds, seconds]));
        assert_eq!(names(&reading), [(0, Verdict::Ran)], "{seconds} s a step");
    }
}

#[test]
fn a_wait_between_steps_is_no_break() {
    let mut frames = play(&[SET, CUT], &[2.0]);
    let held = *frames.last().unwrap();
    frames.extend(vec![held; 30]);
    frames.extend(play(&[CUT, FILLED], &[2.0]).into_iter().skip(10));
    assert_eq!(names(&read(&frames)), [(0, Verdict::Ran)]);
}

#[test]
fn broken_off_in_the_second_step_names_that_step() {
    let mut frames = play(&[SET, CUT, FILLED], &[2.0, 2.0]);
    frames.truncate(10 + 20 + 9);
    frames.extend(milling(4.0));
    let reading = read(&frames);
    let runs = names(&reading);
    assert_eq!(runs.len(), 1, "{reading:?}");
    assert_eq!(runs[0].1, Verdict::BrokenOff { step: 2 });
    assert!(matches!(
        reading.segments.last().unwrap().what,
        What::OffScript
    ));
}

/// People are still within their tolerances when they have begun to go elsewhere: the run ends when
/// they turn away.
#[test]
fn a_run_ends_when_people_turn_away() {
    for (cut, goes) in [(12_i32, 1.2), (14, 1.6), (12, 2.2)] {
        let mut frames = play(&[SET, CUT, FILLED], &[2.0, 2.0]);
        frames.truncate(30 + cut as usize);
        let elsewhere: Shot = [(7.5, 5.0), (1.5, -7.0), (2.0, 4.0), (1.5, -7.0)];
        walk(&mut frames, &elsewhere, goes);
        frames.extend(milling(3.0));
        let reading = read(&frames);
        let mut segments = reading.segments.iter();
        let run = segments
            .find(|s| matches!(s.what, What::Option(_)))
            .unwrap();
        assert_eq!(names(&reading), [(0, Verdict::BrokenOff { step: 2 })]);
        let left = 0.1 * f64::from(30 + cut - 1);
        assert!(
            (run.to_s - left).abs() < 0.25,
            "left at {left}: {}",
            run.to_s
        );
    }
}

#[test]
fn milling_about_is_off_script() {
    let reading = read(&milling(8.0));
    assert_eq!(names(&reading), []);
}

#[test]
fn standing_in_the_set_begins_nothing() {
    let mut frames = play(&[SET], &[]);
    frames.extend(frames.clone());
    frames.extend(frames.clone());
    let reading = read(&frames);
    assert_eq!(names(&reading), []);
    assert!(
        matches!(&reading.segments[0].what, What::Set { formation } if formation == "three-out")
    );
}

#[test]
fn a_loop_refills_roles() {
    // Fill ends with 3 at the top: the next run starts from the set with roles 3, 2, 1.
    let second: [Shot; 3] = [FILLED, SET, CUT].map(|s| s);
    let mut frames = play(&[SET, CUT, FILLED], &[2.0, 2.0]);
    // From the end of `fill` everyone walks to the set under the new roles.
    let swap = |s: Shot| [s[2], s[1], s[0], s[3]];
    let mut top = swap(SET);
    top[3] = SET[3];
    frames.extend(play(&[second[0], top], &[2.5]).into_iter().skip(10));
    let mut cut = swap(CUT);
    cut[3] = CUT[3];
    let mut filled = swap(FILLED);
    filled[3] = FILLED[3];
    frames.extend(play(&[top, cut, filled], &[2.0, 2.0]));
    let reading = read(&frames);
    assert_eq!(names(&reading), [(0, Verdict::Ran), (0, Verdict::Ran)]);
    assert_eq!(runs(&reading)[1].players, [Some(2), Some(1), Some(0)]);
}

/// Everybody from where they are to a shot's places, in so many seconds.
fn walk(frames: &mut Frames, to: &Shot, seconds: f64) {
    let from = *frames.last().unwrap();
    let n = (seconds * 10.0) as usize;
    for f in 1..=n {
        let at = |i: usize| {
            let end = AttackPoint::new(to[i].0, to[i].1);
            from[i].map(|p| p.lerp(end, f as f64 / n as f64))
        };
        frames.push(std::array::from_fn(at));
    }
}

#[test]
fn with_two_roles_swapped_the_second_time() {
    let mut frames = play(&[SET, CUT, CLEARED], &[2.0, 2.0]);
    frames.extend(milling(3.0));
    let swap = |s: Shot| [s[0], s[2], s[1], s[3]];
    let [set, cut, cleared] = [SET, CUT, CLEARED].map(|s| {
        let mut other = swap(s);
        other[3] = s[3];
        other
    });
    walk(&mut frames, &set, 2.0);
    frames.extend(play(&[set, cut, cleared], &[2.0, 2.0]));
    let reading = read(&frames);
    assert_eq!(names(&reading), [(1, Verdict::Ran), (1, Verdict::Ran)]);
    let players: Vec<_> = runs(&reading).iter().map(|r| r.players.clone()).collect();
    assert_eq!(players[0], [Some(0), Some(1), Some(2)]);
    assert_eq!(players[1], [Some(0), Some(2), Some(1)]);
}

/// Coming up the floor is no option, and what begins before anybody has stopped is still found.
#[test]
fn in_transition_before_the_defence_is_set() {
    let back: Shot = [(24.0, 0.0), (23.0, -5.0), (22.0, 5.0), (24.0, 0.0)];
    let mut frames = vec![back.map(|(x, y)| Some(AttackPoint::new(x, y)))];
    walk(&mut frames, &SET, 4.0);
    // No hold: the step begins as they arrive.
    frames.extend(play(&[SET, CUT, FILLED], &[2.0, 2.0]).into_iter().skip(10));
    let reading = read(&frames);
    assert_eq!(names(&reading), [(0, Verdict::Ran)]);
    let begins = reading
        .segments
        .iter()
        .find(|s| matches!(s.what, What::Option(_)))
        .unwrap()
        .from_s;
    assert!((3.0..4.6).contains(&begins), "{begins}");
}

#[test]
fn after_an_offensive_rebound_it_begins_anew() {
    let mut frames = play(&[SET, CUT, CLEARED], &[2.0, 2.0]);
    // Shot, scramble under the rim, and out again.
    let scramble: Shot = [(2.0, 0.6), (3.0, -1.5), (1.2, 1.4), (1.2, 1.4)];
    walk(&mut frames, &scramble, 1.4);
    walk(
        &mut frames,
        &[(4.0, -4.0), (7.0, 2.0), (2.5, -2.5), (7.0, 2.0)],
        1.6,
    );
    walk(&mut frames, &SET, 2.0);
    frames.extend(play(&[SET, CUT, FILLED], &[2.0, 2.0]));
    let reading = read(&frames);
    assert_eq!(names(&reading), [(1, Verdict::Ran), (0, Verdict::Ran)]);
    let off = reading
        .segments
        .iter()
        .any(|s| matches!(s.what, What::OffScript) && s.to_s - s.from_s > 1.5);
    assert!(off, "{reading:?}");
}

#[test]
fn one_player_standing_still_is_a_fault_not_another_option() {
    let mut frames = play(&[SET, CUT, CLEARED], &[2.0, 2.0]);
    for f in &mut frames[30..] {
        f[0] = Some(AttackPoint::new(CUT[0].0, CUT[0].1));
    }
    let reading = read(&frames);
    let runs = runs(&reading);
    assert_eq!(names(&reading), [(1, Verdict::RanWithFaults)]);
    // From (2.0, -1.0) to (1.2, 6.8) is 7.84 m, 26 ft.
    assert_eq!(
        runs[0].faults[0].text,
        "1 was 26 ft inside the right corner at the end of step 2"
    );
}

#[test]
fn a_gap_never_becomes_a_verdict() {
    let mut frames = play(&[SET, CUT, FILLED], &[2.0, 2.0]);
    for f in &mut frames {
        f[1] = None;
        f[2] = None;
    }
    let reading = read(&frames);
    assert_eq!(names(&reading), []);
    assert!(
        reading
            .segments
            .iter()
            .all(|s| !matches!(s.what, What::OffScript)),
        "{reading:?}"
    );
}

#[test]
fn a_pass_that_never_happened_is_not_complete() {
    let frames = play(&[SET, CUT, FILLED], &[2.0, 2.0]);
    let story = |events: Vec<Event>| BallStory {
        spells: vec![Spell {
            player: 0,
            from_s: 0.0,
            to_s: 5.0,
        }],
        events,
        limits: vec![],
    };
    let reading = read_as(&frames, [0, 1, 2], &story(vec![]));
    assert_eq!(names(&reading), [(0, Verdict::BrokenOff { step: 1 })]);
    let text = &runs(&reading)[0].faults[0].text;
    assert_eq!(text, "the pass from 1 to 2 in step 1 did not happen");
    let place = setdrift_court::CourtPoint::new(0.0, 0.0);
    let pass = Event {
        kind: EventKind::Pass {
            from: 0,
            to: 1,
            catch_s: 1.9,
            catch_place: place,
            flight: None,
        },
        time_s: 1.2,
        place,
        confidence: 1.0,
        evidence: String::new(),
    };
    assert_eq!(
        names(&read_as(&frames, [0, 1, 2], &story(vec![pass]))),
        [(0, Verdict::Ran)]
    );
}

#[test]
fn threads_do_not_change_the_answer() {
    let (session, possession) = session(&play(&[SET, CUT, FILLED], &[2.0, 2.0]), [0, 1, 2]);
    let params = Params::default().check().unwrap();
    let many: Vec<_> = (0..6)
        .map(|n| setdrift_events::model::Possession {
            number: n,
            ..possession.clone()
        })
        .collect();
    let story = BallStory::default();
    let graph = graph();
    let recogniser = Recogniser::new(&graph, &params);
    let all = |threads| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap()
            .install(|| recogniser.read(&session, &story, &many).unwrap())
    };
    assert_eq!(all(1), all(4));
}

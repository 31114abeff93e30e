//! Aggregates, cues that cost, sheets and trends over hand-made audits, worked out by hand.
#![allow(clippy::unwrap_used, reason = "a test may stop")]

mod common;

use common::*;
use setdrift_court::AttackPoint;
use setdrift_events::model::Possession;
use setdrift_playbook::graph::Graph;
use setdrift_recognise::model::{Reading, Verdict};
use setdrift_timing::model::{Audit, CueCheck, Kept, Place, PlacementCheck, When};
use setdrift_timing::{
    Audited, By, Clip, Measure, Per, aggregate, costly_cues, player_sheets, trends,
};
use setdrift_tracks::{OutcomeKind, Session};

const WINDOW: (f64, f64) = (0.0, 0.5);
const CUT: &str = "2 cuts when 1 passes";
const FILL: &str = "3 fills when 2 cuts";

/// One run in a possession of its own: who went how long after which cue, what became of it.
#[derive(Clone, Copy)]
struct One {
    /// Action index in the only step: 0 is [`CUT`], 1 is [`FILL`].
    action: usize,
    player: usize,
    lag: Option<f64>,
    broke: bool,
    result: (OutcomeKind, Option<u32>),
}

const STOPPED: (OutcomeKind, Option<u32>) = (OutcomeKind::Stopped, None);
const BASKET: (OutcomeKind, Option<u32>) = (OutcomeKind::Made, Some(2));
const MISS: (OutcomeKind, Option<u32>) = (OutcomeKind::Missed, Some(0));

fn run(player: usize, lag: f64) -> One {
    One {
        action: 0,
        player,
        lag: Some(lag),
        broke: false,
        result: STOPPED,
    }
}

struct Made {
    session: Session,
    possessions: Vec<Possession>,
    readings: Vec<Reading>,
    audit: Audit,
}

impl Made {
    fn audited(&self) -> Audited<'_> {
        Audited {
            session: &self.session,
            possessions: &self.possessions,
            readings: &self.readings,
            audit: &self.audit,
        }
    }
}

fn world() -> World {
    let still = || Course::still(AttackPoint::new(5.0, 0.0));
    World {
        long_s: 1.0,
        ..World::new(OPTICAL, vec![still(), still(), still()])
    }
}

fn book() -> Graph {
    let step = Step {
        long_s: 1.0,
        courses: world().courses,
        actions: vec![],
    };
    graph(vec![step], vec![])
}

fn when(lag: Option<f64>) -> When {
    match lag {
        None => When::Never,
        Some(l) if l < WINDOW.0 => When::Early,
        Some(l) if l > WINDOW.1 => When::Late,
        Some(_) => When::OnTime,
    }
}

/// A session in which these runs followed one another, the n-th with its cue at 100 n seconds.
fn session(id: &str, date: Option<&str>, opponent: Option<&str>, runs: &[One]) -> Made {
    let w = world();
    let mut parts = (*w.session()).clone();
    parts.id = id.to_owned();
    parts.date = date.map(str::to_owned);
    parts.opponent = opponent.map(str::to_owned);
    let mut made = Made {
        session: Session::new(parts).unwrap(),
        possessions: vec![],
        readings: vec![],
        audit: Audit::default(),
    };
    for (i, r) in runs.iter().enumerate() {
        let number = i + 1;
        let mut p = w.possession();
        p.number = number;
        p.result.kind = r.result.0;
        p.result.points = r.result.1;
        made.possessions.push(p);
        let verdict = if r.broke {
            Verdict::BrokenOff { step: 1 }
        } else {
            Verdict::Ran
        };
        let mut reading = w.reading(&book(), &[(0.0, 1.0)], verdict);
        reading.possession = number;
        made.readings.push(reading);
        let cue = 100.0 * number as f64;
        made.audit.cues.push(CueCheck {
            place: place(number, r.action),
            player: r.player,
            role: r.action + 1,
            text: [CUT, FILL][r.action].to_owned(),
            cue_s: Some(cue),
            onset_s: r.lag.map(|l| cue + l),
            lag_s: r.lag,
            uncertainty_s: Some(0.05),
            window_s: WINDOW,
            when: when(r.lag),
            jab_s: None,
            evidence: format!("run {number}"),
        });
    }
    made
}

fn place(possession: usize, action: usize) -> Place {
    Place {
        possession,
        segment: 0,
        node: 0,
        action,
    }
}

fn unjudged(made: &mut Made, player: usize) {
    let mut c = made.audit.cues[0].clone();
    c.player = player;
    c.when = When::CannotTell;
    c.lag_s = Some(9.0);
    made.audit.cues.push(c);
}

fn spot(made: &mut Made, player: usize, number: usize, off_m: f64) {
    made.audit.placements.push(PlacementCheck {
        place: place(number, 0),
        player: Some(player),
        role: Some(1),
        text: "2 within 1 m of right block".to_owned(),
        time_s: 100.0 * number as f64 + 2.0,
        at: Some(AttackPoint::new(2.0, 2.0)),
        off_by: Some(off_m),
        kept: if off_m > 0.0 { Kept::No } else { Kept::Yes },
        evidence: "stood".to_owned(),
    });
}

#[test]
fn groups_are_counted_and_measured() {
    // Lags -0.2, 0.1, 0.3, 0.4, 0.9 and one never: median 0.3, quartiles 0.1 and 0.4.
    let mut a = session(
        "a",
        Some("2026-01-01"),
        Some("Quarry Lane Otters"),
        &[
            run(1, -0.2),
            run(1, 0.1),
            run(2, 0.3),
            run(1, 0.4),
            run(2, 0.9),
        ],
    );
    let b = session(
        "b",
        None,
        None,
        &[One {
            lag: None,
            ..run(1, 0.0)
        }],
    );
    // What cannot be told is counted and measured nowhere else.
    unjudged(&mut a, 1);
    let (g, all) = (book(), [a.audited(), b.audited()]);

    let cue = aggregate(&all, &g, &[By::Cue]);
    assert_eq!(cue.len(), 1);
    let c = &cue[0];
    assert_eq!(c.group, [(By::Cue, format!("wick: {CUT}"))]);
    assert_eq!(c.counts, [1, 3, 1, 1, 1]);
    assert_eq!((c.on_time, c.measure), (Some(0.5), Measure::Lag));
    assert_eq!(c.median_s, Some(0.3));
    assert!((c.spread_s.unwrap() - 0.3).abs() < 1e-12);
    assert!(c.interval_s.is_some(), "five lags are enough");
    // Wilson's interval of 3 in 6 is 0.5 ± 0.3123 (by hand: z² = 3.8415, middle one half,
    // half-width z sqrt(0.25/6 + z²/144) / (1 + z²/6) = 1.96 · 0.2614 / 1.6402).
    let (low, high) = c.on_time_interval.unwrap();
    assert!((low - 0.1876).abs() < 1e-3 && (high - 0.8124).abs() < 1e-3);
    assert!(c.few(), "six are few");

    // Groups of several cues are measured against their windows: -0.2, 0, 0, 0 and 0.4.
    let option = &aggregate(&all, &g, &[By::Option])[0];
    assert_eq!(option.measure, Measure::OffWindow);
    assert_eq!(option.median_s, Some(0.0));
    assert_eq!(option.group, [(By::Option, "wick".to_owned())]);

    let names = |by: &[By]| -> Vec<(String, usize)> {
        aggregate(&all, &g, by)
            .iter()
            .map(|x| {
                let words: Vec<&str> = x.group.iter().map(|g| g.1.as_str()).collect();
                (words.join(" "), x.judged())
            })
            .collect()
    };
    let of = |a: &str, n: usize| (a.to_owned(), n);
    assert_eq!(names(&[By::Player]), [of("p1", 4), of("p2", 2)]);
    assert_eq!(names(&[By::Role]), [of("2", 6)]);
    assert_eq!(
        names(&[By::Opponent]),
        [of("Quarry Lane Otters", 5), of("none", 1)]
    );
    // A session without a date stands by its name.
    assert_eq!(names(&[By::Date]), [of("2026-01-01", 5), of("b", 1)]);
    assert_eq!(
        names(&[By::Player, By::Date]),
        [
            of("p1 2026-01-01", 3),
            of("p1 b", 1),
            of("p2 2026-01-01", 2)
        ]
    );
}

#[test]
fn a_few_lags_have_a_median_and_no_interval() {
    let a = session("a", None, None, &[run(1, 0.1), run(1, 0.2)]);
    let all = [a.audited()];
    let x = &aggregate(&all, &book(), &[By::Player])[0];
    assert_eq!((x.median_s, x.interval_s), (Some(0.0), None));
    assert!(x.few() && x.trend.is_none());
}

#[test]
fn the_share_on_time_has_its_trend() {
    // On time 1 of 4, then 3 of 4, sixty days apart: a quarter more in 30 days.
    let first = [run(1, 0.1), run(1, 0.8), run(1, 0.8), run(1, 0.8)];
    let then = [run(1, 0.1), run(1, 0.1), run(1, 0.1), run(1, 0.8)];
    let a = session("a", Some("2026-01-01"), None, &first);
    let b = session("b", Some("2026-03-02"), None, &then);
    let all = [a.audited(), b.audited()];
    let t = aggregate(&all, &book(), &[By::Player])[0]
        .trend
        .clone()
        .unwrap();
    assert_eq!(t.per, Per::Month);
    assert!((t.slope - 0.25).abs() < 1e-12, "{t:?}");
    // Four runs each do not show that it was more than chance.
    assert!(t.interval.0 <= 0.0 && t.interval.1 >= 0.25, "{t:?}");
    assert_eq!(aggregate(&all, &book(), &[By::Date])[0].trend, None);
}

#[test]
fn what_cost_is_counted_beside_what_did_not() {
    let late = |broke, result| One {
        broke,
        result,
        ..run(1, 0.9)
    };
    let on = |broke, result| One {
        broke,
        result,
        ..run(1, 0.2)
    };
    let fill = |lag| One {
        action: 1,
        player: 2,
        lag,
        ..run(2, 0.0)
    };
    let a = session(
        "a",
        None,
        None,
        &[
            late(false, BASKET),
            late(true, MISS),
            late(true, STOPPED),
            on(false, BASKET),
            on(false, (OutcomeKind::Made, Some(3))),
            on(true, MISS),
            on(false, (OutcomeKind::Unknown, None)),
            // Missed more often, but nothing broke off: comes second.
            fill(None),
            fill(Some(-0.3)),
            fill(Some(1.0)),
            fill(Some(1.0)),
        ],
    );
    let found = costly_cues(&[a.audited()], &book());
    assert_eq!(found.len(), 2);
    let c = &found[0];
    assert_eq!((c.text.as_str(), c.title.as_str()), (CUT, "Wick"));
    assert_eq!((c.early, c.late, c.never), (0, 3, 0));
    let m = c.missed;
    assert_eq!(
        (m.runs, m.broken_off, m.with_result, m.scored, m.points),
        (3, 2, 2, 1, 2)
    );
    let m = c.met;
    assert_eq!(
        (m.runs, m.broken_off, m.with_result, m.scored, m.points),
        (4, 1, 3, 2, 5)
    );
    // Those that broke off first.
    let possessions: Vec<usize> = c.clips.iter().map(|c| c.possession).collect();
    assert_eq!(possessions, [2, 3, 1]);
    assert_eq!(
        c.words,
        "Wick, “2 cuts when 1 passes”: missed 3 of 7 (3 late). Missed: 2 of 3 broke off, 1 of 2 \
         with a known result scored (2 points). On time: 1 of 4 broke off, 2 of 3 with a known \
         result scored (5 points). Counts, not causes; few runs, so read with care."
    );
    let c = &found[1];
    assert_eq!((c.early, c.late, c.never), (1, 2, 1));
    assert!(
        c.words.contains(
            "missed 4 of 4 (1 early, 2 late, 1 never left). Missed: 0 of 4 broke off. Counts"
        ),
        "{}",
        c.words
    );
    // Nothing missed, nothing said.
    let good = session("b", None, None, &[run(1, 0.1)]);
    assert!(costly_cues(&[good.audited()], &book()).is_empty());
}

#[test]
fn a_clip_holds_cue_and_start_with_room_around() {
    let a = session(
        "a",
        None,
        None,
        &[
            run(1, -0.4),
            One {
                lag: None,
                ..run(1, 0.0)
            },
        ],
    );
    let clip = |i: usize| Clip::of_cue("a", &a.audit.cues[i]).unwrap();
    // Cue at 100 s, start 0.4 s before it.
    let c = clip(0);
    assert!(
        (c.from_s - 96.6).abs() < 1e-9 && (c.to_s - 103.0).abs() < 1e-9,
        "{c:?}"
    );
    // Never went: until the window's end, 0.5 s after the cue at 200 s.
    let c = clip(1);
    assert_eq!((c.from_s, c.moment_s, c.to_s), (197.0, 200.5, 203.5));
    let mut blind = a.audit.cues[0].clone();
    (blind.cue_s, blind.onset_s) = (None, None);
    assert_eq!(Clip::of_cue("a", &blind), None);
}

#[test]
fn a_sheet_advises_on_habits_and_only_names_what_was_seen_once_or_twice() {
    let mut a = session(
        "a",
        None,
        None,
        &[
            // Player 1: late 4 of 8 by 0.2, 0.4, 0.5 and 1.0 s; early twice.
            run(1, 0.7),
            run(1, 0.9),
            run(1, 1.0),
            run(1, 1.5),
            run(1, -0.1),
            run(1, -0.3),
            run(1, 0.1),
            run(1, 0.2),
            // Player 2: two runs, both late.
            run(2, 0.8),
            run(2, 0.8),
        ],
    );
    // 1.0, 2.0 and 3.0 ft beside the spot, and once on it.
    for (n, off) in [(1, 0.3048), (2, 0.6096), (3, 0.9144), (4, 0.0)] {
        spot(&mut a, 1, n, off);
    }
    let sheets = player_sheets(&[a.audited()], &book());
    let one = sheets.iter().find(|s| s.player == "p1").unwrap();
    assert_eq!((one.judged, one.on_time), (8, 2));
    assert_eq!((one.places, one.places_kept), (4, 1));
    let words: Vec<&str> = one.fix.iter().map(|f| f.words.as_str()).collect();
    assert_eq!(
        words,
        [
            // 3 of 4 wrong weighs 9/4, 4 of 8 weighs 16/8.
            "Wick: get to the place in “2 within 1 m of right block”. Missed 3 of 4, usually by \
             2.0 ft.",
            "Wick: go sooner in “2 cuts when 1 passes”. Late 4 of 8, usually 0.4 s too late.",
        ]
    );
    let seen: Vec<&str> = one.seen.iter().map(|f| f.words.as_str()).collect();
    assert_eq!(
        seen,
        ["Wick: early 2 of 8, 0.2 s too soon in “2 cuts when 1 passes”."]
    );
    // The plainest first.
    let runs: Vec<usize> = one.fix[1].clips.iter().map(|c| c.possession).collect();
    assert_eq!(runs, [4, 3, 2, 1]);
    let runs: Vec<usize> = one.fix[0].clips.iter().map(|c| c.possession).collect();
    assert_eq!(runs, [3, 2, 1]);
    assert_eq!(one.summary, "On time 2 of 8. In place 1 of 4.");
    assert!(one.need() > 0.0);

    // Two runs are no ground for advice to a person.
    let two = sheets.iter().find(|s| s.player == "p2").unwrap();
    assert!(two.fix.is_empty());
    assert_eq!(two.seen.len(), 1);
    assert_eq!(
        two.seen[0].words,
        "Wick: late 2 of 2, 0.3 s too late in “2 cuts when 1 passes”."
    );
    assert_eq!(two.best, None);
    assert_eq!(
        two.summary,
        "On time 0 of 2. Few moments: take it as a hint."
    );
    // Who was seen twice does not come before who was seen often, though all was wrong.
    assert_eq!(sheets[0].player, "p1");
}

#[test]
fn who_is_often_early_and_often_late_is_not_told_both() {
    let runs: Vec<One> = [-0.4, -0.3, -0.2, 0.7, 0.9, 1.5, 1.1, 0.2, 0.2]
        .iter()
        .map(|l| run(1, *l))
        .collect();
    let a = session("a", None, None, &runs);
    let sheet = &player_sheets(&[a.audited()], &book())[0];
    assert_eq!(sheet.fix.len(), 1);
    let fix = &sheet.fix[0];
    assert_eq!(
        fix.words,
        "Wick: go on the cue in “2 cuts when 1 passes”. Late 4 and early 3 of 9."
    );
    assert_eq!((fix.wrong, fix.judged), (7, 9));
    // 1.0, 0.6 and 0.4 s late, then 0.4 s early, then 0.3 s.
    let runs: Vec<usize> = fix.clips.iter().map(|c| c.possession).collect();
    assert_eq!(runs, [6, 7, 5, 1, 2]);
    assert_eq!(sheet.best, None, "two of nine is not good");
}

#[test]
fn the_best_thing_is_the_surest_and_not_the_luckiest() {
    let runs: Vec<One> = (0..9)
        .map(|i| run(1, if i == 0 { 0.8 } else { 0.2 }))
        .chain((0..5).map(|_| One {
            action: 1,
            ..run(1, 0.2)
        }))
        .collect();
    let a = session("a", None, None, &runs);
    let sheet = &player_sheets(&[a.audited()], &book())[0];
    // Lower ends: 8 of 9 is 0.565, 5 of 5 is 0.566 (Wilson); one more run turns it.
    assert_eq!(
        sheet.best.as_deref(),
        Some("Wick: on time 5 of 5 for “3 fills when 2 cuts”")
    );
    let more: Vec<One> = runs.iter().copied().chain([run(1, 0.2)]).collect();
    let a = session("a", None, None, &more);
    let sheet = &player_sheets(&[a.audited()], &book())[0];
    assert_eq!(
        sheet.best.as_deref(),
        Some("Wick: on time 9 of 10 for “2 cuts when 1 passes”")
    );
}

#[test]
fn a_trend_is_per_month_by_dates_and_per_session_without() {
    let at = |l: f64| vec![run(1, l), run(1, l), run(1, l)];
    let made = |dates: [Option<&str>; 3]| -> Vec<Made> {
        [0.1, 0.2, 0.3]
            .iter()
            .zip(dates)
            .enumerate()
            .map(|(i, (lag, date))| session(&format!("s{i}"), date, None, &at(*lag)))
            .collect()
    };
    let of = |all: &[Made]| {
        let all: Vec<Audited<'_>> = all.iter().map(Made::audited).collect();
        trends(&all, &book())
    };
    // 0.1 s more every 30 days.
    let t = of(&made([
        Some("2026-01-01"),
        Some("2026-01-31"),
        Some("2026-03-02"),
    ]));
    assert_eq!(t.len(), 2, "all players, then the one");
    assert_eq!(
        (t[0].player.as_deref(), t[1].player.as_deref()),
        (None, Some("p1"))
    );
    for t in &t {
        assert_eq!(t.per, Per::Month);
        assert!((t.slope.unwrap() - 0.1).abs() < 1e-9);
        // Equal lags within each session leave nothing to chance.
        let (low, high) = t.slope_interval.unwrap();
        assert!((low - 0.1).abs() < 1e-9 && (high - 0.1).abs() < 1e-9);
        assert_eq!(t.later(), Some(true));
        let medians: Vec<f64> = t.points.iter().map(|p| p.median_s.unwrap()).collect();
        assert_eq!(medians, [0.1, 0.2, 0.3]);
        assert_eq!(t.points[0].counts, [0, 3, 0, 0, 0]);
    }
    let t = of(&made([Some("2026-01-01"), None, Some("2026-01-31")]));
    assert_eq!(t[0].per, Per::Session);
    assert!((t[0].slope.unwrap() - 0.1).abs() < 1e-9);
    // Over three weeks nothing is said of months: 0.1 s every ten days is 0.07 s a week.
    let t = of(&made([
        Some("2026-01-01"),
        Some("2026-01-11"),
        Some("2026-01-21"),
    ]));
    assert_eq!(t[0].per, Per::Week);
    assert!((t[0].slope.unwrap() - 0.07).abs() < 1e-9);
    // One session shows no trend.
    let t = of(&made([None, None, None])[..1]);
    assert_eq!((t[0].slope, t[0].later()), (None, None));
}

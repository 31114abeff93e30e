//! The bundled scenario, with its truth in place of recognition: what grouping can do when the segments are right, and when they are cut late and joined with what is next to them.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

mod planted;

use planted::Rng;
use setdrift_court::CourtPoint;
use setdrift_drift::model::{Group, Grouping, Stretch, StretchId};
use setdrift_drift::{Params, adjusted_rand_index, group, stretches};
use setdrift_events::model::{
    BallStory, Event, EventKind, Outcome, Pace, Possession, Source, Spell, Start,
};
use setdrift_recognise::model::{Reading, Segment, What};
use setdrift_simulate::{Did, SimulatedSession, Truth, sample};
use setdrift_simulated::session;
use setdrift_tracks::{OutcomeKind, Session};
use std::sync::OnceLock;

const BOOK: &str = include_str!("../../../sample-tracks/lantern.toml");

/// The ball's story, from the truth.
fn story(session: &Session, truth: &Truth) -> BallStory {
    let place = |player: usize, time_s: f64| {
        session.tracks[player]
            .at(session.frame_at(time_s))
            .unwrap_or(CourtPoint::new(0.0, 0.0))
    };
    let event = |kind, time_s, player| Event {
        kind,
        time_s,
        place: place(player, time_s),
        confidence: 1.0,
        evidence: String::new(),
    };
    let mut events = Vec::new();
    let mut spells = Vec::new();
    for p in truth.passes.iter().filter(|p| !p.stolen) {
        events.push(event(
            EventKind::Pass {
                from: p.from,
                to: p.to,
                catch_s: p.catch_s,
                catch_place: place(p.to, p.catch_s),
                flight: None,
            },
            p.release_s,
            p.from,
        ));
    }
    for h in &truth.hand_offs {
        let kind = EventKind::HandOff {
            from: h.from,
            to: h.to,
        };
        events.push(event(kind, h.time_s, h.from));
    }
    for d in &truth.dribbles {
        let kind = EventKind::DribbleStart {
            player: d.player,
            sd_s: 0.0,
        };
        events.push(event(kind, d.time_s, d.player));
    }
    for s in &truth.screens {
        // Whoever is nearest to the ball has it.
        let ball = session.ball.as_ref().unwrap().at(session.frame_at(s.set_s));
        let user = session.tracks[s.user].at(session.frame_at(s.set_s));
        if let (Some(ball), Some(user)) = (ball, user)
            && ball.distance(user) < 1.5
        {
            spells.push(Spell {
                player: s.user,
                from_s: s.set_s - 0.1,
                to_s: s.set_s + 0.1,
            });
        }
        let kind = EventKind::Screen {
            screener: s.screener,
            user: s.user,
            screened: None,
            set: true,
            stood: Some(s.set_s),
            angle: 0.0,
        };
        events.push(event(kind, s.set_s, s.screener));
    }
    for s in &truth.shots {
        let kind = EventKind::Shot {
            player: s.player,
            ring_s: s.ring_s,
            made: Some(s.made),
        };
        events.push(event(kind, s.release_s, s.player));
    }
    events.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    BallStory {
        spells,
        events,
        limits: Vec::new(),
    }
}

struct Told {
    session: Session,
    story: BallStory,
    possessions: Vec<Possession>,
    readings: Vec<Reading>,
    truth: Truth,
}

/// How far segments are cut from where they should be, seconds; and whether an off-script segment
/// takes in the finish and the standing about next to it.
fn tell(s: &SimulatedSession, truth: Truth, jitter_s: f64, joined: bool, rng: &mut Rng) -> Told {
    let session = session(s).unwrap();
    let mut possessions = Vec::new();
    let mut readings = Vec::new();
    for (k, p) in truth.possessions.iter().enumerate() {
        if p.team != 0 {
            continue;
        }
        let spans: Vec<_> = truth.spans.iter().filter(|s| s.possession == k).collect();
        let set_s = spans
            .iter()
            .find(|s| s.what != Did::Transition)
            .map(|s| s.from_s);
        let middle = session.frame_at((p.from_s + p.to_s) / 2.0);
        possessions.push(Possession {
            number: k + 1,
            from_s: p.from_s,
            to_s: p.to_s,
            team: 0,
            end: p.end,
            attackers: session
                .roster(0)
                .filter(|a| session.tracks[*a].at(middle).is_some())
                .collect(),
            defenders: Vec::new(),
            set_s,
            start: Start::Unknown,
            result: Outcome {
                kind: OutcomeKind::Made,
                points: Some(p.points),
                source: Source::Given,
            },
            second_chances: 0,
            pace: Pace::HalfCourt,
        });
        let mut segments: Vec<Segment> = Vec::new();
        for span in spans {
            let what = match &span.what {
                Did::OffScript { .. } => What::OffScript,
                Did::Finish | Did::Wait if joined => What::OffScript,
                // Whatever it is, it is not off script.
                _ => What::Set {
                    formation: String::new(),
                },
            };
            match segments.last_mut() {
                Some(last) if last.what == What::OffScript && what == What::OffScript => {
                    last.to_s = span.to_s;
                }
                _ => segments.push(Segment {
                    from_s: span.from_s,
                    to_s: span.to_s,
                    what,
                }),
            }
        }
        for s in segments.iter_mut().filter(|s| s.what == What::OffScript) {
            s.from_s += rng.between(-jitter_s, jitter_s);
            s.to_s += rng.between(-jitter_s, jitter_s);
        }
        readings.push(Reading {
            possession: k + 1,
            segments,
            limits: Vec::new(),
        });
    }
    let story = story(&session, &truth);
    Told {
        session,
        story,
        possessions,
        readings,
        truth,
    }
}

/// The improvisation that fills most of a stretch.
fn kind(told: &[Told], s: &Stretch) -> Option<String> {
    let told = told.iter().find(|t| t.session.id == s.id.session).unwrap();
    let mut best = (0.5, None);
    for span in &told.truth.spans {
        let shared = span.to_s.min(s.to_s) - span.from_s.max(s.from_s);
        if let Did::OffScript { name, .. } = &span.what
            && name != "scramble"
            && shared > best.0
        {
            best = (shared, Some(name.clone()));
        }
    }
    best.1
}

fn told(jitter_s: f64, joined: bool, seed: u64) -> Vec<Told> {
    let mut rng = Rng(seed);
    static SCENARIO: OnceLock<Vec<(SimulatedSession, Truth)>> = OnceLock::new();
    SCENARIO
        .get_or_init(|| {
            let book = setdrift_playbook::load_str(BOOK, "lantern.toml").unwrap();
            sample::sessions(&book.graph).unwrap()
        })
        .iter()
        .map(|(s, truth)| tell(s, truth.clone(), jitter_s, joined, &mut rng))
        .collect()
}

fn cut(told: &[Told]) -> Vec<Stretch> {
    told.iter()
        .flat_map(|t| stretches(&t.session, &t.story, &t.possessions, &t.readings))
        .collect()
}

/// Adjusted Rand index over the stretches of a known kind, number of groups, and groups that mix
/// kinds; and what the grouping says it left out.
fn outcome(jitter_s: f64, joined: bool) -> (f64, usize, usize, Vec<String>) {
    let told = told(jitter_s, joined, 5);
    let all = cut(&told);
    let kinds: Vec<_> = all.iter().map(|s| kind(&told, s)).collect();
    let mut names: Vec<_> = kinds.iter().flatten().cloned().collect();
    names.sort();
    names.dedup();
    assert_eq!(names.len(), 5, "{names:?}");
    let g: Grouping = group(&all, &Params::default().check().unwrap()).unwrap();
    let (mut found, mut truth) = (Vec::new(), Vec::new());
    for (s, k) in all.iter().zip(&kinds) {
        if let Some(k) = k {
            found.push(g.groups.iter().position(|g| g.members.contains(&s.id)));
            truth.push(names.iter().position(|n| n == k));
        }
    }
    let kind_of = |id: &StretchId| &kinds[all.iter().position(|s| s.id == *id).unwrap()];
    let mixed = |g: &&Group| {
        g.members
            .iter()
            .any(|m| kind_of(m) != kind_of(&g.members[0]))
    };
    (
        adjusted_rand_index(&found, &truth).unwrap(),
        g.groups.len(),
        g.groups.iter().filter(mixed).count(),
        g.limits.clone(),
    )
}

/// Five patterns, run 8, 6, 4, 3 and 2 times, and scrambling: those run four times or more come
/// back, unmixed. The one run three times does not on the sample as it stands: its group is found
/// but does not stand apart enough, which is a shortfall, so it must be said.
#[test]
fn improvisations_come_back_from_right_segments() {
    for jitter_s in [0.0, 0.6] {
        let (index, groups, mixed, limits) = outcome(jitter_s, false);
        assert!(index >= 0.75, "{jitter_s}: {index:.2}");
        assert!((3..=5).contains(&groups), "{jitter_s}: {groups}");
        if groups < 4 {
            assert!(
                limits.iter().any(|l| l.contains("left out")),
                "{jitter_s}: {limits:?}"
            );
        }
        assert_eq!(mixed, 0, "{jitter_s}");
    }
}

/// Recognition may join an improvisation with the shot after it and the standing about beside it,
/// and cut either end a second off. Shots that follow other things make groups of their own.
#[test]
fn improvisations_come_back_from_joined_and_shifted_segments() {
    for jitter_s in [0.6, 1.0] {
        let (index, _, mixed, _) = outcome(jitter_s, true);
        assert!(index >= 0.7, "{jitter_s}: {index:.2}");
        assert_eq!(mixed, 0, "{jitter_s}");
    }
}

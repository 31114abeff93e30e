//! The ball's story: touches and links told as spells and events, with evidence.

use crate::confidence::held;
use crate::course::Ctl;
use crate::decode::Run;
use crate::model::{BallStory, Event, EventKind, Flight, Spell};
use crate::motion::{Motion, dist};
use crate::params::ValidParams;
use crate::touches::{After, Touch, touches};
use setdrift_court::CourtPoint;
use setdrift_tracks::Session;

/// Who had the ball and what happened, on the ball and off it.
///
/// Linear in frames. Without a ball track the story has no spells, only what players' motion
/// alone tells, and says so in its limits.
#[must_use]
pub fn ball_story(session: &Session, params: &ValidParams) -> BallStory {
    let motion = Motion::new(session);
    let mut story = BallStory {
        limits: limits(session),
        ..BallStory::default()
    };
    if session.ball.is_some() {
        let runs = crate::relay::decode(&motion, params);
        let links = touches(&motion, params, &runs);
        tell(&motion, params, &links, &mut story);
        dead_balls(&motion, &runs, &mut story);
        story
            .events
            .extend(crate::dribbles::dribbles(&motion, &links));
    }
    // Screens look hand-offs up by time.
    in_order(&mut story.events);
    let (screens, cuts) = rayon::join(
        || crate::screens::screens(&motion, params, &story),
        || crate::cuts::cuts(&motion, &story),
    );
    story.events.extend(screens);
    story.events.extend(cuts);
    in_order(&mut story.events);
    story
}

fn in_order(events: &mut [Event]) {
    events.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
}

fn limits(session: &Session) -> Vec<String> {
    let mut out = Vec::new();
    match &session.ball {
        None => out.extend([
            "no ball in the tracks: no passes, hand-offs, dribbles, shots or turnovers".to_owned(),
            "no ball in the tracks: possessions rest on the players' motion, and how they ended is unknown unless the event file says it".to_owned(),
            "no ball in the tracks: a screen on the ball is not told from one off it".to_owned(),
        ]),
        Some(b) => {
            if b.z.is_none() {
                out.push("no ball height: chest, bounce and lob passes are not told apart, and a shot is known only by the ball passing over the ring".to_owned());
            }
            let coverage = b.coverage();
            if coverage < 0.9 {
                out.push(format!(
                    "the ball is unknown {:.0} % of the time: what happened then is not guessed",
                    100.0 * (1.0 - coverage)
                ));
            }
        }
    }
    let opponents = session.players.iter().any(|p| p.team != 0);
    if !opponents {
        out.push("no opponents in the tracks: no steals, and no screened defender".to_owned());
    }
    if session.rate_hz < 9.5 {
        out.push(format!(
            "{:.1} frames a second: release and catch are known to about {:.2} s",
            session.rate_hz,
            1.5 / session.rate_hz
        ));
    }
    out
}

pub(crate) fn place(m: &Motion, player: usize, frame: f64) -> CourtPoint {
    let f = (frame.round().max(0.0) as usize).min(m.session.frames() - 1);
    // The nearest known place within a second.
    let reach = m.session.rate_hz as usize;
    (0..=reach)
        .flat_map(|k| [f.saturating_sub(k), f + k])
        .find_map(|k| m.player(player, k))
        .map_or(CourtPoint::new(0.0, 0.0), |k| {
            CourtPoint::new(k.pos[0], k.pos[1])
        })
}

pub(crate) fn seconds(session: &Session, frame: f64) -> f64 {
    session.start_s + frame / session.rate_hz
}

fn out_at(after: After) -> Option<f64> {
    match after {
        After::Out(at) => Some(at),
        _ => None,
    }
}

fn tell(m: &Motion, p: &ValidParams, links: &[(Touch, After)], story: &mut BallStory) {
    let s = m.session;
    let mut shot_before = false;
    for (i, (touch, after)) in links.iter().enumerate() {
        let next = links.get(i + 1).map(|(t, _)| *t);
        let label = |p: usize| s.players[p].label();
        story.spells.push(Spell {
            player: touch.player,
            from_s: seconds(s, touch.from),
            to_s: seconds(s, touch.to),
        });
        if let Some(at) = out_at(*after) {
            let f = (at.round() as usize).min(s.frames() - 1);
            let b = m.ball(f).map_or([0.0; 2], |k| k.pos);
            story.events.push(Event {
                kind: EventKind::OutOfBounds {
                    last: Some(touch.player),
                },
                time_s: seconds(s, at),
                place: CourtPoint::new(b[0], b[1]),
                confidence: 0.9,
                evidence: format!("left the floor after {}", label(touch.player)),
            });
        }
        if shot_before {
            story.events.push(Event {
                kind: EventKind::Rebound {
                    player: touch.player,
                },
                time_s: seconds(s, touch.from),
                place: place(m, touch.player, touch.from),
                confidence: held(m, p, touch),
                evidence: format!("first in control after the shot: {}", label(touch.player)),
            });
        }
        shot_before = matches!(after, After::Shot(x) if x.made != Some(true));
        let here = place(m, touch.player, touch.to);
        let event = match (after, next) {
            (After::Pass(f), Some(n)) => {
                let length = dist(f.left, f.came);
                let air = (f.catch - f.release) / s.rate_hz;
                let expected = (m.ball_noise.powi(2) + 0.02).sqrt();
                Some(Event {
                    kind: EventKind::Pass {
                        from: touch.player,
                        to: n.player,
                        catch_s: seconds(s, f.catch),
                        catch_place: place(m, n.player, f.catch),
                        flight: flight_kind(m, f.release, f.catch),
                    },
                    time_s: seconds(s, f.release),
                    place: here,
                    confidence: (held(m, p, touch).min(held(m, p, &n))
                        * (expected / f.rms.max(expected)))
                    .clamp(0.05, 0.99),
                    evidence: format!(
                        "{length:.1} m in {air:.2} s; ball within {:.2} m of the fitted line over {} samples",
                        f.rms, f.samples
                    ),
                })
            }
            (After::HandOff { frame, apart }, Some(n)) => Some(Event {
                kind: EventKind::HandOff {
                    from: touch.player,
                    to: n.player,
                },
                time_s: seconds(s, *frame),
                place: place(m, touch.player, *frame),
                confidence: held(m, p, touch).min(held(m, p, &n)),
                evidence: format!("{apart:.1} m apart when the ball changed hands"),
            }),
            (After::Shot(shot), _) => Some(Event {
                kind: EventKind::Shot {
                    player: touch.player,
                    ring_s: seconds(s, shot.ring),
                    made: shot.made,
                },
                time_s: seconds(s, shot.release),
                place: place(m, touch.player, shot.release),
                confidence: if shot.peak.is_some() { 0.95 } else { 0.75 },
                evidence: match shot.peak {
                    Some(z) => format!(
                        "ball rose to {z:.1} m and came within {:.1} m of the ring after {:.2} s",
                        shot.miss,
                        (shot.ring - shot.release) / s.rate_hz
                    ),
                    None => format!(
                        "ball came within {:.1} m of the ring after {:.2} s; no height to confirm it",
                        shot.miss,
                        (shot.ring - shot.release) / s.rate_hz
                    ),
                },
            }),
            (After::Lost(f), Some(n)) => Some(Event {
                kind: EventKind::Turnover {
                    lost_by: Some(touch.player),
                    won_by: Some(n.player),
                },
                time_s: f.map_or(seconds(s, n.from), |f| seconds(s, f.catch)),
                place: place(m, n.player, n.from),
                confidence: held(m, p, &n),
                evidence: format!(
                    "{} controlled it for {:.1} s after {}",
                    label(n.player),
                    (n.to - n.from) / s.rate_hz,
                    label(touch.player)
                ),
            }),
            _ => None,
        };
        story.events.extend(event);
    }
}

/// Kind of a pass from its height: a bounce comes below knee height on the way, a lob rises a
/// metre above where it was let go.
fn flight_kind(m: &Motion, release: f64, catch: f64) -> Option<Flight> {
    let heights: Vec<f64> = (release.ceil() as usize..=catch.floor() as usize)
        .filter_map(|f| m.ball_height(f))
        .collect();
    if heights.len() < 3 {
        return None;
    }
    let low = heights.iter().copied().fold(f64::INFINITY, f64::min);
    let high = heights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(if low < 0.45 {
        Flight::Bounce
    } else if high > 2.6 {
        Flight::Lob
    } else {
        Flight::Chest
    })
}

/// A ball must rest or be out this long to be called dead, seconds.
const DEAD_S: f64 = 0.6;

fn dead_balls(m: &Motion, runs: &[Run], story: &mut BallStory) {
    let s = m.session;
    for r in runs {
        let long = (r.to - r.from) as f64 / s.rate_hz;
        if r.ctl != Ctl::Dead || long < DEAD_S {
            continue;
        }
        let Some(b) = (r.from..r.to).find_map(|f| m.ball(f)) else {
            continue;
        };
        story.events.push(Event {
            kind: EventKind::DeadBall,
            time_s: s.time(r.from),
            place: CourtPoint::new(b.pos[0], b.pos[1]),
            confidence: (long / (long + 0.5)).min(0.99),
            evidence: format!("in nobody's hands and at rest or out for {long:.1} s"),
        });
    }
}

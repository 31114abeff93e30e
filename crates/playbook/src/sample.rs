//! A timed step as reference motion and actions.

use crate::book::{Book, DEFAULT_WINDOW_S};
use crate::graph::{
    Action, ActionKind, Cue, CueEvent, CutKind, Motion, Placement, RATE_HZ, RoleIx,
};
use crate::motion::{frames_for, minimum_jerk};
use crate::plan::{Does, Item, State};
use crate::schedule::Timed;
use crate::sentence::{Event, Place, Sentence, Verb, Where};
use setdrift_court::AttackPoint;

/// Samples a step: where every role and the ball are, frame by frame.
pub(crate) fn motion(book: &Book, state: &State, items: &[Item<'_>], timed: &Timed) -> Motion {
    let frames = frames_for(timed.total);
    let n = state.places.len();
    let track = |role: RoleIx, t: f64| -> AttackPoint {
        let mut at = state.places[role];
        for (item, (s, _)) in items.iter().zip(&timed.times) {
            if item.role == role && item.does.travels() && t >= *s && item.seconds > 0.0 {
                at = item.path.at(minimum_jerk((t - s) / item.seconds));
            }
        }
        at
    };
    let roles = (0..n)
        .map(|r| (0..frames).map(|f| track(r, f as f64 / RATE_HZ)).collect())
        .collect();
    let ball = (0..frames)
        .map(|f| ball_at(book, state, items, timed, f as f64 / RATE_HZ, &track))
        .collect();
    Motion {
        roles,
        ball,
        tolerance: (0..n).map(|r| tolerance(book, items, r)).collect(),
    }
}

/// Without a ball in the playbook, and after a shot, the ball is shown at the ring.
fn ball_at(
    book: &Book,
    state: &State,
    items: &[Item<'_>],
    timed: &Timed,
    t: f64,
    track: &dyn Fn(RoleIx, f64) -> AttackPoint,
) -> AttackPoint {
    let ring = book.court().ring();
    let mut holder = state.holder;
    for (item, (s, e)) in items.iter().zip(&timed.times) {
        if !item.does.uses_ball() || t < *s {
            continue;
        }
        let share = if e > s { (t - s) / (e - s) } else { 1.0 };
        match item.does {
            Does::Pass(to) | Does::HandOff(to) => {
                if t < *e {
                    return track(item.role, *s).lerp(track(to, *e), share);
                }
                holder = Some(to);
            }
            Does::Shot => {
                if t < *e {
                    return track(item.role, *s).lerp(ring, share);
                }
                holder = None;
            }
            _ => {}
        }
    }
    holder.map_or(ring, |h| track(h, t))
}

fn tolerance(book: &Book, items: &[Item<'_>], role: RoleIx) -> f64 {
    let mut widest: Option<f64> = None;
    for item in items.iter().filter(|x| x.role == role) {
        let kind = match item.does {
            Does::Screen(_) => "screen",
            Does::Move | Does::Slip | Does::Dribble(_) => "move",
            _ => "hold",
        };
        let give = item
            .said
            .value
            .give
            .map_or_else(|| book.tolerance(kind), crate::sentence::Length::metres);
        widest = Some(widest.map_or(give, |w| w.max(give)));
    }
    widest.unwrap_or_else(|| book.tolerance("hold"))
}

/// The actions of a step, in the order written.
pub(crate) fn actions(
    book: &Book,
    state: &State,
    items: &[Item<'_>],
    timed: &Timed,
    frames: usize,
) -> Vec<Action> {
    items
        .iter()
        .enumerate()
        .map(|(i, item)| {
            let s = &item.said.value;
            let (a, b) = timed.times[i];
            let frame = |t: f64| ((t * RATE_HZ).round() as usize).min(frames - 1);
            Action {
                role: item.role,
                kind: kind(item, s),
                from: frame(a),
                to: frame(b),
                cue: s.cue.as_ref().filter(|_| timed.cued[i]).map(|c| {
                    let (from_s, to_s) = c.window.unwrap_or((0.0, DEFAULT_WINDOW_S));
                    Cue {
                        role: c.role,
                        event: cue_event(&c.event, book, &state.places),
                        from_s,
                        to_s,
                    }
                }),
                placements: s
                    .places
                    .iter()
                    .map(|w| placement(w, book, &state.places))
                    .collect(),
                text: item.said.text.clone(),
            }
        })
        .collect()
}

fn kind(item: &Item<'_>, s: &Sentence) -> ActionKind {
    let end = item.path.at(1.0);
    match (&s.verb, item.does) {
        (Verb::Pass { kind, .. }, Does::Pass(to)) => ActionKind::Pass { to, kind: *kind },
        (_, Does::HandOff(to)) => ActionKind::HandOff { to },
        (_, Does::Dribble(at)) => ActionKind::Dribble { to: end, at },
        (Verb::Cut { kind, .. }, _) => ActionKind::Cut {
            kind: *kind,
            path: item.named.clone(),
            off: s.off,
        },
        (Verb::Replace(_), _) => ActionKind::Cut {
            kind: CutKind::Replace,
            path: item.named.clone(),
            off: s.off,
        },
        (_, Does::Screen(user)) => ActionKind::Screen { user, at: end },
        (Verb::Leave { kind, .. }, _) => ActionKind::Leave {
            kind: *kind,
            to: end,
        },
        (Verb::Post { kind, .. }, _) => ActionKind::Post {
            kind: *kind,
            at: end,
        },
        (_, Does::Shot) => ActionKind::Shot,
        _ => ActionKind::Hold,
    }
}

/// An event with its places as points.
pub(crate) fn cue_event(e: &Event, book: &Book, places: &[AttackPoint]) -> CueEvent {
    match e {
        Event::Passes => CueEvent::Passes,
        Event::Catches => CueEvent::Catches,
        Event::Dribbles => CueEvent::Dribbles,
        Event::Screens => CueEvent::Screens,
        Event::HandsOff => CueEvent::HandsOff,
        Event::Reaches(p) => CueEvent::Reaches {
            place: p.resolve(places),
            name: p.text(book.roles()),
        },
        Event::Cuts => CueEvent::Cuts,
    }
}

/// A placement with its places as points.
pub(crate) fn placement(w: &Where, book: &Book, places: &[AttackPoint]) -> Placement {
    let point = |p: &Place| (p.resolve(places), p.text(book.roles()));
    match w {
        Where::Inside(z) => Placement::Inside(*z),
        Where::Outside(z) => Placement::Outside(*z),
        Where::Within(d, p) => {
            let (place, name) = point(p);
            Placement::Within {
                distance: d.metres(),
                place,
                name,
            }
        }
        Where::Above(p) => {
            let (place, name) = point(p);
            Placement::Above { place, name }
        }
        Where::Below(p) => {
            let (place, name) = point(p);
            Placement::Below { place, name }
        }
        Where::Facing(p) => {
            let (place, name) = point(p);
            Placement::Facing { place, name }
        }
    }
}

/// Shifts a motion's roles so that it ends exactly at `end`, growing the shift at the pace of a
/// movement, so that what follows goes on without a jump.
pub(crate) fn end_exactly(m: &mut Motion, end: &[AttackPoint]) {
    let frames = m.frames();
    for (row, goal) in m.roles.iter_mut().zip(end) {
        let last = row[frames - 1];
        let (dx, dy) = (goal.x - last.x, goal.y - last.y);
        if dx == 0.0 && dy == 0.0 {
            continue;
        }
        for (f, p) in row.iter_mut().enumerate() {
            let w = minimum_jerk(f as f64 / (frames - 1) as f64);
            *p = AttackPoint::new(p.x + dx * w, p.y + dy * w);
        }
        row[frames - 1] = *goal;
    }
}

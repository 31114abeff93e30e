//! Dribble starts, pick-ups and drives from the holder's own motion.
//!
//! A holder may not travel (FIBA Official Basketball Rules, Art. 25: at most two steps after
//! gathering the ball), so one who has gone further than that dribbles; the dribble began when he set
//! out ([`crate::setoff`]).

use crate::bodies::bridged;
use crate::model::{Event, EventKind};
use crate::motion::{Motion, dist, norm, sub};
use crate::setoff::{Responses, set_out};
use crate::shots::ring;
use crate::story::{place, seconds};
use crate::touches::{After, Touch};
use rayon::prelude::*;
use setdrift_court::End;

/// Two steps, metres: further than this with the ball is a dribble.
const TWO_STEPS: f64 = 1.3;
/// Speed at which a holder is under way, m/s: above pivoting and sensor noise.
const UNDER_WAY: f64 = 1.1;
/// About so far off is a start told by the speed alone, seconds.
const ROUGH_S: f64 = 0.3;
/// A drive comes this much nearer to the ring, metres.
const DRIVE_M: f64 = 2.5;

/// Dribbles of all touches, in their order.
pub(crate) fn dribbles(m: &Motion, links: &[(Touch, After)]) -> Vec<Event> {
    let responses = Responses::new();
    links
        .par_iter()
        .flat_map_iter(|(touch, _)| told(m, &responses, touch))
        .collect()
}

/// Dribbles of a touch.
fn told(m: &Motion, responses: &Responses, touch: &Touch) -> Vec<Event> {
    let s = m.session;
    let from = touch.from.ceil().max(0.0) as usize;
    let to = (touch.to.floor() as usize).min(s.frames() - 1);
    let mut out = Vec::new();
    for (under_way, stop) in strides(m, touch.player, from, to) {
        let (began, sd_s) = set_out(
            m,
            responses,
            touch.player,
            touch.from.max(0.0),
            (under_way, stop),
        )
        .unwrap_or_else(|| (began(m, under_way, from) as f64, ROUGH_S));
        let began = began.min(stop as f64);
        let start = began.round() as usize;
        let (Some(a), Some(b)) = (
            bridged(m, touch.player, start),
            m.player(touch.player, stop),
        ) else {
            continue;
        };
        let length = dist(a.pos, b.pos);
        out.push(Event {
            kind: EventKind::DribbleStart {
                player: touch.player,
                sd_s,
            },
            time_s: seconds(s, began),
            place: place(m, touch.player, began),
            confidence: (0.5 + 0.2 * (length - TWO_STEPS)).clamp(0.3, 0.97),
            evidence: format!(
                "went {length:.1} m with the ball in {:.1} s",
                (stop - start) as f64 / s.rate_hz
            ),
        });
        out.push(Event {
            kind: EventKind::PickUp {
                player: touch.player,
            },
            time_s: seconds(s, stop as f64),
            place: place(m, touch.player, stop as f64),
            confidence: 0.6,
            evidence: "stopped or let the ball go after the dribble".to_owned(),
        });
        let nearer =
            [End::Left, End::Right].map(|e| dist(a.pos, ring(m, e)) - dist(b.pos, ring(m, e)));
        let gain = nearer[0].max(nearer[1]);
        let half = s.court.measures().length / 2.0;
        let toward = if nearer[0] > nearer[1] { -1.0 } else { 1.0 };
        if gain > DRIVE_M && b.pos[0] * toward > half - 8.0 {
            out.push(Event {
                kind: EventKind::Drive {
                    player: touch.player,
                    to_s: seconds(s, stop as f64),
                },
                time_s: seconds(s, began),
                place: place(m, touch.player, began),
                confidence: (0.4 + 0.15 * gain).clamp(0.3, 0.97),
                evidence: format!("came {gain:.1} m nearer to the ring on the dribble"),
            });
        }
    }
    out
}

/// Movements of more than two steps, first and last frame.
pub(crate) fn legs(m: &Motion, player: usize, from: usize, to: usize) -> Vec<(usize, usize)> {
    let mut out = strides(m, player, from, to);
    for (a, _) in &mut out {
        *a = began(m, *a, from);
    }
    out
}

/// Where the movement began of who is under way at a frame, not before `from`: speed rises evenly
/// at about 2.4 m/s², the build-up of force counted in.
fn began(m: &Motion, under_way: usize, from: usize) -> usize {
    let back = (UNDER_WAY / 2.4 * m.session.rate_hz).round() as usize;
    under_way.saturating_sub(back).max(from)
}

/// Stretches in which a player is under way and goes further than two steps, first and last frame.
fn strides(m: &Motion, player: usize, from: usize, to: usize) -> Vec<(usize, usize)> {
    let rate = m.session.rate_hz;
    let patience = (0.4 * rate) as usize;
    let mut out = Vec::new();
    let mut open: Option<(usize, usize)> = None;
    for f in from..=to {
        let Some(k) = m.player(player, f) else {
            continue;
        };
        if norm(k.vel) > UNDER_WAY {
            open = Some((open.map_or(f, |o| o.0), f));
        } else if let Some((a, b)) = open
            && f - b > patience
        {
            out.push((a, b));
            open = None;
        }
    }
    out.extend(open);
    out.retain(|(a, b)| {
        matches!((m.player(player, *a), m.player(player, *b)),
            (Some(p), Some(q)) if norm(sub(p.pos, q.pos)) > TWO_STEPS)
    });
    out
}

//! Cuts and arrivals off the ball, from the players' own motion.

use crate::dribbles::legs;
use crate::model::{BallStory, Event, EventKind};
use crate::motion::{Motion, dist};
use crate::story::{place, seconds};
use rayon::prelude::*;
use setdrift_court::{AttackPoint, CourtPoint, End, spot, spot_names};

/// A movement with purpose goes at least this far, metres: more than a shift of the feet in place
/// (common practice, no published source).
const CUT_M: f64 = 2.0;
/// A spot is reached within this, metres.
const AT_SPOT_M: f64 = 1.5;

/// The movements of the team in attack while none of its players' own spells covers them, player by
/// player.
pub(crate) fn cuts(m: &Motion, story: &BallStory) -> Vec<Event> {
    let spots: Vec<(&str, AttackPoint)> = spot_names()
        .filter_map(|n| Some((n, spot(&m.session.court, n)?.1)))
        .collect();
    (0..m.session.players.len())
        .into_par_iter()
        .flat_map_iter(|player| of(m, story, &spots, player))
        .collect()
}

/// A player's.
fn of(m: &Motion, story: &BallStory, spots: &[(&str, AttackPoint)], player: usize) -> Vec<Event> {
    let s = m.session;
    let mut found = Vec::new();
    for (from, to) in legs(m, player, 0, s.frames() - 1) {
        let (Some(a), Some(b)) = (m.player(player, from), m.player(player, to)) else {
            continue;
        };
        let (start, stop) = (seconds(s, from as f64), seconds(s, to as f64));
        let far = dist(a.pos, b.pos);
        if far < CUT_M || !off_ball(m, story, player, start, stop) {
            continue;
        }
        let confidence = (0.5 + 0.12 * (far - CUT_M)).clamp(0.3, 0.95);
        found.push(Event {
            kind: EventKind::CutOnset { player, to_s: stop },
            time_s: start,
            place: place(m, player, from as f64),
            confidence,
            evidence: format!("went {far:.1} m without the ball in {:.1} s", stop - start),
        });
        let here = place(m, player, to as f64);
        let near = nearest(m, spots, here);
        found.push(Event {
            kind: EventKind::Arrival {
                player,
                spot: near.as_ref().map(|n| n.0.clone()),
            },
            time_s: stop,
            place: here,
            confidence,
            evidence: near.map_or("came to a stop away from named spots".to_owned(), |n| {
                format!("came to a stop {:.1} m from the {}", n.1, n.0)
            }),
        });
    }
    found
}

/// Whether his team has the ball when he goes, and he has not.
fn off_ball(m: &Motion, story: &BallStory, player: usize, from_s: f64, to_s: f64) -> bool {
    let team = |p: usize| m.session.players[p].team;
    if m.session.ball.is_none() {
        return team(player) == 0;
    }
    let i = story.spells.partition_point(|sp| sp.from_s <= from_s);
    let ours = story.spells[..i]
        .last()
        .is_some_and(|sp| team(sp.player) == team(player) && from_s - sp.to_s < 2.0);
    let first = story.spells.partition_point(|sp| sp.to_s < from_s);
    let has = story.spells[first..]
        .iter()
        .take_while(|sp| sp.from_s < to_s - 0.3)
        .any(|sp| sp.player == player);
    ours && !has
}

/// The nearest named spot of either end, with its distance.
fn nearest(m: &Motion, spots: &[(&str, AttackPoint)], at: CourtPoint) -> Option<(String, f64)> {
    let end = if at.x < 0.0 { End::Left } else { End::Right };
    let here = at.to_attack(&m.session.court, end);
    spots
        .iter()
        .map(|(n, p)| (*n, (p.x - here.x).hypot(p.y - here.y)))
        .filter(|x| x.1 <= AT_SPOT_M)
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(n, d)| (n.to_owned(), d))
}

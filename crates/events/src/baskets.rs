//! Whether a shot went in and when: from the ball's fall, from who goes behind the end line, and
//! from how play goes on.

use crate::behind;
use crate::model::{EventKind, Spell};
use crate::motion::dist;
use crate::possessions::{Cutter, FLIES_IN_S, LATEST_REBOUND_S, outside};
use crate::shots::{nearest_ring, ring};
use setdrift_court::End;

/// Fall from the ring, seconds, less what of it is seen: free fall from 3.05 m takes 0.79 s.
const FELL_S: f64 = 0.5;
/// Nobody but a shooter is this near to a ring with the ball, metres; and it is above it this
/// long after it came near, seconds.
const CLOSE_M: f64 = 2.0;
const RISES_S: f64 = 0.7;
/// After a shot the ball is in hands again within this, and somebody who has it inside for this
/// long plays on, seconds.
const SOON_S: f64 = 5.0;
const AT_PLAY_S: f64 = 1.5;
/// A ball that lies below a ring has come there no longer ago than this, seconds.
const CAME_S: f64 = 3.0;
/// A ball this near to a ring, seen from above, may have gone in, metres.
const AT_RING_M: f64 = 0.5;

impl Cutter<'_, '_> {
    /// Where the ball's fall does not tell, somebody behind the end line does, and a ball brought
    /// in from outside; who takes it first and goes behind the line with it has not rebounded
    /// it, and after a basket nobody plays on.
    pub(crate) fn went_in(&self, i: usize, ring_s: f64, made: Option<bool>) -> bool {
        let played = self.restart(i, ring_s);
        if made.is_none() || !self.m.sees_height() {
            match (self.taken_out(i, ring_s), made) {
                (Some(true), Some(false)) => return played == Some(true),
                // He who brings it in was not seen behind the line, but outside with the ball.
                (Some(false), Some(true)) if played == Some(true) && self.changes_hands(i) => {}
                (Some(out), _) => return out,
                (None, _) => {}
            }
        }
        match (made, played) {
            (Some(true), played) => {
                // Who has the ball only later has not rebounded it.
                let soon = self
                    .spells
                    .get(i + 1)
                    .is_some_and(|n| n.from_s < ring_s + LATEST_REBOUND_S);
                !soon || played != Some(false)
            }
            (Some(false), _) => self.brings_in(i, i + 1),
            (None, _) => (i + 1..self.spells.len())
                .take_while(|n| self.spells[*n].from_s - self.spells[i].to_s < 7.0)
                .any(|n| outside(self.m, &self.spells[n])),
        }
    }

    /// Whether the other team has the ball after spell `i`.
    fn changes_hands(&self, i: usize) -> bool {
        i + 1 < self.spells.len() && self.team(i + 1) != self.team(i)
    }

    /// Whether the other team goes behind the end line after a shot of spell `i`, as far as it is
    /// seen before the next shot.
    fn taken_out(&self, i: usize, ring_s: f64) -> Option<bool> {
        let team = self.team(i);
        let end = self.shot_at(i, ring_s)?;
        let next = self.next_shot(ring_s);
        let until = next.map_or(f64::INFINITY, |(_, release_s)| release_s);
        let out = behind::taken_out(self.m, 1 - team, end, ring_s, until);
        // The other team would have had the ball first.
        let again = next.is_some_and(|(by, _)| by == team);
        if out.is_none() && again && until < ring_s + SOON_S {
            Some(false)
        } else {
            out
        }
    }

    /// The next shot after one that was at the ring then: whose, and when it left the hands.
    fn next_shot(&self, ring_s: f64) -> Option<(usize, f64)> {
        let events = &self.story.events;
        let from = events.partition_point(|e| e.time_s <= ring_s);
        events[from..]
            .iter()
            .take_while(|e| e.time_s < ring_s + 2.0 * SOON_S)
            .find_map(|e| match e.kind {
                EventKind::Shot { player, .. } => {
                    Some((self.m.session.players[player].team, e.time_s))
                }
                _ => None,
            })
    }

    /// The end shot at by the team of spell `i`: its own where the tracks say it, else where the
    /// ball was.
    fn shot_at(&self, i: usize, ring_s: f64) -> Option<End> {
        let s = self.m.session;
        if let Some(end) = s.end_at(ring_s) {
            return Some(if self.team(i) == 0 { end } else { end.other() });
        }
        let at = self.m.ball(s.frame_at(ring_s))?.pos[0];
        Some(if at < 0.0 { End::Left } else { End::Right })
    }

    /// When the ball of a shot that went in was at the ring. Without height it is taken to be in
    /// the shooter's hands still while it falls beside him; and taken for a miss it was seen when
    /// it had fallen.
    pub(crate) fn scored_s(&self, i: usize, ring_s: f64, made: Option<bool>) -> f64 {
        if self.m.sees_height() {
            return ring_s;
        }
        let fell = if made == Some(false) { FELL_S } else { 0.0 };
        let told = ring_s - fell;
        let at = self.m.ball(self.m.session.frame_at(ring_s));
        at.map(|b| nearest_ring(self.m, b.pos))
            .filter(|near| near.1 < CLOSE_M)
            .and_then(|(end, _)| {
                self.came_to(end, self.spells[i].from_s.max(ring_s - CAME_S), ring_s)
            })
            .map_or(told, |came| told.min(came + RISES_S))
    }

    /// Whether the other team brings the ball in after a shot, or somebody plays on with it.
    pub(crate) fn restart(&self, i: usize, ring_s: f64) -> Option<bool> {
        let mut inside = 0.0;
        for (n, s) in self.spells.iter().enumerate().skip(i + 1) {
            if s.from_s > ring_s + SOON_S {
                break;
            }
            if outside(self.m, s) {
                return (self.team(n) != self.team(i)).then_some(true);
            }
            inside += s.to_s - s.from_s.max(ring_s);
            if inside > AT_PLAY_S {
                return Some(false);
            }
        }
        None
    }

    /// When a ball that lies dead near a ring came there, if the other team then brings it in
    /// from behind that end line.
    pub(crate) fn scored_before(&self, i: usize, dead_s: f64) -> Option<f64> {
        let n = self.inbound(i + 1);
        let thrower = &self.spells[n.checked_sub(1).filter(|n| *n > i)?];
        let s = self.m.session;
        let team = |sp: &Spell| s.players[sp.player].team;
        if team(thrower) == team(&self.spells[i]) || !outside(self.m, thrower) {
            return None;
        }
        let from = self.m.player(thrower.player, s.frame_at(thrower.to_s))?.pos;
        if from[0].abs() < s.court.measures().length / 2.0 - 0.5 {
            return None;
        }
        let end = if from[0] < 0.0 { End::Left } else { End::Right };
        self.came_to(
            end,
            self.spells[i].from_s.max(dead_s - CAME_S),
            dead_s + 0.3,
        )
    }

    /// When the ball came to a ring where it was last in a stretch of time.
    fn came_to(&self, end: End, from_s: f64, to_s: f64) -> Option<f64> {
        let s = self.m.session;
        let at = ring(self.m, end);
        let near = |f: usize| {
            self.m
                .ball(f)
                .map(|b| dist(b.pos, at) < AT_RING_M + 1.5 * self.m.ball_noise)
        };
        let frames = s.frame_at(from_s)..=s.frame_at(to_s);
        let last = frames.clone().rev().find(|f| near(*f) == Some(true))?;
        let first = frames
            .rev()
            .skip_while(|f| *f > last)
            .take_while(|f| near(*f) != Some(false))
            .last()?;
        Some(s.time(first))
    }

    /// Whether the team that did not have the ball in spell `i` brings it in in spell `n`.
    pub(crate) fn brings_in(&self, i: usize, n: usize) -> bool {
        self.spells.get(n).is_some_and(|s| {
            self.team(n) != self.team(i)
                && s.from_s - self.spells[i].to_s < FLIES_IN_S
                && outside(self.m, s)
        })
    }

    /// When the ball was nearest to a ring between two spells, if it was at one: a basket that
    /// was not told as a shot.
    pub(crate) fn at_ring(&self, i: usize) -> Option<f64> {
        let s = self.m.session;
        let (from, to) = (self.spells[i].to_s - 0.8, self.spells[i + 1].from_s + 0.6);
        let from = from.max(self.spells[i].from_s);
        (s.frame_at(from)..=s.frame_at(to))
            .filter_map(|f| Some((nearest_ring(self.m, self.m.ball(f)?.pos).1, f)))
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .filter(|x| x.0 < AT_RING_M + self.m.ball_noise)
            .map(|x| s.time(x.1))
    }
}

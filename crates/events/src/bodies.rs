//! Where each player is, frame by frame, short holes bridged, with how unsure that is.

use crate::motion::{Kin, Motion};
use setdrift_tracks::{Known, Track};

/// A player whose position is unknown for longer than this does not hold the ball, seconds.
const LOST_S: f64 = 2.0;
/// Nor does anybody while all have been lost together for longer than this, seconds.
const ALL_LOST_S: f64 = 1.0;
/// How fast an unseen player strays from a straight way, m/s: half of what a change of pace
/// makes (common practice, no published source).
const UNSEEN: f64 = 1.0;

/// A player at a frame.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Body {
    pub kin: Kin,
    /// Further variance per axis because he was not seen, square metres.
    pub blur: f64,
}

/// Looks at a session's players frame after frame.
#[derive(Debug)]
pub(crate) struct Bodies<'a> {
    m: Motion<'a>,
    /// Per player the last frame at which he was seen, and the next.
    seen: Vec<(usize, usize)>,
    /// Players at the frame looked at; `None` when lost or off the floor.
    pub at: Vec<Option<Body>>,
}

impl<'a> Bodies<'a> {
    /// Of a session whose frames are looked at from one on.
    pub fn new(m: Motion<'a>, first: usize) -> Self {
        let before = |t: &Track| (0..first).rev().find(|k| t.known[*k] != Known::Unknown);
        Self {
            seen: m
                .session
                .tracks
                .iter()
                .map(|t| (before(t).unwrap_or(0), first))
                .collect(),
            at: vec![None; m.session.players.len()],
            m,
        }
    }

    /// Looks at a frame. Frames must come in order.
    pub fn look(&mut self, frame: usize) {
        let dt = 1.0 / self.m.session.rate_hz;
        for i in 0..self.at.len() {
            let t = &self.m.session.tracks[i];
            let (last, next) = &mut self.seen[i];
            if t.known[frame] != Known::Unknown {
                (*last, *next) = (frame, frame);
                self.at[i] = self.m.player(i, frame).map(|kin| Body { kin, blur: 0.0 });
                continue;
            }
            if *next <= frame {
                *next = (frame..t.len())
                    .find(|k| t.known[*k] != Known::Unknown)
                    .unwrap_or(t.len());
            }
            let near = |since: usize| since as f64 * dt <= LOST_S;
            let before = self
                .m
                .player(i, *last)
                .map(|k| (k, frame - *last))
                .filter(|x| near(x.1));
            let after = (near(*next - frame))
                .then(|| self.m.player(i, *next))
                .flatten()
                .map(|k| (k, *next - frame));
            self.at[i] = between(before, after).map(|(kin, hole)| Body {
                kin,
                blur: (UNSEEN * hole as f64 * dt).powi(2),
            });
        }
        // All gone at once: they have left the floor, and nobody is where he was.
        let last = self.seen.iter().map(|s| s.0).max().unwrap_or(0);
        let next = self.seen.iter().map(|s| s.1).min().unwrap_or(0);
        if next.saturating_sub(last) as f64 * dt > ALL_LOST_S {
            self.at.fill(None);
        }
    }
}

/// Where a player is at a frame, a hole of up to [`LOST_S`] bridged.
pub(crate) fn bridged(m: &Motion, player: usize, frame: usize) -> Option<Kin> {
    if let Some(k) = m.player(player, frame) {
        return Some(k);
    }
    let most = (LOST_S * m.session.rate_hz) as usize;
    let last = m.session.frames() - 1;
    let before = (1..=most.min(frame)).find_map(|h| Some((m.player(player, frame - h)?, h)));
    let after = (1..=most.min(last - frame)).find_map(|h| Some((m.player(player, frame + h)?, h)));
    between(before, after).map(|b| b.0)
}

/// Between two known places at an even pace; beyond them he stays. With the distance to the
/// nearer of them in frames.
fn between(before: Option<(Kin, usize)>, after: Option<(Kin, usize)>) -> Option<(Kin, usize)> {
    match (before, after) {
        (Some((a, x)), Some((b, y))) => {
            let f = x as f64 / (x + y) as f64;
            let mix =
                |p: [f64; 2], q: [f64; 2]| [p[0] + f * (q[0] - p[0]), p[1] + f * (q[1] - p[1])];
            let kin = Kin {
                pos: mix(a.pos, b.pos),
                vel: mix(a.vel, b.vel),
            };
            Some((kin, x.min(y)))
        }
        (one, None) | (None, one) => one,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halfway_through_a_hole_he_is_halfway() {
        let kin = |x: f64| Kin {
            pos: [x, 0.0],
            vel: [2.0, 0.0],
        };
        let (k, hole) = between(Some((kin(0.0), 3)), Some((kin(4.0), 1))).unwrap();
        assert!((k.pos[0] - 3.0).abs() < 1e-12);
        assert_eq!(hole, 1);
        let (k, hole) = between(Some((kin(1.0), 5)), None).unwrap();
        assert!((k.pos[0] - 1.0).abs() < 1e-12);
        assert_eq!(hole, 5);
        assert!(between(None, None).is_none());
    }
}

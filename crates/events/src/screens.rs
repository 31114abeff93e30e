//! Screens: a team-mate stands, the user brushes past, the user's defender is held up.
//!
//! FIBA Official Basketball Rules, Art. 33.7: a legal screener stands still when contact occurs.
//! Looks ten times a second, whatever the frame rate.

use crate::model::{BallStory, Event, EventKind};
use crate::motion::{Kin, Motion, dist, norm, sub};
use crate::params::ValidParams;
use crate::story::seconds;
use setdrift_court::CourtPoint;
use std::collections::VecDeque;

/// Looks a second.
const LOOKS: f64 = 10.0;
/// Looks kept: two seconds on either side of the one judged.
const SIDE: usize = 20;
/// A screener's greatest speed at contact, m/s: standing, with sway and sensor noise.
const STANDS: f64 = 0.9;
/// A user's least speed, m/s: walking past is no use of a screen.
const USES: f64 = 1.2;
/// The user must have come from or gone this much further away than the contact, metres.
const PASSES_BY: f64 = 1.0;
/// Two screens by the same pair lie this far apart, seconds.
const AGAIN_S: f64 = 2.5;

struct Look {
    frame: usize,
    kin: Vec<Option<Kin>>,
}

pub(crate) fn screens(m: &Motion, p: &ValidParams, story: &mut BallStory) {
    let s = m.session;
    let step = ((s.rate_hz / LOOKS).round() as usize).max(1);
    let n = s.players.len();
    let mut window: VecDeque<Look> = VecDeque::with_capacity(2 * SIDE + 1);
    let mut last = vec![f64::NEG_INFINITY; n * n];
    let holder = Holder::new(story);
    let mut found = Vec::new();
    for frame in (0..s.frames()).step_by(step) {
        window.push_back(Look {
            frame,
            kin: (0..n).map(|i| m.player(i, frame)).collect(),
        });
        if window.len() > 2 * SIDE + 1 {
            window.pop_front();
        }
        if window.len() < 2 * SIDE + 1 {
            continue;
        }
        let now = seconds(s, window[SIDE].frame as f64);
        let Some(team) = holder.team_at(m, now) else {
            continue;
        };
        for screener in s.roster(team) {
            for user in s.roster(team).filter(|u| *u != screener) {
                if now - last[screener * n + user] < AGAIN_S || holder.gave(screener, user, now) {
                    continue;
                }
                if holder.has(screener, now) {
                    continue;
                }
                if let Some(e) = judge(m, p, &window, screener, user) {
                    last[screener * n + user] = now;
                    found.push(e);
                }
            }
        }
    }
    story.events.extend(found);
}

fn judge(
    m: &Motion,
    p: &ValidParams,
    window: &VecDeque<Look>,
    screener: usize,
    user: usize,
) -> Option<Event> {
    let s = m.session;
    let at = |k: usize, i: usize| window[k].kin[i];
    let apart = |k: usize| Some(dist(at(k, screener)?.pos, at(k, user)?.pos));
    let here = apart(SIDE)?;
    let slack = 1.5 * m.player_error();
    if here > p.screen_m + slack {
        return None;
    }
    // Nearest moment within half a second either way.
    for k in SIDE - 5..=SIDE + 5 {
        let d = apart(k)?;
        if d < here || (d == here && k < SIDE) {
            return None;
        }
    }
    let stands = (SIDE - 3..=SIDE + 1)
        .filter_map(|k| at(k, screener).map(|k| norm(k.vel)))
        .fold((0.0, 0.0), |(sum, c), v| (sum + v, c + 1.0));
    let still = stands.0 / f64::max(stands.1, 1.0);
    let error = speed_error(m);
    if still > STANDS + error {
        return None;
    }
    let speed = (SIDE - 4..=SIDE + 4)
        .filter_map(|k| at(k, user).map(|k| norm(k.vel)))
        .fold(0.0, f64::max);
    if speed < USES + error {
        return None;
    }
    let far = |range: std::ops::RangeInclusive<usize>| range.filter_map(apart).fold(0.0, f64::max);
    let before = far(0..=SIDE - 1);
    let after = far(SIDE + 1..=2 * SIDE);
    if before < here + PASSES_BY || after < here + 0.5 * PASSES_BY {
        return None;
    }
    // The user's defender: nearest to the user before contact, and not the screener's own.
    let opponents: Vec<usize> = (0..s.players.len())
        .filter(|i| s.players[*i].team != s.players[user].team)
        .collect();
    let early = SIDE - 10;
    let nearest = |k: usize, of: usize, but: Option<usize>| {
        let place = at(k, of)?.pos;
        opponents
            .iter()
            .filter(|d| Some(**d) != but)
            .filter_map(|d| Some((*d, dist(at(k, *d)?.pos, place))))
            .min_by(|a, b| a.1.total_cmp(&b.1))
    };
    let own = nearest(early, screener, None).map(|o| o.0);
    let guard = nearest(early, user, None)
        .filter(|g| Some(g.0) != own)
        .or_else(|| nearest(early, user, own));
    let contact = guard.and_then(|(d, _)| {
        (SIDE - 8..=SIDE + 8)
            .filter_map(|k| Some((k, dist(at(k, d)?.pos, at(k, screener)?.pos))))
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(k, gap)| (d, k, gap))
    });
    let held = contact.filter(|c| c.2 < 1.2 + slack);
    let mut confidence: f64 = 0.55;
    confidence += 0.2 * ((p.screen_m - here) / p.screen_m).clamp(0.0, 1.0);
    confidence += if held.is_some() {
        0.2
    } else if opponents.is_empty() {
        0.05
    } else {
        -0.2
    };
    let spot = at(SIDE, screener)?.pos;
    let toward = held
        .and_then(|(d, k, _)| at(k, d))
        .or(at(SIDE, user))
        .map_or([1.0, 0.0], |k| sub(k.pos, spot));
    Some(Event {
        kind: EventKind::Screen {
            screener,
            user,
            screened: held.map(|h| h.0),
            set: still < 0.5 + error,
            angle: toward[1].atan2(toward[0]),
        },
        time_s: seconds(s, window[SIDE].frame as f64),
        place: CourtPoint::new(spot[0], spot[1]),
        confidence: confidence.clamp(0.05, 0.97),
        evidence: format!(
            "user passed {here:.1} m from a screener moving at {still:.1} m/s{}",
            held.map_or(String::new(), |(d, _, gap)| format!(
                ", {} came within {gap:.1} m of the screener",
                s.players[d].label()
            ))
        ),
    })
}

fn speed_error(m: &Motion) -> f64 {
    let h = m.player_half as f64;
    m.player_noise * m.session.rate_hz / (h * (h + 1.0) * (2.0 * h + 1.0) / 3.0).sqrt()
}

/// Who has the ball when, for quick questions in order of time.
struct Holder<'a> {
    story: &'a BallStory,
}

impl<'a> Holder<'a> {
    fn new(story: &'a BallStory) -> Self {
        Self { story }
    }

    /// Team last in control; team 0 without a ball.
    fn team_at(&self, m: &Motion, t: f64) -> Option<usize> {
        if m.session.ball.is_none() {
            return Some(0);
        }
        let i = self.story.spells.partition_point(|s| s.from_s <= t);
        let spell = self.story.spells[..i].last()?;
        (t - spell.to_s < 4.0).then(|| m.session.players[spell.player].team)
    }

    fn has(&self, player: usize, t: f64) -> bool {
        let i = self.story.spells.partition_point(|s| s.from_s <= t);
        self.story.spells[..i]
            .last()
            .is_some_and(|s| s.player == player && t <= s.to_s)
    }

    /// Whether one gave the ball to the other from hand to hand about then.
    fn gave(&self, a: usize, b: usize, t: f64) -> bool {
        let from = self.story.events.partition_point(|e| e.time_s < t - 1.2);
        self.story.events[from..]
            .iter()
            .take_while(|e| e.time_s < t + 1.2)
            .any(|e| {
                matches!(e.kind, EventKind::HandOff { from, to }
                    if (from, to) == (a, b) || (from, to) == (b, a))
            })
    }
}

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
/// A screener's greatest speed at contact, m/s, sensor noise apart: one who still moves a little
/// sets an illegal screen, but sets one.
const STANDS: f64 = 1.6;
/// A user's least speed, m/s, sensor noise apart.
const USES: f64 = 0.6;
/// The user must have come from this much further away than the contact, metres.
const PASSES_BY: f64 = 0.5;
/// Screens are set in the front court, at most this far from the end line, metres.
const FRONT_M: f64 = 10.5;
/// Least confidence of a screen that is told.
const TOLD: f64 = 0.35;
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
    let spot = at(SIDE, screener)?.pos;
    let depth = s.court.measures().length / 2.0 - spot[0].abs();
    if here > p.screen_m + slack || depth > FRONT_M {
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
    if before < here + PASSES_BY {
        return None;
    }
    let from_spot = |range: std::ops::RangeInclusive<usize>| {
        range
            .filter_map(|k| Some(dist(at(k, screener)?.pos, spot)))
            .fold(0.0, f64::max)
    };
    let rest = (SIDE - 8..=SIDE + 4)
        .filter_map(|k| at(k, screener).map(|k| norm(k.vel)))
        .fold(f64::INFINITY, f64::min)
        .min(still);
    let confidence = Looks {
        here,
        still,
        rest,
        speed,
        before,
        after,
        came: from_spot(0..=SIDE - 6),
    }
    .confidence();
    if confidence < TOLD {
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
        confidence: confidence.min(0.97),
        evidence: format!(
            "user passed {here:.1} m from a screener moving at {still:.1} m/s{}",
            held.map_or(String::new(), |(d, _, gap)| format!(
                ", {} came within {gap:.1} m of the screener",
                s.players[d].label()
            ))
        ),
    })
}

/// What tells a screen from a chance meeting; metres and m/s.
struct Looks {
    /// Least distance of screener and user.
    here: f64,
    /// Mean speed of the screener at contact.
    still: f64,
    /// Least speed of the screener shortly before contact.
    rest: f64,
    /// Greatest speed of the user about contact.
    speed: f64,
    /// Furthest the two were apart in the two seconds before and after.
    before: f64,
    after: f64,
    /// Furthest the screener was from where he stands, in the two seconds before.
    came: f64,
}

impl Looks {
    /// A logistic score. Its form is what coaches say (the screener comes and stands; the user
    /// comes from a few metres off, brushes past at a run and goes on); its weights were fitted
    /// to games and practices of two simulators that share no code, at three sensor models.
    fn confidence(&self) -> f64 {
        let off = |value: f64, usual: f64| (value.max(0.1) / usual).ln();
        let after = off(self.after, 4.0);
        let came = off(self.came + 0.2, 1.2);
        let score = 1.17
            - 2.39 * (self.here - 0.7).max(0.0)
            - 0.76 * self.still
            - 1.70 * self.rest
            - 1.47 * off(self.speed, 3.0).powi(2)
            - 1.98 * off(self.before, 3.0).powi(2)
            + 0.64 * after
            - 0.99 * after.powi(2)
            + 1.19 * came
            - 0.95 * came.powi(2);
        1.0 / (1.0 + (-score).exp())
    }
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

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
/// Looks kept: three seconds on either side of the one judged.
const SIDE: usize = 30;
/// A screener's greatest speed at contact, m/s, sensor noise apart: one who still moves a little
/// sets an illegal screen, but sets one.
const STANDS: f64 = 1.6;
/// A user's least speed, m/s, sensor noise apart.
const USES: f64 = 0.6;
/// Screens are set in the front court, at most this far from the end line, metres.
const FRONT_M: f64 = 10.5;
/// Least confidence of a screen that is told.
const TOLD: f64 = 0.34;
/// No guard is looked for further from the screener, metres.
const FAR: f64 = 4.0;
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
    let pair = Pair {
        window,
        screener,
        user,
        error: speed_error(m),
    };
    let here = pair.apart(SIDE)?;
    let slack = 1.5 * m.player_error();
    let spot = pair.at(SIDE, screener)?.pos;
    let depth = s.court.measures().length / 2.0 - spot[0].abs();
    if here > p.screen_m + slack || depth > FRONT_M {
        return None;
    }
    // Nearest moment within half a second either way.
    for k in SIDE - 5..=SIDE + 5 {
        let d = pair.apart(k)?;
        if d < here || (d == here && k < SIDE) {
            return None;
        }
    }
    let guard = guard(m, window, user);
    let looks = pair.looks(here, guard)?;
    if looks.still > STANDS + pair.error || looks.speed < USES + pair.error {
        return None;
    }
    let confidence = looks.confidence();
    if confidence < TOLD {
        return None;
    }
    let held = guard.filter(|_| looks.gap < 1.2 + slack);
    let toward = held
        .and_then(|d| pair.at(SIDE, d))
        .or(pair.at(SIDE, user))
        .map_or([1.0, 0.0], |k| sub(k.pos, spot));
    Some(Event {
        kind: EventKind::Screen {
            screener,
            user,
            screened: held,
            set: looks.still < 0.5 + pair.error,
            angle: toward[1].atan2(toward[0]),
        },
        time_s: seconds(s, window[SIDE].frame as f64),
        place: CourtPoint::new(spot[0], spot[1]),
        confidence: confidence.min(0.97),
        evidence: format!(
            "user passed {here:.1} m from a screener moving at {:.1} m/s{}",
            looks.still,
            held.map_or(String::new(), |d| format!(
                ", {} came within {:.1} m of the screener",
                s.players[d].label(),
                looks.gap
            ))
        ),
    })
}

/// The opponent who guards a player: on the way to the contact nearest to him in the mean, and
/// nobody else's (greedy, nearest pair first).
fn guard(m: &Motion, window: &VecDeque<Look>, user: usize) -> Option<usize> {
    let s = m.session;
    let team = |i: usize| s.players[i].team;
    let mut pairs = Vec::new();
    for a in (0..s.players.len()).filter(|a| team(*a) == team(user)) {
        for d in (0..s.players.len()).filter(|d| team(*d) != team(user)) {
            let (mut sum, mut n) = (0.0, 0.0);
            for look in window.iter().take(SIDE - 4).step_by(3) {
                if let (Some(p), Some(q)) = (look.kin[a], look.kin[d]) {
                    sum += dist(p.pos, q.pos);
                    n += 1.0;
                }
            }
            if n > 2.0 {
                pairs.push((sum / n, a, d));
            }
        }
    }
    pairs.sort_by(|x, y| x.0.total_cmp(&y.0).then((x.1, x.2).cmp(&(y.1, y.2))));
    let mut taken: Vec<(usize, usize)> = Vec::new();
    for (_, a, d) in pairs {
        if !taken.iter().any(|t| t.0 == a || t.1 == d) {
            taken.push((a, d));
        }
    }
    taken.iter().find(|t| t.0 == user).map(|t| t.1)
}

/// A screener and a user about a meeting, which is at look [`SIDE`].
struct Pair<'a> {
    window: &'a VecDeque<Look>,
    screener: usize,
    user: usize,
    error: f64,
}

impl Pair<'_> {
    fn at(&self, k: usize, i: usize) -> Option<Kin> {
        self.window[k].kin[i]
    }

    fn between(&self, k: usize, a: usize, b: usize) -> Option<f64> {
        Some(dist(self.at(k, a)?.pos, self.at(k, b)?.pos))
    }

    fn apart(&self, k: usize) -> Option<f64> {
        self.between(k, self.screener, self.user)
    }

    fn speed(&self, k: usize, i: usize) -> Option<f64> {
        self.at(k, i).map(|k| norm(k.vel))
    }

    fn looks(&self, here: f64, guard: Option<usize>) -> Option<Looks> {
        let spot = self.at(SIDE, self.screener)?.pos;
        let most = |it: &mut dyn Iterator<Item = f64>| it.fold(0.0, f64::max);
        let least = |it: &mut dyn Iterator<Item = f64>| it.fold(f64::INFINITY, f64::min);
        let mean = |it: &mut dyn Iterator<Item = f64>| {
            let (s, n) = it.fold((0.0, 0.0), |(s, n), v| (s + v, n + 1.0));
            s / f64::max(n, 1.0)
        };
        let still = mean(&mut (SIDE - 3..=SIDE + 1).filter_map(|k| self.speed(k, self.screener)));
        let rest = least(&mut (SIDE - 8..=SIDE + 4).filter_map(|k| self.speed(k, self.screener)))
            .min(still);
        let speed = most(&mut (SIDE - 4..=SIDE + 4).filter_map(|k| self.speed(k, self.user)));
        let off = |k: usize| Some(dist(self.at(k, self.screener)?.pos, spot));
        // Since when and until when he stands within half a metre of there.
        let near = 0.5 + 0.3 * self.error;
        let set = (0..SIDE)
            .rev()
            .take_while(|k| off(*k).is_none_or(|d| d < near))
            .last()
            .unwrap_or(SIDE);
        let leaves = (SIDE..=2 * SIDE)
            .take_while(|k| off(*k).is_none_or(|d| d < near))
            .last()
            .unwrap_or(SIDE);
        let start = mean(
            &mut (set.saturating_sub(2)..=(set + 2).min(SIDE))
                .filter_map(|k| self.speed(k, self.user)),
        );
        let gap = guard.map_or(f64::INFINITY, |g| {
            least(&mut (SIDE - 8..=SIDE + 8).filter_map(|k| self.between(k, g, self.screener)))
        });
        let at_set = guard.map_or(f64::INFINITY, |g| {
            least(
                &mut (set..=(set + 3).min(SIDE)).filter_map(|k| self.between(k, g, self.screener)),
            )
        });
        let user_set = self.between(set, self.user, self.screener).unwrap_or(here);
        Some(Looks {
            here,
            still,
            rest,
            speed,
            before: most(&mut (SIDE - 20..SIDE).filter_map(|k| self.apart(k))),
            after: most(&mut (SIDE + 1..=SIDE + 20).filter_map(|k| self.apart(k))),
            came: most(&mut (0..=SIDE - 6).filter_map(off)),
            left: most(&mut (SIDE + 5..=2 * SIDE).filter_map(off)),
            stood: (SIDE - set) as f64 / LOOKS,
            stays: (leaves - SIDE) as f64 / LOOKS,
            start,
            gap,
            at_set: at_set.min(FAR),
            user_set,
        })
    }
}

/// What tells a screen from a chance meeting; metres, seconds and m/s.
#[derive(Debug)]
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
    /// Furthest the screener was from where he stands, in the three seconds before and after.
    came: f64,
    left: f64,
    /// How long he has stood there, and will.
    stood: f64,
    stays: f64,
    /// Speed of the user when the screener came to stand.
    start: f64,
    /// Least distance of the user's guard from the screener about contact, and when he came to
    /// stand.
    gap: f64,
    at_set: f64,
    /// How far the user was when the screener came to stand.
    user_set: f64,
}

impl Looks {
    /// A logistic score. Its form is what coaches say (the screener comes and stands; the user
    /// waits for it, comes from a few metres off, brushes past at a run and goes on; the screener
    /// then leaves); its weights were fitted to games and practices of two simulators that share
    /// no code, at three sensor models.
    fn confidence(&self) -> f64 {
        let off = |value: f64, usual: f64| (value.max(0.1) / usual).ln();
        let hill = |x: f64, slope: f64, bend: f64| slope * x - bend * x * x;
        let guarded = if self.at_set < FAR {
            0.54 * self.at_set.min(3.0)
        } else {
            0.81
        };
        let score = 1.15
            - 3.15 * (self.here - 0.7).max(0.0)
            - 1.45 * self.rest
            - 0.44 * self.start
            - guarded
            + hill(off(self.speed, 3.0), 0.0, 2.54)
            + hill(off(self.before, 3.0), 0.88, 1.71)
            + hill(off(self.after, 4.0), 1.05, 0.67)
            + hill(off(self.came + 0.2, 1.2), 1.64, 0.75)
            + hill(off(self.left + 0.2, 1.2), 1.44, 0.61)
            + hill(off(self.stood + 0.1, 0.8), 0.48, 0.79)
            + hill(off(self.stays + 0.1, 0.6), 1.94, 0.63)
            + hill(off(self.user_set, 2.0), -0.62, 0.71);
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

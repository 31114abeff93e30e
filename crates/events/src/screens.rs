//! Screens: a team-mate stands, the user brushes past, the user's defender is held up.
//!
//! FIBA Official Basketball Rules, Art. 33.7: a legal screener stands still when contact occurs.
//! Every nearest approach of two team-mates is looked at from three seconds before it to three
//! seconds after, ten times a second whatever the frame rate, and scored by trees that were
//! fitted to games and practices with known screens (`docs/method-events.md`).

use crate::bodies::Bodies;
use crate::model::{BallStory, Event, EventKind};
use crate::motion::{Kin, Motion, dist, norm, sub};
use crate::params::ValidParams;
use crate::screen_trees;
use crate::stood::{STANDS, stood};
use crate::story::seconds;
use setdrift_court::CourtPoint;
use setdrift_tracks::Session;
use std::collections::VecDeque;

/// Looks a second.
const LOOKS: f64 = 10.0;
/// Looks kept: three seconds on either side of the one judged.
const SIDE: usize = 30;
/// Screens are set in the front court, at most this far from the end line, metres.
const FRONT_M: f64 = 11.0;
/// Least confidence of a screen that is told.
const TOLD: f64 = 0.4;
/// Distances further than this count as this, metres.
const FAR: f64 = 6.0;
/// A guard within this of the screener is screened, metres, sensor noise apart.
const HELD_M: f64 = 1.2;
/// Two screens by the same pair lie this far apart, seconds.
const AGAIN_S: f64 = 2.5;

/// Two team-mates at their nearest, as the detector of screens sees them: what its trees are
/// fitted to.
#[derive(Debug, Clone, PartialEq)]
pub struct Meeting {
    /// Who may have screened.
    pub screener: usize,
    /// Who may have used it.
    pub user: usize,
    /// When they were nearest, seconds.
    pub time_s: f64,
    /// [`LOOKS_AT`] numbers: metres, or 0 and 1 for who has the ball.
    pub looks: Vec<f64>,
}

/// How many numbers describe a [`Meeting`].
pub const LOOKS_AT: usize = 75;

struct Look {
    frame: usize,
    kin: Vec<Option<Kin>>,
}

/// All meetings of team-mates who have the ball, without a verdict.
#[must_use]
pub fn meetings(session: &Session, story: &BallStory, params: &ValidParams) -> Vec<Meeting> {
    let m = Motion::new(session);
    let mut out = Vec::new();
    walk(&m, params, story, |pair, now| {
        out.push(Meeting {
            screener: pair.screener,
            user: pair.user,
            time_s: now,
            looks: pair.looks(),
        });
    });
    out
}

/// Screens by the team that has the ball, in order of time.
pub(crate) fn screens(m: &Motion, p: &ValidParams, story: &BallStory) -> Vec<Event> {
    let mut found: Vec<(usize, usize, Event)> = Vec::new();
    walk(m, p, story, |pair, _| {
        let confidence = screen_trees::confidence(&pair.looks());
        if confidence >= TOLD {
            found.push((pair.screener, pair.user, pair.event(confidence)));
        }
    });
    // Of one pair the surest is told, whoever screened for whom.
    found.sort_by(|x, y| {
        y.2.confidence
            .total_cmp(&x.2.confidence)
            .then(x.2.time_s.total_cmp(&y.2.time_s))
    });
    let mut told: Vec<(usize, usize, Event)> = Vec::new();
    for (a, u, e) in found {
        let again = told.iter().any(|(b, v, f)| {
            ((a, u) == (*b, *v) || (a, u) == (*v, *b)) && (e.time_s - f.time_s).abs() < AGAIN_S
        });
        if !again {
            told.push((a, u, e));
        }
    }
    told.sort_by(|x, y| x.2.time_s.total_cmp(&y.2.time_s).then(x.0.cmp(&y.0)));
    told.into_iter().map(|t| t.2).collect()
}

/// Shows every meeting of the team with the ball in its front court, in order of time.
fn walk(m: &Motion, p: &ValidParams, story: &BallStory, mut show: impl FnMut(&Pair, f64)) {
    let s = m.session;
    let step = ((s.rate_hz / LOOKS).round() as usize).max(1);
    let n = s.players.len();
    let mut window: VecDeque<Look> = VecDeque::with_capacity(2 * SIDE + 1);
    let mut bodies = Bodies::new(*m, 0);
    let holder = Holder::new(story);
    for frame in (0..s.frames()).step_by(step) {
        bodies.look(frame);
        let mut kin = if window.len() > 2 * SIDE {
            window.pop_front().map_or_else(Vec::new, |l| l.kin)
        } else {
            Vec::with_capacity(n)
        };
        kin.clear();
        kin.extend(bodies.at.iter().map(|b| b.map(|b| b.kin)));
        window.push_back(Look { frame, kin });
        if window.len() < 2 * SIDE + 1 {
            continue;
        }
        let now = seconds(s, window[SIDE].frame as f64);
        let Some(team) = holder.team_at(m, now) else {
            continue;
        };
        for a in s.roster(team) {
            for u in s.roster(team).filter(|u| *u > a) {
                if !nearest(m, p.screen_m, &window, a, u) {
                    continue;
                }
                for (screener, user) in [(a, u), (u, a)] {
                    show(
                        &Pair {
                            m,
                            window: &window,
                            holder: &holder,
                            screener,
                            user,
                            now,
                        },
                        now,
                    );
                }
            }
        }
    }
}

/// Whether two are nearest to each other now within half a second either way, in the front court
/// and near enough.
fn nearest(m: &Motion, most_m: f64, window: &VecDeque<Look>, a: usize, u: usize) -> bool {
    let apart = |k: usize| {
        let l: &Look = &window[k];
        Some(dist(l.kin[a]?.pos, l.kin[u]?.pos))
    };
    let Some(here) = apart(SIDE).filter(|d| *d < most_m) else {
        return false;
    };
    let length = m.session.court.measures().length;
    let depth = window[SIDE].kin[a].map_or(0.0, |k| length / 2.0 - k.pos[0].abs());
    depth < FRONT_M
        && (SIDE - 5..=SIDE + 5)
            .all(|k| apart(k).is_some_and(|d| d > here || k == SIDE || (d == here && k > SIDE)))
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
struct Pair<'a, 'b> {
    m: &'a Motion<'b>,
    window: &'a VecDeque<Look>,
    holder: &'a Holder<'a>,
    screener: usize,
    user: usize,
    now: f64,
}

impl Pair<'_, '_> {
    fn at(&self, k: usize, i: usize) -> Option<[f64; 2]> {
        self.window[k].kin[i].map(|k| k.pos)
    }

    /// What tells a screen from a chance meeting, in metres, [`FAR`] where unknown: how near they
    /// come; how far each goes in every half second; where each is seen from the place of the
    /// meeting; how the screener stands; the user's turn; the guards of both; who has the ball.
    fn looks(&self) -> Vec<f64> {
        let (a, u) = (Some(self.screener), Some(self.user));
        let guard_u = guard(self.m, self.window, self.user);
        let guard_a = guard(self.m, self.window, self.screener);
        let at = |k: usize, i: Option<usize>| self.at(k, i?);
        let between = |k: usize, i: Option<usize>, j: Option<usize>| {
            at(k, i)
                .zip(at(k, j))
                .map_or(FAR, |(p, q)| dist(p, q).min(FAR))
        };
        let spot = at(SIDE, a);
        let off = |k: usize, i: Option<usize>| {
            at(k, i).zip(spot).map_or(FAR, |(p, q)| dist(p, q).min(FAR))
        };
        let mut out = Vec::with_capacity(LOOKS_AT);
        out.push(between(SIDE, a, u));
        out.push((SIDE - 3..=SIDE + 3).map(|k| between(k, a, u)).sum::<f64>() / 7.0);
        for i in [a, u] {
            out.extend((0..12).map(|w| {
                at(5 * w, i)
                    .zip(at(5 * w + 5, i))
                    .map_or(FAR, |(p, q)| dist(p, q).min(FAR))
            }));
        }
        for i in [a, u] {
            out.extend([0, 10, 20, 25, 35, 40, 50, 60].map(|k| off(k, i)));
        }
        out.extend([(20, 30), (22, 35), (15, 30)].map(|(from, to)| self.sway(from, to)));
        out.push(self.turn());
        let way = at(22, guard_u).zip(at(42, u));
        out.push(
            way.zip(spot)
                .map_or(FAR, |((p, q), s)| beside(p, q, s).min(FAR)),
        );
        out.push(
            (20..=42)
                .map(|k| between(k, guard_u, a))
                .fold(FAR, f64::min),
        );
        out.extend([20, 30, 40, 45, 50].map(|k| off(k, guard_u)));
        out.extend([20, 30, 40, 50].map(|k| between(k, guard_u, u)));
        out.extend([20, 30, 40].map(|k| between(k, guard_a, a)));
        let has = |i: usize, t: f64| f64::from(u8::from(self.holder.has(i, self.now + t)));
        out.extend([-1.5, -0.7, 0.0, 0.7, 1.5, 2.5].map(|t| has(self.user, t)));
        out.extend([-2.0, -1.0, -0.4, 0.0, 0.4, 1.0, 2.0].map(|t| has(self.screener, t)));
        out.push(f64::from(u8::from(self.holder.gave(
            self.screener,
            self.user,
            self.now,
        ))));
        out.push(self.m.player_noise);
        out
    }

    /// Root mean square distance of the screener's places from their mean.
    fn sway(&self, from: usize, to: usize) -> f64 {
        let places = || (from..=to).filter_map(|k| self.at(k, self.screener));
        let n = places().count() as f64;
        let sum = places().fold([0.0; 2], |s, p| [s[0] + p[0], s[1] + p[1]]);
        let mean = [sum[0] / n, sum[1] / n];
        let square: f64 = places().map(|p| dist(p, mean).powi(2)).sum();
        if n > 0.0 {
            (square / n).sqrt().min(FAR)
        } else {
            FAR
        }
    }

    /// Cosine of the angle by which the user turns at the meeting; straight on where unknown.
    fn turn(&self) -> f64 {
        let (Some(p), Some(q), Some(r)) = (
            self.at(SIDE - 10, self.user),
            self.at(SIDE, self.user),
            self.at(SIDE + 12, self.user),
        ) else {
            return 1.0;
        };
        let (x, y) = (sub(q, p), sub(r, q));
        (x[0] * y[0] + x[1] * y[1]) / (norm(x) * norm(y)).max(1e-6)
    }

    fn event(&self, confidence: f64) -> Event {
        let (m, s) = (self.m, self.m.session);
        let slack = 1.5 * m.player_error();
        let spot = self.at(SIDE, self.screener).unwrap_or_default();
        let here = self.at(SIDE, self.user).map_or(0.0, |u| dist(u, spot));
        let speeds: Vec<f64> = (SIDE - 3..=SIDE + 1)
            .filter_map(|k| self.window[k].kin[self.screener].map(|k| norm(k.vel)))
            .collect();
        let still = speeds.iter().sum::<f64>() / speeds.len().max(1) as f64;
        let held = guard(m, self.window, self.user).and_then(|d| {
            let gap = (SIDE - 8..=SIDE + 8)
                .filter_map(|k| Some(dist(self.at(k, d)?, self.at(k, self.screener)?)))
                .fold(f64::INFINITY, f64::min);
            (gap < HELD_M + slack).then_some((d, gap))
        });
        let toward = held
            .and_then(|(d, _)| self.at(SIDE, d))
            .or(self.at(SIDE, self.user))
            .map_or([1.0, 0.0], |p| sub(p, spot));
        Event {
            kind: EventKind::Screen {
                screener: self.screener,
                user: self.user,
                screened: held.map(|h| h.0),
                set: still < STANDS + speed_error(m),
                stood: stood(m, self.screener, self.now),
                angle: toward[1].atan2(toward[0]),
            },
            time_s: self.now,
            place: CourtPoint::new(spot[0], spot[1]),
            confidence: confidence.min(0.97),
            evidence: format!(
                "user passed {here:.1} m from a screener moving at {still:.1} m/s{}",
                held.map_or(String::new(), |(d, gap)| format!(
                    ", {} came within {gap:.1} m of the screener",
                    s.players[d].label()
                ))
            ),
        }
    }
}

/// Distance of a place from the way between two others.
fn beside(from: [f64; 2], to: [f64; 2], place: [f64; 2]) -> f64 {
    let (v, w) = (sub(to, from), sub(place, from));
    let t = ((v[0] * w[0] + v[1] * w[1]) / (v[0] * v[0] + v[1] * v[1]).max(1e-6)).clamp(0.0, 1.0);
    dist([from[0] + t * v[0], from[1] + t * v[1]], place)
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

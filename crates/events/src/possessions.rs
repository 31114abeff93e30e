//! From the ball's story to possessions: who attacked which end from when to when, and how it
//! ended.
//!
//! Control begins with the catch of a rebound, a steal or an inbound pass and ends with the
//! basket, the opponents' control or the whistle (FIBA Official Basketball Rules, Art. 14; an
//! offensive rebound continues the possession, as statisticians count).

use crate::model::{
    BallStory, EventKind, Outcome, Pace, PlayerIx, Possession, Source, Spell, Start,
};
use crate::motion::Motion;
use crate::params::ValidParams;
use crate::results::align;
use crate::{ballless, practice, thrown_in};
use setdrift_court::End;
use setdrift_tracks::{GivenResult, Known, OutcomeKind, Session, SessionKind};

/// A possession before its players, end and given result are filled in.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Draft {
    pub team: usize,
    pub from_s: f64,
    pub to_s: f64,
    pub start: Start,
    pub kind: OutcomeKind,
    pub second_chances: u32,
    /// The ring that was shot at.
    pub shot_at: Option<End>,
}

/// Possessions of all teams (callers filter on `team`), by start; in a practice, repetitions.
///
/// `given` are the lines of the event file, in any order; each is laid on the possession of its
/// team whose end is nearest within [`crate::Params::result_s`].
#[must_use]
pub fn possessions(
    session: &Session,
    story: &BallStory,
    given: &[GivenResult],
    params: &ValidParams,
) -> Vec<Possession> {
    let motion = Motion::new(session);
    let drafts = match (session.kind, session.ball.is_some()) {
        (SessionKind::Practice, true) => practice::repetitions(&motion, story, params),
        (SessionKind::Game, true) => by_control(&motion, story, params),
        (_, false) => ballless::stretches(&motion, params),
    };
    let drafts: Vec<Draft> = drafts.into_iter().filter(|d| d.to_s > d.from_s).collect();
    let ends = attacked(&motion, story, &drafts);
    let mut out: Vec<Possession> = drafts
        .iter()
        .zip(ends)
        .map(|(d, end)| fill(&motion, d, end))
        .collect();
    lay_results(session, &mut out, given, params.result_s);
    for (i, p) in out.iter_mut().enumerate() {
        p.number = i + 1;
    }
    out
}

/// After a basket or a whistle the ball comes in from behind a line within this, seconds; a
/// longer search would run into the next possession.
const INBOUND_S: f64 = 12.0;
/// An inbound pass is caught within this, seconds.
pub(crate) const FLIES_IN_S: f64 = 4.0;
/// Without an inbound pass to be seen, play goes on with a touch of this length, seconds.
const PLAY_ON_S: f64 = 1.0;

/// A ball dead for longer after a miss has been whistled dead, seconds.
const DEAD_S: f64 = 2.0;

/// A ball off a ring is in hands within this, seconds (twice the median time and more).
pub(crate) const LATEST_REBOUND_S: f64 = 2.0;
/// Median time from the ring to hands, seconds (see `shots`).
pub(crate) const CAROM_S: f64 = 0.8;
/// Who is seen with a rebound for less than this as the tracks end may have had it before, seconds.
const BARELY_S: f64 = 0.5;
/// Everybody is unseen from so long after the end of a period until so long after it, seconds.
const GONE_S: (f64, f64) = (0.5, 1.5);
/// Nobody brings a dead ball in within this, seconds (common practice).
const UNSEEN_S: f64 = 4.0;

/// A stopped possession shorter than this is none, seconds.
const LEAST_S: f64 = 1.5;

/// What ended a spell.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Mark {
    Shot {
        ring_s: f64,
        made: Option<bool>,
    },
    /// Out of bounds or dead, since when.
    Dead(f64),
}

/// Walks through the spells with a possession open or the ball dead.
pub(crate) struct Cutter<'a, 'b> {
    pub(crate) m: &'a Motion<'b>,
    pub(crate) story: &'a BallStory,
    pub(crate) spells: Vec<Spell>,
    /// See [`crate::Params`].
    pub(crate) hold_spread_m: f64,
    out: Vec<Draft>,
}

fn by_control(m: &Motion, story: &BallStory, params: &ValidParams) -> Vec<Draft> {
    let mut c = Cutter {
        m,
        story,
        spells: lasting(m, story, params.control_s),
        hold_spread_m: params.hold_spread_m,
        out: Vec::new(),
    };
    let mut k = 0;
    let mut start = Start::Unknown;
    let mut dead = true;
    while k < c.spells.len() {
        let from = if dead { c.inbound(k) } else { k };
        if from >= c.spells.len() {
            break;
        }
        if dead && from > k {
            start = Start::DeadBall;
            if outside(m, &c.spells[from - 1]) && c.team(from - 1) == c.team(from) {
                let (thrower, catcher) = (c.spells[from - 1], c.spells[from]);
                let at_s = thrown_in::caught_s(m, params, thrower, catcher);
                c.spells[from].from_s = at_s.min(catcher.to_s);
            }
        }
        (k, dead) = c.possession(from, start);
        start = if dead { Start::DeadBall } else { Start::Live };
    }
    c.out
}

impl Cutter<'_, '_> {
    pub(crate) fn team(&self, k: usize) -> usize {
        self.m.session.players[self.spells[k].player].team
    }

    /// The spell that a dead ball comes to: the first after one that let go from outside.
    pub(crate) fn inbound(&self, k: usize) -> usize {
        let mut since = self.spells[k].from_s;
        let mut play_on = None;
        for i in k..self.spells.len() {
            let s = &self.spells[i];
            if s.from_s - since > INBOUND_S {
                break;
            }
            if outside(self.m, s) {
                match self.spells.get(i + 1) {
                    // It came in, and play was stopped before anybody was seen with it.
                    Some(n) if n.from_s - s.to_s > FLIES_IN_S => since = n.from_s,
                    _ => return i + 1,
                }
                continue;
            }
            if play_on.is_none() && s.to_s - s.from_s > PLAY_ON_S {
                play_on = Some(i);
            }
            // Nobody shoots a dead ball; one that went in is brought in next.
            if play_on.is_some() && matches!(self.mark(i), Some(Mark::Shot { .. })) {
                break;
            }
        }
        play_on.unwrap_or(k)
    }

    /// One possession from spell `k` on. Returns the spell that follows it and whether the ball
    /// is dead then.
    fn possession(&mut self, k: usize, start: Start) -> (usize, bool) {
        let team = self.team(k);
        let mut d = Draft {
            team,
            from_s: self.spells[k].from_s,
            to_s: self.spells[k].to_s,
            start,
            kind: OutcomeKind::Unknown,
            second_chances: 0,
            shot_at: None,
        };
        let mut i = k;
        let (next, dead) = loop {
            d.to_s = self.spells[i].to_s;
            let next = self.spells.get(i + 1).copied();
            let mark = self.mark(i);
            let basket = match mark {
                Some(Mark::Shot { ring_s, made }) => self.scored(i, ring_s, made),
                Some(Mark::Dead(at)) if next.is_some() => self.scored(i, at, None),
                None if next.is_some() && self.team(i + 1) != team => {
                    self.scored(i, self.spells[i].to_s, None)
                }
                _ => None,
            };
            if let Some(at) = basket {
                d.kind = OutcomeKind::Made;
                d.to_s = at.max(d.from_s);
                break (self.after(i + 1, d.to_s + 0.9), true);
            }
            match (mark, next) {
                (Some(Mark::Shot { ring_s, .. }), None) => {
                    // The tracks end before anybody is seen with the rebound.
                    let last = self.m.session.time(self.m.session.frames() - 1);
                    d.to_s = (ring_s + CAROM_S).min(last).max(ring_s);
                    break (i + 1, true);
                }
                // Who has it then inside the lines has picked it up from the floor.
                (Some(Mark::Shot { ring_s, .. }), Some(n))
                    if self.dead_within(ring_s, n.from_s - DEAD_S).is_some()
                        && self.restart(i, n.from_s) != Some(false) =>
                {
                    d.kind = OutcomeKind::Missed;
                    let dead_s = self.dead_within(ring_s, n.from_s).unwrap_or(ring_s);
                    d.to_s = if self.all_gone(dead_s) {
                        dead_s.min(ring_s + CAROM_S)
                    } else {
                        dead_s
                    };
                    break (i + 1, true);
                }
                (Some(Mark::Shot { ring_s, .. }), Some(n)) if self.team(i + 1) != team => {
                    d.kind = OutcomeKind::Missed;
                    // Seen with it for a moment before the tracks end: he may have had it before.
                    let barely = n.to_s - n.from_s < BARELY_S && self.all_gone(n.to_s);
                    d.to_s = if barely {
                        n.from_s.min(ring_s + CAROM_S)
                    } else {
                        n.from_s
                    };
                    break (i + 1, false);
                }
                (Some(Mark::Shot { .. }), Some(_)) => d.second_chances += 1,
                // The same team plays on inside: the ball was out of sight, not dead.
                (Some(Mark::Dead(_)), Some(n))
                    if self.team(i + 1) == team
                        && n.from_s - self.spells[i].to_s < UNSEEN_S
                        && self.plays_on(i + 1) => {}
                (Some(Mark::Dead(at)), _) => {
                    let stays = next.is_some() && {
                        let from = self.inbound(i + 1);
                        from < self.spells.len() && self.team(from) == team
                    };
                    d.kind = if stays {
                        OutcomeKind::Foul
                    } else {
                        OutcomeKind::Turnover
                    };
                    d.to_s = at.max(d.from_s);
                    break (i + 1, true);
                }
                (None, None) => break (i + 1, true),
                (None, Some(n)) if self.brings_in(i, i + 1) => {
                    // Nobody goes behind the line with a ball he has won in play.
                    d.kind = OutcomeKind::Turnover;
                    d.to_s = n.from_s;
                    break (i + 1, true);
                }
                (None, Some(n)) if self.team(i + 1) != team => {
                    d.kind = OutcomeKind::Turnover;
                    d.to_s = n.from_s;
                    break (i + 1, false);
                }
                (None, Some(_)) => {}
            }
            i += 1;
        };
        // The ball came in and play stopped at once: nothing was played.
        if !(dead && d.kind != OutcomeKind::Made && d.to_s - d.from_s < LEAST_S) {
            self.out.push(d);
        }
        (next, dead)
    }

    /// Whether the ball is played inside for a while from spell `k` on before anybody is outside
    /// with it.
    fn plays_on(&self, k: usize) -> bool {
        let mut inside = 0.0;
        for s in &self.spells[k..] {
            if outside(self.m, s) {
                return false;
            }
            inside += s.to_s - s.from_s;
            if inside > PLAY_ON_S {
                break;
            }
        }
        true
    }

    /// Whether everybody's tracks end about then, as they do when a period is over.
    fn all_gone(&self, time_s: f64) -> bool {
        let s = self.m.session;
        let seen = |f: usize| s.tracks.iter().any(|t| t.known[f] != Known::Unknown);
        let soon = s.frame_at(time_s + GONE_S.0);
        let last = s.frame_at(time_s + GONE_S.1);
        !(soon..=last).any(seen)
    }

    /// When the ball was dead first in a stretch of time.
    fn dead_within(&self, from_s: f64, to_s: f64) -> Option<f64> {
        let i = self.story.events.partition_point(|e| e.time_s < from_s);
        self.story.events[i..]
            .iter()
            .take_while(|e| e.time_s < to_s)
            .find(|e| matches!(e.kind, EventKind::DeadBall | EventKind::OutOfBounds { .. }))
            .map(|e| e.time_s)
    }

    /// The first spell at or after `k` that lasts beyond a time.
    fn after(&self, k: usize, time_s: f64) -> usize {
        (k..self.spells.len())
            .find(|i| self.spells[*i].to_s > time_s)
            .unwrap_or(self.spells.len())
    }

    fn mark(&self, i: usize) -> Option<Mark> {
        let s = &self.spells[i];
        let until = self.spells.get(i + 1).map_or(f64::INFINITY, |n| n.from_s);
        let from = self
            .story
            .events
            .partition_point(|e| e.time_s < s.from_s - 1e-6);
        let mut dead = None;
        for e in &self.story.events[from..] {
            if e.time_s > until.min(s.to_s + 30.0) {
                break;
            }
            match e.kind {
                EventKind::Shot {
                    player,
                    ring_s,
                    made,
                } if player == s.player && e.time_s <= s.to_s + 0.1 => {
                    return Some(Mark::Shot { ring_s, made });
                }
                EventKind::OutOfBounds { .. } | EventKind::DeadBall
                    if dead.is_none() && e.time_s >= s.to_s - 0.3 =>
                {
                    dead = Some(Mark::Dead(e.time_s));
                }
                _ => {}
            }
        }
        dead
    }
}

/// Spells without the short touches of the other team that change nothing.
fn lasting(m: &Motion, story: &BallStory, control_s: f64) -> Vec<Spell> {
    let s = m.session;
    let team = |sp: &Spell| s.players[sp.player].team;
    let all = &story.spells;
    let mut out: Vec<Spell> = Vec::with_capacity(all.len());
    for (k, sp) in all.iter().enumerate() {
        let touched = sp.to_s - sp.from_s < control_s;
        let between = k > 0
            && k + 1 < all.len()
            && team(&all[k - 1]) == team(&all[k + 1])
            && team(sp) != team(&all[k - 1]);
        if !(touched && between) {
            out.push(*sp);
        }
    }
    out
}

/// How long before he lets go a holder's place still tells where he does, seconds.
const STOOD_S: f64 = 1.2;

/// Who brings it in stands there for so long, and so does the ball, seconds.
const LONG_S: f64 = 2.0;

/// Whether the holder lets the ball go from behind a line; where he is not seen, the ball tells,
/// and then where either was last.
pub(crate) fn outside(m: &Motion, spell: &Spell) -> bool {
    let s = m.session;
    let half = s.court.measures();
    let mean = |ago_s: f64, at: &dyn Fn(usize) -> Option<[f64; 2]>| {
        let to_s = spell.to_s - ago_s;
        let to = s.frame_at(to_s.max(spell.from_s));
        let from = s.frame_at((to_s - 0.4).max(spell.from_s));
        let (mut out, mut all) = (0.0, 0.0);
        for p in (from..=to).filter_map(at) {
            all += 1.0;
            out += (p[0].abs() - half.length / 2.0).max(p[1].abs() - half.width / 2.0);
        }
        (all > 0.0).then_some(out / all)
    };
    let player = |f: usize| m.player(spell.player, f).map(|k| k.pos);
    let ball = |f: usize| m.ball(f).map(|k| k.pos);
    let stood = |at: &dyn Fn(usize) -> Option<[f64; 2]>| {
        let (from, to) = ((spell.to_s - LONG_S).max(spell.from_s), spell.to_s);
        let all: Vec<f64> = (s.frame_at(from)..=s.frame_at(to))
            .filter_map(at)
            .map(|p| (p[0].abs() - half.length / 2.0).max(p[1].abs() - half.width / 2.0))
            .collect();
        (!all.is_empty()).then(|| all.iter().sum::<f64>() / all.len() as f64)
    };
    if let (Some(p), Some(b)) = (stood(&player), stood(&ball))
        && p + b > 0.2 - 0.5 * m.player_noise
    {
        return true;
    }
    [0.0, STOOD_S / 3.0, 2.0 * STOOD_S / 3.0]
        .into_iter()
        .find_map(|ago_s| mean(ago_s, &player).or_else(|| mean(ago_s, &ball)))
        .is_some_and(|beyond| beyond > 0.1 - m.player_noise)
}

/// The end attacked in each draft: given, else the ring shot at, else where most of the team's
/// possessions of the same stretch of the session are played.
fn attacked(m: &Motion, story: &BallStory, drafts: &[Draft]) -> Vec<End> {
    let s = m.session;
    let lean: Vec<f64> = drafts.iter().map(|d| leaning(m, story, d)).collect();
    (0..drafts.len())
        .map(|i| {
            let d = &drafts[i];
            if let Some(e) = s
                .end_at((d.from_s + d.to_s) / 2.0)
                .or_else(|| s.end_at(d.from_s))
            {
                return if d.team == 0 { e } else { e.other() };
            }
            // Neighbours vote as well: teams change ends only at half-time.
            let mut vote = 0.0;
            for (j, other) in drafts.iter().enumerate().skip(i.saturating_sub(4)).take(9) {
                let sign = if other.team == d.team { 1.0 } else { -1.0 };
                let weight = if i == j { 2.0 } else { 1.0 };
                if s.kind == SessionKind::Game || i == j {
                    vote += sign * weight * lean[j];
                }
            }
            if vote > 0.0 { End::Right } else { End::Left }
        })
        .collect()
}

/// −1 for the left end to 1 for the right, from the shot or from where the last half was played.
fn leaning(m: &Motion, story: &BallStory, d: &Draft) -> f64 {
    let s = m.session;
    let shot = d.shot_at.or_else(|| {
        story.events.iter().rev().find_map(|e| match e.kind {
            EventKind::Shot { .. } if e.time_s >= d.from_s - 0.1 && e.time_s <= d.to_s + 0.1 => {
                Some(if e.place.x < 0.0 {
                    End::Left
                } else {
                    End::Right
                })
            }
            _ => None,
        })
    });
    match shot {
        Some(End::Left) => return -1.0,
        Some(End::Right) => return 1.0,
        None => {}
    }
    let (from, to) = (s.frame_at((d.from_s + d.to_s) / 2.0), s.frame_at(d.to_s));
    let step = (s.rate_hz / 5.0).ceil() as usize;
    let (mut sum, mut n) = (0.0, 0.0);
    for f in (from..=to).step_by(step) {
        for i in s.roster(d.team) {
            if let Some(k) = m.player(i, f) {
                sum += k.pos[0];
                n += 1.0;
            }
        }
    }
    if n == 0.0 {
        0.0
    } else {
        (sum / n / 5.0_f64).clamp(-1.0, 1.0)
    }
}

/// A possession shorter than this after crossing the middle is played on the run, seconds.
const RUN_S: f64 = 4.0;

fn fill(m: &Motion, d: &Draft, end: End) -> Possession {
    let attackers = on_floor(m, d, |t| t == d.team);
    let defenders = on_floor(m, d, |t| t != d.team);
    let set_s = set_from(m, d, end, &attackers);
    let pace = match set_s {
        None if attackers.is_empty() => Pace::Unknown,
        None => Pace::Transition,
        Some(t) if t > d.from_s + 0.5 && d.to_s - t < RUN_S => Pace::Transition,
        Some(_) => Pace::HalfCourt,
    };
    let points = match d.kind {
        OutcomeKind::Missed | OutcomeKind::Turnover => Some(0),
        _ => None,
    };
    Possession {
        number: 0,
        from_s: d.from_s,
        to_s: d.to_s,
        team: d.team,
        end,
        attackers,
        defenders,
        set_s,
        start: d.start,
        result: Outcome {
            kind: d.kind,
            points,
            source: Source::Inferred,
        },
        second_chances: d.second_chances,
        pace,
    }
}

/// Players of some teams whose place is known for most of the possession, at most five, those
/// seen longest first, then in order.
pub(crate) fn on_floor(m: &Motion, d: &Draft, team: impl Fn(usize) -> bool) -> Vec<PlayerIx> {
    let s = m.session;
    let half = s.court.measures();
    let (from, to) = (s.frame_at(d.from_s), s.frame_at(d.to_s));
    let step = ((s.rate_hz / 5.0).round() as usize).max(1);
    let mut seen: Vec<(usize, PlayerIx)> = (0..s.players.len())
        .filter(|i| team(s.players[*i].team))
        .map(|i| {
            let n = (from..=to)
                .step_by(step)
                .filter(|f| {
                    s.tracks[i].at(*f).is_some_and(|p| {
                        p.x.abs() < half.length / 2.0 + 1.5 && p.y.abs() < half.width / 2.0 + 1.5
                    })
                })
                .count();
            (n, i)
        })
        .filter(|(n, _)| 2 * n * step > to - from)
        .collect();
    seen.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(&b.1)));
    let mut out: Vec<PlayerIx> = seen.into_iter().take(5).map(|x| x.1).collect();
    out.sort_unstable();
    out
}

/// From when on all attackers stay in the front court until the end, or for at least a second.
fn set_from(m: &Motion, d: &Draft, end: End, attackers: &[PlayerIx]) -> Option<f64> {
    let s = m.session;
    let front = |f: usize| {
        attackers.iter().all(|i| {
            s.tracks[*i].at(f).is_none_or(|p| {
                p.to_attack(&s.court, end).x < s.court.measures().length / 2.0 + 0.2
            })
        })
    };
    if attackers.is_empty() {
        return None;
    }
    let (from, to) = (s.frame_at(d.from_s), s.frame_at(d.to_s));
    let need = (s.rate_hz as usize).min(to - from);
    let mut since = None;
    for f in from..=to {
        if !front(f) {
            since = None;
        } else {
            let a = *since.get_or_insert(f);
            if f - a >= need {
                return Some(s.time(a));
            }
        }
    }
    since.map(|a| s.time(a))
}

fn lay_results(session: &Session, out: &mut [Possession], given: &[GivenResult], tolerance: f64) {
    let mut order: Vec<usize> = (0..given.len())
        .filter(|i| given[*i].time_s.is_finite())
        .collect();
    order.sort_by(|a, b| given[*a].time_s.total_cmp(&given[*b].time_s));
    let mut by_end: Vec<usize> = (0..out.len()).collect();
    by_end.sort_by(|a, b| out[*a].to_s.total_cmp(&out[*b].to_s));
    let ends: Vec<f64> = by_end.iter().map(|i| out[*i].to_s).collect();
    let times: Vec<f64> = order.iter().map(|i| given[*i].time_s).collect();
    let team = |j: usize| {
        let id = &given[order[j]].team;
        session
            .teams
            .iter()
            .position(|t| t.id == *id || t.name == *id)
    };
    let teams: Vec<Option<usize>> = (0..order.len()).map(team).collect();
    let (pairs, _) = align(
        &ends,
        &times,
        |i, j| teams[j] == Some(out[by_end[i]].team),
        tolerance,
    );
    for (i, j) in pairs {
        let g = &given[order[j]];
        out[by_end[i]].result = Outcome {
            kind: g.kind,
            points: g.points,
            source: Source::Given,
        };
    }
}

//! From runs of the decoded chain to touches, and how the ball went from one to the next.

use crate::control::{Ctl, Run, gap};
use crate::flight::{Bounds, Fit, Hand, Pace, fit};
use crate::motion::{Motion, dist};
use crate::params::ValidParams;
use crate::shots::{self, Shot};

/// A player's control of the ball, frames (fractions after refinement).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Touch {
    pub player: usize,
    pub from: f64,
    pub to: f64,
}

/// How control ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum After {
    /// Through the air to a team-mate.
    Pass(Fit),
    /// From hand to hand.
    HandOff { frame: f64, apart: f64 },
    /// To the ring.
    Shot(Shot),
    /// Over a line of the floor; the frame of crossing.
    Out(f64),
    /// To an opponent.
    Lost(Option<Fit>),
    /// Nothing known to follow: dead ball, or the tracks end.
    Stops,
}

/// Spread per axis of the ball about the body that holds it, metres.
pub(crate) const HAND_SPREAD: f64 = 0.45;
/// Same player again after less than this, without the ball going further than
/// [`REGAIN_M`]: one touch, seconds.
const REGAIN_S: f64 = 0.6;
const REGAIN_M: f64 = 1.8;
/// A touch shorter than this between two moments in the air is a ball flying by, seconds.
const GLANCE_S: f64 = 0.12;
/// Nothing is thrown this fast, m/s: the ball was carried off or handed over unseen.
const IMPOSSIBLE: f64 = 25.0;
/// A longer touch is no ball flying by, seconds.
const FLY_BY_S: f64 = 0.5;
/// Longest time in the air of a pass or shot, seconds: a lob over the length of the floor.
pub(crate) const LONGEST_S: f64 = 3.0;
/// Time about a rough change of control within which the fine one is sought, seconds.
const SEEK_S: f64 = 0.45;
/// A longer touch is nobody standing by, seconds.
const SHADOW_S: f64 = 4.0;
/// Most touches taken for shadows in a row.
const SHADOWS: usize = 4;
/// Share of such a touch during which the ball is in the others' reach.
const SHADOW_SHARE: f64 = 0.75;
/// Their reach, metres: a dribble at arm's length.
const STAND_BY_M: f64 = 1.05;
/// Longest time that giver and taker of a hand-off stand together before the ball changes hands,
/// seconds.
const MEET_S: f64 = 1.6;
/// Share of the greatest hand-off distance at which the ball is usually given.
const COMFORT: f64 = 0.7;
/// Time in the hands before and after that is looked at, seconds: longer ago the ball was held
/// otherwise.
const HANDS_S: f64 = 0.35;

/// Touches in order, and what followed each.
pub(crate) fn touches(m: &Motion, p: &ValidParams, runs: &[Run]) -> Vec<(Touch, After)> {
    let rough = drop_glances(m, p, drop_shadows(m, &merge(m, runs)));
    let mut out: Vec<(Touch, After)> = Vec::with_capacity(rough.len());
    let mut next_from = rough.first().map_or(0.0, |t| t.from);
    for (i, &touch) in rough.iter().enumerate() {
        let mut touch = Touch {
            from: next_from,
            ..touch
        };
        let next = rough.get(i + 1).copied();
        let after = link(m, p, touch, next, runs);
        next_from = next.map_or(0.0, |n| n.from);
        match after {
            After::Pass(f) | After::Lost(Some(f)) => {
                touch.to = f.release;
                next_from = f.catch;
            }
            After::HandOff { frame, .. } => {
                touch.to = frame;
                next_from = frame;
            }
            After::Shot(s) => {
                touch.to = s.release;
                next_from = next.map_or(s.ring, |n| shots::rebound(m, &s, n));
            }
            After::Out(at) => touch.to = touch.to.min(at),
            After::Lost(None) | After::Stops => {}
        }
        touch.to = touch.to.max(touch.from);
        out.push((touch, after));
    }
    out
}

fn merge(m: &Motion, runs: &[Run]) -> Vec<Touch> {
    let rate = m.session.rate_hz;
    let mut out: Vec<Touch> = Vec::new();
    for (k, r) in runs.iter().enumerate() {
        let Ctl::Held(player) = r.ctl else { continue };
        let short = ((r.to - r.from) as f64) < GLANCE_S * rate;
        let air = |i: Option<&Run>| i.is_some_and(|r| matches!(r.ctl, Ctl::Air(_) | Ctl::Shot));
        if short && k > 0 && air(runs.get(k - 1)) && air(runs.get(k + 1)) {
            continue;
        }
        if let Some(last) = out.last_mut()
            && last.player == player
            && (r.from as f64 - last.to) < REGAIN_S * rate
            && (last.to as usize..r.from).all(|f| near(m, player, f))
        {
            last.to = r.to as f64;
            continue;
        }
        out.push(Touch {
            player,
            from: r.from as f64,
            to: r.to as f64 - 1.0,
        });
    }
    out
}

/// Takes out touches during which the ball never left the reach of the player before or the one
/// after, when both are of one team and it is not theirs, or are one player: somebody stood by,
/// and the sensors put the ball nearer to him.
fn drop_shadows(m: &Motion, all: &[Touch]) -> Vec<Touch> {
    let mut out: Vec<Touch> = Vec::with_capacity(all.len());
    let mut k = 0;
    while k < all.len() {
        let Some((a, j)) = out
            .last_mut()
            .and_then(|a| Some((*a, shadow(m, a, all, k)?)))
        else {
            out.push(all[k]);
            k += 1;
            continue;
        };
        let mut c = all[j];
        let (from, to) = (all[k].from, all[j - 1].to);
        k = j + 1;
        let last = out.len() - 1;
        if a.player == c.player {
            out[last].to = c.to;
            continue;
        }
        // The ball was with whichever of the two is nearer.
        let cut = (from as usize..=to as usize)
            .find(|f| reach(m, c.player, *f) < reach(m, a.player, *f))
            .map_or(to, |f| f as f64);
        out[last].to = a.to.max(cut - 1.0);
        c.from = cut.max(out[last].to + 1.0).min(c.from);
        out.push(c);
    }
    out
}

/// The touch that follows a run of shadows beginning at `k`, when there is such a run.
fn shadow(m: &Motion, a: &Touch, all: &[Touch], k: usize) -> Option<usize> {
    let rate = m.session.rate_hz;
    let team = |t: &Touch| m.session.players[t.player].team;
    for j in k + 1..all.len().min(k + 1 + SHADOWS) {
        let run = &all[k..j];
        if run[run.len() - 1].to - run[0].from > SHADOW_S * rate {
            return None;
        }
        let c = &all[j];
        let others = team(c) == team(a) && run.iter().all(|b| team(b) != team(a));
        if (others || c.player == a.player) && in_reach(m, a, run, c) >= SHADOW_SHARE {
            return Some(j);
        }
    }
    None
}

/// Share of the known frames of a run in which the ball is in reach of `a`'s or `c`'s player.
fn in_reach(m: &Motion, a: &Touch, run: &[Touch], c: &Touch) -> f64 {
    let limit = STAND_BY_M + 1.6 * m.ball_noise.hypot(m.player_error());
    let (mut near, mut all) = (0.0, 0.0);
    for b in run {
        for f in b.from as usize..=b.to as usize {
            let d = reach(m, a.player, f).min(reach(m, c.player, f));
            if d.is_finite() {
                all += 1.0;
                near += f64::from(u8::from(d < limit));
            }
        }
    }
    if all == 0.0 { 1.0 } else { near / all }
}

/// Distance of the ball from a player, metres; infinite where unknown.
fn reach(m: &Motion, player: usize, frame: usize) -> f64 {
    match (m.player(player, frame), m.ball(frame)) {
        (Some(k), Some(b)) => dist(k.pos, b.pos),
        _ => f64::INFINITY,
    }
}

/// Takes out touches during which the ball just flew by: one straight flight from the player
/// before to the player after explains it as well as two.
fn drop_glances(m: &Motion, p: &ValidParams, mut all: Vec<Touch>) -> Vec<Touch> {
    let rate = m.session.rate_hz;
    let mut k = 1;
    while k + 1 < all.len() {
        let (a, b, c) = (all[k - 1], all[k], all[k + 1]);
        let brief = b.to - b.from < FLY_BY_S * rate;
        let one_go = c.from - a.to < LONGEST_S * rate;
        if brief && one_go && a.player != c.player && straight(m, p, a, b, c) {
            all.remove(k);
            k = k.saturating_sub(1).max(1);
        } else {
            k += 1;
        }
    }
    all
}

fn straight(m: &Motion, p: &ValidParams, a: Touch, b: Touch, c: Touch) -> bool {
    let Some(whole) = between(m, p, a, c) else {
        return false;
    };
    let two = [between(m, p, a, b), between(m, p, b, c)]
        .into_iter()
        .flatten()
        .map(|f| f.rms)
        .fold(0.0, f64::max);
    whole.rms < 1.15 * two.max(m.ball_noise.hypot(0.1))
}

fn near(m: &Motion, player: usize, frame: usize) -> bool {
    match (m.player(player, frame), m.ball(frame)) {
        (Some(p), Some(b)) => dist(p.pos, b.pos) < REGAIN_M + m.ball_noise,
        _ => true,
    }
}

fn link(m: &Motion, p: &ValidParams, touch: Touch, next: Option<Touch>, runs: &[Run]) -> After {
    if let Some(s) = shots::shot(m, p, touch, next) {
        return After::Shot(s);
    }
    let rate = m.session.rate_hz;
    if let Some(at) = crosses(m, touch, next) {
        return After::Out(at);
    }
    let Some(next) = next else {
        return After::Stops;
    };
    if next.from - touch.to > LONGEST_S * rate || dead_between(runs, touch.to, next.from, rate) {
        return After::Stops;
    }
    let session = m.session;
    let mates = session.players[touch.player].team == session.players[next.player].team;
    if touch.player == next.player {
        return After::Stops;
    }
    let found = between(m, p, touch, next)
        .filter(|f| dist(f.left, f.came) < IMPOSSIBLE * ((f.catch - f.release) / rate + 0.05));
    if !mates {
        return After::Lost(found);
    }
    let Some(f) = found else {
        return After::Stops;
    };
    let middle = (f.release + f.catch) / 2.0;
    let apart = gap(m, touch.player, next.player, middle.round() as usize);
    match apart {
        Some(apart) if apart < p.hand_off_m => After::HandOff {
            frame: middle,
            apart,
        },
        _ => After::Pass(f),
    }
}

/// Since when two players have stood within reach of each other when they do at the rough change
/// of control (anywhere from then on the ball may have changed hands), and when they first came
/// as near as arms reach comfortably; frames.
fn met(m: &Motion, p: &ValidParams, a: Touch, b: Touch) -> Option<(f64, Option<f64>)> {
    let rate = m.session.rate_hz;
    let reach = p.hand_off_m + 0.2;
    let end = a.to.min(b.from) as usize;
    let start = (a.to - MEET_S * rate).max(a.from).max(0.0) as usize;
    let mut since = None;
    let mut near = None;
    for f in (start..=end).rev() {
        let d = gap(m, a.player, b.player, f)?;
        if d > reach {
            break;
        }
        if d < COMFORT * p.hand_off_m {
            near = Some(f as f64);
        }
        since = Some((f as f64, near));
    }
    since
}

/// Frame at which the ball, in nobody's hands, crosses a line outward and stays out.
fn crosses(m: &Motion, touch: Touch, next: Option<Touch>) -> Option<f64> {
    let rate = m.session.rate_hz;
    let half = m.session.court.measures();
    let beyond = |f: usize| {
        m.ball(f)
            .map(|k| (k.pos[0].abs() - half.length / 2.0).max(k.pos[1].abs() - half.width / 2.0))
    };
    let from = (touch.to - 0.2 * rate).max(touch.from).max(0.0) as usize;
    let to = next.map_or(touch.to + 2.0 * rate, |n| n.from.min(touch.to + 2.0 * rate)) as usize;
    let mut last_in: Option<(usize, f64)> = None;
    let mut out = 0.0;
    for f in from..=to.min(m.session.frames() - 1) {
        let Some(d) = beyond(f) else { continue };
        if d <= 0.0 {
            last_in = Some((f, d));
            out = 0.0;
            continue;
        }
        out += 1.0;
        if out >= (0.15 * rate).max(2.0)
            && d > 0.2 + m.ball_noise
            && let Some((g, before)) = last_in
        {
            let first = beyond(g + 1).unwrap_or(d);
            return Some(g as f64 + (-before / (first - before).max(1e-6)).clamp(0.0, 1.0));
        }
    }
    None
}

fn dead_between(runs: &[Run], from: f64, to: f64, rate: f64) -> bool {
    let dead: usize = runs
        .iter()
        .filter(|r| r.ctl == Ctl::Dead && (r.from as f64) < to && (r.to as f64) > from)
        .map(|r| r.to - r.from)
        .sum();
    dead as f64 > 0.8 * rate
}

pub(crate) fn between(m: &Motion, p: &ValidParams, a: Touch, b: Touch) -> Option<Fit> {
    let rate = m.session.rate_hz;
    let seek = SEEK_S * rate;
    let hands = HANDS_S * rate;
    let last = (m.session.frames() - 1) as f64;
    let reached = met(m, p, a, b);
    let met = reached.map_or(a.to, |r| r.0).min(a.to - seek);
    let release = (met.max(a.from), (a.to + seek).min(b.from.max(a.to)));
    let catch = (met.max(release.0), (b.from + seek).min(b.to).max(b.from));
    let data = (
        (release.0 - hands).max(a.from).floor().max(0.0) as usize,
        (catch.1 + hands).min(b.to.max(catch.1)).min(last).ceil() as usize,
    );
    fit(
        m,
        Hand::Player(a.player),
        Hand::Player(b.player),
        Bounds {
            release,
            catch,
            data,
            met: reached.and_then(|r| r.1),
        },
        HAND_SPREAD,
        Pace::Speed(p.pass_speed_mps),
    )
}

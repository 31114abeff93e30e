//! From runs of the decoded chain to touches, and how the ball went from one to the next.

use crate::control::{Ctl, Run, gap};
use crate::flight::{Bounds, Fit, Hand, fit};
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
/// A longer touch is no ball flying by, seconds.
const FLY_BY_S: f64 = 0.5;
/// Longest time in the air of a pass or shot, seconds: a lob over the length of the floor.
pub(crate) const LONGEST_S: f64 = 3.0;
/// Time about a rough change of control within which the fine one is sought, seconds.
const SEEK_S: f64 = 0.45;
/// Time in the hands before and after that is looked at, seconds: longer ago the ball was held
/// otherwise.
const HANDS_S: f64 = 0.35;

/// Touches in order, and what followed each.
pub(crate) fn touches(m: &Motion, p: &ValidParams, runs: &[Run]) -> Vec<(Touch, After)> {
    let rough = drop_glances(m, p, merge(m, runs));
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
                next_from = next.map_or(s.ring, |n| shots::rebound(m, p, &s, n));
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
        let air = |i: Option<&Run>| i.is_some_and(|r| matches!(r.ctl, Ctl::Air(_)));
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
    let found = between(m, p, touch, next);
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
    let release = (
        (a.to - seek).max(a.from),
        (a.to + seek).min(b.from.max(a.to)),
    );
    let catch = (
        (b.from - seek).max(a.to - seek).max(release.0),
        (b.from + seek).min(b.to).max(b.from),
    );
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
        },
        HAND_SPREAD,
        p.pass_speed_mps,
    )
}

//! From runs of the decoded chain to touches, and how the ball went from one to the next.

use crate::bodies::bridged;
use crate::course::Ctl;
use crate::decode::Run;
use crate::exchange::{self, Exchange, exchange};
use crate::flight::{Bounds, Fit, Hand, Pace, fit};
use crate::motion::{Motion, dist, gap};
use crate::params::ValidParams;
use crate::shots::{self, Shot};
use rayon::prelude::*;

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
/// Nobody who takes the ball out of another's hands has given it back sooner, seconds (common
/// practice).
const GIVEN_BACK_S: f64 = 1.0;
/// Who stands by is this near, metres; a pass and a return pass go further.
const BESIDE_M: f64 = 1.8;
/// Nobody who has just got hold of a free ball gives it away within this, seconds (common
/// practice), at once: within this.
const BRIEF_S: f64 = 0.3;
const AT_ONCE_S: f64 = 0.12;
/// Nothing is thrown this fast, m/s: the ball was carried off or handed over unseen.
const IMPOSSIBLE: f64 = 25.0;
/// Longest time in the air of a pass or shot, seconds: a lob over the length of the floor.
pub(crate) const LONGEST_S: f64 = 3.0;
/// Time about a rough change of control within which the fine one is sought, seconds.
const SEEK_S: f64 = 0.45;
/// Longest time that giver and taker of a hand-off stand together before the ball changes hands,
/// seconds.
const MEET_S: f64 = 1.6;
/// Share of the greatest hand-off distance up to which a ball that changed hands was not thrown.
const ARMS: f64 = 0.85;
/// Errors of a place by which they may be further apart where the change of hands is found, and
/// half way along a flight, whose times err more.
const AT_CHANGE: f64 = 1.0;
const ALONG: f64 = 3.0;
/// Who hands the ball over has had it for this long, seconds (common practice).
const HAD_S: f64 = 0.5;
/// Who is this near to a ring shoots rather than hands over, metres (common practice).
const BELOW_M: f64 = 1.6;
/// Share of the greatest hand-off distance at which the ball is usually given.
const COMFORT: f64 = 0.7;
/// Time in the hands before and after that is looked at, seconds: longer ago the ball was held
/// otherwise.
const HANDS_S: f64 = 0.35;

/// What ends a touch is looked for no further back than this, seconds: [`exchange`] looks back
/// furthest.
const LOOKS_BACK_S: f64 = 2.5;
/// A touch begins no later than this after the decoded one, seconds: a hand-off may be found so late.
const LATER_S: f64 = 1.0;
const _: () = assert!(exchange::LOOKS_BACK_S < LOOKS_BACK_S && exchange::AFTER_S < LATER_S);

/// Touches in order, and what followed each.
pub(crate) fn touches(m: &Motion, p: &ValidParams, runs: &[Run]) -> Vec<(Touch, After)> {
    touches_in(m, p, runs, LOOKS_BACK_S + LATER_S)
}

/// Chains of touches side by side: when a touch of some length began says nothing of what ended it.
fn touches_in(m: &Motion, p: &ValidParams, runs: &[Run], long_s: f64) -> Vec<(Touch, After)> {
    let rough = settle(m, merge(m, runs));
    let long = long_s * m.session.rate_hz;
    let mut begin = 0;
    let mut chains = Vec::new();
    for chain in rough.chunk_by(|_, t| t.to - t.from < long) {
        chains.push(begin..begin + chain.len());
        begin += chain.len();
    }
    let done: Vec<Chain> = chains
        .into_par_iter()
        .map(|c| chain(m, p, &rough[c.clone()], rough.get(c.end).copied(), runs))
        .collect();
    let mut out = Vec::with_capacity(rough.len());
    let mut from = None;
    for mut c in done {
        if let (Some(from), Some((first, _))) = (from, c.links.first_mut()) {
            first.from = from;
            first.to = first.to.max(from);
        }
        from = Some(c.next_from);
        out.extend(c.links);
    }
    out
}

/// Touches in order with what followed each, and when the one after them began, frames.
struct Chain {
    links: Vec<(Touch, After)>,
    next_from: f64,
}

fn chain(m: &Motion, p: &ValidParams, rough: &[Touch], next: Option<Touch>, runs: &[Run]) -> Chain {
    let mut links = Vec::with_capacity(rough.len());
    let mut next_from = rough.first().map_or(0.0, |t| t.from);
    for (i, &touch) in rough.iter().enumerate() {
        let mut touch = Touch {
            from: next_from,
            ..touch
        };
        let next = rough.get(i + 1).copied().or(next);
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
                next_from = next.map_or(s.ring, |n| n.from.max(s.ring));
            }
            After::Out(at) => touch.to = touch.to.min(at),
            After::Lost(None) | After::Stops => {}
        }
        touch.to = touch.to.max(touch.from);
        links.push((touch, after));
    }
    Chain { links, next_from }
}

fn merge(m: &Motion, runs: &[Run]) -> Vec<Touch> {
    let rate = m.session.rate_hz;
    let mut out: Vec<Touch> = Vec::new();
    for r in runs {
        let Ctl::Held(player) = r.ctl else { continue };
        // From hand to hand and back at once: somebody stood by.
        if let [.., a, b] = out[..]
            && a.player == player
            && r.to - r.from > (0.1 * rate) as usize
            && r.from as f64 - a.to < GIVEN_BACK_S * rate
            && (a.to as usize..r.from)
                .all(|f| gap(m, player, b.player, f).is_none_or(|d| d < BESIDE_M))
        {
            out.pop();
            if let Some(a) = out.last_mut() {
                a.to = r.to as f64 - 1.0;
            }
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

/// Drops touches of a free ball that go to a team-mate beside at once: he had it from the start.
fn settle(m: &Motion, touches: Vec<Touch>) -> Vec<Touch> {
    let rate = m.session.rate_hz;
    let mut out: Vec<Touch> = Vec::with_capacity(touches.len());
    let mut from: Option<f64> = None;
    for (i, t) in touches.iter().enumerate() {
        let came = from.unwrap_or(t.from);
        let free = out.last().is_none_or(|l| t.from - l.to > AT_ONCE_S * rate);
        let passes_on = touches.get(i + 1).is_some_and(|n| {
            n.player != t.player
                && m.session.players[n.player].team == m.session.players[t.player].team
                && n.from - t.to < AT_ONCE_S * rate + 1.0
                && near_by(m, t.player, n.player, n.from as usize).is_some_and(|d| d < BESIDE_M)
        });
        if free && passes_on && t.to - came < BRIEF_S * rate {
            from = Some(came);
            continue;
        }
        from = None;
        out.push(Touch { from: came, ..*t });
    }
    out
}

fn near(m: &Motion, player: usize, frame: usize) -> bool {
    match (m.player(player, frame), m.ball(frame)) {
        (Some(p), Some(b)) => dist(p.pos, b.pos) < REGAIN_M + m.ball_noise,
        _ => true,
    }
}

fn link(m: &Motion, p: &ValidParams, touch: Touch, next: Option<Touch>, runs: &[Run]) -> After {
    let until = next.map_or(f64::INFINITY, |n| n.from);
    if let Some(s) = shots::shot(m, touch, until, runs) {
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
    match handed(m, p, touch, next, found.as_ref()) {
        Some(x) => After::HandOff {
            frame: x.frame,
            apart: x.apart,
        },
        None => found.map_or(After::Stops, After::Pass),
    }
}

/// The ball was given from hand to hand, not thrown: the two were within reach of each other when
/// it changed hands, and not clearly apart half way along the fitted flight, if one can be fitted.
fn handed(
    m: &Motion,
    p: &ValidParams,
    touch: Touch,
    next: Touch,
    flight: Option<&Fit>,
) -> Option<Exchange> {
    let within = |apart: f64, errors: f64| apart < ARMS * p.hand_off_m + errors * m.player_error();
    if let Some(f) = flight {
        let middle = ((f.release + f.catch) / 2.0).round() as usize;
        if !near_by(m, touch.player, next.player, middle).is_some_and(|d| within(d, ALONG)) {
            return None;
        }
    }
    exchange(m, p, touch, next).filter(|x| {
        within(x.apart, AT_CHANGE)
            && x.frame - touch.from >= HAD_S * m.session.rate_hz
            && !below_ring(m, touch.player, x.frame.round() as usize)
    })
}

/// Where heights are unknown, a ball that goes from one player to the next below a ring was more
/// likely shot and rebounded.
fn below_ring(m: &Motion, player: usize, frame: usize) -> bool {
    !m.sees_height()
        && bridged(m, player, frame.min(m.session.frames() - 1))
            .is_some_and(|k| shots::nearest_ring(m, k.pos).1 < BELOW_M)
}

/// Distance of two players, holes bridged.
fn near_by(m: &Motion, a: usize, b: usize, frame: usize) -> Option<f64> {
    let frame = frame.min(m.session.frames() - 1);
    Some(dist(bridged(m, a, frame)?.pos, bridged(m, b, frame)?.pos))
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
        let d = near_by(m, a.player, b.player, f)?;
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::game;
    use setdrift_simulate::SensorModel;

    #[test]
    fn chains_side_by_side_are_as_one() {
        for sensor in [SensorModel::optical(), SensorModel::radio_10()] {
            let s = game(&sensor, 9, 12);
            let (m, params) = (Motion::new(&s), ValidParams::default());
            let runs = crate::relay::decode(&m, &params);
            let one = touches_in(&m, &params, &runs, f64::INFINITY);
            assert!(one.len() > 50, "{}", one.len());
            // As text, since a shot whose ball is not seen misses by an unknown distance.
            let told = |links| format!("{links:?}");
            assert_eq!(told(touches(&m, &params, &runs)), told(one));
        }
    }
}

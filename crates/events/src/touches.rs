//! From runs of the decoded chain to touches, and how the ball went from one to the next.

use crate::control::{Ctl, Run, gap};
use crate::flight::{Bounds, Fit, Hand, fit};
use crate::motion::{Motion, dist};
use crate::params::ValidParams;
use setdrift_court::End;

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
    /// To an opponent.
    Lost(Option<Fit>),
    /// Nothing known to follow: dead ball, or the tracks end.
    Stops,
}

/// A shot at a ring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Shot {
    pub release: f64,
    pub ring: f64,
    pub end: End,
    /// Least distance of the ball from the ring's centre seen from above, metres.
    pub miss: f64,
    /// Greatest height seen, metres.
    pub peak: Option<f64>,
}

/// Same player again after less than this, without the ball going further than
/// [`REGAIN_M`]: one touch, seconds.
const REGAIN_S: f64 = 0.6;
const REGAIN_M: f64 = 1.8;
/// A touch shorter than this between two moments in the air is a ball flying by, seconds.
const GLANCE_S: f64 = 0.12;
/// Longest time in the air of a pass or shot, seconds: a lob over the length of the floor.
const LONGEST_S: f64 = 3.0;
/// Time about a rough change of control within which the fine one is sought, seconds.
const SEEK_S: f64 = 0.6;

/// Touches in order, and what followed each.
pub(crate) fn touches(m: &Motion, p: &ValidParams, runs: &[Run]) -> Vec<(Touch, After)> {
    let rough = merge(m, runs);
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
                next_from = next_from.max(s.ring);
            }
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

fn near(m: &Motion, player: usize, frame: usize) -> bool {
    match (m.player(player, frame), m.ball(frame)) {
        (Some(p), Some(b)) => dist(p.pos, b.pos) < REGAIN_M + m.ball_noise,
        _ => true,
    }
}

fn link(m: &Motion, p: &ValidParams, touch: Touch, next: Option<Touch>, runs: &[Run]) -> After {
    if let Some(s) = shot(m, p, touch, next) {
        return After::Shot(s);
    }
    let Some(next) = next else {
        return After::Stops;
    };
    let rate = m.session.rate_hz;
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

fn dead_between(runs: &[Run], from: f64, to: f64, rate: f64) -> bool {
    let dead: usize = runs
        .iter()
        .filter(|r| r.ctl == Ctl::Dead && (r.from as f64) < to && (r.to as f64) > from)
        .map(|r| r.to - r.from)
        .sum();
    dead as f64 > 0.8 * rate
}

fn between(m: &Motion, p: &ValidParams, a: Touch, b: Touch) -> Option<Fit> {
    let rate = m.session.rate_hz;
    let seek = SEEK_S * rate;
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
        (release.0 - seek).max(a.from).floor().max(0.0) as usize,
        (catch.1 + seek).min(b.to.max(catch.1)).min(last).ceil() as usize,
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
        p.hold_spread_m,
        p.pass_speed_mps,
    )
}

/// Ring centre of an end in the court frame.
pub(crate) fn ring(m: &Motion, end: End) -> [f64; 2] {
    let r = m.session.court.ring().to_court(&m.session.court, end);
    [r.x, r.y]
}

fn shot(m: &Motion, p: &ValidParams, touch: Touch, next: Option<Touch>) -> Option<Shot> {
    let rate = m.session.rate_hz;
    let frames = m.session.frames();
    // A lay-up may look held up to the ring, so look into the touch's end too.
    let from = (touch.to - 1.2 * rate).max(touch.from).max(0.0) as usize;
    let stop = next.map_or(touch.to + LONGEST_S * rate, |n| {
        n.from.min(touch.to + LONGEST_S * rate)
    });
    let to = ((stop + 0.2 * rate) as usize).min(frames - 1);
    let mut best: Option<(f64, usize, End)> = None;
    let mut peak: Option<f64> = None;
    for f in from..=to {
        if let Some(z) = m.ball_height(f) {
            peak = Some(peak.map_or(z, |v: f64| v.max(z)));
        }
        let Some(b) = m.ball(f) else { continue };
        for end in [End::Left, End::Right] {
            let d = dist(b.pos, ring(m, end));
            if best.is_none_or(|(v, ..)| d < v) {
                best = Some((d, f, end));
            }
        }
    }
    let (miss, at, end) = best?;
    let near = miss < 0.5 + 1.2 * m.ball_noise;
    let opponents = next
        .is_some_and(|n| m.session.players[n.player].team != m.session.players[touch.player].team);
    let lag = next.map_or(f64::INFINITY, |n| (n.from - touch.to) / rate);
    let taker_far = next.is_none_or(|n| {
        m.player(n.player, at)
            .is_none_or(|k| dist(k.pos, ring(m, end)) > 1.4)
    });
    let is_shot = match peak {
        Some(z) => z > 2.7 && miss < 1.2 + m.ball_noise,
        None => near && (opponents || taker_far || lag > 1.2),
    };
    if !is_shot {
        return None;
    }
    let seek = SEEK_S * rate;
    let at = at as f64;
    let release = (
        (touch.to - 1.2 * rate).max(touch.from).min(at),
        (touch.to + seek).min(at),
    );
    let ring_at = (
        (at - seek).max(release.0),
        (at + 0.3 * rate).min((frames - 1) as f64),
    );
    let found = fit(
        m,
        Hand::Player(touch.player),
        Hand::Place(ring(m, end)),
        Bounds {
            release,
            catch: ring_at,
            data: (
                (release.0 - seek).max(touch.from).max(0.0) as usize,
                (ring_at.1).min(at + 0.2 * rate).max(release.1) as usize,
            ),
        },
        p.hold_spread_m,
        0.6 * p.pass_speed_mps,
    );
    let (release, ring) = found.map_or((touch.to.min(at), at), |f| (f.release, f.catch));
    Some(Shot {
        release,
        ring,
        end,
        miss,
        peak,
    })
}

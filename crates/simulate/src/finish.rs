//! How a possession ends: shots, rebounds, lost balls.

use crate::ball::{Arc, Ball, Hold};
use crate::sim::{Guard, Sim};
use crate::tasks::{Act, Start, Step, StepEnd, Task, go};
use crate::truth::{Did, Span, TrueRebound, TrueShot};
use crate::vec2::{V2, v2};
use setdrift_court::{AttackPoint, Zone};

/// How a possession ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Ended {
    Made {
        points: u32,
        at: f64,
    },
    /// Opponents have the rebound.
    Missed {
        at: f64,
    },
    Stolen {
        at: f64,
    },
    Out {
        at: f64,
    },
    Stopped {
        at: f64,
    },
}

impl Ended {
    pub(crate) fn at(self) -> f64 {
        match self {
            Self::Made { at, .. }
            | Self::Missed { at }
            | Self::Stolen { at }
            | Self::Out { at }
            | Self::Stopped { at } => at,
        }
    }

    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Made { .. } => "made",
            Self::Missed { .. } => "missed",
            Self::Stolen { .. } | Self::Out { .. } => "turnover",
            Self::Stopped { .. } => "stopped",
        }
    }

    pub(crate) fn points(self) -> u32 {
        match self {
            Self::Made { points, .. } => points,
            _ => 0,
        }
    }
}

/// What a shot led to.
pub(crate) enum Shot {
    Ended(Ended),
    /// The offence has the rebound.
    Again(usize),
}

fn tick_for(sim: &mut Sim<'_>, until: f64) {
    while sim.now() < until - 1e-9 {
        sim.tick();
    }
}

/// A shot by the player with the ball, its flight, and who gets it.
pub(crate) fn shoot(sim: &mut Sim<'_>, player: usize) -> Shot {
    sim.body_mut(player).stand();
    if matches!(sim.ball.hold, Hold::Dribbled { .. }) {
        sim.give(player);
    }
    let gather = sim.rng.range(0.3, 0.55);
    let from = sim.now();
    while sim.now() < from + gather {
        sim.ball.lift = 0.95 * ((sim.now() - from) / gather);
        sim.tick();
    }
    let ring = sim.ring();
    let at = sim.to_attack(sim.pos(player));
    let far = sim.pos(player).dist(ring);
    let start = sim.now();
    let flight = ((0.45 + 0.075 * far) * 100.0).round() / 100.0;
    sim.ball.fly(
        ring,
        sim.court.measures().ring_height,
        start,
        start + flight,
        Arc::Shot,
    );
    sim.ball.lift = 0.0;
    let behind = Zone::BehindArc.contains(sim.court, AttackPoint::new(at.x, at.y));
    let worth = if behind { 3 } else { 2 };
    let (near, deep) = sim.set.ball.made;
    let share = (far / 7.0).min(1.0);
    let made = sim.rng.chance(near + (deep - near) * share);
    let ring_s = start + flight;
    sim.truth.shots.push(TrueShot {
        player,
        release_s: start,
        ring_s,
        worth,
        made,
    });
    crash(sim, player);
    tick_for(sim, ring_s);
    if made {
        let floor = ring + v2(sim.rng.range(-0.3, 0.3), sim.rng.range(-0.3, 0.3));
        let t = sim.now();
        sim.ball.fly(floor, 0.12, t, t + 0.75, Arc::Drop);
        return Shot::Ended(Ended::Made {
            points: worth,
            at: ring_s,
        });
    }
    rebound(sim, player)
}

/// Some go to the basket while the shot is in the air.
fn crash(sim: &mut Sim<'_>, shooter: usize) {
    for team in [sim.offence, 1 - sim.offence] {
        let mut five = sim.five(team);
        let ring = sim.ring();
        five.sort_by(|a, b| sim.pos(*a).dist(ring).total_cmp(&sim.pos(*b).dist(ring)));
        let many = if team == sim.offence { 2 } else { 3 };
        for p in five.into_iter().filter(|p| *p != shooter).take(many) {
            let here = sim.to_attack(sim.pos(p));
            let c = sim.court.ring();
            let d = here - v2(c.x, c.y);
            let to = v2(c.x, c.y) + d.unit() * sim.rng.range(1.3, 2.4);
            let to = sim.to_court(v2(to.x.max(0.6), to.y));
            if sim.pos(p).dist(to) > 0.6 && team == sim.offence {
                go(sim, p, vec![to], 1.2);
            }
        }
    }
}

fn rebound(sim: &mut Sim<'_>, shooter: usize) -> Shot {
    let c = sim.court.ring();
    let out = sim.rng.range(1.0, 3.4);
    // Long shots come off long, mostly to the front.
    let dir = v2(sim.rng.range(-0.25, 1.0), sim.rng.range(-1.0, 1.0)).unit();
    let spot = v2(c.x, c.y) + dir * out;
    let spot = sim.to_court(v2(spot.x.max(0.5), spot.y));
    let theirs = sim.five(1 - sim.offence);
    let ours = theirs.is_empty() || sim.rng.chance(sim.set.ball.offensive_rebound);
    let team = if ours { sim.offence } else { 1 - sim.offence };
    let five = sim.five(team);
    let who = five
        .into_iter()
        .filter(|p| *p != shooter || sim.five(team).len() == 1)
        .min_by(|a, b| sim.pos(*a).dist(spot).total_cmp(&sim.pos(*b).dist(spot)))
        .unwrap_or(shooter);
    // The defender who goes for the ball does not guard meanwhile.
    let man = sim.man.clone();
    sim.man.retain(|(d, _)| *d != who);
    let need = (sim.pos(who).dist(spot) - 0.4).max(0.0) / 4.5 + 0.35;
    let air = (need.clamp(0.6, 1.3) * 100.0).round() / 100.0;
    let t = sim.now();
    sim.ball.fly(spot, 2.2, t, t + air, Arc::Carom);
    go(sim, who, vec![spot], need * 0.9);
    tick_for(sim, t + air);
    // Too far to be caught in the air: it drops and is picked up from the floor.
    if sim.pos(who).dist(spot) > 1.1 {
        let t = sim.now();
        sim.ball.fly(spot, 0.15, t, t + 0.5, Arc::Drop);
        while sim.pos(who).dist(sim.ball.pos) > 0.6 && sim.now() < t + 4.0 {
            if sim.body(who).remaining() < 0.1 {
                go(sim, who, vec![spot], 0.6);
            }
            if sim.now() > t + 0.5 {
                sim.ball.hold = Hold::Loose;
            }
            sim.tick();
        }
    }
    sim.give(who);
    sim.man = man;
    let at = sim.now();
    sim.truth.rebounds.push(TrueRebound {
        player: who,
        time_s: at,
        offensive: ours,
    });
    if ours {
        Shot::Again(who)
    } else {
        Shot::Ended(Ended::Missed { at })
    }
}

/// Ends a possession from whatever was run: a shot at once, or a drive or pass and a shot.
pub(crate) fn finish(sim: &mut Sim<'_>, possession: usize) -> Shot {
    let from_s = sim.now();
    let shot = finish_inner(sim);
    sim.clear_screens();
    let to_s = match &shot {
        Shot::Ended(e) => e.at(),
        Shot::Again(_) => sim.now(),
    };
    if to_s > from_s && sim.offence == 0 {
        sim.truth.spans.push(Span {
            from_s,
            to_s,
            possession,
            what: Did::Finish,
        });
    }
    shot
}

fn finish_inner(sim: &mut Sim<'_>) -> Shot {
    let Some(h) = sim.ball.holder() else {
        return Shot::Ended(Ended::Stopped { at: sim.now() });
    };
    if sim.guard != Guard::Off && sim.rng.chance(0.05) {
        return Shot::Ended(throw_away(sim, h));
    }
    let far = sim.pos(h).dist(sim.ring());
    let can_dribble = sim.picked_up != Some(h);
    let drive = far > 3.0 && can_dribble && sim.rng.chance(if far > 7.6 { 0.85 } else { 0.5 });
    if drive {
        let here = sim.to_attack(sim.pos(h));
        let c = sim.court.ring();
        let stop = sim.rng.range(1.0, 4.2);
        let to = v2(c.x, c.y) + (here - v2(c.x, c.y)).unit() * stop;
        let bend = (here - v2(c.x, c.y)).left() * sim.rng.range(-0.18, 0.18);
        let mid = here.lerp(to, 0.5) + bend;
        let path: Vec<V2> = [mid, to].map(|p| sim.to_court(p)).to_vec();
        let way = far - stop;
        let act = Act::Dribble {
            path,
            secs: (way / 3.6).max(0.7),
        };
        let mut step = Step {
            tasks: vec![Task::new(h, act, Start::At(sim.rng.range(0.1, 0.5)))],
            secs: way / 3.6,
            from_s: 0.0,
        };
        if let StepEnd::Stolen(_) = step.play(sim, None) {
            return Shot::Ended(Ended::Stolen { at: sim.now() });
        }
        shoot(sim, h)
    } else if far > 8.0 && !can_dribble {
        // Nothing on from there: to the nearest for a shot.
        let mates: Vec<usize> = sim
            .five(sim.offence)
            .into_iter()
            .filter(|p| *p != h)
            .collect();
        let ring = sim.ring();
        let to = mates
            .into_iter()
            .min_by(|a, b| {
                let d = |p: usize| (sim.pos(p).dist(ring) - 5.5).abs();
                d(*a).total_cmp(&d(*b))
            })
            .unwrap_or(h);
        if to == h {
            return shoot(sim, h);
        }
        sim.start_pass(h, to, None, false);
        while sim.passing() {
            sim.tick();
        }
        shoot(sim, to)
    } else {
        shoot(sim, h)
    }
}

/// A pass that nobody gets.
fn throw_away(sim: &mut Sim<'_>, h: usize) -> Ended {
    sim.run_for(0.4);
    let m = sim.court.measures();
    let here = sim.pos(h);
    let side = if here.y < 0.0 { -1.0 } else { 1.0 };
    let out = v2(
        here.x + sim.rng.range(-3.0, 3.0),
        side * (m.width / 2.0 + 0.9),
    );
    let t = sim.now();
    let air = ((here.dist(out) / 8.0).max(0.3) * 100.0).round() / 100.0;
    sim.ball.fly(out, 0.4, t, t + air, Arc::Chest);
    // Dead where it crosses the line.
    let inside = (m.width / 2.0 - here.y.abs()) / (out.y.abs() - here.y.abs()).max(0.1);
    tick_for(sim, t + air);
    sim.ball.hold = Hold::Loose;
    Ended::Out {
        at: t + air * inside.clamp(0.0, 1.0),
    }
}

/// Brings the ball back into play by a pass from out of bounds. Returns who has it.
pub(crate) fn inbound(sim: &mut Sim<'_>, at: V2, wait: f64) -> usize {
    let dead_from = sim.now();
    let mut five = sim.five(sim.offence);
    five.sort_by(|a, b| sim.pos(*a).dist(at).total_cmp(&sim.pos(*b).dist(at)));
    let (thrower, rest) = (five[0], five[1..].to_vec());
    go(sim, thrower, vec![at], 1.6);
    // One comes to meet the ball, the others go ahead.
    let taker = rest[0];
    let inward = v2(-at.x * 0.35, -at.y * 0.5);
    let meet = at + inward.unit() * sim.rng.range(3.0, 5.0);
    go(sim, taker, vec![meet], 1.8);
    for p in &rest[1..] {
        let up = v2(sim.rng.range(6.0, 11.0), sim.rng.range(-5.5, 5.5));
        let up = sim.to_court(up);
        let here = sim.pos(*p);
        go(sim, *p, vec![here.lerp(up, 0.5)], 2.5);
    }
    let t0 = sim.now();
    while sim.now() < t0 + wait || sim.body(thrower).remaining() > 0.3 {
        if sim.now() > t0 + wait + 5.0 {
            break;
        }
        if sim.ball.holder().is_none() && sim.pos(thrower).dist(sim.ball.pos) < 0.8 {
            sim.give(thrower);
        }
        sim.tick();
    }
    if sim.ball.holder() != Some(thrower) {
        // The official hands him the ball.
        let (p, z) = (sim.pos(thrower), 1.1);
        sim.ball.take(Hold::Held { by: thrower }, (p, z));
    }
    sim.run_for(0.5);
    sim.truth.dead.push((dead_from, sim.now()));
    sim.start_pass(thrower, taker, None, true);
    while sim.passing() {
        sim.tick();
    }
    sim.body_mut(thrower).stand();
    taker
}

/// Drops the ball where it is; used when play stops.
pub(crate) fn lay_down(sim: &mut Sim<'_>) {
    let ball: &mut Ball = &mut sim.ball;
    if ball.holder().is_none() {
        ball.hold = Hold::Loose;
    }
}

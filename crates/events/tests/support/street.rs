//! A small world of people and a ball, made apart from the project's own simulator so that the
//! methods are not fitted to one: nobody runs a play, actions come at random, and the bodies,
//! hands, passes and sensors follow other equations.
#![allow(clippy::needless_range_loop)]

use setdrift_court::{Court, CourtPoint, End};
use setdrift_tracks::{EndSpan, Known, Player, Session, SessionKind, SessionParts, Team, Track};

/// What may be varied.
#[derive(Debug, Clone, Copy)]
pub struct Style {
    pub per_side: usize,
    pub accel: f64,
    pub top: f64,
    pub hold_m: f64,
    pub dribble_m: f64,
    pub pass_speed: (f64, f64),
    /// Defender's gap to the holder, metres.
    pub gap_m: f64,
    pub delay_s: f64,
    pub rate_hz: f64,
    pub noise_m: f64,
    /// Time constant of the noise, seconds; 0 for white.
    pub colour_s: f64,
    pub lost: f64,
    pub burst_s: f64,
    pub height: bool,
    pub ends_given: bool,
}

impl Style {
    pub fn optical() -> Self {
        Self {
            per_side: 5,
            accel: 4.5,
            top: 6.5,
            hold_m: 0.4,
            dribble_m: 0.6,
            pass_speed: (7.0, 13.0),
            gap_m: 1.1,
            delay_s: 0.25,
            rate_hz: 25.0,
            noise_m: 0.10,
            colour_s: 0.0,
            lost: 0.0,
            burst_s: 0.2,
            height: true,
            ends_given: true,
        }
    }

    pub fn radio_20() -> Self {
        Self {
            rate_hz: 20.0,
            noise_m: 0.25,
            lost: 0.03,
            ..Self::optical()
        }
    }

    pub fn radio_10() -> Self {
        Self {
            rate_hz: 10.0,
            noise_m: 0.35,
            lost: 0.08,
            height: false,
            ..Self::optical()
        }
    }
}

/// Two bodies this near have the ball between them in reach of both, metres: two bent arms
/// (common practice), less than the product's own limit of a hand-off.
pub const REACH_M: f64 = 1.2;

/// What truly happened, in the terms the score needs.
#[derive(Debug, Clone, Default)]
pub struct Facts {
    /// From, to, release, catch.
    pub passes: Vec<(usize, usize, f64, f64)>,
    /// Of these, whether giver and taker stood within [`REACH_M`] at the release: told
    /// as a hand-off, it is told right.
    pub within_reach: Vec<bool>,
    /// Giver, taker, time.
    pub hand_offs: Vec<(usize, usize, f64)>,
    /// Screener, user, time of contact.
    pub screens: Vec<(usize, usize, f64)>,
    /// Screener and when it came to a stand, of each of these.
    pub stood: Vec<(usize, f64)>,
    /// Contacts that may be told as screens or not.
    pub perhaps: Vec<(usize, usize, f64)>,
    /// Team, from, to.
    pub possessions: Vec<(usize, f64, f64)>,
    /// Shooter, release, ring.
    pub shots: Vec<(usize, f64, f64)>,
    /// Taker, time.
    pub rebounds: Vec<(usize, f64)>,
    /// Dribbler, start: the ball is put on the floor, or a dribbler on the spot sets out.
    pub dribbles: Vec<(usize, f64)>,
}

pub struct Rng(u64);

impl Rng {
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }
    pub fn unit(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
    pub fn between(&mut self, a: f64, b: f64) -> f64 {
        a + (b - a) * self.unit()
    }
    pub fn pick(&mut self, n: usize) -> usize {
        (self.unit() * n as f64) as usize % n
    }
    pub fn normal(&mut self) -> f64 {
        let (u, v) = (self.unit().max(1e-12), self.unit());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }
}

type V = [f64; 2];
fn add(a: V, b: V) -> V {
    [a[0] + b[0], a[1] + b[1]]
}
fn sub(a: V, b: V) -> V {
    [a[0] - b[0], a[1] - b[1]]
}
fn mul(a: V, k: f64) -> V {
    [a[0] * k, a[1] * k]
}
fn len(a: V) -> f64 {
    a[0].hypot(a[1])
}
fn unit(a: V) -> V {
    mul(a, 1.0 / len(a).max(1e-9))
}
fn clip(a: V, most: f64) -> V {
    let l = len(a);
    if l > most { mul(a, most / l) } else { a }
}

#[derive(Clone, Copy)]
enum Ball {
    Hand {
        by: usize,
        dribble: bool,
    },
    Air {
        from: V,
        to: V,
        t0: f64,
        t1: f64,
        z: (f64, f64),
        hop: bool,
    },
    Floor,
}

const DT: f64 = 0.01;

pub struct Street {
    style: Style,
    rng: Rng,
    t: f64,
    pos: Vec<V>,
    vel: Vec<V>,
    aim: Vec<V>,
    pace: Vec<f64>,
    past: Vec<Vec<V>>,
    ball: Ball,
    at: V,
    z: f64,
    /// Offset of the ball in the holder's hands, and where it is wanted.
    hand: V,
    reach: V,
    beat: f64,
    attack: usize,
    /// Screener for a moment: its defender stays off, and it does not wander.
    log: Vec<(Vec<V>, V, f64)>,
    pub facts: Facts,
    opponents: bool,
}

impl Street {
    pub fn new(style: Style, seed: u64, opponents: bool) -> Self {
        let n = style.per_side * if opponents { 2 } else { 1 };
        let mut rng = Rng::new(seed);
        let pos: Vec<V> = (0..n)
            .map(|_| [rng.between(-4.0, 4.0), rng.between(-6.0, 6.0)])
            .collect();
        Self {
            style,
            rng,
            t: 0.0,
            vel: vec![[0.0; 2]; n],
            aim: pos.clone(),
            pace: vec![4.0; n],
            past: Vec::new(),
            ball: Ball::Hand {
                by: 0,
                dribble: false,
            },
            at: pos[0],
            z: 1.1,
            hand: [0.0; 2],
            reach: [0.3, 0.0],
            beat: 0.0,
            attack: 0,
            log: Vec::new(),
            facts: Facts::default(),
            pos,
            opponents,
        }
    }

    fn k(&self) -> usize {
        self.style.per_side
    }
    fn team(&self, i: usize) -> usize {
        i / self.k()
    }
    fn ring_of(&self, team: usize) -> V {
        if team == 0 {
            [-12.425, 0.0]
        } else {
            [12.425, 0.0]
        }
    }
    fn ring(&self) -> V {
        self.ring_of(self.attack)
    }
    /// A place in the half attacked: depth from the end line, across.
    fn spot(&self, depth: f64, across: f64) -> V {
        let x = 14.0 - depth;
        if self.attack == 0 {
            [-x, across]
        } else {
            [x, across]
        }
    }
    fn mates(&self, i: usize) -> Vec<usize> {
        let t = self.team(i);
        (t * self.k()..(t + 1) * self.k())
            .filter(|j| *j != i)
            .collect()
    }
    fn rivals(&self, i: usize) -> Vec<usize> {
        if self.opponents {
            let t = 1 - self.team(i);
            (t * self.k()..(t + 1) * self.k()).collect()
        } else {
            vec![]
        }
    }
    fn guard(&self, i: usize) -> Option<usize> {
        self.opponents.then(|| (i + self.k()) % (2 * self.k()))
    }
    fn holder(&self) -> usize {
        match self.ball {
            Ball::Hand { by, .. } => by,
            _ => 0,
        }
    }
    fn nearest(&self, to: V, among: &[usize]) -> usize {
        *among
            .iter()
            .min_by(|a, b| len(sub(self.pos[**a], to)).total_cmp(&len(sub(self.pos[**b], to))))
            .unwrap()
    }

    fn step(&mut self) {
        let s = self.style;
        self.past.push(self.pos.clone());
        let back = self
            .past
            .len()
            .saturating_sub(1 + (s.delay_s / DT) as usize);
        let seen = self.past[back].clone();
        // Defenders stand between their player and the ring.
        if self.opponents {
            let holder = if let Ball::Hand { by, .. } = self.ball {
                Some(by)
            } else {
                None
            };
            let first = self.attack * self.k();
            for a in first..first + self.k() {
                let d = self.guard(a).unwrap();
                let gap = if holder == Some(a) {
                    s.gap_m
                } else {
                    s.gap_m + 0.6
                };
                let to_ring = unit(sub(self.ring(), seen[a]));
                self.aim[d] = add(
                    seen[a],
                    mul(to_ring, gap.min(len(sub(self.ring(), seen[a])))),
                );
                self.pace[d] = s.top;
            }
        }
        for i in 0..self.pos.len() {
            let want = clip(mul(sub(self.aim[i], self.pos[i]), 2.5), self.pace[i]);
            let mut force = clip(mul(sub(want, self.vel[i]), 5.0), s.accel);
            for j in 0..self.pos.len() {
                let d = sub(self.pos[i], self.pos[j]);
                let l = len(d);
                if i != j && l < 0.65 {
                    force = add(force, mul(unit(d), 30.0 * (0.65 - l)));
                }
            }
            self.vel[i] = add(self.vel[i], mul(force, DT));
            self.pos[i] = add(self.pos[i], mul(self.vel[i], DT));
        }
        self.t += DT;
        match self.ball {
            Ball::Hand { by, dribble } => {
                self.beat += DT / 0.55;
                self.hand = add(self.hand, mul(sub(self.reach, self.hand), DT / 0.08));
                let bounce = (self.beat.fract() * std::f64::consts::PI).sin();
                let forward = unit(add(
                    self.vel[by],
                    mul(unit(sub(self.ring(), self.pos[by])), 0.5),
                ));
                let side = [-forward[1], forward[0]];
                let (off, z) = if dribble {
                    let lean = add(mul(forward, 0.75), mul(side, 0.5 + 0.2 * bounce));
                    (mul(lean, s.dribble_m), 0.15 + 0.8 * bounce)
                } else {
                    (self.hand, 1.1 + 0.15 * (self.t * 2.1).sin())
                };
                let want = add(self.pos[by], off);
                self.at = add(self.at, mul(sub(want, self.at), 0.25));
                // The hand goes where the body goes.
                self.at = add(self.at, mul(self.vel[by], DT));
                self.z += (z - self.z) * 0.3;
            }
            Ball::Air {
                from,
                to,
                t0,
                t1,
                z,
                hop,
            } => {
                let f = ((self.t - t0) / (t1 - t0)).min(1.0);
                // Air slows the ball a little.
                let g = f * (1.06 - 0.06 * f);
                self.at = add(from, mul(sub(to, from), g));
                let flight = t1 - t0;
                self.z = if hop {
                    if f < 0.55 {
                        z.0 * (1.0 - f / 0.55)
                    } else {
                        z.1 * (f - 0.55) / 0.45
                    }
                    .max(0.12)
                } else {
                    z.0 + (z.1 - z.0) * f + 4.9 * flight * flight * f * (1.0 - f)
                };
            }
            Ball::Floor => self.z = (self.z - 3.0 * DT).max(0.12),
        }
        self.log.push((self.pos.clone(), self.at, self.z));
    }

    fn wait(&mut self, s: f64) {
        for _ in 0..(s / DT) as usize {
            self.step();
        }
    }

    fn fly(&mut self, to: V, seconds: f64, z_to: f64, hop: bool) {
        self.ball = Ball::Air {
            from: self.at,
            to,
            t0: self.t,
            t1: self.t + seconds,
            z: (self.z, z_to),
            hop,
        };
        self.wait(seconds);
    }

    fn take(&mut self, by: usize, dribble: bool) {
        self.hand = sub(self.at, self.pos[by]);
        let dir = self.rng.between(0.0, std::f64::consts::TAU);
        let ringward = unit(sub(self.ring_of(self.team(by)), self.pos[by]));
        let hold = self.style.hold_m;
        self.reach = add(
            mul(ringward, 0.7 * hold),
            mul([dir.cos(), dir.sin()], 0.5 * hold),
        );
        self.ball = Ball::Hand { by, dribble };
    }

    /// Pushes the ball and lets it fly to a player, led by his motion.
    /// Returns release, catch, and how far apart the two were at the release.
    fn throw(&mut self, to: usize) -> (f64, f64, f64) {
        let by = self.holder();
        if let Ball::Hand { dribble, .. } = &mut self.ball {
            *dribble = false;
        }
        let speed = self
            .rng
            .between(self.style.pass_speed.0, self.style.pass_speed.1);
        let line = unit(sub(self.pos[to], self.pos[by]));
        self.reach = mul(line, self.style.hold_m + 0.25);
        self.wait(0.16);
        let release = self.t;
        let apart = len(sub(self.pos[to], self.pos[by]));
        let mut seconds = len(sub(self.pos[to], self.at)) / speed;
        let mut target = self.pos[to];
        for _ in 0..4 {
            target = add(self.pos[to], mul(self.vel[to], 0.7 * seconds));
            target = sub(target, mul(unit(sub(target, self.at)), 0.4));
            seconds = (len(sub(target, self.at)) / speed).max(0.12);
        }
        let hop = self.rng.unit() < 0.25;
        target = [target[0].clamp(-13.4, 13.4), target[1].clamp(-7.0, 7.0)];
        seconds = (len(sub(target, self.at)) / speed).max(0.12);
        // The receiver comes to meet the ball.
        self.aim[to] = target;
        self.fly(target, seconds, 1.2, hop);
        (release, self.t, apart)
    }

    fn pass(&mut self, to: usize) {
        let from = self.holder();
        let (r, c, apart) = self.throw(to);
        self.take(to, false);
        self.facts.within_reach.push(apart < REACH_M);
        self.facts.passes.push((from, to, r, c));
    }

    fn dribble_to(&mut self, to: V, most_s: f64) {
        let by = self.holder();
        self.bounce(by);
        self.aim[by] = to;
        self.pace[by] = self.rng.between(3.0, 5.5);
        let until = self.t + most_s;
        while self.t < until && len(sub(self.pos[by], to)) > 0.5 {
            self.step();
        }
        self.aim[by] = self.pos[by];
        self.ball = Ball::Hand { by, dribble: false };
        self.hand = sub(self.at, self.pos[by]);
    }

    /// From now on the holder dribbles.
    fn bounce(&mut self, by: usize) {
        if !matches!(self.ball, Ball::Hand { dribble: true, .. }) {
            self.facts.dribbles.push((by, self.t));
        }
        self.ball = Ball::Hand { by, dribble: true };
    }

    fn hand_off(&mut self, to: usize) {
        let by = self.holder();
        self.pace[to] = self.rng.between(3.0, 5.0);
        let onward = self.random_spot();
        let until = self.t + 4.0;
        while self.t < until && len(sub(self.pos[to], self.pos[by])) > 0.95 {
            self.aim[to] = add(self.pos[by], mul(unit(sub(onward, self.pos[by])), 0.3));
            self.step();
        }
        if len(sub(self.pos[to], self.pos[by])) > 1.0 {
            return;
        }
        self.reach = mul(unit(sub(self.pos[to], self.pos[by])), 0.45);
        self.wait(0.08);
        self.facts.hand_offs.push((by, to, self.t));
        self.take(to, false);
        self.bounce(to);
        self.aim[to] = onward;
        self.wait(0.7);
        self.dribble_to(onward, 2.0);
    }

    fn random_spot(&mut self) -> V {
        let d = self.rng.between(2.0, 10.0);
        let a = self.rng.between(-6.5, 6.5);
        self.spot(d, a)
    }

    /// A team-mate stands in the way of the user's guard; the user runs past to a new place.
    fn screen(&mut self, by: usize, user: usize) {
        let onward = self.random_spot();
        let line = unit(sub(onward, self.pos[user]));
        let guard = self
            .guard(user)
            .map_or(add(self.pos[user], mul(line, 1.2)), |g| self.pos[g]);
        let side = [-line[1], line[0]];
        let flip = if self.rng.unit() < 0.5 { 1.0 } else { -1.0 };
        let place = add(add(guard, mul(line, 0.6)), mul(side, 0.35 * flip));
        self.aim[by] = place;
        self.pace[by] = 4.5;
        let until = self.t + 3.5;
        while self.t < until && len(sub(self.pos[by], place)) > 0.3 {
            self.step();
        }
        self.aim[by] = self.pos[by];
        let pause = self.rng.between(0.25, 0.7);
        let mut moving = self.t;
        for _ in 0..(pause / DT) as usize {
            self.step();
            if len(self.vel[by]) > 0.5 {
                moving = self.t;
            }
        }
        // Past the screener, shoulder to shoulder, then onward.
        let line = unit(sub(onward, self.pos[user]));
        let side = mul([-line[1], line[0]], -flip);
        let via = add(self.pos[by], mul(side, 0.7));
        self.pace[user] = self.rng.between(3.5, 5.5);
        let with_ball = self.holder() == user;
        if with_ball {
            self.bounce(user);
        }
        let start = self.t;
        let mut best = (f64::INFINITY, 0.0);
        let mut stood = moving;
        let mut aim = via;
        while self.t < start + 2.5 {
            let ahead = sub(via, self.pos[user]);
            if len(ahead) < 0.8 {
                aim = onward;
            }
            self.aim[user] = if aim == via {
                add(via, mul(unit(ahead), 1.5))
            } else {
                onward
            };
            let d = len(sub(self.pos[user], self.pos[by]));
            if len(self.vel[by]) > 0.5 {
                moving = self.t;
            }
            if d < best.0 {
                best = (d, self.t);
                stood = moving;
            }
            self.step();
            if aim == onward && self.t > best.1 + 0.6 {
                break;
            }
        }
        if with_ball {
            self.dribble_to(onward, 1.5);
        }
        if best.0 < 1.2 && best.1 < self.t - 0.4 && len(self.vel[by]) < 1.5 {
            self.facts.screens.push((by, user, best.1));
            self.facts.stood.push((by, stood));
        } else {
            self.facts.perhaps.push((by, user, best.1));
        }
        let away = self.random_spot();
        self.aim[by] = away;
        self.pace[by] = 4.0;
    }

    fn spread(&mut self, but: usize) {
        let spots = [
            (8.8, 0.0),
            (6.0, 5.5),
            (6.0, -5.5),
            (1.5, 6.8),
            (1.5, -6.8),
            (5.5, 2.4),
        ];
        let turn = self.rng.pick(6);
        for (k, i) in self.mates(but).into_iter().enumerate() {
            let (d, a) = spots[(k + turn) % 6];
            self.aim[i] = self.spot(d, a);
            self.pace[i] = self.rng.between(3.5, 6.0);
        }
    }

    fn action(&mut self) {
        let by = self.holder();
        let mates = self.mates(by);
        // Nobody throws the length of the floor or into the next player's belly.
        let reach: Vec<usize> = mates
            .iter()
            .copied()
            .filter(|m| {
                let d = len(sub(self.pos[*m], self.pos[by]));
                d > 2.2 && d < 11.0
            })
            .collect();
        let other = if reach.is_empty() {
            mates[self.rng.pick(mates.len())]
        } else {
            reach[self.rng.pick(reach.len())]
        };
        let pause = self.rng.between(0.25, 1.3);
        self.wait(pause);
        match self.rng.pick(10) {
            0..=3 if !reach.is_empty() => self.pass(other),
            4 => {
                let to = self.random_spot();
                self.dribble_to(to, 2.5);
            }
            5 => self.hand_off(other),
            6 => self.screen(other, by),
            0..=3 => {}
            7 if mates.len() > 1 => {
                let user =
                    mates[(mates.iter().position(|m| *m == other).unwrap() + 1) % mates.len()];
                self.screen(other, user);
            }
            _ => {
                // A team-mate cuts somewhere and the ball waits.
                self.aim[other] = self.random_spot();
                self.pace[other] = self.rng.between(2.5, 6.0);
                self.wait(0.5);
            }
        }
    }

    /// Shoots; true when it goes in.
    fn shoot(&mut self) -> bool {
        let by = self.holder();
        if self.rng.unit() < 0.35 {
            let ring = self.ring();
            let near = add(ring, mul(unit(sub(self.pos[by], ring)), 1.2));
            self.dribble_to(near, 3.0);
        }
        self.reach = mul(unit(sub(self.ring(), self.pos[by])), 0.35);
        let end = self.t + 0.25;
        while self.t < end {
            self.z += 0.03;
            self.step();
        }
        self.z = 2.3;
        let release = self.t;
        let d = len(sub(self.ring(), self.at));
        let ring = self.ring();
        self.fly(ring, 0.55 + 0.08 * d, 3.05, false);
        self.facts.shots.push((by, release, self.t));
        self.rng.unit() < 0.45
    }

    /// Games: team in attack changes with every possession.
    pub fn game(mut self, possessions: usize) -> (Session, Facts) {
        self.spread(0);
        let mut from = None;
        for _ in 0..possessions {
            let by = self.holder();
            self.attack = self.team(by);
            let start = from.take().unwrap_or(self.t);
            self.spread(by);
            let across = self.rng.between(-3.0, 3.0);
            let top = self.spot(9.5, across);
            self.dribble_to(top, 9.0);
            loop {
                let n = 2 + self.rng.pick(6);
                for _ in 0..n {
                    self.action();
                }
                let by = self.holder();
                let lost = self.rng.unit();
                if lost < 0.12 {
                    // A defender steps into the pass.
                    let rivals = self.rivals(by);
                    let thief = rivals[self.rng.pick(rivals.len())];
                    self.throw(thief);
                    self.take(thief, false);
                    self.facts.possessions.push((self.attack, start, self.t));
                    from = Some(self.t);
                    self.wait(0.6);
                    break;
                }
                let made = self.shoot();
                let shooter = by;
                if made {
                    self.facts.possessions.push((self.attack, start, self.t));
                    let below = add(self.ring(), [0.1, 0.1]);
                    self.fly(below, 0.5, 0.12, false);
                    self.ball = Ball::Floor;
                    self.inbound(shooter);
                    break;
                }
                let a = self.rng.between(0.0, std::f64::consts::TAU);
                let inward = -self.ring()[0].signum();
                let l = self.rng.between(1.5, 3.5);
                let to = add(self.ring(), [inward * l * a.sin().abs(), l * a.cos()]);
                let offensive = self.rng.unit() < 0.25;
                let who = if offensive {
                    self.mates(shooter)
                } else {
                    self.rivals(shooter)
                };
                let taker = self.nearest(to, &who);
                self.aim[taker] = to;
                self.pace[taker] = self.style.top;
                let up = self.rng.between(0.7, 1.1);
                let target = to;
                // Whoever takes it goes for it, guard or not.
                self.ball = Ball::Air {
                    from: self.at,
                    to: target,
                    t0: self.t,
                    t1: self.t + up,
                    z: (3.05, 1.8),
                    hop: false,
                };
                let end = self.t + up;
                while self.t < end {
                    self.aim[taker] = to;
                    self.step();
                    let pull = clip(sub(to, self.pos[taker]), 5.0 * DT);
                    self.pos[taker] = add(self.pos[taker], pull);
                }
                self.take(taker, false);
                self.facts.rebounds.push((taker, self.t));
                if offensive {
                    self.wait(0.5);
                    continue;
                }
                self.facts.possessions.push((self.attack, start, self.t));
                self.attack = self.team(taker);
                break;
            }
        }
        let facts = self.facts.clone();
        (self.sense(SessionKind::Game), facts)
    }

    /// The other team takes the ball out behind the line and brings it in.
    fn inbound(&mut self, scorer: usize) {
        let rivals = self.rivals(scorer);
        let out = self.nearest(self.at, &rivals);
        let end = self.t + 2.5;
        while self.t < end && len(sub(self.pos[out], self.at)) > 0.4 {
            let to = self.at;
            self.walk(out, to);
        }
        self.take(out, false);
        self.attack = self.team(out);
        let line = [-self.ring()[0].signum() * 14.7, self.rng.between(-1.5, 1.5)];
        let guard = rivals[(rivals.iter().position(|r| *r == out).unwrap() + 1) % rivals.len()];
        let end = self.t + 3.0;
        while self.t < end && len(sub(self.pos[out], line)) > 0.3 {
            self.walk(out, line);
            self.aim[guard] = [line[0].signum() * 10.5, 2.0];
            self.pace[guard] = 4.0;
        }
        self.wait(0.5);
        self.pass(guard);
        self.aim[out] = self.spot(8.0, 0.0);
    }

    fn walk(&mut self, who: usize, to: V) {
        let v = clip(mul(sub(to, self.pos[who]), 3.0), 3.0);
        self.pos[who] = add(self.pos[who], mul(v, DT));
        self.aim[who] = to;
        self.vel[who] = v;
        self.step();
    }

    /// Repetitions on a half court from the same places, with a walk back between them.
    pub fn practice(mut self, repetitions: usize, stops: bool) -> (Session, Facts) {
        let spots = [(9.0, 0.0), (6.5, 5.5), (6.5, -5.5), (1.5, 6.6), (5.6, 2.5)];
        let k = self.k();
        for i in 0..k {
            self.pos[i] = self.spot(spots[i].0, spots[i].1);
            self.aim[i] = self.pos[i];
            self.pace[i] = 1.6;
        }
        self.at = self.pos[0];
        for _ in 0..repetitions {
            self.walk_back(&spots);
            let settle = self.rng.between(1.0, 3.0);
            self.wait(settle);
            let start = self.t;
            let shots = self.rng.unit() < 0.6;
            let n = 3 + self.rng.pick(4);
            for _ in 0..n {
                let by = self.holder();
                let mates = self.mates(by);
                let other = mates[self.rng.pick(mates.len())];
                let cutter = mates[self.rng.pick(mates.len())];
                self.aim[cutter] = self.random_spot();
                self.pace[cutter] = self.rng.between(2.0, 5.0);
                if self.rng.unit() < 0.6 {
                    self.pass(other);
                    self.wait(0.3);
                } else {
                    let to = self.random_spot();
                    self.dribble_to(to, 2.5);
                }
                if stops && self.rng.unit() < 0.4 {
                    let still: Vec<V> = self.pos.clone();
                    for (a, p) in self.aim.iter_mut().zip(still) {
                        *a = p;
                    }
                    let s = self.rng.between(1.5, 3.5);
                    self.wait(s);
                }
            }
            // Movements come to their ends.
            let until = self.t + 4.0;
            while self.t < until && (0..self.pos.len()).any(|i| len(self.vel[i]) > 0.4) {
                self.step();
            }
            let mut end = self.t;
            if shots {
                self.shoot();
                end = self.t;
                let below = add(self.ring(), [0.1, 0.1]);
                self.fly(below, 0.5, 0.12, false);
                self.ball = Ball::Floor;
            } else {
                let s = self.rng.between(1.5, 3.0);
                self.wait(s);
            }
            self.facts.possessions.push((0, start, end));
        }
        self.wait(2.0);
        let facts = self.facts.clone();
        (self.sense(SessionKind::Practice), facts)
    }

    fn walk_back(&mut self, spots: &[(f64, f64); 5]) {
        if matches!(self.ball, Ball::Floor) {
            let all: Vec<usize> = (0..self.k()).collect();
            let who = self.nearest(self.at, &all);
            let end = self.t + 3.0;
            while self.t < end && len(sub(self.pos[who], self.at)) > 0.4 {
                let to = self.at;
                self.walk(who, to);
            }
            self.take(who, false);
        }
        for i in 0..self.k() {
            self.aim[i] = self.spot(spots[i].0, spots[i].1);
            self.pace[i] = 1.6;
        }
        let until = self.t + 12.0;
        while self.t < until && (0..self.k()).any(|i| len(sub(self.pos[i], self.aim[i])) > 0.3) {
            self.step();
        }
        if self.holder() != 0 {
            self.pass(0);
            self.wait(0.4);
        }
    }

    fn sense(&mut self, kind: SessionKind) -> Session {
        let s = self.style;
        let every = ((1.0 / s.rate_hz) / DT).round() as usize;
        let frames: Vec<usize> = (0..self.log.len()).step_by(every).collect();
        let n = self.pos.len();
        let mut tracks = Vec::new();
        for object in 0..=n {
            let keep = if s.colour_s > 0.0 {
                (-1.0 / (s.rate_hz * s.colour_s)).exp()
            } else {
                0.0
            };
            let mut e = [0.0; 3];
            let mut lost = false;
            let out = (1.0 / (s.rate_hz * s.burst_s)).min(1.0);
            let into = out * s.lost / (1.0 - s.lost);
            let mut t = Track {
                z: (object == n && s.height).then(Vec::new),
                ..Track::default()
            };
            for &f in &frames {
                for v in &mut e {
                    *v = keep * *v + (1.0 - keep * keep).sqrt() * s.noise_m * self.rng.normal();
                }
                let u = self.rng.unit();
                lost = if lost { u >= out } else { u < into };
                let (all, ball, z) = &self.log[f];
                let p = if object < n { all[object] } else { *ball };
                let (x, y) = if lost {
                    (0.0, 0.0)
                } else {
                    (p[0] + e[0], p[1] + e[1])
                };
                t.x.push(x);
                t.y.push(y);
                if let Some(h) = &mut t.z {
                    h.push(if lost { 0.0 } else { (z + e[2]).max(0.0) });
                }
                t.known.push(if lost {
                    Known::Unknown
                } else {
                    Known::Measured
                });
            }
            bridge(&mut t, (0.4 * s.rate_hz) as usize);
            tracks.push(t);
        }
        let ball = tracks.pop();
        let teams = if self.opponents { 2 } else { 1 };
        let end_s = frames.len() as f64 / s.rate_hz;
        Session::new(SessionParts {
            id: "street".into(),
            date: None,
            kind,
            opponent: None,
            court: Court::fiba(),
            rate_hz: s.rate_hz,
            start_s: 0.0,
            teams: (0..teams)
                .map(|t| Team {
                    id: format!("t{t}"),
                    name: format!("team {t}"),
                })
                .collect(),
            players: (0..n)
                .map(|i| Player {
                    id: format!("p{i}"),
                    team: self.team(i),
                    number: None,
                    name: None,
                    roles: vec![],
                })
                .collect(),
            tracks,
            ball,
            ends: if s.ends_given {
                vec![EndSpan {
                    from_s: 0.0,
                    to_s: end_s + 1.0,
                    end: End::Left,
                }]
            } else {
                vec![]
            },
        })
        .unwrap()
    }
}

/// Fills short holes between measured samples, as cleaning does.
pub fn bridge(t: &mut Track, most: usize) {
    let n = t.known.len();
    let mut k = 0;
    while k < n {
        if t.known[k] != Known::Unknown {
            k += 1;
            continue;
        }
        let a = k;
        while k < n && t.known[k] == Known::Unknown {
            k += 1;
        }
        if a == 0 || k == n || k - a > most {
            continue;
        }
        for i in a..k {
            let f = (i + 1 - a) as f64 / (k + 1 - a) as f64;
            t.x[i] = t.x[a - 1] + (t.x[k] - t.x[a - 1]) * f;
            t.y[i] = t.y[a - 1] + (t.y[k] - t.y[a - 1]) * f;
            if let Some(z) = &mut t.z {
                z[i] = z[a - 1] + (z[k] - z[a - 1]) * f;
            }
            t.known[i] = Known::Filled;
        }
    }
}

/// Where somebody was, for tests that look at places.
pub fn point(v: [f64; 2]) -> CourtPoint {
    CourtPoint::new(v[0], v[1])
}

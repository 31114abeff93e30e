//! Who controls the ball: the most probable course of a switching linear model.
//!
//! A hidden Markov chain over [`Ctl`] whose every state carries a Kalman filter. In the hands the
//! ball's offset from the body is slow (first-order autoregressive: posture, and the sensors' slow
//! errors) but for the moments at which it is gripped anew; in the air its velocity stays.
//! Viterbi's recursion keeps for every state the best course that ends in it together with that
//! course's filter (per-survivor processing: Raheli, Polydoros, Tzou 1995, IEEE Trans. Commun.
//! 43, 354–364) and drops courses far behind the best. Linear in frames.

use crate::assumed::{
    AHEAD, BEAM, BEHIND, BEHIND_M, BEND, BEND_LOOSE, BEND_OFF, BEND_REST, BOUNCES, CAROM, CAROM_S,
    DEAD, DRIBBLED, DRIFT, FALLEN_S, FETCHED, HAND_S, HANDED, IN_HANDS, LAYUP, LAYUP_M, LINKS,
    LONG_S, LONGEST_S, LOST, PICKED, REBOUND, REGRIP, REST, RESTLESS, ROLL, ROOT_TAU, SCORER,
    SETTLE, SHOT_S, SPEED_SPREAD, STAYS, TAKEN, THROW, THROWN, TIME_SPREAD, TO_MATE, TO_OTHER,
    TO_RING, TREMBLE, WILD, fresh,
};
use crate::bodies::Bodies;
use crate::course::{Course, Ctl, NONE, Pool};
use crate::flow::Flow;
use crate::history::History;
use crate::motion::{Motion, SLOW_S, dist, sub};
use crate::params::ValidParams;
use setdrift_court::End;

/// Consecutive frames in one state; `to` is one past the last.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Run {
    pub ctl: Ctl,
    pub from: usize,
    pub to: usize,
}

/// Sums of nats taken in another order differ by less.
const ROUNDING: f64 = 1e-6;

pub(crate) struct Decoder<'a> {
    m: Motion<'a>,
    params: ValidParams,
    bodies: Bodies<'a>,
    dt: f64,
    /// Share of a sample's evidence that is new.
    fresh: f64,
    /// Variance of the ball's samples about its place, of a body's place from white noise, of a
    /// held ball's offset; square metres.
    white: f64,
    smoothed: f64,
    offset: f64,
    /// Time in which the offset changes, seconds.
    offset_s: f64,
    /// Variance that a free ball's place gains a second.
    drift: f64,
    /// What an offset keeps of itself over a frame.
    keep: f64,
    logs: Logs,
    rings: [(End, [f64; 2]); 2],
    flow: Flow,
    /// How surely each player stands behind a line, 0..=1, and the surest.
    behind: Vec<f64>,
    behind_most: f64,
    /// The frame to be looked at next, the best courses up to it, and what they went through.
    frame: usize,
    live: Vec<Course>,
    history: History,
    pool: Pool,
    sample: Sample,
    /// The most that this frame can add to a score, nats.
    gain: f64,
}

/// What the ball's sensor says at a frame.
#[derive(Clone, Copy, Default)]
struct Sample {
    frame: usize,
    at: Option<[f64; 2]>,
    /// What the height says against hands, nats.
    not_held: f64,
    /// The same against a ball that has fallen.
    not_down: f64,
    height: Option<f64>,
}

impl<'a> Decoder<'a> {
    /// Begins at a frame with nothing known of what came before.
    pub fn new(m: Motion<'a>, params: ValidParams, first: usize) -> Self {
        let hand = params.hold_spread_m.powi(2);
        let slow = m.ball_split.1 + m.player_split.1;
        let offset_s = (hand + slow) / (hand / HAND_S + slow / SLOW_S);
        let dt = 1.0 / m.session.rate_hz;
        let ring = |end| (end, crate::shots::ring(&m, end));
        Self {
            params,
            bodies: Bodies::new(m, first),
            dt,
            fresh: fresh(m.session.rate_hz),
            white: m.ball_split.0 + TREMBLE * TREMBLE,
            smoothed: m.player_split.0 / (2 * m.player_half + 1) as f64,
            offset: hand + slow,
            offset_s,
            keep: (-dt / offset_s).exp(),
            logs: Logs::new(dt, params.hold_s),
            drift: 2.0 * DRIFT * m.ball_split.1 / SLOW_S,
            rings: [ring(End::Left), ring(End::Right)],
            flow: Flow::default(),
            behind: Vec::new(),
            behind_most: 0.0,
            frame: first,
            live: Vec::new(),
            history: History::default(),
            pool: Pool::new(m.session.players.len()),
            sample: Sample::default(),
            gain: 0.0,
            m,
        }
    }

    /// Goes on up to a frame, without it.
    pub fn run(&mut self, to: usize) {
        let mut live = std::mem::take(&mut self.live);
        for frame in self.frame..to {
            self.bodies.look(frame);
            self.sample = self.look(frame);
            self.flow.look(&self.m, frame);
            self.look_behind();
            self.gain = self.most_gained();
            if live.is_empty() {
                self.begin();
            } else {
                for c in &live {
                    self.go_on(c);
                }
            }
            self.pool.drain(BEAM, &mut live);
            for c in &mut live {
                self.history.note(c);
            }
            if self.history.len() > LINKS {
                self.history.forget(&mut live);
            }
        }
        self.live = live;
        self.frame = self.frame.max(to);
    }

    /// The best courses so far, in order of state.
    pub fn live(&self) -> &[Course] {
        &self.live
    }

    /// Marks where the courses are at a look, so that what another decoder knows may be put before.
    pub fn mark(&mut self, look: usize) {
        self.history.mark(look, &mut self.live);
    }

    /// Drops what no live course goes back to.
    pub fn forget(&mut self) {
        self.history.forget(&mut self.live);
    }

    /// Takes over from a decoder whose courses were those of a look.
    pub fn take_over(&mut self, look: usize, earlier: &Self) {
        self.history
            .put_before(look, &earlier.history, &earlier.live);
    }

    /// The most probable course up to here as runs of one state each.
    pub fn runs(&self) -> Vec<Run> {
        let best = self
            .live
            .iter()
            .fold(None, |b: Option<&Course>, c| match b {
                Some(b) if b.score >= c.score => Some(b),
                _ => Some(c),
            });
        best.map_or_else(Vec::new, |b| self.history.trace(b, self.frame))
    }

    fn look(&self, frame: usize) -> Sample {
        let m = &self.m;
        let height = m.ball_height(frame);
        let z_var = 0.25f64.powi(2) + m.ball_split.0 + m.ball_split.1;
        let above = |least: f64| {
            height.map_or(0.0, |z| {
                ((z - least).max(0.0).powi(2) / (2.0 * z_var)).min(WILD)
            })
        };
        Sample {
            frame,
            at: m.ball_seen(frame),
            not_held: self.fresh * above(IN_HANDS) + self.lies(frame),
            not_down: self.fresh * above(BOUNCES),
            height,
        }
    }

    /// Who stands behind a line: to bring the ball in.
    fn look_behind(&mut self) {
        let half = self.m.session.court.measures();
        let error = self.m.player_error();
        self.behind.clear();
        self.behind.extend(self.bodies.at.iter().map(|b| {
            let Some(b) = b else { return 0.0 };
            let p = b.kin.pos;
            let beyond = (p[0].abs() - half.length / 2.0).max(p[1].abs() - half.width / 2.0);
            let width = 0.1 + 0.5 * (error * error + b.blur).sqrt();
            1.0 / (1.0 + ((BEHIND_M - beyond) / width).exp())
        }));
        self.behind_most = self.behind.iter().copied().fold(0.0, f64::max);
    }

    /// No score rises by more at this frame: by the players' way, and by the density of a sample
    /// that lies where the filter has it.
    fn most_gained(&self) -> f64 {
        let sample = match self.sample.at {
            Some(_) => -self.fresh * (std::f64::consts::TAU * self.white).ln(),
            None => 0.0,
        };
        self.flow.speaks_for(0).abs() * self.dt + sample.max(0.0) + ROUNDING
    }

    /// Whether a course of such a score so far could neither be kept nor win.
    fn hopeless(&self, ctl: Ctl, score: f64) -> bool {
        let most = score + self.gain;
        most < self.pool.top() - BEAM || most < self.pool.least(ctl)
    }

    fn begin(&mut self) {
        let at = self.sample.at.unwrap_or([0.0; 2]);
        let blank = Course {
            ctl: Ctl::Loose,
            since: self.sample.frame,
            score: -3.0,
            x: at,
            v: [0.0; 2],
            p: [1.0, 0.0, ROLL * ROLL],
            start: at,
            past: NONE,
            left: None,
        };
        self.offer(blank);
        self.offer(Course {
            ctl: Ctl::Dead,
            ..blank
        });
        for i in 0..self.bodies.at.len() {
            self.offer(Course {
                ctl: Ctl::Held(i),
                score: 0.0,
                x: [0.0; 2],
                p: [self.offset, 0.0, 0.0],
                ..blank
            });
        }
    }

    /// All ways on from a course to this frame.
    fn go_on(&mut self, c: &Course) {
        let age = (self.sample.frame - c.since) as f64 * self.dt;
        match c.ctl {
            Ctl::Held(i) => self.leave_hands(c, i),
            Ctl::Air(i) => self.go_on_in_air(c, i, age),
            Ctl::Off(_) => self.go_on_off_ring(c, age),
            Ctl::Down(_) => self.go_on_free(c, BEND_REST, 1.0, self.logs.picked[1]),
            Ctl::Loose => self.go_on_free(c, BEND_LOOSE, 1.0, self.logs.picked[0]),
            Ctl::Dead => self.go_on_free(c, BEND_REST, 2.0, self.logs.picked[2]),
        }
    }

    fn leave_hands(&mut self, c: &Course, i: usize) {
        let Some(body) = self.bodies.at[i] else {
            self.turn(c, Ctl::Loose, -2.0, c.start, ROLL);
            if self.bodies.at.iter().all(Option::is_none) {
                self.turn(c, Ctl::Dead, 0.0, c.start, ROLL);
            }
            return;
        };
        let mut stay = *c;
        let keep = self.keep;
        let mean = self.ahead(i);
        for (k, mean) in mean.into_iter().enumerate() {
            stay.x[k] = mean + keep * (c.x[k] - mean);
            stay.start[k] = body.kin.pos[k] + stay.x[k];
        }
        stay.p[0] = keep * keep * c.p[0] + (1.0 - keep * keep) * self.offset;
        self.offer(stay);
        let mut gone = stay;
        gone.x = stay.start;
        gone.p[0] += 0.01;
        self.turn(&gone, Ctl::Air(i), self.logs.thrown, gone.x, THROW);
        self.turn(&gone, Ctl::Loose, self.logs.lost, gone.x, ROLL);
        self.turn(&gone, Ctl::Dead, self.logs.dead, gone.x, REST);
        for j in (0..self.bodies.at.len()).filter(|j| *j != i) {
            self.hand_over(&gone, i, j);
        }
    }

    fn go_on_in_air(&mut self, c: &Course, i: usize, age: f64) {
        let mut f = c.fly(self.dt, BEND, 0.0, self.drift);
        // What is thrown is as fast as other throws, whether or not somebody catches it.
        let speed = dist(f.x, f.start) / age.max(0.5 * self.dt);
        let slow = (self.log_speed(speed) / SPEED_SPREAD).min(0.0).powi(2);
        let stray = self.logs.tenth - 0.5 * slow;
        self.turn(&f, Ctl::Loose, stray, f.x, ROLL);
        self.turn(&f, Ctl::Dead, stray - 2.3, f.x, REST);
        if age > LONGEST_S {
            return;
        }
        // Nothing hangs in the air.
        if age > 0.3 {
            f.score -= 2.0 * self.dt * slow;
        }
        if age > LONG_S {
            f.score -= 2.0 * self.dt;
        }
        self.offer(f);
        self.land(&f, Some(i), age);
        self.at_ring(&f, i, age);
    }

    fn go_on_off_ring(&mut self, c: &Course, age: f64) {
        let mut f = c.fly(self.dt, BEND_OFF, 0.0, self.drift);
        if age > LONGEST_S {
            self.turn(&f, Ctl::Loose, -2.0, f.x, ROLL);
            return;
        }
        if age > FALLEN_S {
            f.score -= self.sample.not_down;
        }
        if age > 0.3 {
            f.score -= STAYS[2] * self.dt * self.crowd(&f);
        }
        if age > LONG_S {
            f.score -= 3.0 * self.dt;
        }
        self.offer(f);
        self.turn(&f, Ctl::Loose, self.logs.off_loose, f.x, ROLL);
        self.turn(&f, Ctl::Dead, self.logs.off_dead, f.x, REST);
        self.land(&f, None, age);
    }

    fn go_on_free(&mut self, c: &Course, bend: f64, brake: f64, picked: f64) {
        let dt = self.dt;
        let restless = RESTLESS * 2.0 * self.offset / self.offset_s;
        let mut f = c.fly(dt, bend, brake, self.drift + restless);
        let stays = STAYS[usize::from(c.ctl != Ctl::Loose)];
        f.score -= stays * dt * self.crowd(&f);
        let age = (self.sample.frame - c.since) as f64 * dt;
        if !matches!(c.ctl, Ctl::Down(_)) || age > FALLEN_S {
            f.score -= self.sample.not_down;
        }
        self.offer(f);
        match c.ctl {
            Ctl::Loose => self.turn(&f, Ctl::Dead, self.logs.tenth, f.x, REST),
            Ctl::Dead => self.turn(&f, Ctl::Loose, self.logs.tenth, f.x, ROLL),
            _ => {
                self.turn(&f, Ctl::Loose, self.logs.dt, f.x, ROLL);
                self.turn(&f, Ctl::Dead, self.logs.dt, f.x, REST);
            }
        }
        for j in 0..self.bodies.at.len() {
            // Who has scored does not bring the ball in.
            let scored = matches!(c.ctl, Ctl::Down(end) if self.attacks(j) == Some(end));
            let picked = if scored { self.logs.scorer } else { picked };
            if !scored {
                self.fetch(&f, j);
            }
            if let Some(sq) = self.miss(j, f.x, f.p[0]) {
                let cost = picked - sq / (2.0 * (self.offset + f.p[0]));
                self.take(&f, j, f.x, cost);
            }
        }
    }

    /// Where a runner's ball is in the mean.
    fn ahead(&self, i: usize) -> [f64; 2] {
        self.bodies.at[i].map_or([0.0; 2], |b| b.kin.vel.map(|v| AHEAD * v))
    }

    /// Logarithm of a speed over the median speed of passes.
    fn log_speed(&self, mps: f64) -> f64 {
        (mps.max(0.3) / self.params.pass_speed_mps).ln()
    }

    /// How near the nearest player is to a free ball, 0..=1.
    fn crowd(&self, c: &Course) -> f64 {
        let near = (0..self.bodies.at.len())
            .filter_map(|j| self.miss(j, c.x, c.p[0]))
            .fold(f64::INFINITY, f64::min);
        (-near / (2.0 * (self.offset + c.p[0]))).exp()
    }

    /// Squared distance of a place from where a player's hands are in the mean, when within
    /// reach.
    fn miss(&self, j: usize, at: [f64; 2], var: f64) -> Option<f64> {
        let b = self.bodies.at[j]?;
        let d = sub(at, b.kin.pos);
        let d = [d[0] - AHEAD * b.kin.vel[0], d[1] - AHEAD * b.kin.vel[1]];
        let sq = d[0] * d[0] + d[1] * d[1];
        (sq < 12.0 * (self.offset + var)).then_some(sq)
    }

    /// The end that a player's team attacks now, where the tracks say it.
    fn attacks(&self, i: usize) -> Option<End> {
        let own = self.flow.end?;
        Some(if self.m.session.players[i].team == 0 {
            own
        } else {
            own.other()
        })
    }

    fn mates(&self, i: usize, j: usize) -> bool {
        self.m.session.players[i].team == self.m.session.players[j].team
    }

    /// A free state entered now, with an unknown velocity of spread `speed`.
    fn turn(&mut self, c: &Course, ctl: Ctl, cost: f64, at: [f64; 2], speed: f64) {
        self.offer(Course {
            ctl,
            since: self.sample.frame,
            score: c.score + cost,
            x: at,
            v: [0.0; 2],
            p: [c.p[0].max(0.01), 0.0, speed * speed],
            start: at,
            past: c.past,
            left: Some((c.ctl, c.since)),
        });
    }

    /// The ball, believed at `at`, is in a player's hands from now on.
    fn take(&mut self, c: &Course, j: usize, at: [f64; 2], cost: f64) {
        if self.hopeless(Ctl::Held(j), c.score + cost) {
            return;
        }
        let Some(b) = self.bodies.at[j] else { return };
        let mean = self.ahead(j);
        let seen = sub(at, b.kin.pos);
        let gain = self.offset / (self.offset + c.p[0]);
        let var = (self.offset * (1.0 - gain) + SETTLE).min(self.offset);
        self.offer(Course {
            ctl: Ctl::Held(j),
            since: self.sample.frame,
            score: c.score + cost,
            x: [
                mean[0] + gain * (seen[0] - mean[0]),
                mean[1] + gain * (seen[1] - mean[1]),
            ],
            v: [0.0; 2],
            p: [var, 0.0, 0.0],
            start: at,
            past: c.past,
            left: Some((c.ctl, c.since)),
        });
    }

    fn hand_over(&mut self, c: &Course, i: usize, j: usize) {
        let Some(sq) = self.miss(j, c.x, c.p[0]) else {
            return;
        };
        let (Some(a), Some(b)) = (self.bodies.at[i], self.bodies.at[j]) else {
            return;
        };
        let apart = (dist(a.kin.pos, b.kin.pos) - self.params.hand_off_m).max(0.0);
        let rate = if self.mates(i, j) {
            self.logs.handed
        } else {
            self.logs.taken
        };
        let cost = rate
            - sq / (2.0 * (self.offset + c.p[0]))
            - apart * apart / (2.0 * (0.05 + 2.0 * self.m.player_error().powi(2)));
        self.take(c, j, c.x, cost);
    }

    /// A flight ends in somebody's hands; `from` is who threw it, `None` off a ring.
    fn land(&mut self, c: &Course, from: Option<usize>, age: f64) {
        let age = age.max(0.5 * self.dt);
        let far = dist(c.x, c.start);
        // What is the same for all hands, once somebody is near.
        let mut all = None;
        for j in (0..self.bodies.at.len()).filter(|j| from != Some(*j)) {
            let Some(sq) = self.miss(j, c.x, c.p[0]) else {
                continue;
            };
            let (when, aim) = *all.get_or_insert_with(|| {
                // Duration: from the speed of passes, or from the fall of caroms.
                let (z, width, throw) = if from.is_some() {
                    let z = self.log_speed(far / age) / SPEED_SPREAD;
                    (z, SPEED_SPREAD, THROW)
                } else {
                    ((age / CAROM_S).ln() / TIME_SPREAD, TIME_SPREAD, CAROM)
                };
                let when = self.logs.dt - 0.5 * z * z - (width * ROOT_TAU * age).ln();
                let spread = self.offset + c.p[0];
                (when, Aim::new(spread, far, throw, age, c.p[0]))
            });
            let share = match from {
                Some(i) if self.mates(i, j) => self.logs.to_mate,
                Some(_) => self.logs.to_other,
                None => self.logs.rebound,
            };
            self.take(c, j, c.x, share + when + aim.missed(sq));
        }
    }

    /// A flight ends at the ring that the thrower's team attacks.
    fn at_ring(&mut self, c: &Course, i: usize, age: f64) {
        let attacks = self.attacks(i);
        let slow = self.m.ball_split.1;
        let age = age.max(0.5 * self.dt);
        for (end, ring) in self.rings {
            if attacks.is_some_and(|e| e != end) {
                continue;
            }
            let d = dist(c.x, ring);
            let spread = 0.15f64.powi(2) + c.p[0] + slow;
            if d * d > 12.0 * spread {
                continue;
            }
            let height = self.sample.height.map_or(0.0, |z| {
                let s = 0.35 + self.m.ball_noise;
                let e = (z - self.m.session.court.measures().ring_height) / s;
                -0.5 * e * e - (s * ROOT_TAU).ln() + 4f64.ln()
            });
            let z = (age / SHOT_S).ln() / TIME_SPREAD;
            let when = self.logs.dt - 0.5 * z * z - (TIME_SPREAD * ROOT_TAU * age).ln();
            let aim = Aim::new(spread, dist(c.x, c.start), THROW, age, c.p[0]).missed(d * d);
            let near = (-0.5 * (dist(c.start, ring) / LAYUP_M).powi(2)).exp();
            let cost = (0.5 * TO_RING * (1.0 + LAYUP * near)).ln() + when + aim + height;
            let mut at = *c;
            at.p[0] = 0.09 + slow;
            self.turn(&at, Ctl::Down(end), cost, ring, REST);
            self.turn(&at, Ctl::Off(end), cost, ring, CAROM);
        }
    }

    /// Somebody behind a line is given the ball to bring it in, wherever it was.
    fn fetch(&mut self, c: &Course, j: usize) {
        let Some(b) = self.bodies.at[j] else { return };
        let half = self.m.session.court.measures();
        let p = b.kin.pos;
        let beyond = (p[0].abs() - half.length / 2.0).max(p[1].abs() - half.width / 2.0);
        if beyond > -0.3 {
            let mut new = *c;
            new.p[0] = 1e6;
            self.take(&new, j, p, self.logs.fetched);
        }
    }

    /// Adds what this frame's sample says to a course, updates its filter, and keeps it if it is
    /// among the best.
    fn offer(&mut self, mut c: Course) {
        if self.hopeless(c.ctl, c.score) {
            return;
        }
        let mut base = [0.0; 2];
        let mut noise = self.white;
        if let Ctl::Held(i) = c.ctl {
            let Some(b) = self.bodies.at[i] else { return };
            base = b.kin.pos;
            noise += self.smoothed + b.blur;
            c.score -= self.sample.not_held;
            c.score += self.flow.speaks_for(self.m.session.players[i].team) * self.dt;
            c.score -= BEHIND * (self.behind_most - self.behind[i]) * self.dt;
        } else {
            c.score += self.dt
                * match c.ctl {
                    Ctl::Air(i) => self.flow.speaks_for(self.m.session.players[i].team),
                    _ => self.flow.none,
                };
        }
        let Some(at) = self.sample.at else {
            self.pool.offer(c);
            return;
        };
        let seen = sub(at, base);
        let mut s = c.p[0] + noise;
        let mut e = sub(seen, c.x);
        let mut sq = (e[0] * e[0] + e[1] * e[1]) / (2.0 * s);
        if let Ctl::Held(i) = c.ctl {
            // Gripped anew: the offset may be any.
            let mean = self.ahead(i);
            let f = sub(seen, mean);
            let var = self.offset + noise;
            let fq = (f[0] * f[0] + f[1] * f[1]) / (2.0 * var);
            let rare = self.logs.rare;
            // The logarithm, which is not negative, is worth taking only where it may matter.
            let gain = self.fresh * (sq.min(WILD) - fq) + rare;
            if gain > 0.0 && self.fresh * (var / s).ln() < gain {
                c.score += rare;
                c.x = mean;
                c.p[0] = self.offset;
                (s, e, sq) = (var, f, fq);
            }
        }
        c.score -= self.fresh * ((std::f64::consts::TAU * s).ln() + sq.min(WILD));
        if sq <= WILD {
            c.learn(e, s);
        }
        self.pool.offer(c);
    }

    /// What a frame says against a held ball because the ball is low, nats: a dribbled one is up
    /// again within half a second, and is half a metre high in the mean; one that lies is not.
    fn lies(&self, frame: usize) -> f64 {
        let m = &self.m;
        let half = (0.25 * m.session.rate_hz).round() as usize;
        let (mut sum, mut n) = (0.0, 0.0);
        for f in frame.saturating_sub(half)..=frame + half {
            if let Some(z) = m.ball_height(f) {
                sum += z;
                n += 1.0;
            }
        }
        if n == 0.0 || n < 0.5 * half as f64 || sum / n > DRIBBLED {
            return 0.0;
        }
        let error = m.ball_split.1 + m.ball_split.0 / n;
        let far = |mean: f64, spread: f64| {
            let var = spread * spread + error;
            (sum / n - mean).powi(2) / (2.0 * var) + 0.5 * var.ln()
        };
        // The ball's radius; and heights err upward at the floor.
        let floor = 0.12 + 0.4 * m.ball_split.0.sqrt();
        2.0 * self.dt * (far(DRIBBLED, 0.2) - far(floor, 0.05)).clamp(0.0, 6.0)
    }
}

/// Logarithms of what may happen in a frame.
struct Logs {
    /// Of a frame's length in seconds, and of a tenth of it.
    dt: f64,
    tenth: f64,
    /// A held ball is gripped anew, thrown, lost, dead, given to a team-mate, taken.
    rare: f64,
    thrown: f64,
    lost: f64,
    dead: f64,
    handed: f64,
    taken: f64,
    /// One off a ring is nobody's, or dead.
    off_loose: f64,
    off_dead: f64,
    /// A free one is picked up, in the states of [`PICKED`]; by the team that has scored; given to somebody
    /// behind a line.
    picked: [f64; 3],
    scorer: f64,
    fetched: f64,
    /// Shares of who a flight comes to.
    to_mate: f64,
    to_other: f64,
    rebound: f64,
}

impl Logs {
    fn new(dt: f64, hold_s: f64) -> Self {
        let leave = dt / hold_s;
        Self {
            dt: dt.ln(),
            tenth: (0.1 * dt).ln(),
            rare: (REGRIP * dt).ln(),
            thrown: (THROWN * leave).ln(),
            lost: (LOST * leave).ln(),
            dead: (DEAD * leave).ln(),
            handed: (HANDED * dt).ln(),
            taken: (TAKEN * dt).ln(),
            off_loose: (0.3 * dt).ln(),
            off_dead: (0.2 * dt).ln(),
            picked: PICKED.map(|rate| (rate * dt).ln()),
            scorer: (SCORER * PICKED[1] * dt).ln(),
            fetched: (FETCHED * dt).ln(),
            to_mate: TO_MATE.ln(),
            to_other: TO_OTHER.ln(),
            rebound: REBOUND.ln(),
        }
    }
}

/// What speaks for a throw having been aimed: where it comes down is no longer any place that its
/// speed allows (spread `throw` per axis after `age` seconds, `far` from where it began), but within
/// `spread` of its aim.
#[derive(Clone, Copy)]
struct Aim {
    spread: f64,
    gain: f64,
    far: f64,
}

impl Aim {
    fn new(spread: f64, far: f64, throw: f64, age: f64, var: f64) -> Self {
        let any = throw * throw * age * age + var;
        Self {
            spread,
            gain: any.ln() - spread.ln(),
            far: far * far / (2.0 * any),
        }
    }

    /// In nats, missing the aim by the root of `sq`.
    fn missed(self, sq: f64) -> f64 {
        self.gain - sq / (2.0 * self.spread) + self.far
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{session, track};

    #[test]
    fn no_course_gains_more_than_is_allowed_for() {
        let at = |x: f64| move |t: f64| Some([x + t, 1.0]);
        let players = vec![(0, track(30, at(0.0))), (1, track(30, at(2.0)))];
        let ball = track(30, |t| {
            (t < 2.0).then_some([1.0 + 3.0 * t, 0.05 * (40.0 * t).sin()])
        });
        let s = session(10.0, players, Some(ball));
        let mut d = Decoder::new(Motion::new(&s), ValidParams::default(), 0);
        for frame in 0..30 {
            d.bodies.look(frame);
            d.sample = d.look(frame);
            d.look_behind();
            d.gain = d.most_gained();
            let seen = d.sample.at.unwrap_or([0.0; 2]);
            for ctl in [Ctl::Loose, Ctl::Dead, Ctl::Air(0), Ctl::Held(0)] {
                let body = match ctl {
                    Ctl::Held(i) => d.bodies.at[i].as_ref().unwrap().kin.pos,
                    _ => [0.0; 2],
                };
                // As sure as can be, and right.
                d.offer(Course {
                    ctl,
                    since: frame,
                    score: 0.0,
                    x: sub(seen, body),
                    v: [0.0; 2],
                    p: [0.0; 3],
                    start: seen,
                    past: NONE,
                    left: None,
                });
                let gained = d.pool.top();
                assert!(gained <= d.gain, "{ctl:?} at {frame}: {gained} {}", d.gain);
                // What is nobody's knows nothing but the sample.
                if ctl == Ctl::Loose && d.sample.at.is_some() {
                    assert!(gained >= d.gain - 2.0 * ROUNDING, "{gained} {}", d.gain);
                }
                d.pool.drain(BEAM, &mut Vec::new());
            }
        }
    }
}

//! Who controls the ball, frame by frame: a hidden Markov chain over each player's hands, the air
//! after each player's release, loose and dead.

use crate::hmm::{Chain, Decoder};
use crate::motion::{Motion, dist, norm, sub};
use crate::params::ValidParams;
use setdrift_tracks::Known;

/// A state of the ball.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ctl {
    /// In a player's hands or dribbled.
    Held(usize),
    /// In the air, let go by a player.
    Air(usize),
    /// On its way to a ring, or off it: anybody's next.
    Shot,
    /// In play, nobody's.
    Loose,
    /// Out of play or resting.
    Dead,
}

/// Consecutive frames in one state; `to` is one past the last.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Run {
    pub ctl: Ctl,
    pub from: usize,
    pub to: usize,
}

/// Chain and emissions for one session.
#[derive(Debug)]
pub(crate) struct Control<'a> {
    motion: Motion<'a>,
    params: ValidParams,
    pub chain: Chain,
    players: usize,
    /// Share of a frame's evidence that is new.
    fresh: f64,
    /// Per player, the next frame at which the position is known, and the last one passed.
    seen: Vec<(usize, usize)>,
}

/// Log density floor of a position or velocity below its peak: one wild sample decides nothing.
const WILD: f64 = 12.0;
/// A ball above this is in nobody's hands, metres: standing reach with the arms up is 2.3 to 2.8 m
/// for adults (common practice); a jump adds to it but lasts a moment.
pub(crate) const OVER_HANDS: f64 = 2.9;
/// Mean height over half a second of a ball that lies, metres: its radius is 0.12 m, and sensors
/// err upward there.
const ON_FLOOR: f64 = 0.35;
/// Looks a second that count in full: sensors' slow errors and postures outlast a frame.
const LOOKS: f64 = 5.0;
/// How much further from the body a ball is dribbled for each metre a second, seconds: pushed
/// ahead to keep the stride (common practice, no published source).
const AHEAD: f64 = 0.06;
/// A player whose position is unknown for longer than this does not hold the ball, seconds.
const LOST: f64 = 2.0;
/// A ball in the air this near to a ring, seen from above, is likelier a shot, metres.
const NEAR_RING: f64 = 1.2;
/// Greatest number of seconds the decoder holds back.
pub(crate) const LAG_S: f64 = 30.0;

impl<'a> Control<'a> {
    pub fn new(motion: Motion<'a>, params: ValidParams) -> Self {
        let players = motion.session.players.len();
        let chain = chain(&motion, &params);
        Self {
            motion,
            params,
            chain,
            players,
            fresh: (LOOKS / motion.session.rate_hz).min(1.0),
            seen: vec![(0, 0); players],
        }
    }

    pub fn state(&self, index: usize) -> Ctl {
        match index {
            i if i < self.players => Ctl::Held(i),
            i if i < 2 * self.players => Ctl::Air(i - self.players),
            i if i == 2 * self.players => Ctl::Loose,
            i if i == 2 * self.players + 1 => Ctl::Shot,
            _ => Ctl::Dead,
        }
    }

    /// The most probable states as runs.
    pub fn decode(mut self) -> Vec<Run> {
        let chain = self.chain.clone();
        let rate = self.motion.session.rate_hz;
        let mut decoder = Decoder::new(&chain, (LAG_S * rate) as usize);
        let mut settled = Vec::new();
        let mut runs: Vec<Run> = Vec::new();
        let mut at = 0;
        let mut emission = vec![0.0; chain.states()];
        for frame in 0..self.motion.session.frames() {
            self.emission(frame, &mut emission);
            decoder.push(&emission, &mut settled);
            at = self.append(&mut runs, &mut settled, at);
        }
        decoder.finish(&mut settled);
        self.append(&mut runs, &mut settled, at);
        runs
    }

    fn append(&self, runs: &mut Vec<Run>, settled: &mut Vec<usize>, mut at: usize) -> usize {
        for s in settled.drain(..) {
            let ctl = self.state(s);
            match runs.last_mut() {
                Some(r) if r.ctl == ctl => r.to = at + 1,
                _ => runs.push(Run {
                    ctl,
                    from: at,
                    to: at + 1,
                }),
            }
            at += 1;
        }
        at
    }

    /// Log emissions of a frame. Frames must come in order.
    pub fn emission(&mut self, frame: usize, out: &mut [f64]) {
        let n = self.players;
        let rate = self.motion.session.rate_hz;
        let absent = self.absent(frame, (LOST * rate) as usize);
        let seen = self.motion.ball_seen(frame);
        let moving = self.motion.ball(frame);
        let m = &self.motion;
        let ball_var = m.ball_noise.powi(2);
        let hold_var = self.params.hold_spread_m.powi(2) + ball_var + m.player_error().powi(2);
        // A disc with a blurred edge.
        let area = std::f64::consts::PI * (self.params.reach_m.powi(2) + 2.0 * hold_var);
        let speed_var = m.ball_speed_error().powi(2);
        let hold_speed_var = self.params.hold_speed_mps.powi(2) + speed_var;
        let high = m.ball_height(frame).is_some_and(|z| z > OVER_HANDS);
        let low = m.ball_height(frame).is_some_and(|z| z < OVER_HANDS - 0.6);
        let lies = self.lies(frame);
        // Velocity looks overlap over the whole window, so each counts for less.
        let velocity_share = self.fresh * 0.4;
        let mut shared = [0.0; 4];
        if let Some(b) = seen {
            let half = m.session.court.measures();
            let beyond = (b[0].abs() - half.length / 2.0).max(b[1].abs() - half.width / 2.0);
            let outside = beyond > 0.3 + 1.5 * m.ball_noise;
            shared[0] -= self.fresh * 40f64.ln();
            shared[1] -= self.fresh * 80f64.ln();
            let c = m.session.court.ring();
            let ring = (b[0].abs() - (half.length / 2.0 - c.x)).hypot(b[1]);
            shared[3] -= self.fresh
                * if ring < NEAR_RING {
                    8f64.ln()
                } else {
                    50f64.ln()
                };
            shared[2] -= self.fresh * if outside { 40f64.ln() } else { 120f64.ln() };
        }
        if let Some(k) = moving {
            let s = norm(k.vel);
            shared[0] += velocity_share * air_speed(s, self.params.pass_speed_mps);
            shared[1] += velocity_share * gauss(s * s, 9.0 + speed_var);
            shared[2] += velocity_share * gauss(s * s, 0.25 + speed_var);
            shared[3] += velocity_share * air_speed(s, 0.6 * self.params.pass_speed_mps);
        }
        for i in 0..n {
            out[n + i] = if absent[i] {
                f64::NEG_INFINITY
            } else {
                shared[0]
            };
            if absent[i] {
                out[i] = f64::NEG_INFINITY;
                continue;
            }
            let mut e = 0.0;
            let player = m.player(i, frame);
            if let Some(b) = seen {
                e += self.fresh
                    * player.map_or(-(80f64.ln()), |p| {
                        let d = sub(b, p.pos);
                        // Who runs pushes the ball ahead.
                        let reach = self.params.reach_m + AHEAD * norm(p.vel);
                        let beyond = (norm(d) - reach).max(0.0);
                        -area.ln() - (beyond * beyond / (2.0 * hold_var)).min(WILD)
                    });
            }
            if let Some(k) = moving {
                let v = player.map_or(k.vel, |p| sub(k.vel, p.vel));
                e += velocity_share * gauss(v[0] * v[0] + v[1] * v[1], hold_speed_var);
            }
            if high || lies {
                e -= self.fresh * 6.0;
            }
            out[i] = e;
        }
        if high {
            shared[0] -= self.fresh;
        } else if low {
            shared[3] -= self.fresh;
        }
        out[2 * n] = shared[1];
        out[2 * n + 1] = shared[3];
        out[2 * n + 2] = shared[2];
    }

    /// Whether the ball lies on the floor: a dribbled one is up again within half a second.
    fn lies(&self, frame: usize) -> bool {
        let m = &self.motion;
        let half = (0.25 * m.session.rate_hz).round() as usize;
        let mut sum = 0.0;
        let mut n = 0.0;
        for f in frame.saturating_sub(half)..=frame + half {
            if let Some(z) = m.ball_height(f) {
                sum += z;
                n += 1.0;
            }
        }
        n > 0.5 * half as f64 && sum / n < ON_FLOOR
    }

    fn absent(&mut self, frame: usize, limit: usize) -> Vec<bool> {
        let tracks = &self.motion.session.tracks;
        self.seen
            .iter_mut()
            .zip(tracks)
            .map(|((last, next), t)| {
                if t.known[frame] != Known::Unknown {
                    *last = frame;
                    *next = frame;
                    return false;
                }
                if *next <= frame {
                    *next = (frame..t.len())
                        .find(|k| t.known[*k] != Known::Unknown)
                        .unwrap_or(t.len());
                }
                let before = if t.known[*last] == Known::Unknown {
                    usize::MAX
                } else {
                    frame - *last
                };
                let after = if *next < t.len() {
                    *next - frame
                } else {
                    usize::MAX
                };
                before.min(after) > limit
            })
            .collect()
    }
}

/// Log density of a 2-D velocity or offset of squared length `sq`, variance `var` per axis.
fn gauss(sq: f64, var: f64) -> f64 {
    -(std::f64::consts::TAU * var).ln() - (sq / (2.0 * var)).min(WILD)
}

/// Log density of a velocity of size `speed` for a ball in the air: log-normal about the median
/// pass speed, any direction, a tenth of it spread evenly up to 18 m/s.
fn air_speed(speed: f64, median: f64) -> f64 {
    const SPREAD: f64 = 0.45;
    let s = speed.max(0.5);
    let z = (s / median).ln() / SPREAD;
    let radial = (-0.5 * z * z).exp() / (s * SPREAD * std::f64::consts::TAU.sqrt());
    let even = 1.0 / (std::f64::consts::PI * 18.0 * 18.0);
    (0.9 * radial / (std::f64::consts::TAU * s) + 0.1 * even).ln()
}

fn chain(motion: &Motion, params: &ValidParams) -> Chain {
    let s = motion.session;
    let n = s.players.len();
    let dt = 1.0 / s.rate_hz;
    let team = |i: usize| s.players[i].team;
    let mates = |i: usize| {
        (0..n)
            .filter(|j| *j != i && team(*j) == team(i))
            .count()
            .max(1) as f64
    };
    let others = |i: usize| (0..n).filter(|j| team(*j) != team(i)).count().max(1) as f64;
    let (loose, shot, dead) = (2 * n, 2 * n + 1, 2 * n + 2);
    let mut p = vec![vec![0.0; 2 * n + 3]; 2 * n + 3];
    let leave = 1.0 / params.hold_s;
    let land = 1.0 / params.flight_s;
    // Rates a second; shares are common practice, no published source.
    for i in 0..n {
        p[i][n + i] = 0.75 * leave;
        p[i][shot] = 0.10 * leave;
        p[i][loose] = 0.04 * leave;
        p[i][dead] = 0.03 * leave;
        p[n + i][i] = 0.02 * land;
        p[n + i][shot] = 0.02 * land;
        p[n + i][loose] = 0.06 * land;
        p[n + i][dead] = 0.04 * land;
        p[loose][i] = 1.0 / n as f64;
        p[dead][i] = 0.3 / n as f64;
        p[shot][i] = 0.7 / n as f64;
        for j in (0..n).filter(|j| *j != i) {
            if team(i) == team(j) {
                p[i][j] = 0.07 * leave / mates(i);
                p[n + i][j] = 0.84 * land / mates(i);
            } else {
                p[i][j] = 0.01 * leave / others(i);
                p[n + i][j] = 0.04 * land / others(i);
            }
        }
    }
    p[shot][loose] = 0.2;
    p[shot][dead] = 0.2;
    p[loose][dead] = 0.2;
    p[dead][loose] = 0.1;
    for (i, row) in p.iter_mut().enumerate() {
        row.iter_mut().for_each(|r| *r *= dt);
        let away: f64 = row.iter().sum();
        row[i] = (1.0 - away).max(0.05);
    }
    let log: Vec<Vec<f64>> = p
        .iter()
        .map(|row| row.iter().map(|v| v.ln()).collect())
        .collect();
    Chain::new(vec![0.0; 2 * n + 3], &log)
}

/// Smallest distance between two players' places.
pub(crate) fn gap(m: &Motion, a: usize, b: usize, frame: usize) -> Option<f64> {
    Some(dist(m.player(a, frame)?.pos, m.player(b, frame)?.pos))
}

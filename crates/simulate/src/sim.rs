//! The world while it is being played: bodies, ball, clock, and what has just happened.

use crate::ball::{Arc, Ball, Hold};
use crate::body::{Body, Build, Intent};
use crate::rng::Rng;
use crate::session::{SimPlayer, WORLD_HZ};
use crate::settings::Settings;
use crate::truth::{TrueDribble, TrueHandOff, TruePass, TrueScreen, Truth};
use crate::vec2::{V2, v2};
use setdrift_court::{AttackPoint, Court, CourtPoint, End};

/// Length of a tick, seconds.
pub(crate) const DT: f64 = 1.0 / WORLD_HZ;

/// What a cue can wait for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ev {
    Passes,
    Catches,
    Dribbles,
    Screens,
    HandsOff,
    Cuts,
}

/// Something that happened, or that a player is about to do (`intent`).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Happened {
    pub(crate) t: f64,
    pub(crate) player: usize,
    pub(crate) ev: Ev,
    pub(crate) intent: bool,
}

/// How the team without the ball behaves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Guard {
    /// Nobody guards.
    Off,
    /// Runs back.
    Back,
    /// Guards man to man.
    Set,
}

/// A pass on its way.
#[derive(Debug, Clone, Copy, PartialEq)]
struct LivePass {
    to: usize,
    catch: f64,
}

/// A screen that stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct LiveScreen {
    pub(crate) screener: usize,
    pub(crate) user: usize,
    pub(crate) under: bool,
    /// Index in the truth.
    pub(crate) ix: usize,
    nearest: (f64, f64),
    contact: (f64, f64),
}

pub(crate) struct Sim<'a> {
    pub(crate) court: &'a Court,
    pub(crate) set: &'a Settings,
    pub(crate) rng: Rng,
    pub(crate) players: Vec<SimPlayer>,
    pub(crate) builds: Vec<Build>,
    /// `None` while off the floor.
    pub(crate) bodies: Vec<Option<Body>>,
    pub(crate) ball: Ball,
    pub(crate) rec: Vec<Vec<Option<V2>>>,
    pub(crate) rec_ball: Vec<(V2, f64)>,
    pub(crate) offence: usize,
    pub(crate) end: End,
    pub(crate) guard: Guard,
    /// Defender and the player he guards.
    pub(crate) man: Vec<(usize, usize)>,
    pub(crate) screens: Vec<LiveScreen>,
    pub(crate) log: Vec<Happened>,
    pub(crate) truth: Truth,
    /// The player who has used up the dribble.
    pub(crate) picked_up: Option<usize>,
    /// How often each option was chosen.
    pub(crate) ran: Vec<usize>,
    pass: Option<LivePass>,
}

impl<'a> Sim<'a> {
    pub(crate) fn new(
        court: &'a Court,
        set: &'a Settings,
        players: Vec<SimPlayer>,
        seed: u64,
    ) -> Self {
        let mut rng = Rng::new(seed, 0x50_1A);
        // Bodies belong to players, not to sessions: the same player is built alike everywhere.
        let builds = players
            .iter()
            .map(|p| {
                let name = p.id.bytes().fold(0xCBF2_9CE4_8422_2325_u64, |h, b| {
                    (h ^ u64::from(b)).wrapping_mul(0x100_0000_01B3)
                });
                let mut own = Rng::new(name, 7);
                let s = &set.body;
                let vary = |own: &mut Rng, v: f64| v * (1.0 + own.around(0.0, s.spread));
                Build {
                    accel: vary(&mut own, s.accel),
                    brake: vary(&mut own, s.brake),
                    top: vary(&mut own, s.top_speed),
                    response: vary(&mut own, s.response_s),
                    force: s.force_s,
                    hold: vary(&mut own, set.ball.hold_m),
                    bias: v2(
                        own.around(0.0, set.paths.bias_m),
                        own.around(0.0, set.paths.bias_m),
                    ),
                }
            })
            .collect();
        let n = players.len();
        let _ = rng.next_u64();
        Self {
            court,
            set,
            rng,
            players,
            builds,
            bodies: vec![None; n],
            ball: Ball::new(0, V2::default()),
            rec: vec![Vec::new(); n],
            rec_ball: Vec::new(),
            offence: 0,
            end: End::Right,
            guard: Guard::Off,
            man: Vec::new(),
            screens: Vec::new(),
            log: Vec::new(),
            truth: Truth::default(),
            picked_up: None,
            ran: Vec::new(),
            pass: None,
        }
    }

    /// Session time, seconds.
    pub(crate) fn now(&self) -> f64 {
        self.rec_ball.len() as f64 / WORLD_HZ
    }

    pub(crate) fn enter(&mut self, player: usize, at: V2) {
        self.bodies[player] = Some(Body::new(at, self.builds[player].clone()));
    }

    pub(crate) fn body(&self, player: usize) -> &Body {
        // Only players on the floor are ever cast.
        self.bodies[player]
            .as_ref()
            .expect("player is on the floor")
    }

    pub(crate) fn body_mut(&mut self, player: usize) -> &mut Body {
        self.bodies[player]
            .as_mut()
            .expect("player is on the floor")
    }

    pub(crate) fn pos(&self, player: usize) -> V2 {
        self.body(player).pos
    }

    /// Players of a team on the floor.
    pub(crate) fn five(&self, team: usize) -> Vec<usize> {
        (0..self.players.len())
            .filter(|&i| self.players[i].team == team && self.bodies[i].is_some())
            .collect()
    }

    pub(crate) fn to_court(&self, p: V2) -> V2 {
        let c = AttackPoint::new(p.x, p.y).to_court(self.court, self.end);
        v2(c.x, c.y)
    }

    pub(crate) fn to_attack(&self, p: V2) -> V2 {
        let a = CourtPoint::new(p.x, p.y).to_attack(self.court, self.end);
        v2(a.x, a.y)
    }

    pub(crate) fn ring(&self) -> V2 {
        let r = self.court.ring();
        self.to_court(v2(r.x, r.y))
    }

    pub(crate) fn happen(&mut self, player: usize, ev: Ev, intent: bool) {
        let t = self.now();
        self.log.push(Happened {
            t,
            player,
            ev,
            intent,
        });
    }

    /// Lets the world run for a while.
    pub(crate) fn run_for(&mut self, seconds: f64) {
        let ticks = (seconds * WORLD_HZ).round().max(0.0) as usize;
        for _ in 0..ticks {
            self.tick();
        }
    }

    /// Everyone of a team stops where they are.
    pub(crate) fn halt(&mut self, team: usize) {
        for p in self.five(team) {
            self.body_mut(p).stand();
        }
    }

    /// One tick of the world.
    pub(crate) fn tick(&mut self) {
        self.defend();
        let pushes = self.pushes();
        let ring = self.ring();
        let (ball, holder) = (self.ball.pos, self.ball.holder());
        for (i, push) in pushes.into_iter().enumerate() {
            let Some(b) = self.bodies[i].as_mut() else {
                continue;
            };
            let look = if holder == Some(i) {
                ring - b.pos
            } else {
                ball - b.pos
            };
            b.step(DT, push, look.unit(), &self.set.body, &mut self.rng);
        }
        self.keep_on_floor();
        let t = self.now();
        self.guide_pass();
        let carrier = holder
            .and_then(|h| self.bodies[h].as_ref())
            .map(|b| (b.seen(), b.facing, b.vel.len(), b.build.hold));
        let dribble = self.set.ball.dribble_m;
        self.ball.step(t, DT, carrier, dribble, &mut self.rng);
        if let Some(p) = self.pass.filter(|p| t >= p.catch) {
            self.pass = None;
            self.give(p.to);
            self.happen(p.to, Ev::Catches, false);
        }
        self.watch_screens();
        for (track, body) in self.rec.iter_mut().zip(&self.bodies) {
            track.push(body.as_ref().map(Body::seen));
        }
        self.rec_ball.push((self.ball.pos, self.ball.z));
    }

    /// The ball is in a player's hands from now on.
    pub(crate) fn give(&mut self, player: usize) {
        self.bring(player, Hold::Held { by: player });
        self.picked_up = None;
    }

    /// Brings the ball to where a player has it.
    fn bring(&mut self, player: usize, hold: Hold) {
        let b = self.body(player);
        let at = Ball::at_body(
            hold,
            b.seen(),
            b.facing,
            b.vel.len(),
            b.build.hold,
            self.set.ball.dribble_m,
        );
        self.ball.take(hold, at);
    }

    /// Picks the dribble up.
    pub(crate) fn pick_up(&mut self) {
        if let Hold::Dribbled { by } = self.ball.hold {
            self.give(by);
            self.picked_up = Some(by);
        }
    }

    /// Puts the ball on the floor, or goes on from a dribble on the spot.
    pub(crate) fn start_dribble(&mut self, player: usize) {
        let live = matches!(self.ball.hold, Hold::Dribbled { by } if by == player);
        if !live {
            self.bounce(player);
        }
        self.truth.dribbles.push(TrueDribble {
            player,
            time_s: self.now(),
            live,
        });
        self.happen(player, Ev::Dribbles, false);
    }

    /// The ball is dribbled from now on, without a new start.
    pub(crate) fn bounce(&mut self, player: usize) {
        self.bring(player, Hold::Dribbled { by: player });
    }

    /// Whether a pass is in the air.
    pub(crate) fn passing(&self) -> bool {
        self.pass.is_some()
    }

    /// Releases a pass now. `arc` is drawn when not given. Returns the catch time.
    pub(crate) fn start_pass(
        &mut self,
        from: usize,
        to: usize,
        arc: Option<Arc>,
        inbound: bool,
    ) -> f64 {
        let s = &self.set.ball;
        let (bounce, lob) = s.bounce_lob;
        let u = self.rng.unit();
        let far = self.pos(from).dist(self.pos(to));
        let arc = arc.unwrap_or(if u < bounce && far < 6.5 {
            Arc::Bounce
        } else if u < bounce + lob && far > 3.0 {
            Arc::Lob
        } else {
            Arc::Chest
        });
        let speed = match arc {
            Arc::Lob => s.pass_speed.0 * self.rng.range(0.8, 0.95),
            _ => self
                .rng
                .range(s.pass_speed.0, s.pass_speed.1)
                .min(s.pass_speed.0 + far * 0.7),
        };
        let start = self.now();
        let mut flight = 0.2;
        let mut aim = self.pos(to);
        for _ in 0..3 {
            aim = self.hands_of(to, flight);
            flight = (self.ball.pos.dist(aim) / speed).max(0.16);
        }
        // Catches fall on ticks, so that truth and tracks agree.
        let end = ((start + flight) * WORLD_HZ).round() / WORLD_HZ;
        self.ball.fly(aim, 1.2, start, end, arc);
        self.pass = Some(LivePass { to, catch: end });
        self.truth.passes.push(TruePass {
            from,
            to,
            release_s: start,
            catch_s: end,
            flight: arc.name().to_owned(),
            stolen: self.players[from].team != self.players[to].team,
            inbound,
        });
        self.picked_up = None;
        self.happen(from, Ev::Passes, false);
        self.happen(to, Ev::Catches, true);
        end
    }

    /// Where a player's hands will be, towards the ball, if he goes on as he goes.
    fn hands_of(&self, player: usize, after: f64) -> V2 {
        let b = self.body(player);
        let there = b.pos + b.vel * after;
        there + (self.ball.pos - there).unit() * b.build.hold.min(0.4)
    }

    /// The receiver and the ball find each other.
    fn guide_pass(&mut self) {
        let Some(p) = self.pass else { return };
        let t = self.now();
        let hands = self.hands_of(p.to, (p.catch - t).max(0.0));
        if let Hold::Air { to, .. } = &mut self.ball.hold {
            *to += (hands - *to) * (DT / 0.12);
        }
    }

    /// The ball changes hands within arm's reach.
    pub(crate) fn hand_off(&mut self, from: usize, to: usize) {
        self.truth.hand_offs.push(TrueHandOff {
            from,
            to,
            time_s: self.now(),
        });
        self.give(to);
        self.happen(from, Ev::HandsOff, false);
        self.happen(to, Ev::Catches, false);
    }

    /// A screener stands.
    pub(crate) fn set_screen(&mut self, screener: usize, user: usize) {
        let place = self.pos(screener);
        let ix = self.truth.screens.len();
        let t = self.now();
        self.truth.screens.push(TrueScreen {
            screener,
            user,
            set_s: t,
            used_s: None,
            contact_s: None,
            leave_s: t,
            place: CourtPoint::new(place.x, place.y),
        });
        let under = self.rng.chance(self.set.defence.under);
        self.screens.push(LiveScreen {
            screener,
            user,
            under,
            ix,
            nearest: (f64::MAX, t),
            contact: (f64::MAX, t),
        });
        self.happen(screener, Ev::Screens, false);
    }

    /// A screener leaves.
    pub(crate) fn leave_screen(&mut self, screener: usize) {
        let t = self.now();
        if let Some(k) = self.screens.iter().position(|s| s.screener == screener) {
            let s = self.screens.remove(k);
            let truth = &mut self.truth.screens[s.ix];
            truth.leave_s = t;
            truth.used_s = (s.nearest.0 <= 1.5).then_some(s.nearest.1);
            truth.contact_s = (s.contact.0 <= 1.0).then_some(s.contact.1);
        }
    }

    /// Ends every screen, when play stops.
    pub(crate) fn clear_screens(&mut self) {
        while let Some(s) = self.screens.first() {
            let p = s.screener;
            self.leave_screen(p);
        }
    }

    fn watch_screens(&mut self) {
        let t = self.now();
        for k in 0..self.screens.len() {
            let s = self.screens[k];
            let at = self.pos(s.screener);
            let user = self.pos(s.user).dist(at);
            if user < s.nearest.0 {
                self.screens[k].nearest = (user, t);
            }
            if let Some(&(d, _)) = self.man.iter().find(|(_, a)| *a == s.user)
                && self.guard != Guard::Off
            {
                let near = self.pos(d).dist(at);
                if near < s.contact.0 {
                    self.screens[k].contact = (near, t);
                }
            }
        }
    }

    /// Nearest distance at which the user of a standing screen has come by, metres.
    pub(crate) fn came_by(&self, screener: usize) -> Option<(f64, f64)> {
        self.screens
            .iter()
            .find(|s| s.screener == screener)
            .map(|s| (s.nearest.0, self.pos(s.user).dist(self.pos(screener))))
    }

    /// Velocities by which bodies keep each other apart.
    fn pushes(&self) -> Vec<V2> {
        let n = self.bodies.len();
        let mut out = vec![V2::default(); n];
        for i in 0..n {
            let Some(a) = &self.bodies[i] else { continue };
            for j in i + 1..n {
                let Some(b) = &self.bodies[j] else { continue };
                let mates = self.players[i].team == self.players[j].team;
                let room = if mates { 0.42 } else { 0.55 };
                let d = a.pos - b.pos;
                let far = d.len();
                if far >= room {
                    continue;
                }
                // Contact pushes along the line between, and lets one slide past the other.
                let out_dir = if far > 1e-6 { d.unit() } else { v2(1.0, 0.0) };
                let push = (out_dir + out_dir.left() * 0.4) * ((room - far) * 6.0);
                let planted = |p: usize| self.screens.iter().any(|s| s.screener == p);
                let (fa, fb) = match (planted(i), planted(j)) {
                    (true, false) => (0.0, 1.0),
                    (false, true) => (1.0, 0.0),
                    _ => (0.5, 0.5),
                };
                out[i] += push * fa;
                out[j] += push * -fb;
            }
        }
        out
    }

    fn keep_on_floor(&mut self) {
        let m = self.court.measures();
        // Walls are further off than lines.
        let (lx, ly) = (m.length / 2.0 + 3.0, m.width / 2.0 + 2.5);
        for b in self.bodies.iter_mut().flatten() {
            b.pos = v2(b.pos.x.clamp(-lx, lx), b.pos.y.clamp(-ly, ly));
        }
    }

    /// Who guards whom: the nearest at the time, no two the same.
    pub(crate) fn match_up(&mut self) {
        let (attack, defend) = (self.five(self.offence), self.five(1 - self.offence));
        let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
        let home = self.ring();
        for &d in &defend {
            for &a in &attack {
                // Bigger players guard those nearer to the basket; the nearest take the nearest.
                let gap = self.pos(d).dist(self.pos(a)) + 0.1 * self.pos(a).dist(home);
                pairs.push((gap, d, a));
            }
        }
        pairs.sort_by(|x, y| x.0.total_cmp(&y.0).then(x.1.cmp(&y.1)).then(x.2.cmp(&y.2)));
        self.man.clear();
        for (_, d, a) in pairs {
            if !self.man.iter().any(|&(x, y)| x == d || y == a) {
                self.man.push((d, a));
            }
        }
    }

    /// Position of a player some time ago.
    fn then(&self, player: usize, ago: f64) -> V2 {
        let track = &self.rec[player];
        let back = (ago * WORLD_HZ).round() as usize;
        let i = track.len().checked_sub(back.max(1));
        i.and_then(|i| track[i]).unwrap_or_else(|| self.pos(player))
    }

    fn defend(&mut self) {
        if self.guard == Guard::Off {
            return;
        }
        let s = &self.set.defence;
        let ring = self.ring();
        let ball = self.ball.pos;
        let holder = self.ball.holder();
        for k in 0..self.man.len() {
            let (d, a) = self.man[k];
            if self.bodies[d].is_none() || self.bodies[a].is_none() {
                continue;
            }
            let seen = self.then(a, s.delay_s);
            let before = self.then(a, s.delay_s + 0.1);
            let vel = ((seen - before) * 9.0).at_most(5.0);
            let (toward, gap) = if holder == Some(a) {
                (ring - seen, s.on_ball_m)
            } else {
                // Off the ball one stands between player and basket, a step towards the ball.
                let near = seen.dist(ball);
                let sag = if near < 5.5 { 1.5 } else { 2.6 };
                (
                    (ring - seen).unit() * 0.65 + (ball - seen).unit() * 0.35,
                    sag,
                )
            };
            let back = if self.guard == Guard::Back { 2.2 } else { 1.0 };
            let far = seen.dist(ring);
            let gap = (gap * back / s.pressure).min(0.8 * far);
            let mut at = seen + toward.unit() * gap;
            let here = self.pos(d);
            for sc in &self.screens {
                let stand = self.pos(sc.screener);
                if sc.user == a && here.dist(stand) < 1.1 {
                    // Over on the user's side, or under between screen and basket.
                    let side = if sc.under { ring - stand } else { seen - stand };
                    at = stand + side.unit() * 0.8;
                }
            }
            let cruise = if self.guard == Guard::Back { 4.3 } else { 5.2 };
            self.body_mut(d).intent = Intent::Mark { at, vel, cruise };
        }
    }
}

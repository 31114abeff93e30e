//! Tracks with known truth from a second, plainer world than `simulate`'s: different dynamics,
//! different noise, different habits. Recognition must not depend on either.
//!
//! Every body chases its place in the declared motion as a critically damped follower, with a
//! tempo of its own for each step, a habitual lag and a habitual offset; options break off;
//! between options players wander to places of their own.

use setdrift_court::{AttackPoint, Court, End};
use setdrift_events::model::{Outcome, Pace, Possession, Source, Start};
use setdrift_playbook::graph::{Graph, NodeIx};
use setdrift_recognise::score::Label;
use setdrift_tracks::{
    EndSpan, Known, OutcomeKind, Player, Session, SessionError, SessionKind, SessionParts, Team,
    Track,
};

/// What this world is like.
#[derive(Debug, Clone, Copy)]
pub struct World {
    /// Frames per second of the sensor.
    pub rate_hz: f64,
    /// Standard deviation of the sensor's noise per axis, metres.
    pub noise_m: f64,
    /// Correlation of the noise from frame to frame, 0..1.
    pub colour: f64,
    /// Share of samples lost, in bursts.
    pub lost: f64,
    /// Natural frequency of the followers, 1/s.
    pub eager: f64,
    /// Standard deviation of habitual offsets, metres.
    pub offset_m: f64,
    /// Greatest habitual lag, seconds.
    pub lag_s: f64,
    /// Chance that a step is broken off.
    pub break_off: f64,
}

impl World {
    /// A good optical system.
    pub const OPTICAL: Self = Self {
        rate_hz: 25.0,
        noise_m: 0.10,
        colour: 0.3,
        lost: 0.0,
        eager: 6.0,
        offset_m: 0.35,
        lag_s: 0.4,
        break_off: 0.10,
    };
    /// A radio system in a good hall.
    pub const RADIO: Self = Self {
        rate_hz: 20.0,
        noise_m: 0.25,
        colour: 0.6,
        lost: 0.03,
        ..Self::OPTICAL
    };
    /// A radio system in a poor one.
    pub const POOR: Self = Self {
        rate_hz: 10.0,
        noise_m: 0.35,
        colour: 0.6,
        lost: 0.08,
        ..Self::OPTICAL
    };
}

/// One possession with its truth.
pub struct Made {
    /// The tracks: five attackers, a ball.
    pub session: Session,
    /// Its bounds.
    pub possession: Possession,
    /// True option at 10 Hz over the possession; `None` for anything else.
    pub labels: Vec<Label>,
    /// Per true run: option, mirrored, session player index per role.
    pub runs: Vec<TrueRun>,
}

/// A run as it was made.
#[derive(Debug, Clone, PartialEq)]
pub struct TrueRun {
    /// Option index.
    pub option: usize,
    /// From, seconds.
    pub from_s: f64,
    /// To, seconds.
    pub to_s: f64,
    /// Whether it was run to the left.
    pub left: bool,
    /// Player per role.
    pub players: Vec<usize>,
    /// Whether its last step ended.
    pub complete: bool,
}

/// SplitMix64 (Steele, Lea & Flood 2014): small, seedable, the same everywhere.
pub struct Rng(u64);

impl Rng {
    /// From a seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// Uniform in 0..1.
    pub fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    fn below(&mut self, n: usize) -> usize {
        ((self.unit() * n as f64) as usize).min(n.saturating_sub(1))
    }

    /// Standard normal, by the sum of twelve uniforms (no library function that may differ).
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}

/// Frames per second at which bodies move before the sensor looks.
const STEP_HZ: f64 = 50.0;

struct Script {
    /// `aims[player][tick]`, attack frame, hand applied.
    aims: Vec<Vec<AttackPoint>>,
    ball: Vec<AttackPoint>,
    labels: Vec<Label>,
    runs: Vec<TrueRun>,
}

impl Script {
    fn empty(graph: &Graph) -> Self {
        Self {
            aims: vec![Vec::new(); graph.roles.len()],
            ball: Vec::new(),
            labels: Vec::new(),
            runs: Vec::new(),
        }
    }
}

/// Makes one possession.
///
/// # Errors
/// [`SessionError`] when what was made is no session; a bug of this module.
pub fn make(graph: &Graph, world: &World, seed: u64) -> Result<Made, SessionError> {
    let mut rng = Rng::new(seed.wrapping_mul(0x5851_f42d_4c95_7f2d).wrapping_add(1));
    let script = write_script(graph, world, &mut rng);
    sensed(graph, world, script, seed, &mut rng)
}

/// Makes one possession in which just these steps are run, one after another.
///
/// # Errors
/// As [`make`].
pub fn make_along(
    graph: &Graph,
    world: &World,
    seed: u64,
    nodes: &[NodeIx],
) -> Result<Made, SessionError> {
    let mut rng = Rng::new(seed.wrapping_mul(0x5851_f42d_4c95_7f2d).wrapping_add(2));
    let world = World {
        break_off: 0.0,
        ..*world
    };
    let script = write_along(graph, &world, &mut rng, nodes);
    sensed(graph, &world, script, seed, &mut rng)
}

fn sensed(
    graph: &Graph,
    world: &World,
    script: Script,
    seed: u64,
    rng: &mut Rng,
) -> Result<Made, SessionError> {
    let ticks = script.labels.len();
    let bodies: Vec<Vec<AttackPoint>> = script.aims.iter().map(|a| follow(a, world, rng)).collect();
    let frames = (ticks as f64 / STEP_HZ * world.rate_hz).floor() as usize;
    let court = graph.court.clone();
    let tracks: Vec<Track> = bodies
        .iter()
        .map(|b| sense(b, frames, world, &court, rng))
        .collect();
    let ball = sense(&script.ball, frames, world, &court, rng);
    let to_s = (frames.max(1) - 1) as f64 / world.rate_hz;
    let n = tracks.len();
    let session = Session::new(SessionParts {
        id: format!("other-{seed}"),
        date: None,
        kind: SessionKind::Practice,
        opponent: None,
        court,
        rate_hz: world.rate_hz,
        start_s: 0.0,
        teams: vec![Team {
            id: "ours".into(),
            name: "Ours".into(),
        }],
        players: (0..n)
            .map(|i| Player {
                id: format!("p{i}"),
                team: 0,
                number: None,
                name: None,
                roles: vec![],
            })
            .collect(),
        tracks,
        ball: Some(ball),
        ends: vec![EndSpan {
            from_s: 0.0,
            to_s: to_s + 1.0,
            end: End::Right,
        }],
    })?;
    let labels = (0..=(to_s * 10.0 + 1e-6).floor() as usize)
        .map(|i| script.labels[((i as f64 / 10.0 * STEP_HZ) as usize).min(ticks - 1)])
        .collect();
    let possession = Possession {
        number: 1,
        from_s: 0.0,
        to_s,
        team: 0,
        end: End::Right,
        attackers: (0..n).collect(),
        defenders: vec![],
        set_s: Some(0.0),
        start: Start::Repetition,
        result: Outcome {
            kind: OutcomeKind::Unknown,
            points: None,
            source: Source::Inferred,
        },
        second_chances: 0,
        pace: Pace::HalfCourt,
    };
    Ok(Made {
        session,
        possession,
        labels,
        runs: script.runs,
    })
}

fn write_along(graph: &Graph, world: &World, rng: &mut Rng, nodes: &[NodeIx]) -> Script {
    let mut s = Script::empty(graph);
    let left = rng.unit() < 0.4;
    let mut players = shuffled(graph.roles.len(), rng);
    for (i, &node) in nodes.iter().enumerate() {
        let edge = (i > 0).then(|| nodes[i - 1]).and_then(|before| {
            let mut edges = graph.edges.iter();
            edges.find(|e| e.from == before && e.to == node)
        });
        if let Some(refill) = edge.and_then(|e| e.refill.as_ref()) {
            players = refill.iter().map(|old| players[*old]).collect();
        }
        if i == 0 {
            let first = places(graph, node, left, &players);
            let ball = hand(graph.nodes[node].motion.ball[0], left);
            hold(&mut s, &first, ball, rng.between(0.3, 2.0));
        }
        play(&mut s, graph, node, left, &players, world, rng);
    }
    s
}

fn write_script(graph: &Graph, world: &World, rng: &mut Rng) -> Script {
    let roles = graph.roles.len();
    let mut s = Script::empty(graph);
    let left = rng.unit() < 0.4;
    let mut players = shuffled(roles, rng);
    let mut node = graph.starts[rng.below(graph.starts.len())];
    let first = places(graph, node, left, &players);
    let ball = hand(graph.nodes[node].motion.ball[0], left);
    hold(&mut s, &first, ball, rng.between(0.3, 2.0));
    for _ in 0..7 {
        let broke = play(&mut s, graph, node, left, &players, world, rng);
        let next: Vec<_> = graph.edges.iter().filter(|e| e.from == node).collect();
        if broke || next.is_empty() {
            wander(&mut s, graph, rng);
            if rng.unit() < 0.6 {
                break;
            }
            node = graph.starts[rng.below(graph.starts.len())];
            players = shuffled(roles, rng);
            let to = places(graph, node, left, &players);
            let ball = hand(graph.nodes[node].motion.ball[0], left);
            walk(&mut s, &to, ball, rng.between(2.0, 3.5));
            hold(&mut s, &to, ball, rng.between(0.3, 1.5));
            continue;
        }
        let edge = next[rng.below(next.len())];
        if graph.nodes[node].last && rng.unit() < 0.35 {
            let here: Vec<_> = s.aims.iter().filter_map(|a| a.last().copied()).collect();
            let ball = *s.ball.last().unwrap_or(&AttackPoint::default());
            let label = s.labels.last().copied().flatten();
            hold(&mut s, &here, ball, rng.between(0.2, 1.2));
            // Waiting at the end of an option is still that option's.
            let n = s.labels.len();
            for l in s.labels[..n].iter_mut().rev().take_while(|l| l.is_none()) {
                *l = label;
            }
            if let Some(run) = s.runs.last_mut() {
                run.to_s = n as f64 / STEP_HZ;
            }
        }
        if let Some(refill) = &edge.refill {
            players = refill.iter().map(|old| players[*old]).collect();
        }
        node = edge.to;
    }
    s
}

fn shuffled(n: usize, rng: &mut Rng) -> Vec<usize> {
    let mut all: Vec<usize> = (0..n).collect();
    for i in (1..n).rev() {
        all.swap(i, rng.below(i + 1));
    }
    all
}

fn hand(p: AttackPoint, left: bool) -> AttackPoint {
    if left { p.mirrored() } else { p }
}

/// Where each *player* stands at the first frame of a node.
fn places(graph: &Graph, node: NodeIx, left: bool, players: &[usize]) -> Vec<AttackPoint> {
    let mut at = vec![AttackPoint::default(); players.len()];
    for (role, player) in players.iter().enumerate() {
        at[*player] = hand(graph.nodes[node].motion.roles[role][0], left);
    }
    at
}

fn hold(s: &mut Script, at: &[AttackPoint], ball: AttackPoint, seconds: f64) {
    for _ in 0..(seconds * STEP_HZ) as usize {
        for (aim, p) in s.aims.iter_mut().zip(at) {
            aim.push(*p);
        }
        s.ball.push(ball);
        s.labels.push(None);
    }
}

fn walk(s: &mut Script, to: &[AttackPoint], ball: AttackPoint, seconds: f64) {
    let from: Vec<_> = s
        .aims
        .iter()
        .map(|a| a.last().copied().unwrap_or_default())
        .collect();
    let ball_from = s.ball.last().copied().unwrap_or(ball);
    let n = (seconds * STEP_HZ) as usize;
    for i in 0..n {
        let t = smooth(i as f64 / n as f64);
        for ((aim, a), b) in s.aims.iter_mut().zip(&from).zip(to) {
            aim.push(a.lerp(*b, t));
        }
        s.ball.push(ball_from.lerp(ball, t));
        s.labels.push(None);
    }
}

fn smooth(t: f64) -> f64 {
    t * t * (3.0 - 2.0 * t)
}

/// Plays one step; true when it broke off.
fn play(
    s: &mut Script,
    graph: &Graph,
    node: NodeIx,
    left: bool,
    players: &[usize],
    world: &World,
    rng: &mut Rng,
) -> bool {
    let n = &graph.nodes[node];
    let frames = n.motion.frames();
    let tempo = rng.between(0.75, 1.35);
    let broke = rng.unit() < world.break_off;
    let share = if broke { rng.between(0.35, 0.85) } else { 1.0 };
    let ticks = ((frames - 1) as f64 / 10.0 / tempo * share * STEP_HZ) as usize;
    let from_s = s.labels.len() as f64 / STEP_HZ;
    for i in 0..ticks {
        let f = i as f64 / STEP_HZ * 10.0 * tempo;
        let (a, b) = (f.floor() as usize, (f.floor() as usize + 1).min(frames - 1));
        for (role, player) in players.iter().enumerate() {
            let row = &n.motion.roles[role];
            s.aims[*player].push(hand(row[a].lerp(row[b], f.fract()), left));
        }
        s.ball.push(hand(
            n.motion.ball[a].lerp(n.motion.ball[b], f.fract()),
            left,
        ));
        s.labels.push(Some(n.option));
    }
    let to_s = s.labels.len() as f64 / STEP_HZ;
    let goes_on = s.runs.last().is_some_and(|r| {
        r.option == n.option && !r.complete && n.step > 0 && (r.to_s - from_s).abs() < 1e-9
    });
    let complete = n.last && !broke;
    match s.runs.last_mut() {
        Some(run) if goes_on => (run.to_s, run.complete) = (to_s, complete),
        _ => s.runs.push(TrueRun {
            option: n.option,
            from_s,
            to_s,
            left,
            players: players.to_vec(),
            complete,
        }),
    }
    broke
}

/// A few seconds of movement that is nobody's option.
fn wander(s: &mut Script, graph: &Graph, rng: &mut Rng) {
    let m = *graph.court.measures();
    for _ in 0..1 + rng.below(3) {
        let to: Vec<AttackPoint> = (0..s.aims.len())
            .map(|_| {
                AttackPoint::new(
                    rng.between(0.8, 9.5),
                    rng.between(-m.width / 2.0 + 0.6, m.width / 2.0 - 0.6),
                )
            })
            .collect();
        let ball = to[rng.below(to.len())];
        walk(s, &to, ball, rng.between(1.4, 2.6));
    }
}

/// A critically damped follower of its aim, a little beside it, early or late by habit.
///
/// A follower of frequency `w` trails a moving aim by `2 / w`; looking ahead by that and by the
/// mean habit keeps the team as a whole on the script's time.
fn follow(aim: &[AttackPoint], world: &World, rng: &mut Rng) -> Vec<AttackPoint> {
    let lag = (rng.between(0.0, world.lag_s) * STEP_HZ) as usize;
    let (ox, oy) = (rng.normal() * world.offset_m, rng.normal() * world.offset_m);
    let w = world.eager;
    let ahead = ((2.0 / w + world.lag_s / 2.0) * STEP_HZ) as usize;
    let dt = 1.0 / STEP_HZ;
    let start = aim.first().copied().unwrap_or_default();
    let (mut p, mut v) = (AttackPoint::new(start.x + ox, start.y + oy), (0.0, 0.0));
    (0..aim.len())
        .map(|i| {
            let a = aim[(i + ahead).saturating_sub(lag).min(aim.len() - 1)];
            let ax = w * w * (a.x + ox - p.x) - 2.0 * w * v.0;
            let ay = w * w * (a.y + oy - p.y) - 2.0 * w * v.1;
            v = (v.0 + ax * dt, v.1 + ay * dt);
            p = AttackPoint::new(p.x + v.0 * dt, p.y + v.1 * dt);
            p
        })
        .collect()
}

fn sense(
    path: &[AttackPoint],
    frames: usize,
    world: &World,
    court: &Court,
    rng: &mut Rng,
) -> Track {
    let mut t = Track::default();
    let fresh = (1.0 - world.colour * world.colour).sqrt() * world.noise_m;
    let (mut nx, mut ny) = (rng.normal() * world.noise_m, rng.normal() * world.noise_m);
    let mut gap = 0_usize;
    for f in 0..frames {
        nx = nx * world.colour + rng.normal() * fresh;
        ny = ny * world.colour + rng.normal() * fresh;
        if gap == 0 && rng.unit() < world.lost / (0.4 * world.rate_hz) {
            gap = (rng.between(0.1, 0.7) * world.rate_hz) as usize;
        }
        let i = ((f as f64 / world.rate_hz * STEP_HZ) as usize).min(path.len() - 1);
        let p = AttackPoint::new(path[i].x + nx, path[i].y + ny).to_court(court, End::Right);
        let known = gap == 0;
        gap = gap.saturating_sub(1);
        t.x.push(if known { p.x } else { 0.0 });
        t.y.push(if known { p.y } else { 0.0 });
        t.known.push(if known {
            Known::Measured
        } else {
            Known::Unknown
        });
    }
    t
}

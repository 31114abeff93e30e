//! Local costs: how far everyone and the ball are from a reference, under any hypothesis of hand
//! and roles.

use crate::{params::ValidParams, query::Query, roles::Assignment, templates::Templates};
use pulp::{Arch, Simd, WithSimd};
use setdrift_court::AttackPoint;
use setdrift_playbook::graph::RATE_HZ;
use std::ops::Range;

/// Where something should be, per reference frame, and what being off costs there: the form
/// `xx·dx² + xy·dx·dy + yy·dy²`. For the right hand; the left has `y` and `xy` with the other sign.
#[derive(Default)]
struct Path {
    x: Vec<f32>,
    y: Vec<f32>,
    xx: Vec<f32>,
    xy: Vec<f32>,
    yy: Vec<f32>,
}

/// One reference frame of a path.
#[derive(Clone, Copy)]
struct Spot {
    x: f32,
    y: f32,
    xx: f32,
    xy: f32,
    yy: f32,
}

impl Path {
    /// Adds a frame: `across` metres off the way cost `weight`, and so do `across + slack` along it,
    /// `slack` being how far one gets in the time that people differ by.
    fn push(&mut self, at: AttackPoint, across: f64, slack: (f64, f64), weight: f64) {
        let way = slack.0.hypot(slack.1);
        let (ux, uy) = if way > 0.0 {
            (slack.0 / way, slack.1 / way)
        } else {
            (0.0, 0.0)
        };
        let (across, along) = (across.powi(-2), (across + way).powi(-2));
        let less = along - across;
        self.x.push(at.x as f32);
        self.y.push(at.y as f32);
        self.xx.push((weight * (across + less * ux * ux)) as f32);
        self.xy.push((weight * 2.0 * less * ux * uy) as f32);
        self.yy.push((weight * (across + less * uy * uy)) as f32);
    }

    #[inline(always)]
    /// A frame as the declared hand (1) or the other (−1) has it.
    fn spot(&self, row: usize, sign: f32) -> Spot {
        Spot {
            x: self.x[row],
            y: self.y[row] * sign,
            xx: self.xx[row],
            xy: self.xy[row] * sign,
            yy: self.yy[row],
        }
    }
}

/// Metres a second at every reference frame, within its template.
fn velocities(templates: &Templates, of: &dyn Fn(usize) -> AttackPoint) -> Vec<(f64, f64)> {
    let mut out = vec![(0.0, 0.0); templates.frames.len()];
    for t in &templates.list {
        let (first, last) = (t.first, t.first + t.len - 1);
        for (row, out) in out.iter_mut().enumerate().take(last + 1).skip(first) {
            let (a, b) = (row.max(first + 1) - 1, (row + 1).min(last));
            if b > a {
                let (from, to) = (of(a), of(b));
                let rate = RATE_HZ / (b - a) as f64;
                *out = ((to.x - from.x) * rate, (to.y - from.y) * rate);
            }
        }
    }
    out
}

/// Where something was, per query frame; NaN where unknown.
struct Seen {
    x: Vec<f32>,
    y: Vec<f32>,
}

impl Seen {
    fn new(samples: &[Option<AttackPoint>]) -> Self {
        let of = |f: fn(AttackPoint) -> f64| {
            let value = |s: &Option<AttackPoint>| s.map_or(f32::NAN, |p| f(p) as f32);
            samples.iter().map(value).collect()
        };
        Self {
            x: of(|p| p.x),
            y: of(|p| p.y),
        }
    }
}

/// The costs of one query against all references.
///
/// A role without a player, and a sample that is unknown, cost their share of being off script:
/// they speak neither for an option nor against it.
pub struct Costs {
    frames: usize,
    roles: Vec<Path>,
    ball: Path,
    /// References that say nothing of the ball.
    ball_open: Vec<bool>,
    players: Vec<Seen>,
    seen_ball: Seen,
    cap: f32,
    cap_ball: f32,
    unknown: f32,
    unknown_ball: f32,
}

impl Costs {
    /// Lays out a query and the references.
    pub fn new(query: &Query, templates: &Templates, params: &ValidParams) -> Self {
        let roles = templates.frames.first().map_or(0, |f| f.roles.len());
        let has_ball = query.ball.iter().any(Option::is_some);
        let ball_weight = if has_ball { params.ball_weight } else { 0.0 };
        let share = 1.0 / (roles as f64 + ball_weight);
        let ball_share = ball_weight * share;
        let path = |of: &dyn Fn(usize) -> AttackPoint, tolerance: &dyn Fn(usize) -> f64, weight| {
            let mut path = Path::default();
            let slack = params.timing_s;
            for (row, (vx, vy)) in velocities(templates, of).into_iter().enumerate() {
                path.push(of(row), tolerance(row), (slack * vx, slack * vy), weight);
            }
            path
        };
        let frames = &templates.frames;
        Self {
            frames: query.frames(),
            roles: (0..roles)
                .map(|role| {
                    let tolerance = |i: usize| frames[i].tolerance[role] * params.tolerance_scale;
                    path(&|i| frames[i].roles[role], &tolerance, share)
                })
                .collect(),
            ball: path(
                &|i| frames[i].ball.unwrap_or_default(),
                &|_| params.ball_tolerance_m,
                ball_share,
            ),
            ball_open: templates.frames.iter().map(|f| f.ball.is_none()).collect(),
            players: query.paths.iter().map(|p| Seen::new(p)).collect(),
            seen_ball: Seen::new(&query.ball),
            cap: (params.cap * share) as f32,
            cap_ball: (params.cap * ball_share) as f32,
            unknown: (params.off_script * share) as f32,
            unknown_ball: (params.off_script * ball_share) as f32,
        }
    }

    /// Writes the local costs of one query frame under one hypothesis for the reference frames
    /// `first..first + out.len()`: the ball, then role after role.
    pub fn fill(
        &self,
        t: usize,
        hand: usize,
        assignment: &Assignment,
        first: usize,
        out: &mut [f32],
    ) {
        Arch::new().dispatch(Fill {
            costs: self,
            t,
            hand,
            assignment,
            first,
            out,
        });
    }
}

/// One call of [`Costs::fill`].
struct Fill<'a> {
    costs: &'a Costs,
    t: usize,
    hand: usize,
    assignment: &'a Assignment,
    first: usize,
    out: &'a mut [f32],
}

impl WithSimd for Fill<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        let Self {
            costs,
            t,
            hand,
            assignment,
            first,
            out,
        } = self;
        let rows = first..first + out.len();
        let at = place(&costs.seen_ball, t, hand);
        match at {
            Some(at) => {
                out.fill(0.0);
                add(out, &costs.ball, rows.clone(), at, costs.cap_ball);
                for (cost, open) in out.iter_mut().zip(&costs.ball_open[rows.clone()]) {
                    *cost = if *open { costs.unknown_ball } else { *cost };
                }
            }
            None => out.fill(costs.unknown_ball),
        }
        for (path, player) in costs.roles.iter().zip(assignment) {
            match player.and_then(|p| place(&costs.players[p], t, hand)) {
                Some(at) => add(out, path, rows.clone(), at, costs.cap),
                None => out.iter_mut().for_each(|cost| *cost += costs.unknown),
            }
        }
    }
}

/// A sample as the declared hand sees it.
#[inline(always)]
fn place(seen: &Seen, t: usize, hand: usize) -> Option<(f32, f32)> {
    let (x, y) = (seen.x[t], seen.y[t]);
    (!x.is_nan()).then_some((x, if hand == 0 { y } else { -y }))
}

#[inline(always)]
fn add(out: &mut [f32], path: &Path, rows: Range<usize>, at: (f32, f32), cap: f32) {
    let places = path.x[rows.clone()].iter().zip(&path.y[rows.clone()]);
    let forms = path.xx[rows.clone()]
        .iter()
        .zip(&path.xy[rows.clone()])
        .zip(&path.yy[rows]);
    for ((cost, (x, y)), ((xx, xy), yy)) in out.iter_mut().zip(places).zip(forms) {
        let spot = Spot {
            x: *x,
            y: *y,
            xx: *xx,
            xy: *xy,
            yy: *yy,
        };
        *cost += off(at, spot, cap);
    }
}

#[inline(always)]
fn off(at: (f32, f32), spot: Spot, cap: f32) -> f32 {
    let (dx, dy) = (at.0 - spot.x, at.1 - spot.y);
    let cost = (spot.xx * dx + spot.xy * dy) * dx + spot.yy * dy * dy;
    if cost < cap { cost } else { cap }
}

/// Least cost of every (hand, role, player) over the frames of a template or of one of its parts, per
/// query frame: summed over roles, a lower bound on what a word can cost at a frame, whatever the warp.
pub struct Bounds {
    roles: usize,
    players: usize,
    /// `[hand][role][player]`.
    bodies: Vec<Least>,
    /// `[hand]`.
    ball: Vec<Least>,
    unknown: Vec<f32>,
    /// Per template, its parts.
    parts: Vec<Vec<Range<usize>>>,
    /// Per template and part, the fewest frames it can last.
    shortest: Vec<Vec<usize>>,
}

/// Least costs of one body or the ball.
struct Least {
    frames: usize,
    /// `[template][t]`.
    whole: Vec<f32>,
    /// `[template][part][t]`, with where each template begins.
    parts: Vec<f32>,
    first: Vec<usize>,
}

/// Most parts that a template is cut into.
const PARTS: usize = 4;

/// Cuts a template of `len` rows into parts that the fastest tempo cannot leap over.
fn parts(len: usize, fastest: usize) -> Vec<Range<usize>> {
    let count = (len / fastest).clamp(1, PARTS);
    let cut = |i: usize| i * len / count;
    (0..count).map(|i| cut(i)..cut(i + 1)).collect()
}

/// The fewest frames of each part. Only a word's first row is never leapt over, so only a word that is
/// one part takes as many frames as all its rows need.
fn shortest(parts: &[Range<usize>], fastest: usize) -> Vec<usize> {
    match parts {
        [whole] => vec![whole.len().div_ceil(fastest).max(1)],
        parts => parts.iter().map(|part| part.len() / fastest).collect(),
    }
}

impl Bounds {
    /// Takes minima over each template's frames.
    pub fn new(costs: &Costs, templates: &Templates, fastest: usize) -> Self {
        let parts: Vec<_> = templates
            .list
            .iter()
            .map(|t| parts(t.len, fastest))
            .collect();
        let least = |path, seen, hand, cap, unknown, open: &[bool]| {
            let mut all = Least {
                frames: costs.frames,
                whole: Vec::with_capacity(templates.list.len() * costs.frames),
                parts: Vec::new(),
                first: Vec::new(),
            };
            for (t, parts) in templates.list.iter().zip(&parts) {
                all.first.push(all.parts.len());
                let whole = all.whole.len();
                all.whole.resize(whole + costs.frames, f32::INFINITY);
                for part in parts {
                    let rows = t.first + part.start..t.first + part.end;
                    let start = all.parts.len();
                    least(&mut all.parts, path, rows.clone(), seen, hand, cap, unknown);
                    let part = &mut all.parts[start..];
                    if open.get(rows).is_some_and(|open| open.contains(&true)) {
                        part.iter_mut().for_each(|cost| *cost = cost.min(unknown));
                    }
                    for (whole, cost) in all.whole[whole..].iter_mut().zip(part) {
                        *whole = if *cost < *whole { *cost } else { *whole };
                    }
                }
            }
            all
        };
        let (mut bodies, mut ball) = (Vec::new(), Vec::new());
        for hand in 0..2 {
            for path in &costs.roles {
                for seen in &costs.players {
                    bodies.push(least(path, seen, hand, costs.cap, costs.unknown, &[]));
                }
            }
            let (seen, open) = (&costs.seen_ball, &costs.ball_open);
            let (cap, unknown) = (costs.cap_ball, costs.unknown_ball);
            ball.push(least(&costs.ball, seen, hand, cap, unknown, open));
        }
        Self {
            roles: costs.roles.len(),
            players: costs.players.len(),
            bodies,
            ball,
            unknown: vec![costs.unknown; costs.frames],
            shortest: parts.iter().map(|parts| shortest(parts, fastest)).collect(),
            parts,
        }
    }

    /// Number of roles.
    pub fn roles(&self) -> usize {
        self.roles
    }

    /// Number of players.
    pub fn players(&self) -> usize {
        self.players
    }

    /// The reference frames, within a template, of each of its parts.
    pub fn parts(&self, template: usize) -> &[Range<usize>] {
        &self.parts[template]
    }

    /// The fewest frames that each part of a template can last.
    pub fn shortest(&self, template: usize) -> &[usize] {
        &self.shortest[template]
    }

    /// Least cost of the ball, per query frame.
    pub fn ball(&self, hand: usize, template: usize) -> &[f32] {
        self.ball[hand].whole(template)
    }

    /// Least cost of a role under a player, per query frame.
    pub fn body(&self, hand: usize, role: usize, player: Option<usize>, template: usize) -> &[f32] {
        match player {
            Some(player) => self.least(hand, role, player).whole(template),
            None => &self.unknown,
        }
    }

    /// Adds up the least costs of a part of a word in some query frames.
    pub fn part(
        &self,
        hand: usize,
        assignment: &Assignment,
        (template, part): (usize, usize),
        frames: Range<usize>,
        out: &mut [f32],
    ) {
        out.copy_from_slice(&self.ball[hand].part(template, part)[frames.clone()]);
        for (role, player) in assignment.iter().enumerate() {
            let row = match player {
                Some(player) => self.least(hand, role, *player).part(template, part),
                None => &self.unknown,
            };
            for (sum, cost) in out.iter_mut().zip(&row[frames.clone()]) {
                *sum += cost;
            }
        }
    }

    fn least(&self, hand: usize, role: usize, player: usize) -> &Least {
        &self.bodies[(hand * self.roles + role) * self.players + player]
    }
}

impl Least {
    fn whole(&self, template: usize) -> &[f32] {
        &self.whole[template * self.frames..][..self.frames]
    }

    fn part(&self, template: usize, part: usize) -> &[f32] {
        &self.parts[self.first[template] + part * self.frames..][..self.frames]
    }
}

/// The least cost, per query frame, over some reference frames.
struct Over<'a> {
    path: &'a Path,
    rows: Range<usize>,
    seen: &'a Seen,
    hand: usize,
    cap: f32,
    unknown: f32,
    out: &'a mut [f32],
}

/// Query frames looked at together.
const LANES: usize = 16;

impl WithSimd for Over<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        let sign = if self.hand == 0 { 1.0 } else { -1.0 };
        let (x, y) = (self.seen.x.chunks(LANES), self.seen.y.chunks(LANES));
        for ((out, x), y) in self.out.chunks_mut(LANES).zip(x).zip(y) {
            let (mut sx, mut sy) = ([f32::NAN; LANES], [f32::NAN; LANES]);
            sx[..x.len()].copy_from_slice(x);
            sy[..y.len()].copy_from_slice(y);
            let mut least = [self.cap; LANES];
            for row in self.rows.clone() {
                let spot = self.path.spot(row, sign);
                for i in 0..LANES {
                    // Comparing with NaN is false and leaves the cap.
                    least[i] = off((sx[i], sy[i]), spot, least[i]);
                }
            }
            for (least, sx) in least.iter_mut().zip(&sx) {
                *least = if sx.is_nan() { self.unknown } else { *least };
            }
            out.copy_from_slice(&least[..out.len()]);
        }
    }
}

/// Appends, per query frame, the least cost over some reference frames.
fn least(
    out: &mut Vec<f32>,
    path: &Path,
    rows: Range<usize>,
    seen: &Seen,
    hand: usize,
    cap: f32,
    unknown: f32,
) {
    let start = out.len();
    out.resize(start + seen.x.len(), cap);
    Arch::new().dispatch(Over {
        path,
        rows,
        seen,
        hand,
        cap,
        unknown,
        out: &mut out[start..],
    });
}

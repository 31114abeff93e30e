//! Local costs: how far everyone and the ball are from a reference, under any hypothesis of hand
//! and roles.

use crate::{params::ValidParams, query::Query, roles::Assignment, templates::Templates};
use pulp::{Arch, Simd, WithSimd};
use setdrift_court::AttackPoint;
use setdrift_playbook::graph::RATE_HZ;

/// Where something should be, per reference frame, and what being off costs there: the form
/// `xx·dx² + xy·dx·dy + yy·dy²`. For the right hand; the left has `y` and `xy` with the other sign.
#[derive(Default)]
pub(crate) struct Path {
    pub(crate) x: Vec<f32>,
    pub(crate) y: Vec<f32>,
    pub(crate) xx: Vec<f32>,
    pub(crate) xy: Vec<f32>,
    pub(crate) yy: Vec<f32>,
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

    /// Follows the frames by what may be read and is not used.
    fn fill_up(&mut self) {
        for column in [
            &mut self.x,
            &mut self.y,
            &mut self.xx,
            &mut self.xy,
            &mut self.yy,
        ] {
            column.resize(column.len() + MOST_LANES, 0.0);
        }
    }

    /// Number of frames.
    pub(crate) fn rows(&self) -> usize {
        self.x.len() - MOST_LANES
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
pub(crate) struct Seen {
    pub(crate) x: Vec<f32>,
    pub(crate) y: Vec<f32>,
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

    /// Frames at which it is unknown.
    pub(crate) fn gaps(&self) -> Vec<usize> {
        let unknown = self.x.iter().enumerate().filter(|(_, x)| x.is_nan());
        unknown.map(|(t, _)| t).collect()
    }
}

/// The costs of one query against all references.
///
/// A role without a player, and a sample that is unknown, cost their share of being off script:
/// they speak neither for an option nor against it.
pub struct Costs {
    pub(crate) roles: Vec<Path>,
    pub(crate) ball: Path,
    /// References that say nothing of the ball.
    pub(crate) ball_open: Vec<bool>,
    pub(crate) players: Vec<Seen>,
    pub(crate) seen_ball: Seen,
    pub(crate) cap: f32,
    pub(crate) cap_ball: f32,
    pub(crate) unknown: f32,
    pub(crate) unknown_ball: f32,
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
            path.fill_up();
            path
        };
        let frames = &templates.frames;
        Self {
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

/// Lanes of the widest register: paths are followed by so many rows more, so that all can be read
/// whole.
const MOST_LANES: usize = 16;

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

    /// As many reference frames at a time as a register holds: most words are little longer.
    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let costs = self.costs;
        let ball = place(&costs.seen_ball, self.t, self.hand);
        for (step, out) in self.out.chunks_mut(S::F32_LANES).enumerate() {
            let first = self.first + step * S::F32_LANES;
            // A template says where the ball is in all of its frames, or in none.
            let mut sum = match ball {
                Some(at) if !costs.ball_open[first] => {
                    off_rows(simd, at, &costs.ball, first, costs.cap_ball)
                }
                _ => simd.splat_f32s(costs.unknown_ball),
            };
            for (path, player) in costs.roles.iter().zip(self.assignment) {
                let at = player.and_then(|p| place(&costs.players[p], self.t, self.hand));
                let more = match at {
                    Some(at) => off_rows(simd, at, path, first, costs.cap),
                    None => simd.splat_f32s(costs.unknown),
                };
                sum = simd.add_f32s(sum, more);
            }
            simd.partial_store_f32s(out, sum);
        }
    }
}

/// A sample as the declared hand sees it.
#[inline(always)]
fn place(seen: &Seen, t: usize, hand: usize) -> Option<(f32, f32)> {
    let (x, y) = (seen.x[t], seen.y[t]);
    (!x.is_nan()).then_some((x, if hand == 0 { y } else { -y }))
}

/// What being off costs against as many reference frames from `first` on as a register holds.
#[inline(always)]
fn off_rows<S: Simd>(simd: S, (x, y): (f32, f32), path: &Path, first: usize, cap: f32) -> S::f32s {
    let of = |column: &[f32]| S::as_simd_f32s(&column[first..first + S::F32_LANES]).0[0];
    let dx = simd.sub_f32s(simd.splat_f32s(x), of(&path.x));
    let dy = simd.sub_f32s(simd.splat_f32s(y), of(&path.y));
    let across = simd.add_f32s(
        simd.mul_f32s(of(&path.xx), dx),
        simd.mul_f32s(of(&path.xy), dy),
    );
    let cost = simd.add_f32s(
        simd.mul_f32s(across, dx),
        simd.mul_f32s(simd.mul_f32s(of(&path.yy), dy), dy),
    );
    simd.min_f32s(cost, simd.splat_f32s(cap))
}

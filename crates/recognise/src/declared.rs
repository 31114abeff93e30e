//! What being off a playbook's references costs, whatever was seen.

use crate::{params::ValidParams, spots::Spots, templates::Templates};
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

/// Lanes of the widest register: paths are followed by so many rows more, so that all can be read
/// whole.
const MOST_LANES: usize = 16;

/// Where everyone and the ball should be, and what being off costs there.
///
/// A role without a player, and a sample that is unknown, cost their share of being off script:
/// they speak neither for an option nor against it.
pub struct Declared {
    pub(crate) roles: Vec<Path>,
    pub(crate) ball: Path,
    /// `[hand][role]`.
    pub(crate) spots: [Vec<Spots>; 2],
    /// `[hand]`.
    pub(crate) ball_spots: [Spots; 2],
    /// References that say nothing of the ball.
    pub(crate) ball_open: Vec<bool>,
    pub(crate) cap: f32,
    pub(crate) cap_ball: f32,
    pub(crate) unknown: f32,
    pub(crate) unknown_ball: f32,
}

impl Declared {
    /// For possessions without a ball in the data, and with one.
    pub fn either(templates: &Templates, params: &ValidParams) -> [Self; 2] {
        [false, true].map(|has_ball| Self::new(templates, params, has_ball))
    }

    /// Lays out the references; without a ball in the data it counts for nothing.
    fn new(templates: &Templates, params: &ValidParams, has_ball: bool) -> Self {
        let roles = templates.frames.first().map_or(0, |f| f.roles.len());
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
        let roles: Vec<Path> = (0..roles)
            .map(|role| {
                let tolerance = |i: usize| frames[i].tolerance[role] * params.tolerance_scale;
                path(&|i| frames[i].roles[role], &tolerance, share)
            })
            .collect();
        let ball = path(
            &|i| frames[i].ball.unwrap_or_default(),
            &|_| params.ball_tolerance_m,
            ball_share,
        );
        let hands = [0, 1];
        Self {
            spots: hands.map(|hand| roles.iter().map(|path| Spots::new(path, hand)).collect()),
            ball_spots: hands.map(|hand| Spots::new(&ball, hand)),
            roles,
            ball,
            ball_open: templates.frames.iter().map(|f| f.ball.is_none()).collect(),
            cap: (params.cap * share) as f32,
            cap_ball: (params.cap * ball_share) as f32,
            unknown: (params.off_script * share) as f32,
            unknown_ball: (params.off_script * ball_share) as f32,
        }
    }
}

//! Local costs of one possession against every reference, and the bounds that decide which
//! words can matter at all.

use crate::{params::ValidParams, query::Query, roles::Assignment, templates::Templates};
use setdrift_court::AttackPoint;

/// Costs of every (hand, role, player) and of the ball at every (query frame, reference frame).
///
/// Sharing: a word's cost is a sum of rows of this table, so 240 hypotheses cost no more distance
/// computations than 50 rows.
pub struct CostTable {
    frames: usize,
    refs: usize,
    roles: usize,
    players: usize,
    /// `[hand][role][player][t][reference frame]`, already weighted.
    bodies: Vec<f32>,
    /// `[hand][t][reference frame]`, already weighted.
    ball: Vec<f32>,
    /// What one unknown or empty role costs in a frame, weighted.
    unknown_role: f32,
}

impl CostTable {
    /// Computes all costs of a query.
    pub fn new(query: &Query, templates: &Templates, params: &ValidParams) -> Self {
        let frames = query.frames();
        let refs = templates.frames.len();
        let roles = templates.frames.first().map_or(0, |f| f.roles.len());
        let players = query.players.len();
        let has_ball = query.ball.iter().any(Option::is_some);
        let ball_weight = if has_ball { params.ball_weight } else { 0.0 };
        let share = 1.0 / (roles as f64 + ball_weight);
        let mut table = Self {
            frames,
            refs,
            roles,
            players,
            bodies: vec![0.0; 2 * roles * players * frames * refs],
            ball: vec![0.0; 2 * frames * refs],
            unknown_role: (params.off_script * share) as f32,
        };
        for hand in 0..2 {
            let sign = if hand == 0 { 1.0 } else { -1.0 };
            for role in 0..roles {
                let places: Vec<(f32, f32, f32)> = templates
                    .frames
                    .iter()
                    .map(|f| {
                        let tol = f.tolerance[role] * params.tolerance_scale;
                        let p = f.roles[role];
                        (
                            p.x as f32,
                            (p.y * sign) as f32,
                            (share / (tol * tol)) as f32,
                        )
                    })
                    .collect();
                for player in 0..players {
                    for t in 0..frames {
                        let start = table.body_row(hand, role, player, t);
                        let row = &mut table.bodies[start..start + refs];
                        fill_row(row, query.paths[player][t], &places, params, share);
                    }
                }
            }
            let tol = params.ball_tolerance_m;
            let weight = ball_weight * share;
            let places: Vec<(f32, f32, f32)> = templates
                .frames
                .iter()
                .map(|f| {
                    let p = f.ball.unwrap_or_default();
                    (
                        p.x as f32,
                        (p.y * sign) as f32,
                        (weight / (tol * tol)) as f32,
                    )
                })
                .collect();
            for t in 0..frames {
                let start = (hand * frames + t) * refs;
                let row = &mut table.ball[start..start + refs];
                fill_row(row, query.ball[t], &places, params, weight);
                for (cost, f) in row.iter_mut().zip(&templates.frames) {
                    if f.ball.is_none() {
                        *cost = (params.off_script * weight) as f32;
                    }
                }
            }
        }
        table
    }

    fn body_row(&self, hand: usize, role: usize, player: usize, t: usize) -> usize {
        (((hand * self.roles + role) * self.players + player) * self.frames + t) * self.refs
    }

    /// Adds up the local costs of one hypothesis for reference frames `first..first + out.len()`.
    pub fn fill(
        &self,
        t: usize,
        hand: usize,
        assignment: &Assignment,
        first: usize,
        out: &mut [f32],
    ) {
        let n = out.len();
        let ball = (hand * self.frames + t) * self.refs + first;
        out.copy_from_slice(&self.ball[ball..ball + n]);
        add_roles(out, assignment, self.unknown_role, |role, player| {
            let start = self.body_row(hand, role, player, t) + first;
            &self.bodies[start..start + n]
        });
    }
}

/// Adds each role's row under an assignment; a role without a player costs the same everywhere.
fn add_roles<'a>(
    out: &mut [f32],
    assignment: &Assignment,
    unknown_role: f32,
    row: impl Fn(usize, usize) -> &'a [f32],
) {
    for (role, player) in assignment.iter().enumerate() {
        if let Some(player) = player {
            for (o, c) in out.iter_mut().zip(row(role, *player)) {
                *o += c;
            }
        } else {
            for o in out.iter_mut() {
                *o += unknown_role;
            }
        }
    }
}

fn fill_row(
    row: &mut [f32],
    sample: Option<AttackPoint>,
    places: &[(f32, f32, f32)],
    params: &ValidParams,
    weight: f64,
) {
    // Unknown is neutral: it neither speaks for the option nor against it.
    let Some(p) = sample else {
        row.fill((params.off_script * weight) as f32);
        return;
    };
    let cap = (params.cap * weight) as f32;
    let (px, py) = (p.x as f32, p.y as f32);
    for (cost, (x, y, scale)) in row.iter_mut().zip(places) {
        let (dx, dy) = (px - x, py - y);
        *cost = ((dx * dx + dy * dy) * scale).min(cap);
    }
}

/// Least cost of every (hand, role, player) over one template's frames, per query frame: the
/// parts of a lower bound on what a word can cost at a frame, whatever the warp.
pub struct Bounds {
    frames: usize,
    roles: usize,
    players: usize,
    templates: usize,
    /// `[hand][role][player][template][t]`.
    bodies: Vec<f32>,
    /// `[hand][template][t]`.
    ball: Vec<f32>,
    unknown_role: f32,
}

impl Bounds {
    /// Takes minima over each template's rows.
    pub fn new(table: &CostTable, templates: &Templates) -> Self {
        let n = templates.list.len();
        let mut bounds = Self {
            frames: table.frames,
            roles: table.roles,
            players: table.players,
            templates: n,
            bodies: Vec::with_capacity(2 * table.roles * table.players * n * table.frames),
            ball: Vec::with_capacity(2 * n * table.frames),
            unknown_role: table.unknown_role,
        };
        let least = |row: &[f32]| row.iter().copied().fold(f32::INFINITY, f32::min);
        for block in 0..2 * table.roles * table.players {
            for t in &templates.list {
                for frame in 0..table.frames {
                    let start = (block * table.frames + frame) * table.refs + t.first;
                    bounds
                        .bodies
                        .push(least(&table.bodies[start..start + t.len]));
                }
            }
        }
        for hand in 0..2 {
            for t in &templates.list {
                for frame in 0..table.frames {
                    let start = (hand * table.frames + frame) * table.refs + t.first;
                    bounds.ball.push(least(&table.ball[start..start + t.len]));
                }
            }
        }
        bounds
    }

    /// Writes the lower bound of a word's cost at every query frame.
    pub fn fill(&self, hand: usize, assignment: &Assignment, template: usize, out: &mut [f32]) {
        let ball = (hand * self.templates + template) * self.frames;
        out.copy_from_slice(&self.ball[ball..ball + self.frames]);
        add_roles(out, assignment, self.unknown_role, |role, player| {
            let block = (hand * self.roles + role) * self.players + player;
            let start = (block * self.templates + template) * self.frames;
            &self.bodies[start..start + self.frames]
        });
    }
}

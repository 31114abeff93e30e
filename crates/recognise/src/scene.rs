//! Where everyone was in a possession, and where a step would have had them.

use crate::{
    decode::{Found, Key},
    faults::as_declared,
    query::Query,
    roles::Assignment,
    templates::Templates,
};
use setdrift_court::AttackPoint;
use std::ops::Range;

/// Tempos at which a few frames of a step are laid beside those seen, as multiples of the declared one.
pub const TEMPOS: [f64; 9] = [0.6, 0.68, 0.78, 0.88, 1.0, 1.14, 1.3, 1.48, 1.7];

/// A possession with what it is compared with.
pub struct Scene<'a> {
    /// The possession.
    pub query: &'a Query,
    /// The references.
    pub templates: &'a Templates,
    /// Role assignments of the search.
    pub assignments: &'a [Assignment],
    /// Weight of the ball beside a body's 1.
    pub ball_weight: f64,
}

/// Someone with a role, or the ball.
#[derive(Clone, Copy)]
pub struct Body {
    /// The role; for the ball, the number after the last role's.
    pub role: usize,
    /// Row of the query; `None` for the ball.
    pub row: Option<usize>,
    /// The ball's beside a role's 1.
    pub weight: f64,
}

impl Body {
    /// Whoever has a role.
    pub fn of(role: usize, row: usize) -> Self {
        Self {
            role,
            row: Some(row),
            weight: 1.0,
        }
    }
}

impl Scene<'_> {
    /// All roles that somebody has, and the ball.
    pub fn bodies(&self, key: Key) -> impl Iterator<Item = Body> {
        let rows = self.assignments[key.assignment].iter().enumerate();
        rows.filter_map(|(role, row)| row.map(|row| Body::of(role, row)))
            .chain([self.ball(key)])
    }

    /// The ball.
    pub fn ball(&self, key: Key) -> Body {
        Body {
            role: self.assignments[key.assignment].len(),
            row: None,
            weight: self.ball_weight,
        }
    }

    /// Where a body was, with the hand undone.
    pub fn seen(&self, key: Key, body: Body, frames: Range<usize>) -> Vec<Option<AttackPoint>> {
        let samples = body
            .row
            .map_or(&self.query.ball, |row| &self.query.paths[row]);
        let samples = samples[frames].iter();
        samples
            .map(|p| p.map(|p| as_declared(p, key.hand)))
            .collect()
    }

    /// A role's place, or the ball's, at a reference frame; `None` where the reference does not say.
    pub fn place(&self, template: usize, role: usize, at: f64) -> Option<AttackPoint> {
        let t = &self.templates.list[template];
        let at = at.min((t.len - 1) as f64);
        let low = at.floor() as usize;
        let of = |frame: usize| {
            let frame = &self.templates.frames[t.first + frame];
            frame.roles.get(role).copied().or(frame.ball)
        };
        Some(of(low)?.lerp(of((low + 1).min(t.len - 1))?, at.fract()))
    }

    /// How far a body is from where a run would have it, frame by frame, metres; `None` where either
    /// is not known.
    pub fn off(&self, run: &Found, key: Key, body: Body) -> Vec<Option<f64>> {
        let seen = self.seen(key, body, run.start..run.end);
        let off = |(seen, at): (Option<AttackPoint>, &u32)| {
            let place = self.place(key.template, body.role, f64::from(*at))?;
            Some(seen?.distance(place))
        };
        seen.into_iter().zip(&run.alignment).map(off).collect()
    }
}

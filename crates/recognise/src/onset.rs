//! When the movement of a step began.
//!
//! One warp over all bodies follows places, and where one step goes over into another everyone
//! stands: any frame of the rest would do. So the meeting is looked for anew, among the few frames
//! about it: what came before as it was warped, then the step at an even tempo from a frame on.
//! Everyone may be beside their place by as much as they like, all the time alike; the ways they
//! make tell when they set out, and the frame that leaves the least squares is taken.

use crate::{
    decode::{Found, Key},
    faults::as_declared,
    query::Query,
    roles::Assignment,
    templates::{Kind, Templates},
};
use setdrift_court::AttackPoint;
use std::ops::Range;

/// Frames before and after the decoded bound that are looked at: the end of what came before, and
/// as much of the step as most single movements last.
const BEFORE: usize = 12;
const AFTER: usize = 20;

/// The bound is looked for this many frames to either side: a second.
const REACH: usize = 10;

/// Tempos that the step's beginning is tried at, as multiples of the declared one.
const TEMPOS: [f64; 9] = [0.6, 0.68, 0.78, 0.88, 1.0, 1.14, 1.3, 1.48, 1.7];

/// Where everyone was, and where they should have been.
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

/// What is known of one body about the bound.
struct Body {
    weight: f64,
    /// Where it was, frame by frame.
    seen: Vec<Option<AttackPoint>>,
    /// Sums over the frames before each frame, of how far it was from what came before.
    rest: Vec<Sums>,
    /// Per tempo, where it should be so many frames after the step began.
    ways: Vec<Vec<AttackPoint>>,
}

/// Number of samples, and the sums of differences and of their squares.
#[derive(Clone, Copy, Default)]
struct Sums {
    count: f64,
    x: f64,
    y: f64,
    squares: f64,
}

impl Sums {
    fn add(&mut self, seen: AttackPoint, place: AttackPoint) {
        let (dx, dy) = (seen.x - place.x, seen.y - place.y);
        self.count += 1.0;
        self.x += dx;
        self.y += dy;
        self.squares += dx * dx + dy * dy;
    }

    /// Mean square of the differences about their mean; 0 where nothing is known.
    fn spread(self) -> f64 {
        if self.count == 0.0 {
            return 0.0;
        }
        let of = |sum: f64| (sum / self.count).powi(2);
        self.squares / self.count - of(self.x) - of(self.y)
    }
}

impl Scene<'_> {
    /// The frame at which the movement of `run`, a step, began after `before`: the last frame of
    /// `before` at the earliest. `None` where too little is left of either.
    pub fn begun(&self, before: &Found, run: &Found) -> Option<usize> {
        let key = run.key?;
        let decoded = run.start;
        let from = match before.key {
            Some(_) => decoded.saturating_sub(BEFORE).max(before.start + 1),
            // How people came there is not known, only where they were since.
            None => decoded,
        };
        let about = from..run.end.min(decoded + AFTER);
        let first = decoded.saturating_sub(REACH).max(about.start);
        let last = (decoded + REACH).min(about.end.checked_sub(3)?);
        if first > last {
            return None;
        }
        let bodies = self.bodies(key, before, &about);
        let mut best = (f64::INFINITY, decoded);
        for begin in first..=last {
            for tempo in 0..TEMPOS.len() {
                let total = bodies
                    .iter()
                    .map(|b| b.off(begin - about.start, tempo))
                    .sum();
                if total < best.0 {
                    best = (total, begin);
                }
            }
        }
        Some(best.1)
    }

    fn bodies(&self, key: Key, before: &Found, about: &Range<usize>) -> Vec<Body> {
        let roles = self.assignments[key.assignment].len();
        (0..=roles)
            .filter_map(|body| {
                let row = if body < roles {
                    Some(self.assignments[key.assignment][body]?)
                } else {
                    None
                };
                self.body(key, row, body, before, about)
            })
            .collect()
    }

    /// A role's player, or the ball (without a row), about the bound.
    fn body(
        &self,
        key: Key,
        row: Option<usize>,
        role: usize,
        before: &Found,
        about: &Range<usize>,
    ) -> Option<Body> {
        let samples = row.map_or(&self.query.ball, |row| &self.query.paths[row]);
        let seen: Vec<_> = samples[about.clone()]
            .iter()
            .map(|p| p.map(|p| as_declared(p, key.hand)))
            .collect();
        let start = self.place(key.template, role, 0.0)?;
        let mut sums = Sums::default();
        let mut rest = vec![sums];
        for (seen, t) in seen.iter().zip(about.clone()) {
            let place = self.place_before(before, row, t).unwrap_or(start);
            if let Some(seen) = seen {
                sums.add(*seen, place);
            }
            rest.push(sums);
        }
        let way = |tempo: &f64| {
            (0..about.len())
                .map(|frames| self.place(key.template, role, tempo * frames as f64))
                .collect::<Option<Vec<_>>>()
        };
        Some(Body {
            weight: if row.is_some() { 1.0 } else { self.ball_weight },
            seen,
            rest,
            ways: TEMPOS.iter().map(way).collect::<Option<_>>()?,
        })
    }

    /// Where a row or the ball should have been by the step before; `None` where there is none.
    fn place_before(&self, before: &Found, row: Option<usize>, t: usize) -> Option<AttackPoint> {
        let key = before.key?;
        if !matches!(self.templates.list[key.template].kind, Kind::Step(_)) {
            return None;
        }
        let assignment = &self.assignments[key.assignment];
        let role = match row {
            Some(_) => assignment.iter().position(|r| *r == row)?,
            None => assignment.len(),
        };
        let warped = before.alignment.get(t - before.start);
        let at = warped.or(before.alignment.last())?;
        self.place(key.template, role, f64::from(*at))
    }

    /// How far the ball is from where a run would have it, frame by frame, metres; `None` where either
    /// is not known.
    pub fn ball_off(&self, run: &Found) -> Vec<Option<f64>> {
        let samples = &self.query.ball[run.start..run.end];
        let off = |(seen, at): (&Option<AttackPoint>, &u32)| {
            let key = run.key?;
            let role = self.assignments[key.assignment].len();
            let place = self.place(key.template, role, f64::from(*at))?;
            Some(as_declared((*seen)?, key.hand).distance(place))
        };
        samples.iter().zip(&run.alignment).map(off).collect()
    }

    /// A role's place, or the ball's (the number after the last role's), at a reference frame.
    fn place(&self, template: usize, role: usize, at: f64) -> Option<AttackPoint> {
        let t = &self.templates.list[template];
        let at = at.min((t.len - 1) as f64);
        let low = at.floor() as usize;
        let of = |frame: usize| {
            let frame = &self.templates.frames[t.first + frame];
            frame.roles.get(role).copied().or(frame.ball)
        };
        Some(of(low)?.lerp(of((low + 1).min(t.len - 1))?, at.fract()))
    }
}

impl Body {
    /// Weighted mean square off its ways if the step began at a frame, at a tempo.
    fn off(&self, begin: usize, tempo: usize) -> f64 {
        let mut sums = self.rest[begin];
        for (seen, place) in self.seen[begin..].iter().zip(&self.ways[tempo]) {
            if let Some(seen) = seen {
                sums.add(*seen, *place);
            }
        }
        self.weight * sums.spread()
    }
}

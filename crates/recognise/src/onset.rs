//! When the movement of a step began.
//!
//! One warp over all bodies follows places, and where one step goes over into another everyone
//! stands: any frame of the rest would do. So the meeting is looked for anew, among the few frames
//! about it: what came before as it was warped, then the step at an even tempo from a frame on.
//! Everyone may be beside their place by as much as they like, all the time alike; the ways they
//! make tell when they set out, and the frame that leaves the least squares is taken.

use crate::{
    decode::{Found, Key},
    scene::{Body, Scene, TEMPOS},
    templates::Kind,
};
use setdrift_court::AttackPoint;
use std::ops::Range;

/// Frames before and after the decoded bound that are looked at: the end of what came before, and
/// as much of the step as most single movements last.
const BEFORE: usize = 12;
const AFTER: usize = 20;

/// The bound is looked for this many frames to either side: a second.
const REACH: usize = 10;

/// What is known of one body about the bound.
struct Course {
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
        let courses = self.bodies(key);
        let mut courses: Vec<Course> = courses
            .filter_map(|body| self.course(key, body, before, &about))
            .collect();
        // Those who go far say most, and frames near by are likely: so most others can be given up early.
        courses.sort_by(|a, b| b.way().total_cmp(&a.way()));
        let mut begins: Vec<usize> = (first..=last).collect();
        begins.sort_by_key(|begin| begin.abs_diff(decoded));
        let mut best = (f64::INFINITY, decoded);
        for begin in begins {
            for tempo in 0..TEMPOS.len() {
                let mut total = 0.0;
                for course in &courses {
                    total += course.off(begin - about.start, tempo);
                    if total >= best.0 {
                        break;
                    }
                }
                if total < best.0 {
                    best = (total, begin);
                }
            }
        }
        Some(best.1)
    }

    /// A body about the bound; `None` where the step does not say where it should be.
    fn course(&self, key: Key, body: Body, before: &Found, about: &Range<usize>) -> Option<Course> {
        let seen = self.seen(key, body, about.clone());
        let start = self.place(key.template, body.role, 0.0)?;
        let mut sums = Sums::default();
        let mut rest = vec![sums];
        for (seen, t) in seen.iter().zip(about.clone()) {
            let place = self.place_before(before, body.row, t).unwrap_or(start);
            if let Some(seen) = seen {
                sums.add(*seen, place);
            }
            rest.push(sums);
        }
        let way = |tempo: &f64| {
            (0..about.len())
                .map(|frames| self.place(key.template, body.role, tempo * frames as f64))
                .collect::<Option<Vec<_>>>()
        };
        Some(Course {
            weight: body.weight,
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
}

impl Course {
    /// How far the step takes it, weighted, square metres.
    fn way(&self) -> f64 {
        let ends = self.ways.last().and_then(|way| way.first().zip(way.last()));
        self.weight * ends.map_or(0.0, |(a, b)| a.distance(*b).powi(2))
    }

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

//! The half court as lines, seen from above with the attacked basket at the top.
//!
//! User units are metres: across is the attack frame's `y` (right is right), down is its `x`.

use crate::diagram::{DiagramStyle, View, court_lines};
use crate::html::put;
use setdrift_court::{AttackPoint, Court};

/// Floor shown beyond each line, metres.
const MARGIN: f64 = 0.7;

/// The `viewBox` of a half court with `below` metres shown past the half-way line (negative
/// hides part of the half court).
pub fn view_box(court: &Court, below: f64) -> String {
    let m = court.measures();
    format!(
        "{:.2} {:.2} {:.2} {:.2}",
        -m.width / 2.0 - MARGIN,
        -MARGIN,
        m.width + 2.0 * MARGIN,
        m.length / 2.0 + below + 2.0 * MARGIN
    )
}

/// The lines of the half court, as one group in metres.
pub fn lines(court: &Court, below: f64) -> String {
    let m = court.measures();
    let style = |width| DiagramStyle {
        width,
        depth: m.length / 2.0 + below.min(0.0),
        ..DiagramStyle::default()
    };
    // One pixel a metre: a drawing as wide as the floor with its margins.
    let margins = 2.0 * View::new(court, &style(1.0)).margin;
    let view = View::new(court, &style(m.width + margins));
    let (x, y) = view.at(AttackPoint::new(0.0, 0.0));
    format!(
        "<g class=\"floor\" transform=\"translate({:.2} {:.2})\">{}</g>",
        -x,
        -y,
        court_lines(court, &view)
    )
}

/// Points as the `d` of a path, thinned to steps of at least `step` metres.
pub fn path_d(points: &[AttackPoint], step: f64) -> String {
    let mut o = String::new();
    let mut last: Option<AttackPoint> = None;
    for (i, p) in points.iter().enumerate() {
        let keep = match last {
            None => true,
            Some(q) => q.distance(*p) >= step || i + 1 == points.len(),
        };
        if keep {
            put!(
                o,
                "{}{:.2} {:.2}",
                if last.is_none() { 'M' } else { 'L' },
                p.y,
                p.x
            );
            last = Some(*p);
        }
    }
    o
}

/// An arrow head at the end of a path, as a small triangle; empty for a path that stays.
pub fn arrow(points: &[AttackPoint], class: &str) -> String {
    let Some(end) = points.last() else {
        return String::new();
    };
    let Some(from) = points.iter().rev().find(|p| p.distance(*end) > 0.35) else {
        return String::new();
    };
    let d = from.distance(*end);
    let (ux, uy) = ((end.y - from.y) / d, (end.x - from.x) / d);
    let (bx, by) = (end.y - 0.5 * ux, end.x - 0.5 * uy);
    format!(
        "<path class=\"{class}\" d=\"M{:.2} {:.2}L{:.2} {:.2}L{:.2} {:.2}Z\"/>",
        end.y,
        end.x,
        bx - 0.22 * uy,
        by + 0.22 * ux,
        bx + 0.22 * uy,
        by - 0.22 * ux
    )
}

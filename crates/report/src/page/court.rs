//! The half court as lines, seen from above with the attacked basket at the top.
//!
//! User units are metres: across is the attack frame's `y` (right is right), down is its `x`.

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

/// The lines of the half court, as one group.
pub fn lines(court: &Court, below: f64) -> String {
    let m = court.measures();
    let (w, half, lane) = (m.width / 2.0, m.length / 2.0, m.lane_width / 2.0);
    let mut o = String::from("<g class=\"floor\">");
    put!(
        o,
        "<path d=\"M{:.2} {:.2}V0H{w:.2}V{:.2}\"/>",
        -w,
        half + below.min(0.0).max(-half),
        half + below.min(0.0).max(-half)
    );
    if below >= 0.0 {
        put!(
            o,
            "<path d=\"M{:.2} {half:.2}H{w:.2}\"/><path d=\"M{:.2} {half:.2}A{r:.2} {r:.2} 0 0 1 {r:.2} {half:.2}\"/>",
            -w,
            -m.circle_radius,
            r = m.circle_radius
        );
    }
    put!(
        o,
        "<path d=\"M{:.2} 0V{ft:.2}H{lane:.2}V0\"/>",
        -lane,
        ft = m.free_throw
    );
    put!(
        o,
        "<path d=\"M{:.2} {ft:.2}A{r:.2} {r:.2} 0 0 0 {r:.2} {ft:.2}\"/>",
        -m.circle_radius,
        ft = m.free_throw,
        r = m.circle_radius
    );
    let turn = court.three_break();
    put!(
        o,
        "<path d=\"M{:.3} 0V{turn:.3}A{r:.3} {r:.3} 0 0 0 {c:.3} {turn:.3}V0\"/>",
        -m.three_corner,
        r = m.three_radius,
        c = m.three_corner
    );
    if let Some(r) = m.restricted_radius {
        put!(
            o,
            "<path d=\"M{:.2} {ring:.2}A{r:.2} {r:.2} 0 0 0 {r:.2} {ring:.2}\"/>",
            -r,
            ring = m.ring
        );
    }
    // The board's face is 1.20 m (FIBA) or 4 ft (NBA, NCAA, NFHS) from the end line; drawn as a
    // sign of the basket only.
    put!(
        o,
        "<path d=\"M-0.9 {b:.2}H0.9\"/><circle cx=\"0\" cy=\"{ring:.3}\" r=\"0.23\"/></g>",
        b = m.ring - 0.375,
        ring = m.ring
    );
    o
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

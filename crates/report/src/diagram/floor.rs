//! The lines of the floor.

use super::{DiagramStyle, View, num, open};
use setdrift_court::{AttackPoint, Court};
use std::f64::consts::PI;
use std::fmt::Write;

/// The lines of the attacked half, as one group.
#[must_use]
pub fn court_lines(court: &Court, view: &View) -> String {
    let m = court.measures();
    let (w, lane) = (m.width / 2.0, m.lane_width / 2.0);
    let ring = court.ring();
    let mut s = format!(
        "<g fill=\"none\" stroke=\"currentColor\" stroke-opacity=\".45\" stroke-width=\"{}\">",
        num(view.px(0.05).max(0.8))
    );
    let line = |s: &mut String, points: &[(f64, f64)]| {
        let d: Vec<String> = points
            .iter()
            .map(|(x, y)| {
                let (a, b) = view.at(AttackPoint::new(*x, *y));
                format!("{} {}", num(a), num(b))
            })
            .collect();
        // Writing into a string cannot fail.
        let _ = write!(s, "<path d=\"M{}\"/>", d.join("L"));
    };
    // The far edge of what is shown stays open, unless it is the middle line.
    let deep = view.depth;
    line(&mut s, &[(deep, -w), (0.0, -w), (0.0, w), (deep, w)]);
    if (deep - m.length / 2.0).abs() < 1e-9 {
        line(&mut s, &[(deep, -w), (deep, w)]);
    }
    line(
        &mut s,
        &[
            (0.0, -lane),
            (m.free_throw, -lane),
            (m.free_throw, lane),
            (0.0, lane),
        ],
    );
    let arc = |centre: AttackPoint, r: f64, from: f64, to: f64| -> Vec<(f64, f64)> {
        (0..=48)
            .map(|i| {
                let a = from + (to - from) * f64::from(i) / 48.0;
                (centre.x + r * a.cos(), centre.y + r * a.sin())
            })
            .collect()
    };
    let stripe = AttackPoint::new(m.free_throw, 0.0);
    line(&mut s, &arc(stripe, m.circle_radius, -PI / 2.0, PI / 2.0));
    // Three-point line: along the sides, then round the ring.
    let open_angle = (court.three_break() - ring.x)
        .atan2(m.three_corner)
        .clamp(0.0, PI / 2.0);
    let half = PI / 2.0 - open_angle;
    let mut three = vec![(0.0, -m.three_corner)];
    three.extend(arc(ring, m.three_radius, -half, half));
    three.push((0.0, m.three_corner));
    line(&mut s, &three);
    if let Some(r) = m.restricted_radius {
        line(&mut s, &arc(ring, r, -PI / 2.0, PI / 2.0));
    }
    // Board 6 ft (1.83 m, FIBA 1.80 m) wide, its face 15 in behind the ring centre.
    let board = ring.x - 0.375;
    line(&mut s, &[(board, -0.9), (board, 0.9)]);
    let (cx, cy) = view.at(ring);
    let _ = write!(
        s,
        "<circle cx=\"{}\" cy=\"{}\" r=\"{}\"/></g>",
        num(cx),
        num(cy),
        num(view.px(0.23))
    );
    s
}

/// A whole drawing of the attacked half with `inner` (SVG text) on it.
#[must_use]
pub fn court_svg(court: &Court, style: &DiagramStyle, title: &str, inner: &str) -> String {
    let view = View::new(court, style);
    format!(
        "{}{}{inner}</svg>",
        open(view.width(), view.height(), title, style.alone),
        court_lines(court, &view)
    )
}

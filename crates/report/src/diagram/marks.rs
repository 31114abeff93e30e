//! Players, and the lines of what they do.

use super::{View, escape, num};
use setdrift_court::AttackPoint;

/// Radius of a player's mark, metres.
const PLAYER: f64 = 0.42;

/// What a line stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Line {
    /// Solid with an arrow.
    Cut,
    /// Dashed with an arrow.
    Pass,
    /// Zigzag with an arrow.
    Dribble,
    /// Solid with a bar at its end.
    Screen,
    /// Two short bars across the way to the other.
    HandOff,
    /// Dotted, with an open arrow.
    Shot,
    /// Thin and solid with an open arrow: a walk that nobody declared.
    Walk,
    /// Thin and solid without an end: a path as it was, not as it was meant.
    Trace,
}

/// A player: a number in a ring, dark for who has the ball.
#[must_use]
pub fn player(view: &View, at: AttackPoint, name: &str, has_ball: bool) -> String {
    let (x, y) = view.at(at);
    let r = view.px(PLAYER);
    let (disc, ink) = if has_ball {
        ("currentColor", "var(--paper,#fff)")
    } else {
        ("var(--paper,#fff)", "currentColor")
    };
    format!(
        "<g><circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\" fill=\"{disc}\" stroke=\"currentColor\" \
         stroke-width=\"{w}\"/><text x=\"{x}\" y=\"{ty}\" text-anchor=\"middle\" \
         font-size=\"{f}\" font-weight=\"bold\" fill=\"{ink}\">{t}</text></g>",
        x = num(x),
        y = num(y),
        r = num(r),
        w = num(view.px(0.06)),
        ty = num(y + r * 0.42),
        f = num(r * 1.2),
        t = escape(name)
    )
}

/// A short text on the floor.
#[must_use]
pub fn label(view: &View, at: AttackPoint, text: &str) -> String {
    let (x, y) = view.at(at);
    format!(
        "<text x=\"{}\" y=\"{}\" text-anchor=\"middle\" font-size=\"{}\" fill=\"currentColor\">{}</text>",
        num(x),
        num(y),
        num(view.px(0.5)),
        escape(text)
    )
}

/// The line of an action through points of the floor. `clear` metres at its start and end are
/// left out, so that it does not run into the marks of players there.
#[must_use]
pub fn line(view: &View, points: &[AttackPoint], kind: Line, clear: (f64, f64)) -> String {
    let points = trimmed(points, clear);
    if points.len() < 2 {
        return String::new();
    }
    let w = view.px(0.09);
    let stroke = |d: String, extra: &str| {
        format!(
            "<path d=\"{d}\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"{}\" \
             stroke-linejoin=\"round\"{extra}/>",
            num(w)
        )
    };
    match kind {
        Line::Cut => stroke(d(view, &points), "") + &arrow(view, &points, true),
        Line::Pass => {
            let dash = format!(
                " stroke-dasharray=\"{} {}\"",
                num(view.px(0.38)),
                num(view.px(0.24))
            );
            stroke(d(view, &points), &dash) + &arrow(view, &points, true)
        }
        Line::Shot => {
            let dash = format!(
                " stroke-linecap=\"round\" stroke-dasharray=\"0 {}\"",
                num(view.px(0.24))
            );
            stroke(d(view, &points), &dash) + &arrow(view, &points, false)
        }
        Line::Dribble => stroke(d(view, &zigzag(&points)), "") + &arrow(view, &points, true),
        Line::Screen => stroke(d(view, &points), "") + &bar(view, &points, 0.0),
        Line::HandOff => bar(view, &points, 0.12) + &bar(view, &points, -0.12),
        Line::Walk => thin(view, &points) + &arrow(view, &points, false),
        Line::Trace => thin(view, &points),
    }
}

fn thin(view: &View, points: &[AttackPoint]) -> String {
    format!(
        "<path d=\"{}\" fill=\"none\" stroke=\"currentColor\" stroke-opacity=\".55\" \
         stroke-width=\"{}\"/>",
        d(view, points),
        num(view.px(0.055))
    )
}

fn d(view: &View, points: &[AttackPoint]) -> String {
    let p: Vec<String> = points
        .iter()
        .map(|p| {
            let (x, y) = view.at(*p);
            format!("{} {}", num(x), num(y))
        })
        .collect();
    format!("M{}", p.join("L"))
}

fn gone(points: &[AttackPoint]) -> Vec<f64> {
    let mut g = vec![0.0];
    for w in points.windows(2) {
        g.push(g[g.len() - 1] + w[0].distance(w[1]));
    }
    g
}

fn at_length(points: &[AttackPoint], gone: &[f64], want: f64) -> AttackPoint {
    let last = points.len() - 1;
    let i = gone.partition_point(|g| *g <= want).clamp(1, last);
    let step = gone[i] - gone[i - 1];
    let t = if step > 0.0 {
        (want - gone[i - 1]) / step
    } else {
        0.0
    };
    points[i - 1].lerp(points[i], t)
}

/// The part of a line between two clearances, without points on top of each other.
fn trimmed(points: &[AttackPoint], clear: (f64, f64)) -> Vec<AttackPoint> {
    let mut p: Vec<AttackPoint> = Vec::new();
    for q in points {
        if p.last().is_none_or(|l| l.distance(*q) > 0.04) {
            p.push(*q);
        }
    }
    if p.len() < 2 {
        return Vec::new();
    }
    let g = gone(&p);
    let total = g[g.len() - 1];
    // A short way keeps at least its middle.
    let (a, b) = if clear.0 + clear.1 < 0.8 * total {
        (clear.0, total - clear.1)
    } else {
        (0.3 * total, 0.7 * total)
    };
    let mut out = vec![at_length(&p, &g, a)];
    for (q, l) in p.iter().zip(&g) {
        if *l > a && *l < b {
            out.push(*q);
        }
    }
    out.push(at_length(&p, &g, b));
    out
}

/// Unit vector of the line's last stretch, over half a metre or what there is.
fn heading(points: &[AttackPoint]) -> (f64, f64) {
    let end = points[points.len() - 1];
    let from = points
        .iter()
        .rev()
        .find(|p| p.distance(end) >= 0.3)
        .unwrap_or(&points[0]);
    let l = from.distance(end).max(1e-9);
    ((end.x - from.x) / l, (end.y - from.y) / l)
}

fn arrow(view: &View, points: &[AttackPoint], full: bool) -> String {
    let end = points[points.len() - 1];
    let (hx, hy) = heading(points);
    let back = AttackPoint::new(end.x - 0.42 * hx, end.y - 0.42 * hy);
    let side = |s: f64| AttackPoint::new(back.x - 0.2 * s * hy, back.y + 0.2 * s * hx);
    let (a, b) = (side(1.0), side(-1.0));
    if full {
        format!(
            "<path d=\"{}Z\" fill=\"currentColor\"/>",
            d(view, &[a, end, b])
        )
    } else {
        format!(
            "<path d=\"{}\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"{}\"/>",
            d(view, &[a, end, b]),
            num(view.px(0.09))
        )
    }
}

/// A bar across the line's end, `shift` metres further on.
fn bar(view: &View, points: &[AttackPoint], shift: f64) -> String {
    let end = points[points.len() - 1];
    let (hx, hy) = heading(points);
    let c = AttackPoint::new(end.x + shift * hx, end.y + shift * hy);
    let half = 0.42;
    let a = AttackPoint::new(c.x - half * hy, c.y + half * hx);
    let b = AttackPoint::new(c.x + half * hy, c.y - half * hx);
    format!(
        "<path d=\"{}\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"{}\"/>",
        d(view, &[a, b]),
        num(view.px(0.13))
    )
}

/// A zigzag about the line, straight again before its arrow.
fn zigzag(points: &[AttackPoint]) -> Vec<AttackPoint> {
    let g = gone(points);
    let total = g[g.len() - 1];
    let (tooth, height, straight) = (0.34, 0.17, 0.55);
    let n = ((total - straight) / tooth).floor();
    if n < 2.0 {
        return points.to_vec();
    }
    let step = (total - straight) / n;
    let mut out = vec![points[0]];
    for i in 1..n as usize {
        let l = i as f64 * step;
        let p = at_length(points, &g, l);
        let q = at_length(points, &g, l + 0.05);
        let e = p.distance(q).max(1e-9);
        let (hx, hy) = ((q.x - p.x) / e, (q.y - p.y) / e);
        let s = if i % 2 == 0 { height } else { -height };
        out.push(AttackPoint::new(p.x - s * hy, p.y + s * hx));
    }
    out.push(at_length(points, &g, total - straight));
    out.push(points[points.len() - 1]);
    out
}

//! Steps, options and the sheet of a playbook.

use super::marks::{Line, line, player};
use super::runs::runs;
use super::{DiagramStyle, View, court_lines, escape, num, open, other_hand};
use setdrift_court::AttackPoint;
use setdrift_playbook::graph::{ActionKind, Graph, Node, NodeIx, OptionIx, RoleIx};
use std::fmt::Write;

/// Pixels between panels.
const GAP: f64 = 14.0;
/// Height of a heading, pixels.
const HEAD: f64 = 26.0;
/// Height of a line of text, pixels.
const ROW: f64 = 14.0;
/// Panels beside each other on a sheet.
const ACROSS: usize = 4;

/// One step: the floor, everyone where they begin, and what they do.
#[must_use]
pub fn step_svg(g: &Graph, node: NodeIx, style: &DiagramStyle) -> String {
    let view = View::new(&g.court, style);
    let n = &g.nodes[node];
    let title = format!("{}, step {}", g.options[n.option].title, n.step + 1);
    let (panel, height) = panel(g, n, &view, style);
    format!(
        "{}{panel}</svg>",
        open(view.width(), height, &title, style.alone)
    )
}

/// One option, its steps beside each other, numbered; below each other every arrangement it can
/// be entered in and every branch, with what it follows ([`DiagramStyle::every_entry`]).
#[must_use]
pub fn option_svg(g: &Graph, option: OptionIx, style: &DiagramStyle) -> String {
    let mut all = runs(g, option);
    if !style.every_entry {
        all.truncate(1);
    }
    let (mut body, mut w, mut y) = (String::new(), 0.0_f64, HEAD);
    for run in &all {
        if all.len() > 1 {
            let _ = write!(
                body,
                "<text x=\"4\" y=\"{}\" font-size=\"12\" fill=\"currentColor\">After: {}</text>",
                num(y + 10.0),
                escape(&run.after.join("; "))
            );
            y += ROW;
        }
        let (inner, wide, high) = row_of(g, &run.nodes, style);
        let _ = write!(body, "<g transform=\"translate(0 {})\">{inner}</g>", num(y));
        w = w.max(wide);
        y += high + GAP;
    }
    let title = heading(g, option, style);
    format!(
        "{}{}{body}</svg>",
        open(w, y - GAP, &title, style.alone),
        heading_text(&title)
    )
}

/// All options of a playbook on one sheet, each from the first arrangement it is entered in.
#[must_use]
pub fn sheet_svg(g: &Graph, style: &DiagramStyle) -> String {
    let view = View::new(&g.court, style);
    let limit = ACROSS as f64 * (view.width() + GAP);
    let mut body = String::new();
    let (mut x, mut y, mut row, mut widest) = (0.0_f64, HEAD + 10.0, 0.0_f64, 0.0_f64);
    for o in 0..g.options.len() {
        let (inner, w, h) = option_block(g, o, style);
        if x > 0.0 && x + w > limit {
            x = 0.0;
            y += row + GAP;
            row = 0.0;
        }
        // Writing into a string cannot fail.
        let _ = write!(
            body,
            "<g transform=\"translate({} {})\">{inner}</g>",
            num(x),
            num(y)
        );
        x += w + GAP;
        row = row.max(h);
        widest = widest.max(x);
    }
    let hand = if style.left_hand { ", left hand" } else { "" };
    let title = format!("{}{hand}", g.name);
    format!(
        "{}<text x=\"4\" y=\"22\" font-size=\"20\" font-weight=\"bold\" fill=\"currentColor\">{}</text>{body}</svg>",
        open(widest, y + row + 4.0, &title, style.alone),
        escape(&title)
    )
}

fn heading(g: &Graph, option: OptionIx, style: &DiagramStyle) -> String {
    let o = &g.options[option];
    if style.left_hand {
        format!("{}, left hand", o.title)
    } else {
        o.title.clone()
    }
}

fn heading_text(title: &str) -> String {
    format!(
        "<text x=\"4\" y=\"18\" font-size=\"15\" font-weight=\"bold\" fill=\"currentColor\">{}</text>",
        escape(title)
    )
}

fn option_block(g: &Graph, option: OptionIx, style: &DiagramStyle) -> (String, f64, f64) {
    let first = runs(g, option).into_iter().next();
    let (inner, w, h) = row_of(g, &first.map(|r| r.nodes).unwrap_or_default(), style);
    let s = format!(
        "{}<g transform=\"translate(0 {})\">{inner}</g>",
        heading_text(&heading(g, option, style)),
        num(HEAD)
    );
    (s, w, HEAD + h)
}

/// Steps beside each other, with their width and height.
fn row_of(g: &Graph, steps: &[NodeIx], style: &DiagramStyle) -> (String, f64, f64) {
    let view = View::new(&g.court, style);
    let (mut s, mut tallest) = (String::new(), 0.0_f64);
    for (i, n) in steps.iter().enumerate() {
        let (inner, h) = panel(g, &g.nodes[*n], &view, style);
        let _ = write!(
            s,
            "<g transform=\"translate({} 0)\">{inner}</g>",
            num(i as f64 * (view.width() + GAP))
        );
        tallest = tallest.max(h);
    }
    let n = steps.len().max(1) as f64;
    (s, n * view.width() + (n - 1.0) * GAP, tallest)
}

/// One court with the step on it and its number; the drawing and its height.
fn panel(g: &Graph, n: &Node, view: &View, style: &DiagramStyle) -> (String, f64) {
    let mut s = court_lines(&g.court, view);
    s.push_str(&actions(n, view));
    let ball = holder(n);
    for (r, name) in g.roles.iter().enumerate() {
        s.push_str(&player(view, n.motion.roles[r][0], name, ball == Some(r)));
    }
    let corner = view.px(0.55);
    let _ = write!(
        s,
        "<text x=\"{}\" y=\"{}\" font-size=\"{}\" fill=\"currentColor\">{}</text>",
        num(corner * 0.25),
        num(view.height() - corner * 0.3),
        num(view.px(0.85)),
        n.step + 1
    );
    let mut height = view.height();
    if style.captions {
        let wide = (view.width() / 5.2) as usize;
        let mut said: Vec<&str> = Vec::new();
        for a in &n.actions {
            if said.contains(&a.text.as_str()) {
                continue;
            }
            said.push(&a.text);
            let text = if style.left_hand {
                other_hand(&a.text)
            } else {
                a.text.clone()
            };
            for (i, l) in wrap(&text, wide).into_iter().enumerate() {
                height += ROW;
                let _ = write!(
                    s,
                    "<text x=\"{}\" y=\"{}\" font-size=\"11\" fill=\"currentColor\">{}</text>",
                    if i == 0 { 4 } else { 12 },
                    num(height - 4.0),
                    escape(&l)
                );
            }
        }
    }
    (s, height)
}

/// Breaks a text at spaces into lines of at most so many characters.
fn wrap(text: &str, wide: usize) -> Vec<String> {
    let mut out: Vec<String> = vec![String::new()];
    for w in text.split(' ') {
        let l = out.len() - 1;
        if !out[l].is_empty() && out[l].chars().count() + 1 + w.chars().count() > wide {
            out.push(w.to_owned());
        } else {
            if !out[l].is_empty() {
                out[l].push(' ');
            }
            out[l].push_str(w);
        }
    }
    out
}

/// Who has the ball as the step begins.
pub(crate) fn holder(n: &Node) -> Option<RoleIx> {
    let b = n.motion.ball.first()?;
    (0..n.motion.roles.len()).find(|r| n.motion.roles[*r][0].distance(*b) < 1e-6)
}

fn actions(n: &Node, view: &View) -> String {
    let mut s = String::new();
    let m = &n.motion;
    let moved = |r: RoleIx, f: usize| m.roles[r][0].distance(m.roles[r][f]) > 0.5;
    let stop = |way: &[AttackPoint]| stop_before(n, way);
    for a in &n.actions {
        let way = || -> Vec<AttackPoint> { m.roles[a.role][a.from..=a.to].to_vec() };
        // A line that goes on from an earlier one begins where that ended.
        let start: f64 = if moved(a.role, a.from) { 0.0 } else { 0.5 };
        let l = match &a.kind {
            ActionKind::Pass { to, .. } => {
                let ends = [m.roles[a.role][a.from], m.roles[*to][a.to]];
                let stop = if moved(*to, a.to) { 0.15 } else { 0.55 };
                let ends = beside_movement(n, ends);
                line(view, &ends, Line::Pass, (start.max(0.15), stop))
            }
            ActionKind::Dribble { .. } => line(view, &way(), Line::Dribble, (start, stop(&way()))),
            ActionKind::HandOff { to } => {
                let ends = [m.roles[a.role][a.from], m.roles[*to][a.from]];
                // Beside the number of who gives the ball, towards who takes it.
                let d = ends[0].distance(ends[1]).max(1e-9);
                let beside = ends[0].lerp(ends[1], (0.75 / d).max(0.5));
                line(view, &[ends[0], beside], Line::HandOff, (0.0, 0.0))
            }
            ActionKind::Cut { .. } | ActionKind::Leave { .. } | ActionKind::Post { .. } => {
                line(view, &way(), Line::Cut, (start, stop(&way())))
            }
            ActionKind::Screen { user, at } => screen(n, view, a.role, *user, *at, &way(), start),
            ActionKind::Shot => {
                let from = m.roles[a.role][a.from];
                let ring = m.ball[a.to.min(m.frames() - 1)];
                line(view, &[from, ring], Line::Shot, (start.max(0.5), 0.3))
            }
            ActionKind::Hold => String::new(),
        };
        s.push_str(&l);
    }
    s + &ways_home(n, view)
}

/// An arrow that ends where someone is drawn stops at the ring, or it would be hidden.
fn stop_before(n: &Node, way: &[AttackPoint]) -> f64 {
    let end = way[way.len() - 1];
    let drawn = n.motion.roles.iter().any(|row| row[0].distance(end) < 0.5);
    if drawn { 0.55 } else { 0.0 }
}

/// The ends of a pass, moved aside where someone's way runs along it, so that both lines are seen.
fn beside_movement(n: &Node, ends: [AttackPoint; 2]) -> [AttackPoint; 2] {
    let [a, b] = ends;
    let length = a.distance(b);
    if length < 1e-6 {
        return ends;
    }
    let (hx, hy) = ((b.x - a.x) / length, (b.y - a.y) / length);
    let covered = |way: &[AttackPoint]| {
        way.windows(2)
            .filter(|w| {
                let (px, py) = (w[1].x - a.x, w[1].y - a.y);
                let (along, off) = (px * hx + py * hy, px * hy - py * hx);
                off.abs() < 0.3 && (0.0..=length).contains(&along)
            })
            .map(|w| w[0].distance(w[1]))
            .sum::<f64>()
    };
    let along = n.actions.iter().any(|x| {
        !matches!(x.kind, ActionKind::Hold | ActionKind::Pass { .. })
            && covered(&n.motion.roles[x.role][x.from..=x.to]) > 0.4 * length
    });
    if !along {
        return ends;
    }
    let aside = |p: AttackPoint| AttackPoint::new(p.x - 0.4 * hy, p.y + 0.4 * hx);
    [aside(a), aside(b)]
}

/// At a reset people walk to the places they fill, which nobody has to declare.
fn ways_home(n: &Node, view: &View) -> String {
    let m = &n.motion;
    let mut s = String::new();
    for (r, row) in m.roles.iter().enumerate() {
        let done = n.actions.iter().filter(|a| a.role == r).map(|a| a.to).max();
        let rest = &row[done.unwrap_or(0)..];
        if rest[0].distance(row[row.len() - 1]) > 0.5 {
            let start = if done.is_some() { 0.0 } else { 0.5 };
            let stop = stop_before(n, rest);
            s.push_str(&line(view, rest, Line::Walk, (start, stop)));
        }
    }
    s
}

/// A screen set where the screener stands already has no line to it, only its bar, towards whom
/// it frees.
fn screen(
    n: &Node,
    view: &View,
    role: RoleIx,
    user: RoleIx,
    at: AttackPoint,
    way: &[AttackPoint],
    start: f64,
) -> String {
    if way.first().is_some_and(|p| p.distance(at) > 0.6) {
        return line(view, way, Line::Screen, (start, 0.0));
    }
    let from = n.motion.roles[role][0];
    let u = n.motion.roles[user][0];
    let d = from.distance(u).max(1e-9);
    let beside = from.lerp(u, (0.6 / d).min(0.9));
    line(view, &[from, beside], Line::Screen, (0.42, 0.0))
}

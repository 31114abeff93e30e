//! An option in motion, as an SVG that needs no script.

use super::panel::holder;
use super::{DiagramStyle, View, court_lines, escape, num, open};
use setdrift_court::AttackPoint;
use setdrift_playbook::graph::{Graph, NodeIx, RATE_HZ};
use std::fmt::Write;

/// Steps as they should look one after another ([`Run::nodes`](super::Run::nodes)), at their nominal
/// speed, over and over with a pause at the end.
///
/// Declarative animation (SMIL, W3C SVG 1.1 §19): where it is not supported or not wanted, the
/// first arrangement is shown.
#[must_use]
pub fn animated_svg(g: &Graph, nodes: &[NodeIx], style: &DiagramStyle) -> String {
    let view = View::new(&g.court, style);
    let title = nodes
        .first()
        .map_or("Nothing", |n| &g.options[g.nodes[*n].option].title);
    let title = format!("{title}, animated");
    let mut s = open(view.width(), view.height(), &title, style.alone);
    s.push_str(&court_lines(&g.court, &view));
    let Some(first) = nodes.first() else {
        s.push_str("</svg>");
        return s;
    };
    let pause = (1.2 * RATE_HZ) as usize;
    let track = |of: &dyn Fn(usize) -> Vec<AttackPoint>| -> Vec<AttackPoint> {
        let mut all: Vec<AttackPoint> = Vec::new();
        for (i, n) in nodes.iter().enumerate() {
            // A step begins where the one before it ended.
            all.extend(of(*n).into_iter().skip(usize::from(i > 0)));
        }
        let last = all[all.len() - 1];
        all.extend(std::iter::repeat_n(last, pause));
        all
    };
    let r = view.px(0.42);
    for (role, name) in g.roles.iter().enumerate() {
        let path = track(&|n| g.nodes[n].motion.roles[role].clone());
        let _ = write!(
            s,
            "<g><circle r=\"{}\" style=\"fill:var(--paper,#fff)\" stroke=\"currentColor\" \
             stroke-width=\"{}\"/><text y=\"{}\" text-anchor=\"middle\" font-size=\"{}\" \
             font-weight=\"bold\" fill=\"currentColor\">{}</text>{}</g>",
            num(r),
            num(view.px(0.06)),
            num(r * 0.42),
            num(r * 1.2),
            escape(name),
            motion(&view, &path)
        );
    }
    if holder(&g.nodes[*first]).is_some() {
        let path = track(&|n| g.nodes[n].motion.ball.clone());
        // Beside the holder's number, not over it.
        let beside: Vec<AttackPoint> = path
            .iter()
            .map(|p| AttackPoint::new(p.x + 0.42, p.y + 0.42))
            .collect();
        let _ = write!(
            s,
            "<g><circle r=\"{}\" fill=\"currentColor\"/>{}</g>",
            num(view.px(0.2)),
            motion(&view, &beside)
        );
    }
    s.push_str("</svg>");
    s
}

fn motion(view: &View, path: &[AttackPoint]) -> String {
    let points: Vec<String> = path
        .iter()
        .map(|p| {
            let (x, y) = view.at(*p);
            format!("{},{}", num(x), num(y))
        })
        .collect();
    format!(
        "<animateTransform attributeName=\"transform\" type=\"translate\" dur=\"{}s\" \
         repeatCount=\"indefinite\" calcMode=\"linear\" values=\"{}\"/>",
        num((path.len() - 1) as f64 / RATE_HZ),
        points.join(";")
    )
}

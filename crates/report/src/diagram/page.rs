//! A page of a playbook: every option drawn, and in motion.

use super::{DiagramStyle, animated_svg, escape, option_svg, other_hand, runs};
use setdrift_playbook::graph::Graph;
use std::fmt::Write;

const STYLE: &str = "\
:root{color-scheme:light dark;--paper:#fff;--ink:#111}\
@media(prefers-color-scheme:dark){:root{--paper:#16181c;--ink:#e8e8e8}}\
@media print{:root{--paper:#fff;--ink:#000}details{display:none}}\
body{margin:1.5rem auto;max-width:82rem;padding:0 1rem;font:16px/1.5 system-ui,sans-serif;\
background:var(--paper);color:var(--ink)}\
section{break-inside:avoid;margin:2rem 0;border-top:1px solid}\
.draw{overflow-x:auto}svg{max-width:none}\
dl{display:grid;grid-template-columns:max-content 1fr;gap:.1rem 1rem}dd{margin:0}\
summary{cursor:pointer;padding:.3rem 0}";

/// One self-contained page: a diagram of each option, what is expected of it, and, when opened,
/// the option in motion. Nothing is fetched and no script is run.
#[must_use]
pub fn playbook_page(g: &Graph, style: &DiagramStyle) -> String {
    let style = DiagramStyle {
        alone: false,
        ..style.clone()
    };
    let mut s = format!(
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\
         <title>{n}</title><style>{STYLE}</style></head><body><main><h1>{n}</h1>",
        n = escape(&g.name)
    );
    for (o, option) in g.options.iter().enumerate() {
        // Writing into a string cannot fail.
        let _ = write!(
            s,
            "<section aria-label=\"{t}\"><div class=\"draw\">{}</div><dl>",
            option_svg(g, o, &style),
            t = escape(&option.title)
        );
        let mut row = |what: &str, text: &str| {
            let text = if style.left_hand {
                other_hand(text)
            } else {
                text.to_owned()
            };
            let _ = write!(s, "<dt>{what}</dt><dd>{}</dd>", escape(&text));
        };
        if let Some(w) = g.declared.options.get(o) {
            row("After", &w.after.join(", "));
        }
        if let Some(r) = &option.read {
            row("Read", r);
        }
        for e in &option.expect {
            row("Expect", &e.text);
        }
        if let Some(r) = &option.returns {
            row("Returns to", r);
        }
        s.push_str("</dl><details><summary>In motion</summary>");
        let all = runs(g, o);
        for run in &all {
            if all.len() > 1 {
                let _ = write!(s, "<p>After: {}</p>", escape(&run.after.join("; ")));
            }
            s.push_str(&animated_svg(g, &run.nodes, &style));
        }
        s.push_str("</details></section>");
    }
    s.push_str("</main></body></html>\n");
    s
}

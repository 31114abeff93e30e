//! Small pieces that several sections use.

use crate::html::{esc, put};
use crate::words;
use setdrift_season::tally::Sort;

/// A sign for a sort of segment: a small drawing that differs in shape, not only in colour.
pub fn sign(sort: Sort) -> String {
    format!(
        "<svg class=\"sign s-{key}\" viewBox=\"0 0 16 16\" aria-hidden=\"true\"><use href=\"#i-{key}\"/></svg>",
        key = sort.key()
    )
}

/// A link to a moment of a possession; without the script it leads to the possession's entry.
pub fn moment(session: usize, possession: usize, time: f64, text: &str) -> String {
    format!(
        "<a class=\"moment\" href=\"#s{session}p{possession}\" data-t=\"{time:.2}\">{}</a>",
        esc(text)
    )
}

/// Links to moments, `shown` of them at once and the rest folded away.
pub fn moments(items: &[String], shown: usize) -> String {
    let mut o = String::new();
    if shown > 0 {
        o.push_str("<ul class=\"moments\">");
        for item in items.iter().take(shown) {
            put!(o, "<li>{item}</li>");
        }
        o.push_str("</ul>");
    }
    if items.len() > shown {
        put!(
            o,
            "<details class=\"more\"><summary>{}</summary><ul class=\"moments\">",
            if shown == 0 {
                "show them".to_owned()
            } else {
                format!("{} more", items.len() - shown)
            }
        );
        for item in items.iter().skip(shown) {
            put!(o, "<li>{item}</li>");
        }
        o.push_str("</ul></details>");
    }
    o
}

/// Opens a section with its heading and, where given, a line on how to read it.
pub fn open_section(o: &mut String, id: &str, title: &str, lead: &str) {
    put!(
        o,
        "<section id=\"{id}\" aria-labelledby=\"{id}-h\"><h2 id=\"{id}-h\">{title}</h2>"
    );
    if !lead.is_empty() {
        put!(o, "<p class=\"lead\">{lead}</p>");
    }
}

/// Points per possession with the count they rest on.
pub fn per_possession(possessions: usize, points: u32) -> String {
    if possessions == 0 {
        "–".to_owned()
    } else {
        words::tidy(f64::from(points) / possessions as f64, 2)
    }
}

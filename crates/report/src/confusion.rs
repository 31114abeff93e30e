//! What was said against what it was, as a table of squares.

use crate::diagram::escape;
use setdrift_playbook::graph::Graph;
use setdrift_recognise::score::{Label, Score};
use std::collections::BTreeSet;
use std::fmt::Write;

/// Side of a square, pixels.
const CELL: f64 = 46.0;
/// Room for names, pixels.
const NAMES: f64 = 150.0;

/// Labels that occur in a score, background last.
#[must_use]
pub fn labels(score: &Score) -> Vec<Label> {
    let seen: BTreeSet<Label> = score
        .confusion()
        .keys()
        .flat_map(|(is, said)| [*is, *said])
        .collect();
    let named = seen.iter().copied().filter(Option::is_some);
    named.chain(seen.contains(&None).then_some(None)).collect()
}

/// Name of a label.
#[must_use]
pub fn name(graph: &Graph, label: Label) -> &str {
    label
        .and_then(|o| graph.options.get(o))
        .map_or("none of these", |o| o.title.as_str())
}

/// An SVG of seconds by tag (rows) and verdict (columns), darker for a larger share of its row. `rate_hz`
/// is how many frames make a second.
#[must_use]
pub fn confusion_svg(graph: &Graph, score: &Score, rate_hz: f64) -> String {
    let labels = labels(score);
    let n = labels.len() as f64;
    let (w, h) = (NAMES + n * CELL + 60.0, NAMES + n * CELL + 30.0);
    let mut s = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w} {h}\" width=\"{w}\" height=\"{h}\" \
         role=\"img\" font-family=\"sans-serif\" font-size=\"11\" style=\"color:#111;background:#fff\">\
         <title>Seconds by tag and verdict</title>\
         <text x=\"4\" y=\"14\">Rows: the tags. Columns: the verdicts. Seconds; empty is none.</text>"
    );
    for (i, label) in labels.iter().enumerate() {
        let name = escape(name(graph, *label));
        let at = NAMES + (i as f64 + 0.5) * CELL;
        // Writing into a string cannot fail.
        let _ = write!(
            s,
            "<text x=\"{}\" y=\"{}\" text-anchor=\"end\">{name}</text>\
             <text transform=\"translate({at} {}) rotate(-40)\">{name}</text>",
            NAMES - 8.0,
            at + 4.0,
            NAMES - 8.0
        );
    }
    for (i, is) in labels.iter().enumerate() {
        let of_row = |l: &Label| score.confusion().get(&(*is, *l)).copied().unwrap_or(0);
        let all: usize = labels.iter().map(of_row).sum();
        for (j, said) in labels.iter().enumerate() {
            let frames = of_row(said);
            let share = frames as f64 / all.max(1) as f64;
            let (x, y) = (NAMES + j as f64 * CELL, NAMES + i as f64 * CELL);
            let edge = if i == j { 2.0 } else { 0.5 };
            let ink = if share > 0.55 { "#fff" } else { "#111" };
            let _ = write!(
                s,
                "<rect x=\"{x}\" y=\"{y}\" width=\"{CELL}\" height=\"{CELL}\" fill=\"#111\" \
                 fill-opacity=\"{:.2}\" stroke=\"#111\" stroke-width=\"{edge}\"/>",
                share * 0.85
            );
            if frames > 0 {
                let _ = write!(
                    s,
                    "<text x=\"{}\" y=\"{}\" text-anchor=\"middle\" fill=\"{ink}\">{:.0}</text>",
                    x + CELL / 2.0,
                    y + CELL / 2.0 + 4.0,
                    frames as f64 / rate_hz
                );
            }
        }
    }
    s.push_str("</svg>\n");
    s
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_tags_and_columns_verdicts() {
        let source = "name = \"t\"\n[formations.f]\n1 = \"top\"\n2 = \"left wing\"\nball = 1\n\
            [options.a]\ntitle = \"A & B\"\nafter = [\"f\"]\nsteps = [[\"1 passes to 2\"]]\n";
        let graph = setdrift_playbook::load_str(source, "t").unwrap().graph;
        let mut score = Score::default();
        let tags = [Some(0); 50];
        let mut said = [Some(0); 50];
        said[40..].fill(None);
        score.add(&tags, &said).unwrap();
        let svg = confusion_svg(&graph, &score, 10.0);
        let doc = roxmltree::Document::parse(&svg).unwrap();
        let texts: Vec<&str> = doc.descendants().filter_map(|n| n.text()).collect();
        assert!(texts.contains(&"A & B") && texts.contains(&"none of these"));
        // 4 s said, 1 s not said, nothing in the row of background.
        assert!(texts.contains(&"4") && texts.contains(&"1"));
        assert_eq!(
            doc.descendants().filter(|n| n.has_tag_name("rect")).count(),
            4
        );
    }
}

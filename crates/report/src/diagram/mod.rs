//! Court diagrams in the textbook notation: a solid line is a cut, a dashed one a pass, a zigzag
//! a dribble, a bar at the end a screen.
//!
//! All functions are pure and return SVG text. The basket is at the top, so that right is right
//! for who faces it. Lines take the text colour of where they are put and need no colour to be
//! told apart, so they print in black and white and suit a dark page.

mod animate;
mod floor;
mod marks;
mod page;
mod panel;
mod runs;

pub use animate::animated_svg;
pub use floor::{court_lines, court_svg};
pub use marks::{Line, label, line, player};
pub use page::playbook_page;
pub use panel::{option_svg, sheet_svg, step_svg};
pub use runs::{Run, runs};

use setdrift_court::{AttackPoint, Court};

/// How a diagram is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct DiagramStyle {
    /// Drawn for the left hand: mirrored, words included.
    pub left_hand: bool,
    /// Width of one court, pixels.
    pub width: f64,
    /// How much floor is shown, metres from the end line; cut to the half.
    pub depth: f64,
    /// Whether the sentences stand below each step.
    pub captions: bool,
    /// Whether an option is drawn from every arrangement it can be entered in, or from the first.
    pub every_entry: bool,
    /// Whether the drawing has a white ground and black ink of its own, for a file that stands
    /// alone; otherwise it takes the page's.
    pub alone: bool,
}

impl Default for DiagramStyle {
    fn default() -> Self {
        Self {
            left_hand: false,
            width: 300.0,
            depth: 11.5,
            captions: true,
            every_entry: true,
            alone: true,
        }
    }
}

/// From the attack frame (metres) to the drawing (pixels).
#[derive(Debug, Clone, PartialEq)]
pub struct View {
    /// Pixels per metre.
    pub scale: f64,
    /// Metres shown beside and behind the floor.
    pub margin: f64,
    /// Metres shown from the end line.
    pub depth: f64,
    half_width: f64,
    left_hand: bool,
}

impl View {
    /// The view of a court in a style.
    #[must_use]
    pub fn new(court: &Court, style: &DiagramStyle) -> Self {
        let m = court.measures();
        let margin = 0.9;
        let half_width = m.width / 2.0;
        Self {
            scale: style.width / (m.width + 2.0 * margin),
            margin,
            depth: style.depth.clamp(4.0, m.length / 2.0),
            half_width,
            left_hand: style.left_hand,
        }
    }

    /// Width of the drawing, pixels.
    #[must_use]
    pub fn width(&self) -> f64 {
        (2.0 * self.half_width + 2.0 * self.margin) * self.scale
    }

    /// Height of the drawing, pixels.
    #[must_use]
    pub fn height(&self) -> f64 {
        (self.depth + 1.6 * self.margin) * self.scale
    }

    /// Where a point of the floor is drawn, pixels.
    #[must_use]
    pub fn at(&self, p: AttackPoint) -> (f64, f64) {
        let y = if self.left_hand { -p.y } else { p.y };
        (
            (y + self.half_width + self.margin) * self.scale,
            (p.x + 1.3 * self.margin) * self.scale,
        )
    }

    /// A length in pixels.
    #[must_use]
    pub fn px(&self, metres: f64) -> f64 {
        metres * self.scale
    }
}

/// Text made safe for SVG and HTML.
#[must_use]
pub fn escape(text: &str) -> String {
    let mut s = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => s.push_str("&amp;"),
            '<' => s.push_str("&lt;"),
            '>' => s.push_str("&gt;"),
            '"' => s.push_str("&quot;"),
            '\'' => s.push_str("&#39;"),
            // Not allowed in XML at all.
            c if c.is_control() && !matches!(c, '\n' | '\t') => s.push(' '),
            c => s.push(c),
        }
    }
    s
}

/// Words for the left hand: left and right change places.
#[must_use]
pub fn other_hand(text: &str) -> String {
    text.split(' ')
        .map(|w| match w {
            "left" => "right",
            "right" => "left",
            w => w,
        })
        .collect::<Vec<_>>()
        .join(" ")
}

/// A number with at most two decimals and no needless zeros.
pub(crate) fn num(v: f64) -> String {
    let r = (v * 100.0).round() / 100.0;
    // No negative zero in the text.
    format!("{}", if r == 0.0 { 0.0 } else { r })
}

/// Opens a drawing.
pub(crate) fn open(width: f64, height: f64, title: &str, alone: bool) -> String {
    let ink = if alone {
        " style=\"color:#111;background:#fff\""
    } else {
        ""
    };
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w} {h}\" width=\"{w}\" \
         height=\"{h}\" role=\"img\" aria-label=\"{t}\" font-family=\"sans-serif\"{ink}>\
         <title>{t}</title>",
        w = num(width),
        h = num(height),
        t = escape(title)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use setdrift_playbook::graph::Graph;

    fn lantern() -> Graph {
        let path = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../../sample-tracks/lantern.toml"
        );
        let source = std::fs::read_to_string(path).unwrap();
        setdrift_playbook::load_str(&source, "lantern.toml")
            .unwrap()
            .graph
    }

    fn path_points(svg: &str) -> Vec<(f64, f64)> {
        svg.split("d=\"")
            .skip(1)
            .flat_map(|p| {
                let p = p.split('"').next().unwrap_or("");
                p.split(['M', 'L', 'Z'])
                    .filter(|q| !q.is_empty())
                    .map(|q| {
                        let (x, y) = q.split_once(' ').unwrap();
                        (x.parse().unwrap(), y.parse().unwrap())
                    })
                    .collect::<Vec<_>>()
            })
            .collect()
    }

    /// The drawn three-point line goes through the points the rule book gives: on the middle line
    /// 6.75 m from the ring's centre, and 2.990 m from the end line where straight meets arc
    /// (FIBA Official Basketball Rules, Art. 2.4; computed outside).
    #[test]
    fn three_point_line_is_where_the_rule_book_has_it() {
        let court = Court::fiba();
        let view = View::new(&court, &DiagramStyle::default());
        let drawn = path_points(&court_lines(&court, &view));
        for p in [
            AttackPoint::new(1.575 + 6.75, 0.0),
            AttackPoint::new(2.990, 6.6),
            AttackPoint::new(2.990, -6.6),
        ] {
            let (x, y) = view.at(p);
            let near = drawn
                .iter()
                .map(|(a, b)| (a - x).hypot(b - y))
                .fold(f64::INFINITY, f64::min);
            assert!(near < 0.3, "{p:?}: {near} px");
        }
    }

    #[test]
    fn notation_is_the_textbooks() {
        let g = lantern();
        let style = DiagramStyle {
            every_entry: false,
            ..DiagramStyle::default()
        };
        let count = |option: &str, what: &str| {
            let o = g.option(option).unwrap();
            option_svg(&g, o, &style).matches(what).count()
        };
        // The zipper has one pass and no shot; its second step's pass is the only dashed line.
        assert_eq!(count("zipper", "stroke-dasharray"), 1);
        assert_eq!(count("flare", "stroke-dasharray"), 2);
        assert_eq!(count("swing", "stroke-dasharray"), 1);
        // One number per player and step, and one per step.
        assert_eq!(count("zipper", "<circle"), 2 * (5 + 1));
    }

    #[test]
    fn left_hand_is_the_mirror_and_says_so() {
        let g = lantern();
        let zipper = g.option("zipper").unwrap();
        let right = option_svg(&g, zipper, &DiagramStyle::default());
        let left = option_svg(
            &g,
            zipper,
            &DiagramStyle {
                left_hand: true,
                ..DiagramStyle::default()
            },
        );
        assert!(right.contains("1 dribbles to left slot"));
        assert!(left.contains("1 dribbles to right slot"));
        assert!(left.contains("left hand"));
        let style = DiagramStyle::default();
        let view = View::new(&g.court, &style);
        let mirrored = View::new(
            &g.court,
            &DiagramStyle {
                left_hand: true,
                ..style
            },
        );
        let p = AttackPoint::new(3.0, 2.0);
        let (a, b) = (view.at(p), mirrored.at(p.mirrored()));
        assert!((a.0 - b.0).abs() < 1e-9 && (a.1 - b.1).abs() < 1e-9);
    }

    /// A pass along which the passer then runs stands beside the way, or neither could be told.
    #[test]
    fn a_pass_and_a_way_on_the_same_line_are_drawn_apart() {
        let draw = |after: &str| {
            let source = format!(
                "name = \"t\"\n[formations.f]\n1 = \"top\"\n2 = \"left wing\"\nball = 1\n\
                 [options.a]\nafter = [\"f\"]\nsteps = [[\"1 passes to 2\", \"{after}\"]]\n"
            );
            let g = setdrift_playbook::load_str(&source, "t").unwrap().graph;
            let svg = option_svg(&g, 0, &DiagramStyle::default());
            let dashed = svg
                .split("<path ")
                .find(|p| p.contains("dasharray"))
                .unwrap();
            let (x, y) = path_points(dashed)[0];
            let top = View::new(&g.court, &DiagramStyle::default()).at(g.formations[0].places[0]);
            let wing = View::new(&g.court, &DiagramStyle::default()).at(g.formations[0].places[1]);
            let (dx, dy) = (wing.0 - top.0, wing.1 - top.1);
            ((x - top.0) * dy - (y - top.1) * dx).abs() / dx.hypot(dy)
        };
        assert!(draw("1 cuts to rim") < 0.5);
        assert!(draw("1 cuts to 2 ft right of left wing") > 3.0);
    }

    #[test]
    fn text_cannot_break_out() {
        let mut g = lantern();
        g.options[0].title = "<script>\"&'\u{1}".to_owned();
        let s = sheet_svg(&g, &DiagramStyle::default());
        assert!(!s.contains("<script>"));
        assert!(s.contains("&lt;script&gt;&quot;&amp;&#39; "));
    }

    #[test]
    fn every_drawing_is_well_formed_xml() {
        let g = lantern();
        let style = DiagramStyle::default();
        let mut all = vec![
            sheet_svg(&g, &style),
            court_svg(&g.court, &style, "empty", ""),
        ];
        for o in 0..g.options.len() {
            all.push(option_svg(&g, o, &style));
            for run in runs(&g, o) {
                all.push(animated_svg(&g, &run.nodes, &style));
            }
        }
        for s in all {
            let doc = roxmltree::Document::parse(&s).unwrap();
            assert_eq!(doc.root_element().tag_name().name(), "svg");
            assert!(!s.contains("NaN"));
        }
    }
}

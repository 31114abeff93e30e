//! Small drawings: strips of segments, strips of lags, groups and drift on the court.

use crate::diagram::{self, DiagramStyle, Line, View, court_svg};
use crate::html::{esc, put};
use crate::words;
use setdrift_court::{AttackPoint, Court};
use setdrift_recognise::model::Segment;
use setdrift_season::tally::{CueRow, Sort};
use setdrift_timing::model::When;

/// One bar of segments; widths are in thousandths of the whole.
pub fn segment_strip(segments: &[Segment]) -> String {
    let (Some(first), Some(last)) = (segments.first(), segments.last()) else {
        return String::new();
    };
    let whole = (last.to_s - first.from_s).max(1e-9);
    let at = |t: f64| (t - first.from_s) / whole * 1000.0;
    let mut o = String::from(
        "<svg class=\"strip\" viewBox=\"0 0 1000 20\" preserveAspectRatio=\"none\" aria-hidden=\"true\">",
    );
    for s in segments {
        bar(&mut o, Sort::of(&s.what), at(s.from_s), at(s.to_s), 20.0);
    }
    o.push_str("</svg>");
    o
}

/// One bar of shares, in the order of [`Sort::ALL`].
pub fn share_bar(seconds: &[f64; 6]) -> String {
    let whole: f64 = seconds.iter().sum::<f64>().max(1e-9);
    let mut o = String::from(
        "<svg class=\"strip tall\" viewBox=\"0 0 1000 20\" preserveAspectRatio=\"none\" aria-hidden=\"true\">",
    );
    let mut x = 0.0;
    for sort in Sort::ALL {
        let w = seconds[sort as usize] / whole * 1000.0;
        bar(&mut o, sort, x, x + w, 20.0);
        x += w;
    }
    o.push_str("</svg>");
    o
}

/// A segment is told by shape and pattern as well as by colour: the set is a thin line, what
/// was broken off or has faults is hatched, off script is half as high, no data is hollow.
fn bar(o: &mut String, sort: Sort, from: f64, to: f64, height: f64) {
    let w = (to - from - 2.0).max(0.5);
    let (y, h) = match sort {
        Sort::Set => (height * 0.4, height * 0.2),
        Sort::Off => (height * 0.5, height * 0.5),
        _ => (0.0, height),
    };
    put!(
        o,
        "<rect class=\"b-{key}\" x=\"{from:.1}\" y=\"{y}\" width=\"{w:.1}\" height=\"{h}\"/>",
        key = sort.key()
    );
    if matches!(sort, Sort::Faults | Sort::Broken) {
        put!(
            o,
            "<rect fill=\"url(#h-{key})\" x=\"{from:.1}\" y=\"{y}\" width=\"{w:.1}\" height=\"{h}\"/>",
            key = sort.key()
        );
    }
}

/// The common scale of all lag plots.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LagScale {
    /// Least lag shown, seconds.
    pub from: f64,
    /// Greatest lag shown, seconds.
    pub to: f64,
}

/// Width of the measured part of a lag plot; beside it stand those who never went.
const PLOT: f64 = 300.0;
const NEVER_X: f64 = PLOT + 14.0;
const TELL_X: f64 = PLOT + 58.0;
const FULL: f64 = PLOT + 96.0;

impl LagScale {
    /// Wide enough for windows and lags, in half seconds, and never so wide that one slip
    /// squeezes everything else: at most 1.5 s before and 3 s after.
    pub fn over(values: impl Iterator<Item = f64>) -> Self {
        let (mut from, mut to) = (-0.5_f64, 1.0_f64);
        for v in values.filter(|v| v.is_finite()) {
            from = from.min(v);
            to = to.max(v);
        }
        Self {
            from: ((from * 2.0).floor() / 2.0).max(-1.5),
            to: ((to * 2.0).ceil() / 2.0).min(3.0),
        }
    }

    fn x(self, lag: f64) -> f64 {
        10.0 + (lag.clamp(self.from, self.to) - self.from) / (self.to - self.from) * (PLOT - 20.0)
    }

    /// Whether a lag lies beyond what is shown.
    fn beyond(self, lag: f64) -> bool {
        lag < self.from || lag > self.to
    }

    /// The axis: seconds after the cue.
    pub fn axis(self) -> String {
        let mut o =
            format!("<svg class=\"lags axis\" viewBox=\"0 0 {FULL} 20\" aria-hidden=\"true\">");
        let halves = ((self.to - self.from) * 2.0).round() as i32;
        for i in 0..=halves {
            let v = self.from + f64::from(i) / 2.0;
            let x = self.x(v);
            put!(o, "<path class=\"tick\" d=\"M{x:.1} 15V20\"/>");
            if (v - v.round()).abs() < 1e-9 {
                put!(
                    o,
                    "<text x=\"{x:.1}\" y=\"12\">{}</text>",
                    words::signed(v, 0)
                );
            }
        }
        put!(
            o,
            "<text class=\"first\" x=\"{:.0}\" y=\"12\">never</text><text class=\"first\" x=\"{TELL_X}\" y=\"12\">?</text></svg>",
            NEVER_X - 6.0
        );
        o
    }
}

/// Lags of one player at one cue. Every dot is a link to its moment.
pub fn lag_strip(
    row: &CueRow<'_>,
    window: (f64, f64),
    interval: Option<(f64, f64)>,
    scale: LagScale,
    sessions: &[String],
) -> String {
    const H: f64 = 46.0;
    const MID: f64 = 19.0;
    let mut o = format!(
        "<svg class=\"lags\" viewBox=\"0 0 {FULL} {H}\" role=\"group\" aria-label=\"Lags of {}, one mark per run\">",
        esc(&row.label)
    );
    let (a, b) = (scale.x(window.0), scale.x(window.1));
    put!(
        o,
        "<rect class=\"window\" x=\"{a:.1}\" y=\"1\" width=\"{:.1}\" height=\"36\"/><path class=\"cue0\" d=\"M{z:.1} 1V37\"/>",
        (b - a).max(2.0),
        z = scale.x(0.0)
    );
    put!(o, "<path class=\"base\" d=\"M10 37H{}\"/>", PLOT - 10.0);
    let mut lanes = Lanes::default();
    let (mut never, mut tell) = (Pile::at(NEVER_X), Pile::at(TELL_X));
    let mut order: Vec<usize> = (0..row.checks.len()).collect();
    order.sort_by(|i, j| {
        let lag = |k: usize| row.checks[k].1.lag_s.unwrap_or(f64::MAX);
        lag(*i).total_cmp(&lag(*j))
    });
    for i in order {
        let (s, c) = row.checks[i];
        let (x, y) = match (c.when, c.lag_s) {
            (When::Never, _) => never.next(MID),
            (When::CannotTell, _) | (_, None) => tell.next(MID),
            (_, Some(lag)) => {
                let x = scale.x(lag);
                (x, MID + lanes.place(x))
            }
        };
        let lag = c.lag_s.map_or_else(String::new, |l| {
            let far = if scale.beyond(l) {
                " (off the scale)"
            } else {
                ""
            };
            format!(" {} after the cue{far}", words::secs(l))
        });
        let time = c.onset_s.or(c.cue_s);
        put!(
            o,
            "<a href=\"#s{s}p{p}\" data-t=\"{t:.2}\" class=\"dot d-{key}\" aria-label=\"{name}, possession {p}:{lag} {words}\"><title>{name}, possession {p}:{lag} {words}</title><circle class=\"hit\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"7\"/>{shape}</a>",
            p = c.place.possession,
            t = time.unwrap_or(-1.0),
            key = when_key(c.when),
            name = esc(sessions.get(s).map_or("", String::as_str)),
            words = super::data::when(c.when),
            shape = shape(c.when, x, y)
        );
    }
    if let Some((low, high)) = interval {
        put!(
            o,
            "<path class=\"interval\" d=\"M{:.1} 42H{:.1}\"/>",
            scale.x(low),
            scale.x(high)
        );
    }
    if let Some(m) = row.median() {
        let x = scale.x(m);
        put!(o, "<path class=\"median\" d=\"M{x:.1} 37V46\"/>");
    }
    o.push_str("</svg>");
    o
}

/// Puts dots that would cover each other above and below one another.
#[derive(Default)]
struct Lanes([Vec<f64>; 5]);

impl Lanes {
    fn place(&mut self, x: f64) -> f64 {
        const OFFSETS: [f64; 5] = [0.0, -8.0, 8.0, -14.0, 14.0];
        let free = self
            .0
            .iter()
            .position(|lane| lane.iter().all(|other| (other - x).abs() >= 9.0))
            // All lanes taken: cover what is furthest out.
            .unwrap_or(3 + self.0[3].len() % 2);
        self.0[free].push(x);
        OFFSETS[free]
    }
}

/// Puts marks without a lag in columns of four beside the plot.
struct Pile {
    x: f64,
    count: usize,
}

impl Pile {
    fn at(x: f64) -> Self {
        Self { x, count: 0 }
    }

    /// Place of the next mark; from the seventeenth on they cover each other.
    fn next(&mut self, mid: f64) -> (f64, f64) {
        let (column, row) = ((self.count / 4) % 4, self.count % 4);
        self.count += 1;
        (self.x + 10.0 * column as f64, mid - 13.0 + 9.0 * row as f64)
    }
}

/// Key of a verdict on timing.
pub fn when_key(w: When) -> &'static str {
    match w {
        When::Early => "early",
        When::OnTime => "ontime",
        When::Late => "late",
        When::Never => "never",
        When::CannotTell => "tell",
    }
}

/// The verdict's shape: points left when early, right when late, round when on time, a cross
/// when never, hollow when the data do not tell.
pub fn shape(w: When, x: f64, y: f64) -> String {
    match w {
        When::Early => format!("<path d=\"M{:.1} {y:.1}l8 -5v10z\"/>", x - 4.5),
        When::Late => format!("<path d=\"M{:.1} {y:.1}l-8 -5v10z\"/>", x + 4.5),
        When::OnTime => format!("<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"4\"/>"),
        When::Never => format!(
            "<path class=\"x\" d=\"M{:.1} {:.1}l7 7m0 -7l-7 7\"/>",
            x - 3.5,
            y - 3.5
        ),
        When::CannotTell => {
            format!("<circle class=\"o\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"3.5\"/>")
        }
    }
}

/// Nearer to the ball's mean path than this, a player is taken to have the ball, metres.
const WITH_BALL_M: f64 = 1.2;

/// A mean path shorter than this is a player who stays, metres.
const STAYS_M: f64 = 0.8;

/// Mean paths of a group in textbook notation: solid cut, zigzag dribble, dashed pass.
pub fn group_court(
    court: &Court,
    mean: &[Vec<AttackPoint>],
    ball: &[AttackPoint],
    title: &str,
) -> String {
    let style = DiagramStyle {
        alone: false,
        ..DiagramStyle::default()
    };
    let view = View::new(court, &style);
    let holder: Vec<Option<usize>> = ball
        .iter()
        .enumerate()
        .map(|(f, b)| {
            mean.iter()
                .enumerate()
                .filter_map(|(i, row)| row.get(f).map(|p| (i, p.distance(*b))))
                .filter(|(_, d)| *d <= WITH_BALL_M)
                .min_by(|a, b| a.1.total_cmp(&b.1))
                .map(|(i, _)| i)
        })
        .collect();
    let mut o = String::new();
    // A pass is where the ball goes from one player to another.
    let mut last: Option<(usize, usize)> = None;
    for (f, h) in holder.iter().enumerate() {
        let Some(h) = h else { continue };
        if let Some((from, g)) = last
            && from != *h
            && let (Some(a), Some(b)) = (mean[from].get(g), mean[*h].get(f))
        {
            o.push_str(&diagram::line(&view, &[*a, *b], Line::Pass, (0.3, 0.3)));
        }
        last = Some((*h, f));
    }
    for (i, row) in mean.iter().enumerate() {
        let legs = legs(row, &holder, i);
        let count = legs.len();
        for (k, (points, with_ball)) in legs.into_iter().enumerate() {
            let kind = match (with_ball, k + 1 == count) {
                (true, _) => Line::Dribble,
                (false, true) => Line::Cut,
                // Goes on as something else: no arrow in between.
                (false, false) => Line::Trace,
            };
            let gone: f64 = points.windows(2).map(|w| w[0].distance(w[1])).sum();
            if gone >= STAYS_M {
                let clear = if k == 0 { 0.42 } else { 0.0 };
                o.push_str(&diagram::line(&view, &points, kind, (clear, 0.0)));
            }
        }
        if let Some(p) = row.first() {
            let with_ball = holder.first() == Some(&Some(i));
            o.push_str(&diagram::player(&view, *p, "", with_ball));
        }
    }
    format!(
        "<div class=\"drawn\">{}</div>",
        court_svg(court, &style, title, &o)
    )
}

/// A player's mean path in stretches with and without the ball.
fn legs(
    row: &[AttackPoint],
    holder: &[Option<usize>],
    player: usize,
) -> Vec<(Vec<AttackPoint>, bool)> {
    let mut out: Vec<(Vec<AttackPoint>, bool)> = Vec::new();
    for (f, p) in row.iter().enumerate() {
        let ball = holder.get(f) == Some(&Some(player));
        match out.last_mut() {
            Some((points, with)) if *with == ball => points.push(*p),
            Some((points, _)) => {
                points.push(*p);
                out.push((vec![*p], ball));
            }
            None => out.push((vec![*p], ball)),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dots_do_not_cover_each_other_while_there_is_room() {
        let mut lanes = Lanes::default();
        let ys: Vec<f64> = (0..5).map(|_| lanes.place(100.0)).collect();
        for (i, a) in ys.iter().enumerate() {
            for b in &ys[i + 1..] {
                assert!((a - b).abs() >= 6.0, "{ys:?}");
            }
        }
    }

    #[test]
    fn the_scale_holds_windows_but_not_every_slip() {
        let s = LagScale::over([0.2, 0.7, 9.0].into_iter());
        assert_eq!(
            s,
            LagScale {
                from: -0.5,
                to: 3.0
            }
        );
        assert!(s.beyond(9.0));
    }

    #[test]
    fn a_path_is_cut_where_the_ball_comes_and_goes() {
        let row: Vec<AttackPoint> = (0..5)
            .map(|i| AttackPoint::new(f64::from(i), 0.0))
            .collect();
        let holder = [None, None, Some(3), Some(3), Some(1)];
        let legs = legs(&row, &holder, 3);
        let shape: Vec<(usize, bool)> = legs.iter().map(|(p, b)| (p.len(), *b)).collect();
        // Each stretch ends where the next begins.
        assert_eq!(shape, [(3, false), (3, true), (1, false)]);
    }
}

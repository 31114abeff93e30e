//! Marks for video: chapters, a table, a timeline for cutting, and a cut list.
//!
//! Marks are made from a review's tables. Times of the session become times of the video through
//! an [`Alignment`]; from there on all four formats say the same about the same [`Mark`]s.

mod align;
mod choice;
mod cuts;
mod table;
mod timeline;
mod vtt;

pub use align::{AlignError, Alignment, Moment, TimeError, time};
pub use choice::{Choice, StretchVerdict};
pub use cuts::cut_list;
pub use table::table;
pub use timeline::{Media, timeline};
pub use vtt::chapters;

use setdrift_season::reviewed::{CueRow, PlacementRow, ReviewedSession, StretchRow};

/// One stretch of a video with what happens in it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Mark {
    /// From, seconds of the video, at least 0, the time before included.
    pub from_s: f64,
    /// To, seconds of the video, after `from_s`, the time after included.
    pub to_s: f64,
    /// From and to in session time, seconds, of the thing itself.
    pub session_s: (f64, f64),
    /// Number of the possession in the session.
    pub possession: usize,
    /// `option`, `set`, `off script`, `not enough data`, `cue` or `place`.
    pub kind: String,
    /// Option key; empty where it is none.
    pub option: String,
    /// Title of the option, the action as declared, or what else to call it.
    pub title: String,
    /// Verdict in words; empty where there is none.
    pub verdict: String,
    /// `right` or `left`; empty where it is no option.
    pub hand: String,
    /// Who had which role: `1 = 4 Odell`.
    pub roles: Vec<String>,
    /// Of a cue or a place: the player concerned, where it is one.
    pub player: String,
    /// What was wrong, or what the verdict rests on: session time, time of the video, words.
    pub faults: Vec<(f64, f64, String)>,
    /// Result of the possession, in words.
    pub result: String,
    /// Points scored on the possession, where known.
    pub points: Option<usize>,
}

impl Mark {
    /// One line for people: `4 Zipper entry: ran with faults`.
    #[must_use]
    pub fn line(&self) -> String {
        let who = if self.player.is_empty() {
            String::new()
        } else {
            format!("{}: ", self.player)
        };
        if self.verdict.is_empty() {
            format!("{} {who}{}", self.possession, self.title)
        } else {
            format!("{} {who}{}: {}", self.possession, self.title, self.verdict)
        }
    }
}

/// Seconds shown before and after each mark, at least 0.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Around {
    /// Before.
    pub before_s: f64,
    /// After.
    pub after_s: f64,
}

/// The marks chosen from one session, in the order of their beginnings.
///
/// What lies before the video's beginning is left out or cut short. With time around them marks
/// may overlap; chapters, which must not, end where the next one begins.
#[must_use]
pub fn marks(
    session: &ReviewedSession,
    choice: &Choice,
    alignment: &Alignment,
    around: Around,
) -> Vec<Mark> {
    let making = Making {
        session,
        alignment,
        around,
    };
    let stretches = session
        .stretches
        .iter()
        .filter(|s| choice.takes_stretch(s))
        .filter_map(|s| making.stretch(s));
    let cues = session
        .cues
        .iter()
        .filter(|c| choice.takes_cue(c))
        .filter_map(|c| making.cue(c));
    let places = session
        .placements
        .iter()
        .filter(|p| choice.takes_place(p))
        .filter_map(|p| making.place(p));
    let mut all: Vec<Mark> = stretches.chain(cues).chain(places).collect();
    all.sort_by(|a, b| {
        a.from_s
            .total_cmp(&b.from_s)
            .then(a.to_s.total_cmp(&b.to_s))
    });
    all
}

/// Seconds that a mark of a moment lasts at least.
const MOMENT_S: f64 = 1.0;

struct Making<'a> {
    session: &'a ReviewedSession,
    alignment: &'a Alignment,
    around: Around,
}

impl Making<'_> {
    /// A mark with its times and the possession's result; `None` before the video begins, or
    /// where it has no length.
    fn mark(&self, possession: usize, from_s: f64, to_s: f64) -> Option<Mark> {
        let (before, after) = (self.around.before_s.max(0.0), self.around.after_s.max(0.0));
        let from = (self.alignment.video(from_s) - before).max(0.0);
        let to = self.alignment.video(to_s) + after;
        // What is shorter than the millisecond of WebVTT has no length there.
        if to.is_nan() || to - from < 0.001 {
            return None;
        }
        let of = self
            .session
            .possessions
            .iter()
            .find(|p| p.number == possession);
        Some(Mark {
            from_s: from,
            to_s: to,
            session_s: (from_s, to_s),
            possession,
            result: of.map_or_else(String::new, |p| match p.result.as_str() {
                "unknown" => "result not known".to_owned(),
                known => known.to_owned(),
            }),
            points: of.and_then(|p| p.points),
            ..Mark::default()
        })
    }

    fn stretch(&self, s: &StretchRow) -> Option<Mark> {
        let title = match (s.what.as_str(), s.title.as_str()) {
            (what, "") => what.to_owned(),
            ("set", formation) => format!("set: {formation}"),
            (_, title) => title.to_owned(),
        };
        Some(Mark {
            kind: s.what.clone(),
            option: s.option.clone(),
            title,
            verdict: s.verdict.clone(),
            hand: s.hand.clone(),
            roles: s
                .roles
                .iter()
                .map(|(role, id)| format!("{role} = {}", self.session.label(id)))
                .collect(),
            faults: self
                .session
                .faults
                .iter()
                .filter(|f| (f.possession, f.segment) == (s.possession, s.segment))
                .map(|f| self.note(f.time_s, &f.text))
                .collect(),
            ..self.mark(s.possession, s.from_s, s.to_s)?
        })
    }

    fn cue(&self, c: &CueRow) -> Option<Mark> {
        let (from_s, to_s) = match (c.cue_s, c.onset_s) {
            (Some(a), Some(b)) => (a.min(b), a.max(b)),
            // Who never went has had until the window's end.
            (Some(a), None) => (a, a + c.window_to_s.max(0.0)),
            (None, Some(b)) => (b, b),
            (None, None) => return None,
        };
        Some(Mark {
            kind: "cue".to_owned(),
            option: c.option.clone(),
            title: c.text.clone(),
            verdict: c.verdict.clone(),
            roles: self.role(&c.role, &c.player),
            player: self.session.label(&c.player).to_owned(),
            faults: vec![self.note(c.onset_s.or(c.cue_s)?, &c.evidence)],
            ..self.mark(c.possession, from_s, to_s.max(from_s + MOMENT_S))?
        })
    }

    fn place(&self, p: &PlacementRow) -> Option<Mark> {
        Some(Mark {
            kind: "place".to_owned(),
            option: p.option.clone(),
            title: p.text.clone(),
            verdict: p.verdict.clone(),
            roles: self.role(&p.role, &p.player),
            player: self.session.label(&p.player).to_owned(),
            faults: vec![self.note(p.time_s, &p.evidence)],
            ..self.mark(p.possession, p.time_s, p.time_s + MOMENT_S)?
        })
    }

    fn role(&self, role: &str, player: &str) -> Vec<String> {
        if role.is_empty() || player.is_empty() {
            return vec![];
        }
        vec![format!("{role} = {}", self.session.label(player))]
    }

    fn note(&self, time_s: f64, text: &str) -> (f64, f64, String) {
        (time_s, self.alignment.video(time_s), text.to_owned())
    }
}

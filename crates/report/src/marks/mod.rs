//! Marks for video: chapters, a table, a timeline for cutting, and a cut list.
//!
//! Times of the results become times of the video through an [`Alignment`]; from there on all
//! four formats say the same about the same [`Mark`]s.

mod align;
mod cuts;
mod table;
mod timeline;
mod vtt;

pub use align::{AlignError, Alignment, Moment};
pub use cuts::{CutOptions, cut_list};
pub use table::table;
pub use timeline::{Media, timeline};
pub use vtt::chapters;

use crate::words;
use setdrift_recognise::model::{Hand, Verdict, What};
use setdrift_season::results::{Results, SessionResults};

/// One stretch of a video with what happens in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// From, seconds of the video, at least 0.
    pub from_s: f64,
    /// To, seconds of the video, after `from_s`.
    pub to_s: f64,
    /// From and to in session time, seconds.
    pub session_s: (f64, f64),
    /// Number of the possession in the session.
    pub possession: usize,
    /// `option`, `set`, `off-script` or `not-enough-data`.
    pub kind: &'static str,
    /// Option key, or formation name; empty otherwise.
    pub option: String,
    /// Title of the option, or what else to call the stretch.
    pub title: String,
    /// Verdict in words; empty where there is none.
    pub verdict: String,
    /// `right` or `left`; empty where it is no option.
    pub hand: &'static str,
    /// Who had which role: `1 = 4 Odell`.
    pub roles: Vec<String>,
    /// What was wrong: session time, time of the video, words.
    pub faults: Vec<(f64, f64, String)>,
    /// Result of the possession, in words.
    pub result: &'static str,
    /// Points scored on the possession, where known.
    pub points: Option<u32>,
}

impl Mark {
    /// One line for people: `4 Zipper entry: ran with faults`.
    #[must_use]
    pub fn line(&self) -> String {
        if self.verdict.is_empty() {
            format!("{} {}", self.possession, self.title)
        } else {
            format!("{} {}: {}", self.possession, self.title, self.verdict)
        }
    }
}

/// The marks of one session, in time order, without overlaps.
///
/// Every segment of every possession gives one mark, the set before anything begins included.
/// What lies before the video's beginning is left out or cut short.
#[must_use]
pub fn marks(results: &Results, session: &SessionResults, alignment: &Alignment) -> Vec<Mark> {
    let mut out = Vec::new();
    let mut free_s = 0.0_f64;
    for (possession, reading) in session.possessions.iter().zip(&session.readings) {
        for segment in &reading.segments {
            let from_s = alignment.video(segment.from_s).max(free_s);
            let to_s = alignment.video(segment.to_s);
            // What is shorter than the millisecond of WebVTT has no length there.
            if to_s.is_nan() || to_s - from_s < 0.001 {
                continue;
            }
            free_s = to_s;
            let mut mark = Mark {
                from_s,
                to_s,
                session_s: (segment.from_s, segment.to_s),
                possession: possession.number,
                kind: "off-script",
                option: String::new(),
                title: "off script".to_owned(),
                verdict: String::new(),
                hand: "",
                roles: vec![],
                faults: vec![],
                result: words::outcome(possession.result.kind),
                points: possession.result.points,
            };
            match &segment.what {
                What::OffScript => {}
                What::NotEnoughData { .. } => {
                    mark.kind = "not-enough-data";
                    "not enough data".clone_into(&mut mark.title);
                }
                What::Set { formation } => {
                    mark.kind = "set";
                    mark.option.clone_from(formation);
                    mark.title = format!("set: {formation}");
                }
                What::Option(run) => describe(&mut mark, results, session, alignment, run),
            }
            out.push(mark);
        }
    }
    out
}

fn describe(
    mark: &mut Mark,
    results: &Results,
    session: &SessionResults,
    alignment: &Alignment,
    run: &setdrift_recognise::model::Run,
) {
    mark.kind = "option";
    if let Some(option) = results.graph.options.get(run.option) {
        mark.option.clone_from(&option.id);
        mark.title.clone_from(&option.title);
    }
    mark.hand = match run.hand {
        Hand::Right => "right",
        Hand::Left => "left",
    };
    mark.verdict = match run.verdict {
        Verdict::Ran => "ran".to_owned(),
        Verdict::RanWithFaults => "ran with faults".to_owned(),
        Verdict::BrokenOff { step } => format!("broken off at step {step}"),
    };
    mark.roles = results
        .graph
        .roles
        .iter()
        .zip(&run.players)
        .filter_map(|(role, player)| {
            let player = session.session.players.get((*player)?)?;
            Some(format!("{role} = {}", player.label()))
        })
        .collect();
    mark.faults = run
        .faults
        .iter()
        .map(|f| (f.time_s, alignment.video(f.time_s), f.text.clone()))
        .collect();
}

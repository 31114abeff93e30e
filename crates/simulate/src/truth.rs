//! What truly happened. Written beside the tracks, read by the accuracy check alone.
//!
//! Times are session seconds; players are indices into [`crate::SimulatedSession::players`].
//! Places named *court* are in the court frame; places named *as declared* are in the attack
//! frame with the run's hand undone, so that they compare with the playbook.

use serde::{Deserialize, Serialize};
use setdrift_court::{AttackPoint, CourtPoint, End};

/// The whole truth of one session.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Truth {
    /// Possessions of both teams (in practice: repetitions), by time.
    pub possessions: Vec<TruePossession>,
    /// What the audited team did, by time, without overlap, within its possessions.
    pub spans: Vec<Span>,
    /// Passes between team-mates and passes stolen, by release.
    pub passes: Vec<TruePass>,
    /// Hand-offs, by time.
    pub hand_offs: Vec<TrueHandOff>,
    /// Dribbles begun, by time.
    pub dribbles: Vec<TrueDribble>,
    /// Screens set, by time.
    pub screens: Vec<TrueScreen>,
    /// Shots, by release.
    pub shots: Vec<TrueShot>,
    /// Rebounds, by time.
    pub rebounds: Vec<TrueRebound>,
    /// Every action of every step of every run, with its cue and its placements.
    pub actions: Vec<TrueAction>,
    /// Stretches in which the ball is dead or play is stopped: from, to.
    pub dead: Vec<(f64, f64)>,
}

/// A truth file: what truly happened in one session, with the ids that its player indices mean.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TruthFile {
    /// Name of the session.
    pub session: String,
    /// Player ids; the truth's player indices are indices into this list.
    pub players: Vec<String>,
    /// What truly happened.
    pub truth: Truth,
}

/// A possession or repetition.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TruePossession {
    /// Team index.
    pub team: usize,
    /// Control is gained: the catch of the rebound, of the steal or of the inbound pass; in
    /// practice, the first movement.
    pub from_s: f64,
    /// Control is lost: the basket, the opponents' rebound or steal, the whistle; in practice,
    /// the ball at the ring (or the rebound) or, without a shot, the end of the last movement.
    pub to_s: f64,
    /// The end attacked.
    pub end: End,
    /// `made`, `missed`, `turnover`, `foul` or `stopped`, as in the event file.
    pub outcome: String,
    /// Points scored.
    pub points: u32,
    /// Whether it is a slow walk-through.
    pub walk_through: bool,
    /// Offensive rebounds in it.
    pub second_chances: u32,
}

/// A stretch of the audited team's possession.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Span {
    /// From, seconds.
    pub from_s: f64,
    /// To, seconds.
    pub to_s: f64,
    /// Index into [`Truth::possessions`].
    pub possession: usize,
    /// What it is.
    pub what: Did,
}

/// Kinds of stretch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "what")]
pub enum Did {
    /// Bringing the ball up, or going to places after an offensive rebound.
    Transition,
    /// Standing in the formation before anything begins: neither option nor off script.
    Set,
    /// An option.
    Option(OptionRun),
    /// Standing between options: neither option nor off script; a label of either neighbour is
    /// right. (Stops within an option belong to it.)
    Wait,
    /// Off script.
    OffScript {
        /// Which improvisation; `scramble` for none.
        name: String,
        /// `right` or `left`: the side it was played to.
        hand: String,
        /// The players in the order of the improvisation's parts, ball first.
        players: Vec<usize>,
    },
    /// A shot, or a drive and a shot, that no option declares.
    Finish,
}

/// A true run of an option.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OptionRun {
    /// Option key.
    pub option: String,
    /// `right` as declared, or `left` mirrored.
    pub hand: String,
    /// The player in each role.
    pub players: Vec<usize>,
    /// Steps begun: node of the graph, from, to, and whether it was finished.
    pub steps: Vec<TrueStep>,
    /// Whether all steps were finished.
    pub complete: bool,
}

/// A step of a run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrueStep {
    /// Node of the graph.
    pub node: usize,
    /// From, seconds.
    pub from_s: f64,
    /// To, seconds.
    pub to_s: f64,
    /// Whether it was finished.
    pub complete: bool,
}

/// A pass.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TruePass {
    /// Passer.
    pub from: usize,
    /// Who caught it: a team-mate, or the opponent who stole it.
    pub to: usize,
    /// Ball leaves the hand, seconds.
    pub release_s: f64,
    /// Ball is in the other's hand, seconds.
    pub catch_s: f64,
    /// `chest`, `bounce` or `lob`.
    pub flight: String,
    /// Whether an opponent caught it.
    pub stolen: bool,
    /// Whether it came from out of bounds.
    pub inbound: bool,
}

/// A hand-off.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrueHandOff {
    /// Giver.
    pub from: usize,
    /// Taker.
    pub to: usize,
    /// Ball changes hands, seconds.
    pub time_s: f64,
}

/// A dribble begun.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrueDribble {
    /// Who.
    pub player: usize,
    /// First push to the floor; for a live dribble, the moment the player goes.
    pub time_s: f64,
    /// Whether the ball was already being dribbled on the spot.
    pub live: bool,
}

/// A screen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrueScreen {
    /// Screener.
    pub screener: usize,
    /// Whom it was to free.
    pub user: usize,
    /// Screener stands, seconds.
    pub set_s: f64,
    /// The user is nearest to the screener, seconds, where they came within 1.5 m while it
    /// stood.
    pub used_s: Option<f64>,
    /// The user's defender is nearest to the screener, seconds, where within 1.0 m.
    pub contact_s: Option<f64>,
    /// Screener leaves, seconds.
    pub leave_s: f64,
    /// Where it was set, court frame.
    pub place: CourtPoint,
}

/// A shot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrueShot {
    /// Shooter.
    pub player: usize,
    /// Ball leaves the hand, seconds.
    pub release_s: f64,
    /// Ball is at the ring, seconds.
    pub ring_s: f64,
    /// Points if made.
    pub worth: u32,
    /// Whether it went in.
    pub made: bool,
}

/// A rebound.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrueRebound {
    /// Who.
    pub player: usize,
    /// Ball is in the hand, seconds.
    pub time_s: f64,
    /// Whether the shooter's team got it.
    pub offensive: bool,
}

/// An action of a run, as it was truly done.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrueAction {
    /// Index into [`Truth::spans`] of the run it belongs to.
    pub span: usize,
    /// Node of the graph.
    pub node: usize,
    /// Index of the action in the node.
    pub action: usize,
    /// Role index.
    pub role: usize,
    /// Player.
    pub player: usize,
    /// The cue's time, where the action has a cue and it came.
    pub cue_s: Option<f64>,
    /// True onset of the movement; for a pass, the release; `None` when it never was begun.
    /// For a standing start it is the push-off; after a jab, the moment the speed along the
    /// true direction turns positive.
    pub onset_s: Option<f64>,
    /// Start of a jab step the other way, where there was one.
    pub jab_s: Option<f64>,
    /// Whether the player was already moving (above 0.7 m/s) at the onset, so that no onset
    /// from standing is to be seen.
    pub moving: bool,
    /// `early`, `on-time`, `late` or `never` against the declared window; `None` without a cue,
    /// or when play stopped before the player could be said not to have gone.
    pub class: Option<String>,
    /// Arrival: within 0.5 m of the end of the movement; screens: the moment it was set;
    /// passes: the catch.
    pub done_s: Option<f64>,
    /// Place at `done_s`, as declared.
    pub place: Option<AttackPoint>,
    /// One per declared placement: by how much it was missed, metres; not above 0 when kept.
    pub off_by: Vec<Option<f64>>,
}

impl Truth {
    /// The span of the audited team at a time.
    #[must_use]
    pub fn span_at(&self, time_s: f64) -> Option<&Span> {
        let i = self.spans.partition_point(|s| s.from_s <= time_s);
        self.spans[..i].last().filter(|s| time_s < s.to_s)
    }

    /// The option key at a time, `Some("")` when truly off script (finish and transition
    /// included), and `None` where either would be right (standing in the formation or between
    /// options) or no possession of the audited team is on.
    #[must_use]
    pub fn label_at(&self, time_s: f64) -> Option<&str> {
        match &self.span_at(time_s)?.what {
            Did::Option(run) => Some(&run.option),
            Did::OffScript { .. } | Did::Finish | Did::Transition => Some(""),
            Did::Set | Did::Wait => None,
        }
    }
}

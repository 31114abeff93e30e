//! The plain data that later stages read. Times are session time in seconds.

use serde::{Deserialize, Serialize};
use setdrift_playbook::graph::{NodeIx, OptionIx};

/// What was recognised in one possession.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// Number of the possession in the session.
    pub possession: usize,
    /// Segments in time order, without gaps or overlaps, from the possession's start to its end.
    pub segments: Vec<Segment>,
    /// What could not be judged and why, in words.
    pub limits: Vec<String>,
}

/// A stretch of a possession.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Segment {
    /// From, seconds.
    pub from_s: f64,
    /// To, seconds.
    pub to_s: f64,
    /// What it is.
    pub what: What,
}

/// What a segment is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "what")]
pub enum What {
    /// A declared option.
    Option(Box<Run>),
    /// Standing in a declared formation before anything begins.
    Set {
        /// The formation's name.
        formation: String,
    },
    /// Nothing that is declared.
    OffScript,
    /// Too little is known of the players.
    NotEnoughData {
        /// Share of the samples that are unknown, 0..=1.
        missing: f64,
    },
}

/// Which hand an option was run to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Hand {
    /// As declared.
    Right,
    /// Mirrored.
    Left,
}

/// One run of an option.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Run {
    /// Which option.
    pub option: OptionIx,
    /// As declared or mirrored.
    pub hand: Hand,
    /// The player (session index) in each role; `None` where nobody was left for it.
    pub players: Vec<Option<usize>>,
    /// Steps begun, in order.
    pub steps: Vec<StepRun>,
    /// The verdict.
    pub verdict: Verdict,
    /// What was wrong, most serious first.
    pub faults: Vec<Fault>,
    /// Mean cost per frame (capped squared deviations in tolerances, summed over roles and ball).
    pub cost: f64,
    /// The best other option for the same stretch, where there is one.
    pub runner_up: Option<OptionIx>,
    /// How much worse the runner-up (or off script) is, cost per frame.
    pub margin: f64,
    /// 0..=1.
    pub confidence: f64,
}

/// One step of a run, aligned to its reference motion.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StepRun {
    /// The node of the graph.
    pub node: NodeIx,
    /// From, seconds.
    pub from_s: f64,
    /// To, seconds.
    pub to_s: f64,
    /// Whether its last reference frame was reached.
    pub complete: bool,
    /// Warping path: session time in seconds and reference frame, one per frame of the query.
    pub path: Vec<(f64, u32)>,
    /// Root-mean-square deviation of each role from its reference, metres; `None` where unknown.
    pub deviation: Vec<Option<f64>>,
}

/// Verdict on a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// All of it, within tolerance.
    Ran,
    /// All of it, with faults.
    RanWithFaults,
    /// Not all of it.
    BrokenOff {
        /// The step (from 1) in which it broke.
        step: usize,
    },
}

/// Something wrong with a run, with its evidence.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fault {
    /// When, seconds.
    pub time_s: f64,
    /// The role concerned, where it is one.
    pub role: Option<usize>,
    /// The player concerned, where it is one.
    pub player: Option<usize>,
    /// In words with the distance or time: `3 was 7 ft above the right corner at the catch`.
    pub text: String,
}

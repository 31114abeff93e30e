//! What a playbook compiles to: a graph of steps. Nodes are steps with reference motion, edges
//! are what may follow, options are named paths through it.
//!
//! Positions are in the attack frame, metres, right-handed as declared; motion is at
//! [`RATE_HZ`].

use serde::{Deserialize, Serialize};
use setdrift_court::{AttackPoint, Court, LengthUnit, Zone};

/// Frames per second of reference motion.
pub const RATE_HZ: f64 = 10.0;

/// Index of a role in [`Graph::roles`].
pub type RoleIx = usize;
/// Index of an option in [`Graph::options`].
pub type OptionIx = usize;
/// Index of a node in [`Graph::nodes`].
pub type NodeIx = usize;

/// A compiled playbook.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Graph {
    /// The offence's name.
    pub name: String,
    /// The floor it is drawn on.
    pub court: Court,
    /// Unit for lengths shown to its readers.
    pub unit: LengthUnit,
    /// Role names, two to five of them, usually `1` … `5`.
    pub roles: Vec<String>,
    /// Named starting arrangements.
    pub formations: Vec<Formation>,
    /// Options in the order declared.
    pub options: Vec<PlayOption>,
    /// Steps with reference motion.
    pub nodes: Vec<Node>,
    /// What may follow what.
    pub edges: Vec<Edge>,
    /// Nodes that may begin when nothing has been run yet.
    pub starts: Vec<NodeIx>,
    /// What was written, so that the text can be made again; empty for a graph not made from text.
    #[serde(default)]
    pub declared: Declared,
}

/// The words a graph was compiled from. Numbers are in the playbook's own unit, as written.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Declared {
    /// Measures of a court of one's own, by name; empty for a rule book's court.
    pub court: Vec<(String, f64)>,
    /// Spots beside the built-in ones: distance from the end line, distance to the right.
    pub spots: Vec<(String, [f64; 2])>,
    /// Tolerances by kind of action, where declared.
    pub tolerance: Vec<(String, f64)>,
    /// Per formation, the place of each role.
    pub formations: Vec<Vec<String>>,
    /// Per option, what only its text holds.
    pub options: Vec<DeclaredOption>,
}

/// The words of one option that its compiled form does not hold.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct DeclaredOption {
    /// What it may follow.
    pub after: Vec<String>,
    /// Its sentences, step by step.
    pub steps: Vec<Vec<String>>,
    /// Who becomes whom at a reset, where declared: `(new role, old role)` names.
    pub refill: Vec<(String, String)>,
    /// Its read, sentence by sentence.
    pub read: Vec<String>,
}

/// A named arrangement of the roles.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Formation {
    /// Name.
    pub name: String,
    /// A place per role.
    pub places: Vec<AttackPoint>,
    /// The role with the ball, where declared.
    pub ball: Option<RoleIx>,
}

/// An option as declared.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlayOption {
    /// Key in the file: `zipper`.
    pub id: String,
    /// Title for people.
    pub title: String,
    /// Series it belongs to, where declared.
    pub series: Option<String>,
    /// Number of steps.
    pub steps: usize,
    /// What is expected over the whole option.
    pub expect: Vec<Expectation>,
    /// The formation it resets to, where it is a reset.
    pub returns: Option<String>,
    /// What the defence must be doing for this to be the right choice, as written.
    pub read: Option<String>,
}

/// One step of one option, entered from one state.
///
/// An option that may follow two others has a node for each state it can start from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Node {
    /// The option it is a step of.
    pub option: OptionIx,
    /// Which step of the option, from 0.
    pub step: usize,
    /// Whether it is the option's last step.
    pub last: bool,
    /// Where everyone should be, and when.
    pub motion: Motion,
    /// What is done in it, in the order written.
    pub actions: Vec<Action>,
}

/// An edge of the graph.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Edge {
    /// From the end of this node.
    pub from: NodeIx,
    /// To the beginning of this node.
    pub to: NodeIx,
    /// When roles are refilled on the way: `refill[new role] = old role`.
    pub refill: Option<Vec<RoleIx>>,
}

/// Reference motion of a step: where every role and the ball should be, at [`RATE_HZ`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Motion {
    /// `roles[role][frame]`; all rows of equal length, at least 2.
    pub roles: Vec<Vec<AttackPoint>>,
    /// `ball[frame]`.
    pub ball: Vec<AttackPoint>,
    /// How far from its path each role may be and still be said to run it, metres.
    pub tolerance: Vec<f64>,
}

impl Motion {
    /// Number of frames.
    #[must_use]
    pub fn frames(&self) -> usize {
        self.ball.len()
    }

    /// Nominal duration, seconds: from the first frame to the last.
    #[must_use]
    pub fn duration_s(&self) -> f64 {
        self.frames().saturating_sub(1) as f64 / RATE_HZ
    }
}

/// One thing one role does in a step.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Action {
    /// Who does it.
    pub role: RoleIx,
    /// What.
    pub kind: ActionKind,
    /// First frame of the step's motion in which it happens.
    pub from: usize,
    /// Last frame of the step's motion in which it happens.
    pub to: usize,
    /// What it waits for.
    pub cue: Option<Cue>,
    /// Where it counts.
    pub placements: Vec<Placement>,
    /// The sentence as written.
    pub text: String,
}

/// Kinds of action, in the trade's words.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ActionKind {
    /// Passes to a role.
    Pass {
        /// Receiver.
        to: RoleIx,
        /// How.
        kind: PassKind,
    },
    /// Dribbles to a place, or at a role.
    Dribble {
        /// Where the dribble ends.
        to: AttackPoint,
        /// The role dribbled at, if any.
        at: Option<RoleIx>,
    },
    /// Hands the ball to a role.
    HandOff {
        /// Receiver.
        to: RoleIx,
    },
    /// Moves without the ball.
    Cut {
        /// Which kind of cut.
        kind: CutKind,
        /// Points after the starting one; the last is where it ends.
        path: Vec<AttackPoint>,
        /// The role whose screen is used.
        off: Option<RoleIx>,
    },
    /// Sets a screen.
    Screen {
        /// Whom it frees.
        user: RoleIx,
        /// Where it is set.
        at: AttackPoint,
    },
    /// Leaves a screen early or after it: slip, roll, pop.
    Leave {
        /// Which.
        kind: LeaveKind,
        /// Where it ends.
        to: AttackPoint,
    },
    /// Seals or ducks in near the basket.
    Post {
        /// Which.
        kind: PostKind,
        /// Where.
        at: AttackPoint,
    },
    /// Stays where they are.
    Hold,
    /// Shoots.
    Shot,
}

/// Kinds of pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PassKind {
    /// Not said.
    Any,
    /// From the chest.
    Chest,
    /// Off the floor.
    Bounce,
    /// Over the top.
    Lob,
    /// Across to the other side.
    Skip,
}

/// Kinds of movement without the ball.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CutKind {
    /// A plain cut.
    Cut,
    /// Behind the defender towards the basket.
    BackCut,
    /// Through the lane to the other side.
    Through,
    /// Into a place another left.
    Replace,
    /// Up from the corner.
    Lift,
    /// Along the arc, away from the ball.
    Drift,
    /// All the way down to the corner.
    Flatten,
    /// Out of the way, so that another has the side.
    Clear,
}

/// What a screener does next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LeaveKind {
    /// Before contact.
    Slip,
    /// To the basket.
    Roll,
    /// To the outside.
    Pop,
}

/// What a post player does for position.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PostKind {
    /// Holds a defender behind.
    Seal,
    /// Steps into the lane for the ball.
    DuckIn,
}

/// What an action waits for, and how long after it may begin.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Cue {
    /// Whose doing.
    pub role: RoleIx,
    /// What they do.
    pub event: CueEvent,
    /// Earliest good start after the cue, seconds; negative is before it.
    pub from_s: f64,
    /// Latest good start after the cue, seconds.
    pub to_s: f64,
}

/// Events that can be a cue.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CueEvent {
    /// Lets the ball go in a pass.
    Passes,
    /// Catches a pass.
    Catches,
    /// Puts the ball on the floor.
    Dribbles,
    /// Has set a screen.
    Screens,
    /// Hands the ball over.
    HandsOff,
    /// Comes to a place.
    Reaches {
        /// Where.
        place: AttackPoint,
        /// Its name as written.
        name: String,
    },
    /// Begins to move without the ball.
    Cuts,
}

/// Where an action counts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Placement {
    /// Must be inside a zone.
    Inside(Zone),
    /// Must be outside a zone.
    Outside(Zone),
    /// Must be within a distance of a place.
    Within {
        /// Metres.
        distance: f64,
        /// The place.
        place: AttackPoint,
        /// Its name as written.
        name: String,
    },
    /// Must be further from the end line than a place.
    Above {
        /// The place.
        place: AttackPoint,
        /// Its name as written.
        name: String,
    },
    /// Must be nearer to the end line than a place.
    Below {
        /// The place.
        place: AttackPoint,
        /// Its name as written.
        name: String,
    },
    /// Must face a place: the line from shoulder to shoulder is square to it.
    Facing {
        /// The place.
        place: AttackPoint,
        /// Its name as written.
        name: String,
    },
}

/// What is expected over a whole option.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Expectation {
    /// What.
    pub kind: ExpectationKind,
    /// The sentence as written.
    pub text: String,
}

/// Kinds of expectation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ExpectationKind {
    /// No two of the roles nearer than this, metres.
    Spacing {
        /// Metres.
        least: f64,
        /// Among whom.
        roles: Vec<RoleIx>,
    },
    /// These roles are out of a zone when an event happens, or at the end when none is named.
    Clear {
        /// Which zone.
        zone: Zone,
        /// Of whom.
        roles: Vec<RoleIx>,
        /// When.
        when: Option<(RoleIx, CueEvent)>,
    },
    /// How many are on the ball's side of the middle at the end, the player with the ball included.
    BallSide {
        /// Least.
        least: usize,
        /// Most.
        most: usize,
    },
    /// At least so many catches in the middle.
    MiddleTouches {
        /// Least.
        least: usize,
    },
    /// At least so many times the ball goes from one side to the other.
    Reversals {
        /// Least.
        least: usize,
    },
    /// Where a role has the ball.
    Catch {
        /// Who.
        role: RoleIx,
        /// Where.
        placement: Placement,
    },
}

impl Graph {
    /// Nodes of one option's step, in order.
    pub fn nodes_of(&self, option: OptionIx, step: usize) -> impl Iterator<Item = NodeIx> + '_ {
        self.nodes
            .iter()
            .enumerate()
            .filter(move |(_, n)| n.option == option && n.step == step)
            .map(|(i, _)| i)
    }

    /// All ways through an option: from each arrangement it is entered in, along every branch, in the
    /// graph's order.
    #[must_use]
    pub fn ways(&self, option: OptionIx) -> Vec<Vec<NodeIx>> {
        let mut out = Vec::new();
        let mut open: Vec<Vec<NodeIx>> = self.nodes_of(option, 0).map(|n| vec![n]).collect();
        open.reverse();
        while let Some(way) = open.pop() {
            let at = way[way.len() - 1];
            let step = self.nodes[at].step + 1;
            let next = self
                .edges
                .iter()
                .filter(|e| e.from == at)
                .map(|e| e.to)
                .filter(|t| self.nodes[*t].option == option && self.nodes[*t].step == step);
            let longer: Vec<Vec<NodeIx>> = next
                .map(|n| way.iter().copied().chain([n]).collect())
                .collect();
            if longer.is_empty() {
                out.push(way);
            } else {
                open.extend(longer.into_iter().rev());
            }
        }
        out
    }

    /// Index of a role by its name.
    #[must_use]
    pub fn role(&self, name: &str) -> Option<RoleIx> {
        self.roles.iter().position(|r| r == name)
    }

    /// Index of an option by its key.
    #[must_use]
    pub fn option(&self, id: &str) -> Option<OptionIx> {
        self.options.iter().position(|o| o.id == id)
    }
}

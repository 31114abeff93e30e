//! The words of the language: one table that the parser, the printer and the manual all read.

use crate::graph::{CutKind, LeaveKind, PassKind, PostKind};
use crate::sentence::Verb;

/// What must follow a verb.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Then {
    Nothing,
    ToRoles,
    ToPlace,
    AtRole,
    AtPlace,
    Role,
    ForRole,
    Seconds,
}

impl Then {
    fn pattern(self) -> &'static str {
        match self {
            Self::Nothing => "",
            Self::ToRoles => " to ROLE",
            Self::ToPlace => " to PLACE",
            Self::AtRole => " at ROLE",
            Self::AtPlace => " at PLACE",
            Self::Role => " ROLE",
            Self::ForRole => " for ROLE [at PLACE]",
            Self::Seconds => " NUMBER s",
        }
    }
}

/// Which verb a row makes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Make {
    Pass(PassKind),
    DribbleTo,
    DribbleAt,
    HandOff,
    Cut(CutKind),
    Replace,
    Screen,
    Leave(LeaveKind),
    Post(PostKind),
    Hold,
    Wait,
    Shoot,
}

/// A verb of the language.
#[derive(Debug, Clone, Copy)]
pub(crate) struct VerbRow {
    /// As said of one.
    pub words: &'static str,
    /// As said of several.
    pub plural: &'static str,
    pub then: Then,
    pub make: Make,
    pub meaning: &'static str,
    pub example: &'static str,
}

macro_rules! verbs {
    ($($words:literal / $plural:literal, $then:expr, $make:expr, $meaning:literal, $example:literal;)*) => {
        &[$(VerbRow { words: $words, plural: $plural, then: $then, make: $make,
                      meaning: $meaning, example: $example }),*]
    };
}

/// All verbs.
pub(crate) const VERBS: &[VerbRow] = verbs! {
    "passes" / "pass", Then::ToRoles, Make::Pass(PassKind::Any),
        "The ball goes to that role, by any kind of pass.", "1 passes to 2";
    "chest passes" / "chest pass", Then::ToRoles, Make::Pass(PassKind::Chest),
        "A pass from the chest.", "1 chest passes to 2";
    "bounce passes" / "bounce pass", Then::ToRoles, Make::Pass(PassKind::Bounce),
        "A pass off the floor.", "2 bounce passes to 5";
    "lob passes" / "lob pass", Then::ToRoles, Make::Pass(PassKind::Lob),
        "A pass over the top.", "1 lob passes to 5";
    "skip passes" / "skip pass", Then::ToRoles, Make::Pass(PassKind::Skip),
        "A pass across to the other side.", "3 skip passes to 4";
    "dribbles" / "dribble", Then::ToPlace, Make::DribbleTo,
        "Takes the ball there on the dribble.", "1 dribbles to left wing";
    "dribbles" / "dribble", Then::AtRole, Make::DribbleAt,
        "Dribbles towards where that role stands, and stops 4 ft (1.2 m) short.", "1 dribbles at 3";
    "hands off" / "hand off", Then::ToRoles, Make::HandOff,
        "Gives the ball from hand to hand as that role comes by.", "5 hands off to 2";
    "cuts" / "cut", Then::ToPlace, Make::Cut(CutKind::Cut),
        "Moves there without the ball.", "2 cuts to top";
    "back cuts" / "back cut", Then::ToPlace, Make::Cut(CutKind::BackCut),
        "Cuts behind the defender, towards the basket.", "3 back cuts to rim";
    "cuts through" / "cut through", Then::ToPlace, Make::Cut(CutKind::Through),
        "Cuts in front of the rim and out to that place.", "1 cuts through to left corner";
    "replaces" / "replace", Then::Role, Make::Replace,
        "Fills the place where that role stood when the step began.", "3 replaces 1";
    "lifts" / "lift", Then::ToPlace, Make::Cut(CutKind::Lift),
        "Comes up from lower down.", "4 lifts to right wing";
    "drifts" / "drift", Then::ToPlace, Make::Cut(CutKind::Drift),
        "Slides along the arc, away from the ball.", "3 drifts to right corner";
    "flattens" / "flatten", Then::ToPlace, Make::Cut(CutKind::Flatten),
        "Runs all the way down to the corner.", "4 flattens to right corner";
    "clears" / "clear", Then::ToPlace, Make::Cut(CutKind::Clear),
        "Leaves a side to another.", "3 clears to left corner";
    "screens" / "screen", Then::ForRole, Make::Screen,
        "Sets a screen that frees that role; without a place, 3 ft (0.9 m) from that role towards the rim.",
        "5 screens for 2 at left elbow inside lane";
    "slips" / "slip", Then::ToPlace, Make::Leave(LeaveKind::Slip),
        "Leaves a screen before contact.", "5 slips to rim";
    "rolls" / "roll", Then::ToPlace, Make::Leave(LeaveKind::Roll),
        "Leaves a screen towards the basket, once it has been used.", "5 rolls to left block";
    "pops" / "pop", Then::ToPlace, Make::Leave(LeaveKind::Pop),
        "Leaves a screen towards the outside, once it has been used.", "5 pops to top";
    "seals" / "seal", Then::AtPlace, Make::Post(PostKind::Seal),
        "Holds a defender behind at that place.", "5 seals at right block";
    "ducks in" / "duck in", Then::AtPlace, Make::Post(PostKind::DuckIn),
        "Steps into the lane there and asks for the ball.", "5 ducks in at rim";
    "holds" / "hold", Then::Nothing, Make::Hold,
        "Stays. Whoever is not named in a step also stays; this says it is meant.", "3 and 4 hold";
    "waits" / "wait", Then::Seconds, Make::Wait,
        "Stays so long before the next thing that role does in the step.", "2 waits 0.5 s";
    "shoots" / "shoot", Then::Nothing, Make::Shoot,
        "Shoots; nothing follows but a reset of the whole offence.", "2 shoots";
};

/// The row of a verb.
pub(crate) fn verb_row(verb: &Verb) -> &'static VerbRow {
    let make = match verb {
        Verb::Pass { kind, .. } => Make::Pass(*kind),
        Verb::DribbleTo(_) => Make::DribbleTo,
        Verb::DribbleAt(_) => Make::DribbleAt,
        Verb::HandOff(_) => Make::HandOff,
        Verb::Cut { kind, .. } => Make::Cut(*kind),
        Verb::Replace(_) => Make::Replace,
        Verb::Screen { .. } => Make::Screen,
        Verb::Leave { kind, .. } => Make::Leave(*kind),
        Verb::Post { kind, .. } => Make::Post(*kind),
        Verb::Hold => Make::Hold,
        Verb::Wait(_) => Make::Wait,
        Verb::Shoot => Make::Shoot,
    };
    VERBS.iter().find(|r| r.make == make).unwrap_or(&VERBS[0])
}

/// A sentence pattern for the manual.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pattern {
    /// The pattern: capitals stand for what varies, brackets for what may be left out.
    pub pattern: String,
    /// What it means.
    pub meaning: &'static str,
    /// A sentence that uses it.
    pub example: &'static str,
}

/// What may follow the action in a sentence. `lead` is what the parser looks for.
pub(crate) struct TailRow {
    pub lead: &'static str,
    pub kind: Tail,
    pub pattern: &'static str,
    pub meaning: &'static str,
    pub example: &'static str,
}

/// Kinds of tail.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tail {
    Via,
    Off,
    InSeconds,
    Place,
    Give,
    When,
    If,
    Unless,
}

macro_rules! rows {
    ($ty:ident: $($lead:literal, $kind:expr, $pattern:literal, $meaning:literal, $example:literal;)*) => {
        &[$($ty { lead: $lead, kind: $kind, pattern: $pattern, meaning: $meaning, example: $example }),*]
    };
}

/// All tails.
pub(crate) const TAILS: &[TailRow] = rows! { TailRow:
    "via", Tail::Via, "via PLACE", "By way of that place; may be said several times.",
        "4 cuts to top via nail";
    "off", Tail::Off, "off ROLE", "Shoulder to shoulder past that role, who screens or hands off.",
        "2 cuts to top off 5";
    "in", Tail::InSeconds, "in NUMBER s",
        "How long the movement takes; from distance and typical speed when not said.",
        "3 cuts to rim in 1.8 s";
    "inside", Tail::Place, "inside ZONE", "The action counts only there.",
        "5 screens for 2 at left elbow inside lane";
    "outside", Tail::Place, "outside ZONE", "The action counts only out of there.",
        "5 screens for 1 at left wing outside lane";
    "behind", Tail::Place, "behind the arc", "Beyond the three-point line.",
        "4 drifts to right corner behind the arc";
    "within", Tail::Place, "within NUMBER UNIT of PLACE", "No further than that from the place.",
        "5 screens for 2 at left elbow within 3 ft of left elbow";
    "above", Tail::Place, "above PLACE", "Further from the end line than the place.",
        "3 lifts to right slot above right wing";
    "below", Tail::Place, "below PLACE", "Nearer to the end line than the place.",
        "4 flattens to right corner below right wing";
    "facing", Tail::Place, "facing PLACE", "The shoulders are square to the place.",
        "5 screens for 2 at left elbow facing left corner";
    "give or take", Tail::Give, "give or take NUMBER UNIT",
        "How far from the drawn path still counts as running it.",
        "3 cuts to rim give or take 6 ft";
    "when", Tail::When, "when ROLE EVENT [WINDOW]",
        "The cue: what the action waits for, and how long after it may begin.",
        "2 cuts to top off 5 when 1 dribbles within 0.5 s";
    "if", Tail::If, "if ROLE is [still] at PLACE",
        "Only when that role is there (within 3 ft, 1 m) as the step begins; also `if ROLE has the ball`.",
        "1 passes to 2 if 2 is still at top";
    "unless", Tail::Unless, "unless ROLE is at PLACE",
        "Only when that role is not there as the step begins; also `unless ROLE has the ball`.",
        "3 lifts to right slot unless 2 is at right slot";
};

/// An event that may be a cue.
pub(crate) struct EventRow {
    pub lead: &'static str,
    pub kind: EventKind,
    pub pattern: &'static str,
    pub meaning: &'static str,
    pub example: &'static str,
}

/// Kinds of event.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum EventKind {
    Passes,
    Catches,
    Dribbles,
    Screens,
    HandsOff,
    Reaches,
    Cuts,
}

/// All events.
pub(crate) const EVENTS: &[EventRow] = rows! { EventRow:
    "passes", EventKind::Passes, "passes", "The ball leaves the hand.",
        "3 back cuts to rim when 1 passes";
    "catches", EventKind::Catches, "catches", "A pass is caught.",
        "4 lifts to right wing when 2 catches within 0.8 s";
    "dribbles", EventKind::Dribbles, "dribbles", "The ball is put on the floor.",
        "2 cuts to top when 1 dribbles";
    "screens", EventKind::Screens, "screens", "The screen has been set.",
        "2 cuts to top off 5 when 5 screens between -0.2 and 0.6 s";
    "hands off", EventKind::HandsOff, "hands off", "The ball changes hands.",
        "5 rolls to rim when 5 hands off";
    "reaches", EventKind::Reaches, "reaches PLACE", "That role comes within 2 ft (0.6 m) of the place.",
        "3 replaces 1 when 1 reaches left wing";
    "cuts", EventKind::Cuts, "cuts", "That role begins to move without the ball.",
        "3 replaces 1 when 1 cuts";
};

/// A row of a table that only the manual and the tests read; `read_expect` is its parser.
pub(crate) struct ProseRow {
    pub pattern: &'static str,
    pub meaning: &'static str,
    pub example: &'static str,
}

macro_rules! prose {
    ($($pattern:literal, $meaning:literal, $example:literal;)*) => {
        &[$(ProseRow { pattern: $pattern, meaning: $meaning, example: $example }),*]
    };
}

/// All expectations.
pub(crate) const EXPECTATIONS: &[ProseRow] = prose! {
    "spacing at least NUMBER UNIT [among ROLES]",
        "No two of them nearer to each other at any time; everyone when nobody is named.",
        "spacing at least 12 ft among 1 2 3 4";
    "ZONE clear of ROLES [when ROLE EVENT]",
        "Nobody of these in the zone, at the event or at the option's end.",
        "lane clear of 3 4 when 2 catches";
    "ball side at least NUMBER",
        "How many are on the ball's half at the end; also `at most NUMBER` and `NUMBER to NUMBER`.",
        "ball side 2 to 3";
    "at least NUMBER touches in the middle",
        "Catches in the middle.", "at least 1 touches in the middle";
    "at least NUMBER reversals",
        "How often the ball goes from one side to the other.", "at least 1 reversals";
    "ROLE catches PLACEMENT",
        "Where that role catches: inside or outside a zone, behind the arc, within a distance, above or below.",
        "2 catches behind the arc";
};

/// All reads.
pub(crate) const READS: &[ProseRow] = prose! {
    "when DEFENDER is PLACEMENT",
        "Where the defender is: above or below a role or place, inside or outside a zone, within a distance.",
        "when X2 is above 2";
    "when DEFENDER is between PLACE and PLACE",
        "The defender denies: stands on the line from one to the other.",
        "when X2 is between 1 and 2";
    "when DEFENDER goes over ROLE",
        "The defender follows over the top of that role's screen.", "when X2 goes over 5";
    "when DEFENDER goes under ROLE",
        "The defender goes behind that role's screen.", "when X2 goes under 5";
    "when DEFENDER trails ROLE",
        "The defender chases behind.", "when X2 trails 2";
    "when DEFENDER and DEFENDER switch",
        "The two defenders change their players.", "when X2 and X5 switch";
};

/// The chapters of the grammar, each with its patterns, in the order of the manual.
#[must_use]
pub fn patterns() -> Vec<(&'static str, Vec<Pattern>)> {
    let row = |pattern: &str, meaning, example| Pattern {
        pattern: pattern.to_owned(),
        meaning,
        example,
    };
    vec![
        (
            "Actions",
            VERBS
                .iter()
                .map(|r| Pattern {
                    pattern: format!("ROLE {}{}", r.words, r.then.pattern()),
                    meaning: r.meaning,
                    example: r.example,
                })
                .collect(),
        ),
        (
            "What may follow an action",
            TAILS
                .iter()
                .map(|r| row(r.pattern, r.meaning, r.example))
                .collect(),
        ),
        (
            "Events for cues",
            EVENTS
                .iter()
                .map(|r| row(r.pattern, r.meaning, r.example))
                .collect(),
        ),
        (
            "Expectations",
            EXPECTATIONS
                .iter()
                .map(|r| row(r.pattern, r.meaning, r.example))
                .collect(),
        ),
        (
            "Reads",
            READS
                .iter()
                .map(|r| row(r.pattern, r.meaning, r.example))
                .collect(),
        ),
    ]
}

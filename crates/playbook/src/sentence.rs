//! What a sentence says, and how it is written again.

use crate::graph::{CutKind, LeaveKind, PassKind, PostKind, RoleIx};
use setdrift_court::{AttackPoint, LengthUnit, Zone};

/// A length as written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Length {
    /// The number.
    pub value: f64,
    /// Its unit.
    pub unit: LengthUnit,
}

impl Length {
    /// The length in metres.
    #[must_use]
    pub fn metres(self) -> f64 {
        self.unit.to_metres(self.value)
    }

    fn text(self) -> String {
        format!("{} {}", self.value, self.unit)
    }
}

/// A direction on the floor as one faces the basket; above is away from the end line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Away from the end line.
    Above,
    /// Towards the end line.
    Below,
    /// To the left.
    Left,
    /// To the right.
    Right,
}

impl Direction {
    pub(crate) const ALL: [(&'static str, Self); 4] = [
        ("above", Self::Above),
        ("below", Self::Below),
        ("left of", Self::Left),
        ("right of", Self::Right),
    ];

    fn words(self) -> &'static str {
        Self::ALL
            .iter()
            .find(|(_, d)| *d == self)
            .map_or("above", |(w, _)| w)
    }
}

/// A place as written.
#[derive(Debug, Clone, PartialEq)]
pub enum Place {
    /// A named spot, built in or declared.
    Spot {
        /// Its name.
        name: String,
        /// Where it is.
        at: AttackPoint,
    },
    /// Where a role stands when the step begins.
    Role(RoleIx),
    /// So far from another place.
    Offset {
        /// How far.
        by: Length,
        /// Which way.
        way: Direction,
        /// From where.
        of: Box<Place>,
    },
}

impl Place {
    /// The point meant, given where the roles stand when the step begins (one per role).
    #[must_use]
    pub fn resolve(&self, roles: &[AttackPoint]) -> AttackPoint {
        match self {
            Self::Spot { at, .. } => *at,
            Self::Role(r) => roles[*r],
            Self::Offset { by, way, of } => {
                let p = of.resolve(roles);
                let d = by.metres();
                match way {
                    Direction::Above => AttackPoint::new(p.x + d, p.y),
                    Direction::Below => AttackPoint::new(p.x - d, p.y),
                    Direction::Left => AttackPoint::new(p.x, p.y - d),
                    Direction::Right => AttackPoint::new(p.x, p.y + d),
                }
            }
        }
    }

    /// The place in words.
    #[must_use]
    pub fn text(&self, roles: &[String]) -> String {
        match self {
            Self::Spot { name, .. } => name.clone(),
            Self::Role(r) => roles[*r].clone(),
            Self::Offset { by, way, of } => {
                format!("{} {} {}", by.text(), way.words(), of.text(roles))
            }
        }
    }
}

/// Who does something.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Who {
    /// All of these, each on their own.
    All(Vec<RoleIx>),
    /// One of these: a branch.
    OneOf(Vec<RoleIx>),
    /// Every role.
    Everyone,
}

/// What is done.
#[derive(Debug, Clone, PartialEq)]
pub enum Verb {
    /// Passes to one of these roles.
    Pass {
        /// How.
        kind: PassKind,
        /// To one of these.
        to: Vec<RoleIx>,
    },
    /// Dribbles to a place.
    DribbleTo(Place),
    /// Dribbles at a role.
    DribbleAt(RoleIx),
    /// Hands the ball to one of these roles.
    HandOff(Vec<RoleIx>),
    /// Moves without the ball to a place.
    Cut {
        /// Which kind.
        kind: CutKind,
        /// Where to.
        to: Place,
    },
    /// Goes where a role stands when the step begins.
    Replace(RoleIx),
    /// Screens for a role.
    Screen {
        /// Whom it frees.
        user: RoleIx,
        /// Where; 3 ft from the user towards the rim when not said.
        at: Option<Place>,
    },
    /// Slips, rolls or pops.
    Leave {
        /// Which.
        kind: LeaveKind,
        /// Where to.
        to: Place,
    },
    /// Seals or ducks in.
    Post {
        /// Which.
        kind: PostKind,
        /// Where.
        at: Place,
    },
    /// Stays.
    Hold,
    /// Stays for so many seconds.
    Wait(f64),
    /// Shoots.
    Shoot,
}

/// An event another action waits for.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
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
    Reaches(Place),
    /// Begins to move without the ball.
    Cuts,
}

/// What an action waits for.
#[derive(Debug, Clone, PartialEq)]
pub struct CueWords {
    /// Whose doing.
    pub role: RoleIx,
    /// What they do.
    pub event: Event,
    /// The window in seconds after the cue, where written.
    pub window: Option<(f64, f64)>,
}

/// When a sentence counts at all, judged on the arrangement in which the step begins.
#[derive(Debug, Clone, PartialEq)]
pub struct Guard {
    /// Whose place is looked at.
    pub role: RoleIx,
    /// Where they must be; `None`: they must have the ball.
    pub at: Option<Place>,
    /// Whether it must not be so.
    pub unless: bool,
}

/// Where an action counts, as written.
#[derive(Debug, Clone, PartialEq)]
pub enum Where {
    /// Inside a zone.
    Inside(Zone),
    /// Outside a zone.
    Outside(Zone),
    /// So near to a place.
    Within(Length, Place),
    /// Further out than a place.
    Above(Place),
    /// Nearer to the end line than a place.
    Below(Place),
    /// Square to a place.
    Facing(Place),
}

/// A sentence of a step.
#[derive(Debug, Clone, PartialEq)]
pub struct Sentence {
    /// Who.
    pub who: Who,
    /// Does what.
    pub verb: Verb,
    /// By way of these places.
    pub via: Vec<Place>,
    /// Off whose screen or hand-off.
    pub off: Option<RoleIx>,
    /// In how many seconds, where declared.
    pub seconds: Option<f64>,
    /// Where it counts.
    pub places: Vec<Where>,
    /// How far from the path one may be, where declared.
    pub give: Option<Length>,
    /// What it waits for.
    pub cue: Option<CueWords>,
    /// When it counts at all.
    pub guards: Vec<Guard>,
}

impl Sentence {
    /// A bare sentence: who does what.
    #[must_use]
    pub fn new(who: Who, verb: Verb) -> Self {
        Self {
            who,
            verb,
            via: Vec::new(),
            off: None,
            seconds: None,
            places: Vec::new(),
            give: None,
            cue: None,
            guards: Vec::new(),
        }
    }

    /// The sentence in the language's own words; reading it again gives the same sentence.
    #[must_use]
    pub fn text(&self, roles: &[String]) -> String {
        let many = matches!(&self.who, Who::All(r) if r.len() > 1);
        let mut s = match &self.who {
            Who::All(r) => list(r, roles, "and"),
            Who::OneOf(r) => list(r, roles, "or"),
            Who::Everyone => "everyone".to_owned(),
        };
        s.push(' ');
        s.push_str(&self.verb.text(roles, many));
        for v in &self.via {
            s.push_str(&format!(" via {}", v.text(roles)));
        }
        if let Some(r) = self.off {
            s.push_str(&format!(" off {}", roles[r]));
        }
        if let Some(t) = self.seconds {
            s.push_str(&format!(" in {t} s"));
        }
        for p in &self.places {
            s.push(' ');
            s.push_str(&p.text(roles));
        }
        if let Some(g) = self.give {
            s.push_str(&format!(" give or take {}", g.text()));
        }
        if let Some(c) = &self.cue {
            s.push_str(&format!(" when {} {}", roles[c.role], c.event.text(roles)));
            if let Some((a, b)) = c.window {
                if a == 0.0 {
                    s.push_str(&format!(" within {b} s"));
                } else {
                    s.push_str(&format!(" between {a} and {b} s"));
                }
            }
        }
        for g in &self.guards {
            s.push_str(&format!(
                " {} {} {}",
                if g.unless { "unless" } else { "if" },
                roles[g.role],
                g.at.as_ref().map_or("has the ball".to_owned(), |p| format!(
                    "is at {}",
                    p.text(roles)
                ))
            ));
        }
        s
    }
}

impl Verb {
    fn text(&self, roles: &[String], many: bool) -> String {
        let row = crate::grammar::verb_row(self);
        let words = if many { row.plural } else { row.words };
        match self {
            Self::Pass { to, .. } | Self::HandOff(to) => {
                format!("{words} to {}", list(to, roles, "or"))
            }
            Self::DribbleTo(p) | Self::Cut { to: p, .. } | Self::Leave { to: p, .. } => {
                format!("{words} to {}", p.text(roles))
            }
            Self::DribbleAt(r) => format!("{words} at {}", roles[*r]),
            Self::Replace(r) => format!("{words} {}", roles[*r]),
            Self::Screen { user, at } => {
                let at = at
                    .as_ref()
                    .map_or(String::new(), |p| format!(" at {}", p.text(roles)));
                format!("{words} for {}{at}", roles[*user])
            }
            Self::Post { at, .. } => format!("{words} at {}", at.text(roles)),
            Self::Hold | Self::Shoot => words.to_owned(),
            Self::Wait(t) => format!("{words} {t} s"),
        }
    }
}

impl Event {
    /// The event in words, after the role.
    #[must_use]
    pub fn text(&self, roles: &[String]) -> String {
        match self {
            Self::Passes => "passes".to_owned(),
            Self::Catches => "catches".to_owned(),
            Self::Dribbles => "dribbles".to_owned(),
            Self::Screens => "screens".to_owned(),
            Self::HandsOff => "hands off".to_owned(),
            Self::Reaches(p) => format!("reaches {}", p.text(roles)),
            Self::Cuts => "cuts".to_owned(),
        }
    }
}

impl Where {
    /// The placement in words.
    #[must_use]
    pub fn text(&self, roles: &[String]) -> String {
        match self {
            // These two zones carry their own preposition.
            Self::Inside(z @ (Zone::BehindArc | Zone::InsideArc)) => z.to_string(),
            Self::Inside(z) => format!("inside {z}"),
            Self::Outside(z) => format!("outside {z}"),
            Self::Within(d, p) => format!("within {} of {}", d.text(), p.text(roles)),
            Self::Above(p) => format!("above {}", p.text(roles)),
            Self::Below(p) => format!("below {}", p.text(roles)),
            Self::Facing(p) => format!("facing {}", p.text(roles)),
        }
    }
}

fn list(of: &[RoleIx], roles: &[String], word: &str) -> String {
    let names: Vec<&str> = of.iter().map(|r| roles[*r].as_str()).collect();
    names.join(&format!(" {word} "))
}

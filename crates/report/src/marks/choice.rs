//! Which stretches and moments of a session to mark.

use setdrift_season::{
    reviewed::{CueRow, PlacementRow, StretchRow},
    words,
};
use setdrift_timing::model::{Kept, When};

/// A sort of stretch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StretchVerdict {
    /// An option that ran without a fault.
    Ran,
    /// An option that ran with faults.
    Faults,
    /// An option that was broken off.
    Broken,
    /// A declared set before anything begins.
    Set,
    /// No declared option.
    OffScript,
    /// Too little tracking for a verdict.
    NoData,
}

/// What to mark. Empty lists of options and players leave nothing out; where no verdict is named
/// at all, every stretch is marked.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Choice {
    /// Option keys.
    pub options: Vec<String>,
    /// Ids of players: those who have a role in a stretch, whose cue or whose place it is.
    pub players: Vec<String>,
    /// Sorts of stretch.
    pub stretches: Vec<StretchVerdict>,
    /// Verdicts on cues.
    pub cues: Vec<When>,
    /// Verdicts on placements.
    pub places: Vec<Kept>,
}

impl Choice {
    fn of_option(&self, key: &str) -> bool {
        self.options.is_empty() || self.options.iter().any(|o| o == key)
    }

    fn of_player(&self, id: &str) -> bool {
        self.players.is_empty() || self.players.iter().any(|p| p == id)
    }

    pub(super) fn takes_stretch(&self, s: &StretchRow) -> bool {
        let all = self.stretches.is_empty() && self.cues.is_empty() && self.places.is_empty();
        let sort = match (s.what.as_str(), s.verdict.as_str()) {
            ("option", "ran") => StretchVerdict::Ran,
            ("option", "ran with faults") => StretchVerdict::Faults,
            ("option", _) => StretchVerdict::Broken,
            ("set", _) => StretchVerdict::Set,
            ("off script", _) => StretchVerdict::OffScript,
            _ => StretchVerdict::NoData,
        };
        (all || self.stretches.contains(&sort))
            && self.of_option(&s.option)
            && (self.players.is_empty() || s.roles.iter().any(|(_, id)| self.of_player(id)))
    }

    pub(super) fn takes_cue(&self, c: &CueRow) -> bool {
        let said = |when: &When| words::when(*when) == c.verdict;
        self.cues.iter().any(said) && self.of_option(&c.option) && self.of_player(&c.player)
    }

    pub(super) fn takes_place(&self, p: &PlacementRow) -> bool {
        let said = |kept: &Kept| words::kept(*kept) == p.verdict;
        self.places.iter().any(said) && self.of_option(&p.option) && self.of_player(&p.player)
    }
}

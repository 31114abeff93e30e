//! Which stretches and moments of a session to mark.

use setdrift_season::reviewed::{CueRow, PlacementRow, StretchRow};

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

/// A verdict on a cue.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CueVerdict {
    /// Before the window.
    Early,
    /// In the window.
    OnTime,
    /// After the window.
    Late,
    /// Did not go.
    Never,
    /// The data do not tell.
    CannotTell,
}

/// A verdict on a placement.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PlaceVerdict {
    /// As declared.
    Kept,
    /// Not as declared.
    NotKept,
    /// The data do not tell.
    CannotTell,
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
    pub cues: Vec<CueVerdict>,
    /// Verdicts on placements.
    pub places: Vec<PlaceVerdict>,
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
        let verdict = match c.verdict.as_str() {
            "early" => CueVerdict::Early,
            "on time" => CueVerdict::OnTime,
            "late" => CueVerdict::Late,
            "never" => CueVerdict::Never,
            _ => CueVerdict::CannotTell,
        };
        self.cues.contains(&verdict) && self.of_option(&c.option) && self.of_player(&c.player)
    }

    pub(super) fn takes_place(&self, p: &PlacementRow) -> bool {
        let verdict = match p.verdict.as_str() {
            "kept" => PlaceVerdict::Kept,
            "not kept" => PlaceVerdict::NotKept,
            _ => PlaceVerdict::CannotTell,
        };
        self.places.contains(&verdict) && self.of_option(&p.option) && self.of_player(&p.player)
    }
}

//! The line for people on a role's drift.

use crate::describe::place_name;
use setdrift_court::{AttackPoint, LengthUnit};
use setdrift_playbook::graph::{Graph, OptionIx, RoleIx};

/// An offset of less than this is no difference to a coach, metres (common practice).
const NONE: f64 = 0.15;
/// The lesser direction is told when it is at least this share of the greater.
const BOTH: f64 = 0.5;

/// Where a finding is.
pub(crate) struct Words<'a> {
    pub graph: &'a Graph,
    pub option: OptionIx,
    /// From 0.
    pub step: usize,
    pub role: RoleIx,
    pub frame: usize,
    pub declared: &'a [AttackPoint],
}

/// Who is declared to go no further than this in a step stands, metres.
const STANDS: f64 = 0.5;

impl Words<'_> {
    /// A change over the sessions: `offset` in the last of them and `per_session`, both out and to
    /// the right, metres.
    pub fn trend(
        &self,
        offset: [f64; 2],
        per_session: [f64; 2],
        sessions: usize,
        since: Option<&str>,
    ) -> String {
        let moved = self.moved(per_session);
        let pace = if sessions > 2 {
            format!("{moved} per session")
        } else {
            format!("{moved} from one session to the next")
        };
        let since = since.map_or(String::new(), |d| format!(" since {d}"));
        match self.apart(offset) {
            Some(apart) => format!(
                "{} {} {apart} in {} than declared, and has moved {pace}{since}",
                self.who(),
                self.when(),
                self.option()
            ),
            None => format!(
                "{} {} where declared in {}, but has moved {pace}{since}",
                self.who(),
                self.when(),
                self.option()
            ),
        }
    }

    /// A change over the sessions that comes with who had the role: `offset` in the last of them;
    /// who had it most often in the first and in the last.
    pub fn other_players(
        &self,
        offset: [f64; 2],
        mostly: Option<(&str, &str)>,
        since: Option<&str>,
    ) -> String {
        let apart = match self.apart(offset) {
            Some(apart) => format!("{apart} in {} than declared", self.option()),
            None => format!("where declared in {}", self.option()),
        };
        let since = since.map_or(String::new(), |d| format!(" since {d}"));
        let whose = match mostly {
            Some((a, b)) if a != b => format!(" (mostly {a} at first, {b} in the last session)"),
            _ => String::new(),
        };
        format!(
            "{} {} {apart}; the change{since} comes with who has the role{whose}, not with a player \
             who has moved",
            self.who(),
            self.when()
        )
    }

    /// A difference from the declared path that stays.
    pub fn difference(&self, offset: [f64; 2], runs: usize, sessions: usize) -> String {
        let apart = self.apart(offset).unwrap_or_default();
        let over = if sessions > 1 {
            format!("{runs} runs in {sessions} sessions")
        } else {
            format!("{runs} runs")
        };
        format!(
            "{} {} {apart} in {} than declared, on average of {over}",
            self.who(),
            self.when(),
            self.option()
        )
    }

    fn who(&self) -> String {
        let place = place_name(&self.graph.court, self.declared[self.frame]);
        let place = place.strip_prefix("the ").unwrap_or(&place);
        format!("{place} role {}", self.graph.roles[self.role])
    }

    fn when(&self) -> &'static str {
        let way: f64 = self.declared.windows(2).map(|w| w[0].distance(w[1])).sum();
        if way < STANDS {
            return "stands";
        }
        let share = self.frame as f64 / (self.declared.len().max(2) - 1) as f64;
        if share <= 0.2 {
            "starts"
        } else if share >= 0.8 {
            "ends"
        } else {
            "passes"
        }
    }

    fn option(&self) -> String {
        let o = &self.graph.options[self.option];
        if o.steps > 1 {
            format!("{}, step {},", o.title, self.step + 1)
        } else {
            o.title.clone()
        }
    }

    /// `4 ft higher and 2 ft further right`; `None` when it is no difference.
    fn apart(&self, offset: [f64; 2]) -> Option<String> {
        if offset[0].hypot(offset[1]) < NONE {
            return None;
        }
        Some(self.both(
            offset,
            ["higher", "lower"],
            ["further right", "further left"],
        ))
    }

    /// `up 1.3 ft`.
    fn moved(&self, change: [f64; 2]) -> String {
        let side = |v: f64, names: [&str; 2]| {
            format!("{} {}", names[usize::from(v < 0.0)], self.length(v))
        };
        let (out, right) = (
            side(change[0], ["up", "down"]),
            side(change[1], ["right", "left"]),
        );
        join(change, out, right)
    }

    fn both(&self, v: [f64; 2], out: [&str; 2], right: [&str; 2]) -> String {
        let side = |v: f64, names: [&str; 2]| {
            format!("{} {}", self.length(v), names[usize::from(v < 0.0)])
        };
        join(v, side(v[0], out), side(v[1], right))
    }

    /// A length in the playbook's unit, without its sign: `4 ft`, `1.3 ft`, `0.4 m`, `35 cm`.
    fn length(&self, metres: f64) -> String {
        let unit = self.graph.unit;
        let value = unit.from_metres(metres.abs());
        let text = match unit {
            LengthUnit::Centimetre => format!("{value:.0}"),
            _ => format!("{value:.1}"),
        };
        format!("{} {unit}", text.strip_suffix(".0").unwrap_or(&text))
    }
}

/// The greater direction first; the lesser only where it counts.
fn join(v: [f64; 2], out: String, right: String) -> String {
    let (x, y) = (v[0].abs(), v[1].abs());
    let both = x.min(y) >= BOTH * x.max(y);
    match (x >= y, both) {
        (true, true) => format!("{out} and {right}"),
        (false, true) => format!("{right} and {out}"),
        (true, false) => out,
        (false, false) => right,
    }
}

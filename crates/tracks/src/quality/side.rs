//! How many of a side are on the floor, and how well they are known.

use crate::session::{Known, Session};
use serde::Serialize;

/// A side's players over a session.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SideQuality {
    /// The team's id.
    pub team: String,
    /// Players on the floor at a time; 0 where the side is not in the data.
    pub on_floor: usize,
    /// Share of their frames that is known, 0..=1. Breaks are left out.
    pub coverage: f64,
    /// Players of the side seen at any time: more than `on_floor` where some were substituted.
    pub seen: usize,
}

/// Nobody of a side known for longer than this is a break, not a loss, seconds: a time-out lasts a
/// minute (FIBA OBR Art. 18).
pub(super) const BREAK_S: f64 = 60.0;
/// So many players must be known together in this share of the frames to count as on the floor.
const TOGETHER: f64 = 0.02;

/// Of every team.
pub(super) fn sides(session: &Session) -> Vec<SideQuality> {
    (0..session.teams.len()).map(|t| side(session, t)).collect()
}

fn side(session: &Session, team: usize) -> SideQuality {
    let members: Vec<usize> = session.roster(team).collect();
    let known = |i: &usize, f: usize| session.tracks[*i].known[f] != Known::Unknown;
    let counts: Vec<usize> = (0..session.frames())
        .map(|f| members.iter().filter(|i| known(i, f)).count())
        .collect();
    let seen = members
        .iter()
        .filter(|i| session.tracks[**i].coverage() > 0.0)
        .count();
    let some = counts.iter().filter(|c| **c > 0).count();
    let on_floor = (1..=seen)
        .rev()
        .find(|n| {
            let together = counts.iter().filter(|c| *c >= n).count();
            together as f64 >= (TOGETHER * some as f64).max(1.0)
        })
        .unwrap_or(0);
    let longest = (BREAK_S * session.rate_hz) as usize;
    let (mut is, mut should, mut empty) = (0, 0, 0);
    for c in &counts {
        if *c == 0 {
            empty += 1;
            continue;
        }
        // What was lost between two known frames; before the first and after the last is no loss.
        if is > 0 && empty <= longest {
            should += empty * on_floor;
        }
        empty = 0;
        is += (*c).min(on_floor);
        should += on_floor;
    }
    SideQuality {
        team: session.teams[team].id.clone(),
        on_floor,
        coverage: if should == 0 {
            0.0
        } else {
            is as f64 / should as f64
        },
        seen,
    }
}

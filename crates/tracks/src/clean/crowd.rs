//! No more players of a side on the floor than the rules allow.

use super::{forget, grid};
use crate::error::Problem;
use crate::quality::ObjectQuality;
use crate::raw::RawTracks;
use crate::session::{Known, Track};

/// A substitution may show both players for a while; longer is no substitution, seconds.
const OVERLAP_S: f64 = 15.0;
/// Missing for less than this, a player has not left, seconds.
const AWAY_S: f64 = 5.0;

/// Refuse more than `per_side` known players of one team, unless one goes as another comes: then
/// the one who comes is unknown until the other is gone.
pub(super) fn check(
    raw: &RawTracks,
    tracks: &mut [Track],
    sheets: &mut [ObjectQuality],
    axis: grid::Axis,
) -> Result<(), Problem> {
    for team in 0..raw.teams.len() {
        let members: Vec<usize> = (0..raw.players.len())
            .filter(|i| raw.players[*i].team == team)
            .collect();
        if members.len() > raw.per_side {
            check_team(raw, team, &members, tracks, sheets, axis)?;
        }
    }
    Ok(())
}

fn check_team(
    raw: &RawTracks,
    team: usize,
    members: &[usize],
    tracks: &mut [Track],
    sheets: &mut [ObjectQuality],
    axis: grid::Axis,
) -> Result<(), Problem> {
    let away = (AWAY_S * axis.rate_hz) as usize;
    // Since which frame each member is on the floor; gaps shorter than `away` do not count.
    let mut since: Vec<Option<usize>> = vec![None; members.len()];
    let mut seen: Vec<usize> = vec![0; members.len()];
    let mut over_from: Option<usize> = None;
    let mut over_last = 0;
    let mut who: Vec<usize> = Vec::new();
    for f in 0..axis.frames {
        let mut on: Vec<usize> = Vec::new();
        for (k, m) in members.iter().enumerate() {
            if tracks[*m].known[f] == Known::Unknown {
                if f - seen[k] > away {
                    since[k] = None;
                }
                continue;
            }
            since[k] = since[k].or(Some(f));
            seen[k] = f;
            on.push(k);
        }
        if on.len() <= raw.per_side {
            if over_from.is_some() && f - over_last > axis.rate_hz as usize {
                over_from = None;
                who.clear();
            }
            continue;
        }
        let from = *over_from.get_or_insert(f);
        over_last = f;
        if on.len() > who.len() {
            who.clone_from(&on);
        }
        if (f - from) as f64 / axis.rate_hz > OVERLAP_S {
            let end = stretch_end(raw, members, tracks, f, axis);
            let time = |frame: usize| axis.start + frame as f64 / axis.rate_hz;
            return Err(Problem::TooMany {
                team: raw.teams[team].id.clone(),
                count: who.len(),
                from_s: time(from),
                to_s: time(end),
                who: who
                    .iter()
                    .map(|k| raw.players[members[*k]].label())
                    .collect(),
                limit: raw.per_side,
                exchanged: exchanged(raw, team, time(end)).map(Box::new),
            });
        }
        // The latest to come waits; of those who came together, the later in the list.
        on.sort_by_key(|k| (since[*k], *k));
        for k in &on[raw.per_side..] {
            forget(&mut tracks[members[*k]], f);
            sheets[members[*k]].substitution_s += 1.0 / axis.rate_hz;
        }
    }
    Ok(())
}

/// The last two of different sides, one of them `team`, whom a person exchanged before a time.
fn exchanged(raw: &RawTracks, team: usize, to_s: f64) -> Option<(String, String)> {
    let e = raw.exchanges.iter().rev().find(|e| {
        let sides = [e.players.0, e.players.1].map(|p| raw.players[p].team);
        e.happened && e.from_s <= to_s && sides[0] != sides[1] && sides.contains(&team)
    })?;
    let name = |p: usize| raw.players[p].id.clone();
    Some((name(e.players.0), name(e.players.1)))
}

/// Last frame of the stretch with too many players that holds frame `f`.
fn stretch_end(
    raw: &RawTracks,
    members: &[usize],
    tracks: &[Track],
    f: usize,
    axis: grid::Axis,
) -> usize {
    let crowded = |f: &usize| {
        let on = members
            .iter()
            .filter(|m| tracks[**m].known[*f] != Known::Unknown)
            .count();
        on > raw.per_side
    };
    (f..axis.frames).take_while(crowded).last().unwrap_or(f)
}

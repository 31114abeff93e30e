//! Who plays with whom.

use super::profile::words;
use super::{Confidence, Notes};
use crate::assemble::fits;
use crate::mapping::{Mapping, TeamSpec};
use crate::raw::RawTracks;

pub(super) fn find(tracks: &RawTracks, mapping: &mut Mapping, notes: &mut Notes) {
    if mapping.teams.is_empty() {
        if tracks.teams.len() == 2 {
            mapping.teams = tracks
                .teams
                .iter()
                .map(|t| TeamSpec {
                    id: t.id.clone(),
                    ..TeamSpec::default()
                })
                .collect();
            notes.found(
                "teams",
                join(&mapping.teams),
                "the values of the team column",
                Confidence::Sure,
            );
        } else if let Some(teams) = by_prefix(tracks) {
            notes.found(
                "teams",
                join(&teams),
                "the objects' names begin in two ways",
                Confidence::Likely,
            );
            mapping.teams = teams;
        } else {
            one_team(tracks, mapping, notes);
        }
    }
    if mapping.teams.len() == 2 {
        notes.ask(
            "teams",
            format!(
                "Whose offence is to be audited, that of `{}` or of `{}`? The first [[teams]] is.",
                mapping.teams[0].id, mapping.teams[1].id
            ),
            false,
        );
    }
}

fn join(teams: &[TeamSpec]) -> String {
    let texts: Vec<String> = teams
        .iter()
        .map(|t| {
            if t.members.is_empty() {
                t.id.clone()
            } else {
                format!("{} ({})", t.id, t.members.join(", "))
            }
        })
        .collect();
    texts.join(" and ")
}

fn one_team(tracks: &RawTracks, mapping: &Mapping, notes: &mut Notes) {
    let n = tracks.players.len();
    if n <= mapping.players_per_side() && n < 6 {
        notes.found(
            "teams",
            "one team",
            format!("{n} objects, no more than a side has"),
            Confidence::Likely,
        );
        return;
    }
    let ids: Vec<&str> = tracks
        .players
        .iter()
        .take(24)
        .map(|p| p.id.as_str())
        .collect();
    notes.ask(
        "teams",
        format!(
            "Which objects are in which team? Write two [[teams]] with `id` and `members`; the \
             objects are {}.",
            ids.join(", ")
        ),
        true,
    );
}

/// Two teams by the first word of the objects' names.
fn by_prefix(tracks: &RawTracks) -> Option<Vec<TeamSpec>> {
    let mut groups: Vec<(String, Vec<String>)> = Vec::new();
    for p in &tracks.players {
        let first = words(&p.id).into_iter().next()?;
        if first.starts_with(|c: char| c.is_ascii_digit()) {
            return None;
        }
        // The name as written, up to the end of its first word.
        let written: String = p.id.chars().take(first.chars().count()).collect();
        match groups.iter_mut().find(|g| g.0 == written) {
            Some(g) => g.1.push(p.id.clone()),
            None => groups.push((written, vec![p.id.clone()])),
        }
    }
    if groups.len() != 2 || groups.iter().any(|g| g.1.len() < 2) {
        return None;
    }
    let teams = groups
        .iter()
        .enumerate()
        .map(|(i, (prefix, ids))| {
            let pattern = format!("{prefix}*");
            let clean = groups[1 - i].1.iter().all(|other| !fits(&pattern, other));
            TeamSpec {
                id: prefix.clone(),
                name: None,
                members: if clean { vec![pattern] } else { ids.clone() },
            }
        })
        .collect();
    Some(teams)
}

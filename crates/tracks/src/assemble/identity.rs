//! Which object is which player of which team.

use super::{Object, fits};
use crate::error::{Problem, Warning};
use crate::mapping::Mapping;
use crate::raw::Samples;
use crate::session::{Player, Team};
use crate::side::RosterEntry;
use std::cmp::Ordering;
use std::path::Path;

/// What the mapping and the roster know of teams and players.
pub(super) struct Identity<'m> {
    mapping: &'m Mapping,
    roster: &'m [RosterEntry],
}

/// Objects sorted out.
pub(super) struct Found {
    pub(super) teams: Vec<Team>,
    pub(super) players: Vec<Player>,
    pub(super) samples: Vec<Samples>,
    pub(super) ball: Option<Samples>,
}

impl<'m> Identity<'m> {
    pub(super) fn new(mapping: &'m Mapping, roster: &'m [RosterEntry]) -> Self {
        Self { mapping, roster }
    }

    pub(super) fn sort_out(
        &self,
        objects: Vec<Object>,
        warnings: &mut Vec<Warning>,
        file: &Path,
    ) -> Result<Found, Problem> {
        let ball_name = self.mapping.ball.as_ref().map(|b| b.object.as_str());
        let mut ball = None;
        let mut people = Vec::new();
        for o in objects {
            let ignored = self
                .mapping
                .session
                .ignore
                .iter()
                .any(|p| fits(p, &o.label) || o.team.as_deref().is_some_and(|t| fits(p, t)));
            if Some(o.label.as_str()) == ball_name {
                ball = Some(o.samples).filter(|s| !s.is_empty());
            } else if o.label.is_empty() {
                if !o.samples.is_empty() {
                    warnings.push(Warning::new(
                        file,
                        format!("{} rows of no named object were left out", o.samples.len()),
                    ));
                }
            } else if !ignored && !o.samples.is_empty() {
                people.push(o);
            }
        }
        if let Some(b) = ball_name
            && ball.is_none()
        {
            warnings.push(Warning::new(
                file,
                format!("the ball, `{b}`, has not a single position"),
            ));
        }
        if people.is_empty() {
            return Err(Problem::NoPlayers);
        }
        let teams = self.teams(&people, warnings, file)?;
        let mut found: Vec<(Player, Samples)> = Vec::with_capacity(people.len());
        for o in people {
            let entry = self.entry(&o);
            let team = self.team_of(&o, entry, &teams)?;
            let shirt = o.label.parse::<u16>().ok().map(|_| o.label.clone());
            let player = Player {
                id: o.label,
                team,
                number: entry.and_then(|e| e.number.clone()).or(shirt),
                name: entry.and_then(|e| e.name.clone()),
                roles: entry.map(|e| e.roles.clone()).unwrap_or_default(),
            };
            found.push((player, o.samples));
        }
        // Shirt numbers repeat between teams: then ids carry the team.
        let repeated: Vec<bool> = found
            .iter()
            .map(|(p, _)| found.iter().filter(|(q, _)| q.id == p.id).count() > 1)
            .collect();
        for ((player, _), repeated) in found.iter_mut().zip(repeated) {
            if repeated {
                player.id = format!("{}-{}", teams[player.team].id, player.id);
            }
        }
        found.sort_by(|(a, _), (b, _)| a.team.cmp(&b.team).then_with(|| natural(&a.id, &b.id)));
        let (players, samples) = found.into_iter().unzip();
        Ok(Found {
            teams,
            players,
            samples,
            ball,
        })
    }

    fn teams(
        &self,
        people: &[Object],
        warnings: &mut Vec<Warning>,
        file: &Path,
    ) -> Result<Vec<Team>, Problem> {
        let declared = &self.mapping.teams;
        if !declared.is_empty() {
            return Ok(declared
                .iter()
                .map(|t| Team {
                    id: t.id.clone(),
                    name: t.name.clone().unwrap_or_else(|| t.id.clone()),
                })
                .collect());
        }
        let mut ids: Vec<String> = Vec::new();
        for o in people {
            let team = o
                .team
                .clone()
                .or_else(|| self.entry(o).and_then(|e| e.team.clone()));
            if let Some(t) = team
                && !ids.contains(&t)
            {
                ids.push(t);
            }
        }
        ids.sort_by(|a, b| natural(a, b));
        if ids.len() > 2 {
            return Err(Problem::Value {
                field: "teams".into(),
                found: format!("not declared, and the file has {}", ids.join(", ")),
                expected: "one or two `[[teams]]`, the audited one first".into(),
            });
        }
        if ids.len() == 2 {
            warnings.push(Warning::new(
                file,
                format!(
                    "the mapping declares no teams, so `{}` is taken as the audited one",
                    ids[0]
                ),
            ));
        }
        if ids.is_empty() {
            ids.push("team".into());
        }
        Ok(ids
            .into_iter()
            .map(|id| Team {
                name: id.clone(),
                id,
            })
            .collect())
    }

    fn entry(&self, o: &Object) -> Option<&'m RosterEntry> {
        let team_fits = |e: &RosterEntry| match (&e.team, &o.team) {
            (Some(a), Some(b)) => a == b,
            _ => true,
        };
        self.roster
            .iter()
            .find(|e| e.id == o.label && team_fits(e))
            .or_else(|| {
                self.roster.iter().find(|e| {
                    e.number.as_deref() == Some(o.label.as_str())
                        && e.team.is_some()
                        && e.team == o.team
                })
            })
    }

    fn team_of(
        &self,
        o: &Object,
        entry: Option<&RosterEntry>,
        teams: &[Team],
    ) -> Result<usize, Problem> {
        let ids = || teams.iter().map(|t| t.id.clone()).collect::<Vec<_>>();
        let said = o
            .team
            .as_deref()
            .or_else(|| entry.and_then(|e| e.team.as_deref()));
        if let Some(id) = said {
            return teams
                .iter()
                .position(|t| t.id == id)
                .ok_or_else(|| Problem::UnknownTeam {
                    team: id.to_owned(),
                    object: o.label.clone(),
                    teams: ids(),
                });
        }
        let by_pattern = self
            .mapping
            .teams
            .iter()
            .position(|t| t.members.iter().any(|p| fits(p, &o.label)));
        match by_pattern {
            Some(t) => Ok(t),
            None if teams.len() == 1 => Ok(0),
            None => Err(Problem::NoTeam {
                object: o.label.clone(),
                teams: ids(),
            }),
        }
    }
}

/// Order in which `p9` comes before `p10`.
pub(crate) fn natural(a: &str, b: &str) -> Ordering {
    let key = |s: &str| {
        let digits = s.len() - s.trim_end_matches(|c: char| c.is_ascii_digit()).len();
        let (head, tail) = s.split_at(s.len() - digits);
        (head.to_owned(), tail.parse::<u64>().ok())
    };
    key(a).cmp(&key(b)).then_with(|| a.cmp(b))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn natural_order() {
        let mut v = ["p10", "p9", "a", "p1", "3", "12"];
        v.sort_by(|a, b| natural(a, b));
        assert_eq!(v, ["3", "12", "a", "p1", "p9", "p10"]);
    }
}

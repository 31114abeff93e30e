//! Groups of off-script stretches that are alike.

use crate::assign::MOST_PLAYERS;
use crate::choose::{Choice, choose, stability};
use crate::describe::{describe, shared_moves};
use crate::distance::{Comparer, Form, Match};
use crate::error::Result;
use crate::mean::{mean, reach};
use crate::model::{Fit, Group, Grouping, Stretch, StretchId};
use crate::params::ValidParams;
use crate::validity::silhouettes;
use setdrift_warp::{Condensed, Control, pairwise};

/// With fewer stretches than this, groups rest on little, and that is said.
const FEW: usize = 12;
/// Who gets this far takes part in the main movement, metres.
const ACTIVE: f64 = 2.0;

/// Distances of all pairs of stretches, metres per player, in the order given.
///
/// # Errors
/// A stretch without players, with more than six, or with rows of several lengths.
pub fn distances(stretches: &[Stretch], params: &ValidParams) -> Result<Condensed<f64>> {
    let all: Vec<&Stretch> = stretches.iter().collect();
    let (forms, comparer) = ready(&all, params)?;
    Ok(matrix(&forms, &comparer)?)
}

fn ready(stretches: &[&Stretch], params: &ValidParams) -> Result<(Vec<Form>, Comparer)> {
    let players = stretches.iter().map(|s| s.paths.len()).max().unwrap_or(1);
    let players = players.clamp(1, MOST_PLAYERS);
    let forms = stretches
        .iter()
        .map(|s| Form::new(s, players))
        .collect::<Result<Vec<_>>>()?;
    Ok((forms, Comparer::new(players, params)?))
}

fn matrix(forms: &[Form], comparer: &Comparer) -> setdrift_warp::Result<Condensed<f64>> {
    pairwise(forms.len(), Control::default(), |i, j| {
        comparer.distance(&forms[i], &forms[j])
    })
}

/// Groups stretches by density; what is like nothing else stays noise.
///
/// The order of the stretches does not matter: they are taken by session, possession and segment.
/// Stretches may come from several sessions.
///
/// # Errors
/// A stretch without players, with more than six, or with rows of several lengths.
pub fn group(stretches: &[Stretch], params: &ValidParams) -> Result<Grouping> {
    let mut all: Vec<&Stretch> = stretches.iter().collect();
    all.sort_by(|a, b| a.id.cmp(&b.id));
    let (forms, comparer) = ready(&all, params)?;
    let mut grouping = Grouping {
        groups: Vec::new(),
        noise: all.iter().map(|s| s.id.clone()).collect(),
        radius_m: params.radius_m.unwrap_or(0.0),
        least: params.least,
        silhouette: 0.0,
        tried: Vec::new(),
        limits: Vec::new(),
    };
    let n = all.len();
    if n < params.least {
        grouping.limits.push(format!(
            "{n} off-script {}: too few to look for groups, which need at least {} alike",
            if n == 1 { "stretch" } else { "stretches" },
            params.least
        ));
        return Ok(grouping);
    }
    if n < FEW {
        grouping.limits.push(format!(
            "only {n} off-script stretches: groups among so few rest on little"
        ));
    }
    let matrix = matrix(&forms, &comparer)?;
    let items: Vec<usize> = (0..n).collect();
    let Some(Choice {
        radius,
        mut labels,
        silhouette,
        tried,
    }) = choose(&matrix, &items, params.least, params)?
    else {
        let (_, high) = params.radii_m;
        grouping.limits.push(format!(
            "no {} of {n} stretches are within {:.2} m per player of each other",
            params.least,
            params.radius_m.unwrap_or(high)
        ));
        return Ok(grouping);
    };
    grouping.radius_m = radius;
    grouping.silhouette = silhouette;
    grouping.tried = tried;
    let stable = stability(&matrix, &labels, params)?;
    let widths = silhouettes(&matrix, &labels)?;
    let mut doubtful = 0;
    for (g, &share) in stable.iter().enumerate() {
        let members: Vec<usize> = (0..n).filter(|&i| labels[i] == Some(g)).collect();
        let width = widths
            .as_ref()
            .map(|w| members.iter().map(|&i| w[i]).sum::<f64>() / members.len().max(1) as f64);
        if share < params.least_stability || width.is_some_and(|w| w < params.least_width) {
            doubtful += 1;
            for i in members {
                labels[i] = None;
            }
        }
    }
    if doubtful > 0 {
        grouping.limits.push(format!(
            "{doubtful} {} left out that did not come back when some stretches were left out, or \
             did not stand apart",
            if doubtful == 1 {
                "group was"
            } else {
                "groups were"
            }
        ));
    }
    let found = Found {
        all: &all,
        forms: &forms,
        comparer: &comparer,
        matrix: &matrix,
        params,
    };
    for (g, &share) in stable.iter().enumerate() {
        let members: Vec<usize> = (0..n).filter(|&i| labels[i] == Some(g)).collect();
        if !members.is_empty() {
            grouping.groups.push(found.group(&members, share)?);
        }
    }
    grouping.groups.sort_by(|a, b| {
        b.members
            .len()
            .cmp(&a.members.len())
            .then_with(|| a.members.cmp(&b.members))
    });
    for (k, g) in grouping.groups.iter_mut().enumerate() {
        g.name = letter(k);
    }
    grouping.noise = (0..n)
        .filter(|&i| labels[i].is_none())
        .map(|i| all[i].id.clone())
        .collect();
    Ok(grouping)
}

/// `A` … `Z`, `AA`, `AB` …
fn letter(mut k: usize) -> String {
    let mut name = Vec::new();
    loop {
        name.push(b'A' + (k % 26) as u8);
        if k < 26 {
            break;
        }
        k = k / 26 - 1;
    }
    name.iter().rev().map(|&b| char::from(b)).collect()
}

struct Found<'a> {
    all: &'a [&'a Stretch],
    forms: &'a [Form],
    comparer: &'a Comparer,
    matrix: &'a Condensed<f64>,
    params: &'a ValidParams,
}

impl Found<'_> {
    fn between(&self, i: usize, j: usize) -> f64 {
        self.matrix.get(i, j).unwrap_or(0.0)
    }

    fn group(&self, members: &[usize], stability: f64) -> Result<Group> {
        let sum = |i: usize| members.iter().map(|&j| self.between(i, j)).sum::<f64>();
        let medoid = members
            .iter()
            .copied()
            .reduce(|a, b| if sum(b) < sum(a) { b } else { a })
            .unwrap_or(0);
        let mut order = members.to_vec();
        order.sort_by(|&a, &b| {
            let d = |i: usize| {
                if i == medoid {
                    -1.0
                } else {
                    self.between(medoid, i)
                }
            };
            d(a).total_cmp(&d(b)).then(a.cmp(&b))
        });
        let matches = order
            .iter()
            .map(|&i| self.comparer.matched(&self.forms[medoid], &self.forms[i]))
            .collect::<setdrift_warp::Result<Vec<Match>>>()?;
        let stretches: Vec<&Stretch> = order.iter().map(|&i| self.all[i]).collect();
        let shared = shared_moves(&stretches, &matches);
        let mean = mean(&stretches, &matches, self.params)?;
        let both_sides = matches.iter().any(|m| m.mirrored);
        let description = mean.as_ref().map_or_else(String::new, |m| {
            describe(&self.params.court, &shared, m, both_sides)
        });
        let mut active: Vec<usize> = shared
            .iter()
            .flat_map(|s| [Some(s.row), s.with])
            .flatten()
            .collect();
        let (rows, ball) = mean.map_or_else(Default::default, |m| (m.rows, m.ball));
        let reach: Vec<f64> = rows.iter().map(|r| reach(r)).collect();
        let most = reach.iter().copied().fold(0.0, f64::max);
        active.extend((0..rows.len()).filter(|&r| reach[r] >= ACTIVE.max(most / 2.0)));
        active.sort_unstable();
        active.dedup();
        let pairs = (members.len() * (members.len() - 1) / 2).max(1) as f64;
        let apart: f64 = members
            .iter()
            .enumerate()
            .flat_map(|(k, &i)| members[k + 1..].iter().map(move |&j| self.between(i, j)))
            .sum();
        Ok(Group {
            name: String::new(),
            description,
            members: stretches.iter().map(|s| s.id.clone()).collect(),
            fits: matches
                .iter()
                .map(|m| Fit {
                    rows: m.rows.clone(),
                    mirrored: m.mirrored,
                    distance_m: m.distance_m,
                })
                .collect(),
            mean: rows,
            ball,
            players: players(&stretches, &matches, &active),
            spread_m: apart / pairs,
            stability,
            results: results(&stretches),
        })
    }
}

/// Who took part in the rows that act, and in how many members, most often first.
fn players(members: &[&Stretch], matches: &[Match], active: &[usize]) -> Vec<(String, usize)> {
    let mut ids: Vec<&String> = members
        .iter()
        .zip(matches)
        .flat_map(|(s, m)| active.iter().filter_map(|&r| s.players.get(m.rows[r])))
        .collect();
    ids.sort();
    let mut counts: Vec<(String, usize)> = Vec::new();
    for id in ids {
        match counts.last_mut() {
            Some(last) if last.0 == *id => last.1 += 1,
            _ => counts.push((id.clone(), 1)),
        }
    }
    counts.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    counts
}

/// Possessions with a known result and the points scored on them, each possession once.
fn results(members: &[&Stretch]) -> (usize, u32) {
    let mut known: Vec<(&StretchId, u32)> = members
        .iter()
        .filter_map(|s| s.points.map(|p| (&s.id, p)))
        .collect();
    known.sort_by(|a, b| a.0.cmp(b.0));
    known.dedup_by(|a, b| (&a.0.session, a.0.possession) == (&b.0.session, b.0.possession));
    (known.len(), known.iter().map(|k| k.1).sum())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_go_on_after_z() {
        let names: Vec<_> = [0, 1, 25, 26, 27, 701, 702].map(letter).to_vec();
        assert_eq!(names, ["A", "B", "Z", "AA", "AB", "ZZ", "AAA"]);
    }
}

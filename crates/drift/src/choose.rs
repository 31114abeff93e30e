//! The radius that the data choose, and whether the groups come back when some of it is left out.

use crate::density::cluster;
use crate::error::Result;
use crate::params::ValidParams;
use crate::rng::Rng;
use crate::validity::silhouette;
use rayon::prelude::*;
use setdrift_warp::Condensed;

/// Most radii that are tried.
const MOST_RADII: usize = 48;
/// A group comes back when its best counterpart shares at least this much of the union with it
/// (Jaccard): Hennig 2007, Comput. Stat. Data Anal. 52, 258–271, calls a group below one half
/// dissolved and one at three quarters recovered.
const RECOVERED: f64 = 0.75;

/// The labels at the radius chosen, with the curve behind the choice.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Choice {
    pub radius: f64,
    pub labels: Vec<Option<usize>>,
    pub silhouette: f64,
    pub tried: Vec<(f64, f64)>,
}

/// Radii at which the clustering can change in earnest: the distances from items to their
/// `least − 1`-th nearest (at which each begins to make groups), within the limits.
fn radii(matrix: &Condensed<f64>, items: &[usize], least: usize, params: &ValidParams) -> Vec<f64> {
    if let Some(r) = params.radius_m {
        return vec![r];
    }
    let (low, high) = params.radii_m;
    let mut cores: Vec<f64> = items
        .iter()
        .filter_map(|&i| {
            let mut d: Vec<f64> = items
                .iter()
                .filter(|&&j| j != i)
                .filter_map(|&j| matrix.get(i, j))
                .collect();
            d.sort_by(f64::total_cmp);
            d.get(least - 2).copied()
        })
        .filter(|d| *d <= high)
        .map(|d| d.max(low))
        .collect();
    cores.sort_by(f64::total_cmp);
    cores.dedup();
    let n = cores.len();
    if n > MOST_RADII {
        cores = (0..MOST_RADII)
            .map(|k| cores[k * (n - 1) / (MOST_RADII - 1)])
            .collect();
    }
    cores
}

/// Clusters at each radius and keeps the one of greatest mean silhouette width; the smallest among
/// equals. `None` when no radius within the limits makes a group.
pub(crate) fn choose(
    matrix: &Condensed<f64>,
    items: &[usize],
    least: usize,
    params: &ValidParams,
) -> Result<Option<Choice>> {
    let part = submatrix(matrix, items)?;
    let all: Vec<usize> = (0..items.len()).collect();
    let mut best: Option<Choice> = None;
    let mut tried = Vec::new();
    for radius in radii(&part, &all, least, params) {
        let labels = cluster(&part, &all, radius, least)?;
        let width = match silhouette(&part, &labels)? {
            Some(width) => width,
            None => alone(&part, &labels, params.ceiling()),
        };
        tried.push((radius, width));
        let any = labels.iter().any(Option::is_some);
        if any && best.as_ref().is_none_or(|b| width > b.silhouette) {
            best = Some(Choice {
                radius,
                labels,
                silhouette: width,
                tried: Vec::new(),
            });
        }
    }
    Ok(best.map(|b| Choice { tried, ..b }))
}

/// Width where everything is one group: as if there were one more stretch like nothing at all.
/// 0 where there is no group.
fn alone(matrix: &Condensed<f64>, labels: &[Option<usize>], ceiling: f64) -> f64 {
    let distances = matrix.values();
    if distances.is_empty() || labels.iter().any(Option::is_none) {
        return 0.0;
    }
    1.0 - distances.iter().sum::<f64>() / distances.len() as f64 / ceiling
}

fn submatrix(matrix: &Condensed<f64>, items: &[usize]) -> Result<Condensed<f64>> {
    let values = items
        .iter()
        .enumerate()
        .flat_map(|(k, &i)| items[k + 1..].iter().map(move |&j| (i, j)))
        .map(|(i, j)| matrix.get(i, j).unwrap_or(0.0))
        .collect();
    Ok(Condensed::from_values(items.len(), values)?)
}

/// For each group of `labels` (numbered from 0), the share of resamples in which it comes back.
///
/// A resample leaves a share of the items out and chooses its radius anew. As a group loses members
/// so, one fewer is enough to make a group there, though never fewer than two. A resample that
/// holds fewer than two of a group's members says nothing of it.
pub(crate) fn stability(
    matrix: &Condensed<f64>,
    labels: &[Option<usize>],
    params: &ValidParams,
) -> Result<Vec<f64>> {
    let n = labels.len();
    let groups = labels.iter().flatten().max().map_or(0, |g| g + 1);
    let keep = ((n as f64 * params.resample_share).round() as usize).clamp(1, n.max(1));
    let least = (params.least - 1).max(2);
    let mut rng = Rng::new(params.seed);
    let draws: Vec<Vec<usize>> = (0..params.resamples)
        .map(|_| {
            let mut items: Vec<usize> = (0..n).collect();
            rng.shuffle(&mut items);
            items.truncate(keep);
            items.sort_unstable();
            items
        })
        .collect();
    let found: Vec<Result<Vec<Option<bool>>>> = draws
        .par_iter()
        .map(|items| {
            let new = choose(matrix, items, least, params)?;
            Ok((0..groups)
                .map(|g| came_back(g, labels, items, new.as_ref()))
                .collect())
        })
        .collect();
    let found = found.into_iter().collect::<Result<Vec<_>>>()?;
    Ok((0..groups)
        .map(|g| {
            let heard: Vec<bool> = found.iter().filter_map(|f| f[g]).collect();
            let back = heard.iter().filter(|b| **b).count();
            back as f64 / heard.len().max(1) as f64
        })
        .collect())
}

fn came_back(
    group: usize,
    labels: &[Option<usize>],
    items: &[usize],
    new: Option<&Choice>,
) -> Option<bool> {
    let here: Vec<bool> = items.iter().map(|&i| labels[i] == Some(group)).collect();
    let size = here.iter().filter(|h| **h).count();
    if size < 2 {
        return None;
    }
    let Some(new) = new else {
        return Some(false);
    };
    let count = new.labels.iter().flatten().max().map_or(0, |g| g + 1);
    Some((0..count).any(|g| {
        let shared = |want: bool| {
            new.labels
                .iter()
                .zip(&here)
                .filter(|(l, h)| **l == Some(g) && (**h || want))
                .count()
        };
        let (both, other) = (shared(false), shared(true));
        both as f64 >= RECOVERED * (size + other - both) as f64
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::params::Params;

    /// Points on a line, a unit being 10 m.
    fn line(places: &[f64]) -> Condensed<f64> {
        let n = places.len();
        let values = (0..n)
            .flat_map(|i| (i + 1..n).map(move |j| (i, j)))
            .map(|(i, j)| (places[i] - places[j]).abs().min(2.25))
            .collect();
        Condensed::from_values(n, values).unwrap()
    }

    #[test]
    fn groups_of_known_places_are_found_and_stable() {
        let params = Params::default().check().unwrap();
        let places = [
            0.0, 0.1, 0.2, 0.15, 3.0, 3.2, 3.1, 3.3, 3.15, 7.0, 12.0, 20.0, 31.0,
        ];
        let m = line(&places);
        let items: Vec<_> = (0..places.len()).collect();
        let c = choose(&m, &items, 3, &params).unwrap().unwrap();
        let (a, b) = (Some(0), Some(1));
        assert_eq!(
            c.labels,
            [a, a, a, a, b, b, b, b, b, None, None, None, None]
        );
        assert!(c.radius < 0.3 && c.silhouette > 0.5, "{c:?}");
        assert!(c.tried.contains(&(c.radius, c.silhouette)));
        let s = stability(&m, &c.labels, &params).unwrap();
        assert!(s.iter().all(|s| *s > 0.9), "{s:?}");
    }

    #[test]
    fn even_spacing_holds_no_group() {
        let params = Params::default().check().unwrap();
        let places: Vec<f64> = (0..12).map(|i| f64::from(i) * 1.9).collect();
        let items: Vec<_> = (0..12).collect();
        assert_eq!(choose(&line(&places), &items, 3, &params).unwrap(), None);
    }
}

//! How good a grouping is, and how far two agree.

use crate::error::{Error, Result};
use setdrift_warp::Condensed;

/// Mean silhouette width over all items (Rousseeuw 1987, J. Comput. Appl. Math. 20, 53–65): for
/// an item, `(b − a) / max(a, b)` with `a` its mean distance to the rest of its group and `b` the
/// least mean distance to another group. −1..=1.
///
/// An item without a group is a group by itself, whose width is 0 by definition: what is left out
/// of a group that it belongs to lowers the widths there. `None` unless there are at least two
/// groups (loners counted) and fewer groups than items.
///
/// # Errors
/// Another number of labels than of items in the matrix.
pub fn silhouette(matrix: &Condensed<f64>, labels: &[Option<usize>]) -> Result<Option<f64>> {
    let widths = silhouettes(matrix, labels)?;
    Ok(widths.map(|w| w.iter().sum::<f64>() / w.len() as f64))
}

/// The silhouette width of each item, as in [`silhouette`].
///
/// # Errors
/// Another number of labels than of items in the matrix.
pub fn silhouettes(matrix: &Condensed<f64>, labels: &[Option<usize>]) -> Result<Option<Vec<f64>>> {
    let n = matrix.len();
    if labels.len() != n {
        return Err(Error::Length {
            what: "labels",
            expected: n,
            found: labels.len(),
        });
    }
    let groups = with_loners(labels);
    let count = groups.iter().max().map_or(0, |g| g + 1);
    if count < 2 || count >= n {
        return Ok(None);
    }
    let mut size = vec![0_usize; count];
    for &g in &groups {
        size[g] += 1;
    }
    let mut widths = vec![0.0; n];
    let mut sums = vec![0.0; count];
    for (i, &own) in groups.iter().enumerate() {
        if size[own] == 1 {
            continue;
        }
        sums.fill(0.0);
        for (j, &g) in groups.iter().enumerate() {
            sums[g] += matrix.get(i, j).unwrap_or(0.0);
        }
        let a = sums[own] / (size[own] - 1) as f64;
        let b = (0..count)
            .filter(|&g| g != own)
            .map(|g| sums[g] / size[g] as f64)
            .fold(f64::INFINITY, f64::min);
        let most = a.max(b);
        if most > 0.0 {
            widths[i] = (b - a) / most;
        }
    }
    Ok(Some(widths))
}

/// Labels from 0 without gaps, each `None` a label of its own.
fn with_loners(labels: &[Option<usize>]) -> Vec<usize> {
    let mut seen: Vec<usize> = labels.iter().flatten().copied().collect();
    seen.sort_unstable();
    seen.dedup();
    let mut next = seen.len();
    labels
        .iter()
        .map(|l| match l {
            Some(l) => seen.partition_point(|s| s < l),
            None => {
                next += 1;
                next - 1
            }
        })
        .collect()
}

/// Pairs of items that two groupings put together or apart.
struct Pairs {
    both: f64,
    first: f64,
    second: f64,
    all: f64,
}

fn pairs(first: &[Option<usize>], second: &[Option<usize>]) -> Result<Pairs> {
    if first.len() != second.len() {
        return Err(Error::Length {
            what: "labels",
            expected: first.len(),
            found: second.len(),
        });
    }
    let (a, b) = (with_loners(first), with_loners(second));
    let mut p = Pairs {
        both: 0.0,
        first: 0.0,
        second: 0.0,
        all: 0.0,
    };
    for i in 0..a.len() {
        for j in i + 1..a.len() {
            let (x, y) = (a[i] == a[j], b[i] == b[j]);
            p.first += f64::from(u8::from(x));
            p.second += f64::from(u8::from(y));
            p.both += f64::from(u8::from(x && y));
            p.all += 1.0;
        }
    }
    Ok(p)
}

/// Rand index (Rand 1971, JASA 66, 846–850): share of pairs on which two groupings agree, items
/// without a group being groups by themselves. 1 for fewer than two items.
///
/// # Errors
/// Labels of two lengths.
pub fn rand_index(first: &[Option<usize>], second: &[Option<usize>]) -> Result<f64> {
    let p = pairs(first, second)?;
    if p.all == 0.0 {
        return Ok(1.0);
    }
    Ok((p.all + 2.0 * p.both - p.first - p.second) / p.all)
}

/// Rand index adjusted for chance (Hubert & Arabie 1985, J. Classif. 2, 193–218): 1 for equal
/// groupings, about 0 for random ones.
///
/// # Errors
/// Labels of two lengths.
pub fn adjusted_rand_index(first: &[Option<usize>], second: &[Option<usize>]) -> Result<f64> {
    let p = pairs(first, second)?;
    if p.all == 0.0 {
        return Ok(1.0);
    }
    let expected = p.first * p.second / p.all;
    let most = f64::midpoint(p.first, p.second);
    if most == expected {
        return Ok(1.0);
    }
    Ok((p.both - expected) / (most - expected))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn loners_are_groups_of_their_own() {
        assert_eq!(
            with_loners(&[Some(7), None, Some(2), None, Some(7)]),
            [1, 2, 0, 3, 1]
        );
    }

    /// Hubert & Arabie's measure on the worked labels of scikit-learn's documentation of
    /// `adjusted_rand_score`: 0.57 for [0, 0, 1, 2] against [0, 0, 1, 1].
    #[test]
    fn documented_value() {
        let l = |v: [usize; 4]| v.map(Some);
        let ari = adjusted_rand_index(&l([0, 0, 1, 2]), &l([0, 0, 1, 1])).unwrap();
        assert!((ari - 0.571_428_571_428_571_4).abs() < 1e-12);
        let ri = rand_index(&l([0, 0, 1, 2]), &l([0, 0, 1, 1])).unwrap();
        assert!((ri - 0.833_333_333_333_333_4).abs() < 1e-12);
    }

    #[test]
    fn a_silhouette_needs_two_groups() {
        let m = Condensed::from_values(3, vec![1.0, 2.0, 3.0]).unwrap();
        assert_eq!(silhouette(&m, &[Some(0); 3]).unwrap(), None);
        assert_eq!(silhouette(&m, &[None; 3]).unwrap(), None);
        assert!(silhouette(&m, &[None; 2]).is_err());
        // a = 1; b = 2 and 3: (1/2 + 2/3) / 3.
        let s = silhouette(&m, &[Some(0), Some(0), None]).unwrap().unwrap();
        assert!((s - (0.5 + 2.0 / 3.0) / 3.0).abs() < 1e-12);
    }
}

//! Density clustering over a matrix of distances that is already known.
//!
//! The algorithm is DBSCAN (Ester, Kriegel, Sander & Xu 1996, KDD-96, 226–231) as `linfa-clustering`
//! has it. Its points are the items' numbers and its distance looks the matrix up; neighbours are
//! found by linear search, because the warping distance breaks the triangle inequality on which
//! search trees rest.

use crate::error::{Error, Result};
use linfa::Float;
use linfa::ParamGuard;
use linfa::prelude::Transformer;
use linfa_clustering::Dbscan;
use linfa_nn::{LinearSearch, distance::Distance};
use ndarray::{Array2, ArrayView, Dimension};
use setdrift_warp::Condensed;

/// The distance of two items, each given by its number as a point of one coordinate.
#[derive(Debug, Clone)]
struct Lookup<'a> {
    matrix: &'a Condensed<f64>,
    items: &'a [usize],
}

impl Lookup<'_> {
    fn item<F: Float, D: Dimension>(&self, point: &ArrayView<F, D>) -> Option<usize> {
        let number = point.first()?.to_usize()?;
        self.items.get(number).copied()
    }
}

impl<F: Float> Distance<F> for Lookup<'_> {
    fn distance<D: Dimension>(&self, a: ArrayView<F, D>, b: ArrayView<F, D>) -> F {
        match (self.item(&a), self.item(&b)) {
            (Some(i), Some(j)) if i == j => F::zero(),
            (Some(i), Some(j)) => self.matrix.get(i, j).map_or(F::infinity(), F::cast),
            _ => F::infinity(),
        }
    }
}

/// DBSCAN of the `items` of a matrix: a group number per item, `None` for noise.
///
/// Items are neighbours when their distance is at most `radius`; an item with at least `least`
/// neighbours, itself included, makes a group. Groups are numbered by their first such item.
///
/// # Errors
/// `least` below 2, a radius that is not above 0, or an item that the matrix does not have.
pub fn cluster(
    matrix: &Condensed<f64>,
    items: &[usize],
    radius: f64,
    least: usize,
) -> Result<Vec<Option<usize>>> {
    if !(radius > 0.0 && radius.is_finite()) {
        return Err(Error::Parameter {
            name: "radius",
            value: radius,
            expected: "a finite number of metres above 0",
        });
    }
    if let Some(&item) = items.iter().find(|&&i| i >= matrix.len()) {
        return Err(Error::Parameter {
            name: "item",
            value: item as f64,
            expected: "a row of the distance matrix",
        });
    }
    if items.is_empty() {
        return Ok(Vec::new());
    }
    let points = Array2::from_shape_fn((items.len(), 1), |(i, _)| i as f64);
    // The search takes what is nearer than the tolerance; one step up makes that "at most".
    let labels = Dbscan::params_with(least, Lookup { matrix, items }, LinearSearch)
        .tolerance(radius.next_up())
        .check()
        .map_err(|e| Error::Clustering(e.to_string()))?
        .transform(&points);
    Ok(labels.to_vec())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(places: &[f64]) -> Condensed<f64> {
        let n = places.len();
        let values = (0..n)
            .flat_map(|i| (i + 1..n).map(move |j| (i, j)))
            .map(|(i, j)| (places[i] - places[j]).abs())
            .collect();
        Condensed::from_values(n, values).unwrap()
    }

    #[test]
    fn two_groups_and_a_loner() {
        let m = line(&[0.0, 10.0, 0.5, 10.5, 5.0, 1.0, 11.0]);
        let items: Vec<_> = (0..7).collect();
        let found = cluster(&m, &items, 0.5, 3).unwrap();
        let (a, b) = (Some(0), Some(1));
        assert_eq!(found, [a, b, a, b, None, a, b]);
        // Only some of the items: one of each group is not enough.
        assert_eq!(cluster(&m, &[0, 1, 4], 0.5, 2).unwrap(), [None; 3]);
    }

    #[test]
    fn the_radius_itself_is_near_enough() {
        let m = line(&[0.0, 1.0]);
        assert_eq!(cluster(&m, &[0, 1], 1.0, 2).unwrap(), [Some(0); 2]);
        assert_eq!(
            cluster(&m, &[0, 1], 1.0_f64.next_down(), 2).unwrap(),
            [None; 2]
        );
    }

    #[test]
    fn parameters_out_of_range_are_errors() {
        let m = line(&[0.0, 1.0]);
        assert!(cluster(&m, &[0, 1], f64::NAN, 2).is_err());
        assert!(cluster(&m, &[0, 1], 0.5, 1).is_err());
        assert!(cluster(&m, &[0, 2], 0.5, 2).is_err());
    }
}

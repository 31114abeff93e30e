//! Averaging under time warping.

use rayon::prelude::*;

use crate::cost::LocalCost;
use crate::dtw::Dtw;
use crate::error::{Error, Result};
use crate::real::Real;
use crate::series::Series;

/// DTW barycentre averaging (Petitjean, Ketterlin & Gançarski 2011, Pattern Recognition 44,
/// 678–693): align every series to the centre, move each frame of the centre to the mean of what is
/// matched to it, again and again.
///
/// The mean minimises squared differences; with another local cost the centre is still the mean of
/// what is matched, under that cost's alignments.
///
/// ```
/// use setdrift_warp::{Barycentre, Dtw, Series};
///
/// let runs = [
///     Series::univariate(&[0.0, 0.0, 2.0, 4.0])?,
///     Series::univariate(&[0.0, 2.0, 2.0, 6.0])?,
/// ];
/// let dtw = Dtw::squared().check()?;
/// let average = Barycentre::default().fit(&dtw, &runs[0], &runs, Some(&[1.0, 3.0]))?;
/// assert_eq!(average.centre.to_frames(), [0.0, 0.0, 2.0, 5.5]);
/// assert!(average.inertia.last() <= average.inertia.first());
/// # Ok::<(), setdrift_warp::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Barycentre {
    /// Most rounds, at least 1.
    pub max_rounds: usize,
    /// Stop when the inertia falls by less than this part of itself; 0 or more.
    pub tolerance: f64,
}

impl Default for Barycentre {
    /// 30 rounds, or until the inertia falls by less than 1e-6 of itself.
    fn default() -> Self {
        Barycentre {
            max_rounds: 30,
            tolerance: 1e-6,
        }
    }
}

/// An average series.
#[derive(Debug, Clone, PartialEq)]
pub struct Average<T> {
    /// The average, as long as the initial centre.
    pub centre: Series<T>,
    /// Weighted root-mean-square deviation, from the centre, of the values matched to each
    /// coordinate; unknown where nothing known is matched.
    pub deviation: Series<T>,
    /// Weighted sum of the series' measures against the centre before each round, and of the
    /// last centre.
    pub inertia: Vec<f64>,
}

impl Barycentre {
    /// The average of `series`, beginning from `initial` (the medoid is a good choice; its length
    /// becomes the average's).
    ///
    /// `weights` has one number of 0 or more per series, not all 0; `None` weighs all alike.
    /// Unknown coordinates take no part in the mean; one that nothing known is matched to stays as
    /// it was.
    ///
    /// The centre is the query of each alignment. Series are aligned in parallel and summed in
    /// order, so the result does not depend on the number of threads.
    ///
    /// # Errors
    /// No series, weights of another number or out of range, a parameter out of range, different
    /// dimensions, independent dimensions, a series without a path to the centre, or sums that are
    /// beyond the range of the number type.
    pub fn fit<T: Real, C: LocalCost<T>>(
        &self,
        dtw: &Dtw<C>,
        initial: &Series<T>,
        series: &[Series<T>],
        weights: Option<&[f64]>,
    ) -> Result<Average<T>> {
        self.check(series.len(), weights)?;
        let weight = |index: usize| weights.map_or(1.0, |weights| weights[index]);
        let mut centre = initial.clone();
        let mut inertia: Vec<f64> = Vec::new();
        loop {
            let aligned: Vec<_> = series
                .par_iter()
                .map(|one| dtw.align(&centre, one))
                .collect();
            let mut sums = Sums::new(&centre);
            let mut total = 0.0;
            for (index, (one, aligned)) in series.iter().zip(aligned).enumerate() {
                let aligned = aligned?;
                total += weight(index) * aligned.distance.to_f64();
                sums.add(one, &aligned.path, weight(index));
            }
            let before = inertia.last().copied();
            inertia.push(total);
            let settled = before.is_some_and(|before| before - total <= self.tolerance * before);
            if !total.is_finite() {
                return Err(overflow(&centre, series));
            }
            if settled || inertia.len() > self.max_rounds {
                let deviation = sums.deviation(&centre);
                let deviation = deviation.ok_or_else(|| overflow(&centre, series))?;
                return Ok(Average {
                    centre,
                    deviation,
                    inertia,
                });
            }
            let mean = sums.mean(&centre);
            centre = mean.ok_or_else(|| overflow(&centre, series))?;
        }
    }

    fn check(&self, count: usize, weights: Option<&[f64]>) -> Result<()> {
        if count == 0 {
            return Err(Error::Empty("the series to average"));
        }
        if self.max_rounds == 0 {
            return Err(Error::Parameter {
                name: "max_rounds",
                value: 0.0,
                expected: "give 1 or more",
            });
        }
        if !(self.tolerance >= 0.0 && self.tolerance.is_finite()) {
            let (name, value) = ("tolerance", self.tolerance);
            return Err(Error::Parameter {
                name,
                value,
                expected: "give a finite number of 0 or more",
            });
        }
        let Some(weights) = weights else {
            return Ok(());
        };
        if weights.len() != count {
            return Err(Error::LengthMismatch {
                what: "weights",
                expected: count,
                found: weights.len(),
            });
        }
        for &value in weights {
            if !(value >= 0.0 && value.is_finite()) {
                return Err(Error::Parameter {
                    name: "weight",
                    value,
                    expected: "give a finite number of 0 or more",
                });
            }
        }
        if weights.iter().all(|&weight| weight == 0.0) {
            return Err(Error::Parameter {
                name: "weights",
                value: 0.0,
                expected: "give at least one above 0",
            });
        }
        Ok(())
    }
}

fn overflow<T: Real>(centre: &Series<T>, series: &[Series<T>]) -> Error {
    Error::Overflow {
        query: centre.len(),
        reference: series.iter().map(Series::len).max().unwrap_or(0),
    }
}

/// Weighted sums of what is matched to each coordinate of the centre, as differences from it (so
/// that squares do not cancel).
struct Sums {
    len: usize,
    weight: Vec<f64>,
    first: Vec<f64>,
    second: Vec<f64>,
    origin: Vec<f64>,
}

impl Sums {
    fn new<T: Real>(centre: &Series<T>) -> Self {
        let (len, dims) = (centre.len(), centre.dims());
        let values = centre.values().iter();
        let origin: Vec<f64> = values
            .map(|&value| {
                if value.is_unknown() {
                    0.0
                } else {
                    value.to_f64()
                }
            })
            .collect();
        let zeros = vec![0.0; len * dims];
        Sums {
            len,
            weight: zeros.clone(),
            first: zeros.clone(),
            second: zeros,
            origin,
        }
    }

    fn add<T: Real>(&mut self, series: &Series<T>, path: &[(usize, usize)], weight: f64) {
        for dim in 0..series.dims() {
            for &(at, frame) in path {
                let value = series.at(frame, dim);
                if value.is_unknown() {
                    continue;
                }
                let at = dim * self.len + at;
                let apart = value.to_f64() - self.origin[at];
                self.weight[at] += weight;
                self.first[at] += weight * apart;
                self.second[at] += weight * apart * apart;
            }
        }
    }

    /// `None` when a mean is beyond the range of the number type.
    fn mean<T: Real>(&self, centre: &Series<T>) -> Option<Series<T>> {
        self.each(centre, |at, old| {
            if self.weight[at] > 0.0 {
                finite(self.origin[at] + self.first[at] / self.weight[at])
            } else {
                Some(old)
            }
        })
    }

    /// `None` when a deviation is beyond the range of the number type.
    fn deviation<T: Real>(&self, centre: &Series<T>) -> Option<Series<T>> {
        self.each(centre, |at, _| {
            if self.weight[at] > 0.0 {
                finite((self.second[at] / self.weight[at]).sqrt())
            } else {
                Some(T::NAN)
            }
        })
    }

    /// A series like `centre`, each value from its place and what is there.
    fn each<T: Real>(
        &self,
        centre: &Series<T>,
        value: impl Fn(usize, T) -> Option<T>,
    ) -> Option<Series<T>> {
        let old = centre.values().iter().enumerate();
        let values: Option<Vec<T>> = old.map(|(at, &old)| value(at, old)).collect();
        Some(Series::from_dims(values?, centre.len(), centre.dims()))
    }
}

fn finite<T: Real>(value: f64) -> Option<T> {
    Some(T::from_f64(value)).filter(|value| value.is_finite())
}

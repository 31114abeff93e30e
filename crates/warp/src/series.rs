//! A multivariate series, stored one dimension after another.

use crate::error::{Error, Result};
use crate::real::Real;

/// A series of `len` frames of `dims` coordinates each, at least one of both.
///
/// Values are kept dimension by dimension, because the kernels read one dimension of many
/// consecutive frames at a time.
///
/// ```
/// use setdrift_warp::Series;
///
/// let series = Series::from_frames(&[0.0_f32, 10.0, 1.0, 11.0, 2.0, 12.0], 2)?;
/// assert_eq!((series.len(), series.dims()), (3, 2));
/// assert_eq!(series.get(1, 1), Some(11.0));
/// assert_eq!(series.slice(1..3)?.to_frames(), [1.0, 11.0, 2.0, 12.0]);
/// assert!(Series::from_frames(&[1.0, f64::NAN], 1).is_err());
/// # Ok::<(), setdrift_warp::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Series<T> {
    values: Vec<T>,
    len: usize,
    dims: usize,
    gaps: bool,
}

impl<T: Real> Series<T> {
    /// A series from values frame by frame: `values[frame · dims + dim]`.
    ///
    /// # Errors
    /// No values, `dims` of 0, a last frame cut short, or a value that is NaN or infinite.
    pub fn from_frames(values: &[T], dims: usize) -> Result<Self> {
        Self::build(values, dims, false)
    }

    /// As [`Series::from_frames`], with NaN for a coordinate that is unknown.
    ///
    /// # Errors
    /// As [`Series::from_frames`], save that NaN is allowed.
    pub fn from_frames_with_gaps(values: &[T], dims: usize) -> Result<Self> {
        Self::build(values, dims, true)
    }

    /// A series of one dimension.
    ///
    /// # Errors
    /// As [`Series::from_frames`].
    pub fn univariate(values: &[T]) -> Result<Self> {
        Self::build(values, 1, false)
    }

    fn build(values: &[T], dims: usize, gaps: bool) -> Result<Self> {
        if dims == 0 {
            return Err(Error::NoDimensions);
        }
        if values.is_empty() {
            return Err(Error::EmptySeries);
        }
        if !values.len().is_multiple_of(dims) {
            return Err(Error::RaggedFrames {
                values: values.len(),
                dims,
            });
        }
        let infinite = |value: T| value.abs() == T::INFINITY;
        let bad = values
            .iter()
            .position(|&value| infinite(value) || (!gaps && value.is_unknown()));
        if let Some(at) = bad {
            return Err(Error::NotFinite {
                frame: at / dims,
                dim: at % dims,
                value: values[at].to_f64(),
            });
        }
        let len = values.len() / dims;
        let turned = (0..dims)
            .flat_map(|dim| (0..len).map(move |frame| values[frame * dims + dim]))
            .collect();
        Ok(Self::from_dims(turned, len, dims))
    }

    /// A series from checked values dimension by dimension.
    pub(crate) fn from_dims(values: Vec<T>, len: usize, dims: usize) -> Self {
        let gaps = values.iter().any(|value| value.is_unknown());
        Series {
            values,
            len,
            dims,
            gaps,
        }
    }

    /// Number of frames, at least 1.
    pub fn len(&self) -> usize {
        self.len
    }

    /// Always false: a series has at least one frame.
    pub fn is_empty(&self) -> bool {
        self.len == 0
    }

    /// Number of coordinates in a frame, at least 1.
    pub fn dims(&self) -> usize {
        self.dims
    }

    /// Whether any coordinate is unknown.
    pub fn has_gaps(&self) -> bool {
        self.gaps
    }

    /// One coordinate: `None` outside the series, NaN when unknown.
    pub fn get(&self, frame: usize, dim: usize) -> Option<T> {
        (frame < self.len && dim < self.dims).then(|| self.values[dim * self.len + frame])
    }

    /// The values frame by frame, as [`Series::from_frames`] takes them.
    pub fn to_frames(&self) -> Vec<T> {
        (0..self.len)
            .flat_map(|frame| (0..self.dims).map(move |dim| self.at(frame, dim)))
            .collect()
    }

    /// The frames of `range` as a series.
    ///
    /// # Errors
    /// An empty range, or one that runs past the end.
    pub fn slice(&self, range: std::ops::Range<usize>) -> Result<Self> {
        if range.is_empty() {
            return Err(Error::EmptySeries);
        }
        if range.end > self.len {
            return Err(Error::LengthMismatch {
                what: "end of the range",
                expected: self.len,
                found: range.end,
            });
        }
        let len = range.len();
        let values = (0..self.dims)
            .flat_map(|dim| self.dim(dim)[range.clone()].iter().copied())
            .collect();
        Ok(Self::from_dims(values, len, self.dims))
    }

    /// One dimension as a series of its own, or `None` when there is no such dimension.
    pub fn dimension(&self, dim: usize) -> Option<Self> {
        (dim < self.dims).then(|| Self::from_dims(self.dim(dim).to_vec(), self.len, 1))
    }

    /// Dimension by dimension.
    pub(crate) fn values(&self) -> &[T] {
        &self.values
    }

    #[inline(always)]
    pub(crate) fn dim(&self, dim: usize) -> &[T] {
        &self.values[dim * self.len..(dim + 1) * self.len]
    }

    #[inline(always)]
    pub(crate) fn at(&self, frame: usize, dim: usize) -> T {
        self.values[dim * self.len + frame]
    }

    pub(crate) fn check_same_dims(&self, reference: &Self) -> Result<()> {
        if self.dims == reference.dims {
            Ok(())
        } else {
            Err(Error::DimensionMismatch {
                query: self.dims,
                reference: reference.dims,
            })
        }
    }
}

//! Distances of all pairs of a collection, in parallel.

use std::ops::Range;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use rayon::prelude::*;

use crate::cost::LocalCost;
use crate::dtw::Dtw;
use crate::error::{Error, Result, filled};
use crate::kernel::Block;
use crate::real::Real;
use crate::search::{Frames, block, by_length, lanes};
use crate::series::Series;

/// The upper triangle of a symmetric matrix with an empty diagonal, row by row: the pairs
/// (0,1), (0,2), …, (0,n−1), (1,2), … as scipy's `pdist` orders them.
#[derive(Debug, Clone, PartialEq)]
pub struct Condensed<T> {
    len: usize,
    values: Vec<T>,
}

impl<T: Copy> Condensed<T> {
    /// A matrix over `len` items from its `len · (len − 1) / 2` values.
    ///
    /// # Errors
    /// Another number of values.
    pub fn from_values(len: usize, values: Vec<T>) -> Result<Self> {
        let expected = pairs(len)?;
        if values.len() == expected {
            Ok(Condensed { len, values })
        } else {
            Err(Error::LengthMismatch {
                what: "pairs",
                expected,
                found: values.len(),
            })
        }
    }

    /// Number of items.
    pub fn len(&self) -> usize {
        self.len
    }

    /// Whether there are no items.
    pub fn is_empty(&self) -> bool {
        self.len == 0
    }

    /// The value of a pair, in either order; `None` for an item with itself or out of range.
    pub fn get(&self, i: usize, j: usize) -> Option<T> {
        let (i, j) = (i.min(j), i.max(j));
        (i != j && j < self.len).then(|| self.values[row_start(self.len, i) + j - i - 1])
    }

    /// All values, in the order of the pairs.
    pub fn values(&self) -> &[T] {
        &self.values
    }

    /// The item with the least sum to all others (the first among equals); `None` when empty.
    pub fn medoid(&self) -> Option<usize>
    where
        T: Real,
    {
        let sum = |i| {
            (0..self.len)
                .filter_map(|j| self.get(i, j))
                .map(Real::to_f64)
                .sum::<f64>()
        };
        (0..self.len)
            .map(|i| (i, sum(i)))
            .reduce(|best, next| if next.1 < best.1 { next } else { best })
            .map(|best| best.0)
    }
}

fn pairs(len: usize) -> Result<usize> {
    len.checked_mul(len.saturating_sub(1))
        .map(|twice| twice / 2)
        .ok_or(Error::TooLarge {
            what: "number of items",
            found: len,
            limit: u32::MAX as usize,
        })
}

fn row_start(len: usize, i: usize) -> usize {
    i * (2 * len - i - 1) / 2
}

/// A way to watch and stop long work.
///
/// ```
/// use std::sync::atomic::AtomicBool;
/// use setdrift_warp::{Control, Dtw, Series};
///
/// let series = [
///     Series::univariate(&[0.0, 1.0])?,
///     Series::univariate(&[0.0, 3.0])?,
///     Series::univariate(&[0.0, 1.0, 1.0])?,
/// ];
/// let stop = AtomicBool::new(false); // set from another thread
/// let show = |done: usize, total: usize| assert!(done <= total);
/// let control = Control { cancel: Some(&stop), progress: Some(&show) };
/// let distances = Dtw::squared().check()?.pairwise(&series, control)?;
/// assert_eq!(distances.values(), [4.0, 0.0, 5.0]); // (0, 1), (0, 2), (1, 2)
/// assert_eq!(distances.get(2, 1), Some(5.0));
/// assert_eq!(distances.medoid(), Some(0));
/// # Ok::<(), setdrift_warp::Error>(())
/// ```
#[derive(Clone, Copy, Default)]
pub struct Control<'a> {
    /// Set to true from anywhere to stop; the call returns [`Error::Cancelled`].
    pub cancel: Option<&'a AtomicBool>,
    /// Called now and then, from any thread, with pairs done and pairs in all; the last call has
    /// the two equal.
    pub progress: Option<&'a (dyn Fn(usize, usize) + Sync)>,
}

impl std::fmt::Debug for Control<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Control")
            .field("cancel", &self.cancel)
            .finish_non_exhaustive()
    }
}

impl Control<'_> {
    fn check(&self) -> Result<()> {
        match self.cancel {
            Some(cancel) if cancel.load(Ordering::Relaxed) => Err(Error::Cancelled),
            _ => Ok(()),
        }
    }
}

/// Pairs between two looks at the caller's wish to stop.
const CHUNK: usize = 64;

/// `distance(i, j)` for all pairs `i < j` of `len` items, in parallel.
///
/// Each value is computed by itself, so the result does not depend on the number of threads. Give
/// the calls roughly equal work; they are dealt out in runs of 64 pairs.
///
/// # Errors
/// [`Error::Cancelled`], more pairs than can be counted, or the first error (by pair) of `distance`.
pub fn pairwise<T: Real>(
    len: usize,
    control: Control<'_>,
    distance: impl Fn(usize, usize) -> Result<T> + Sync,
) -> Result<Condensed<T>> {
    let total = pairs(len)?;
    let mut values = filled(T::ZERO, total, "pairs")?;
    let done = AtomicUsize::new(0);
    let chunk = |(number, values): (usize, &mut [T])| -> Result<()> {
        control.check()?;
        let (mut i, mut j) = pair(len, number * CHUNK);
        for value in values.iter_mut() {
            *value = distance(i, j)?;
            j += 1;
            if j == len {
                i += 1;
                j = i + 1;
            }
        }
        if let Some(progress) = control.progress {
            progress(
                done.fetch_add(values.len(), Ordering::Relaxed) + values.len(),
                total,
            );
        }
        Ok(())
    };
    let results: Vec<Result<()>> = values
        .par_chunks_mut(CHUNK)
        .enumerate()
        .map(chunk)
        .collect();
    results.into_iter().collect::<Result<()>>()?;
    Ok(Condensed { len, values })
}

/// The pair at `index` of the condensed order.
fn pair(len: usize, index: usize) -> (usize, usize) {
    // Rows shrink, so the row is found by bisection.
    let (mut low, mut high) = (0, len.saturating_sub(1));
    while high - low > 1 {
        let middle = (low + high) / 2;
        if row_start(len, middle) <= index {
            low = middle;
        } else {
            high = middle;
        }
    }
    (low, low + 1 + index - row_start(len, low))
}

/// Queries a task compares with its block: few, so that threads end together.
const QUERIES: usize = 16;

/// Tasks a thread takes on before what it found is put in place.
const WAVE: usize = 16;

/// Some queries against one block, by place in the order of lengths.
struct Task {
    block: usize,
    queries: Range<usize>,
}

/// The places of every block of up to `width`. The odd one comes first, where it meets the fewest
/// queries.
fn places(len: usize, width: usize) -> Vec<Range<usize>> {
    let odd = if len.is_multiple_of(width) {
        width
    } else {
        len % width
    };
    (odd..=len)
        .step_by(width)
        .map(|end| end.saturating_sub(width)..end)
        .collect()
}

/// Every block against the queries before it and, with some lanes idle, those in it.
fn tasks(places: &[Range<usize>]) -> Vec<Task> {
    let of_block = |(block, place): (usize, &Range<usize>)| {
        let end = place.end;
        (0..end).step_by(QUERIES).map(move |first| Task {
            block,
            queries: first..(first + QUERIES).min(end),
        })
    };
    places.iter().enumerate().flat_map(of_block).collect()
}

impl<C> Dtw<C> {
    /// Distances of all pairs of `series`, each with the earlier as query, in parallel. Equal bit
    /// for bit to [`Dtw::distance`] of each pair.
    ///
    /// # Errors
    /// Different dimensions, a pair without a path, or [`Error::Cancelled`].
    pub fn pairwise<T: Real>(
        &self,
        series: &[Series<T>],
        control: Control<'_>,
    ) -> Result<Condensed<T>>
    where
        C: LocalCost<T>,
    {
        if !self.is_plain() {
            return pairwise(series.len(), control, |i, j| {
                self.distance(&series[i], &series[j])
            });
        }
        for one in series {
            series[0].check_same_dims(one)?;
        }
        self.check_paths(series)?;
        if lanes::<T>() == 16 {
            self.pairwise_by_lanes::<T, 16>(series, control)
        } else {
            self.pairwise_by_lanes::<T, 8>(series, control)
        }
    }

    fn check_paths<T: Real>(&self, series: &[Series<T>]) -> Result<()> {
        let lens = || series.iter().map(Series::len);
        let (Some(least), Some(most)) = (lens().min(), lens().max()) else {
            return Ok(());
        };
        if self.check_path(least, most).is_ok() {
            return Ok(());
        }
        for (i, one) in series.iter().enumerate() {
            for other in &series[i + 1..] {
                self.check_path(one.len(), other.len())?;
            }
        }
        Ok(())
    }

    fn pairwise_by_lanes<T: Real, const W: usize>(
        &self,
        series: &[Series<T>],
        control: Control<'_>,
    ) -> Result<Condensed<T>>
    where
        C: LocalCost<T>,
    {
        let len = series.len();
        let total = pairs(len)?;
        let mut values = filled(T::ZERO, total, "pairs")?;
        let order = by_length(series);
        let places = places(len, W);
        let frames: Vec<Frames<T>> = order
            .par_iter()
            .map(|&index| Frames::new(&series[index]))
            .collect();
        let blocks: Vec<Result<Block<T, W>>> = places
            .par_iter()
            .map(|place| block(series, &order[place.clone()]))
            .collect();
        let blocks: Vec<Block<T, W>> = blocks.into_iter().collect::<Result<_>>()?;
        let run = |task: &Task| -> Result<Vec<[T; W]>> {
            control.check()?;
            let mut scratch = Vec::new();
            let compare = |query: usize| {
                let block = &blocks[task.block];
                self.against_block(&frames[query], block, T::INFINITY, &mut scratch)
            };
            Ok(task.queries.clone().map(compare).collect())
        };
        let mut done = 0;
        // In waves, so that what waits to be put in place stays small.
        for wave in tasks(&places).chunks(WAVE * rayon::current_num_threads()) {
            let found: Vec<Result<Vec<[T; W]>>> =
                wave.par_iter().with_max_len(1).map(run).collect();
            for (task, found) in wave.iter().zip(found) {
                for (query, distances) in task.queries.clone().zip(found?) {
                    for (other, distance) in places[task.block].clone().zip(distances) {
                        if query < other {
                            let (i, j) = (
                                order[query].min(order[other]),
                                order[query].max(order[other]),
                            );
                            values[row_start(len, i) + j - i - 1] = distance;
                            done += 1;
                        }
                    }
                }
            }
            if let Some(progress) = control.progress {
                progress(done, total);
            }
        }
        if let Some(at) = values.iter().position(|value| !value.is_finite()) {
            let (i, j) = pair(len, at);
            return Err(self.not_finite::<T>(series[i].len(), series[j].len()));
        }
        Ok(Condensed { len, values })
    }
}

//! One query against many references: distances, and nearest neighbours.

use crate::bounds::Envelope;
use crate::cost::LocalCost;
use crate::dtw::Dtw;
use crate::error::{Error, Result};
use crate::kernel::{Band, Block, Comparison};
use crate::local::with_frame_cost;
use crate::real::Real;
use crate::series::Series;

/// A neighbour of a query.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Neighbour<T> {
    /// Which reference.
    pub index: usize,
    /// Its distance from the query.
    pub distance: T,
}

/// References laid out to be compared with many queries.
///
/// ```
/// use setdrift_warp::{Dtw, References, Series};
///
/// let known = [
///     Series::univariate(&[0.0, 1.0, 2.0, 3.0])?,
///     Series::univariate(&[3.0, 2.0, 1.0])?,
///     Series::univariate(&[0.0, 3.0, 0.0])?,
/// ];
/// let references = References::new(&known)?;
/// let query = Series::univariate(&[0.0, 0.0, 1.0, 3.0])?;
/// let dtw = Dtw::squared().check()?;
/// let nearest = dtw.nearest(&query, &references, 2)?;
/// assert_eq!((nearest[0].index, nearest[0].distance), (0, 1.0));
/// assert_eq!(nearest[1].index, 2);
/// assert_eq!(dtw.distances(&query, &references)?[0], 1.0);
/// # Ok::<(), setdrift_warp::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct References<'a, T> {
    series: &'a [Series<T>],
    /// Indices by length, so that those compared together are alike in length.
    order: Vec<usize>,
    packed: Packed<T>,
}

/// Blocks as wide as a vector register: 16 of `f32`, 8 of `f64`.
#[derive(Debug, Clone)]
enum Packed<T> {
    Wide(Vec<Block<T, 16>>),
    Narrow(Vec<Block<T, 8>>),
}

/// The block width of a number type.
pub(crate) const fn lanes<T>() -> usize {
    if size_of::<T>() == 4 { 16 } else { 8 }
}

impl<'a, T: Real> References<'a, T> {
    /// Lays out the references; a second copy of them, padded to a common length by sixteens (`f32`)
    /// or eights (`f64`).
    ///
    /// # Errors
    /// Different dimensions, or no memory for the copy.
    pub fn new(series: &'a [Series<T>]) -> Result<Self> {
        for one in series {
            series[0].check_same_dims(one)?;
        }
        let order = by_length(series);
        let packed = if lanes::<T>() == 16 {
            Packed::Wide(pack(series, &order)?)
        } else {
            Packed::Narrow(pack(series, &order)?)
        };
        Ok(References {
            series,
            order,
            packed,
        })
    }

    /// Number of references.
    pub fn len(&self) -> usize {
        self.series.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.series.is_empty()
    }
}

pub(crate) fn by_length<T: Real>(series: &[Series<T>]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..series.len()).collect();
    order.sort_by_key(|&index| series[index].len());
    order
}

fn pack<T: Real, const W: usize>(
    series: &[Series<T>],
    order: &[usize],
) -> Result<Vec<Block<T, W>>> {
    order
        .chunks(W)
        .map(|indices| block(series, indices))
        .collect()
}

pub(crate) fn block<T: Real, const W: usize>(
    series: &[Series<T>],
    indices: &[usize],
) -> Result<Block<T, W>> {
    let members: Vec<&Series<T>> = indices.iter().map(|&index| &series[index]).collect();
    Block::new(&members)
}

impl<C> Dtw<C> {
    /// Distances of a query from all references, in their order: much faster than one by one, and
    /// equal bit for bit.
    ///
    /// # Errors
    /// Different dimensions, or a reference without a path.
    pub fn distances<T: Real>(
        &self,
        query: &Series<T>,
        references: &References<'_, T>,
    ) -> Result<Vec<T>>
    where
        C: LocalCost<T>,
    {
        let Some(first) = references.series.first() else {
            return Ok(Vec::new());
        };
        query.check_same_dims(first)?;
        if !self.is_plain() {
            return references
                .series
                .iter()
                .map(|one| self.distance(query, one))
                .collect();
        }
        for one in references.series {
            self.check_path(query.len(), one.len())?;
        }
        let query = Frames::new(query);
        let sorted = match &references.packed {
            Packed::Wide(blocks) => self.against_blocks(&query, blocks),
            Packed::Narrow(blocks) => self.against_blocks(&query, blocks),
        };
        let mut found = vec![T::ZERO; sorted.len()];
        for (&index, distance) in references.order.iter().zip(sorted) {
            found[index] = distance;
        }
        for (one, distance) in references.series.iter().zip(&found) {
            if !distance.is_finite() {
                return Err(self.not_finite::<T>(query.len, one.len()));
            }
        }
        Ok(found)
    }

    /// [`Error::NoPath`] when a band is too narrow for these lengths.
    pub(crate) fn check_path(&self, n: usize, m: usize) -> Result<()> {
        match Band::new(self.window(), n, m) {
            Some(band) if !band.holds_corner(n, m) => Err(Error::NoPath {
                query: n,
                reference: m,
            }),
            _ => Ok(()),
        }
    }

    fn against_blocks<T: Real, const W: usize>(
        &self,
        query: &Frames<T>,
        blocks: &[Block<T, W>],
    ) -> Vec<T>
    where
        C: LocalCost<T>,
    {
        let mut scratch = Vec::new();
        let mut found = Vec::new();
        for block in blocks {
            let distances = self.against_block(query, block, T::INFINITY, &mut scratch);
            found.extend_from_slice(&distances[..block.lens().len()]);
        }
        found
    }

    /// Measures of a query against one block. Above `limit` (in the measure) they may be infinite.
    pub(crate) fn against_block<T: Real, const W: usize>(
        &self,
        query: &Frames<T>,
        block: &Block<T, W>,
        limit: T,
        row: &mut Vec<T>,
    ) -> [T; W]
    where
        C: LocalCost<T>,
    {
        let n = query.len;
        let band =
            |&m: &usize| Band::new(self.window(), n, m).unwrap_or(Band { below: n, above: m });
        let bands: Vec<Band> = block.lens().iter().map(band).collect();
        let longest = block.lens().iter().copied().max().unwrap_or(1);
        let limit = self.cost_limit(limit, n, longest);
        let any = query.gaps || block.has_gaps();
        let each = if self.is_independent() { 1 } else { query.dims };
        let mut costs = [T::ZERO; W];
        for first in (0..query.dims).step_by(each) {
            let dims = first..first + each;
            let part = with_frame_cost!(self.cost(), self.gaps(), any, each, |cost| {
                Comparison {
                    query: &query.values,
                    block,
                    cost,
                    dims,
                    bands: &bands,
                    limit,
                    row: &mut *row,
                }
                .run()
            });
            costs
                .iter_mut()
                .zip(part)
                .for_each(|(sum, cost)| *sum += cost);
        }
        costs.map(|cost| self.measured(cost, n, longest - 1))
    }

    /// The `count` nearest references, nearest first, the earlier first among equals.
    ///
    /// Exact: references are visited in the order of a lower bound (ends, then Keogh about the
    /// query), those that a third bound (Keogh about the reference) proves too far are left out, each
    /// group is abandoned when it cannot beat what is found, and the search when no bound can.
    /// Options that have no bound are compared one by one.
    ///
    /// # Errors
    /// Different dimensions, a reference without a path, or fewer than `count` references whose
    /// distance the number type can hold.
    pub fn nearest<T: Real>(
        &self,
        query: &Series<T>,
        references: &References<'_, T>,
        count: usize,
    ) -> Result<Vec<Neighbour<T>>>
    where
        C: LocalCost<T>,
    {
        let mut best = Best {
            count,
            found: Vec::new(),
        };
        let Some(first) = references.series.first() else {
            return Ok(best.found);
        };
        query.check_same_dims(first)?;
        if count == 0 {
            return Ok(best.found);
        }
        if self.is_plain() {
            for one in references.series {
                self.check_path(query.len(), one.len())?;
            }
        }
        let bounds = if self.is_boundable() {
            self.bounds(query, references)?
        } else {
            (0..references.len())
                .map(|index| (T::ZERO, index))
                .collect()
        };
        if !self.is_plain() {
            self.nearest_one_by_one(query, references.series, &bounds, &mut best)?;
        } else if lanes::<T>() == 16 {
            self.nearest_by_lanes::<T, 16>(query, references.series, &bounds, &mut best)?;
        } else {
            self.nearest_by_lanes::<T, 8>(query, references.series, &bounds, &mut best)?;
        }
        match best.found.last() {
            Some(last) if !last.distance.is_finite() => {
                let reference = references.series[last.index].len();
                Err(self.not_finite::<T>(query.len(), reference))
            }
            _ => Ok(best.found),
        }
    }

    /// Each reference with its lower bound, least first.
    fn bounds<T: Real>(
        &self,
        query: &Series<T>,
        references: &References<'_, T>,
    ) -> Result<Vec<(T, usize)>>
    where
        C: LocalCost<T>,
    {
        let mut bounds = Vec::with_capacity(references.len());
        let mut envelope: Option<(usize, Envelope<T>)> = None;
        for &index in &references.order {
            let one = &references.series[index];
            if envelope.as_ref().is_none_or(|(len, _)| *len != one.len()) {
                envelope = Some((one.len(), Envelope::of_query(self, query, one.len())?));
            }
            let mut bound = self.ends_bound(query, one)?;
            if let Some((_, envelope)) = &envelope {
                bound = bound.most(self.keogh_bound(envelope, one)?);
            }
            bounds.push((bound, index));
        }
        bounds.sort_by(|a, b| {
            a.0.partial_cmp(&b.0)
                .unwrap_or(std::cmp::Ordering::Equal)
                .then(a.1.cmp(&b.1))
        });
        Ok(bounds)
    }

    /// Whether the envelope of the reference leaves it in the race.
    fn may_be_within<T: Real>(
        &self,
        query: &Series<T>,
        reference: &Series<T>,
        limit: T,
    ) -> Result<bool>
    where
        C: LocalCost<T>,
    {
        if limit == T::INFINITY || !self.is_boundable() {
            return Ok(true);
        }
        let envelope = Envelope::of_reference(self, reference, query.len())?;
        Ok(self.keogh_bound(&envelope, query)? <= limit)
    }

    fn nearest_one_by_one<T: Real>(
        &self,
        query: &Series<T>,
        series: &[Series<T>],
        bounds: &[(T, usize)],
        best: &mut Best<T>,
    ) -> Result<()>
    where
        C: LocalCost<T>,
    {
        for &(bound, index) in bounds {
            let (one, limit) = (&series[index], best.limit());
            if bound > limit {
                return Ok(());
            }
            if self.may_be_within(query, one, limit)?
                && let Some(distance) = self.distance_within(query, one, limit)?
            {
                best.offer(Neighbour { index, distance });
            }
        }
        Ok(())
    }

    fn nearest_by_lanes<T: Real, const W: usize>(
        &self,
        query: &Series<T>,
        series: &[Series<T>],
        bounds: &[(T, usize)],
        best: &mut Best<T>,
    ) -> Result<()>
    where
        C: LocalCost<T>,
    {
        let frames = Frames::new(query);
        let mut scratch = Vec::new();
        let mut rest = bounds.iter();
        loop {
            let limit = best.limit();
            let mut able = Vec::with_capacity(W);
            // Bounds rise, so none after one beyond the limit is able.
            for &(_, index) in rest.by_ref().take_while(|one| one.0 <= limit) {
                if self.may_be_within(query, &series[index], limit)? {
                    able.push(index);
                }
                if able.len() == W {
                    break;
                }
            }
            if able.is_empty() {
                return Ok(());
            }
            let block: Block<T, W> = block(series, &able)?;
            let distances = self.against_block(&frames, &block, limit, &mut scratch);
            for (&index, distance) in able.iter().zip(distances) {
                if distance <= limit {
                    best.offer(Neighbour { index, distance });
                }
            }
        }
    }
}

/// A query frame by frame, as the kernel reads it.
pub(crate) struct Frames<T> {
    values: Vec<T>,
    len: usize,
    dims: usize,
    gaps: bool,
}

impl<T: Real> Frames<T> {
    pub fn new(series: &Series<T>) -> Self {
        Frames {
            values: series.to_frames(),
            len: series.len(),
            dims: series.dims(),
            gaps: series.has_gaps(),
        }
    }
}

/// The best so far, in order.
struct Best<T> {
    count: usize,
    found: Vec<Neighbour<T>>,
}

impl<T: Real> Best<T> {
    /// What a newcomer must not exceed.
    fn limit(&self) -> T {
        if self.found.len() < self.count {
            T::INFINITY
        } else {
            self.found[self.count - 1].distance
        }
    }

    fn offer(&mut self, one: Neighbour<T>) {
        let before =
            |other: &Neighbour<T>| (other.distance, other.index) < (one.distance, one.index);
        let at = self.found.partition_point(before);
        self.found.insert(at, one);
        self.found.truncate(self.count);
    }
}

//! One query against many references: distances, and nearest neighbours.

use crate::bounds::Envelope;
use crate::cost::LocalCost;
use crate::dtw::Dtw;
use crate::error::{Error, Result};
use crate::kernel::{Band, Block, Comparison};
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
    /// Lays out the references.
    ///
    /// # Errors
    /// Different dimensions.
    pub fn new(series: &'a [Series<T>]) -> Result<Self> {
        for one in series {
            series[0].check_same_dims(one)?;
        }
        let order = by_length(series);
        let packed = if lanes::<T>() == 16 {
            Packed::Wide(pack(series, &order))
        } else {
            Packed::Narrow(pack(series, &order))
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

fn pack<T: Real, const W: usize>(series: &[Series<T>], order: &[usize]) -> Vec<Block<T, W>> {
    order
        .chunks(W)
        .map(|indices| block(series, indices))
        .collect()
}

pub(crate) fn block<T: Real, const W: usize>(
    series: &[Series<T>],
    indices: &[usize],
) -> Block<T, W> {
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
        if !self.is_plain() || query.has_gaps() || references.series.iter().any(Series::has_gaps) {
            return references
                .series
                .iter()
                .map(|one| self.distance(query, one))
                .collect();
        }
        for one in references.series {
            self.check_path(query.len(), one.len())?;
        }
        let frames = query.to_frames();
        let sorted = match &references.packed {
            Packed::Wide(blocks) => self.against_blocks(&frames, query.dims(), blocks),
            Packed::Narrow(blocks) => self.against_blocks(&frames, query.dims(), blocks),
        };
        let mut found = vec![T::ZERO; sorted.len()];
        for (&index, distance) in references.order.iter().zip(sorted) {
            found[index] = distance;
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
        query: &[T],
        dims: usize,
        blocks: &[Block<T, W>],
    ) -> Vec<T>
    where
        C: LocalCost<T>,
    {
        let mut scratch = Vec::new();
        let mut found = Vec::new();
        for block in blocks {
            let distances = self.against_block(query, dims, block, T::INFINITY, &mut scratch);
            found.extend_from_slice(&distances[..block.lens().len()]);
        }
        found
    }

    /// Measures of a query, frame by frame, against one block. Above `limit` (in the measure) they
    /// may be infinite.
    pub(crate) fn against_block<T: Real, const W: usize>(
        &self,
        query: &[T],
        dims: usize,
        block: &Block<T, W>,
        limit: T,
        row: &mut Vec<T>,
    ) -> [T; W]
    where
        C: LocalCost<T>,
    {
        let n = query.len() / dims;
        let band =
            |&m: &usize| Band::new(self.window(), n, m).unwrap_or(Band { below: n, above: m });
        let bands: Vec<Band> = block.lens().iter().map(band).collect();
        let longest = block.lens().iter().copied().max().unwrap_or(1);
        let limit = self.cost_limit(limit, n, longest);
        let mut run = |dims| {
            Comparison {
                query,
                block,
                cost: self.cost(),
                dims,
                bands: &bands,
                limit,
                row,
            }
            .run()
        };
        let mut costs = [T::ZERO; W];
        if self.is_independent() {
            for dim in 0..dims {
                let one = run(dim..dim + 1);
                costs
                    .iter_mut()
                    .zip(one)
                    .for_each(|(sum, cost)| *sum += cost);
            }
        } else {
            costs = run(0..dims);
        }
        costs.map(|cost| self.measured(cost, n, longest - 1))
    }

    /// The `count` nearest references, nearest first, the earlier first among equals.
    ///
    /// Exact: references are visited in the order of a lower bound (ends, then Keogh), each group
    /// abandoned when it cannot beat what is found, the search when no bound can. Options that
    /// have no bound are compared one by one.
    ///
    /// # Errors
    /// Different dimensions, or a reference without a path.
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
        if !self.is_plain() || query.has_gaps() || references.series.iter().any(Series::has_gaps) {
            for (index, one) in references.series.iter().enumerate() {
                if let Some(distance) = self.distance_within(query, one, best.limit())? {
                    best.offer(Neighbour { index, distance });
                }
            }
            return Ok(best.found);
        }
        for one in references.series {
            self.check_path(query.len(), one.len())?;
        }
        let bounds = self.bounds(query, references)?;
        if lanes::<T>() == 16 {
            self.nearest_by_bound::<T, 16>(query, references.series, &bounds, &mut best);
        } else {
            self.nearest_by_bound::<T, 8>(query, references.series, &bounds, &mut best);
        }
        Ok(best.found)
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

    fn nearest_by_bound<T: Real, const W: usize>(
        &self,
        query: &Series<T>,
        series: &[Series<T>],
        bounds: &[(T, usize)],
        best: &mut Best<T>,
    ) where
        C: LocalCost<T>,
    {
        let frames = query.to_frames();
        let mut scratch = Vec::new();
        for group in bounds.chunks(W) {
            let limit = best.limit();
            let able: Vec<usize> = group
                .iter()
                .filter(|one| one.0 <= limit)
                .map(|one| one.1)
                .collect();
            if able.is_empty() {
                return;
            }
            let block: Block<T, W> = block(series, &able);
            let distances = self.against_block(&frames, query.dims(), &block, limit, &mut scratch);
            for (&index, distance) in able.iter().zip(distances) {
                if distance <= limit {
                    best.offer(Neighbour { index, distance });
                }
            }
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

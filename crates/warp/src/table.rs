//! The dynamic program, cell by cell, for any step pattern, window and source of costs.

use std::ops::Range;

use crate::cost::{CostRows, check_costs};
use crate::error::{Error, Result, check_length, filled};
use crate::real::Real;
use crate::steps::StepPattern;
use crate::window::Window;

/// What to fill the table with.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Plan<'a> {
    pub window: Window,
    pub steps: &'a StepPattern,
    /// Whether a path may begin at any reference frame.
    pub open_begin: bool,
    /// Whether to remember the moves, for [`Table::path`].
    pub record: bool,
    /// Whether the table's rows are the reference's frames and its columns the query's. The steps
    /// are then turned too, but the window is not.
    pub turned: bool,
}

impl Plan<'_> {
    /// Columns allowed in row `i` of a table of `n` rows and `m` columns.
    fn range(&self, i: usize, n: usize, m: usize) -> Range<usize> {
        if self.turned {
            self.window.range_of_reference(i, m, n)
        } else {
            self.window.range(i, n, m)
        }
    }
}

/// The last row, and the moves that led there.
#[derive(Debug)]
pub(crate) struct Table<T> {
    /// Cost of the best path that ends at each reference frame; infinite where none does.
    pub last: Vec<T>,
    /// Reference frame where that path begins; only with an open begin.
    pub begins: Vec<u32>,
    moves: Moves,
}

/// The move into each cell of the window.
#[derive(Debug, Default)]
struct Moves {
    first: Vec<usize>,
    rows: Vec<Range<usize>>,
    taken: Vec<u8>,
}

/// In place of a move: the path begins here.
const BEGIN: u8 = u8::MAX;

/// Most cells whose moves are remembered, a byte each.
const MOST_CELLS: usize = 1 << 40;

impl Moves {
    /// Room for the moves into every cell of the window.
    fn new(plan: &Plan, n: usize, m: usize) -> Result<Self> {
        let mut moves = Moves::default();
        if plan.record {
            let what = "cells of the path's table";
            let cells: usize = (0..n).map(|i| plan.range(i, n, m).len()).sum();
            if cells > MOST_CELLS {
                return Err(Error::TooLarge {
                    what: "number of cells to remember for the path",
                    found: cells,
                    limit: MOST_CELLS,
                });
            }
            moves
                .taken
                .try_reserve_exact(cells)
                .map_err(|_| Error::OutOfMemory {
                    what,
                    entries: cells,
                })?;
        }
        Ok(moves)
    }

    fn row(&mut self, range: &Range<usize>) -> &mut [u8] {
        let first = self.taken.len();
        self.first.push(first);
        self.rows.push(range.clone());
        self.taken.resize(first + range.len(), BEGIN);
        &mut self.taken[first..]
    }
}

impl<T: Real> Table<T> {
    /// Fills the table; `None` once no path can cost `limit` or less.
    pub fn fill(costs: &mut impl CostRows<T>, plan: Plan, limit: T) -> Result<Option<Self>> {
        let (n, m) = (costs.query_len(), costs.reference_len());
        if n == 0 || m == 0 {
            return Err(Error::EmptySeries);
        }
        check_length(n.max(m))?;
        if plan.steps.is_unweighted() {
            fill_unweighted(costs, plan, limit, n, m)
        } else {
            fill_by_moves(costs, plan, limit, n, m)
        }
    }

    /// The path that ends at reference frame `end` of the last row, in order.
    pub fn path(&self, steps: &StepPattern, end: usize) -> Vec<(usize, usize)> {
        let mut path = Vec::new();
        let (mut i, mut j) = (self.moves.rows.len() - 1, end);
        loop {
            let taken = self.moves.taken[self.moves.first[i] + j - self.moves.rows[i].start];
            let Some(step) = steps.moves().get(usize::from(taken)) else {
                path.push((i, j));
                break;
            };
            path.extend(
                step.cells
                    .iter()
                    .rev()
                    .map(|cell| (i - cell.query, j - cell.reference)),
            );
            (i, j) = (i - step.origin.0, j - step.origin.1);
        }
        path.reverse();
        path
    }
}

/// Moves in the order of [`StepPattern::unweighted`].
const DIAGONAL: u8 = 0;
const QUERY: u8 = 1;
const REFERENCE: u8 = 2;

fn fill_unweighted<T: Real>(
    costs: &mut impl CostRows<T>,
    plan: Plan,
    limit: T,
    n: usize,
    m: usize,
) -> Result<Option<Table<T>>> {
    // Column j of the table is at j + 1; column 0 stands for what lies left of it.
    let mut above = filled(T::INFINITY, m + 1, "cells of a row")?;
    let mut row = above.clone();
    let width = if plan.open_begin { m + 1 } else { 0 };
    let mut begins_above = filled(0u32, width, "cells of a row")?;
    let mut begins = begins_above.clone();
    let mut local = filled(T::ZERO, m, "cells of a row")?;
    let mut moves = Moves::new(&plan, n, m)?;
    for i in 0..n {
        let range = plan.range(i, n, m);
        let local = &mut local[range.clone()];
        costs.fill(i, range.start, local);
        check_costs(i, 0, range.start, local)?;
        row.fill(T::INFINITY);
        if i == 0 {
            if plan.open_begin {
                row[range.start + 1..range.end + 1].copy_from_slice(local);
                for j in range.clone() {
                    begins[j + 1] = j as u32;
                }
            } else if range.start == 0 {
                let mut sum = T::ZERO;
                for (cell, &cost) in row[1..].iter_mut().zip(&*local) {
                    sum += cost;
                    *cell = sum;
                }
            }
            if plan.record {
                let taken = moves.row(&range);
                if !plan.open_begin {
                    taken.iter_mut().skip(1).for_each(|step| *step = REFERENCE);
                }
            }
        } else if plan.record {
            let taken = moves.row(&range);
            let mut left = T::INFINITY;
            for ((j, &cost), step) in range.clone().zip(&*local).zip(taken) {
                let (mut best, mut how) = (above[j], DIAGONAL);
                if above[j + 1] < best {
                    (best, how) = (above[j + 1], QUERY);
                }
                if left < best {
                    (best, how) = (left, REFERENCE);
                }
                left = best + cost;
                row[j + 1] = left;
                *step = how;
            }
        } else if plan.open_begin {
            let (mut left, mut left_begin) = (T::INFINITY, 0);
            for (j, &cost) in range.clone().zip(&*local) {
                let (mut best, mut begin) = (above[j], begins_above[j]);
                if above[j + 1] < best {
                    (best, begin) = (above[j + 1], begins_above[j + 1]);
                }
                if left < best {
                    (best, begin) = (left, left_begin);
                }
                left = best + cost;
                left_begin = begin;
                row[j + 1] = left;
                begins[j + 1] = begin;
            }
        } else {
            let mut left = T::INFINITY;
            let cells = &mut row[range.start + 1..range.end + 1];
            let (diagonal, up) = (
                &above[range.clone()],
                &above[range.start + 1..range.end + 1],
            );
            for (((cell, &cost), &diagonal), &up) in
                cells.iter_mut().zip(&*local).zip(diagonal).zip(up)
            {
                left = left.least(diagonal.least(up)) + cost;
                *cell = left;
            }
        }
        if limit < T::INFINITY
            && row[range.start + 1..range.end + 1]
                .iter()
                .all(|&cost| cost > limit)
        {
            return Ok(None);
        }
        std::mem::swap(&mut above, &mut row);
        std::mem::swap(&mut begins_above, &mut begins);
    }
    above.remove(0);
    if !begins_above.is_empty() {
        begins_above.remove(0);
    }
    Ok(Some(Table {
        last: above,
        begins: begins_above,
        moves,
    }))
}

fn fill_by_moves<T: Real>(
    costs: &mut impl CostRows<T>,
    plan: Plan,
    limit: T,
    n: usize,
    m: usize,
) -> Result<Option<Table<T>>> {
    let (back, across) = plan.steps.reach();
    let depth = back + 1;
    let steps: Vec<Weighed<T>> = plan.steps.moves().iter().map(Weighed::new).collect();
    // Rings of the last `depth` rows.
    let row = filled(T::INFINITY, m, "cells of a row")?;
    let mut sums = vec![row.clone(); depth];
    let mut local = vec![row; depth];
    let width = if plan.open_begin { m } else { 0 };
    let mut begins = vec![filled(0u32, width, "cells of a row")?; depth];
    let mut moves = Moves::new(&plan, n, m)?;
    let mut beyond = 0;
    for i in 0..n {
        let range = plan.range(i, n, m);
        // Moves into this row and those ahead may pass cells of this row outside the window.
        let reach = (i..n.min(i + depth)).map(|ahead| plan.range(ahead, n, m));
        let end = reach.map(|ahead| ahead.end).max().unwrap_or(range.end);
        let wide = range.start.saturating_sub(across)..end;
        let row = &mut local[i % depth][wide.clone()];
        costs.fill(i, wide.start, row);
        check_costs(i, 0, wide.start, row)?;
        sums[i % depth].fill(T::INFINITY);
        let mut taken = plan.record.then(|| moves.row(&range));
        let mut any = false;
        for j in range.clone() {
            let starts = i == 0 && (plan.open_begin || j == 0);
            let mut best = if starts { local[0][j] } else { T::INFINITY };
            let (mut how, mut begin) = (BEGIN, j as u32);
            for (number, step) in steps.iter().enumerate() {
                let (a, b) = step.origin;
                if a > i || b > j {
                    continue;
                }
                let mut cost = sums[(i - a) % depth][j - b];
                for &(query, reference, weight) in &step.cells {
                    let passed = local[(i - query) % depth][j - reference];
                    cost += if passed < T::INFINITY {
                        weight * passed
                    } else {
                        T::INFINITY
                    };
                }
                if cost < best {
                    (best, how) = (cost, number as u8);
                    if plan.open_begin {
                        begin = begins[(i - a) % depth][j - b];
                    }
                }
            }
            sums[i % depth][j] = best;
            any |= best <= limit;
            if let Some(taken) = &mut taken {
                taken[j - range.start] = how;
            }
            if plan.open_begin {
                begins[i % depth][j] = begin;
            }
        }
        beyond = if any { 0 } else { beyond + 1 };
        if limit < T::INFINITY && beyond >= back.max(1) {
            return Ok(None);
        }
    }
    let last = (n - 1) % depth;
    Ok(Some(Table {
        last: sums.swap_remove(last),
        begins: begins.swap_remove(last),
        moves,
    }))
}

/// A move with its weights in the table's number type.
struct Weighed<T> {
    origin: (usize, usize),
    cells: Vec<(usize, usize, T)>,
}

impl<T: Real> Weighed<T> {
    fn new(step: &crate::steps::Move) -> Self {
        let cells = step
            .cells
            .iter()
            .map(|cell| (cell.query, cell.reference, T::from_f64(cell.weight)));
        Weighed {
            origin: step.origin,
            cells: cells.collect(),
        }
    }
}

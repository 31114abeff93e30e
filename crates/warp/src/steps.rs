//! Step patterns: by which local moves a warping path may go, and what each weighs.

use crate::error::{Error, Result};

/// What a path's cost is divided by to compare alignments of different lengths.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Normalisation {
    /// The pattern's weights do not add up to a constant.
    None,
    /// Query frames.
    Query,
    /// Reference frames used.
    Reference,
    /// Both.
    Both,
}

/// One cell of a move: how far back from where the move ends, and its weight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cell {
    /// Query frames back.
    pub query: usize,
    /// Reference frames back.
    pub reference: usize,
    /// Factor on the local cost of this cell, 0 or more.
    pub weight: f64,
}

/// One move: it leaves from a cell `origin` frames back and passes the `cells`, the last of which
/// is the one it ends in.
#[derive(Debug, Clone, PartialEq)]
pub struct Move {
    /// Query and reference frames between origin and end.
    pub origin: (usize, usize),
    /// The cells it passes, in order; the last is `(0, 0)` back.
    pub cells: Vec<Cell>,
}

/// A set of moves, in order of preference among equals.
///
/// ```
/// use setdrift_warp::{Cell, Dtw, Move, Normalisation, Series, StepPattern};
///
/// // Only the diagonal, or a reference frame left out at a price of half its neighbour.
/// let to = |origin, weight| Move { origin, cells: vec![Cell { query: 0, reference: 0, weight }] };
/// let steps = StepPattern::custom(vec![to((1, 1), 1.0), to((1, 2), 1.5)], Normalisation::Query)?;
/// let dtw = Dtw::squared().steps(steps).check()?;
/// let a = Series::univariate(&[1.0, 2.0, 3.0])?;
/// let b = Series::univariate(&[1.0, 9.0, 2.0, 4.0])?;
/// assert_eq!(dtw.align(&a, &b)?.path, [(0, 0), (1, 2), (2, 3)]);
/// assert!(dtw.distance(&b, &a).is_err()); // no path: the query is the longer
/// # Ok::<(), setdrift_warp::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct StepPattern {
    moves: Vec<Move>,
    normalisation: Normalisation,
}

type Weights<'a> = &'a [(usize, usize, f64)];

impl StepPattern {
    /// A pattern of one's own.
    ///
    /// # Errors
    /// No moves; a move that stands still, goes back, or does not end at `(0, 0)`; a weight that is
    /// negative or not finite; a reach of more than 255 frames or 255 moves.
    pub fn custom(moves: Vec<Move>, normalisation: Normalisation) -> Result<Self> {
        if moves.is_empty() {
            return Err(Error::Empty("the step pattern"));
        }
        if moves.len() > 255 {
            return Err(Error::TooLarge {
                what: "number of moves",
                found: moves.len(),
                limit: 255,
            });
        }
        for step in &moves {
            let mut before = step.origin;
            if before.0.max(before.1) > 255 {
                return Err(Error::TooLarge {
                    what: "reach of a move",
                    found: before.0.max(before.1),
                    limit: 255,
                });
            }
            for cell in &step.cells {
                if !(cell.weight >= 0.0 && cell.weight.is_finite()) {
                    return Err(Error::Parameter {
                        name: "weight",
                        value: cell.weight,
                        expected: "give a finite number of 0 or more",
                    });
                }
                let here = (cell.query, cell.reference);
                if here.0 > before.0 || here.1 > before.1 || here == before {
                    return Err(Error::Incompatible(
                        "each cell of a move must lie ahead of the one before",
                    ));
                }
                before = here;
            }
            if before != (0, 0) || step.origin == (0, 0) {
                return Err(Error::Incompatible(
                    "a move must end at (0, 0), and not begin there",
                ));
            }
        }
        Ok(StepPattern {
            moves,
            normalisation,
        })
    }

    fn table(normalisation: Normalisation, moves: &[((usize, usize), Weights)]) -> Self {
        let cell = |&(query, reference, weight): &(usize, usize, f64)| Cell {
            query,
            reference,
            weight,
        };
        let moves = moves
            .iter()
            .map(|&(origin, cells)| Move {
                origin,
                cells: cells.iter().map(cell).collect(),
            })
            .collect();
        StepPattern {
            moves,
            normalisation,
        }
    }

    /// The unweighted pattern: diagonal, query or reference alone, each cell counted once. What
    /// "DTW" means without further word, and the default.
    pub fn unweighted() -> Self {
        let here: Weights = &[(0, 0, 1.0)];
        Self::table(
            Normalisation::None,
            &[((1, 1), here), ((1, 0), here), ((0, 1), here)],
        )
    }

    /// Each query frame counted once; the reference goes on by 0, 1 or 2 frames. dtw-python calls
    /// it "asymmetric".
    pub fn query_once() -> Self {
        let here: Weights = &[(0, 0, 1.0)];
        Self::table(
            Normalisation::Query,
            &[((1, 0), here), ((1, 1), here), ((1, 2), here)],
        )
    }

    /// Itakura's asymmetric form (1975): slope between one half and two, no two stays in a row.
    pub fn itakura() -> Self {
        let here: Weights = &[(0, 0, 1.0)];
        let two: Weights = &[(1, 0, 1.0), (0, 0, 1.0)];
        Self::table(
            Normalisation::Query,
            &[((1, 2), here), ((1, 1), here), ((2, 1), two), ((2, 2), two)],
        )
    }

    /// Sakoe & Chiba's symmetric form (1978, table I): diagonal moves weigh 2.
    pub fn symmetric(slope: SlopeConstraint) -> Self {
        let both = Normalisation::Both;
        match slope {
            SlopeConstraint::Zero => Self::table(
                both,
                &[
                    ((1, 1), &[(0, 0, 2.0)]),
                    ((0, 1), &[(0, 0, 1.0)]),
                    ((1, 0), &[(0, 0, 1.0)]),
                ],
            ),
            SlopeConstraint::Half => Self::table(
                both,
                &[
                    ((1, 3), &[(0, 2, 2.0), (0, 1, 1.0), (0, 0, 1.0)]),
                    ((1, 2), &[(0, 1, 2.0), (0, 0, 1.0)]),
                    ((1, 1), &[(0, 0, 2.0)]),
                    ((2, 1), &[(1, 0, 2.0), (0, 0, 1.0)]),
                    ((3, 1), &[(2, 0, 2.0), (1, 0, 1.0), (0, 0, 1.0)]),
                ],
            ),
            SlopeConstraint::One => Self::table(
                both,
                &[
                    ((1, 2), &[(0, 1, 2.0), (0, 0, 1.0)]),
                    ((1, 1), &[(0, 0, 2.0)]),
                    ((2, 1), &[(1, 0, 2.0), (0, 0, 1.0)]),
                ],
            ),
            SlopeConstraint::Two => Self::table(
                both,
                &[
                    ((2, 3), &[(1, 2, 2.0), (0, 1, 2.0), (0, 0, 1.0)]),
                    ((1, 1), &[(0, 0, 2.0)]),
                    ((3, 2), &[(2, 1, 2.0), (1, 0, 2.0), (0, 0, 1.0)]),
                ],
            ),
        }
    }

    /// Sakoe & Chiba's asymmetric form (1978, table I): each query frame weighs 1 in all.
    pub fn asymmetric(slope: SlopeConstraint) -> Self {
        let query = Normalisation::Query;
        const THIRD: f64 = 1.0 / 3.0;
        match slope {
            SlopeConstraint::Zero => Self::table(
                query,
                &[
                    ((0, 1), &[(0, 0, 0.0)]),
                    ((1, 1), &[(0, 0, 1.0)]),
                    ((1, 0), &[(0, 0, 1.0)]),
                ],
            ),
            SlopeConstraint::Half => Self::table(
                query,
                &[
                    ((1, 3), &[(0, 2, THIRD), (0, 1, THIRD), (0, 0, THIRD)]),
                    ((1, 2), &[(0, 1, 0.5), (0, 0, 0.5)]),
                    ((1, 1), &[(0, 0, 1.0)]),
                    ((2, 1), &[(1, 0, 1.0), (0, 0, 1.0)]),
                    ((3, 1), &[(2, 0, 1.0), (1, 0, 1.0), (0, 0, 1.0)]),
                ],
            ),
            SlopeConstraint::One => Self::table(
                query,
                &[
                    ((1, 2), &[(0, 1, 0.5), (0, 0, 0.5)]),
                    ((1, 1), &[(0, 0, 1.0)]),
                    ((2, 1), &[(1, 0, 1.0), (0, 0, 1.0)]),
                ],
            ),
            SlopeConstraint::Two => Self::table(
                query,
                &[
                    (
                        (2, 3),
                        &[
                            (1, 2, 2.0 * THIRD),
                            (0, 1, 2.0 * THIRD),
                            (0, 0, 2.0 * THIRD),
                        ],
                    ),
                    ((1, 1), &[(0, 0, 1.0)]),
                    ((3, 2), &[(2, 1, 1.0), (1, 0, 1.0), (0, 0, 1.0)]),
                ],
            ),
        }
    }

    /// The moves, in order of preference.
    pub fn moves(&self) -> &[Move] {
        &self.moves
    }

    /// What costs are divided by.
    pub fn normalisation(&self) -> Normalisation {
        self.normalisation
    }

    pub(crate) fn is_unweighted(&self) -> bool {
        *self == Self::unweighted()
    }

    /// The pattern with query and reference in each other's place. The unweighted one is its own.
    pub(crate) fn turned(&self) -> Self {
        if self.is_unweighted() {
            return self.clone();
        }
        let turn = |step: &Move| Move {
            origin: (step.origin.1, step.origin.0),
            cells: step
                .cells
                .iter()
                .map(|cell| Cell {
                    query: cell.reference,
                    reference: cell.query,
                    weight: cell.weight,
                })
                .collect(),
        };
        StepPattern {
            moves: self.moves.iter().map(turn).collect(),
            normalisation: self.normalisation,
        }
    }

    /// Most query and reference frames a move reaches back.
    pub(crate) fn reach(&self) -> (usize, usize) {
        self.moves.iter().fold((0, 0), |(a, b), step| {
            (a.max(step.origin.0), b.max(step.origin.1))
        })
    }
}

impl Default for StepPattern {
    fn default() -> Self {
        Self::unweighted()
    }
}

/// Sakoe & Chiba's slope constraint P: after each move along one axis alone, P moves along the
/// diagonal. Slopes stay between P / (P + 1) and (P + 1) / P.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SlopeConstraint {
    /// P = 0: any slope.
    Zero,
    /// P = ½: slopes from 1/3 to 3.
    Half,
    /// P = 1: slopes from 1/2 to 2.
    One,
    /// P = 2: slopes from 2/3 to 3/2.
    Two,
}

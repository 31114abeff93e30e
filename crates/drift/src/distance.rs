//! How far two off-script stretches are apart, whoever played which part and on whichever side.
//!
//! The distance is the least, over all assignments of players and both sides of the floor, of a
//! dependent time warping of the five paths and the ball, in metres per player:
//!
//! - a player counts by how much he moves, so that the two or three who act decide and those who
//!   wait in their places do not;
//! - each player's squared distance is capped, so that one stray track cannot part two stretches;
//! - either stretch may begin or end with frames that the other lacks, at a fixed price a frame,
//!   because recognition may cut an improvisation early or late;
//! - an unknown place costs a middling amount: it makes stretches neither alike nor unlike.
//!
//! It is symmetric and 0 for equal stretches; like all warping distances it breaks the triangle
//! inequality.

use crate::assign::{Assignments, MOST_PLAYERS};
use crate::error::{Error, Result};
use crate::model::Stretch;
use crate::params::ValidParams;
use setdrift_court::AttackPoint;
use setdrift_warp::{CostRows, Dtw, Squared};

/// Frames of a stretch to one frame that is compared: 10 Hz becomes 5 Hz, which is fast enough for
/// people and a quarter of the work.
pub(crate) const STRIDE: usize = 2;

/// A player who does not move at all still counts as one who moves this far, metres.
const STANDING: f64 = 0.5;
/// Moving further than this makes no one count for more, metres.
const FULL: f64 = 4.0;

/// A stretch made ready for many comparisons.
#[derive(Debug, Clone)]
pub(crate) struct Form {
    frames: usize,
    /// `rows[player][frame]`, NaN where unknown.
    rows: Vec<Vec<[f64; 2]>>,
    /// Share of each player in the whole, summing to 1.
    weights: Vec<f64>,
    ball: Option<Vec<[f64; 2]>>,
    lanes: Vec<Lanes>,
    ball_lanes: Option<Lanes>,
}

/// How one stretch lies on another.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Match {
    /// Metres per player.
    pub distance_m: f64,
    /// Whether the second is mirrored.
    pub mirrored: bool,
    /// For each row of the first, the row of the second.
    pub rows: Vec<usize>,
    /// Matched frames of the two, at the pace of the stretches over [`STRIDE`]; ends that one of
    /// them lacks are left out.
    pub path: Vec<(usize, usize)>,
}

impl Form {
    /// Checks a stretch and makes it ready, with room for `players` rows.
    pub fn new(s: &Stretch, players: usize) -> Result<Self> {
        let uneven = |what, found, expected| Error::Uneven {
            session: s.id.session.clone(),
            possession: s.id.possession,
            from_s: s.from_s,
            what,
            found,
            expected,
        };
        let count = s.paths.len();
        if count == 0 || count > MOST_PLAYERS {
            return Err(Error::Players {
                session: s.id.session.clone(),
                possession: s.id.possession,
                from_s: s.from_s,
                players: count,
                limit: MOST_PLAYERS,
            });
        }
        if s.players.len() != count {
            return Err(uneven("the list of players", s.players.len(), count));
        }
        let len = s.paths[0].len();
        if len == 0 {
            return Err(uneven("a path", 0, 1));
        }
        if let Some(p) = s.paths.iter().find(|p| p.len() != len) {
            return Err(uneven("a path", p.len(), len));
        }
        if !s.ball.is_empty() && s.ball.len() != len {
            return Err(uneven("the ball's path", s.ball.len(), len));
        }
        let mut rows: Vec<_> = s.paths.iter().map(|p| thin(p)).collect();
        let frames = rows[0].len();
        // A missing player is one of whom nothing is known.
        rows.resize(players.max(count), vec![[f64::NAN; 2]; frames]);
        let raw: Vec<f64> = rows
            .iter()
            .map(|r| STANDING + extent(r).min(FULL))
            .collect();
        let sum: f64 = raw.iter().sum();
        let ball = Some(thin(&s.ball)).filter(|b| {
            let known = b.iter().filter(|p| !p[0].is_nan()).count();
            known * 2 > frames
        });
        Ok(Self {
            frames,
            lanes: rows.iter().map(|r| Lanes::new(r)).collect(),
            ball_lanes: ball.as_deref().map(Lanes::new),
            rows,
            weights: raw.iter().map(|w| w / sum).collect(),
            ball,
        })
    }
}

/// Means of [`STRIDE`] frames each; NaN where none is known.
fn thin(path: &[Option<AttackPoint>]) -> Vec<[f64; 2]> {
    path.chunks(STRIDE)
        .map(|c| {
            let known: Vec<_> = c
                .iter()
                .flatten()
                .filter(|p| p.x.is_finite() && p.y.is_finite())
                .collect();
            if known.is_empty() {
                return [f64::NAN; 2];
            }
            let n = known.len() as f64;
            [
                known.iter().map(|p| p.x).sum::<f64>() / n,
                known.iter().map(|p| p.y).sum::<f64>() / n,
            ]
        })
        .collect()
}

/// Diagonal of the box that holds a path, metres; 0 when nothing is known.
pub(crate) fn extent(path: &[[f64; 2]]) -> f64 {
    let mut low = [f64::INFINITY; 2];
    let mut high = [f64::NEG_INFINITY; 2];
    for p in path.iter().filter(|p| !p[0].is_nan()) {
        for k in 0..2 {
            low[k] = low[k].min(p[k]);
            high[k] = high[k].max(p[k]);
        }
    }
    if low[0] > high[0] {
        return 0.0;
    }
    (high[0] - low[0]).hypot(high[1] - low[1])
}

/// A distance with the side and assignment that give it, where anything matches.
type Found = (f64, Option<(bool, Vec<usize>)>);

/// Weighted costs of every frame of one path with every frame of another, and a lower bound on
/// what warping them by themselves would cost.
struct Grid {
    costs: Vec<f64>,
    bound: f64,
}

/// The least of a row, four at a time.
fn least(row: &[f64]) -> f64 {
    let (fours, rest) = row.as_chunks::<4>();
    let mut lanes = [f64::INFINITY; 4];
    for four in fours {
        for (lane, v) in lanes.iter_mut().zip(four) {
            *lane = if *v < *lane { *v } else { *lane };
        }
    }
    lanes
        .iter()
        .chain(rest)
        .copied()
        .fold(f64::INFINITY, f64::min)
}

/// A path with its coordinates apart, as the kernel reads them.
#[derive(Debug, Clone)]
struct Lanes {
    x: Vec<f64>,
    y: Vec<f64>,
}

impl Lanes {
    fn new(path: &[[f64; 2]]) -> Self {
        Self {
            x: path.iter().map(|p| p[0]).collect(),
            y: path.iter().map(|p| p[1]).collect(),
        }
    }
}

/// Compares forms of equal numbers of rows.
#[derive(Debug, Clone)]
pub(crate) struct Comparer {
    assignments: Assignments,
    players: usize,
    dtw: Dtw<Squared>,
    ceiling: f64,
    gap: f64,
    cap: f64,
    unknown: f64,
    ball: f64,
}

impl Comparer {
    pub fn new(players: usize, params: &ValidParams) -> setdrift_warp::Result<Self> {
        Ok(Self {
            assignments: Assignments::new(players),
            players,
            dtw: Dtw::squared().check()?,
            // With every frame of both a gap the mean square is twice that of a gap.
            ceiling: (params.ceiling() * params.ceiling()).min(2.0 * params.gap_m * params.gap_m),
            gap: params.gap_m * params.gap_m,
            cap: params.cap_m * params.cap_m,
            unknown: params.unknown_m * params.unknown_m,
            ball: params.ball_weight,
        })
    }

    /// The distance, metres per player, or the ceiling where it is more.
    pub fn distance(&self, a: &Form, b: &Form) -> setdrift_warp::Result<f64> {
        Ok(self.search(a, b)?.0)
    }

    /// The distance with the assignment, side and frames that give it.
    pub fn matched(&self, a: &Form, b: &Form) -> setdrift_warp::Result<Match> {
        let (distance_m, best) = self.search(a, b)?;
        let (mirrored, rows) = best.unwrap_or_else(|| (false, (0..self.players).collect()));
        let grids: Vec<Grid> = rows
            .iter()
            .enumerate()
            .map(|(i, &j)| self.player_grid(a, b, i, j, mirrored))
            .chain(self.ball_grid(a, b, mirrored))
            .collect();
        let parts: Vec<&Grid> = grids.iter().collect();
        let path = self
            .dtw
            .align_costs(&mut self.costs(a, b, &parts))?
            .path
            .into_iter()
            .filter(|&(i, j)| i > 0 && i <= a.frames && j > 0 && j <= b.frames)
            .map(|(i, j)| (i - 1, j - 1))
            .collect();
        Ok(Match {
            distance_m,
            mirrored,
            rows,
            path,
        })
    }

    /// Best first by lower bound; stops when no bound can beat the best found, so it is exact.
    fn search(&self, a: &Form, b: &Form) -> setdrift_warp::Result<Found> {
        let n = self.players;
        let half = (a.frames + b.frames) as f64 / 2.0;
        let mut best = self.ceiling * half;
        let mut found = None;
        let grids: Vec<Vec<Grid>> = [false, true]
            .into_iter()
            .map(|m| {
                (0..n * n)
                    .map(|k| self.player_grid(a, b, k / n, k % n, m))
                    .chain(self.ball_grid(a, b, m))
                    .collect()
            })
            .collect();
        let mut candidates = Vec::with_capacity(2 * self.assignments.len());
        for (side, grids) in grids.iter().enumerate() {
            let bounds: Vec<f64> = grids[..n * n].iter().map(|g| g.bound).collect();
            let ball = grids.get(n * n).map_or(0.0, |g| g.bound);
            candidates.extend(
                self.assignments
                    .ranked(&bounds)
                    .into_iter()
                    .map(|(bound, rows)| (bound + ball, side, rows))
                    .take_while(|c| c.0 < best),
            );
        }
        candidates.sort_by(|x, y| x.0.total_cmp(&y.0));
        for (bound, side, rows) in candidates {
            if bound >= best {
                break;
            }
            let parts: Vec<&Grid> = rows
                .iter()
                .enumerate()
                .map(|(i, &j)| &grids[side][i * n + usize::from(j)])
                .chain(grids[side].get(n * n))
                .collect();
            let cost = self
                .dtw
                .distance_costs_within(&mut self.costs(a, b, &parts), best)?;
            if let Some(cost) = cost.filter(|c| *c < best) {
                best = cost;
                found = Some((side == 1, rows.iter().map(|&j| usize::from(j)).collect()));
            }
        }
        Ok(((best / half).max(0.0).sqrt(), found))
    }

    fn player_grid(&self, a: &Form, b: &Form, i: usize, j: usize, mirrored: bool) -> Grid {
        let ball = if a.ball.is_some() && b.ball.is_some() {
            self.ball
        } else {
            0.0
        };
        let weight = f64::midpoint(a.weights[i], b.weights[j]) * (1.0 - ball);
        self.grid(&a.rows[i], &b.lanes[j], weight, mirrored)
    }

    fn ball_grid(&self, a: &Form, b: &Form, mirrored: bool) -> Option<Grid> {
        let (a, b) = (a.ball.as_ref()?, b.ball_lanes.as_ref()?);
        Some(self.grid(a, b, self.ball, mirrored))
    }

    fn grid(&self, a: &[[f64; 2]], b: &Lanes, weight: f64, mirrored: bool) -> Grid {
        let side = if mirrored { -1.0 } else { 1.0 };
        let m = b.x.len();
        let mut costs = vec![0.0; a.len() * m];
        let mut rows = [0.0; 2];
        let mut columns = vec![f64::INFINITY; m];
        for (p, row) in a.iter().zip(costs.chunks_exact_mut(m)) {
            let mine = (p[0], side * p[1]);
            for (((x, y), cost), column) in b.x.iter().zip(&b.y).zip(&mut *row).zip(&mut columns) {
                let (dx, dy) = (mine.0 - x, mine.1 - y);
                let square = dx * dx + dy * dy;
                let capped = if square > self.cap { self.cap } else { square };
                *cost = if square.is_nan() {
                    self.unknown
                } else {
                    capped
                };
                *column = if *cost < *column { *cost } else { *column };
            }
            let least = least(row);
            rows[0] += least.min(self.gap);
            rows[1] += (least / 2.0).min(self.gap);
            for cost in row {
                *cost *= weight;
            }
        }
        let columns = columns.iter().fold([0.0; 2], |s, least| {
            [
                s[0] + least.min(self.gap),
                s[1] + (least / 2.0).min(self.gap),
            ]
        });
        // A frame is a gap or in a matched pair, which costs at least its least cost. A pair may
        // serve a frame of each, so their bounds add up only by half.
        let bound = rows[0].max(columns[0]).max(rows[1] + columns[1]);
        Grid {
            costs,
            // A hair less, so that rounding cannot lift the bound above what it bounds.
            bound: bound * weight * (1.0 - 1e-12),
        }
    }

    fn costs<'a>(&self, a: &Form, b: &Form, parts: &'a [&'a Grid]) -> Open<'a> {
        Open {
            frames: [a.frames, b.frames],
            gap: self.gap,
            parts,
        }
    }
}

/// Frame costs with a frame added at either end of both stretches: whatever is matched to one of
/// those is a gap, so that a path from corner to corner may leave out ends at a price.
struct Open<'a> {
    frames: [usize; 2],
    gap: f64,
    parts: &'a [&'a Grid],
}

impl CostRows<f64> for Open<'_> {
    fn query_len(&self) -> usize {
        self.frames[0] + 2
    }

    fn reference_len(&self) -> usize {
        self.frames[1] + 2
    }

    fn fill(&mut self, query: usize, first: usize, costs: &mut [f64]) {
        let [n, m] = self.frames;
        let end = first + costs.len();
        if query == 0 || query == n + 1 {
            let (free, barred) = if query == 0 { (0, m + 1) } else { (m + 1, 0) };
            for (j, cost) in (first..).zip(costs) {
                *cost = if j == free {
                    0.0
                } else if j == barred {
                    f64::INFINITY
                } else {
                    self.gap
                };
            }
            return;
        }
        costs.fill(0.0);
        let (low, high) = (first.max(1), end.min(m + 1));
        if low < high {
            let inner = &mut costs[low - first..high - first];
            for part in self.parts {
                let row = &part.costs[(query - 1) * m + low - 1..(query - 1) * m + high - 1];
                for (cost, c) in inner.iter_mut().zip(row) {
                    *cost += c;
                }
            }
        }
        if first == 0 && end > 0 {
            costs[0] = self.gap;
        }
        if end == m + 2
            && let Some(last) = costs.last_mut()
        {
            *last = self.gap;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::StretchId;
    use crate::params::Params;
    use crate::rng::Rng;

    /// Players that wander, so that no assignment is plainly the best.
    fn wander(frames: usize, players: usize, rng: &mut Rng) -> Stretch {
        let mut unit = || rng.below(1_000_000) as f64 / 1e6;
        let mut path = || {
            let mut p = AttackPoint::new(2.0 + 3.0 * unit(), 3.0 * unit() - 1.5);
            (0..frames)
                .map(|_| {
                    p = AttackPoint::new(p.x + 0.6 * unit() - 0.25, p.y + 0.6 * unit() - 0.3);
                    (unit() > 0.05).then_some(p)
                })
                .collect()
        };
        let paths: Vec<Vec<_>> = (0..players).map(|_| path()).collect();
        Stretch {
            id: StretchId {
                session: "s".into(),
                possession: 1,
                segment: 0,
            },
            from_s: 0.0,
            to_s: frames as f64 / 10.0,
            players: vec![String::new(); players],
            ball: path(),
            paths,
            events: Vec::new(),
            moves: Vec::new(),
            points: None,
        }
    }

    /// The search by bounds finds what trying every assignment on both sides finds.
    #[test]
    fn bounds_lose_nothing() {
        let params = Params {
            radii_m: (0.1, 5.0),
            ..Params::default()
        };
        let c = Comparer::new(4, &params.check().unwrap()).unwrap();
        let mut rng = Rng::new(7);
        for k in 0..12 {
            let a = Form::new(&wander(40 + k, 4, &mut rng), 4).unwrap();
            let b = Form::new(&wander(52 - 2 * k, 3 + k % 2, &mut rng), 4).unwrap();
            let mut best = f64::INFINITY;
            let all = Assignments::new(4);
            for mirrored in [false, true] {
                for (_, rows) in all.ranked(&[0.0; 16]) {
                    let grids: Vec<Grid> = rows
                        .iter()
                        .enumerate()
                        .map(|(i, &j)| c.player_grid(&a, &b, i, usize::from(j), mirrored))
                        .chain(c.ball_grid(&a, &b, mirrored))
                        .collect();
                    let parts: Vec<&Grid> = grids.iter().collect();
                    let cost = c.dtw.distance_costs(&mut c.costs(&a, &b, &parts)).unwrap();
                    let bound: f64 = grids.iter().map(|g| g.bound).sum();
                    assert!(bound <= cost, "bound {bound} above cost {cost}");
                    best = best.min(cost);
                }
            }
            let half = (a.frames + b.frames) as f64 / 2.0;
            let found = c.matched(&a, &b).unwrap();
            assert!((found.distance_m - (best / half).sqrt()).abs() < 1e-9);
            assert!(found.path.is_sorted());
        }
    }

    /// Ends that one lacks: a stretch against itself with ten frames more at the end, which lie far
    /// away, costs ten gaps (five compared frames).
    #[test]
    fn a_tail_costs_its_gaps() {
        let params = Params::default().check().unwrap();
        let c = Comparer::new(1, &params).unwrap();
        let line = |n: usize| -> Vec<Option<AttackPoint>> {
            (0..n)
                .map(|k| {
                    Some(AttackPoint::new(
                        if k < 40 { 0.2 * k as f64 } else { 500.0 },
                        0.0,
                    ))
                })
                .collect()
        };
        let mut s = wander(1, 1, &mut Rng::new(1));
        s.ball = Vec::new();
        s.paths = vec![line(40)];
        let a = Form::new(&s, 1).unwrap();
        s.paths = vec![line(50)];
        let b = Form::new(&s, 1).unwrap();
        let expected = (5.0 * params.gap_m.powi(2) / 22.5).sqrt();
        let m = c.matched(&a, &b).unwrap();
        assert!((m.distance_m - expected).abs() < 1e-9);
        assert_eq!(m.path, (0..20).map(|k| (k, k)).collect::<Vec<_>>());
    }
}

//! From image to floor: a plane homography through landmarks.
//!
//! Normalised direct linear transform (Hartley and Zisserman, *Multiple View Geometry in Computer
//! Vision*, 2nd edition 2004, algorithm 4.2), solved by a one-sided Jacobi singular value
//! decomposition (Hestenes 1958); with more than four landmarks, refined to the least squares of
//! floor distances.

mod fit;
mod refine;

pub use fit::LandmarkFit;

use crate::error::Problem;

type Point = [f64; 2];
type Matrix = [[f64; 3]; 3];

/// A fitted map from image to floor, with how well the landmarks agree with it.
#[derive(Debug, Clone, PartialEq)]
pub struct Homography {
    matrix: Matrix,
    hull: Vec<Point>,
    /// Distance on the floor between each landmark and its image through the map, floor units.
    pub residuals: Vec<f64>,
    /// Which landmarks the fit used.
    pub used: Vec<bool>,
}

impl Homography {
    /// Fit to pairs of image and floor points.
    ///
    /// With `robust` and more than four pairs, pairs that contradict the rest are left out: of all
    /// choices of four (or of a fixed sample of them beyond twelve pairs), the one with the least
    /// median residual decides (Rousseeuw 1984), and a pair farther than 2.5 robust standard
    /// deviations is not used.
    ///
    /// # Errors
    /// [`Problem::Landmarks`] where the points do not fix a map.
    pub fn fit(pairs: &[(Point, Point)], robust: bool) -> Result<Self, Problem> {
        if pairs.len() < 4 {
            return Err(landmarks(format!("{} given, four needed", pairs.len())));
        }
        let mut used = vec![true; pairs.len()];
        if robust && pairs.len() > 4 {
            used = inliers(pairs)?;
        }
        let kept: Vec<_> = pairs
            .iter()
            .zip(&used)
            .filter(|(_, u)| **u)
            .map(|(p, _)| *p)
            .collect();
        let matrix = solve(&kept)?;
        let residuals = pairs.iter().map(|p| residual(&matrix, p)).collect();
        let hull = hull(kept.iter().map(|p| p.0).collect());
        Ok(Self {
            matrix,
            hull,
            residuals,
            used,
        })
    }

    /// The floor point of an image point; `None` on or beyond the image's horizon.
    #[must_use]
    pub fn apply(&self, p: Point) -> Option<Point> {
        apply(&self.matrix, p)
    }

    /// The 3 × 3 matrix, rows first, scaled so that its last entry is 1 where it is not 0.
    #[must_use]
    pub fn matrix(&self) -> Matrix {
        self.matrix
    }

    /// Root mean square of the used landmarks' residuals, floor units.
    #[must_use]
    pub fn error(&self) -> f64 {
        let squares = self.residuals.iter().zip(&self.used);
        let (sum, n) = squares.fold((0.0, 0.0), |(s, n), (r, used)| {
            if *used { (s + r * r, n + 1.0) } else { (s, n) }
        });
        (sum / f64::max(n, 1.0)).sqrt()
    }

    /// Whether an image point lies within the landmarks' convex hull: beyond it the map
    /// extrapolates, and its error is not known.
    #[must_use]
    pub fn inside(&self, p: Point) -> bool {
        let n = self.hull.len();
        (0..n).all(|i| cross(self.hull[i], self.hull[(i + 1) % n], p) >= -1e-9)
    }
}

fn landmarks(why: impl Into<String>) -> Problem {
    Problem::Landmarks { why: why.into() }
}

fn apply(h: &Matrix, p: Point) -> Option<Point> {
    let row = |r: &[f64; 3]| r[0] * p[0] + r[1] * p[1] + r[2];
    let w = row(&h[2]);
    let q = [row(&h[0]) / w, row(&h[1]) / w];
    (w > 0.0 && q[0].is_finite() && q[1].is_finite()).then_some(q)
}

fn residual(h: &Matrix, (image, floor): &(Point, Point)) -> f64 {
    apply(h, *image).map_or(f64::INFINITY, |q| (q[0] - floor[0]).hypot(q[1] - floor[1]))
}

/// A similarity that brings points to mean 0 and mean distance √2.
fn normalise(points: &[Point]) -> Option<(f64, Point)> {
    let n = points.len() as f64;
    let mean = points
        .iter()
        .fold([0.0, 0.0], |m, p| [m[0] + p[0] / n, m[1] + p[1] / n]);
    let spread: f64 = points
        .iter()
        .map(|p| (p[0] - mean[0]).hypot(p[1] - mean[1]) / n)
        .sum();
    (spread > 1e-12 * (1.0 + mean[0].abs() + mean[1].abs()))
        .then(|| (std::f64::consts::SQRT_2 / spread, mean))
}

fn solve(pairs: &[(Point, Point)]) -> Result<Matrix, Problem> {
    let image: Vec<Point> = pairs.iter().map(|p| p.0).collect();
    let floor: Vec<Point> = pairs.iter().map(|p| p.1).collect();
    let same = || landmarks("all landmarks are at one place");
    let (si, mi) = normalise(&image).ok_or_else(same)?;
    let (sf, mf) = normalise(&floor).ok_or_else(same)?;
    let mut rows: Vec<[f64; 9]> = Vec::with_capacity(pairs.len() * 2);
    for (p, q) in pairs {
        let (x, y) = (si * (p[0] - mi[0]), si * (p[1] - mi[1]));
        let (u, v) = (sf * (q[0] - mf[0]), sf * (q[1] - mf[1]));
        rows.push([-x, -y, -1.0, 0.0, 0.0, 0.0, u * x, u * y, u]);
        rows.push([0.0, 0.0, 0.0, -x, -y, -1.0, v * x, v * y, v]);
    }
    let (values, vectors) = singular(&rows);
    let mut order: Vec<usize> = (0..9).collect();
    order.sort_by(|a, b| values[*a].total_cmp(&values[*b]));
    // A second vanishing direction means that the points leave a freedom: three on a line.
    if values[order[1]] < 1e-9 * values[order[8]] {
        return Err(landmarks("three or more of them lie on one line"));
    }
    let h = vectors[order[0]];
    let mut h = [[h[0], h[1], h[2]], [h[3], h[4], h[5]], [h[6], h[7], h[8]]];
    if pairs.len() > 4 {
        let normal = |p: &Point, s: f64, m: Point| [s * (p[0] - m[0]), s * (p[1] - m[1])];
        let pairs: Vec<_> = pairs
            .iter()
            .map(|(p, q)| (normal(p, si, mi), normal(q, sf, mf)))
            .collect();
        face(&mut h, pairs.iter().map(|p| &p.0));
        refine::refine(&mut h, &pairs);
    }
    // Undo both normalisations: T_floor^-1 H T_image.
    let t = [
        [si, 0.0, -si * mi[0]],
        [0.0, si, -si * mi[1]],
        [0.0, 0.0, 1.0],
    ];
    let back = [
        [1.0 / sf, 0.0, mf[0]],
        [0.0, 1.0 / sf, mf[1]],
        [0.0, 0.0, 1.0],
    ];
    let mut m = product(&back, &product(&h, &t));
    let scale = if m[2][2].abs() > 1e-12 { m[2][2] } else { 1.0 };
    for v in m.iter_mut().flatten() {
        *v /= scale;
    }
    if face(&mut m, image.iter()) {
        Ok(m)
    } else {
        Err(landmarks(
            "their order on the floor is not their order in the image",
        ))
    }
}

/// All landmarks are in front of the camera, so the denominator has one sign for all of them: make
/// it positive. `false` where it has two.
fn face<'p>(m: &mut Matrix, image: impl Iterator<Item = &'p Point>) -> bool {
    let w = |p: &Point| m[2][0] * p[0] + m[2][1] * p[1] + m[2][2];
    let (front, behind) = image.fold(
        (0, 0),
        |(f, b), p| {
            if w(p) > 0.0 { (f + 1, b) } else { (f, b + 1) }
        },
    );
    if front == 0 {
        for v in m.iter_mut().flatten() {
            *v = -*v;
        }
    }
    front == 0 || behind == 0
}

fn product(a: &Matrix, b: &Matrix) -> Matrix {
    let mut m = [[0.0; 3]; 3];
    for (i, row) in m.iter_mut().enumerate() {
        for (j, v) in row.iter_mut().enumerate() {
            *v = (0..3).map(|k| a[i][k] * b[k][j]).sum();
        }
    }
    m
}

/// Singular values and right singular vectors of a matrix of nine columns, by plane rotations that
/// make its columns orthogonal.
fn singular(rows: &[[f64; 9]]) -> ([f64; 9], [[f64; 9]; 9]) {
    let mut columns: Vec<Vec<f64>> = (0..9)
        .map(|j| rows.iter().map(|r| r[j]).collect())
        .collect();
    let mut v = [[0.0; 9]; 9];
    for (i, row) in v.iter_mut().enumerate() {
        row[i] = 1.0;
    }
    let dot = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
    let total: f64 = columns.iter().map(|c| dot(c, c)).sum();
    for _sweep in 0..60 {
        let mut rotated = false;
        for p in 0..8 {
            for q in p + 1..9 {
                let (a, b, c) = (
                    dot(&columns[p], &columns[p]),
                    dot(&columns[q], &columns[q]),
                    dot(&columns[p], &columns[q]),
                );
                if c.abs() <= 1e-15 * (a * b).sqrt() || c.abs() <= 1e-32 * total {
                    continue;
                }
                rotated = true;
                let zeta = (b - a) / (2.0 * c);
                let t = zeta.signum() / (zeta.abs() + (1.0 + zeta * zeta).sqrt());
                let cos = 1.0 / (1.0 + t * t).sqrt();
                let sin = cos * t;
                let (left, right) = columns.split_at_mut(q);
                rotate(&mut left[p], &mut right[0], cos, sin);
                let (left, right) = v.split_at_mut(q);
                rotate(&mut left[p], &mut right[0], cos, sin);
            }
        }
        if !rotated {
            break;
        }
    }
    let mut values = [0.0; 9];
    for (value, column) in values.iter_mut().zip(&columns) {
        *value = dot(column, column).sqrt();
    }
    (values, v)
}

fn rotate(a: &mut [f64], b: &mut [f64], cos: f64, sin: f64) {
    for (a, b) in a.iter_mut().zip(b) {
        let old = *a;
        *a = cos * old - sin * *b;
        *b = sin * old + cos * *b;
    }
}

/// Landmarks that agree, by least median of squares over choices of four.
fn inliers(pairs: &[(Point, Point)]) -> Result<Vec<bool>, Problem> {
    let n = pairs.len();
    let mut best: Option<(f64, Vec<f64>)> = None;
    let mut consider = |four: [usize; 4]| {
        let chosen: Vec<_> = four.iter().map(|i| pairs[*i]).collect();
        let Ok(h) = solve(&chosen) else { return };
        let residuals: Vec<f64> = pairs.iter().map(|p| residual(&h, p)).collect();
        let mut sorted = residuals.clone();
        sorted.sort_by(f64::total_cmp);
        // The four chosen fit exactly, so the median of the others tells.
        let median = sorted[4 + (n - 4) / 2];
        if best.as_ref().is_none_or(|(m, _)| median < *m) {
            best = Some((median, residuals));
        }
    };
    if n <= 12 {
        for a in 0..n {
            for b in a + 1..n {
                for c in b + 1..n {
                    for d in c + 1..n {
                        consider([a, b, c, d]);
                    }
                }
            }
        }
    } else {
        // A fixed sequence (Knuth's MMIX constants) keeps the choice the same on every machine.
        let mut state: u64 = 1;
        let mut draw = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) as usize % n
        };
        for _ in 0..500 {
            let four = [draw(), draw(), draw(), draw()];
            let distinct = (0..4).all(|i| (0..i).all(|j| four[i] != four[j]));
            if distinct {
                consider(four);
            }
        }
    }
    let (median, residuals) =
        best.ok_or_else(|| landmarks("three or more of them lie on one line"))?;
    // Rousseeuw and Leroy 1987: 1.4826 makes a median a standard deviation; the factor in n
    // corrects small samples.
    let sigma = 1.4826 * (1.0 + 5.0 / (n - 4) as f64) * median;
    let reach = 2.5 * sigma.max(1e-9);
    let used: Vec<bool> = residuals.iter().map(|r| *r <= reach).collect();
    if used.iter().filter(|u| **u).count() < 4 {
        return Err(landmarks("fewer than four of them agree"));
    }
    Ok(used)
}

fn cross(a: Point, b: Point, p: Point) -> f64 {
    (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
}

/// Convex hull, counter-clockwise (Andrew's monotone chain, 1979).
fn hull(mut points: Vec<Point>) -> Vec<Point> {
    points.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    let half = |points: &mut dyn Iterator<Item = Point>| {
        let mut out: Vec<Point> = Vec::new();
        for p in points {
            while out.len() > 1 && cross(out[out.len() - 2], out[out.len() - 1], p) <= 0.0 {
                out.pop();
            }
            out.push(p);
        }
        out.pop();
        out
    };
    let mut lower = half(&mut points.iter().copied());
    lower.extend(half(&mut points.iter().rev().copied()));
    lower
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(h: &Matrix, points: &[Point]) -> Vec<(Point, Point)> {
        points.iter().map(|p| (*p, apply(h, *p).unwrap())).collect()
    }

    const H: Matrix = [
        [0.8, -0.3, 20.0],
        [0.1, 1.4, -35.0],
        [0.000_2, 0.001_1, 1.0],
    ];

    #[test]
    fn a_known_map_comes_back() {
        let points = [
            [0.0, 0.0],
            [1280.0, 10.0],
            [1200.0, 700.0],
            [50.0, 650.0],
            [640.0, 360.0],
        ];
        for n in [4, 5] {
            let fit = Homography::fit(&pairs(&H, &points[..n]), false).unwrap();
            assert!(fit.error() < 1e-9);
            for (row, expected) in fit.matrix().iter().zip(H) {
                for (a, b) in row.iter().zip(expected) {
                    assert!((a - b).abs() < 1e-9 * (1.0 + b.abs()), "{a} {b}");
                }
            }
        }
    }

    #[test]
    fn a_false_landmark_is_left_out() {
        let points = [
            [0.0, 0.0],
            [1280.0, 10.0],
            [1200.0, 700.0],
            [50.0, 650.0],
            [640.0, 360.0],
            [300.0, 200.0],
            [900.0, 500.0],
        ];
        let mut p = pairs(&H, &points);
        p[4].1[0] += 50.0;
        let fit = Homography::fit(&p, true).unwrap();
        assert_eq!(fit.used, [true, true, true, true, false, true, true]);
        assert!(fit.error() < 1e-9 && fit.residuals[4] > 40.0);
        assert!(Homography::fit(&p, false).unwrap().error() > 1.0);
    }

    #[test]
    fn points_on_a_line_fix_nothing() {
        let line = [[0.0, 0.0], [1.0, 1.0], [2.0, 2.0], [5.0, 0.0]];
        let p: Vec<_> = line.iter().map(|p| (*p, *p)).collect();
        assert!(matches!(
            Homography::fit(&p, false),
            Err(Problem::Landmarks { .. })
        ));
    }

    #[test]
    fn inside_the_hull() {
        let square = [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]];
        let p: Vec<_> = square.iter().map(|p| (*p, *p)).collect();
        let h = Homography::fit(&p, false).unwrap();
        assert!(h.inside([5.0, 5.0]) && h.inside([0.0, 0.0]) && !h.inside([10.1, 5.0]));
    }
}

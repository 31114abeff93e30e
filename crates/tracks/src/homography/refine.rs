//! The map with the least squares of distances on the floor.
//!
//! The linear transform makes an algebraic error least, which weighs landmarks by their distance
//! from the camera; from there a few Gauss–Newton steps make the floor distances least (Hartley and
//! Zisserman 2004, section 4.2.2, error in one image).

use super::{Matrix, Point};

/// Steps at most; five are usual.
const STEPS: usize = 30;

/// Refine a map in place; it never gets worse.
pub(super) fn refine(h: &mut Matrix, pairs: &[(Point, Point)]) {
    let mut cost = squares(h, pairs);
    for _ in 0..STEPS {
        let Some(step) = step(h, pairs) else { return };
        let mut scale = 1.0;
        let better = loop {
            let mut next = *h;
            for (v, d) in next.iter_mut().flatten().zip(step) {
                *v += scale * d;
            }
            let c = squares(&next, pairs);
            if c < cost {
                break Some((next, c));
            }
            scale /= 2.0;
            if scale < 1e-4 {
                break None;
            }
        };
        let Some((next, c)) = better else { return };
        let done = cost - c <= 1e-15 * cost;
        (*h, cost) = (next, c);
        if done {
            return;
        }
    }
}

fn squares(h: &Matrix, pairs: &[(Point, Point)]) -> f64 {
    let square = |p: &(Point, Point)| super::residual(h, p).powi(2);
    pairs.iter().map(square).sum()
}

/// The Gauss–Newton step. The map is free in scale, so a step along itself is ruled out.
fn step(h: &Matrix, pairs: &[(Point, Point)]) -> Option<[f64; 9]> {
    let flat: Vec<f64> = h.iter().flatten().copied().collect();
    let mut a = [[0.0; 10]; 9];
    let norm: f64 = flat.iter().map(|v| v * v).sum();
    for i in 0..9 {
        for j in 0..9 {
            a[i][j] = flat[i] * flat[j] / norm;
        }
    }
    for (p, q) in pairs {
        let row = |r: &[f64; 3]| r[0] * p[0] + r[1] * p[1] + r[2];
        let w = row(&h[2]);
        let at = [row(&h[0]) / w, row(&h[1]) / w];
        for axis in 0..2 {
            let mut d = [0.0; 9];
            for (k, c) in [p[0], p[1], 1.0].into_iter().enumerate() {
                d[3 * axis + k] = c / w;
                d[6 + k] = -at[axis] * c / w;
            }
            let r = at[axis] - q[axis];
            for i in 0..9 {
                for j in 0..9 {
                    a[i][j] += d[i] * d[j];
                }
                a[i][9] -= d[i] * r;
            }
        }
    }
    eliminate(a)
}

/// Gaussian elimination with partial pivoting; `None` where the system is singular.
fn eliminate(mut a: [[f64; 10]; 9]) -> Option<[f64; 9]> {
    for c in 0..9 {
        let pivot = (c..9).max_by(|i, j| a[*i][c].abs().total_cmp(&a[*j][c].abs()))?;
        a.swap(c, pivot);
        let top = a[c];
        if top[c].abs() < 1e-14 {
            return None;
        }
        for row in &mut a[c + 1..] {
            let f = row[c] / top[c];
            for (v, t) in row.iter_mut().zip(top).skip(c) {
                *v -= f * t;
            }
        }
    }
    let mut x = [0.0; 9];
    for i in (0..9).rev() {
        let known: f64 = (i + 1..9).map(|j| a[i][j] * x[j]).sum();
        x[i] = (a[i][9] - known) / a[i][i];
    }
    x.iter().all(|v| v.is_finite()).then_some(x)
}

//! Area that five players span.

/// Area of the convex hull of points, square of their unit; 0 for fewer than three points or
/// points on a line. Andrew's monotone chain (1979), then the shoelace formula.
#[must_use]
pub fn hull_area(points: &[(f64, f64)]) -> f64 {
    let mut p: Vec<(f64, f64)> = points
        .iter()
        .filter(|p| p.0.is_finite() && p.1.is_finite())
        .copied()
        .collect();
    p.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    p.dedup();
    if p.len() < 3 {
        return 0.0;
    }
    let turn = |o: (f64, f64), a: (f64, f64), b: (f64, f64)| {
        (a.0 - o.0) * (b.1 - o.1) - (a.1 - o.1) * (b.0 - o.0)
    };
    let chain = |it: &mut dyn Iterator<Item = (f64, f64)>| {
        let mut c: Vec<(f64, f64)> = Vec::new();
        for q in it {
            while c.len() >= 2 && turn(c[c.len() - 2], c[c.len() - 1], q) <= 0.0 {
                c.pop();
            }
            c.push(q);
        }
        c.pop();
        c
    };
    let mut hull = chain(&mut p.iter().copied());
    hull.extend(chain(&mut p.iter().rev().copied()));
    let n = hull.len();
    let twice: f64 = (0..n)
        .map(|i| {
            let (a, b) = (hull[i], hull[(i + 1) % n]);
            a.0 * b.1 - b.0 * a.1
        })
        .sum();
    0.5 * twice.abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_square_with_a_point_inside() {
        let p = [(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0), (1.0, 1.2)];
        assert!((hull_area(&p) - 4.0).abs() < 1e-12);
        assert_eq!(hull_area(&p[..2]), 0.0);
        assert_eq!(hull_area(&[(0.0, 0.0), (1.0, 1.0), (2.0, 2.0)]), 0.0);
    }
}

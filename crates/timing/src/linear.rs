//! The linear part of an onset fit: offset, drift and ways, integrated out in closed form.

use crate::onset::Prior;
use crate::trace::Sample;

/// One course over the samples with its inner products.
pub struct Course {
    values: Vec<f64>,
    one: f64,
    time: f64,
    own: f64,
    x: f64,
    y: f64,
}

impl Course {
    fn of(values: Vec<f64>, d: &Centred) -> Self {
        let mut c = Self {
            one: 0.0,
            time: 0.0,
            own: 0.0,
            x: 0.0,
            y: 0.0,
            values: Vec::new(),
        };
        for (i, v) in values.iter().enumerate() {
            c.one += v;
            c.time += v * d.t[i];
            c.own += v * v;
            c.x += v * d.x[i];
            c.y += v * d.y[i];
        }
        c.values = values;
        c
    }

    fn dot(&self, other: &Self) -> f64 {
        self.values
            .iter()
            .zip(&other.values)
            .map(|(a, b)| a * b)
            .sum()
    }
}

/// The samples about their mean.
pub struct Centred {
    pub t: Vec<f64>,
    x: Vec<f64>,
    y: Vec<f64>,
    t0: f64,
    tt: f64,
    tx: f64,
    ty: f64,
    xx: f64,
    yy: f64,
}

impl Centred {
    pub fn new(s: &[Sample]) -> Self {
        let n = s.len() as f64;
        let mean = |f: fn(&Sample) -> f64| s.iter().map(f).sum::<f64>() / n;
        let (tm, xm, ym) = (mean(|s| s.t), mean(|s| s.x), mean(|s| s.y));
        let t: Vec<f64> = s.iter().map(|s| s.t - tm).collect();
        let x: Vec<f64> = s.iter().map(|s| s.x - xm).collect();
        let y: Vec<f64> = s.iter().map(|s| s.y - ym).collect();
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        Self {
            tt: dot(&t, &t),
            tx: dot(&t, &x),
            ty: dot(&t, &y),
            xx: dot(&x, &x),
            yy: dot(&y, &y),
            t0: tm,
            t,
            x,
            y,
        }
    }

    pub fn course(&self, f: impl Fn(f64) -> f64) -> Course {
        Course::of(self.t.iter().map(|t| f(t + self.t0)).collect(), self)
    }
}

/// One point of the grid after the linear part is integrated out.
pub struct Fitted {
    /// Log marginal likelihood up to a constant common to the grid.
    pub log_likelihood: f64,
    /// Way of the movement, metres.
    pub way: (f64, f64),
    /// Way of the earlier movement, metres.
    pub earlier: (f64, f64),
    /// Residual sum of squares over both axes.
    pub residual: f64,
    x: [f64; 4],
    y: [f64; 4],
}

/// Integrates the linear part out for one choice of courses. `prior_*` are precisions (1/m²).
pub fn fit_linear(
    d: &Centred,
    earlier: Option<&Course>,
    main: &Course,
    noise: f64,
    prior: &Prior,
) -> Fitted {
    let w = 1.0 / (noise * noise);
    let n = d.t.len() as f64;
    // Order: offset, drift, way, earlier. The samples are centred, so a wide prior on the offset
    // changes nothing but keeps the matrix definite.
    let precision = [
        1e-4,
        1.0 / (prior.drift * prior.drift),
        1.0 / (prior.way * prior.way),
        1.0 / (prior.earlier * prior.earlier),
    ];
    let k = if earlier.is_some() { 4 } else { 3 };
    let mut g = [[0.0; 4]; 4];
    let mut bx = [0.0; 4];
    let mut by = [0.0; 4];
    g[0][0] = n;
    g[1][1] = d.tt;
    g[2][0] = main.one;
    g[2][1] = main.time;
    g[2][2] = main.own;
    bx[1] = d.tx;
    by[1] = d.ty;
    bx[2] = main.x;
    by[2] = main.y;
    if let Some(e) = earlier {
        g[3][0] = e.one;
        g[3][1] = e.time;
        g[3][2] = e.dot(main);
        g[3][3] = e.own;
        bx[3] = e.x;
        by[3] = e.y;
    }
    // Lower Cholesky factor of (G / noise² + precision).
    let mut l = [[0.0_f64; 4]; 4];
    let mut log_det = 0.0;
    let mut log_prior = 0.0;
    for i in 0..k {
        for j in 0..=i {
            let mut v = g[i][j] * w + if i == j { precision[i] } else { 0.0 };
            v -= (0..j).map(|m| l[i][m] * l[j][m]).sum::<f64>();
            l[i][j] = if i == j {
                v.max(1e-300).sqrt()
            } else {
                v / l[j][j]
            };
        }
        log_det += 2.0 * l[i][i].ln();
        log_prior += precision[i].ln();
    }
    let solve = |b: &[f64; 4]| {
        let mut z = [0.0; 4];
        let mut quad = 0.0;
        for i in 0..k {
            let mut v = b[i] * w;
            for m in 0..i {
                v -= l[i][m] * z[m];
            }
            z[i] = v / l[i][i];
            quad += z[i] * z[i];
        }
        let mut c = [0.0; 4];
        for i in (0..k).rev() {
            let mut v = z[i];
            for m in i + 1..k {
                v -= l[m][i] * c[m];
            }
            c[i] = v / l[i][i];
        }
        (c, quad)
    };
    let (cx, qx) = solve(&bx);
    let (cy, qy) = solve(&by);
    let squares = |c: &[f64; 4], b: &[f64; 4], yy: f64| {
        let mut v = yy;
        for i in 0..k {
            v -= 2.0 * c[i] * b[i];
            for j in 0..k {
                v += c[i] * c[j] * if j <= i { g[i][j] } else { g[j][i] };
            }
        }
        v.max(0.0)
    };
    Fitted {
        // Two axes share the matrix, so each determinant counts twice a half.
        log_likelihood: 0.5 * (qx + qy) + log_prior - log_det,
        way: (cx[2], cy[2]),
        earlier: (cx[3], cy[3]),
        residual: squares(&cx, &bx, d.xx) + squares(&cy, &by, d.yy),
        x: cx,
        y: cy,
    }
}

impl Fitted {
    /// Residuals along each axis, metres, in the order of the samples.
    pub fn residuals(&self, d: &Centred, earlier: Option<&Course>, main: &Course) -> [Vec<f64>; 2] {
        let row = |c: &[f64; 4], seen: &[f64]| {
            (0..seen.len())
                .map(|i| {
                    let e = earlier.map_or(0.0, |e| e.values[i]);
                    seen[i] - c[0] - c[1] * d.t[i] - c[2] * main.values[i] - c[3] * e
                })
                .collect()
        };
        [row(&self.x, &d.x), row(&self.y, &d.y)]
    }
}

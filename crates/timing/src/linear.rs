//! The linear part of an onset fit: offset, drift, way and bow, integrated out in closed form.

use crate::trace::Sample;

/// Turns noise into independent numbers of variance 1: white noise of the sensor, and a body's
/// sway as an Ornstein–Uhlenbeck process, by the innovations of its Kalman filter.
struct Whitener {
    gain: Vec<f64>,
    fade: Vec<f64>,
    scale: Vec<f64>,
}

impl Whitener {
    fn new(t: &[f64], noise: &Noise) -> Self {
        let own = noise.sway * noise.sway;
        let mut p = own;
        let (mut gain, mut fade, mut scale) = (vec![], vec![], vec![]);
        for i in 0..t.len() {
            let s = p + noise.white * noise.white;
            let k = p / s;
            let a = t
                .get(i + 1)
                .map_or(0.0, |next| (-(next - t[i]) / noise.sway_s).exp());
            gain.push(k);
            fade.push(a);
            scale.push(1.0 / s.sqrt());
            p = a * a * p * (1.0 - k) + own * (1.0 - a * a);
        }
        Self { gain, fade, scale }
    }

    fn apply(&self, values: &mut [f64]) {
        let mut m = 0.0;
        for (i, v) in values.iter_mut().enumerate() {
            let e = *v - m;
            *v = e * self.scale[i];
            m = self.fade[i] * (m + self.gain[i] * e);
        }
    }
}

/// What disturbs the samples, per axis.
#[derive(Debug, Clone, Copy)]
pub struct Noise {
    /// White noise of the sensor, metres.
    pub white: f64,
    /// Sway of the body, metres.
    pub sway: f64,
    /// Its time constant, seconds.
    pub sway_s: f64,
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// One course over the whitened samples with its inner products.
pub struct Course {
    values: Vec<f64>,
    one: f64,
    time: f64,
    own: f64,
    x: f64,
    y: f64,
}

impl Course {
    fn of(mut values: Vec<f64>, d: &Data) -> Self {
        d.whitener.apply(&mut values);
        Self {
            one: dot(&values, &d.one),
            time: dot(&values, &d.time),
            own: dot(&values, &values),
            x: dot(&values, &d.x),
            y: dot(&values, &d.y),
            values,
        }
    }
}

/// The course of the movement itself, and that of its bow to one side: the square of the first,
/// so that a path may turn from its first heading to another on the way.
pub struct Main {
    way: Course,
    bow: Course,
    cross: f64,
}

/// The samples about their mean, whitened.
pub struct Data {
    /// Times as given, seconds.
    t: Vec<f64>,
    whitener: Whitener,
    one: Vec<f64>,
    time: Vec<f64>,
    x: Vec<f64>,
    y: Vec<f64>,
}

impl Data {
    pub fn new(s: &[Sample], noise: &Noise) -> Self {
        let n = s.len() as f64;
        let mean = |f: fn(&Sample) -> f64| s.iter().map(f).sum::<f64>() / n;
        let (tm, xm, ym) = (mean(|s| s.t), mean(|s| s.x), mean(|s| s.y));
        let t: Vec<f64> = s.iter().map(|s| s.t).collect();
        let whitener = Whitener::new(&t, noise);
        let column = |f: &dyn Fn(&Sample) -> f64| {
            let mut v: Vec<f64> = s.iter().map(f).collect();
            whitener.apply(&mut v);
            v
        };
        Self {
            one: column(&|_| 1.0),
            time: column(&|s| s.t - tm),
            x: column(&|s| s.x - xm),
            y: column(&|s| s.y - ym),
            t,
            whitener,
        }
    }

    /// Number of samples.
    pub fn len(&self) -> usize {
        self.t.len()
    }

    pub fn main(&self, progress: impl Fn(f64) -> f64) -> Main {
        let raw: Vec<f64> = self.t.iter().map(|t| progress(*t)).collect();
        let bow = Course::of(raw.iter().map(|v| v * v).collect(), self);
        let way = Course::of(raw, self);
        Main {
            cross: dot(&way.values, &bow.values),
            way,
            bow,
        }
    }

    pub fn course(&self, f: impl Fn(f64) -> f64) -> Course {
        Course::of(self.t.iter().map(|t| f(*t)).collect(), self)
    }
}

/// Standard deviations believed beforehand, per axis.
#[derive(Debug, Clone, Copy)]
pub struct Sizes {
    /// Drift, m/s.
    pub drift: f64,
    /// Way, metres.
    pub way: f64,
    /// Bow, metres.
    pub bow: f64,
    /// Way of an earlier movement, metres.
    pub earlier: f64,
}

/// One point of the grid after the linear part is integrated out.
pub struct Fitted {
    /// Log marginal likelihood up to a constant common to the grid.
    pub log_likelihood: f64,
    /// From the start to the end of the movement, metres.
    pub way: (f64, f64),
    /// Way of the earlier movement, metres.
    pub earlier: (f64, f64),
    /// Sum of squares of the whitened residuals over both axes.
    pub residual: f64,
    x: [f64; N],
    y: [f64; N],
}

/// Offset, drift, way, bow, earlier movement.
const N: usize = 5;

/// Integrates the linear part out for one choice of courses.
pub fn fit_linear(d: &Data, earlier: Option<&Course>, main: &Main, sizes: &Sizes) -> Fitted {
    let inverse = |sd: f64| 1.0 / (sd * sd);
    // The samples are about their mean, so a wide prior on the offset changes nothing but keeps
    // the matrix definite.
    let precision = [
        1e-4,
        inverse(sizes.drift),
        inverse(sizes.way),
        inverse(sizes.bow),
        inverse(sizes.earlier),
    ];
    let k = if earlier.is_some() { N } else { N - 1 };
    let (a, b) = (&main.way, &main.bow);
    let mut g = [
        [dot(&d.one, &d.one), 0.0, 0.0, 0.0, 0.0],
        [dot(&d.one, &d.time), dot(&d.time, &d.time), 0.0, 0.0, 0.0],
        [a.one, a.time, a.own, 0.0, 0.0],
        [b.one, b.time, main.cross, b.own, 0.0],
        [0.0; N],
    ];
    let mut bx = [dot(&d.one, &d.x), dot(&d.time, &d.x), a.x, b.x, 0.0];
    let mut by = [dot(&d.one, &d.y), dot(&d.time, &d.y), a.y, b.y, 0.0];
    if let Some(e) = earlier {
        g[4] = [
            e.one,
            e.time,
            dot(&e.values, &a.values),
            dot(&e.values, &b.values),
            e.own,
        ];
        bx[4] = e.x;
        by[4] = e.y;
    }
    let (l, log_det) = cholesky(&g, &precision, k);
    let log_prior: f64 = precision[..k].iter().map(|p| p.ln()).sum();
    let (cx, qx) = solve(&l, &bx, k);
    let (cy, qy) = solve(&l, &by, k);
    Fitted {
        // Two axes share the matrix, so each determinant counts twice a half.
        log_likelihood: 0.5 * (qx + qy) + log_prior - log_det,
        way: (cx[2] + cx[3], cy[2] + cy[3]),
        earlier: (cx[4], cy[4]),
        residual: squares(&g, &cx, &bx, dot(&d.x, &d.x)) + squares(&g, &cy, &by, dot(&d.y, &d.y)),
        x: cx,
        y: cy,
    }
}

type Matrix = [[f64; N]; N];

/// Lower Cholesky factor of `g + precision` over the first `k` rows, and the log determinant.
fn cholesky(g: &Matrix, precision: &[f64; N], k: usize) -> (Matrix, f64) {
    let mut l = [[0.0_f64; N]; N];
    let mut log_det = 0.0;
    for i in 0..k {
        for j in 0..=i {
            let mut v = g[i][j] + if i == j { precision[i] } else { 0.0 };
            v -= (0..j).map(|m| l[i][m] * l[j][m]).sum::<f64>();
            l[i][j] = if i == j {
                v.max(1e-300).sqrt()
            } else {
                v / l[j][j]
            };
        }
        log_det += 2.0 * l[i][i].ln();
    }
    (l, log_det)
}

/// Solves for the mean of the coefficients; with it the quadratic form of the likelihood.
fn solve(l: &Matrix, b: &[f64; N], k: usize) -> ([f64; N], f64) {
    let mut z = [0.0; N];
    let mut quad = 0.0;
    for i in 0..k {
        let mut v = b[i];
        for m in 0..i {
            v -= l[i][m] * z[m];
        }
        z[i] = v / l[i][i];
        quad += z[i] * z[i];
    }
    let mut c = [0.0; N];
    for i in (0..k).rev() {
        let mut v = z[i];
        for m in i + 1..k {
            v -= l[m][i] * c[m];
        }
        c[i] = v / l[i][i];
    }
    (c, quad)
}

/// Residual sum of squares of coefficients `c` along one axis.
fn squares(g: &Matrix, c: &[f64; N], b: &[f64; N], yy: f64) -> f64 {
    let mut v = yy;
    for i in 0..N {
        v -= 2.0 * c[i] * b[i];
        for j in 0..N {
            v += c[i] * c[j] * if j <= i { g[i][j] } else { g[j][i] };
        }
    }
    v.max(0.0)
}

impl Fitted {
    /// Whitened residuals along each axis, in the order of the samples.
    pub fn residuals(&self, d: &Data, earlier: Option<&Course>, main: &Main) -> [Vec<f64>; 2] {
        let row = |c: &[f64; N], seen: &[f64]| {
            (0..seen.len())
                .map(|i| {
                    let e = earlier.map_or(0.0, |e| e.values[i]);
                    seen[i]
                        - c[0] * d.one[i]
                        - c[1] * d.time[i]
                        - c[2] * main.way.values[i]
                        - c[3] * main.bow.values[i]
                        - c[4] * e
                })
                .collect()
        };
        [row(&self.x, &d.x), row(&self.y, &d.y)]
    }
}

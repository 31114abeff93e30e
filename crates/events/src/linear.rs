//! The linear part of an onset fit: place, speed beforehand and efforts, integrated out in closed
//! form under noise that wanders.

/// What disturbs the samples, per axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noise {
    /// White noise of the sensor, metres.
    pub white: f64,
    /// What of the sensor's noise wanders, and the sway of a body over its feet: an
    /// Ornstein–Uhlenbeck process of this standard deviation, metres.
    pub colour: f64,
    /// Its time constant, seconds.
    pub colour_s: f64,
    /// Restlessness of a body: an acceleration that is an Ornstein–Uhlenbeck process of this
    /// standard deviation, m/s², before and after `since`.
    pub restless: (f64, f64),
    /// When the one gives way to the other, in the samples' time.
    pub since: f64,
}

/// Time constant of restless acceleration, and that with which its speed dies away, seconds.
const RESTLESS_S: f64 = 0.25;
const CALMS_S: f64 = 0.5;
/// Longest stride of the integration of restlessness, seconds.
const STRIDE: f64 = 0.025;

/// Turns noise into independent numbers of variance 1, by the innovations of its Kalman filter.
struct Whitener {
    steps: Vec<Step>,
    /// Sum of the logarithms of the scales.
    log_scale: f64,
}

struct Step {
    gain: [f64; 4],
    scale: f64,
    next: Propagation,
}

/// From one sample to the next: wander, way, speed, acceleration.
#[derive(Clone, Copy, PartialEq)]
struct Propagation {
    wander: f64,
    /// Of way, speed and acceleration.
    motion: [[f64; 3]; 3],
}

impl Propagation {
    fn over(dt: f64, colour_s: f64) -> Self {
        let n = (dt / STRIDE).ceil().max(1.0);
        let h = dt / n;
        let one = stride(h);
        let mut motion = one;
        for _ in 1..n as usize {
            motion = times(&one, &motion);
        }
        Self {
            wander: (-dt / colour_s).exp(),
            motion,
        }
    }
}

type Motion = [[f64; 3]; 3];

fn stride(h: f64) -> Motion {
    let (v, a) = ((-h / CALMS_S).exp(), (-h / RESTLESS_S).exp());
    [[1.0, h, 0.5 * h * h], [0.0, v, h], [0.0, 0.0, a]]
}

fn times(a: &Motion, b: &Motion) -> Motion {
    let mut out = [[0.0; 3]; 3];
    for r in 0..3 {
        for c in 0..3 {
            out[r][c] = a[r][0] * b[0][c] + a[r][1] * b[1][c] + a[r][2] * b[2][c];
        }
    }
    out
}

/// `f p fᵀ`.
fn carry(f: &Motion, p: &Motion) -> Motion {
    let g = times(f, p);
    let mut out = [[0.0; 3]; 3];
    for r in 0..3 {
        for c in 0..3 {
            out[r][c] = g[r][0] * f[c][0] + g[r][1] * f[c][1] + g[r][2] * f[c][2];
        }
    }
    out
}

impl Whitener {
    fn new(t: &[f64], n: &Noise) -> Self {
        let cc = n.colour * n.colour;
        let (before, after) = (n.restless.0.powi(2), n.restless.1.powi(2));
        // Wander apart from motion; covariances between the two arise from the samples alone.
        let mut w = cc;
        let mut cross = [0.0; 3];
        let speed = before * CALMS_S * CALMS_S * RESTLESS_S / (CALMS_S + RESTLESS_S);
        let both = before * CALMS_S * RESTLESS_S / (CALMS_S + RESTLESS_S);
        let mut m: Motion = [[0.0; 3], [0.0, speed, both], [0.0, both, before]];
        let mut steps = Vec::with_capacity(t.len());
        let mut log_scale = 0.0;
        let mut last: Option<(f64, Propagation)> = None;
        for i in 0..t.len() {
            let s = w + 2.0 * cross[0] + m[0][0] + n.white * n.white;
            let row = [
                w + cross[0],
                cross[0] + m[0][0],
                cross[1] + m[0][1],
                cross[2] + m[0][2],
            ];
            let gain = row.map(|r| r / s);
            w -= gain[0] * row[0];
            for r in 0..3 {
                cross[r] -= gain[0] * row[r + 1];
                for c in 0..3 {
                    m[r][c] -= gain[r + 1] * row[c + 1];
                }
            }
            let dt = t.get(i + 1).map_or(0.0, |next| next - t[i]);
            let next = match last {
                Some((d, p)) if (d - dt).abs() < 1e-9 => p,
                _ => Propagation::over(dt, n.colour_s),
            };
            last = Some((dt, next));
            w = next.wander * next.wander * w + cc * (1.0 - next.wander * next.wander);
            cross = std::array::from_fn(|r| {
                let f = &next.motion[r];
                next.wander * (f[0] * cross[0] + f[1] * cross[1] + f[2] * cross[2])
            });
            let k = (dt / STRIDE).ceil().max(1.0);
            let h = dt / k;
            let one = stride(h);
            let fresh = 1.0 - one[2][2] * one[2][2];
            for j in 0..k as usize {
                m = carry(&one, &m);
                // Half a stride's share where the change falls into the stride.
                let late = ((t[i] + (j as f64 + 1.0) * h - n.since) / h.max(1e-9)).clamp(0.0, 1.0);
                m[2][2] += fresh * (before + late * (after - before));
            }
            let scale = 1.0 / s.sqrt();
            log_scale += scale.ln();
            steps.push(Step { gain, scale, next });
        }
        Self { steps, log_scale }
    }

    fn apply(&self, values: &mut [f64]) {
        let mut w = 0.0;
        let mut m = [0.0; 3];
        for (value, s) in values.iter_mut().zip(&self.steps) {
            let e = *value - w - m[0];
            *value = e * s.scale;
            w = s.next.wander * (w + s.gain[0] * e);
            for (m, g) in m.iter_mut().zip(&s.gain[1..]) {
                *m += g * e;
            }
            let f = &s.next.motion;
            m = [
                f[0][0] * m[0] + f[0][1] * m[1] + f[0][2] * m[2],
                f[1][1] * m[1] + f[1][2] * m[2],
                f[2][2] * m[2],
            ];
        }
    }
}

/// Inner product.
pub fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// The samples about their mean along and across the declared direction, whitened.
pub struct Data {
    /// Times as given, seconds.
    t: Vec<f64>,
    whitener: Whitener,
    /// Places along and across.
    y: [Vec<f64>; 2],
    /// Their inner products with themselves.
    yy: [f64; 2],
    one: Vec<f64>,
    one_own: f64,
    one_y: [f64; 2],
}

/// One course over the whitened samples with its inner products.
pub struct Course {
    values: Vec<f64>,
    one: f64,
    own: f64,
    y: [f64; 2],
}

impl Course {
    /// Inner product with another course.
    pub fn with(&self, other: &Self) -> f64 {
        dot(&self.values, &other.values)
    }
}

impl Data {
    /// Of samples in time order, times in seconds and places in metres, and a unit vector.
    pub fn new(
        samples: impl Iterator<Item = (f64, [f64; 2])>,
        toward: (f64, f64),
        noise: &Noise,
    ) -> Self {
        let (t, places): (Vec<f64>, Vec<[f64; 2]>) = samples.unzip();
        let whitener = Whitener::new(&t, noise);
        let axis = |ux: f64, uy: f64| {
            let mut v: Vec<f64> = places.iter().map(|p| p[0] * ux + p[1] * uy).collect();
            let mean = v.iter().sum::<f64>() / v.len() as f64;
            v.iter_mut().for_each(|v| *v -= mean);
            whitener.apply(&mut v);
            v
        };
        let y = [axis(toward.0, toward.1), axis(-toward.1, toward.0)];
        let mut one = vec![1.0; t.len()];
        whitener.apply(&mut one);
        Self {
            yy: [dot(&y[0], &y[0]), dot(&y[1], &y[1])],
            one_own: dot(&one, &one),
            one_y: [dot(&one, &y[0]), dot(&one, &y[1])],
            y,
            one,
            t,
            whitener,
        }
    }

    /// A course given at every time.
    pub fn course(&self, f: impl Fn(f64) -> f64) -> Course {
        let mut values: Vec<f64> = self.t.iter().map(|t| f(*t)).collect();
        self.whitener.apply(&mut values);
        Course {
            one: dot(&values, &self.one),
            own: dot(&values, &values),
            y: [dot(&values, &self.y[0]), dot(&values, &self.y[1])],
            values,
        }
    }
}

/// What is believed of a coefficient beforehand: its mean along, and its standard deviation along
/// and across.
#[derive(Debug, Clone, Copy)]
pub struct Belief {
    /// Mean along the declared direction; across it is 0.
    pub mean: f64,
    /// Standard deviation along.
    pub along: f64,
    /// Standard deviation across.
    pub across: f64,
}

impl Belief {
    /// Of a coefficient that may go any way.
    pub fn about_zero(sd: f64) -> Self {
        Self {
            mean: 0.0,
            along: sd,
            across: sd,
        }
    }
}

/// One course of a hypothesis.
#[derive(Clone, Copy)]
pub struct Term<'a> {
    /// The course.
    pub course: &'a Course,
    /// What is believed of it.
    pub belief: Belief,
    /// Its inner products with the terms before it, in their order.
    pub cross: [f64; MOST],
}

/// Terms beside the place.
pub const MOST: usize = 4;
const N: usize = MOST + 1;
type Matrix = [[f64; N]; N];

/// A hypothesis with its linear part integrated out.
#[derive(Debug, Clone, Copy)]
pub struct Fitted {
    /// Logarithm of the probability of the samples, up to a constant common to all hypotheses.
    pub log_evidence: f64,
    /// Coefficients of the terms, along and across.
    pub of: [(f64, f64); MOST],
}

/// Integrates place and coefficients out.
pub fn fit_linear(d: &Data, terms: &[Term<'_>]) -> Fitted {
    let k = terms.len().min(MOST) + 1;
    let mut g: Matrix = [[0.0; N]; N];
    let mut b = [[0.0; N]; 2];
    let mut mean = [0.0; N];
    g[0][0] = d.one_own;
    b[0][0] = d.one_y[0];
    b[1][0] = d.one_y[1];
    // The samples are about their mean, so a wide belief about the place changes nothing but
    // keeps the matrix definite.
    let mut precision = [[1e-4; N]; 2];
    for (i, t) in terms.iter().take(MOST).enumerate() {
        let r = i + 1;
        g[r][0] = t.course.one;
        for (j, c) in t.cross.iter().take(i).enumerate() {
            g[r][j + 1] = *c;
        }
        g[r][r] = t.course.own;
        b[0][r] = t.course.y[0];
        b[1][r] = t.course.y[1];
        mean[r] = t.belief.mean;
        precision[0][r] = 1.0 / (t.belief.along * t.belief.along);
        precision[1][r] = 1.0 / (t.belief.across * t.belief.across);
    }
    let mut log_evidence = 2.0 * d.whitener.log_scale;
    let mut yy = d.yy;
    // About the believed mean.
    for r in 1..k {
        if mean[r] == 0.0 {
            continue;
        }
        yy[0] -= 2.0 * mean[r] * b[0][r];
    }
    let plain = b[0];
    for r in 0..k {
        for c in 0..k {
            let v = if c <= r { g[r][c] } else { g[c][r] };
            yy[0] += mean[r] * mean[c] * v;
            b[0][r] = if c == 0 { plain[r] } else { b[0][r] } - v * mean[c];
        }
    }
    let mut of = [(0.0, 0.0); MOST];
    for axis in 0..2 {
        let (l, log_det) = cholesky(&g, &precision[axis], k);
        let (c, quad) = solve(&l, &b[axis], k);
        let prior: f64 = precision[axis][..k].iter().map(|p| p.ln()).sum();
        log_evidence += 0.5 * (quad - yy[axis] + prior - log_det);
        for r in 1..k {
            if axis == 0 {
                of[r - 1].0 = c[r] + mean[r];
            } else {
                of[r - 1].1 = c[r];
            }
        }
    }
    Fitted { log_evidence, of }
}

/// Lower Cholesky factor of `g + precision` over the first `k` rows, and the log determinant.
fn cholesky(g: &Matrix, precision: &[f64; N], k: usize) -> (Matrix, f64) {
    let mut l = [[0.0_f64; N]; N];
    let mut det = 1.0;
    for i in 0..k {
        for j in 0..=i {
            let mut v = g[i][j] + if i == j { precision[i] } else { 0.0 };
            v -= dot(&l[i][..j], &l[j][..j]);
            if i == j {
                let v = v.max(1e-12);
                det *= v;
                l[i][j] = v.sqrt();
            } else {
                l[i][j] = v / l[j][j];
            }
        }
    }
    (l, f64::ln(det))
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

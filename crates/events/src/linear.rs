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

/// Terms beside the place.
pub const MOST: usize = 4;
const N: usize = MOST + 1;

/// A hypothesis of what the samples are made of: a place and up to [`MOST`] courses, their coefficients
/// integrated out one after another, so that hypotheses that begin alike share that work.
#[derive(Debug, Clone, Copy)]
pub struct Hypothesis {
    /// Place and terms so far.
    terms: usize,
    /// Along and across.
    axes: [Axis; 2],
    /// What is the same for every hypothesis about these samples.
    common: f64,
}

/// One axis: the posterior of its coefficients by a Cholesky factor that grows by a row a term.
#[derive(Debug, Clone, Copy, Default)]
struct Axis {
    /// Rows of the factor under its diagonal, one after another.
    rows: [f64; N * (N - 1) / 2],
    /// Inverses of its diagonal.
    inverse: [f64; N],
    /// The inverse of the factor times the information.
    z: [f64; N],
    /// Twice the logarithm of the evidence, but for the determinants.
    fit: f64,
    /// Prior precision by posterior precision, as determinants.
    ratio: f64,
}

/// Where row `r` of a factor begins.
fn start(r: usize) -> usize {
    r * r.saturating_sub(1) / 2
}

impl Axis {
    /// Takes in row `r`: inner products with the rows before it and with itself, information, and the
    /// prior mean and standard deviation.
    fn eliminate(&mut self, r: usize, products: [f64; N], own: f64, y: f64, prior: (f64, f64)) {
        let (mean, sd) = prior;
        let precision = 1.0 / (sd * sd);
        let (above, row) = self.rows.split_at_mut(start(r));
        let row = &mut row[..r];
        let mut rest = own + precision;
        let mut z = y + precision * mean;
        for j in 0..r {
            let l = (products[j] - dot(&row[..j], &above[start(j)..][..j])) * self.inverse[j];
            row[j] = l;
            rest -= l * l;
            z -= l * self.z[j];
        }
        let inverse = 1.0 / rest.max(1e-12).sqrt();
        self.inverse[r] = inverse;
        self.z[r] = z * inverse;
        self.fit += self.z[r] * self.z[r] - precision * mean * mean;
        self.ratio *= precision * inverse * inverse;
    }

    /// Means of the first `n` coefficients.
    fn solve(&self, n: usize) -> [f64; N] {
        let mut c = [0.0; N];
        for i in (0..n).rev() {
            let mut v = self.z[i];
            for (m, c) in c.iter().enumerate().take(n).skip(i + 1) {
                v -= self.rows[start(m) + i] * c;
            }
            c[i] = v * self.inverse[i];
        }
        c
    }
}

/// Standard deviation of the place, metres: wide, since the samples are about their mean; it keeps the
/// matrix definite.
const ANYWHERE: f64 = 100.0;

impl Hypothesis {
    /// A body that is in one place.
    pub fn place(d: &Data) -> Self {
        let mut axes = [Axis {
            ratio: 1.0,
            ..Axis::default()
        }; 2];
        for (axis, y) in axes.iter_mut().zip(d.one_y) {
            axis.eliminate(0, [0.0; N], d.one_own, y, (0.0, ANYWHERE));
        }
        Self {
            terms: 1,
            axes,
            common: 2.0 * d.whitener.log_scale - 0.5 * (d.yy[0] + d.yy[1]),
        }
    }

    /// The same with one more course; `products` are its inner products with the courses before it, in
    /// their order. What is more than [`MOST`] is left out.
    #[must_use]
    pub fn with(&self, course: &Course, belief: Belief, products: &[f64]) -> Self {
        let mut more = *self;
        let r = self.terms;
        if r == N {
            return more;
        }
        let mut all = [0.0; N];
        all[0] = course.one;
        for (to, product) in all[1..r].iter_mut().zip(products) {
            *to = *product;
        }
        let [along, across] = &mut more.axes;
        along.eliminate(r, all, course.own, course.y[0], (belief.mean, belief.along));
        across.eliminate(r, all, course.own, course.y[1], (0.0, belief.across));
        more.terms = r + 1;
        more
    }

    /// Logarithm of the probability of the samples, up to a constant common to all hypotheses.
    pub fn log_evidence(&self) -> f64 {
        let [a, b] = &self.axes;
        self.common + 0.5 * (a.fit + b.fit + f64::ln(a.ratio * b.ratio))
    }

    /// Means of the coefficients of the terms, along and across.
    pub fn coefficients(&self) -> [(f64, f64); MOST] {
        let [a, b] = self.axes.each_ref().map(|axis| axis.solve(self.terms));
        std::array::from_fn(|i| (a[i + 1], b[i + 1]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WHITE: f64 = 0.1;

    fn data() -> (Vec<(f64, [f64; 2])>, Data) {
        let places: Vec<(f64, [f64; 2])> = (0..7)
            .map(|i| {
                let t = 0.1 * f64::from(i);
                (
                    t,
                    [3.0 + 2.0 * t * t, 1.0 - 0.3 * t + 0.05 * (9.0 * t).sin()],
                )
            })
            .collect();
        let noise = Noise {
            white: WHITE,
            colour: 0.0,
            colour_s: 1.0,
            restless: (0.0, 0.0),
            since: 0.0,
        };
        let d = Data::new(places.iter().copied(), (0.6, 0.8), &noise);
        (places, d)
    }

    /// Logarithm of a normal density of mean 0 by Gaussian elimination of the covariance, without the
    /// constant.
    fn log_normal(mut cov: Vec<Vec<f64>>, mut y: Vec<f64>) -> f64 {
        let mut log = 0.0;
        while let (Some(last), Some(rest)) = (cov.pop(), y.pop()) {
            let i = last.len() - 1;
            log -= 0.5 * (last[i].ln() + rest * rest / last[i]);
            for (row, y) in cov.iter_mut().zip(&mut y) {
                let f = row[i] / last[i];
                *y -= f * rest;
                row.truncate(i);
                for (to, from) in row.iter_mut().zip(&last) {
                    *to -= f * from;
                }
            }
        }
        log
    }

    #[test]
    fn evidence_is_the_normal_density_of_the_samples() {
        let (places, d) = data();
        let courses: [fn(f64) -> f64; 3] = [|t| t, |t| t * t, |t| (3.0 * t).sin()];
        let beliefs = [
            Belief::about_zero(1.5),
            Belief {
                mean: 2.0,
                along: 0.7,
                across: 1.1,
            },
            Belief {
                mean: -0.4,
                along: 0.3,
                across: 0.2,
            },
        ];
        let direct = |k: usize| {
            let axis = |ux: f64, uy: f64, along: bool| {
                let mut y: Vec<f64> = places.iter().map(|p| p.1[0] * ux + p.1[1] * uy).collect();
                let mean = y.iter().sum::<f64>() / y.len() as f64;
                let at = |i: usize, j: usize| courses[j](places[i].0);
                for (i, y) in y.iter_mut().enumerate() {
                    *y -= mean;
                    for (j, b) in beliefs[..k].iter().enumerate() {
                        *y -= if along { b.mean * at(i, j) } else { 0.0 };
                    }
                }
                let n = y.len();
                let cov = (0..n)
                    .map(|r| {
                        (0..n)
                            .map(|c| {
                                let own = if r == c { WHITE * WHITE } else { 0.0 };
                                let of = |(j, b): (usize, &Belief)| {
                                    let sd = if along { b.along } else { b.across };
                                    sd * sd * at(r, j) * at(c, j)
                                };
                                let terms: f64 = beliefs[..k].iter().enumerate().map(of).sum();
                                own + ANYWHERE * ANYWHERE + terms
                            })
                            .collect()
                    })
                    .collect();
                log_normal(cov, y)
            };
            axis(0.6, 0.8, true) + axis(-0.8, 0.6, false)
        };
        let c = courses.map(|f| d.course(f));
        let mut h = Hypothesis::place(&d);
        for k in 0..=3 {
            let (ours, theirs) = (h.log_evidence(), direct(k));
            assert!((ours - theirs).abs() < 1e-6, "{k} terms: {ours} {theirs}");
            if k < 3 {
                let products: Vec<f64> = c[..k].iter().map(|b| c[k].with(b)).collect();
                h = h.with(&c[k], beliefs[k], &products);
            }
        }
    }

    #[test]
    fn with_little_noise_coefficients_are_those_the_samples_have() {
        let noise = Noise {
            white: 1e-3,
            colour: 0.0,
            colour_s: 1.0,
            restless: (0.0, 0.0),
            since: 0.0,
        };
        let places = (0..30).map(|i| {
            let t = 0.1 * f64::from(i);
            (t, [5.0 + 1.2 * t - 0.4 * t * t, -2.0 * t])
        });
        let d = Data::new(places, (1.0, 0.0), &noise);
        let (v, a) = (d.course(|t| t), d.course(|t| t * t));
        let wide = Belief::about_zero(10.0);
        let h = Hypothesis::place(&d)
            .with(&v, wide, &[])
            .with(&a, wide, &[a.with(&v)]);
        let of = h.coefficients();
        let want = [(1.2, -2.0), (-0.4, 0.0)];
        for (got, want) in of.iter().zip(want) {
            assert!(
                (got.0 - want.0).abs() < 1e-3 && (got.1 - want.1).abs() < 1e-3,
                "{of:?}"
            );
        }
    }
}

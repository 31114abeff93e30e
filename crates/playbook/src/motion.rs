//! How people move: paths through named points, run at the speed profile of a human reach.

use crate::graph::RATE_HZ;
use setdrift_court::AttackPoint;

/// Peak speed nobody is asked to pass, m/s. Sprint peaks measured in elite match play lie
/// around 6.5 to 7.5 m/s (value from memory).
pub const MAX_SPEED: f64 = 7.5;

/// Points per stretch between two named points when a path is drawn.
const FINE: usize = 24;

/// Share of the way gone after a share `t` of the time, for a movement of least jerk that starts
/// and ends at rest: `10 t³ − 15 t⁴ + 6 t⁵` (Flash & Hogan 1985, J. Neurosci. 5(7) 1688–1703).
/// `t` is clamped to 0..=1.
#[must_use]
pub fn minimum_jerk(t: f64) -> f64 {
    let t = t.clamp(0.0, 1.0);
    t * t * t * (10.0 + t * (6.0 * t - 15.0))
}

/// Peak speed over mean speed of a minimum-jerk movement: 15/8, at half time (Flash & Hogan).
pub const PEAK_OVER_MEAN: f64 = 1.875;
/// Peak acceleration over `length / duration²`: `10 / √3`, at `t = (3 − √3) / 6`.
pub const PEAK_ACCELERATION: f64 = 5.773_502_691_896_258;

/// How fast a kind of movement is run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pace {
    /// Peak speed, m/s.
    pub speed: f64,
    /// Peak acceleration, m/s².
    pub acceleration: f64,
}

impl Pace {
    /// A hard cut. Peak 4.8 m/s: the 99th percentile of 250 ms speeds in the open tracks of
    /// TrackID3x3 (arXiv 2503.18282); running in the classes of time-motion studies, 14 to
    /// 18 km/h and above (Sosa et al. 2021). Acceleration: above the 3.5 to 4 m/s² from which it
    /// counts as high-intensity (Tuttle et al. 2024).
    pub const CUT: Self = Self {
        speed: 4.8,
        acceleration: 5.5,
    };
    /// A jog into place: the 95th percentile of the same tracks, 3.9 m/s.
    pub const JOG: Self = Self {
        speed: 3.9,
        acceleration: 4.0,
    };
    /// With the ball on the floor: a little under the jog, common practice, no published source.
    pub const DRIBBLE: Self = Self {
        speed: 3.7,
        acceleration: 4.0,
    };

    /// Seconds that a movement of `length` metres takes from rest to rest.
    #[must_use]
    pub fn seconds(self, length: f64) -> f64 {
        let by_speed = PEAK_OVER_MEAN * length / self.speed;
        let by_acceleration = (PEAK_ACCELERATION * length / self.acceleration).sqrt();
        by_speed.max(by_acceleration)
    }
}

/// A smooth path through points, with the distance gone along it.
#[derive(Debug, Clone, PartialEq)]
pub struct Path {
    points: Vec<AttackPoint>,
    gone: Vec<f64>,
}

impl Path {
    /// A path through the points: a centripetal Catmull–Rom curve (Yuksel, Schaefer & Keyser
    /// 2011), which goes through each of them without loops. Points on one spot are taken once.
    #[must_use]
    pub fn through(named: &[AttackPoint]) -> Self {
        let mut knots: Vec<AttackPoint> = Vec::with_capacity(named.len());
        for p in named {
            if knots.last().is_none_or(|l| l.distance(*p) > 1e-9) {
                knots.push(*p);
            }
        }
        let points = match knots.len() {
            0 | 1 => knots,
            2 => vec![knots[0], knots[1]],
            _ => curve(&knots),
        };
        let mut gone = Vec::with_capacity(points.len());
        let mut sum = 0.0;
        for (i, p) in points.iter().enumerate() {
            if i > 0 {
                sum += points[i - 1].distance(*p);
            }
            gone.push(sum);
        }
        Self { points, gone }
    }

    /// Length, metres.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.gone.last().copied().unwrap_or(0.0)
    }

    /// The point a share `s` (clamped to 0..=1) of the way along.
    #[must_use]
    pub fn at(&self, s: f64) -> AttackPoint {
        let last = self.points.len() - 1;
        if s >= 1.0 || last == 0 {
            return self.points[last];
        }
        let want = s.max(0.0) * self.length();
        let i = self.gone.partition_point(|g| *g <= want).clamp(1, last);
        let step = self.gone[i] - self.gone[i - 1];
        let t = if step > 0.0 {
            (want - self.gone[i - 1]) / step
        } else {
            0.0
        };
        self.points[i - 1].lerp(self.points[i], t)
    }

    /// The share of the way at which the path comes nearest to a point, and how near, metres.
    #[must_use]
    pub fn nearest(&self, to: AttackPoint) -> (f64, f64) {
        let n = 200;
        let mut best = (0.0, f64::INFINITY);
        for i in 0..=n {
            let s = f64::from(i) / f64::from(n);
            let d = self.at(s).distance(to);
            if d < best.1 - 1e-9 {
                best = (s, d);
            }
        }
        best
    }

    /// The first share of the way at which the path is within `radius` of a point, if ever.
    #[must_use]
    pub fn first_within(&self, to: AttackPoint, radius: f64) -> Option<f64> {
        (0..=200)
            .map(|i| f64::from(i) / 200.0)
            .find(|s| self.at(*s).distance(to) <= radius)
    }
}

/// Share of the time at which a minimum-jerk movement has gone a share `s` of the way.
#[must_use]
pub fn time_of_share(s: f64) -> f64 {
    let (mut a, mut b) = (0.0, 1.0);
    for _ in 0..50 {
        let m = 0.5 * (a + b);
        if minimum_jerk(m) < s {
            a = m;
        } else {
            b = m;
        }
    }
    0.5 * (a + b)
}

fn curve(knots: &[AttackPoint]) -> Vec<AttackPoint> {
    let n = knots.len();
    // Ends are continued straight on, so that the curve begins and ends along its chords.
    let before = knots[1].lerp(knots[0], 2.0);
    let after = knots[n - 2].lerp(knots[n - 1], 2.0);
    let at = |i: isize| -> AttackPoint {
        if i < 0 {
            before
        } else {
            knots.get(i as usize).copied().unwrap_or(after)
        }
    };
    let mut out = vec![knots[0]];
    for i in 0..n as isize - 1 {
        let p = [at(i - 1), at(i), at(i + 1), at(i + 2)];
        let mut t = [0.0; 4];
        for k in 1..4 {
            t[k] = t[k - 1] + p[k - 1].distance(p[k]).sqrt().max(1e-6);
        }
        for k in 1..=FINE {
            if k == FINE {
                out.push(p[2]);
                break;
            }
            let x = t[1] + (t[2] - t[1]) * k as f64 / FINE as f64;
            out.push(barry_goldman(&p, &t, x));
        }
    }
    out
}

/// The pyramid of linear blends that evaluates a Catmull–Rom curve with any knots
/// (Barry & Goldman 1988).
fn barry_goldman(p: &[AttackPoint; 4], t: &[f64; 4], x: f64) -> AttackPoint {
    let mix = |a: AttackPoint, b: AttackPoint, ta: f64, tb: f64| a.lerp(b, (x - ta) / (tb - ta));
    let a1 = mix(p[0], p[1], t[0], t[1]);
    let a2 = mix(p[1], p[2], t[1], t[2]);
    let a3 = mix(p[2], p[3], t[2], t[3]);
    let b1 = mix(a1, a2, t[0], t[2]);
    let b2 = mix(a2, a3, t[1], t[3]);
    mix(b1, b2, t[1], t[2])
}

/// Number of frames that cover so many seconds, at least 2.
#[must_use]
pub(crate) fn frames_for(seconds: f64) -> usize {
    ((seconds * RATE_HZ - 1e-6).ceil().max(1.0)) as usize + 1
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Flash & Hogan 1985: the trajectory of least squared jerk between rests is the quintic with
    /// `x(0)=0, x(1)=1` and zero velocity and acceleration at both ends. Solved here from those six
    /// conditions by elimination, not from the printed polynomial.
    #[test]
    fn minimum_jerk_solves_its_own_boundary_conditions() {
        // Unknown a3, a4, a5 (a0..a2 vanish): x=1, x'=0, x''=0 at t=1.
        let mut m = [
            [1.0, 1.0, 1.0, 1.0],
            [3.0, 4.0, 5.0, 0.0],
            [6.0, 12.0, 20.0, 0.0],
        ];
        for i in 0..3 {
            let pivot = m[i][i];
            for v in &mut m[i] {
                *v /= pivot;
            }
            for j in 0..3 {
                if j != i {
                    let f = m[j][i];
                    let row = m[i];
                    for (v, r) in m[j].iter_mut().zip(row) {
                        *v -= f * r;
                    }
                }
            }
        }
        let a: Vec<f64> = m.iter().map(|r| r[3]).collect();
        for i in 0..=100 {
            let t = f64::from(i) / 100.0;
            let x = a[0] * t.powi(3) + a[1] * t.powi(4) + a[2] * t.powi(5);
            assert!((minimum_jerk(t) - x).abs() < 1e-12, "{t}");
        }
    }

    /// Peak speed 1.875 times the mean and peak acceleration 5.77 L/T² are the printed properties
    /// of the profile (Flash & Hogan 1985); found here by finite differences.
    #[test]
    fn peaks_are_where_the_closed_form_puts_them() {
        let h = 1e-4;
        let (mut v, mut a) = (0.0_f64, 0.0_f64);
        for i in 1..10_000 {
            let t = f64::from(i) * h;
            let (p, q, r) = (minimum_jerk(t - h), minimum_jerk(t), minimum_jerk(t + h));
            v = v.max((r - p) / (2.0 * h));
            a = a.max((r - 2.0 * q + p) / (h * h));
        }
        assert!((v - PEAK_OVER_MEAN).abs() < 1e-4);
        assert!((a - PEAK_ACCELERATION).abs() < 1e-3);
    }

    #[test]
    fn paths_go_through_their_points() {
        let knots = [
            AttackPoint::new(2.0, -2.0),
            AttackPoint::new(6.0, -2.5),
            AttackPoint::new(8.0, 0.0),
        ];
        let p = Path::through(&knots);
        for k in knots {
            assert!(p.nearest(k).1 < 0.05);
        }
        assert_eq!(p.at(0.0), knots[0]);
        assert_eq!(p.at(1.0), knots[2]);
        assert!(p.length() >= knots[0].distance(knots[1]) + knots[1].distance(knots[2]) - 1e-9);
    }

    #[test]
    fn a_path_that_goes_nowhere_stays() {
        let p = Path::through(&[AttackPoint::new(1.0, 1.0); 3]);
        assert_eq!(p.at(0.4), AttackPoint::new(1.0, 1.0));
        assert!(p.length() < 1e-12);
    }

    #[test]
    fn shares_of_time_invert_shares_of_way() {
        for i in 0..=20 {
            let s = f64::from(i) / 20.0;
            assert!((minimum_jerk(time_of_share(s)) - s).abs() < 1e-9);
        }
    }
}

//! Plane vectors in metres. Only operations that round alike on every platform.

use std::ops::{Add, AddAssign, Mul, Sub};

#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct V2 {
    pub(crate) x: f64,
    pub(crate) y: f64,
}

pub(crate) const fn v2(x: f64, y: f64) -> V2 {
    V2 { x, y }
}

impl V2 {
    pub(crate) fn dot(self, o: Self) -> f64 {
        self.x * o.x + self.y * o.y
    }

    pub(crate) fn len(self) -> f64 {
        // Not `hypot`, which differs between platforms.
        self.dot(self).sqrt()
    }

    pub(crate) fn dist(self, o: Self) -> f64 {
        (self - o).len()
    }

    /// Of length 1; the zero vector stays zero.
    pub(crate) fn unit(self) -> Self {
        let l = self.len();
        if l > 1e-9 {
            self * (1.0 / l)
        } else {
            Self::default()
        }
    }

    /// Not longer than `most`.
    pub(crate) fn at_most(self, most: f64) -> Self {
        let l = self.len();
        if l > most { self * (most / l) } else { self }
    }

    /// A quarter turn anticlockwise.
    pub(crate) fn left(self) -> Self {
        v2(-self.y, self.x)
    }

    pub(crate) fn lerp(self, o: Self, t: f64) -> Self {
        self + (o - self) * t
    }
}

impl Add for V2 {
    type Output = Self;
    fn add(self, o: Self) -> Self {
        v2(self.x + o.x, self.y + o.y)
    }
}

impl AddAssign for V2 {
    fn add_assign(&mut self, o: Self) {
        *self = *self + o;
    }
}

impl Sub for V2 {
    type Output = Self;
    fn sub(self, o: Self) -> Self {
        v2(self.x - o.x, self.y - o.y)
    }
}

impl Mul<f64> for V2 {
    type Output = Self;
    fn mul(self, k: f64) -> Self {
        v2(self.x * k, self.y * k)
    }
}

/// Length of a polyline, metres.
pub(crate) fn path_len(path: &[V2]) -> f64 {
    path.windows(2).map(|w| w[0].dist(w[1])).sum()
}

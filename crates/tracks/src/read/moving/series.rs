//! Positions and values of a feature, in as little room as they need.

use super::document::Scalar;

/// Positions one after the other.
#[derive(Default)]
pub(super) struct Positions {
    pub(super) x: Vec<f64>,
    pub(super) y: Vec<f64>,
    /// Heights, NaN where not given; empty where none is.
    pub(super) z: Vec<f64>,
}

impl Positions {
    pub(super) fn len(&self) -> usize {
        self.x.len()
    }

    /// Add x, y, and z or NaN.
    pub(super) fn push(&mut self, [x, y, z]: [f64; 3]) {
        if !z.is_nan() && self.z.is_empty() {
            self.z.resize(self.x.len(), f64::NAN);
        }
        if !z.is_nan() || !self.z.is_empty() {
            self.z.push(z);
        }
        self.x.push(x);
        self.y.push(y);
    }

    /// Without room for more.
    pub(super) fn shrunk(mut self) -> Self {
        self.x.shrink_to_fit();
        self.y.shrink_to_fit();
        self.z.shrink_to_fit();
        self
    }
}

/// Values one after the other.
#[derive(Clone)]
pub(super) enum Series {
    /// NaN, which JSON has no way to write, where missing.
    Numbers(Vec<f64>),
    Mixed(Vec<Scalar>),
}

impl Default for Series {
    fn default() -> Self {
        Self::Numbers(Vec::new())
    }
}

impl Series {
    pub(super) fn len(&self) -> usize {
        match self {
            Self::Numbers(v) => v.len(),
            Self::Mixed(v) => v.len(),
        }
    }

    pub(super) fn push(&mut self, value: Scalar) {
        match (&mut *self, value) {
            (Self::Numbers(v), Scalar::Number(n)) => v.push(n),
            (Self::Numbers(v), Scalar::Missing) => v.push(f64::NAN),
            (Self::Numbers(v), text) => {
                let mut all: Vec<Scalar> = v.iter().map(|n| number(*n)).collect();
                all.push(text);
                *self = Self::Mixed(all);
            }
            (Self::Mixed(v), value) => v.push(value),
        }
    }

    /// A value; missing beyond the end.
    pub(super) fn get(&self, i: usize) -> Scalar {
        match self {
            Self::Numbers(v) => v.get(i).map_or(Scalar::Missing, |n| number(*n)),
            Self::Mixed(v) => v.get(i).cloned().unwrap_or(Scalar::Missing),
        }
    }

    /// Without room for more.
    pub(super) fn shrunk(mut self) -> Self {
        match &mut self {
            Self::Numbers(v) => v.shrink_to_fit(),
            Self::Mixed(v) => v.shrink_to_fit(),
        }
        self
    }
}

fn number(n: f64) -> Scalar {
    if n.is_nan() {
        Scalar::Missing
    } else {
        Scalar::Number(n)
    }
}

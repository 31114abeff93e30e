//! The two number types the crate works in.

use std::fmt::Debug;
use std::ops::{Add, AddAssign, Div, Mul, Sub};

/// `f32` or `f64`.
pub trait Real:
    sealed::Sealed
    + Copy
    + Debug
    + Default
    + PartialEq
    + PartialOrd
    + Add<Output = Self>
    + AddAssign
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Send
    + Sync
    + 'static
{
    /// 0.
    const ZERO: Self;
    /// 1.
    const ONE: Self;
    /// Positive infinity.
    const INFINITY: Self;
    /// Not a number; an unknown coordinate of a series with gaps.
    const NAN: Self;
    /// Distance from 1 to the next number.
    const EPSILON: Self;
    /// Nearest value.
    fn from_f64(value: f64) -> Self;
    /// The same value.
    fn to_f64(self) -> f64;
    /// `self · factor + term`, rounded once.
    fn mul_add(self, factor: Self, term: Self) -> Self;
    /// Magnitude.
    fn abs(self) -> Self;
    /// Square root.
    fn sqrt(self) -> Self;

    /// The lesser; `other` when the two do not compare.
    #[inline(always)]
    fn least(self, other: Self) -> Self {
        if self < other { self } else { other }
    }

    /// The greater; `other` when the two do not compare.
    #[inline(always)]
    fn most(self, other: Self) -> Self {
        if self > other { self } else { other }
    }

    /// Whether the value is NaN, which stands for unknown.
    #[inline(always)]
    #[expect(clippy::eq_op, reason = "only NaN differs from itself")]
    fn is_unknown(self) -> bool {
        self != self
    }
}

mod sealed {
    pub trait Sealed {}
    impl Sealed for f32 {}
    impl Sealed for f64 {}
}

macro_rules! real {
    ($t:ty) => {
        impl Real for $t {
            const ZERO: Self = 0.0;
            const ONE: Self = 1.0;
            const INFINITY: Self = <$t>::INFINITY;
            const NAN: Self = <$t>::NAN;
            const EPSILON: Self = <$t>::EPSILON;
            #[inline(always)]
            fn from_f64(value: f64) -> Self {
                value as $t
            }
            #[inline(always)]
            fn to_f64(self) -> f64 {
                self.into()
            }
            #[inline(always)]
            fn mul_add(self, factor: Self, term: Self) -> Self {
                self.mul_add(factor, term)
            }
            #[inline(always)]
            fn abs(self) -> Self {
                self.abs()
            }
            #[inline(always)]
            fn sqrt(self) -> Self {
                self.sqrt()
            }
        }
    };
}

real!(f32);
real!(f64);

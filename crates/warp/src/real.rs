//! The two number types the crate works in, and vectors of them.

use std::fmt::Debug;
use std::ops::{Add, AddAssign, Div, Mul, Sub};

use pulp::Simd;

/// What a local cost may do with differences: a number, or several in the lanes of a register.
pub trait Vector<T>:
    Copy + Add<Output = Self> + Sub<Output = Self> + Mul<Output = Self> + Div<Output = Self>
{
    /// `value` in every lane.
    fn like(self, value: T) -> Self;
    /// `self · factor + term`, rounded once.
    fn mul_add(self, factor: Self, term: Self) -> Self;
    /// Magnitude.
    fn abs(self) -> Self;
    /// Square root.
    fn sqrt(self) -> Self;
    /// The lesser.
    fn least(self, other: Self) -> Self;
    /// The greater.
    fn most(self, other: Self) -> Self;
    /// `self` where `test` is a number, `other` where `test` is NaN.
    fn where_known(self, test: Self, other: Self) -> Self;
}

/// `f32` or `f64`.
pub trait Real:
    sealed::Registers
    + Vector<Self>
    + Debug
    + Default
    + PartialEq
    + PartialOrd
    + AddAssign
    + Send
    + Sync
{
    /// 0.
    const ZERO: Self;
    /// 1.
    const ONE: Self;
    /// Positive infinity.
    const INFINITY: Self;
    /// Not a number; an unknown coordinate of a series with gaps.
    const NAN: Self;
    /// The greatest finite number.
    const MAX: Self;
    /// Distance from 1 to the next number.
    const EPSILON: Self;
    /// Nearest value.
    fn from_f64(value: f64) -> Self;
    /// The same value.
    fn to_f64(self) -> f64;

    /// Whether the value is a number, and not infinite.
    #[inline(always)]
    fn is_finite(self) -> bool {
        self.abs() <= Self::MAX
    }

    /// Whether the value is NaN, which stands for unknown.
    #[inline(always)]
    #[expect(clippy::eq_op, reason = "only NaN differs from itself")]
    fn is_unknown(self) -> bool {
        self != self
    }
}

pub(crate) mod sealed {
    use super::Simd;

    /// Registers of a number type; arithmetic through `pulp`, which finds the machine's best set.
    pub trait Registers: Sized + 'static {
        type Register<S: Simd>: Copy;
        /// Whole registers of `values`, the rest left out.
        fn read<S: Simd>(values: &[Self]) -> &[Self::Register<S>];
        /// As `read`, to write.
        fn write<S: Simd>(values: &mut [Self]) -> &mut [Self::Register<S>];
        fn splat<S: Simd>(simd: S, value: Self) -> Self::Register<S>;
        fn add<S: Simd>(simd: S, a: Self::Register<S>, b: Self::Register<S>) -> Self::Register<S>;
        fn sub<S: Simd>(simd: S, a: Self::Register<S>, b: Self::Register<S>) -> Self::Register<S>;
        fn mul<S: Simd>(simd: S, a: Self::Register<S>, b: Self::Register<S>) -> Self::Register<S>;
        fn div<S: Simd>(simd: S, a: Self::Register<S>, b: Self::Register<S>) -> Self::Register<S>;
        fn fused<S: Simd>(
            simd: S,
            a: Self::Register<S>,
            b: Self::Register<S>,
            c: Self::Register<S>,
        ) -> Self::Register<S>;
        fn magnitude<S: Simd>(simd: S, a: Self::Register<S>) -> Self::Register<S>;
        fn root<S: Simd>(simd: S, a: Self::Register<S>) -> Self::Register<S>;
        fn min<S: Simd>(simd: S, a: Self::Register<S>, b: Self::Register<S>) -> Self::Register<S>;
        fn max<S: Simd>(simd: S, a: Self::Register<S>, b: Self::Register<S>) -> Self::Register<S>;
        /// `value` where `test` is a number, else `other`.
        fn where_known<S: Simd>(
            simd: S,
            value: Self::Register<S>,
            test: Self::Register<S>,
            other: Self::Register<S>,
        ) -> Self::Register<S>;
        /// `value` where `low ≤ at ≤ high`, else `other`.
        fn between<S: Simd>(
            simd: S,
            low_at_high: [Self::Register<S>; 3],
            value: Self::Register<S>,
            other: Self::Register<S>,
        ) -> Self::Register<S>;
    }
}

/// A register with the instruction set it belongs to.
#[derive(Clone, Copy)]
pub(crate) struct Lanes<S: Simd, T: Real> {
    pub simd: S,
    pub value: T::Register<S>,
}

impl<S: Simd, T: Real> Lanes<S, T> {
    #[inline(always)]
    pub fn splat(simd: S, value: T) -> Self {
        Lanes {
            simd,
            value: T::splat(simd, value),
        }
    }

    #[inline(always)]
    fn with(self, value: T::Register<S>) -> Self {
        Lanes { value, ..self }
    }

    /// `self` where `low ≤ at ≤ high`, else infinite.
    #[inline(always)]
    pub fn between(self, low: Self, at: Self, high: Self) -> Self {
        let infinite = self.like(T::INFINITY).value;
        self.with(T::between(
            self.simd,
            [low.value, at.value, high.value],
            self.value,
            infinite,
        ))
    }
}

impl<S: Simd, T: Real> Add for Lanes<S, T> {
    type Output = Self;
    #[inline(always)]
    fn add(self, other: Self) -> Self {
        self.with(<T as sealed::Registers>::add(
            self.simd,
            self.value,
            other.value,
        ))
    }
}

impl<S: Simd, T: Real> Sub for Lanes<S, T> {
    type Output = Self;
    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        self.with(<T as sealed::Registers>::sub(
            self.simd,
            self.value,
            other.value,
        ))
    }
}

impl<S: Simd, T: Real> Mul for Lanes<S, T> {
    type Output = Self;
    #[inline(always)]
    fn mul(self, other: Self) -> Self {
        self.with(<T as sealed::Registers>::mul(
            self.simd,
            self.value,
            other.value,
        ))
    }
}

impl<S: Simd, T: Real> Div for Lanes<S, T> {
    type Output = Self;
    #[inline(always)]
    fn div(self, other: Self) -> Self {
        self.with(<T as sealed::Registers>::div(
            self.simd,
            self.value,
            other.value,
        ))
    }
}

impl<S: Simd, T: Real> Vector<T> for Lanes<S, T> {
    #[inline(always)]
    fn like(self, value: T) -> Self {
        Self::splat(self.simd, value)
    }
    #[inline(always)]
    fn mul_add(self, factor: Self, term: Self) -> Self {
        self.with(T::fused(self.simd, self.value, factor.value, term.value))
    }
    #[inline(always)]
    fn abs(self) -> Self {
        self.with(T::magnitude(self.simd, self.value))
    }
    #[inline(always)]
    fn sqrt(self) -> Self {
        self.with(T::root(self.simd, self.value))
    }
    #[inline(always)]
    fn least(self, other: Self) -> Self {
        self.with(T::min(self.simd, self.value, other.value))
    }
    #[inline(always)]
    fn most(self, other: Self) -> Self {
        self.with(T::max(self.simd, self.value, other.value))
    }
    #[inline(always)]
    fn where_known(self, test: Self, other: Self) -> Self {
        self.with(<T as sealed::Registers>::where_known(
            self.simd,
            self.value,
            test.value,
            other.value,
        ))
    }
}

macro_rules! real {
    ($t:ident, $register:ident, $read:ident, $write:ident, $splat:ident, $add:ident, $sub:ident, $mul:ident, $div:ident,
     $fused:ident, $abs:ident, $sqrt:ident, $min:ident, $max:ident, $not_above:ident, $equal:ident, $and:ident, $select:ident) => {
        impl sealed::Registers for $t {
            type Register<S: Simd> = S::$register;
            #[inline(always)]
            fn read<S: Simd>(values: &[Self]) -> &[S::$register] {
                S::$read(values).0
            }
            #[inline(always)]
            fn write<S: Simd>(values: &mut [Self]) -> &mut [S::$register] {
                S::$write(values).0
            }
            #[inline(always)]
            fn splat<S: Simd>(simd: S, value: Self) -> S::$register {
                simd.$splat(value)
            }
            #[inline(always)]
            fn add<S: Simd>(simd: S, a: S::$register, b: S::$register) -> S::$register {
                simd.$add(a, b)
            }
            #[inline(always)]
            fn sub<S: Simd>(simd: S, a: S::$register, b: S::$register) -> S::$register {
                simd.$sub(a, b)
            }
            #[inline(always)]
            fn mul<S: Simd>(simd: S, a: S::$register, b: S::$register) -> S::$register {
                simd.$mul(a, b)
            }
            #[inline(always)]
            fn div<S: Simd>(simd: S, a: S::$register, b: S::$register) -> S::$register {
                simd.$div(a, b)
            }
            #[inline(always)]
            fn fused<S: Simd>(
                simd: S,
                a: S::$register,
                b: S::$register,
                c: S::$register,
            ) -> S::$register {
                simd.$fused(a, b, c)
            }
            #[inline(always)]
            fn magnitude<S: Simd>(simd: S, a: S::$register) -> S::$register {
                simd.$abs(a)
            }
            #[inline(always)]
            fn root<S: Simd>(simd: S, a: S::$register) -> S::$register {
                simd.$sqrt(a)
            }
            #[inline(always)]
            fn min<S: Simd>(simd: S, a: S::$register, b: S::$register) -> S::$register {
                simd.$min(a, b)
            }
            #[inline(always)]
            fn max<S: Simd>(simd: S, a: S::$register, b: S::$register) -> S::$register {
                simd.$max(a, b)
            }
            #[inline(always)]
            fn where_known<S: Simd>(
                simd: S,
                value: S::$register,
                test: S::$register,
                other: S::$register,
            ) -> S::$register {
                simd.$select(simd.$equal(test, test), value, other)
            }
            #[inline(always)]
            fn between<S: Simd>(
                simd: S,
                [low, at, high]: [S::$register; 3],
                value: S::$register,
                other: S::$register,
            ) -> S::$register {
                let inside = simd.$and(simd.$not_above(low, at), simd.$not_above(at, high));
                simd.$select(inside, value, other)
            }
        }

        impl Vector<$t> for $t {
            #[inline(always)]
            fn like(self, value: $t) -> Self {
                value
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
            #[inline(always)]
            fn least(self, other: Self) -> Self {
                if self < other { self } else { other }
            }
            #[inline(always)]
            fn most(self, other: Self) -> Self {
                if self > other { self } else { other }
            }
            #[inline(always)]
            fn where_known(self, test: Self, other: Self) -> Self {
                if test.is_nan() { other } else { self }
            }
        }

        impl Real for $t {
            const ZERO: Self = 0.0;
            const ONE: Self = 1.0;
            const INFINITY: Self = <$t>::INFINITY;
            const NAN: Self = <$t>::NAN;
            const MAX: Self = <$t>::MAX;
            const EPSILON: Self = <$t>::EPSILON;
            #[inline(always)]
            fn from_f64(value: f64) -> Self {
                value as $t
            }
            #[inline(always)]
            fn to_f64(self) -> f64 {
                self.into()
            }
        }
    };
}

real!(
    f32,
    f32s,
    as_simd_f32s,
    as_mut_simd_f32s,
    splat_f32s,
    add_f32s,
    sub_f32s,
    mul_f32s,
    div_f32s,
    mul_add_f32s,
    abs_f32s,
    sqrt_f32s,
    min_f32s,
    max_f32s,
    less_than_or_equal_f32s,
    equal_f32s,
    and_m32s,
    select_f32s
);
real!(
    f64,
    f64s,
    as_simd_f64s,
    as_mut_simd_f64s,
    splat_f64s,
    add_f64s,
    sub_f64s,
    mul_f64s,
    div_f64s,
    mul_add_f64s,
    abs_f64s,
    sqrt_f64s,
    min_f64s,
    max_f64s,
    less_than_or_equal_f64s,
    equal_f64s,
    and_m64s,
    select_f64s
);

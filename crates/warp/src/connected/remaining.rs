//! What the rest of a query can cost at most, by which states are proved useless.

use super::settings::Settings;
use crate::error::{Error, Result, filled};
use crate::real::Real;

/// What the rest of the query costs at most: all filler.
pub(super) struct Remaining<T> {
    /// Filler cost of the frames after each; infinite without filler.
    filler_after: Vec<T>,
    pub abandon_above: T,
    slack: T,
}

impl<T: Real> Remaining<T> {
    pub fn new(len: usize, filler: Option<&[T]>, settings: &Settings<T>) -> Result<Self> {
        let abandon_above = settings.abandon_above.unwrap_or(T::INFINITY);
        if abandon_above.is_unknown() {
            return Err(Error::Parameter {
                name: "abandon_above",
                value: abandon_above.to_f64(),
                expected: "give a number",
            });
        }
        let none_after = if filler.is_some() {
            T::ZERO
        } else {
            T::INFINITY
        };
        let mut filler_after = filled(none_after, len, "query frames")?;
        if let Some(filler) = filler {
            for frame in (0..len - 1).rev() {
                filler_after[frame] = filler_after[frame + 1] + filler[frame + 1];
            }
        }
        // Sums in another order differ by rounding; this much slack keeps the bound a bound.
        let slack = T::from_f64(((len + 16) as f64 * T::EPSILON.to_f64()).min(0.5));
        Ok(Remaining {
            filler_after,
            abandon_above,
            slack,
        })
    }

    /// The answer costs no more: filler to the end would cost that after `frame`.
    pub fn most(&self, frame: usize, filler: T) -> T {
        let all_filler = (filler + self.filler_after[frame]) * (T::ONE + self.slack);
        all_filler.least(self.abandon_above)
    }

    /// What is known of the rest is a sum in another order: so much of a total may be rounding.
    pub fn slack(&self) -> T {
        T::ONE + self.slack
    }
}

//! What the rest of a query can cost, by which states are proved useless.

use super::grammar::check_cost;
use super::settings::Settings;
use crate::error::{Error, Result, filled};
use crate::real::Real;

/// What the rest of the query costs at most (all filler) and at least.
pub(super) struct Remaining<T> {
    /// Least cost of the frames after each.
    pub after: Vec<T>,
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
        let floor = settings.floor.as_deref();
        if let Some(floor) = floor {
            if floor.len() != len {
                return Err(Error::LengthMismatch {
                    what: "floor",
                    expected: len,
                    found: floor.len(),
                });
            }
            for (frame, &cost) in floor.iter().enumerate() {
                check_cost("the floor", cost, || format!("query frame {frame}"))?;
            }
        }
        let mut after = filled(T::ZERO, len, "query frames")?;
        let none_after = if filler.is_some() {
            T::ZERO
        } else {
            T::INFINITY
        };
        let mut filler_after = filled(none_after, len, "query frames")?;
        for frame in (0..len - 1).rev() {
            let least = floor.map_or(T::ZERO, |floor| floor[frame + 1]);
            let least = filler.map_or(least, |filler| filler[frame + 1].least(least));
            after[frame] = after[frame + 1] + least;
            if let Some(filler) = filler {
                filler_after[frame] = filler_after[frame + 1] + filler[frame + 1];
            }
        }
        // Sums in another order differ by rounding; this much slack keeps the bound a bound.
        let slack = T::from_f64(((len + 16) as f64 * T::EPSILON.to_f64()).min(0.5));
        for least in &mut after {
            *least = (*least * (T::ONE - slack)).least(T::MAX);
        }
        Ok(Remaining {
            after,
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

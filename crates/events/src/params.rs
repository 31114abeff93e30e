//! What the model of ball control takes for granted, each number with its source.

use serde::{Deserialize, Serialize};

/// Parameters of ball control, events and possessions. [`Params::check`] makes them usable.
///
/// Defaults and their sources are stated in `docs/method-events.md`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Params {
    /// How far from the middle of the body a held or dribbled ball is: standard deviation per
    /// axis, metres, 0.1..=1.2, without sensor noise. A bent arm reaches 0.3 to 0.5 m, a dribble
    /// 0.8 m (common practice, no published source).
    pub hold_spread_m: f64,
    /// Median horizontal speed of a pass, m/s, 4..=16. Chest passes leave the hand at about 8 to
    /// 12 m/s (value from memory, no edition at hand).
    pub pass_speed_mps: f64,
    /// Mean time one player controls the ball, seconds, 0.5..=10. Common practice.
    pub hold_s: f64,
    /// Greatest distance between giver and taker of a hand-off, metres, 0.5..=2.5: two bent arms.
    pub hand_off_m: f64,
    /// Greatest distance at which a screener touches the defender or the user brushes past,
    /// metres, 0.4..=2.5: two half shoulder widths and stance (common practice).
    pub screen_m: f64,
    /// An opponent must control the ball this long for it to be theirs, seconds, 0..=2.
    pub control_s: f64,
    /// A result of the event file belongs to the possession whose end lies at most this far from
    /// it, seconds, 0.5..=20. People write results down by a clock that shows whole seconds.
    pub result_s: f64,
    /// All players slower than this stand in place, m/s, 0.2..=1.5.
    pub stand_mps: f64,
}

impl Default for Params {
    fn default() -> Self {
        Self {
            hold_spread_m: 0.47,
            pass_speed_mps: 9.0,
            hold_s: 2.0,
            hand_off_m: 1.4,
            screen_m: 2.0,
            control_s: 0.4,
            result_s: 4.0,
            stand_mps: 0.6,
        }
    }
}

/// A parameter out of range.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("event parameter `{field}` is {value}: expected {low} to {high}")]
pub struct ParamError {
    /// Name of the field of [`Params`].
    pub field: &'static str,
    /// The value given.
    pub value: f64,
    /// Least accepted value.
    pub low: f64,
    /// Greatest accepted value.
    pub high: f64,
}

/// Parameters that passed [`Params::check`].
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ValidParams(Params);

impl std::ops::Deref for ValidParams {
    type Target = Params;

    fn deref(&self) -> &Params {
        &self.0
    }
}

impl Params {
    /// The parameters, if each lies in its range.
    ///
    /// # Errors
    /// [`ParamError`] names the first that does not.
    pub fn check(self) -> Result<ValidParams, ParamError> {
        let ranges = [
            ("hold_spread_m", self.hold_spread_m, 0.1, 1.2),
            ("pass_speed_mps", self.pass_speed_mps, 4.0, 16.0),
            ("hold_s", self.hold_s, 0.5, 10.0),
            ("hand_off_m", self.hand_off_m, 0.5, 2.5),
            ("screen_m", self.screen_m, 0.4, 2.5),
            ("control_s", self.control_s, 0.0, 2.0),
            ("result_s", self.result_s, 0.5, 20.0),
            ("stand_mps", self.stand_mps, 0.2, 1.5),
        ];
        for (field, value, low, high) in ranges {
            if !(value >= low && value <= high) {
                return Err(ParamError {
                    field,
                    value,
                    low,
                    high,
                });
            }
        }
        Ok(ValidParams(self))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn defaults_pass_and_nonsense_is_named() {
        assert_eq!(*Params::default().check().unwrap(), Params::default());
        let e = Params {
            pass_speed_mps: f64::NAN,
            ..Params::default()
        }
        .check()
        .unwrap_err();
        assert_eq!(e.field, "pass_speed_mps");
    }
}

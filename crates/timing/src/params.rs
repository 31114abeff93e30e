//! What an audit may be told, checked before it is used.

use crate::onset::Prior;

/// Settings of an audit. [`Params::check`] makes them usable.
#[derive(Debug, Clone, PartialEq)]
pub struct Params {
    /// How far from the moment the warping path gives an event may lie and still be meant,
    /// seconds. Default 2.0: longer than a late option step, shorter than a loop of one.
    pub event_reach_s: f64,
    /// How long before the window a start is still looked for, seconds. Default 2.0.
    pub before_s: f64,
    /// How long after the window a start is late rather than never, seconds. Default 2.5.
    pub wait_s: f64,
    /// Probability that early or late must reach to be said, 0.5..1. Default 0.65: this is the
    /// hysteresis about the window's edges, and grows with the uncertainty of the lag.
    pub sure: f64,
    /// Least declared way that can be told from shuffling, metres. Default 0.6.
    pub least_way_m: f64,
    /// Greatest standard deviation of an onset that still supports a verdict, seconds.
    /// Default 0.45.
    pub worst_sd_s: f64,
    /// Least share of measured samples around an onset, 0..1. Default 0.6.
    pub least_measured: f64,
    /// How near a player must come to have reached a place, metres. Default 0.9, an arm's length
    /// and a foot's; common practice, no published source.
    pub reach_m: f64,
    /// Half of the stretch over which a place is averaged, seconds. Default 0.3.
    pub place_half_s: f64,
    /// Beliefs of the onset fit.
    pub prior: Prior,
}

impl Default for Params {
    fn default() -> Self {
        Self {
            event_reach_s: 2.0,
            before_s: 2.0,
            wait_s: 2.5,
            sure: 0.65,
            least_way_m: 0.6,
            worst_sd_s: 0.45,
            least_measured: 0.6,
            reach_m: 0.9,
            place_half_s: 0.3,
            prior: Prior::default(),
        }
    }
}

/// Settings that have been checked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ValidParams(Params);

/// A setting out of its range.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("setting `{name}` of the audit is {value}: expected {low} to {high}")]
pub struct ParamsError {
    /// The field of [`Params`].
    pub name: &'static str,
    /// The value given.
    pub value: f64,
    /// Least accepted value.
    pub low: f64,
    /// Greatest accepted value.
    pub high: f64,
}

impl Params {
    /// Checks every setting against its range.
    ///
    /// # Errors
    /// [`ParamsError`] for the first setting that is out of its range.
    pub fn check(self) -> Result<ValidParams, ParamsError> {
        let p = &self;
        for (name, value, low, high) in [
            ("event_reach_s", p.event_reach_s, 0.1, 20.0),
            ("before_s", p.before_s, 0.1, 10.0),
            ("wait_s", p.wait_s, 0.1, 20.0),
            ("sure", p.sure, 0.5, 0.999),
            ("least_way_m", p.least_way_m, 0.1, 5.0),
            ("worst_sd_s", p.worst_sd_s, 0.01, 2.0),
            ("least_measured", p.least_measured, 0.0, 1.0),
            ("reach_m", p.reach_m, 0.1, 5.0),
            ("place_half_s", p.place_half_s, 0.05, 2.0),
            ("prior.drift", p.prior.drift, 0.01, 5.0),
            ("prior.running", p.prior.running, 0.01, 10.0),
            ("prior.running_share", p.prior.running_share, 0.0, 0.5),
            ("prior.sway", p.prior.sway, 0.001, 1.0),
            ("prior.sway_s", p.prior.sway_s, 0.05, 10.0),
            ("prior.bow", p.prior.bow, 0.01, 20.0),
            ("prior.earlier", p.prior.earlier, 0.01, 20.0),
            ("prior.way", p.prior.way, 0.1, 50.0),
            ("prior.earlier_share", p.prior.earlier_share, 0.0, 0.49),
            ("prior.acceleration", p.prior.acceleration, 1.0, 20.0),
            ("prior.speed", p.prior.speed, 1.0, 20.0),
        ] {
            // A comparison that NaN fails.
            if !(value >= low && value <= high) {
                return Err(ParamsError {
                    name,
                    value,
                    low,
                    high,
                });
            }
        }
        Ok(ValidParams(self))
    }
}

impl std::ops::Deref for ValidParams {
    type Target = Params;

    fn deref(&self) -> &Params {
        &self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_are_checked_by_name() {
        assert!(Params::default().check().is_ok());
        let bad = Params {
            sure: f64::NAN,
            ..Params::default()
        };
        let e = bad.check().unwrap_err();
        assert!(e.to_string().contains("`sure`"), "{e}");
    }
}

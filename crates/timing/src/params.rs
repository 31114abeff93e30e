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
    /// Probability that early or late must reach to be said, 0.5..1. Default 0.5, the likeliest
    /// class; more keeps a start on the window's edge on time (hysteresis that grows with the
    /// uncertainty of the lag).
    pub sure: f64,
    /// Probability that any verdict must reach, 0..1; under it the data do not tell. Default 0.4: a little
    /// more than one of three.
    pub least_sure: f64,
    /// Share of cues taken to be answered within their window before a track is seen, 0.05..0.85.
    /// Default 0.42: less than any staff would accept, so that it decides only where the track
    /// hardly does.
    pub answered: f64,
    /// Seconds over which starts before and after the window thin out. Default 0.7.
    pub thins_s: f64,
    /// Least declared way that can be told from shuffling, metres. Default 0.6.
    pub least_way_m: f64,
    /// Greatest standard deviation, seconds, of an onset that is known; beyond it there is a verdict only
    /// where the track alone makes one likelier than not, as within a wide window. Default 0.45.
    pub worst_sd_s: f64,
    /// Least share of measured samples within 0.6 s of an onset, 0..1. Default 0.35: what is
    /// missing widens the posterior by itself; this is for what a movement model cannot know.
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
            sure: 0.5,
            least_sure: 0.4,
            answered: 0.42,
            thins_s: 0.7,
            least_way_m: 0.6,
            worst_sd_s: 0.45,
            least_measured: 0.35,
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
            ("least_sure", p.least_sure, 0.0, 0.999),
            ("answered", p.answered, 0.05, 0.85),
            ("thins_s", p.thins_s, 0.05, 10.0),
            ("least_way_m", p.least_way_m, 0.1, 5.0),
            ("worst_sd_s", p.worst_sd_s, 0.01, 2.0),
            ("least_measured", p.least_measured, 0.0, 1.0),
            ("reach_m", p.reach_m, 0.1, 5.0),
            ("place_half_s", p.place_half_s, 0.05, 2.0),
            ("prior.effort", p.prior.effort, 0.5, 10.0),
            ("prior.effort_along", p.prior.effort_along, 0.1, 10.0),
            ("prior.effort_across", p.prior.effort_across, 0.1, 10.0),
            ("prior.braking", p.prior.braking, 0.0, 20.0),
            ("prior.later", p.prior.later, 0.1, 20.0),
            ("prior.drift", p.prior.drift, 0.01, 5.0),
            ("prior.running", p.prior.running, 0.01, 10.0),
            ("prior.running_share", p.prior.running_share, 0.0, 0.3),
            ("prior.stopping_share", p.prior.stopping_share, 0.0, 0.3),
            ("prior.jab_share.0", p.prior.jab_share.0, 0.0, 0.3),
            ("prior.jab_share.1", p.prior.jab_share.1, 0.0, 0.3),
            ("prior.sway", p.prior.sway, 0.001, 1.0),
            ("prior.sway_s", p.prior.sway_s, 0.05, 10.0),
            ("prior.restless.0", p.prior.restless.0, 0.001, 10.0),
            ("prior.restless.1", p.prior.restless.1, 0.001, 10.0),
            ("prior.restless.2", p.prior.restless.2, 0.001, 10.0),
            ("prior.busy", p.prior.busy, 0.001, 10.0),
            ("prior.under_way", p.prior.under_way, 0.001, 10.0),
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

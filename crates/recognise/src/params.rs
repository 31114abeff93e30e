//! What recognition may be told, checked before anything runs.

use serde::{Deserialize, Serialize};

/// Settings of recognition. [`Params::check`] makes them usable.
///
/// Costs are per frame at 10 Hz and per body: a role whose player is `d` metres from the
/// reference costs `(d / tolerance)^2`, at most `cap`, and a frame costs the mean over the roles
/// and the ball. So 1 means "everyone one tolerance away".
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Params {
    /// What a frame costs off script: the mean cost above which movement is not the option's.
    pub off_script: f64,
    /// Most that one role or the ball can cost in a frame.
    pub cap: f64,
    /// Factor on the playbook's tolerances.
    pub tolerance_scale: f64,
    /// Seconds by which people run the same way earlier or later than each other: along a way, the
    /// tolerance grows by what is covered in that time.
    pub timing_s: f64,
    /// Tolerance for the ball, metres.
    pub ball_tolerance_m: f64,
    /// Weight of the ball beside a role's 1.
    pub ball_weight: f64,
    /// Cost of beginning an option out of off-script movement.
    pub entry: f64,
    /// Cost of beginning a run in the middle of a series, where its predecessor was not seen.
    pub entry_mid_series: f64,
    /// Cost of standing in a declared formation.
    pub entry_set: f64,
    /// Cost, beside the others, of beginning with someone in a role that the roster does not give
    /// them.
    pub off_roster: f64,
    /// Cost of breaking an option off inside a step.
    pub break_off: f64,
    /// Cost per frame above which a run next to off-script movement counts as left.
    pub leave: f64,
    /// Fastest accepted tempo, as a multiple of the declared one.
    pub fastest: u32,
    /// Slowest accepted tempo: a declared frame may last so many frames.
    pub slowest: u32,
    /// Least duration of an option begun and broken off, seconds.
    pub least_evidence_s: f64,
    /// Share of unknown samples above which a segment is not judged.
    pub most_missing: f64,
    /// A role further than this many tolerances from its place at a step's end is a fault.
    pub fault_tolerances: f64,
}

impl Default for Params {
    /// Defaults as reasoned in docs/method.md.
    fn default() -> Self {
        Self {
            off_script: 1.6,
            cap: 4.5,
            tolerance_scale: 1.0,
            timing_s: 0.15,
            ball_tolerance_m: 1.8,
            ball_weight: 1.0,
            entry: 4.0,
            entry_mid_series: 8.0,
            entry_set: 2.0,
            off_roster: 6.0,
            break_off: 4.0,
            leave: 0.6,
            fastest: 2,
            slowest: 3,
            least_evidence_s: 1.0,
            most_missing: 0.4,
            fault_tolerances: 1.6,
        }
    }
}

/// A setting outside its range.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("recognition setting `{field}` is {value}: expected {low} to {high}")]
pub struct ParamsError {
    /// Field of [`Params`].
    pub field: &'static str,
    /// The value given.
    pub value: f64,
    /// Least accepted.
    pub low: f64,
    /// Greatest accepted.
    pub high: f64,
}

/// Checked settings; only these run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ValidParams(Params);

impl Params {
    /// Checks every setting.
    ///
    /// # Errors
    /// [`ParamsError`] for the first setting outside its range.
    pub fn check(self) -> Result<ValidParams, ParamsError> {
        let ranges = [
            ("off_script", self.off_script, 0.05, 50.0),
            ("cap", self.cap, self.off_script, 100.0),
            ("tolerance_scale", self.tolerance_scale, 0.1, 10.0),
            ("timing_s", self.timing_s, 0.0, 2.0),
            ("ball_tolerance_m", self.ball_tolerance_m, 0.1, 20.0),
            ("ball_weight", self.ball_weight, 0.0, 10.0),
            ("entry", self.entry, 0.0, 1e3),
            ("entry_mid_series", self.entry_mid_series, 0.0, 1e3),
            ("entry_set", self.entry_set, 0.0, 1e3),
            ("off_roster", self.off_roster, 0.0, 1e3),
            ("break_off", self.break_off, 0.0, 1e3),
            ("leave", self.leave, 0.01, self.off_script),
            ("fastest", f64::from(self.fastest), 1.0, 4.0),
            ("slowest", f64::from(self.slowest), 1.0, 8.0),
            ("least_evidence_s", self.least_evidence_s, 0.0, 10.0),
            ("most_missing", self.most_missing, 0.0, 1.0),
            ("fault_tolerances", self.fault_tolerances, 0.5, 10.0),
        ];
        for (field, value, low, high) in ranges {
            if !(value >= low && value <= high) {
                return Err(ParamsError {
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
    fn defaults_pass_and_nan_does_not() {
        assert!(Params::default().check().is_ok());
        let e = Params {
            entry: f64::NAN,
            ..Params::default()
        }
        .check()
        .unwrap_err();
        assert_eq!(e.field, "entry");
    }
}

//! What can be set when off-script stretches are grouped.

use crate::error::{Error, Result};
use setdrift_court::Court;

/// Settings of [`group`](crate::group). Defaults are meant to hold for any team; the one that
/// matters most, the radius, is chosen from the data.
#[derive(Debug, Clone, PartialEq)]
pub struct Params {
    /// The floor, for the names of places in descriptions. Default FIBA.
    pub court: Court,
    /// Least number of stretches that make a group, at least 2. Default 3: two alike may be chance.
    pub least: usize,
    /// Neighbourhood radius, metres per player; by default chosen from the data.
    pub radius_m: Option<f64>,
    /// Least and greatest radius that the data may choose, metres per player. Default 0.15 to 1.8:
    /// below lies the noise of tracking, above it two movements are not the same to a coach
    /// (common practice, no published source).
    pub radii_m: (f64, f64),
    /// Price of a frame that one stretch has and the other lacks at its beginning or end, as if
    /// every player were this far off, metres. Default 2.
    pub gap_m: f64,
    /// Furthest that a player can be off, metres. Default 4.
    pub cap_m: f64,
    /// As how far off a player counts whose place is unknown, metres. Default 0.8.
    pub unknown_m: f64,
    /// Share of the ball in the distance, 0 to below 1. Default 1/6: as much as one of six.
    pub ball_weight: f64,
    /// Number of resamples behind a group's stability, at least 1. Default 100.
    pub resamples: usize,
    /// Share of the stretches in each resample, above 0 and below 1. Default 0.8.
    pub resample_share: f64,
    /// A group that comes back in fewer resamples than this is noise, 0..=1. Default 0.5.
    pub least_stability: f64,
    /// A group whose own mean silhouette width is less than this is noise, −1..=1. Default 0.25,
    /// below which Kaufman & Rousseeuw 1990 (Finding Groups in Data, ch. 2) see no structure.
    pub least_width: f64,
    /// Seed of the resampling.
    pub seed: u64,
}

impl Default for Params {
    fn default() -> Self {
        Self {
            court: Court::fiba(),
            least: 3,
            radius_m: None,
            radii_m: (0.15, 1.8),
            gap_m: 2.0,
            cap_m: 4.0,
            unknown_m: 0.8,
            ball_weight: 1.0 / 6.0,
            resamples: 100,
            resample_share: 0.8,
            least_stability: 0.5,
            least_width: 0.25,
            seed: 1,
        }
    }
}

/// Settings that are in range.
#[derive(Debug, Clone, PartialEq)]
pub struct ValidParams(Params);

impl Params {
    /// Checks every setting.
    ///
    /// # Errors
    /// [`Error::Parameter`] for the first that is out of its range.
    pub fn check(self) -> Result<ValidParams> {
        let within = |name, value: f64, ok: bool, expected| {
            if ok {
                Ok(())
            } else {
                Err(Error::Parameter {
                    name,
                    value,
                    expected,
                })
            }
        };
        let length = |name, v: f64| {
            let expected = "a finite number of metres above 0";
            within(name, v, v > 0.0 && v.is_finite(), expected)
        };
        within("least", self.least as f64, self.least >= 2, "2 or more")?;
        if let Some(r) = self.radius_m {
            length("radius_m", r)?;
        }
        length("least radius", self.radii_m.0)?;
        length("greatest radius", self.radii_m.1)?;
        let (low, high) = self.radii_m;
        let expected = "no less than the least radius";
        within("greatest radius", high, low <= high, expected)?;
        length("gap_m", self.gap_m)?;
        length("cap_m", self.cap_m)?;
        length("unknown_m", self.unknown_m)?;
        let b = self.ball_weight;
        within("ball_weight", b, (0.0..1.0).contains(&b), "0 to below 1")?;
        let n = self.resamples;
        within("resamples", n as f64, n >= 1, "1 or more")?;
        let s = self.resample_share;
        let expected = "above 0 and below 1";
        within("resample_share", s, s > 0.0 && s < 1.0, expected)?;
        let f = self.least_stability;
        within("least_stability", f, (0.0..=1.0).contains(&f), "0 to 1")?;
        let w = self.least_width;
        within("least_width", w, (-1.0..=1.0).contains(&w), "-1 to 1")?;
        Ok(ValidParams(self))
    }
}

impl ValidParams {
    /// The same with the names of places taken from another floor.
    #[must_use]
    pub fn on(mut self, court: Court) -> Self {
        self.0.court = court;
        self
    }

    /// Distances are told apart up to here, metres per player: well beyond any radius.
    pub(crate) fn ceiling(&self) -> f64 {
        1.25 * self.radius_m.unwrap_or(self.radii_m.1)
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
    fn defaults_are_in_range_and_the_rest_is_said() {
        assert!(Params::default().check().is_ok());
        let e = Params {
            gap_m: f64::NAN,
            ..Params::default()
        };
        assert_eq!(
            e.check().unwrap_err().to_string(),
            "gap_m is NaN: expected a finite number of metres above 0"
        );
        let e = Params {
            least: 1,
            ..Params::default()
        };
        assert!(e.check().is_err());
        let e = Params {
            radii_m: (0.5, 0.4),
            ..Params::default()
        };
        assert!(e.check().is_err());
    }
}

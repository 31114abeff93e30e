//! Lengths at the edge of the program: read and shown in feet or metres, held in metres.

use serde::{Deserialize, Serialize};
use std::{fmt, str::FromStr};

/// A unit of length that a file or a person may use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum LengthUnit {
    /// Metres.
    #[serde(rename = "m")]
    Metre,
    /// International feet of 0.3048 m exactly (international yard and pound agreement, 1959).
    #[serde(rename = "ft")]
    Foot,
    /// Centimetres.
    #[serde(rename = "cm")]
    Centimetre,
}

/// A unit name that is not known.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("unknown unit of length `{0}`: expected `m`, `ft` or `cm`")]
pub struct UnitError(pub String);

impl LengthUnit {
    /// Metres in one of this unit.
    #[must_use]
    pub fn in_metres(self) -> f64 {
        match self {
            Self::Metre => 1.0,
            Self::Foot => 0.3048,
            Self::Centimetre => 0.01,
        }
    }

    /// A length in this unit, in metres.
    #[must_use]
    pub fn to_metres(self, value: f64) -> f64 {
        value * self.in_metres()
    }

    /// A length in metres, in this unit.
    #[must_use]
    pub fn from_metres(self, metres: f64) -> f64 {
        metres / self.in_metres()
    }
}

impl fmt::Display for LengthUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Metre => "m",
            Self::Foot => "ft",
            Self::Centimetre => "cm",
        })
    }
}

impl FromStr for LengthUnit {
    type Err = UnitError;

    fn from_str(s: &str) -> Result<Self, UnitError> {
        match s {
            "m" | "metre" | "metres" | "meter" | "meters" => Ok(Self::Metre),
            "ft" | "foot" | "feet" => Ok(Self::Foot),
            "cm" | "centimetre" | "centimetres" | "centimeter" | "centimeters" => {
                Ok(Self::Centimetre)
            }
            other => Err(UnitError(other.to_owned())),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ninety_four_feet_is_a_full_court() {
        // 94 ft = 28.6512 m (94 x 0.3048).
        assert!((LengthUnit::Foot.to_metres(94.0) - 28.6512).abs() < 1e-12);
        assert!((LengthUnit::Foot.from_metres(28.6512) - 94.0).abs() < 1e-12);
    }

    #[test]
    fn unknown_unit_says_what_it_expected() {
        let e = "yd".parse::<LengthUnit>().unwrap_err();
        assert!(e.to_string().contains("`m`, `ft` or `cm`"));
    }
}

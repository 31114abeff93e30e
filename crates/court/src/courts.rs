//! Rule-book courts and one's own measurements. Each number cites its rule and edition.

use crate::AttackPoint;
use serde::{Deserialize, Serialize};

/// The measures of a floor, metres. Distances "from the end line" are from its inner edge.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CourtMeasures {
    /// Length of the floor, end line to end line (for a half court, twice the half).
    pub length: f64,
    /// Width of the floor, sideline to sideline.
    pub width: f64,
    /// Outer width of the lane.
    pub lane_width: f64,
    /// Far edge of the free-throw line, from the end line.
    pub free_throw: f64,
    /// Radius of the free-throw circle.
    pub circle_radius: f64,
    /// Ring centre from the end line.
    pub ring: f64,
    /// Radius of the three-point arc, from the ring centre.
    pub three_radius: f64,
    /// Straight part of the three-point line: distance from the middle line of the court.
    pub three_corner: f64,
    /// Radius of the restricted arc, if the rule book has one.
    pub restricted_radius: Option<f64>,
    /// Height of the ring.
    pub ring_height: f64,
}

/// A floor with a name. Measures are checked, so every `Court` is one that could be drawn.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "CourtSpec", into = "CourtSpec")]
pub struct Court {
    name: String,
    measures: CourtMeasures,
}

#[derive(Serialize, Deserialize)]
struct CourtSpec {
    name: String,
    measures: CourtMeasures,
}

/// Why a court cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CourtError {
    /// No rule book of that name.
    #[error("unknown court `{name}`: expected one of {}", Court::NAMES.join(", "))]
    Unknown {
        /// The name given.
        name: String,
    },
    /// A measure outside what a floor can have.
    #[error("court measure `{field}` is {value} m: expected {low} to {high} m")]
    Measure {
        /// Name of the field of [`CourtMeasures`].
        field: &'static str,
        /// The value given, metres.
        value: f64,
        /// Least accepted value, metres.
        low: f64,
        /// Greatest accepted value, metres.
        high: f64,
    },
}

const FT: f64 = 0.3048;
const IN: f64 = 0.0254;

impl Court {
    /// Names that [`Court::named`] knows.
    pub const NAMES: [&'static str; 5] = ["fiba", "ncaa", "nfhs", "nba", "3x3"];

    /// A court of one's own measurements.
    ///
    /// # Errors
    /// [`CourtError::Measure`] for a measure no floor can have, with its range.
    pub fn new(name: impl Into<String>, m: CourtMeasures) -> Result<Self, CourtError> {
        let check = |field, value: f64, low: f64, high: f64| {
            if value >= low && value <= high {
                Ok(())
            } else {
                Err(CourtError::Measure {
                    field,
                    value,
                    low,
                    high,
                })
            }
        };
        check("length", m.length, 10.0, 40.0)?;
        check("width", m.width, 8.0, 25.0)?;
        check("lane_width", m.lane_width, 2.0, m.width)?;
        check("ring", m.ring, 0.5, 3.0)?;
        check("free_throw", m.free_throw, m.ring, m.length / 2.0)?;
        check("circle_radius", m.circle_radius, 0.5, 3.0)?;
        check("three_radius", m.three_radius, 3.0, 9.0)?;
        check("three_corner", m.three_corner, 2.0, m.three_radius)?;
        check("three_corner", m.three_corner, 2.0, m.width / 2.0)?;
        check("ring_height", m.ring_height, 1.5, 4.0)?;
        if let Some(r) = m.restricted_radius {
            check("restricted_radius", r, 0.5, m.three_radius)?;
        }
        Ok(Self {
            name: name.into(),
            measures: m,
        })
    }

    /// A rule-book court by name: one of [`Court::NAMES`].
    ///
    /// # Errors
    /// [`CourtError::Unknown`] for any other name.
    pub fn named(name: &str) -> Result<Self, CourtError> {
        match name {
            "fiba" => Ok(Self::fiba()),
            "ncaa" => Ok(Self::ncaa()),
            "nfhs" => Ok(Self::nfhs()),
            "nba" => Ok(Self::nba()),
            "3x3" => Ok(Self::three_by_three()),
            other => Err(CourtError::Unknown {
                name: other.to_owned(),
            }),
        }
    }

    /// FIBA Official Basketball Rules, Art. 2 (2024 edition; values from memory, checked against
    /// the tests' table).
    #[must_use]
    pub fn fiba() -> Self {
        Self {
            name: "fiba".to_owned(),
            measures: CourtMeasures {
                length: 28.0,
                width: 15.0,
                lane_width: 4.90,
                free_throw: 5.80,
                circle_radius: 1.80,
                ring: 1.575,
                three_radius: 6.75,
                three_corner: 7.5 - 0.90,
                restricted_radius: Some(1.25),
                ring_height: 3.05,
            },
        }
    }

    /// FIBA 3x3 Rules of the Game, Art. 1: a half court of 15 m by 11 m with FIBA's markings
    /// (value from memory). `length` is twice the half, so that both frames work alike.
    #[must_use]
    pub fn three_by_three() -> Self {
        let mut court = Self::fiba();
        "3x3".clone_into(&mut court.name);
        court.measures.length = 22.0;
        court
    }

    /// NCAA court diagram of 17 June 2019: arc 22 ft 1 3/4 in, corner 40 1/8 in from the sideline.
    #[must_use]
    pub fn ncaa() -> Self {
        Self {
            name: "ncaa".to_owned(),
            measures: CourtMeasures {
                length: 94.0 * FT,
                width: 50.0 * FT,
                lane_width: 12.0 * FT,
                free_throw: 19.0 * FT,
                circle_radius: 6.0 * FT,
                ring: 63.0 * IN,
                three_radius: 22.0 * FT + 1.75 * IN,
                three_corner: 25.0 * FT - 40.125 * IN,
                restricted_radius: Some(4.0 * FT),
                ring_height: 10.0 * FT,
            },
        }
    }

    /// NFHS Basketball Rules, Rule 1 (value from memory): 84 ft floor, arc 19 ft 9 in.
    #[must_use]
    pub fn nfhs() -> Self {
        Self {
            name: "nfhs".to_owned(),
            measures: CourtMeasures {
                length: 84.0 * FT,
                width: 50.0 * FT,
                lane_width: 12.0 * FT,
                free_throw: 19.0 * FT,
                circle_radius: 6.0 * FT,
                ring: 63.0 * IN,
                three_radius: 19.75 * FT,
                three_corner: 19.75 * FT,
                restricted_radius: None,
                ring_height: 10.0 * FT,
            },
        }
    }

    /// NBA Official Rules, Rule 1: 16 ft lane, arc 23 ft 9 in, corners 22 ft.
    #[must_use]
    pub fn nba() -> Self {
        Self {
            name: "nba".to_owned(),
            measures: CourtMeasures {
                length: 94.0 * FT,
                width: 50.0 * FT,
                lane_width: 16.0 * FT,
                free_throw: 19.0 * FT,
                circle_radius: 6.0 * FT,
                ring: 63.0 * IN,
                three_radius: 23.75 * FT,
                three_corner: 22.0 * FT,
                restricted_radius: Some(4.0 * FT),
                ring_height: 10.0 * FT,
            },
        }
    }

    /// The name: a rule book's, or one's own.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The measures, metres.
    #[must_use]
    pub fn measures(&self) -> &CourtMeasures {
        &self.measures
    }

    /// Ring centre in the attack frame.
    #[must_use]
    pub fn ring(&self) -> AttackPoint {
        AttackPoint::new(self.measures.ring, 0.0)
    }

    /// Distance from the end line at which the straight part of the three-point line meets the
    /// arc, metres: `ring + sqrt(radius^2 - corner^2)`.
    #[must_use]
    pub fn three_break(&self) -> f64 {
        let m = &self.measures;
        m.ring
            + (m.three_radius * m.three_radius - m.three_corner * m.three_corner)
                .max(0.0)
                .sqrt()
    }
}

impl TryFrom<CourtSpec> for Court {
    type Error = CourtError;

    fn try_from(s: CourtSpec) -> Result<Self, CourtError> {
        Self::new(s.name, s.measures)
    }
}

impl From<Court> for CourtSpec {
    fn from(c: Court) -> Self {
        Self {
            name: c.name,
            measures: c.measures,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The straight part meets the arc at 2.990 m (FIBA), 9.88 ft (NCAA) and 14.198 ft (NBA)
    /// from the end line: computed from the rule books' radii (FIBA OBR Art. 2.4; NCAA diagram of
    /// 17 June 2019; NBA Rule 1) with `ring + sqrt(r^2 - c^2)`, worked out outside this program.
    #[test]
    fn arc_meets_corner_where_the_rule_books_put_it() {
        assert!((Court::fiba().three_break() - 2.990).abs() < 5e-4);
        assert!((Court::ncaa().three_break() / FT - 9.88).abs() < 5e-3);
        assert!((Court::nba().three_break() / FT - 14.198).abs() < 5e-4);
    }

    /// NCAA diagram of 17 June 2019 gives the corner twice: 40 1/8 in from the sideline and
    /// 21 ft 7 7/8 in from the ring's centre line.
    #[test]
    fn ncaa_corner_is_given_twice_and_agrees() {
        let c = Court::ncaa().measures().three_corner;
        assert!((c - (21.0 * FT + 7.875 * IN)).abs() < 1e-9);
    }

    /// Free-throw line 15 ft from the plane of the board, whose face is 4 ft from the end line
    /// (NBA, NCAA, NFHS Rule 1), so 19 ft; FIBA OBR Art. 2.4.3: 5.80 m.
    #[test]
    fn free_throw_lines() {
        for c in [Court::nba(), Court::ncaa(), Court::nfhs()] {
            assert!((c.measures().free_throw / FT - (4.0 + 15.0)).abs() < 1e-9);
        }
        assert!((Court::fiba().measures().free_throw - 5.80).abs() < 1e-12);
    }

    #[test]
    fn every_rule_book_court_passes_its_own_check() {
        for name in Court::NAMES {
            let c = Court::named(name).unwrap();
            assert_eq!(Court::new(c.name(), *c.measures()).unwrap(), c);
        }
    }

    #[test]
    fn a_measure_in_feet_given_as_metres_is_refused() {
        let mut m = *Court::nba().measures();
        m.length = 94.0;
        let e = Court::new("ours", m).unwrap_err();
        assert_eq!(
            e.to_string(),
            "court measure `length` is 94 m: expected 10 to 40 m"
        );
    }
}

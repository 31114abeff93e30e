//! Named zones, derived from the court so that they move with it.

use crate::{AttackPoint, Court};
use serde::{Deserialize, Serialize};
use std::{fmt, str::FromStr};

/// A named part of the floor, in the attack frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Zone {
    /// The lane, lines included.
    Lane,
    /// Inside the restricted arc; empty where the rule book has none.
    RestrictedArc,
    /// Beyond the three-point line.
    BehindArc,
    /// Inside the three-point line.
    InsideArc,
    /// Beyond the three-point line where it runs straight, left or right.
    CornerThree,
    /// The middle third: lane wide, from the ring out to the three-point line.
    Middle,
    /// The left half, as one faces the basket.
    LeftSide,
    /// The right half, as one faces the basket.
    RightSide,
    /// The attacked half.
    FrontCourt,
}

const NAMES: [(Zone, &str); 9] = [
    (Zone::Lane, "lane"),
    (Zone::RestrictedArc, "restricted arc"),
    (Zone::BehindArc, "behind the arc"),
    (Zone::InsideArc, "inside the arc"),
    (Zone::CornerThree, "corner three"),
    (Zone::Middle, "middle"),
    (Zone::LeftSide, "left side"),
    (Zone::RightSide, "right side"),
    (Zone::FrontCourt, "front court"),
];

/// All zone names, as the playbook writes them.
pub fn zone_names() -> impl Iterator<Item = &'static str> {
    NAMES.iter().map(|(_, n)| *n)
}

impl Zone {
    /// Whether a point of the attack frame lies in the zone.
    #[must_use]
    pub fn contains(self, court: &Court, p: AttackPoint) -> bool {
        let m = court.measures();
        let on_floor = p.x >= 0.0 && p.x <= m.length / 2.0 && p.y.abs() <= m.width / 2.0;
        let inside_arc = if p.x <= court.three_break() {
            p.y.abs() < m.three_corner
        } else {
            p.distance(court.ring()) < m.three_radius
        };
        match self {
            Self::Lane => p.x >= 0.0 && p.x <= m.free_throw && p.y.abs() <= m.lane_width / 2.0,
            Self::RestrictedArc => m
                .restricted_radius
                .is_some_and(|r| p.distance(court.ring()) <= r),
            Self::BehindArc => on_floor && !inside_arc,
            Self::InsideArc => on_floor && inside_arc,
            Self::CornerThree => on_floor && !inside_arc && p.x <= court.three_break(),
            Self::Middle => p.y.abs() <= m.lane_width / 2.0 && p.x >= m.ring && inside_arc,
            Self::LeftSide => on_floor && p.y < 0.0,
            Self::RightSide => on_floor && p.y > 0.0,
            Self::FrontCourt => on_floor,
        }
    }

    /// Signed distance to the lane's boundary, metres: negative inside. Used to say by how much a
    /// screen was set outside the lane.
    #[must_use]
    pub fn lane_offset(court: &Court, p: AttackPoint) -> f64 {
        let m = court.measures();
        let dx = (p.x - m.free_throw).max(-p.x);
        let dy = p.y.abs() - m.lane_width / 2.0;
        if dx <= 0.0 && dy <= 0.0 {
            dx.max(dy)
        } else {
            dx.max(0.0).hypot(dy.max(0.0))
        }
    }

    /// The zone on the other side of the middle.
    #[must_use]
    pub fn mirrored(self) -> Self {
        match self {
            Self::LeftSide => Self::RightSide,
            Self::RightSide => Self::LeftSide,
            other => other,
        }
    }
}

impl fmt::Display for Zone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = NAMES.iter().find(|(z, _)| z == self).map_or("", |(_, n)| n);
        f.write_str(name)
    }
}

impl FromStr for Zone {
    type Err = String;

    fn from_str(s: &str) -> Result<Self, String> {
        NAMES
            .iter()
            .find(|(_, n)| *n == s)
            .map(|(z, _)| *z)
            .ok_or_else(|| s.to_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lane_is_as_wide_as_the_rule_book_says() {
        let fiba = Court::fiba();
        assert!(Zone::Lane.contains(&fiba, AttackPoint::new(3.0, 2.44)));
        assert!(!Zone::Lane.contains(&fiba, AttackPoint::new(3.0, 2.46)));
        assert!(!Zone::Lane.contains(&fiba, AttackPoint::new(5.81, 0.0)));
        assert!((Zone::lane_offset(&fiba, AttackPoint::new(3.0, 3.05)) - 0.60).abs() < 1e-9);
        assert!(Zone::lane_offset(&fiba, AttackPoint::new(3.0, 2.0)) < 0.0);
    }

    #[test]
    fn arc_zones_share_the_floor() {
        let c = Court::nba();
        let mut p = AttackPoint::new(0.05, -7.5);
        while p.x < 14.0 {
            p.y = -7.5;
            while p.y < 7.5 {
                assert_ne!(
                    Zone::BehindArc.contains(&c, p),
                    Zone::InsideArc.contains(&c, p)
                );
                p.y += 0.31;
            }
            p.x += 0.37;
        }
    }

    #[test]
    fn names_round_trip() {
        for n in zone_names() {
            assert_eq!(n.parse::<Zone>().unwrap().to_string(), n);
        }
    }
}

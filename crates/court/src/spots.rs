//! Named spots, derived from the court.
//!
//! Names and places are common practice, no published source; where a spot is defined by a
//! line of the floor (elbow, block, corner) it follows the rule book's measure for that line.

use crate::{AttackPoint, Court};
use std::fmt;

/// A known spot name, with its side where it has one: `"top"`, `"left wing"`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct SpotName(&'static str);

impl SpotName {
    /// The name as the playbook writes it.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        self.0
    }
}

impl fmt::Display for SpotName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.0)
    }
}

/// Half a metre outside the three-point line: where a shooter's feet are. Common practice.
const OFF_THE_LINE: f64 = 0.5;

const CENTRAL: [&str; 6] = ["top", "point", "high post", "nail", "rim", "half court"];
const LEFT: [&str; 10] = [
    "left slot",
    "left wing",
    "left corner",
    "left short corner",
    "left elbow",
    "left block",
    "left mid post",
    "left dunker spot",
    "left baseline",
    "left hash",
];
const RIGHT: [&str; 10] = [
    "right slot",
    "right wing",
    "right corner",
    "right short corner",
    "right elbow",
    "right block",
    "right mid post",
    "right dunker spot",
    "right baseline",
    "right hash",
];

/// All spot names, as the playbook writes them.
pub fn spot_names() -> impl Iterator<Item = &'static str> {
    CENTRAL.into_iter().chain(LEFT).chain(RIGHT)
}

/// The place of a named spot on a court, or `None` for a name it does not know.
///
/// `"left …"` and `"right …"` are as one faces the basket; left has negative `y`.
#[must_use]
pub fn spot(court: &Court, name: &str) -> Option<(SpotName, AttackPoint)> {
    let known = spot_names().find(|n| *n == name)?;
    let place = if let Some(rest) = name.strip_prefix("left ") {
        right_spot(court, rest)?.mirrored()
    } else if let Some(rest) = name.strip_prefix("right ") {
        right_spot(court, rest)?
    } else {
        central_spot(court, name)?
    };
    Some((SpotName(known), place))
}

fn on_arc(court: &Court, degrees: f64) -> AttackPoint {
    // Measured at the ring from straight out; 0 is the top, 90 would be along the end line.
    let r = court.measures().three_radius + OFF_THE_LINE;
    let a = degrees.to_radians();
    let ring = court.ring();
    AttackPoint::new(ring.x + r * a.cos(), r * a.sin())
}

fn central_spot(court: &Court, name: &str) -> Option<AttackPoint> {
    let m = court.measures();
    Some(match name {
        "top" => on_arc(court, 0.0),
        "point" => AttackPoint::new(on_arc(court, 0.0).x + 1.2, 0.0),
        "high post" => AttackPoint::new(m.free_throw, 0.0),
        "nail" => AttackPoint::new(m.free_throw - 0.3, 0.0),
        "rim" => court.ring(),
        "half court" => AttackPoint::new(m.length / 2.0, 0.0),
        _ => return None,
    })
}

fn right_spot(court: &Court, name: &str) -> Option<AttackPoint> {
    let m = court.measures();
    let lane = m.lane_width / 2.0;
    // Between the straight three-point line and the sideline, toes just outside the line.
    let corner_y = (m.three_corner + OFF_THE_LINE).min(m.width / 2.0 - 0.3);
    Some(match name {
        "slot" => on_arc(court, 28.0),
        "wing" => {
            let p = on_arc(court, 62.0);
            AttackPoint::new(p.x, p.y.min(m.width / 2.0 - 0.5))
        }
        "corner" => AttackPoint::new(1.2, corner_y),
        "short corner" => AttackPoint::new(1.2, (lane + m.three_corner) / 2.0),
        "elbow" => AttackPoint::new(m.free_throw, lane),
        "block" => AttackPoint::new(m.ring + 0.7, lane),
        "mid post" => AttackPoint::new((m.ring + m.free_throw) / 2.0, lane + 0.2),
        "dunker spot" => AttackPoint::new(0.9, lane + 0.4),
        "baseline" => AttackPoint::new(0.3, lane + 1.0),
        "hash" => AttackPoint::new(8.5_f64.min(m.length / 2.0), m.width / 2.0 - 1.0),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Zone;

    #[test]
    fn every_name_has_a_place_on_every_floor() {
        for name in Court::NAMES {
            let c = Court::named(name).unwrap();
            for n in spot_names() {
                let (_, p) = spot(&c, n).unwrap();
                assert!(Zone::FrontCourt.contains(&c, p), "{n} on {name}: {p:?}");
            }
        }
    }

    #[test]
    fn perimeter_spots_are_behind_the_arc_and_elbows_on_the_lane() {
        for name in Court::NAMES {
            let c = Court::named(name).unwrap();
            for n in [
                "top",
                "left slot",
                "right wing",
                "left corner",
                "right corner",
            ] {
                assert!(
                    Zone::BehindArc.contains(&c, spot(&c, n).unwrap().1),
                    "{n} on {name}"
                );
            }
            // An elbow is where the free-throw line meets the lane line.
            let e = spot(&c, "right elbow").unwrap().1;
            assert!((e.x - c.measures().free_throw).abs() < 1e-12);
            assert!((e.y - c.measures().lane_width / 2.0).abs() < 1e-12);
        }
    }

    #[test]
    fn left_is_negative() {
        let c = Court::fiba();
        assert!(spot(&c, "left wing").unwrap().1.y < 0.0);
        assert!(spot(&c, "nowhere").is_none());
    }
}

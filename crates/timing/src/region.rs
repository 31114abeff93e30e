//! How far a place is from keeping a declared placement.

use setdrift_court::{AttackPoint, Court, Zone};
use setdrift_playbook::graph::Placement;

/// Signed distance to a zone's edge, metres: negative inside. Beyond 10 m it is 10 m.
///
/// The edge is found along 360 rays by bisection, so any zone of the court works; the value
/// is never too small, and too large by under 0.01 % before an edge and 0.5 % before a corner.
#[must_use]
pub fn zone_distance(zone: Zone, court: &Court, p: AttackPoint) -> f64 {
    const FAR: f64 = 10.0;
    const STRIDE: f64 = 0.05;
    let inside = zone.contains(court, p);
    let mut best = FAR;
    for k in 0..360 {
        let a = f64::from(k) * std::f64::consts::TAU / 360.0;
        let at = |r: f64| AttackPoint::new(p.x + r * a.cos(), p.y + r * a.sin());
        let mut r = 0.0;
        while r < best {
            if zone.contains(court, at(r + STRIDE)) == inside {
                r += STRIDE;
                continue;
            }
            let (mut lo, mut hi) = (r, r + STRIDE);
            for _ in 0..20 {
                let mid = 0.5 * (lo + hi);
                if zone.contains(court, at(mid)) == inside {
                    lo = mid;
                } else {
                    hi = mid;
                }
            }
            best = best.min(hi);
            break;
        }
    }
    if inside { -best } else { best }
}

/// By how much a place misses a placement, metres: 0 or less where it is kept. `None` for
/// facing, which a place alone cannot tell.
#[must_use]
pub fn off_by(placement: &Placement, court: &Court, p: AttackPoint) -> Option<f64> {
    Some(match placement {
        Placement::Inside(zone) => zone_distance(*zone, court, p),
        Placement::Outside(zone) => -zone_distance(*zone, court, p),
        Placement::Within {
            distance, place, ..
        } => p.distance(*place) - distance,
        Placement::Above { place, .. } => place.x - p.x,
        Placement::Below { place, .. } => p.x - place.x,
        Placement::Facing { .. } => return None,
    })
}

/// A placement as declared: `inside the lane`.
#[must_use]
pub fn named(placement: &Placement, length: impl Fn(f64) -> String) -> String {
    match placement {
        Placement::Inside(z) => format!("inside the {}", bare(*z)),
        Placement::Outside(z) => format!("outside the {}", bare(*z)),
        Placement::Within { distance, name, .. } => {
            format!("within {} of {name}", length(*distance))
        }
        Placement::Above { name, .. } => format!("above {name}"),
        Placement::Below { name, .. } => format!("below {name}"),
        Placement::Facing { name, .. } => format!("facing {name}"),
    }
}

/// A zone's name so that it reads after `the`.
fn bare(zone: Zone) -> String {
    match zone {
        Zone::BehindArc => "area behind the arc".to_owned(),
        Zone::InsideArc => "area inside the arc".to_owned(),
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distance_to_the_lane_is_the_closed_form() {
        let court = Court::fiba();
        for (x, y) in [(3.0, 3.05), (3.0, 2.0), (7.0, 0.3), (6.5, 3.0), (5.5, 0.0)] {
            let p = AttackPoint::new(x, y);
            // The floor ends at the end line, but so does the lane: only its other edges count.
            let exact = Zone::lane_offset(&court, p);
            let found = zone_distance(Zone::Lane, &court, p);
            assert!((found - exact).abs() < 5e-3, "{x} {y}: {found} {exact}");
        }
    }

    #[test]
    fn distance_to_the_arc_is_the_radius_left() {
        let court = Court::fiba();
        let p = AttackPoint::new(court.ring().x + 6.25, 0.0);
        assert!((zone_distance(Zone::BehindArc, &court, p) - 0.5).abs() < 2e-3);
        assert!((zone_distance(Zone::InsideArc, &court, p) + 0.5).abs() < 2e-3);
    }
}

//! By how much a placement was missed.

use setdrift_court::{AttackPoint, Court, Zone};
use setdrift_playbook::graph::Placement;

/// Metres by which a place misses a placement; not above 0 when it is kept; `None` where the
/// simulator does not know (facing).
pub(crate) fn off_by(court: &Court, placement: &Placement, at: AttackPoint) -> Option<f64> {
    match placement {
        Placement::Inside(z) => Some(outside(court, *z, at)),
        Placement::Outside(z) => Some(-outside(court, *z, at)),
        Placement::Within {
            distance, place, ..
        } => {
            let (dx, dy) = (at.x - place.x, at.y - place.y);
            Some((dx * dx + dy * dy).sqrt() - distance)
        }
        Placement::Above { place, .. } => Some(place.x - at.x),
        Placement::Below { place, .. } => Some(at.x - place.x),
        Placement::Facing { .. } => None,
    }
}

/// Signed distance to a zone's boundary, negative inside, to 0.02 m, searched up to 4 m.
fn outside(court: &Court, zone: Zone, at: AttackPoint) -> f64 {
    let inside = zone.contains(court, at);
    let sign = if inside { -1.0 } else { 1.0 };
    for ring in 1..=200 {
        let r = f64::from(ring) * 0.02;
        for k in 0..72 {
            let a = f64::from(k) * std::f64::consts::PI / 36.0;
            let p = AttackPoint::new(at.x + r * libm::cos(a), at.y + r * libm::sin(a));
            if zone.contains(court, p) != inside {
                return sign * r;
            }
        }
    }
    sign * 4.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lane_is_missed_by_its_distance() {
        let c = Court::fiba();
        // The FIBA lane is 4.90 m wide: 3.05 m from the middle is 0.60 m outside.
        let p = Placement::Inside(Zone::Lane);
        let off = off_by(&c, &p, AttackPoint::new(3.0, 3.05)).unwrap();
        assert!((off - 0.60).abs() < 0.03, "{off}");
        let off = off_by(&c, &p, AttackPoint::new(3.0, 2.05)).unwrap();
        assert!((off + 0.40).abs() < 0.03, "{off}");
    }
}

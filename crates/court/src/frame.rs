//! The two coordinate frames, each with its own type so that they cannot be mixed.

use crate::Court;
use serde::{Deserialize, Serialize};

/// A point in the *court frame*, metres: origin at the centre of the floor, `x` along the
/// length, `y` across, right-handed as seen from above.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct CourtPoint {
    /// Along the length, from the centre, metres.
    pub x: f64,
    /// Across, from the centre, metres.
    pub y: f64,
}

/// A point in the *attack frame*, metres: origin at the middle of the attacked end line, `x`
/// into the court, `y` to the right of a player who faces the basket.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct AttackPoint {
    /// Distance from the attacked end line, metres.
    pub x: f64,
    /// Distance to the right of the middle as one faces the basket, metres.
    pub y: f64,
}

/// The end of the floor that is attacked, by the sign of `x` in the court frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum End {
    /// The end line at negative `x`.
    Left,
    /// The end line at positive `x`.
    Right,
}

impl End {
    /// The other end.
    #[must_use]
    pub fn other(self) -> Self {
        match self {
            Self::Left => Self::Right,
            Self::Right => Self::Left,
        }
    }
}

impl CourtPoint {
    /// A point from its coordinates in metres.
    #[must_use]
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Distance to another point, metres.
    #[must_use]
    pub fn distance(self, other: Self) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }

    /// The same place in the attack frame of `end`.
    #[must_use]
    pub fn to_attack(self, court: &Court, end: End) -> AttackPoint {
        let half = court.measures().length / 2.0;
        match end {
            End::Left => AttackPoint::new(half + self.x, self.y),
            End::Right => AttackPoint::new(half - self.x, -self.y),
        }
    }
}

impl AttackPoint {
    /// A point from its coordinates in metres.
    #[must_use]
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Distance to another point, metres.
    #[must_use]
    pub fn distance(self, other: Self) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }

    /// The same place on the other side of the middle: right becomes left.
    #[must_use]
    pub fn mirrored(self) -> Self {
        Self::new(self.x, -self.y)
    }

    /// The same place in the court frame, when `end` is the end attacked.
    #[must_use]
    pub fn to_court(self, court: &Court, end: End) -> CourtPoint {
        let half = court.measures().length / 2.0;
        match end {
            End::Left => CourtPoint::new(self.x - half, self.y),
            End::Right => CourtPoint::new(half - self.x, -self.y),
        }
    }

    /// The point a share `t` of the way to `other`; `t` in 0..=1, not clamped.
    #[must_use]
    pub fn lerp(self, other: Self, t: f64) -> Self {
        Self::new(
            self.x + (other.x - self.x) * t,
            self.y + (other.y - self.y) * t,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn right_of_a_player_who_faces_the_basket() {
        let court = Court::fiba();
        // Attacking positive x, the player's right hand is at negative y.
        let p = CourtPoint::new(10.0, -3.0).to_attack(&court, End::Right);
        assert_eq!(p, AttackPoint::new(4.0, 3.0));
        // Attacking negative x, it is at positive y.
        let p = CourtPoint::new(-10.0, 3.0).to_attack(&court, End::Left);
        assert_eq!(p, AttackPoint::new(4.0, 3.0));
    }

    #[test]
    fn frames_round_trip() {
        let court = Court::nba();
        for end in [End::Left, End::Right] {
            let p = CourtPoint::new(3.25, -6.5);
            let q = p.to_attack(&court, end).to_court(&court, end);
            assert!(p.distance(q) < 1e-12);
        }
    }
}

//! Limits of the cleaning steps.

use crate::error::Problem;
use serde::{Deserialize, Serialize};

/// Limits of the cleaning steps, and which steps are taken. The `[cleaning]` table of a mapping.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub struct Cleaning {
    /// Cut out movement no human makes.
    pub cut_jumps: bool,
    /// Fastest a player may be, m/s. Default 12.5: the fastest sprint measured is 12.35 m/s
    /// (Graubner and Nixdorf 2011, World Championships in Athletics, Berlin 2009, 100 m).
    pub max_speed: f64,
    /// Hardest a player may accelerate or brake, m/s². Default 20: sprint starts reach about 10,
    /// stops more (values from memory), and a position is cut only beyond noise as well.
    pub max_acceleration: f64,
    /// Fastest the ball may be, m/s. Default 40: above any throw across a floor (value from memory).
    pub max_ball_speed: f64,
    /// Leave a player unknown while on the bench.
    pub leave_floor: bool,
    /// Beyond the lines by how much the bench begins, metres. Default 1.5; FIBA OBR Art. 2.4.5
    /// puts the team bench areas 2 m outside (value from memory).
    pub margin: f64,
    /// Undo exchanges of two players' identities where they are beyond doubt, and leave both
    /// unknown where they are not. A mapping is written without these four while they are as here.
    #[serde(skip_serializing_if = "is_true")]
    pub mend_swaps: bool,
    /// How near two players must be to be exchanged, metres. Default 3.
    #[serde(skip_serializing_if = "is_usual_distance")]
    pub swap_distance: f64,
    /// How much likelier than not an exchange must be to be undone. Default 10⁶.
    #[serde(skip_serializing_if = "is_usual_odds")]
    pub swap_odds: f64,
    /// How long after a doubtful exchange the two stay unknown, seconds. Default 24, a shot clock
    /// (FIBA OBR Art. 29): a possession, so no verdict rests on a doubtful identity.
    #[serde(skip_serializing_if = "is_usual_doubt")]
    pub swap_doubt: f64,
    /// Smooth players' positions.
    pub smooth: bool,
    /// Longest smoothing window, seconds. Default 0.28: 7 frames at 25 Hz. Onsets are spread by at
    /// most half of it, see [`super::Smoothing`].
    pub window: f64,
    /// Fill short gaps.
    pub fill_gaps: bool,
    /// Longest gap of a player that is filled, seconds. Default 0.5: at 5 m/s² a path can leave
    /// the filled one by at most `a T² / 8` = 0.16 m.
    pub max_gap: f64,
    /// Longest gap of the ball that is filled, seconds. Default 0.2.
    pub max_ball_gap: f64,
}

const SWAP_DISTANCE: f64 = 3.0;
const SWAP_ODDS: f64 = 1e6;
const SWAP_DOUBT: f64 = 24.0;

// What serde asks for takes references.
fn is_true(v: &bool) -> bool {
    *v
}

fn is_usual_distance(v: &f64) -> bool {
    *v == SWAP_DISTANCE
}

fn is_usual_odds(v: &f64) -> bool {
    *v == SWAP_ODDS
}

fn is_usual_doubt(v: &f64) -> bool {
    *v == SWAP_DOUBT
}

impl Default for Cleaning {
    fn default() -> Self {
        Self {
            cut_jumps: true,
            max_speed: 12.5,
            max_acceleration: 20.0,
            max_ball_speed: 40.0,
            leave_floor: true,
            margin: 1.5,
            mend_swaps: true,
            swap_distance: SWAP_DISTANCE,
            swap_odds: SWAP_ODDS,
            swap_doubt: SWAP_DOUBT,
            smooth: true,
            window: 0.28,
            fill_gaps: true,
            max_gap: 0.5,
            max_ball_gap: 0.2,
        }
    }
}

impl Cleaning {
    /// No step at all: frames only.
    #[must_use]
    pub fn none() -> Self {
        Self {
            cut_jumps: false,
            leave_floor: false,
            mend_swaps: false,
            smooth: false,
            fill_gaps: false,
            ..Self::default()
        }
    }

    /// Switches of the steps that are not taken, as a mapping names them.
    #[must_use]
    pub fn switched_off(&self) -> Vec<&'static str> {
        [
            ("cut-jumps", self.cut_jumps),
            ("leave-floor", self.leave_floor),
            ("mend-swaps", self.mend_swaps),
            ("smooth", self.smooth),
            ("fill-gaps", self.fill_gaps),
        ]
        .into_iter()
        .filter(|(_, on)| !on)
        .map(|(name, _)| name)
        .collect()
    }

    /// Whether the limits can be meant.
    ///
    /// # Errors
    /// [`Problem::Value`] for the first that cannot.
    pub fn check(&self) -> Result<(), Problem> {
        let limits = [
            ("cleaning.max-speed", self.max_speed, 5.0, 30.0),
            (
                "cleaning.max-acceleration",
                self.max_acceleration,
                5.0,
                200.0,
            ),
            ("cleaning.max-ball-speed", self.max_ball_speed, 10.0, 100.0),
            ("cleaning.margin", self.margin, 0.0, 20.0),
            ("cleaning.swap-distance", self.swap_distance, 0.5, 10.0),
            ("cleaning.swap-odds", self.swap_odds, 10.0, 1e30),
            ("cleaning.swap-doubt", self.swap_doubt, 0.0, 600.0),
            ("cleaning.window", self.window, 0.0, 2.0),
            ("cleaning.max-gap", self.max_gap, 0.0, 3.0),
            ("cleaning.max-ball-gap", self.max_ball_gap, 0.0, 3.0),
        ];
        for (field, v, low, high) in limits {
            if !(v >= low && v <= high) {
                return Err(Problem::Value {
                    field: field.to_owned(),
                    found: v.to_string(),
                    expected: format!("a number from {low} to {high}"),
                });
            }
        }
        Ok(())
    }
}

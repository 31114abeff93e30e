//! The floor: rule-book courts, the two coordinate frames, named spots and zones.
//!
//! Everything here is in metres. `court` reads no file and knows nothing of players.

mod courts;
mod frame;
mod spots;
mod units;
mod zones;

pub use courts::{Court, CourtError, CourtMeasures};
pub use frame::{AttackPoint, CourtPoint, End};
pub use spots::{SpotName, spot, spot_names};
pub use units::{LengthUnit, UnitError};
pub use zones::{Zone, zone_names};

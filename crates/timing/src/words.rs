//! Lengths, times and places in words, for people who think in the playbook's unit.

use setdrift_court::{AttackPoint, LengthUnit};
use setdrift_playbook::graph::{CueEvent, Graph};

/// A length in the playbook's unit: `2.1 ft`, `0.6 m`.
#[must_use]
pub fn length(unit: LengthUnit, metres: f64) -> String {
    match unit {
        LengthUnit::Metre => format!("{metres:.2} m"),
        LengthUnit::Foot | LengthUnit::Centimetre => {
            format!("{:.1} {unit}", unit.from_metres(metres))
        }
    }
}

/// Why a start is not known whose standard deviation is `sd_s` seconds.
#[must_use]
pub fn uncertain(sd_s: f64) -> String {
    format!("the start is uncertain by {sd_s:.2} s at this rate and noise")
}

/// Where `at` is as seen from `place`, in words that hold for both hands:
/// `2.0 ft above and 1.0 ft wide of`. Empty within 5 cm.
#[must_use]
pub fn offset(unit: LengthUnit, at: AttackPoint, place: AttackPoint) -> String {
    let mut parts = Vec::new();
    let up = at.x - place.x;
    if up.abs() >= 0.05 {
        let word = if up > 0.0 { "above" } else { "below" };
        parts.push(format!("{} {word}", length(unit, up.abs())));
    }
    let across = at.y - place.y;
    if across.abs() >= 0.05 {
        // Away from the middle is wide; a place in the middle has no wide side.
        let word = if place.y.abs() < 0.3 {
            "to the side"
        } else if across * place.y > 0.0 {
            "wide"
        } else {
            "towards the middle"
        };
        parts.push(format!("{} {word}", length(unit, across.abs())));
    }
    parts.join(" and ")
}

/// Session time as minutes and seconds: `12:04.5`.
#[must_use]
pub fn clock(seconds: f64) -> String {
    let tenths = (seconds.abs() * 10.0).round() as u64;
    let sign = if seconds < 0.0 && tenths > 0 {
        "−"
    } else {
        ""
    };
    let (minutes, rest) = (tenths / 600, tenths % 600);
    format!("{sign}{minutes}:{:02}.{}", rest / 10, rest % 10)
}

/// A lag in words: `0.34 s after`, `0.10 s before`.
#[must_use]
pub fn lag(seconds: f64) -> String {
    if seconds >= 0.0 {
        format!("{seconds:.2} s after")
    } else {
        format!("{:.2} s before", -seconds)
    }
}

/// A cue in words: `the pass of 1`.
#[must_use]
pub fn cue(graph: &Graph, role: usize, event: &CueEvent) -> String {
    let r = graph.roles.get(role).map_or("?", String::as_str);
    match event {
        CueEvent::Passes => format!("the pass of {r}"),
        CueEvent::Catches => format!("the catch of {r}"),
        CueEvent::Dribbles => format!("the first dribble of {r}"),
        CueEvent::Screens => format!("the screen of {r}"),
        CueEvent::HandsOff => format!("the hand-off of {r}"),
        CueEvent::Reaches { name, .. } => format!("{r} reaching {name}"),
        CueEvent::Cuts => format!("the cut of {r}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_read_the_same_for_both_hands() {
        let (a, b) = (AttackPoint::new(6.0, 3.5), AttackPoint::new(5.0, 3.0));
        let right = offset(LengthUnit::Metre, a, b);
        let left = offset(LengthUnit::Metre, a.mirrored(), b.mirrored());
        assert_eq!(right, "1.00 m above and 0.50 m wide");
        assert_eq!(left, right);
    }
}

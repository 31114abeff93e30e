//! Numbers and names as people read them.

use setdrift_court::LengthUnit;
use setdrift_season::results::Results;
pub use setdrift_season::words::clock;
use setdrift_tracks::{OutcomeKind, Session, SessionKind};

/// A length in metres with its unit: `3.9 ft`, `1.2 m`, `120 cm`.
pub fn length(metres: f64, unit: LengthUnit) -> String {
    let v = unit.from_metres(metres);
    match unit {
        LengthUnit::Centimetre => format!("{} {unit}", tidy(v, 0)),
        LengthUnit::Foot | LengthUnit::Metre => format!("{} {unit}", tidy(v, 1)),
    }
}

/// A rounded number without a negative zero.
pub fn tidy(value: f64, decimals: usize) -> String {
    let s = format!("{value:.decimals$}");
    if s.trim_start_matches('-')
        .chars()
        .all(|c| c == '0' || c == '.')
    {
        s.trim_start_matches('-').to_owned()
    } else {
        s.replace('-', "−")
    }
}

/// A rounded number with its sign, also where it is positive.
pub fn signed(value: f64, decimals: usize) -> String {
    let s = tidy(value, decimals);
    if s.starts_with('−') || s.chars().all(|c| c == '0' || c == '.') {
        s
    } else {
        format!("+{s}")
    }
}

/// A duration in words for long stretches: `41 s`, `12 min`.
pub fn span(seconds: f64) -> String {
    if seconds < 120.0 {
        format!("{} s", tidy(seconds, 0))
    } else {
        format!("{} min", tidy(seconds / 60.0, 0))
    }
}

/// Seconds, to hundredths: `0.62 s`.
pub fn secs(seconds: f64) -> String {
    format!("{} s", tidy(seconds, 2))
}

/// `1 run`, `2 runs`.
pub fn count(n: usize, noun: &str) -> String {
    if n == 1 {
        format!("1 {noun}")
    } else {
        format!("{n} {noun}s")
    }
}

/// A share in per cent, with what it is a share of left to the sentence around it.
pub fn percent(part: f64, whole: f64) -> String {
    if whole > 0.0 {
        format!("{} %", tidy(100.0 * part / whole, 0))
    } else {
        "–".to_owned()
    }
}

/// `a`, `a and b`, `a, b and c`.
pub fn list(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [rest @ .., last] => format!("{} and {last}", rest.join(", ")),
    }
}

/// What a declared window says: `0 to 0.5 s after its cue`.
pub fn window((from, to): (f64, f64)) -> String {
    let short = |v: f64| format!("{}", (v * 100.0).round() / 100.0 + 0.0).replace('-', "−");
    format!("{} to {} s", short(from), short(to))
}

/// What happened at the end of a possession.
pub fn outcome(kind: OutcomeKind) -> &'static str {
    match kind {
        OutcomeKind::Unknown => "result not known",
        known => setdrift_season::words::outcome(known),
    }
}

/// Short names of the sessions, unique on the page: `Practice`, `Game 1`, `Game 2`.
pub fn session_names(results: &Results) -> Vec<String> {
    let total = |kind| {
        results
            .sessions
            .iter()
            .filter(|s| s.session.kind == kind)
            .count()
    };
    let (games, practices) = (total(SessionKind::Game), total(SessionKind::Practice));
    let (mut game, mut practice) = (0, 0);
    results
        .sessions
        .iter()
        .map(|s| {
            let (noun, n, of) = match s.session.kind {
                SessionKind::Game => {
                    game += 1;
                    ("Game", game, games)
                }
                SessionKind::Practice => {
                    practice += 1;
                    ("Practice", practice, practices)
                }
            };
            if of > 1 {
                format!("{noun} {n}")
            } else {
                noun.to_owned()
            }
        })
        .collect()
}

/// A session's short name as a sign: `Practice` is `P`, `Game 2` is `G2`.
pub fn initials(name: &str) -> String {
    name.split(' ')
        .filter_map(|w| w.chars().next().map(|c| (c, w)))
        .map(|(c, w)| {
            if c.is_ascii_digit() {
                w.to_owned()
            } else {
                c.to_string()
            }
        })
        .collect()
}

/// Date and opponent of a session, or its id where neither is known.
pub fn session_about(session: &Session) -> String {
    let mut parts = Vec::new();
    if let Some(date) = &session.date {
        parts.push(date.clone());
    }
    if let Some(opponent) = &session.opponent {
        parts.push(format!("v {opponent}"));
    }
    if parts.is_empty() {
        session.id.clone()
    } else {
        parts.join(", ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clock_carries_over_the_minute() {
        assert_eq!(clock(59.96), "1:00.0");
        assert_eq!(clock(0.0), "0:00.0");
        assert_eq!(clock(-1.26), "−0:01.3");
        assert_eq!(clock(-0.01), "0:00.0");
    }

    #[test]
    fn lengths_in_the_readers_unit() {
        assert_eq!(length(0.3048, LengthUnit::Foot), "1.0 ft");
        assert_eq!(length(-0.01, LengthUnit::Foot), "0.0 ft");
        assert_eq!(length(1.25, LengthUnit::Centimetre), "125 cm");
        assert_eq!(signed(0.04, 1), "0.0");
        assert_eq!(signed(1.0, 1), "+1.0");
        assert_eq!(signed(-1.0, 1), "−1.0");
    }

    #[test]
    fn signs_of_sessions() {
        assert_eq!(initials("Practice"), "P");
        assert_eq!(initials("Game 12"), "G12");
    }

    #[test]
    fn lists_read_aloud() {
        let v: Vec<String> = ["a", "b", "c"].map(String::from).to_vec();
        assert_eq!(list(&v), "a, b and c");
        assert_eq!(list(&v[..1]), "a");
    }
}

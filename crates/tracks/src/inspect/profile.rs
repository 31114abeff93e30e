//! What a column holds, and what its name says.

use crate::mapping::Wide;
use crate::table::{instant, number, seconds};
use std::collections::BTreeSet;

/// What a column holds.
pub(super) struct Profile {
    pub(super) name: String,
    pub(super) words: Vec<String>,
    pub(super) numeric: bool,
    pub(super) whole: bool,
    pub(super) clock: bool,
    pub(super) iso: bool,
    /// It never goes back, or never forward.
    pub(super) steady: bool,
    pub(super) falling: bool,
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) distinct: usize,
    pub(super) filled: usize,
}

impl Profile {
    pub(super) fn new(name: &str, cells: &[String], comma: bool) -> Self {
        let decimal = |c: &str| {
            if comma {
                c.replace(',', ".")
            } else {
                c.to_owned()
            }
        };
        let present: Vec<&String> = cells.iter().filter(|c| !c.is_empty()).collect();
        let numbers: Vec<Option<f64>> = present.iter().map(|c| number(&decimal(c))).collect();
        let numeric = !present.is_empty() && numbers.iter().all(Option::is_some);
        let clock = !numeric
            && !present.is_empty()
            && present
                .iter()
                .all(|c| c.contains(':') && seconds(&decimal(c)).is_some());
        let iso = !numeric
            && !clock
            && !present.is_empty()
            && present.iter().take(200).all(|c| instant(c).is_some());
        let values: Vec<f64> = if numeric {
            numbers.into_iter().flatten().collect()
        } else if clock {
            present
                .iter()
                .filter_map(|c| seconds(&decimal(c)))
                .collect()
        } else if iso {
            present
                .iter()
                .filter_map(|c| instant(c))
                .map(|n| n as f64 / 1e9)
                .collect()
        } else {
            Vec::new()
        };
        let distinct = present.iter().collect::<BTreeSet<_>>().len();
        Self {
            name: name.to_owned(),
            words: words(name),
            numeric,
            whole: numeric && values.iter().all(|v| v.fract() == 0.0),
            clock,
            iso,
            steady: values.windows(2).all(|w| w[0] <= w[1]),
            falling: values.windows(2).all(|w| w[0] >= w[1]),
            low: values.iter().copied().fold(f64::INFINITY, f64::min),
            high: values.iter().copied().fold(f64::NEG_INFINITY, f64::max),
            distinct,
            filled: present.len(),
        }
    }
}

/// Words of a name: cut at signs and where small letters turn into capitals; lower case.
pub(super) fn words(name: &str) -> Vec<String> {
    let mut out = vec![String::new()];
    let mut before = ' ';
    for c in name.chars() {
        let cut = !c.is_alphanumeric()
            || (c.is_uppercase() && before.is_lowercase())
            || (c.is_ascii_digit() != before.is_ascii_digit() && before.is_alphanumeric());
        if cut {
            out.push(String::new());
        }
        if c.is_alphanumeric()
            && let Some(last) = out.last_mut()
        {
            last.extend(c.to_lowercase());
        }
        before = c;
    }
    out.retain(|w| !w.is_empty());
    out
}
/// Pairs of columns whose names differ only in x and y, with the pattern most of them share.
pub(super) fn wide_pattern(profiles: &[Profile]) -> Option<(Wide, usize)> {
    let names: Vec<&str> = profiles.iter().map(|p| p.name.as_str()).collect();
    let mut patterns: Vec<(String, String, String, usize)> = Vec::new();
    for name in &names {
        for (at, c) in name.char_indices().filter(|(_, c)| matches!(c, 'x' | 'X')) {
            let swap = |to: char| {
                let to = if c == 'X' {
                    to.to_ascii_uppercase()
                } else {
                    to
                };
                format!("{}{to}{}", &name[..at], &name[at + 1..])
            };
            let y = swap('y');
            if !names.contains(&y.as_str()) {
                continue;
            }
            // Where the object's own text is: before or behind the letter.
            let (before, after) = (&name[..at], &name[at + 1..]);
            let lead = after.chars().take_while(|c| !c.is_alphanumeric()).count();
            let (px, py, pz) = if before.is_empty() && after.len() > lead {
                let sign = &after[..lead];
                let p = |l: &str| format!("{l}{sign}{{object}}");
                (p(&name[at..=at]), p(&y[at..=at]), p(&swap('z')[at..=at]))
            } else {
                let signs = before.len()
                    - before
                        .trim_end_matches(|c: char| !c.is_alphanumeric())
                        .len();
                if signs == before.len() {
                    continue;
                }
                let sign = &before[before.len() - signs..];
                let p = |l: &str| format!("{{object}}{sign}{l}{after}");
                (p(&name[at..=at]), p(&y[at..=at]), p(&swap('z')[at..=at]))
            };
            match patterns.iter_mut().find(|p| p.0 == px) {
                Some(p) => p.3 += 1,
                None => patterns.push((px, py, pz, 1)),
            }
            break;
        }
    }
    let (x, y, z, n) = patterns.into_iter().max_by_key(|p| p.3)?;
    let w = Wide {
        x: Some(x),
        y: Some(y),
        z: Some(z),
        objects: Vec::new(),
    };
    (n >= 2).then_some((w, n))
}

pub(super) fn wide_objects(profiles: &[Profile], wide: &Wide) -> Vec<String> {
    let pattern = wide.x.clone().unwrap_or_default();
    let (before, after) = pattern.split_once("{object}").unwrap_or_default();
    profiles
        .iter()
        .filter_map(|p| p.name.strip_prefix(before)?.strip_suffix(after))
        .map(str::to_owned)
        .collect()
}
#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_fall_into_words() {
        assert_eq!(words("playerId"), ["player", "id"]);
        assert_eq!(words("pos_x (m)"), ["pos", "x", "m"]);
        assert_eq!(words("O1red"), ["o", "1", "red"]);
    }

    #[test]
    fn wide_patterns() {
        let p = |names: &[&str]| -> Vec<Profile> {
            names.iter().map(|n| Profile::new(n, &[], false)).collect()
        };
        let (w, n) = wide_pattern(&p(&["t", "x_a", "y_a", "x_b", "y_b"])).unwrap();
        assert_eq!((w.x.as_deref(), n), (Some("x_{object}"), 2));
        let (w, _) = wide_pattern(&p(&["t", "7.X (m)", "7.Y (m)", "8.X (m)", "8.Y (m)"])).unwrap();
        assert_eq!(w.y.as_deref(), Some("{object}.Y (m)"));
        assert!(wide_pattern(&p(&["t", "id", "x", "y"])).is_none());
    }
}

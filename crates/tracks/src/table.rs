//! Columns as read from a file, before they mean anything.

use crate::error::{Problem, shown};
use crate::limits;
use std::cell::RefCell;
use std::collections::HashMap;

/// What a column is wanted as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Want {
    /// A number.
    Number,
    /// Seconds: a number, or `[H:]MM:SS[.f]`.
    Seconds,
    /// ISO 8601 date and time.
    Instant,
    /// A name; numbers become text.
    Label,
}

impl Want {
    /// What to say was expected.
    pub(crate) fn expected(self) -> &'static str {
        match self {
            Self::Number => "a number",
            Self::Seconds => "a number of seconds, or a clock as MM:SS",
            Self::Instant => "an ISO 8601 date and time such as 2031-10-04T19:30:00.040+02:00",
            Self::Label => "text or a whole number",
        }
    }
}

/// A column to read: its place in the file from 0, and what it holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Request {
    pub(crate) index: usize,
    pub(crate) want: Want,
}

/// A column read.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Column {
    /// Numbers; NaN where missing.
    Number(Vec<f64>),
    /// Nanoseconds since 1970 UTC; `i64::MIN` where missing.
    Instant(Vec<i64>),
    /// Names.
    Label(Labels),
}

/// Names by number; [`Labels::MISSING`] where missing.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Labels {
    pub(crate) codes: Vec<u32>,
    pub(crate) names: Vec<String>,
}

impl Labels {
    pub(crate) const MISSING: u32 = u32::MAX;

    pub(crate) fn get(&self, row: usize) -> Option<&str> {
        self.names.get(self.codes[row] as usize).map(String::as_str)
    }
}

impl Column {
    pub(crate) fn empty(want: Want, rows: usize) -> Self {
        match want {
            Want::Number | Want::Seconds => Self::Number(Vec::with_capacity(rows)),
            Want::Instant => Self::Instant(Vec::with_capacity(rows)),
            Want::Label => Self::Label(Labels {
                codes: Vec::with_capacity(rows),
                names: Vec::new(),
            }),
        }
    }

    pub(crate) fn len(&self) -> usize {
        match self {
            Self::Number(v) => v.len(),
            Self::Instant(v) => v.len(),
            Self::Label(l) => l.codes.len(),
        }
    }

    /// Put another column of the same kind behind this one.
    pub(crate) fn append(&mut self, other: Self) {
        match (self, other) {
            (Self::Number(a), Self::Number(b)) => a.extend_from_slice(&b),
            (Self::Instant(a), Self::Instant(b)) => a.extend_from_slice(&b),
            (Self::Label(a), Self::Label(b)) => {
                let mut map = Vec::with_capacity(b.names.len());
                for name in b.names {
                    let code = a.names.iter().position(|n| *n == name).unwrap_or_else(|| {
                        a.names.push(name);
                        a.names.len() - 1
                    });
                    map.push(code as u32);
                }
                a.codes.extend(
                    b.codes
                        .iter()
                        .map(|c| map.get(*c as usize).copied().unwrap_or(Labels::MISSING)),
                );
            }
            // Parts of one table are read with one list of requests, so kinds agree.
            (a, b) => debug_assert!(false, "{a:?} and {b:?}"),
        }
    }
}

/// Which code is likely to come next: rows repeat the same objects in turn, and teams in runs.
#[derive(Debug, Default)]
pub(crate) struct Succession {
    /// The code that followed each code when it was last followed by one that was not guessed.
    next: Vec<u32>,
    last: u32,
}

impl Succession {
    /// The code that is expected, if it is the one.
    pub(crate) fn guess(&mut self, is: impl Fn(u32) -> bool) -> Option<u32> {
        let next = self.next.get(self.last as usize).copied().unwrap_or(0);
        let code = [next, self.last].into_iter().find(|code| is(*code))?;
        self.last = code;
        Some(code)
    }

    /// Remember what was found out otherwise.
    pub(crate) fn learn(&mut self, code: u32) {
        if self.next.len() <= code as usize {
            self.next.resize(code as usize + 1, 0);
        }
        self.next[self.last as usize] = code;
        self.last = code;
    }
}

/// Gives names their numbers, in the order of first appearance.
#[derive(Debug, Default)]
pub(crate) struct Interner {
    names: Vec<String>,
    codes: HashMap<Vec<u8>, u32>,
    succession: Succession,
}

impl Interner {
    /// The number of a name.
    pub(crate) fn code(&mut self, name: &[u8]) -> Result<u32, Problem> {
        let names = &self.names;
        let is = |code: u32| names.get(code as usize).map(String::as_bytes) == Some(name);
        if let Some(guess) = self.succession.guess(is) {
            return Ok(guess);
        }
        let code = if let Some(code) = self.codes.get(name) {
            *code
        } else {
            let text = std::str::from_utf8(name).map_err(|_| Problem::Utf8)?;
            if name.len() > limits::NAME_BYTES {
                return Err(Problem::Cell {
                    found: shown(text),
                    expected: format!("a name of at most {} bytes", limits::NAME_BYTES),
                    mend: "Shorten the name, or name another column in the mapping.",
                });
            }
            let code = self.names.len() as u32;
            self.names.push(text.to_owned());
            self.codes.insert(name.to_vec(), code);
            code
        };
        self.succession.learn(code);
        Ok(code)
    }

    pub(crate) fn len(&self) -> usize {
        self.names.len()
    }

    pub(crate) fn into_names(self) -> Vec<String> {
        self.names
    }
}

/// A number with a point, or `None`. Infinity is none; NaN is missing and so NaN.
pub(crate) fn number(text: &str) -> Option<f64> {
    text.parse::<f64>().ok().filter(|v| !v.is_infinite())
}

/// Seconds from a number or from `[H:]MM:SS[.f]`.
pub(crate) fn seconds(text: &str) -> Option<f64> {
    if !text.contains(':') {
        return number(text);
    }
    let mut parts = text.rsplit(':');
    let last = parts.next()?;
    if !last.starts_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    let s = number(last)?;
    let mut total = (s < 60.0).then_some(s)?;
    let mut unit = 60.0;
    for part in parts {
        if unit > 3600.0 || part.is_empty() || part.len() > 3 {
            return None;
        }
        let whole: u32 = part.parse().ok()?;
        total += f64::from(whole) * unit;
        unit *= 60.0;
    }
    Some(total)
}

/// Nanoseconds since 1970 UTC from an ISO 8601 date and time. Without a zone, UTC is assumed.
pub(crate) fn instant(text: &str) -> Option<i64> {
    // Files hold many instants of each minute: what is before the seconds, and the zone, are read once.
    MINUTE.with_borrow_mut(|minute| {
        if let Some(ns) = minute.with_seconds(text) {
            return Some(ns);
        }
        let ns = any_instant(text)?;
        minute.keep(text, ns);
        Some(ns)
    })
}

thread_local! {
    static MINUTE: RefCell<Minute> = const { RefCell::new(Minute { head: String::new(), zone: String::new(), at: 0 }) };
}

/// The minute of the last instant read, as it was written.
struct Minute {
    /// Up to the seconds, `2031-10-04T19:30:`.
    head: String,
    zone: String,
    /// When it begins, nanoseconds since 1970 UTC.
    at: i64,
}

impl Minute {
    const HEAD: usize = 17;

    /// An instant of this minute.
    fn with_seconds(&self, text: &str) -> Option<i64> {
        let rest = text.strip_prefix(self.head.as_str())?;
        if self.head.is_empty() {
            return None;
        }
        let (ns, zone) = seconds_and_zone(rest)?;
        (zone == self.zone).then(|| self.at.checked_add(ns))?
    }

    /// Remember the minute of an instant, where seconds can be added to it.
    fn keep(&mut self, text: &str, ns: i64) {
        let Some((head, rest)) = text.split_at_checked(Self::HEAD) else {
            return;
        };
        let b = head.as_bytes();
        let plain = b[10] == b'T' && b[13] == b':' && b[16] == b':';
        if let (true, Some((seconds, zone))) = (plain, seconds_and_zone(rest)) {
            head.clone_into(&mut self.head);
            zone.clone_into(&mut self.zone);
            self.at = ns - seconds;
        }
    }
}

/// `SS[.f]` in nanoseconds, and what follows where it is a zone by numbers, Z, or nothing.
fn seconds_and_zone(text: &str) -> Option<(i64, &str)> {
    let b = text.as_bytes();
    let digit = |i: usize| Some(i64::from(b.get(i).filter(|c| c.is_ascii_digit())? - b'0'));
    let seconds = digit(0)? * 10 + digit(1)?;
    let mut end = 2;
    let mut fraction = 0;
    if b.get(2) == Some(&b'.') {
        end = 3;
        let mut unit = 100_000_000;
        while let Some(d) = digit(end) {
            fraction += d * unit;
            unit /= 10;
            end += 1;
        }
        if !(4..=12).contains(&end) {
            return None;
        }
    }
    let zone = &text[end..];
    let numbers = zone
        .bytes()
        .all(|c| c.is_ascii_digit() || b"Z+-:".contains(&c));
    (seconds < 60 && numbers).then_some((seconds * 1_000_000_000 + fraction, zone))
}

fn any_instant(text: &str) -> Option<i64> {
    // No place is a day or more from UTC (RFC 3339: hours of an offset go to 23); jiff takes 25.
    let (_, clock) = text.split_once(['T', 't', ' ']).unwrap_or_default();
    let (_, offset) = clock.split_once(['+', '-']).unwrap_or_default();
    if offset.get(..2).is_some_and(|hours| hours > "23") {
        return None;
    }
    let stamp = text.parse::<jiff::Timestamp>().ok().or_else(|| {
        let civil: jiff::civil::DateTime = text.parse().ok()?;
        jiff::tz::TimeZone::UTC.to_timestamp(civil).ok()
    })?;
    i64::try_from(stamp.as_nanosecond()).ok()
}

/// A number as a label: whole numbers without a point.
pub(crate) fn number_label(v: f64) -> String {
    format!("{v}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clocks() {
        assert_eq!(seconds("12.5"), Some(12.5));
        assert_eq!(seconds("09:58.4"), Some(598.4));
        assert_eq!(seconds("1:00:00"), Some(3600.0));
        assert_eq!(seconds("1:60"), None);
        assert_eq!(seconds("1:-5"), None);
        assert_eq!(seconds(":5"), None);
    }

    /// RFC 3339 (July 2002), section 5.8, examples.
    #[test]
    fn instants_of_rfc_3339() {
        let s = |t| instant(t).unwrap();
        assert_eq!(s("1985-04-12T23:20:50.52Z"), 482_196_050_520_000_000);
        assert_eq!(s("1996-12-19T16:39:57-08:00"), s("1996-12-20T00:39:57Z"));
        assert_eq!(
            s("1937-01-01T12:00:27.87+00:20"),
            s("1937-01-01T11:40:27.87Z")
        );
        assert_eq!(instant("2031-13-01T00:00:00Z"), None);
        assert_eq!(s("2031-10-04T19:30:00"), s("2031-10-04T19:30:00Z"));
    }

    /// Against Python's `datetime` and pandas (tests/reference/tracks), which agree on all of them.
    #[test]
    fn instants_are_those_of_other_libraries() {
        let path = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../../tests/reference/tracks/fixtures/instants.json"
        );
        let text = std::fs::read(path).unwrap();
        let cases: Vec<(String, Option<i64>)> = serde_json::from_slice(&text).unwrap();
        assert!(cases.len() > 400);
        let wrong: Vec<_> = cases.iter().filter(|(t, ns)| instant(t) != *ns).collect();
        assert!(wrong.is_empty(), "{wrong:?}");
    }

    /// Whatever was read before, an instant is what it is by itself.
    #[test]
    fn instants_of_one_minute_are_as_if_read_alone() {
        let heads = [
            "2031-10-04T19:30:",
            "2031-10-04 19:30:",
            "2031-10-04T19:31:",
        ];
        let seconds = [
            "00",
            "59",
            "60",
            "61",
            "5",
            "07.5",
            "07.123456789",
            "07.1234567891",
            "07.",
            "07,5",
            "7.5",
            "-1",
            "",
        ];
        let zones = [
            "Z",
            "",
            "+02:00",
            "+0200",
            "-08",
            "+25:00",
            "z",
            "X",
            "[Europe/Berlin]",
        ];
        let mut seen = 0;
        for warm in ["2031-10-04T19:30:00Z", "2031-10-04T19:30:59.9+02:00"] {
            for (head, tail) in heads
                .iter()
                .flat_map(|h| seconds.iter().map(move |s| (h, s)))
            {
                for zone in zones {
                    let text = format!("{head}{tail}{zone}");
                    assert!(instant(warm).is_some());
                    let first = instant(&text);
                    assert_eq!(first, any_instant(&text), "{text} after {warm}");
                    assert_eq!(first, instant(&text), "{text} twice");
                    seen += usize::from(first.is_some());
                }
            }
        }
        assert!(seen > 100, "{seen}");
    }

    #[test]
    fn labels_of_parts_share_numbers() {
        let part = |names: &[&str]| {
            let mut i = Interner::default();
            let codes = names
                .iter()
                .map(|n| i.code(n.as_bytes()).unwrap())
                .collect();
            Column::Label(Labels {
                codes,
                names: i.into_names(),
            })
        };
        let mut a = part(&["p", "q", "p", "q"]);
        a.append(part(&["q", "r"]));
        let Column::Label(l) = a else { panic!() };
        assert_eq!(l.codes, [0, 1, 0, 1, 1, 2]);
    }
}

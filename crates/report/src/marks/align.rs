//! From session time to time in the video, by moments known in both.

use crate::words::clock;

/// A moment known in both clocks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moment {
    /// Session time, seconds.
    pub session_s: f64,
    /// Time in the video, seconds.
    pub video_s: f64,
}

/// A time that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "`{0}` is no time: expected seconds (`754.5`), minutes and seconds (`12:34.5`) or hours, minutes and seconds (`1:02:03`)"
)]
pub struct TimeError(pub String);

/// Seconds of a time as people write it: `754.5`, `12:34.5`, `1:02:03`; minutes may be more than
/// 59 where no hours stand before them.
///
/// # Errors
/// [`TimeError`] for anything else, a negative time included.
pub fn time(text: &str) -> Result<f64, TimeError> {
    let wrong = || TimeError(text.to_owned());
    let digits = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
    let parts: Vec<&str> = text.trim().split(':').collect();
    let (last, before) = parts.split_last().ok_or_else(wrong)?;
    let (whole, fraction) = last.split_once('.').unwrap_or((last, "0"));
    if before.len() > 2 || !digits(whole) || !digits(fraction) {
        return Err(wrong());
    }
    let mut seconds: f64 = last.parse().map_err(|_| wrong())?;
    if !before.is_empty() && seconds >= 60.0 {
        return Err(wrong());
    }
    for (i, part) in before.iter().rev().enumerate() {
        // Five digits of minutes are ten weeks.
        if !digits(part) || part.len() > 5 {
            return Err(wrong());
        }
        let n: f64 = part.parse().map_err(|_| wrong())?;
        if i == 0 && before.len() == 2 && n >= 60.0 {
            return Err(wrong());
        }
        seconds += n * 60.0_f64.powi(i as i32 + 1);
    }
    Ok(seconds)
}

/// Why moments do not align a video.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum AlignError {
    /// None given.
    #[error("no moment is given: name at least one moment by session time and video time")]
    None,
    /// A time that is no number.
    #[error(
        "moment {index}: {session_s} s in the session at {video_s} s in the video: expected two finite numbers"
    )]
    NotANumber {
        /// Which moment, from 1, as given.
        index: usize,
        /// Its session time, seconds.
        session_s: f64,
        /// Its time in the video, seconds.
        video_s: f64,
    },
    /// Two moments contradict each other.
    #[error("the moments at session time {} and {} contradict each other: the later one must also be later in the video ({} and {} are given)", clock(.first.0), clock(.second.0), clock(.first.1), clock(.second.1))]
    Order {
        /// Session and video time of the earlier one, seconds.
        first: (f64, f64),
        /// Session and video time of the later one, seconds.
        second: (f64, f64),
    },
}

/// A straight line through each two neighbouring moments; before the first and after the last
/// both clocks run alike.
#[derive(Debug, Clone, PartialEq)]
pub struct Alignment {
    /// At least one, strictly rising in both clocks.
    moments: Vec<Moment>,
}

/// Clocks that differ by more than this between two moments were not running through: 2 %, far
/// above the 0.1 % between 30 and 29.97 frames per second.
const APART: f64 = 0.02;

impl Alignment {
    /// From one or more moments, in any order.
    ///
    /// # Errors
    /// [`AlignError`] for no moment, a time that is no number, or moments in another order in the
    /// video than in the session.
    pub fn new(moments: &[Moment]) -> Result<Self, AlignError> {
        for (i, m) in moments.iter().enumerate() {
            if !(m.session_s.is_finite() && m.video_s.is_finite()) {
                return Err(AlignError::NotANumber {
                    index: i + 1,
                    session_s: m.session_s,
                    video_s: m.video_s,
                });
            }
        }
        let mut moments = moments.to_vec();
        moments.sort_by(|a, b| a.session_s.total_cmp(&b.session_s));
        moments.dedup();
        for w in moments.windows(2) {
            if w[0].session_s >= w[1].session_s || w[0].video_s >= w[1].video_s {
                return Err(AlignError::Order {
                    first: (w[0].session_s, w[0].video_s),
                    second: (w[1].session_s, w[1].video_s),
                });
            }
        }
        if moments.is_empty() {
            return Err(AlignError::None);
        }
        Ok(Self { moments })
    }

    /// Time in the video, seconds; negative before its beginning.
    #[must_use]
    pub fn video(&self, session_s: f64) -> f64 {
        let after = self.moments.partition_point(|m| m.session_s <= session_s);
        match (
            after.checked_sub(1).and_then(|i| self.moments.get(i)),
            self.moments.get(after),
        ) {
            (Some(a), Some(b)) => {
                let share = (session_s - a.session_s) / (b.session_s - a.session_s);
                a.video_s + share * (b.video_s - a.video_s)
            }
            (Some(m), None) | (None, Some(m)) => m.video_s + session_s - m.session_s,
            // There is always a moment.
            (None, None) => session_s,
        }
    }

    /// Stretches in which the clocks run so differently that the video must have been cut, in
    /// words.
    #[must_use]
    pub fn warnings(&self) -> Vec<String> {
        self.moments
            .windows(2)
            .filter_map(|w| {
                let (session, video) = (w[1].session_s - w[0].session_s, w[1].video_s - w[0].video_s);
                ((video / session - 1.0).abs() > APART).then(|| {
                    format!(
                        "between {} and {} of the session the video runs {video:.1} s for {session:.1} s: it seems to be cut there; marks in between are placed in proportion. Give a moment on each side of every cut",
                        clock(w[0].session_s),
                        clock(w[1].session_s)
                    )
                })
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn m(session_s: f64, video_s: f64) -> Moment {
        Moment { session_s, video_s }
    }

    #[test]
    fn times_as_people_write_them() {
        for (text, seconds) in [
            ("754.5", 754.5),
            ("12:34.5", 754.5),
            ("0:00.0", 0.0),
            ("75:04", 4504.0),
            ("1:15:04", 4504.0),
            (" 00:12:34.500 ", 754.5),
        ] {
            assert_eq!(time(text), Ok(seconds), "{text}");
        }
        for text in [
            "",
            ":",
            "1:",
            "1:60",
            "1:60:00",
            "1:2:3:4",
            "-3",
            "1e3",
            "nan",
            "1.",
            ".5",
            "1:-2",
            "1,5",
            "999999:00",
        ] {
            assert!(time(text).is_err(), "{text}");
        }
    }

    #[test]
    fn one_moment_is_an_offset() {
        let a = Alignment::new(&[m(10.0, 74.5)]).unwrap();
        assert_eq!(a.video(0.0), 64.5);
        assert_eq!(a.video(100.0), 164.5);
        assert!(a.warnings().is_empty());
    }

    #[test]
    fn between_moments_on_a_line_and_outside_at_equal_speed() {
        // 29.97 taken for 30 frames per second: 0.1 % apart, which is no cut.
        let a = Alignment::new(&[m(1000.0, 1001.0), m(0.0, 0.0)]).unwrap();
        assert!((a.video(500.0) - 500.5).abs() < 1e-9);
        assert!((a.video(1001.0) - 1002.0).abs() < 1e-9);
        assert!((a.video(-2.0) + 2.0).abs() < 1e-9);
        assert!(a.warnings().is_empty());
    }

    #[test]
    fn a_cut_is_noticed() {
        let a = Alignment::new(&[m(0.0, 5.0), m(600.0, 605.0), m(1500.0, 615.0)]).unwrap();
        let w = a.warnings();
        assert_eq!(w.len(), 1);
        assert!(
            w[0].starts_with("between 10:00.0 and 25:00.0 of the session"),
            "{w:?}"
        );
    }

    #[test]
    fn contradictions_are_errors() {
        assert_eq!(Alignment::new(&[]), Err(AlignError::None));
        let e = Alignment::new(&[m(10.0, 50.0), m(20.0, 40.0)]).unwrap_err();
        assert!(e.to_string().contains("0:10.0 and 0:20.0"), "{e}");
        assert!(Alignment::new(&[m(10.0, 50.0), m(10.0, 51.0)]).is_err());
        assert!(Alignment::new(&[m(f64::NAN, 50.0)]).is_err());
        // The same moment given twice is one moment.
        assert!(Alignment::new(&[m(10.0, 50.0), m(10.0, 50.0)]).is_ok());
    }
}

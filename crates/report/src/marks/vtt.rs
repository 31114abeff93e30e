//! WebVTT chapters: W3C, *WebVTT: The Web Video Text Tracks Format* (Candidate Recommendation of
//! 10 May 2018), “WebVTT file using chapter title text” and “using only nested cues”.

use super::Mark;
use crate::html::put;

/// A WebVTT file using chapter title text and only nested cues: one cue per mark, cues in time
/// order that do not overlap, no line break in a title, `&`, `<` and `>` as character
/// references.
#[must_use]
pub fn chapters(marks: &[Mark]) -> String {
    let mut o = String::from("WEBVTT\n");
    for (i, m) in marks.iter().enumerate() {
        put!(
            o,
            "\n{}\n{} --> {}\n{}\n",
            i + 1,
            timestamp(m.from_s),
            timestamp(m.to_s),
            title(&m.line())
        );
    }
    o
}

/// `hh:mm:ss.ttt`; hours may have more than two digits.
fn timestamp(seconds: f64) -> String {
    let ms = (seconds.max(0.0) * 1000.0).round() as u64;
    format!(
        "{:02}:{:02}:{:02}.{:03}",
        ms / 3_600_000,
        ms / 60_000 % 60,
        ms / 1000 % 60,
        ms % 1000
    )
}

fn title(text: &str) -> String {
    let mut o = String::new();
    for c in text.chars() {
        match c {
            '&' => o.push_str("&amp;"),
            '<' => o.push_str("&lt;"),
            '>' => o.push_str("&gt;"),
            c if c.is_control() => o.push(' '),
            c => o.push(c),
        }
    }
    o
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_as_the_standard_writes_them() {
        assert_eq!(timestamp(0.0), "00:00:00.000");
        assert_eq!(timestamp(3_599.999_6), "01:00:00.000");
        assert_eq!(timestamp(360_000.25), "100:00:00.250");
    }

    #[test]
    fn a_title_cannot_end_the_cue() {
        assert_eq!(title("a\n\nb --> <c>&"), "a  b --&gt; &lt;c&gt;&amp;");
    }
}

//! WebVTT chapters: W3C, *WebVTT: The Web Video Text Tracks Format* (Candidate Recommendation of
//! 10 May 2018), “WebVTT file using chapter title text” and “using only nested cues”.

use super::Mark;
use crate::html::put;

/// A WebVTT file using chapter title text and only nested cues: cues in time order that do not
/// overlap, no line break in a title, `&`, `<` and `>` as character references. One cue per mark,
/// to the beginning of the next at the latest; marks that begin together share one.
#[must_use]
pub fn chapters(marks: &[Mark]) -> String {
    let ms = |seconds: f64| (seconds.max(0.0) * 1000.0).round() as u64;
    let mut cues: Vec<(u64, u64, String)> = Vec::new();
    for m in marks {
        let (from, to) = (ms(m.from_s), ms(m.to_s));
        match cues.last_mut() {
            Some(last) if last.0 >= from => {
                last.1 = last.1.max(to);
                last.2 = format!("{}; {}", last.2, m.line());
                continue;
            }
            Some(last) => last.1 = last.1.min(from),
            None => {}
        }
        cues.push((from, to.max(from + 1), m.line()));
    }
    let mut o = String::from("WEBVTT\n");
    for (i, (from, to, line)) in cues.iter().enumerate() {
        let (from, to) = (timestamp(*from), timestamp(*to));
        put!(o, "\n{}\n{from} --> {to}\n{}\n", i + 1, title(line));
    }
    o
}

/// `hh:mm:ss.ttt`; hours may have more than two digits.
fn timestamp(ms: u64) -> String {
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
        assert_eq!(timestamp(0), "00:00:00.000");
        assert_eq!(timestamp(3_600_000), "01:00:00.000");
        assert_eq!(timestamp(360_000_250), "100:00:00.250");
    }

    #[test]
    fn what_overlaps_ends_at_the_next_and_what_begins_together_is_one() {
        let mark = |from_s, to_s, possession| Mark {
            from_s,
            to_s,
            possession,
            title: "x".to_owned(),
            ..Mark::default()
        };
        let vtt = chapters(&[mark(1.0, 9.0, 1), mark(5.0, 6.0, 2), mark(5.000_4, 8.0, 3)]);
        assert_eq!(
            vtt,
            "WEBVTT\n\n1\n00:00:01.000 --> 00:00:05.000\n1 x\n\n2\n00:00:05.000 --> 00:00:08.000\n2 x; 3 x\n"
        );
    }

    #[test]
    fn a_title_cannot_end_the_cue() {
        assert_eq!(title("a\n\nb --> <c>&"), "a  b --&gt; &lt;c&gt;&amp;");
    }
}

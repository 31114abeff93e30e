//! Marks as comma-separated values: RFC 4180.

use super::Mark;
use crate::html::put;

/// One row per mark: times of the video and of the session in seconds, then what it is. Lists
/// inside a cell are separated by `; `. Lines end with CRLF, cells with a comma, quote or line
/// break are quoted.
#[must_use]
pub fn table(marks: &[Mark]) -> String {
    let mut o = String::from(
        "video_from_s,video_to_s,session_from_s,session_to_s,possession,kind,option,title,verdict,hand,roles,player,faults,result,points\r\n",
    );
    for m in marks {
        put!(
            o,
            "{:.3},{:.3},{:.3},{:.3},{},{},{},{},{},{},{},{},{},{},{}\r\n",
            m.from_s,
            m.to_s,
            m.session_s.0,
            m.session_s.1,
            m.possession,
            m.kind,
            cell(&m.option),
            cell(&m.title),
            cell(&m.verdict),
            m.hand,
            cell(&m.roles.join("; ")),
            cell(&m.player),
            cell(
                &m.faults
                    .iter()
                    .map(|f| f.2.as_str())
                    .collect::<Vec<_>>()
                    .join("; ")
            ),
            m.result,
            m.points.map_or_else(String::new, |p| p.to_string())
        );
    }
    o
}

fn cell(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4180, section 2, rules 6 and 7.
    #[test]
    fn cells_as_in_the_rfc() {
        assert_eq!(cell("aaa"), "aaa");
        assert_eq!(cell("b\r\nbb"), "\"b\r\nbb\"");
        assert_eq!(cell("b\"bb"), "\"b\"\"bb\"");
    }
}

//! Text into HTML, with everything that comes from data escaped.

use std::fmt;

/// Appends formatted text to a `String`.
macro_rules! put {
    ($out:expr, $($arg:tt)*) => {{
        use std::fmt::Write as _;
        // Writing to a String cannot fail.
        let _ = write!($out, $($arg)*);
    }};
}
pub(crate) use put;

/// Shows text so that it is only ever text, in an element or in a quoted attribute.
///
/// Control characters, which HTML forbids (WHATWG HTML, 13.2.3.5), become U+FFFD.
pub struct Esc<'a>(&'a str);

/// Escapes for element content and for double-quoted attributes.
pub fn esc(text: &str) -> Esc<'_> {
    Esc(text)
}

impl fmt::Display for Esc<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        use fmt::Write as _;
        for c in self.0.chars() {
            match c {
                '&' => f.write_str("&amp;")?,
                '<' => f.write_str("&lt;")?,
                '>' => f.write_str("&gt;")?,
                '"' => f.write_str("&quot;")?,
                '\'' => f.write_str("&#39;")?,
                '\n' | '\t' | ' ' => f.write_char(c)?,
                c if c.is_control() => f.write_char('\u{FFFD}')?,
                // Marks that turn the direction of what follows, which could make a verdict
                // read backwards (Unicode UAX 9, explicit formatting characters).
                '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}' => f.write_char('\u{FFFD}')?,
                c => f.write_char(c)?,
            }
        }
        Ok(())
    }
}

/// JSON that may stand inside a `script` element: no `<`, `>` or `&`, nor the two line
/// separators that JavaScript once took for line ends.
pub fn script_safe(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        match c {
            '<' => out.push_str("\\u003c"),
            '>' => out.push_str("\\u003e"),
            '&' => out.push_str("\\u0026"),
            '\u{2028}' => out.push_str("\\u2028"),
            '\u{2029}' => out.push_str("\\u2029"),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_from_data_opens_an_element_or_leaves_an_attribute() {
        let hostile = "</script><img src=x onerror=\"alert('1')\">&\u{0}\u{202E}";
        assert_eq!(
            esc(hostile).to_string(),
            "&lt;/script&gt;&lt;img src=x onerror=&quot;alert(&#39;1&#39;)&quot;&gt;&amp;\u{FFFD}\u{FFFD}"
        );
    }

    #[test]
    fn json_in_a_script_stays_the_same_json() {
        let value = "</script><!--&\u{2028}";
        let safe = script_safe(&serde_json::to_string(value).unwrap());
        assert!(!safe.contains(['<', '>', '&', '\u{2028}']));
        let back: String = serde_json::from_str(&safe).unwrap();
        assert_eq!(back, value);
    }
}

//! Words of a sentence, each with its place in it.

use std::ops::Range;

/// A word in lower case and the bytes it came from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Token {
    pub word: String,
    pub span: Range<usize>,
}

/// Splits at spaces and commas, and a number from the unit written against it (`12ft`).
pub(crate) fn tokens(text: &str) -> Vec<Token> {
    let mut out = Vec::new();
    let mut start = None;
    for (i, c) in text
        .char_indices()
        .chain(std::iter::once((text.len(), ' ')))
    {
        let gap = c.is_whitespace() || c == ',';
        match (gap, start) {
            (true, Some(s)) => {
                push(text, s, i, &mut out);
                start = None;
            }
            (false, None) => start = Some(i),
            _ => {}
        }
    }
    out
}

fn push(text: &str, from: usize, to: usize, out: &mut Vec<Token>) {
    let word = &text[from..to];
    let number = word
        .char_indices()
        .take_while(|(_, c)| c.is_ascii_digit() || matches!(c, '.' | '-' | '+'))
        .last()
        .map_or(0, |(i, c)| i + c.len_utf8());
    let splits = number > 0
        && matches!(
            &word[number..],
            "ft" | "m" | "cm" | "s" | "sec" | "feet" | "metres" | "seconds"
        );
    let mut one = |a: usize, b: usize| {
        out.push(Token {
            word: text[a..b].to_lowercase(),
            span: a..b,
        });
    };
    if splits {
        one(from, from + number);
        one(from + number, to);
    } else {
        one(from, to);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_numbers_and_units() {
        let words: Vec<_> = tokens("1, passes  within 12ft of X2")
            .into_iter()
            .map(|t| t.word)
            .collect();
        assert_eq!(words, ["1", "passes", "within", "12", "ft", "of", "x2"]);
        assert_eq!(tokens("a bc")[1].span, 2..4);
        assert!(tokens(" , ").is_empty());
    }
}

//! Reading words one after another, and saying what was expected where.

use crate::diagnostic::did_you_mean;
use crate::graph::RoleIx;
use crate::sentence::{Direction, Length, Place};
use crate::token::{Token, tokens};
use setdrift_court::{AttackPoint, Court, LengthUnit, Zone, spot, spot_names, zone_names};
use std::ops::Range;

/// Longest sentence accepted, bytes.
pub(crate) const MAX_SENTENCE: usize = 400;

/// The names a sentence may use beside the language's own words.
#[derive(Debug, Clone)]
pub(crate) struct Lexicon {
    pub court: Court,
    /// Role names as declared.
    pub roles: Vec<String>,
    /// Declared spots.
    pub spots: Vec<(String, AttackPoint)>,
}

impl Lexicon {
    fn spot(&self, name: &str) -> Option<AttackPoint> {
        self.spots
            .iter()
            .find(|(n, _)| n == name)
            .map(|(_, p)| *p)
            .or_else(|| spot(&self.court, name).map(|(_, p)| p))
    }

    fn spot_names(&self) -> Vec<&str> {
        let mut names: Vec<&str> = self.spots.iter().map(|(n, _)| n.as_str()).collect();
        for n in spot_names() {
            names.push(n);
        }
        names
    }
}

/// Why a sentence was not understood. Spans are bytes within the sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Miss {
    pub code: &'static str,
    pub span: Range<usize>,
    pub message: String,
    pub expected: String,
    pub help: Option<String>,
}

/// Result of reading a part of a sentence.
pub(crate) type Read<T> = Result<T, Miss>;

/// A place in the words of a sentence.
pub(crate) struct Cursor<'a> {
    tokens: Vec<Token>,
    pos: usize,
    end: usize,
    pub lex: &'a Lexicon,
}

impl<'a> Cursor<'a> {
    pub fn new(text: &str, lex: &'a Lexicon) -> Read<Self> {
        if text.len() > MAX_SENTENCE {
            return Err(Miss {
                code: "sentence-too-long",
                span: 0..text.len(),
                message: format!("a sentence of {} bytes, {MAX_SENTENCE} at most", text.len()),
                expected: String::new(),
                help: Some("split it into several sentences".to_owned()),
            });
        }
        Ok(Self {
            tokens: tokens(text),
            pos: 0,
            end: text.len(),
            lex,
        })
    }

    pub fn done(&self) -> bool {
        self.pos >= self.tokens.len()
    }

    pub fn pos(&self) -> usize {
        self.pos
    }

    pub fn back_to(&mut self, pos: usize) {
        self.pos = pos;
    }

    pub fn word(&self) -> Option<&str> {
        self.peek(0)
    }

    pub fn peek(&self, ahead: usize) -> Option<&str> {
        self.tokens.get(self.pos + ahead).map(|t| t.word.as_str())
    }

    /// Bytes of `n` words from here; of the end of the sentence when there are none.
    pub fn span(&self, n: usize) -> Range<usize> {
        match self.tokens.get(self.pos) {
            Some(first) => {
                let last = (self.pos + n.max(1) - 1).min(self.tokens.len() - 1);
                first.span.start..self.tokens[last].span.end
            }
            None => self.end..self.end,
        }
    }

    /// `n` words from here as one string.
    pub fn phrase(&self, n: usize) -> String {
        self.tokens[self.pos..(self.pos + n).min(self.tokens.len())]
            .iter()
            .map(|t| t.word.as_str())
            .collect::<Vec<_>>()
            .join(" ")
    }

    pub fn miss(&self, code: &'static str, n: usize, expected: impl Into<String>) -> Miss {
        let message = if self.done() {
            "the sentence ends too soon".to_owned()
        } else {
            format!("`{}` is not understood here", self.phrase(n))
        };
        Miss {
            code,
            span: self.span(n),
            message,
            expected: expected.into(),
            help: None,
        }
    }

    /// Whether these words come next.
    pub fn at(&self, words: &str) -> bool {
        words
            .split(' ')
            .enumerate()
            .all(|(i, w)| self.peek(i) == Some(w))
    }

    /// Takes these words if they come next.
    pub fn eat(&mut self, words: &str) -> bool {
        let yes = self.at(words);
        if yes {
            self.pos += words.split(' ').count();
        }
        yes
    }

    pub fn need(&mut self, words: &str) -> Read<()> {
        if self.eat(words) {
            Ok(())
        } else {
            Err(self.miss("expected-word", 1, format!("`{words}`")))
        }
    }

    /// The role named next, if one is.
    pub fn try_role(&mut self) -> Option<RoleIx> {
        let w = self.word()?;
        let r = self
            .lex
            .roles
            .iter()
            .position(|r| r.eq_ignore_ascii_case(w))?;
        self.pos += 1;
        Some(r)
    }

    pub fn role(&mut self) -> Read<RoleIx> {
        if let Some(r) = self.try_role() {
            return Ok(r);
        }
        let mut m = self.miss(
            "unknown-role",
            1,
            format!("a role: {}", self.lex.roles.join(", ")),
        );
        if let Some(w) = self.word() {
            m.message = format!("`{w}` is not a role of this playbook");
        }
        Err(m)
    }

    /// Roles with `word` or commas between, at least one.
    pub fn roles(&mut self, word: &str) -> Read<Vec<RoleIx>> {
        let mut out = vec![self.role()?];
        while self.eat(word) {
            out.push(self.role()?);
        }
        Ok(out)
    }

    /// Roles as in `1 2 3 and 4`, at least one.
    pub fn role_list(&mut self) -> Read<Vec<RoleIx>> {
        let mut out = vec![self.role()?];
        loop {
            if self.eat("and") {
                out.push(self.role()?);
            } else if let Some(r) = self.try_role() {
                out.push(r);
            } else {
                break;
            }
        }
        let mut seen = Vec::new();
        out.retain(|r| {
            let new = !seen.contains(r);
            seen.push(*r);
            new
        });
        Ok(out)
    }

    pub fn number(&mut self, what: &str) -> Read<f64> {
        let value = self.word().and_then(|w| w.parse::<f64>().ok());
        match value {
            Some(v) if v.is_finite() && v.abs() < 1e4 => {
                self.pos += 1;
                Ok(v)
            }
            _ => Err(self.miss("expected-number", 1, what)),
        }
    }

    pub fn count(&mut self) -> Read<usize> {
        match self.word().and_then(|w| w.parse::<usize>().ok()) {
            Some(v) if v <= 99 => {
                self.pos += 1;
                Ok(v)
            }
            _ => Err(self.miss("expected-number", 1, "a whole number")),
        }
    }

    /// A number and the unit of seconds.
    pub fn seconds(&mut self) -> Read<f64> {
        let v = self.number("a number of seconds, such as `0.5 s`")?;
        self.second_word()?;
        Ok(v)
    }

    pub fn second_word(&mut self) -> Read<()> {
        for w in ["s", "sec", "second", "seconds"] {
            if self.eat(w) {
                return Ok(());
            }
        }
        Err(self.miss("expected-word", 1, "`s` for seconds"))
    }

    /// A number and a unit of length.
    pub fn length(&mut self) -> Read<Length> {
        let value = self.number("a length, such as `3 ft` or `1 m`")?;
        let unit = self
            .word()
            .and_then(|w| w.parse::<LengthUnit>().ok())
            .ok_or_else(|| self.miss("expected-unit", 1, "a unit of length: `ft`, `m` or `cm`"))?;
        if value < 0.0 {
            self.pos -= 1;
            return Err(self.miss("expected-number", 1, "a length that is not negative"));
        }
        self.pos += 1;
        Ok(Length { value, unit })
    }

    fn at_length(&self) -> bool {
        self.word().is_some_and(|w| w.parse::<f64>().is_ok())
            && self
                .peek(1)
                .is_some_and(|w| w.parse::<LengthUnit>().is_ok())
    }

    /// A spot, a role, or so far from one of them.
    pub fn place(&mut self) -> Read<Place> {
        self.place_at(0)
    }

    fn place_at(&mut self, depth: usize) -> Read<Place> {
        let _ = self.eat("the");
        if self.at_length() {
            if depth >= 2 {
                return Err(self.miss("place-too-deep", 2, "a spot or a role"));
            }
            let by = self.length()?;
            let way = Direction::ALL
                .iter()
                .find(|(w, _)| self.at(w))
                .copied()
                .ok_or_else(|| {
                    self.miss(
                        "expected-direction",
                        1,
                        "`above`, `below`, `left of` or `right of`",
                    )
                })?;
            let _ = self.eat(way.0);
            let of = Box::new(self.place_at(depth + 1)?);
            return Ok(Place::Offset { by, way: way.1, of });
        }
        let left = self.tokens.len().saturating_sub(self.pos);
        for n in (1..=left.min(4)).rev() {
            let name = self.phrase(n);
            if let Some(at) = self.lex.spot(&name) {
                self.pos += n;
                return Ok(Place::Spot { name, at });
            }
        }
        if let Some(r) = self.try_role() {
            return Ok(Place::Role(r));
        }
        let mut m = self.miss(
            "unknown-spot",
            1,
            "a spot such as `left wing`, a role, or `3 ft above left elbow`",
        );
        // A misspelt name may be one word or several; the longest near one is likeliest meant.
        for n in (1..=left.min(3)).rev() {
            let help = did_you_mean(&self.phrase(n), self.lex.spot_names());
            if help.is_some() {
                m.span = self.span(n);
                m.message = format!("no spot is called `{}`", self.phrase(n));
                m.help = help;
                return Err(m);
            }
        }
        if !self.done() {
            m.message = format!("no spot is called `{}`", self.phrase(1));
            m.help = Some("declare it under [spots], or see the list in the manual".to_owned());
        }
        Err(m)
    }

    /// A zone, with or without `the`.
    pub fn zone(&mut self) -> Read<Zone> {
        let start = self.pos;
        let _ = self.eat("the");
        for n in (1..=3).rev() {
            if let Ok(z) = self.phrase(n).parse::<Zone>() {
                self.pos += n;
                return Ok(z);
            }
        }
        let known: Vec<&str> = zone_names().collect();
        let mut m = self.miss("unknown-zone", 1, format!("a zone: {}", known.join(", ")));
        for n in (1..=2).rev() {
            if let Some(help) = did_you_mean(&self.phrase(n), known.iter().copied()) {
                m.span = self.span(n);
                m.message = format!("no zone is called `{}`", self.phrase(n));
                m.help = Some(help);
                break;
            }
        }
        self.pos = start;
        Err(m)
    }
}

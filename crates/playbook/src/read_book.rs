//! Reading a playbook file: TOML for structure, sentences for actions.

use crate::book::{After, Book, LexiconEq, OptionWords, Spanned, TOLERANCES};
use crate::cursor::{Cursor, Lexicon, Miss};
use crate::diagnostic::{Diagnostics, MAX_NOTES, Note, did_you_mean, place};
use crate::graph::{Formation, RoleIx};
use crate::read_expect::{read_expect, read_read};
use crate::read_sentence::read_sentence;
use crate::toml_read::{Entry, Text, numbers, table};
use setdrift_court::{AttackPoint, Court, CourtMeasures, LengthUnit, Zone, spot_names};
use std::ops::Range;
use toml_edit::{Document, Item};

/// Largest playbook accepted, bytes.
pub const MAX_SOURCE: usize = 256 * 1024;
const MAX_OPTIONS: usize = 200;
pub(crate) const MAX_STEPS: usize = 20;
pub(crate) const MAX_SENTENCES: usize = 20;
const MAX_FORMATIONS: usize = 40;
/// How far off the floor a spot may be, metres: an inbounder stands outside the line.
const OFF_FLOOR: f64 = 2.0;

const TOP_KEYS: [&str; 7] = [
    "name",
    "court",
    "units",
    "tolerance",
    "spots",
    "formations",
    "options",
];
const OPTION_KEYS: [&str; 8] = [
    "title", "series", "after", "steps", "expect", "returns", "refill", "read",
];
pub(crate) const COURT_KEYS: [&str; 10] = [
    "length",
    "width",
    "lane_width",
    "free_throw",
    "circle_radius",
    "ring",
    "three_radius",
    "three_corner",
    "restricted_radius",
    "ring_height",
];

/// Reads a playbook. `name` is the file's name for diagnostics.
///
/// # Errors
/// All that is wrong with the text, each with its place; never only the first thing, except
/// that a text which is not TOML is reported at the place where it stops being TOML.
pub fn parse(source: &str, name: &str) -> Result<Book, Diagnostics> {
    let mut notes = Vec::new();
    let book = Reader {
        notes: &mut notes,
        source,
    }
    .book(name);
    let mut found = place(notes, name, source);
    match book {
        Some(mut b) if !found.has_errors() => {
            b.warnings = found;
            Ok(b)
        }
        _ => {
            if source.len() > MAX_SOURCE {
                found.source = String::new();
            }
            Err(found)
        }
    }
}

struct Reader<'a> {
    notes: &'a mut Vec<Note>,
    source: &'a str,
}

impl Reader<'_> {
    fn book(&mut self, file: &str) -> Option<Book> {
        if self.source.len() > MAX_SOURCE {
            self.notes.push(
                Note::error(
                    "too-large",
                    0..0,
                    format!(
                        "a playbook of {} bytes, {MAX_SOURCE} at most",
                        self.source.len()
                    ),
                )
                .help("split it into several playbooks"),
            );
            return None;
        }
        let doc = match Document::parse(self.source) {
            Ok(d) => d,
            Err(e) => {
                let span = e.span().unwrap_or(0..0);
                let message = e.message().lines().collect::<Vec<_>>().join(", ");
                self.notes.push(
                    Note::error("not-toml", span, format!("this is not TOML: {message}"))
                        .help("strings need quotes, lists need brackets and commas"),
                );
                return None;
            }
        };
        let top = table(doc.as_item(), "the playbook", self.source, self.notes)?;
        self.known_keys(&top, &TOP_KEYS, "a playbook");

        let name = match top.iter().find(|e| e.key == "name") {
            Some(e) => self.text(e).map(|t| t.text),
            None => {
                self.missing("name", 0..0, "name = \"Lantern\"");
                None
            }
        };
        let unit = match top.iter().find(|e| e.key == "units") {
            Some(e) => self.unit(e),
            None => LengthUnit::Metre,
        };
        let (court, court_words) = match top.iter().find(|e| e.key == "court") {
            Some(e) => self.court(e, unit),
            None => (Some(Court::fiba()), Vec::new()),
        };
        let court = court.unwrap_or_else(Court::fiba);
        let spot_words = match top.iter().find(|e| e.key == "spots") {
            Some(e) => self.spots(e, unit, &court),
            None => Vec::new(),
        };
        let tolerance_words = match top.iter().find(|e| e.key == "tolerance") {
            Some(e) => self.tolerances(e),
            None => Vec::new(),
        };
        let mut lex = Lexicon {
            court,
            roles: Vec::new(),
            spots: spot_words
                .iter()
                .map(|(n, [x, y])| {
                    (
                        n.clone(),
                        AttackPoint::new(unit.to_metres(*x), unit.to_metres(*y)),
                    )
                })
                .collect(),
        };
        let formations = match top.iter().find(|e| e.key == "formations") {
            Some(e) => self.formations(e, &mut lex),
            None => {
                self.missing(
                    "formations",
                    0..0,
                    "[formations.start] with a place per role",
                );
                Vec::new()
            }
        };
        let options = match top.iter().find(|e| e.key == "options") {
            Some(e) => self.options(e, &lex, &formations),
            None => {
                self.missing("options", 0..0, "[options.first] with its steps");
                Vec::new()
            }
        };
        Some(Book {
            file: file.to_owned(),
            source: self.source.to_owned(),
            name: name?,
            unit,
            lex: LexiconEq(lex),
            formations,
            options,
            court_words,
            spot_words,
            tolerance_words,
            warnings: Diagnostics::default(),
        })
    }

    /// Whether enough is wrong already.
    fn full(&self) -> bool {
        self.notes.len() >= MAX_NOTES
    }

    fn missing(&mut self, key: &str, span: Range<usize>, example: &str) {
        self.notes.push(
            Note::error("missing-key", span, format!("`{key}` is missing"))
                .help(format!("write {example}")),
        );
    }

    fn known_keys(&mut self, entries: &[Entry<'_>], known: &[&str], of: &str) {
        for e in entries {
            if self.full() {
                return;
            }
            if !known.contains(&e.key.as_str()) {
                self.notes.push(
                    Note::error(
                        "unknown-key",
                        e.key_span.clone(),
                        format!("`{}` is not a key of {of}", e.key),
                    )
                    .expected(format!("one of: {}", known.join(", ")))
                    .maybe_help(did_you_mean(&e.key, known.iter().copied())),
                );
            }
        }
    }

    fn text(&mut self, e: &Entry<'_>) -> Option<Text> {
        Text::read(
            e.item,
            e.value_span.clone(),
            &e.key,
            self.source,
            self.notes,
        )
    }

    fn unit(&mut self, e: &Entry<'_>) -> LengthUnit {
        let Some(t) = self.text(e) else {
            return LengthUnit::Metre;
        };
        t.text.parse().unwrap_or_else(|_| {
            self.notes.push(
                Note::error(
                    "unknown-unit",
                    t.span.clone(),
                    format!("unknown unit of length `{}`", t.text),
                )
                .expected("`m`, `ft` or `cm`"),
            );
            LengthUnit::Metre
        })
    }

    fn court(&mut self, e: &Entry<'_>, unit: LengthUnit) -> (Option<Court>, Vec<(String, f64)>) {
        if e.item.is_str() {
            let Some(t) = self.text(e) else {
                return (None, Vec::new());
            };
            let court = Court::named(&t.text)
                .map_err(|_| {
                    self.notes.push(
                        Note::error(
                            "unknown-court",
                            t.span.clone(),
                            format!("no court is called `{}`", t.text),
                        )
                        .expected(format!("one of: {}", Court::NAMES.join(", ")))
                        .maybe_help(did_you_mean(&t.text, Court::NAMES)),
                    );
                })
                .ok();
            return (court, Vec::new());
        }
        let Some(entries) = table(e.item, "`court`", self.source, self.notes) else {
            return (None, Vec::new());
        };
        self.known_keys(&entries, &COURT_KEYS, "a court");
        let mut words = Vec::new();
        for f in &entries {
            if COURT_KEYS.contains(&f.key.as_str())
                && let Some(v) = self.number(f)
            {
                words.push((f.key.clone(), v));
            }
        }
        // Measures that are not given are those of the FIBA floor.
        let mut m: CourtMeasures = *Court::fiba().measures();
        for (k, v) in &words {
            let v = unit.to_metres(*v);
            match k.as_str() {
                "length" => m.length = v,
                "width" => m.width = v,
                "lane_width" => m.lane_width = v,
                "free_throw" => m.free_throw = v,
                "circle_radius" => m.circle_radius = v,
                "ring" => m.ring = v,
                "three_radius" => m.three_radius = v,
                "three_corner" => m.three_corner = v,
                "restricted_radius" => m.restricted_radius = Some(v),
                _ => m.ring_height = v,
            }
        }
        match Court::new("own", m) {
            Ok(c) => (Some(c), words),
            Err(err) => {
                self.notes.push(
                    Note::error("bad-court", e.value_span.clone(), err.to_string())
                        .help("numbers are in the playbook's `units`"),
                );
                (None, words)
            }
        }
    }

    fn number(&mut self, e: &Entry<'_>) -> Option<f64> {
        let v = numbers(e.item).and_then(|v| match v.as_slice() {
            [one] if !e.item.is_array() => Some(*one),
            _ => None,
        });
        if v.is_none() {
            self.notes.push(
                Note::error(
                    "expected-number",
                    e.value_span.clone(),
                    format!("`{}` is not a number", e.key),
                )
                .expected("a number"),
            );
        }
        v
    }

    fn spots(&mut self, e: &Entry<'_>, unit: LengthUnit, court: &Court) -> Vec<(String, [f64; 2])> {
        let Some(entries) = table(e.item, "`spots`", self.source, self.notes) else {
            return Vec::new();
        };
        let m = court.measures();
        let mut out: Vec<(String, [f64; 2])> = Vec::new();
        for s in &entries {
            if self.full() {
                break;
            }
            let name_ok = !s.key.is_empty()
                && s.key.len() <= 40
                && s.key.split(' ').count() <= 4
                && s.key
                    .split(' ')
                    .all(|w| !w.is_empty() && w.chars().all(|c| c.is_alphanumeric() || c == '-'))
                && s.key.to_lowercase() == s.key
                && s.key.starts_with(char::is_alphabetic);
            if !name_ok {
                self.notes.push(
                    Note::error(
                        "bad-name",
                        s.key_span.clone(),
                        format!("`{}` cannot be a spot's name", s.key),
                    )
                    .expected("one to four words of small letters, digits and hyphens"),
                );
                continue;
            }
            if spot_names().any(|n| n == s.key) {
                self.notes.push(Note::warning(
                    "spot-hidden",
                    s.key_span.clone(),
                    format!("`{}` takes the place of the built-in spot", s.key),
                ));
            }
            let pair = numbers(s.item).and_then(|v| <[f64; 2]>::try_from(v).ok());
            let Some([x, y]) = pair else {
                self.notes.push(
                    Note::error(
                        "expected-number",
                        s.value_span.clone(),
                        format!("spot `{}` needs two numbers", s.key),
                    )
                    .expected("[distance from the end line, distance to the right of the middle]"),
                );
                continue;
            };
            let (xm, ym) = (unit.to_metres(x), unit.to_metres(y));
            if !(-OFF_FLOOR..=m.length / 2.0 + OFF_FLOOR).contains(&xm)
                || ym.abs() > m.width / 2.0 + OFF_FLOOR
            {
                self.notes.push(
                    Note::error(
                        "off-floor",
                        s.value_span.clone(),
                        format!("spot `{}` is not on the floor", s.key),
                    )
                    .expected(format!(
                        "0 to {:.1} {unit} from the end line, at most {:.1} {unit} from the middle",
                        unit.from_metres(m.length / 2.0),
                        unit.from_metres(m.width / 2.0)
                    )),
                );
                continue;
            }
            out.push((s.key.clone(), [x, y]));
        }
        out
    }

    fn tolerances(&mut self, e: &Entry<'_>) -> Vec<(String, f64)> {
        let Some(entries) = table(e.item, "`tolerance`", self.source, self.notes) else {
            return Vec::new();
        };
        let known: Vec<&str> = TOLERANCES.iter().map(|(k, _)| *k).collect();
        self.known_keys(&entries, &known, "the tolerances");
        let mut out = Vec::new();
        for t in &entries {
            if let Some(v) = self.number(t) {
                if v > 0.0 && v < 1000.0 {
                    out.push((t.key.clone(), v));
                } else {
                    self.notes.push(Note::error(
                        "expected-number",
                        t.value_span.clone(),
                        format!("tolerance `{}` must be more than 0", t.key),
                    ));
                }
            }
        }
        out
    }

    fn role_names(&mut self, entries: &[Entry<'_>], span: &Range<usize>) -> Vec<String> {
        let roles: Vec<String> = entries
            .iter()
            .map(|e| e.key.clone())
            .filter(|k| k != "ball")
            .collect();
        for e in entries {
            let ok = e.key.len() <= 12 && e.key.chars().all(|c| c.is_ascii_alphanumeric());
            let taken = ["the", "everyone", "ball"].contains(&e.key.to_lowercase().as_str());
            if e.key != "ball" && (!ok || taken) {
                self.notes.push(
                    Note::error(
                        "bad-name",
                        e.key_span.clone(),
                        format!("`{}` cannot be a role's name", e.key),
                    )
                    .expected("a number or one short word"),
                );
            }
        }
        if !(2..=5).contains(&roles.len()) {
            self.notes.push(
                Note::error(
                    "role-count",
                    span.clone(),
                    format!("{} roles in the formation", roles.len()),
                )
                .expected("two to five roles, each with its place"),
            );
        }
        roles
    }

    fn formations(
        &mut self,
        e: &Entry<'_>,
        lex: &mut Lexicon,
    ) -> Vec<(Formation, Vec<String>, Range<usize>)> {
        let Some(entries) = table(e.item, "`formations`", self.source, self.notes) else {
            return Vec::new();
        };
        let mut out = Vec::new();
        if entries.is_empty() {
            self.missing("formations", e.key_span.clone(), "[formations.start]");
        }
        for f in entries.iter().take(MAX_FORMATIONS) {
            if self.full() {
                break;
            }
            let what = format!("formation `{}`", f.key);
            let Some(fields) = table(f.item, &what, self.source, self.notes) else {
                continue;
            };
            if lex.roles.is_empty() {
                lex.roles = self.role_names(&fields, &f.key_span);
            }
            let roles = lex.roles.clone();
            let mut known: Vec<&str> = roles.iter().map(String::as_str).collect();
            known.push("ball");
            self.known_keys(&fields, &known, &what);
            let mut places = Vec::new();
            let mut words = Vec::new();
            for r in &roles {
                let Some(field) = fields.iter().find(|x| x.key == *r) else {
                    self.notes.push(
                        Note::error(
                            "missing-role",
                            f.key_span.clone(),
                            format!("{what} says nothing of role `{r}`"),
                        )
                        .help(format!("write {r} = \"top\", or whatever its place is")),
                    );
                    continue;
                };
                let Some(t) = self.text(field) else { continue };
                match formation_place(&t.text, lex) {
                    Ok(p) => {
                        places.push(p);
                        words.push(t.text);
                    }
                    Err(m) => self.miss(m, &t),
                }
            }
            let ball = fields
                .iter()
                .find(|x| x.key == "ball")
                .and_then(|b| self.ball(b, &roles));
            if places.len() == roles.len() {
                out.push((
                    Formation {
                        name: f.key.clone(),
                        places,
                        ball,
                    },
                    words,
                    f.key_span.clone(),
                ));
            }
        }
        out
    }

    fn ball(&mut self, e: &Entry<'_>, roles: &[String]) -> Option<RoleIx> {
        let name = match e.item.as_integer() {
            Some(i) => i.to_string(),
            None => self.text(e)?.text,
        };
        let r = roles.iter().position(|r| *r == name);
        if r.is_none() {
            self.notes.push(
                Note::error(
                    "unknown-role",
                    e.value_span.clone(),
                    format!("`{name}` is not a role of this playbook"),
                )
                .expected(format!("a role: {}", roles.join(", "))),
            );
        }
        r
    }

    fn miss(&mut self, m: Miss, t: &Text) {
        self.notes.push(Note {
            help: m.help,
            ..Note::error(m.code, t.at(m.span), m.message).expected(m.expected)
        });
    }

    fn options(
        &mut self,
        e: &Entry<'_>,
        lex: &Lexicon,
        formations: &[(Formation, Vec<String>, Range<usize>)],
    ) -> Vec<OptionWords> {
        let Some(entries) = table(e.item, "`options`", self.source, self.notes) else {
            return Vec::new();
        };
        if entries.is_empty() {
            self.missing("options", e.key_span.clone(), "[options.first]");
        }
        if entries.len() > MAX_OPTIONS {
            self.notes.push(Note::error(
                "too-many",
                e.key_span.clone(),
                format!("{} options, {MAX_OPTIONS} at most", entries.len()),
            ));
        }
        let mut out = Vec::new();
        let counts: Vec<(String, usize)> = entries
            .iter()
            .map(|o| {
                let n = table(o.item, "", self.source, &mut Vec::new())
                    .and_then(|f| {
                        f.iter()
                            .find(|x| x.key == "steps")
                            .and_then(|x| x.item.as_array().map(toml_edit::Array::len))
                    })
                    .unwrap_or(0);
                (o.key.clone(), n)
            })
            .collect();
        for o in entries.iter().take(MAX_OPTIONS) {
            if self.full() {
                break;
            }
            if let Some(f) = formations.iter().find(|f| f.0.name == o.key) {
                self.notes.push(
                    Note::error(
                        "name-twice",
                        o.key_span.clone(),
                        format!("`{}` is a formation and an option", f.0.name),
                    )
                    .help("give one of them another name, so that `after` is clear"),
                );
            }
            if let Some(w) = self.option(o, lex, formations, &counts) {
                out.push(w);
            }
        }
        out
    }

    fn option(
        &mut self,
        o: &Entry<'_>,
        lex: &Lexicon,
        formations: &[(Formation, Vec<String>, Range<usize>)],
        options: &[(String, usize)],
    ) -> Option<OptionWords> {
        let what = format!("option `{}`", o.key);
        let fields = table(o.item, &what, self.source, self.notes)?;
        self.known_keys(&fields, &OPTION_KEYS, &what);
        let find = |k: &str| fields.iter().find(|f| f.key == k);
        let title = find("title")
            .and_then(|f| self.text(f))
            .map_or_else(|| title_of(&o.key), |t| t.text);
        let series = find("series").and_then(|f| self.text(f)).map(|t| t.text);
        let steps = match find("steps") {
            Some(f) => self.steps(f, lex),
            None => {
                self.missing("steps", o.key_span.clone(), "steps = [[\"1 passes to 2\"]]");
                Vec::new()
            }
        };
        let after = match find("after") {
            Some(f) => self.after(f, formations, options),
            None => {
                let first = formations.first().map_or("start", |f| &f.0.name);
                self.missing(
                    "after",
                    o.key_span.clone(),
                    &format!("after = [\"{first}\"]"),
                );
                Vec::new()
            }
        };
        let expect =
            find("expect").map_or_else(Vec::new, |f| self.sentences(f, |t| read_expect(t, lex)));
        let read = find("read").map_or_else(Vec::new, |f| self.sentences(f, |t| read_read(t, lex)));
        let returns = find("returns").and_then(|f| {
            let t = self.text(f)?;
            let at = formations.iter().position(|x| x.0.name == t.text);
            if at.is_none() {
                let names: Vec<&str> = formations.iter().map(|x| x.0.name.as_str()).collect();
                self.notes.push(
                    Note::error(
                        "unknown-formation",
                        t.span.clone(),
                        format!("no formation is called `{}`", t.text),
                    )
                    .expected(format!("one of: {}", names.join(", ")))
                    .maybe_help(did_you_mean(&t.text, names)),
                );
            }
            Some(Spanned {
                value: at?,
                span: t.span.clone(),
                text: t.text,
            })
        });
        let refill = find("refill").and_then(|f| self.refill(f, lex));
        if let (Some(r), None) = (&refill, find("returns")) {
            self.notes.push(
                Note::error(
                    "refill-without-returns",
                    r.span.clone(),
                    format!("{what} says who fills which role, but not into which formation"),
                )
                .help("write returns = \"…\" with the formation's name"),
            );
        }
        Some(OptionWords {
            id: o.key.clone(),
            span: o.key_span.clone(),
            title,
            series,
            after,
            steps,
            expect,
            returns,
            refill,
            read,
        })
    }

    /// One text or a list of them.
    fn texts(&mut self, item: &Item, span: Range<usize>, key: &str) -> Vec<Text> {
        let Some(array) = item.as_array() else {
            return Text::read(item, span, key, self.source, self.notes)
                .into_iter()
                .collect();
        };
        let mut out = Vec::new();
        for v in array {
            let span = v.span().unwrap_or(span.clone());
            if self.full() {
                break;
            }
            out.extend(Text::of_value(v, span, key, self.source, self.notes));
        }
        out
    }

    fn sentences<T>(
        &mut self,
        f: &Entry<'_>,
        read: impl Fn(&str) -> Result<T, Miss>,
    ) -> Vec<Spanned<T>> {
        let mut out = Vec::new();
        for t in self.texts(f.item, f.value_span.clone(), &f.key) {
            if self.full() {
                break;
            }
            match read(&t.text) {
                Ok(value) => out.push(Spanned {
                    value,
                    span: t.span.clone(),
                    text: t.text,
                }),
                Err(m) => self.miss(m, &t),
            }
        }
        out
    }

    fn steps(
        &mut self,
        f: &Entry<'_>,
        lex: &Lexicon,
    ) -> Vec<Vec<Spanned<crate::sentence::Sentence>>> {
        let mut out = Vec::new();
        let Some(array) = f.item.as_array() else {
            self.notes.push(
                Note::error(
                    "expected-list",
                    f.value_span.clone(),
                    "`steps` is not a list".to_owned(),
                )
                .expected("a list of steps, each a list of sentences"),
            );
            return out;
        };
        if array.is_empty() || array.len() > MAX_STEPS {
            self.notes.push(
                Note::error(
                    "step-count",
                    f.value_span.clone(),
                    format!("{} steps", array.len()),
                )
                .expected(format!("1 to {MAX_STEPS} steps")),
            );
            return out;
        }
        for v in array {
            let span = v.span().unwrap_or(f.value_span.clone());
            if self.full() {
                break;
            }
            let mut step = Vec::new();
            // A step of one sentence may be written without brackets.
            let texts: Vec<Text> = match v.as_array() {
                Some(a) => a
                    .iter()
                    .take(MAX_SENTENCES + 1)
                    .filter_map(|s| {
                        let span = s.span().unwrap_or(span.clone());
                        Text::of_value(s, span, "steps", self.source, self.notes)
                    })
                    .collect(),
                None => Text::of_value(v, span.clone(), "steps", self.source, self.notes)
                    .into_iter()
                    .collect(),
            };
            if v.as_array().is_some_and(toml_edit::Array::is_empty) || texts.len() > MAX_SENTENCES {
                self.notes.push(
                    Note::error("sentence-count", span, format!("{} sentences", texts.len()))
                        .expected(format!("1 to {MAX_SENTENCES} sentences in a step")),
                );
            }
            for t in texts.into_iter().take(MAX_SENTENCES) {
                if self.full() {
                    break;
                }
                match read_sentence(&t.text, lex) {
                    Ok(value) => step.push(Spanned {
                        value,
                        span: t.span.clone(),
                        text: t.text,
                    }),
                    Err(m) => self.miss(m, &t),
                }
            }
            out.push(step);
        }
        out
    }

    fn after(
        &mut self,
        f: &Entry<'_>,
        formations: &[(Formation, Vec<String>, Range<usize>)],
        options: &[(String, usize)],
    ) -> Vec<Spanned<After>> {
        let mut out: Vec<Spanned<After>> = Vec::new();
        for t in self.texts(f.item, f.value_span.clone(), "after") {
            if self.full() {
                break;
            }
            let (name, step) = match t.text.rsplit_once(" step ") {
                Some((n, s)) => (n.to_owned(), Some(s.to_owned())),
                None => (t.text.clone(), None),
            };
            let option = options.iter().position(|(o, _)| *o == name);
            let formation = formations.iter().position(|x| x.0.name == name);
            let value = match (option, formation, &step) {
                (Some(o), _, Some(s)) => {
                    let n = s.parse::<usize>().unwrap_or(0);
                    if n == 0 || n > options[o].1 {
                        self.notes.push(
                            Note::error(
                                "unknown-step",
                                t.span.clone(),
                                format!("option `{name}` has no step `{s}`"),
                            )
                            .expected(format!("a step from 1 to {}", options[o].1)),
                        );
                        continue;
                    }
                    After::Step(o, n - 1)
                }
                (Some(o), _, None) => After::Option(o),
                (None, Some(x), None) => After::Formation(x),
                _ => {
                    let known: Vec<&str> = formations
                        .iter()
                        .map(|x| x.0.name.as_str())
                        .chain(options.iter().map(|o| o.0.as_str()))
                        .collect();
                    self.notes.push(
                        Note::error(
                            "unknown-after",
                            t.span.clone(),
                            format!("no formation and no option is called `{name}`"),
                        )
                        .expected(format!("one of: {}", shorten(&known)))
                        .maybe_help(did_you_mean(&name, known)),
                    );
                    continue;
                }
            };
            if !out.iter().any(|a| a.value == value) {
                out.push(Spanned {
                    value,
                    span: t.span.clone(),
                    text: t.text,
                });
            }
        }
        if out.is_empty() && f.item.as_array().is_some_and(toml_edit::Array::is_empty) {
            self.notes.push(
                Note::error(
                    "expected-list",
                    f.value_span.clone(),
                    "`after` names nothing".to_owned(),
                )
                .expected("at least one formation or option"),
            );
        }
        out
    }

    fn refill(&mut self, f: &Entry<'_>, lex: &Lexicon) -> Option<Spanned<Vec<Option<RoleIx>>>> {
        let entries = table(f.item, "`refill`", self.source, self.notes)?;
        let roles: Vec<&str> = lex.roles.iter().map(String::as_str).collect();
        self.known_keys(&entries, &roles, "a refill");
        let mut to: Vec<Option<RoleIx>> = vec![None; roles.len()];
        for e in &entries {
            let old = self.ball(e, &lex.roles);
            if let (Some(new), Some(old)) = (roles.iter().position(|r| *r == e.key), old) {
                to[new] = Some(old);
            }
        }
        let twice = to
            .iter()
            .enumerate()
            .any(|(i, o)| o.is_some() && to[..i].contains(o));
        if twice {
            self.notes.push(
                Note::error(
                    "bad-refill",
                    f.value_span.clone(),
                    "one player would fill two roles".to_owned(),
                )
                .expected("each role once on each side, such as { 1 = 2, 2 = 1 }"),
            );
            return None;
        }
        Some(Spanned {
            value: to,
            text: String::new(),
            span: f.value_span.clone(),
        })
    }
}

fn formation_place(text: &str, lex: &Lexicon) -> Result<AttackPoint, Miss> {
    // Roles stand nowhere yet, so a formation's places are spots only.
    let spots_only = Lexicon {
        roles: Vec::new(),
        ..lex.clone()
    };
    let mut c = Cursor::new(text, &spots_only)?;
    let p = c.place()?;
    if !c.done() {
        return Err(c.miss("unknown-tail", 1, "the end of the place"));
    }
    let at = p.resolve(&[]);
    let m = lex.court.measures();
    if at.x < -OFF_FLOOR
        || at.x > m.length / 2.0 + OFF_FLOOR
        || at.y.abs() > m.width / 2.0 + OFF_FLOOR
    {
        return Err(Miss {
            code: "off-floor",
            span: 0..text.len(),
            message: format!("`{text}` is not on the floor"),
            expected: format!("a place on the {}", Zone::FrontCourt),
            help: None,
        });
    }
    Ok(at)
}

fn shorten(names: &[&str]) -> String {
    if names.len() > 12 {
        format!("{} …", names[..12].join(", "))
    } else {
        names.join(", ")
    }
}

/// `side-screen` → `Side screen`.
fn title_of(key: &str) -> String {
    let words = key.replace(['-', '_'], " ");
    let mut c = words.chars();
    c.next()
        .map_or(String::new(), |f| f.to_uppercase().chain(c).collect())
}

//! What a playbook says of the floor: unit, court, spots, tolerances.

use super::{COURT_KEYS, OFF_FLOOR, Reader};
use crate::book::TOLERANCES;
use crate::diagnostic::{Note, did_you_mean};
use crate::toml_read::{Entry, numbers, table};
use setdrift_court::{Court, CourtMeasures, LengthUnit, spot_names};

impl Reader<'_> {
    pub(super) fn unit(&mut self, e: &Entry<'_>) -> LengthUnit {
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

    pub(super) fn court(
        &mut self,
        e: &Entry<'_>,
        unit: LengthUnit,
    ) -> (Option<Court>, Vec<(String, f64)>) {
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

    pub(super) fn number(&mut self, e: &Entry<'_>) -> Option<f64> {
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

    pub(super) fn spots(
        &mut self,
        e: &Entry<'_>,
        unit: LengthUnit,
        court: &Court,
    ) -> Vec<(String, [f64; 2])> {
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

    pub(super) fn tolerances(&mut self, e: &Entry<'_>) -> Vec<(String, f64)> {
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
}

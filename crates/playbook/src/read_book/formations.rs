//! The formations, which name the roles too.

use super::{MAX_FORMATIONS, OFF_FLOOR, Reader};
use crate::cursor::{Cursor, Lexicon, Miss};
use crate::diagnostic::Note;
use crate::graph::{Formation, RoleIx};
use crate::toml_read::{Entry, table};
use setdrift_court::{AttackPoint, Zone};
use std::ops::Range;

impl Reader<'_> {
    pub(super) fn role_names(&mut self, entries: &[Entry<'_>], span: &Range<usize>) -> Vec<String> {
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

    pub(super) fn formations(
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

    pub(super) fn ball(&mut self, e: &Entry<'_>, roles: &[String]) -> Option<RoleIx> {
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

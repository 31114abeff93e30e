//! Reading the sentences of steps.

use crate::cursor::{Cursor, Lexicon, Miss, Read};
use crate::diagnostic::did_you_mean;
use crate::grammar::{EVENTS, EventKind, Make, TAILS, Tail, Then, VERBS, VerbRow};
use crate::graph::RoleIx;
use crate::sentence::{CueWords, Event, Guard, Sentence, Verb, Where, Who};
use setdrift_court::Zone;

/// Longest movement or wait that may be declared, seconds.
const MAX_SECONDS: f64 = 30.0;
/// Widest cue window, seconds to either side.
const MAX_WINDOW_S: f64 = 10.0;

/// Reads one sentence of a step.
pub(crate) fn read_sentence(text: &str, lex: &Lexicon) -> Read<Sentence> {
    let mut c = Cursor::new(text, lex)?;
    let who = subject(&mut c)?;
    let verb = verb(&mut c)?;
    let mut s = Sentence::new(who, verb);
    // Screens name their place first, so `at` is read with the verb; all else comes in any order.
    while !c.done() {
        tail(&mut c, &mut s)?;
    }
    Ok(s)
}

fn subject(c: &mut Cursor<'_>) -> Read<Who> {
    if c.eat("everyone") {
        return Ok(Who::Everyone);
    }
    let first = c.role()?;
    let mut rest = vec![first];
    if c.at("or") {
        while c.eat("or") {
            rest.push(c.role()?);
        }
        unique(c, &rest)?;
        return Ok(Who::OneOf(rest));
    }
    loop {
        if c.eat("and") {
            rest.push(c.role()?);
        } else if let Some(r) = c.try_role() {
            rest.push(r);
        } else {
            break;
        }
    }
    unique(c, &rest)?;
    Ok(Who::All(rest))
}

fn unique(c: &Cursor<'_>, roles: &[RoleIx]) -> Read<()> {
    for (i, r) in roles.iter().enumerate() {
        if roles[..i].contains(r) {
            let mut m = c.miss("role-twice", 1, "each role once");
            m.message = format!("role `{}` is named twice", c.lex.roles[*r]);
            return Err(m);
        }
    }
    Ok(())
}

fn verb_at(c: &Cursor<'_>, r: &VerbRow) -> Option<usize> {
    [r.words, r.plural]
        .into_iter()
        .filter(|w| c.at(w))
        .map(|w| w.split(' ').count())
        .max()
}

fn verb(c: &mut Cursor<'_>) -> Read<Verb> {
    let longest = VERBS.iter().filter_map(|r| verb_at(c, r)).max();
    let Some(n) = longest else {
        let mut m = c.miss(
            "unknown-verb",
            1,
            "an action, such as `cuts to` or `passes to`",
        );
        for n in [2, 1] {
            let words = c.phrase(n);
            if let Some(help) = did_you_mean(&words, VERBS.iter().map(|r| r.words)) {
                m.span = c.span(n);
                m.message = format!("`{words}` is no action of the language");
                m.help = Some(help);
                break;
            }
        }
        return Err(m);
    };
    let rows: Vec<&VerbRow> = VERBS.iter().filter(|r| verb_at(c, r) == Some(n)).collect();
    c.back_to(c.pos() + n);
    // One verb may have two continuations (`dribbles to`, `dribbles at`): the next word decides.
    let row = rows
        .iter()
        .find(|r| match r.then {
            Then::ToRoles | Then::ToPlace => c.at("to"),
            Then::AtRole | Then::AtPlace => c.at("at"),
            Then::ForRole => c.at("for"),
            Then::Nothing | Then::Role | Then::Seconds => true,
        })
        .ok_or_else(|| {
            let mut ways: Vec<&str> = Vec::new();
            for r in &rows {
                ways.push(match r.then {
                    Then::ToRoles => "`to` and a role",
                    Then::ToPlace => "`to` and a place",
                    Then::AtRole => "`at` and a role",
                    Then::AtPlace => "`at` and a place",
                    _ => "`for` and a role",
                });
            }
            c.miss("expected-word", 1, ways.join(", or "))
        })?;
    complement(c, row)
}

fn complement(c: &mut Cursor<'_>, row: &VerbRow) -> Read<Verb> {
    match row.then {
        Then::ToRoles | Then::ToPlace => c.need("to")?,
        Then::AtRole | Then::AtPlace => c.need("at")?,
        Then::ForRole => c.need("for")?,
        Then::Nothing | Then::Role | Then::Seconds => {}
    }
    Ok(match row.make {
        Make::Pass(kind) => {
            let to = c.roles("or")?;
            unique(c, &to)?;
            Verb::Pass { kind, to }
        }
        Make::HandOff => {
            let to = c.roles("or")?;
            unique(c, &to)?;
            Verb::HandOff(to)
        }
        Make::DribbleTo => Verb::DribbleTo(c.place()?),
        Make::DribbleAt => Verb::DribbleAt(c.role()?),
        Make::Cut(kind) => Verb::Cut {
            kind,
            to: c.place()?,
        },
        Make::Replace => Verb::Replace(c.role()?),
        Make::Screen => {
            let user = c.role()?;
            let at = if c.eat("at") { Some(c.place()?) } else { None };
            Verb::Screen { user, at }
        }
        Make::Leave(kind) => Verb::Leave {
            kind,
            to: c.place()?,
        },
        Make::Post(kind) => Verb::Post {
            kind,
            at: c.place()?,
        },
        Make::Hold => Verb::Hold,
        Make::Wait => Verb::Wait(positive_seconds(c)?),
        Make::Shoot => Verb::Shoot,
    })
}

fn positive_seconds(c: &mut Cursor<'_>) -> Read<f64> {
    let at = c.pos();
    let t = c.seconds()?;
    if t > 0.0 && t <= MAX_SECONDS {
        return Ok(t);
    }
    c.back_to(at);
    Err(c.miss(
        "expected-number",
        2,
        format!("more than 0 and at most {MAX_SECONDS} s"),
    ))
}

fn twice(c: &Cursor<'_>, what: &str) -> Miss {
    let mut m = c.miss("said-twice", 1, "each of these at most once in a sentence");
    m.message = format!("`{what}` is said twice");
    m
}

fn tail(c: &mut Cursor<'_>, s: &mut Sentence) -> Read<()> {
    let Some(row) = TAILS.iter().find(|r| c.at(r.lead)) else {
        let leads: Vec<&str> = TAILS.iter().map(|r| r.lead).collect();
        let mut m = c.miss(
            "unknown-tail",
            1,
            format!("the end, or one of: {}", leads.join(", ")),
        );
        m.help = did_you_mean(&c.phrase(1), leads);
        return Err(m);
    };
    match row.kind {
        Tail::Via => {
            if s.via.len() >= 6 {
                return Err(c.miss("too-many", 1, "at most six places on the way"));
            }
            c.need("via")?;
            s.via.push(c.place()?);
        }
        Tail::Off => {
            if s.off.is_some() {
                return Err(twice(c, "off"));
            }
            c.need("off")?;
            s.off = Some(c.role()?);
        }
        Tail::InSeconds => {
            if s.seconds.is_some() {
                return Err(twice(c, "in"));
            }
            c.need("in")?;
            s.seconds = Some(positive_seconds(c)?);
        }
        Tail::Place => {
            if s.places.len() >= 6 {
                return Err(c.miss("too-many", 1, "at most six placements"));
            }
            s.places.push(placement(c)?);
        }
        Tail::Give => {
            if s.give.is_some() {
                return Err(twice(c, "give or take"));
            }
            c.need("give or take")?;
            s.give = Some(c.length()?);
        }
        Tail::When => {
            if s.cue.is_some() {
                return Err(twice(c, "when"));
            }
            c.need("when")?;
            s.cue = Some(cue(c)?);
        }
        Tail::If | Tail::Unless => {
            if s.guards.len() >= 4 {
                return Err(c.miss("too-many", 1, "at most four conditions"));
            }
            s.guards.push(guard(c, row.kind == Tail::Unless)?);
        }
    }
    Ok(())
}

/// A placement: `inside lane`, `within 3 ft of top`, `behind the arc` …
pub(crate) fn placement(c: &mut Cursor<'_>) -> Read<Where> {
    // These two zone names begin with their own preposition.
    for z in [Zone::BehindArc, Zone::InsideArc] {
        if c.eat(&z.to_string()) {
            return Ok(Where::Inside(z));
        }
    }
    if c.eat("inside") {
        return Ok(Where::Inside(c.zone()?));
    }
    if c.eat("outside") {
        return Ok(Where::Outside(c.zone()?));
    }
    if c.eat("within") {
        let d = c.length()?;
        c.need("of")?;
        return Ok(Where::Within(d, c.place()?));
    }
    if c.eat("above") {
        return Ok(Where::Above(c.place()?));
    }
    if c.eat("below") {
        return Ok(Where::Below(c.place()?));
    }
    if c.eat("facing") {
        return Ok(Where::Facing(c.place()?));
    }
    Err(c.miss(
        "unknown-placement",
        1,
        "a placement: inside, outside, behind the arc, within, above, below, facing",
    ))
}

/// An event after the role that does it.
pub(crate) fn event(c: &mut Cursor<'_>) -> Read<Event> {
    let Some(row) = EVENTS.iter().find(|r| c.at(r.lead)) else {
        let leads: Vec<&str> = EVENTS.iter().map(|r| r.lead).collect();
        let mut m = c.miss(
            "unknown-event",
            1,
            format!("an event: {}", leads.join(", ")),
        );
        m.help = did_you_mean(&c.phrase(1), leads.iter().copied())
            .or_else(|| did_you_mean(&c.phrase(2), leads));
        return Err(m);
    };
    c.need(row.lead)?;
    Ok(match row.kind {
        EventKind::Passes => Event::Passes,
        EventKind::Catches => Event::Catches,
        EventKind::Dribbles => Event::Dribbles,
        EventKind::Screens => Event::Screens,
        EventKind::HandsOff => Event::HandsOff,
        EventKind::Reaches => Event::Reaches(c.place()?),
        EventKind::Cuts => Event::Cuts,
    })
}

fn cue(c: &mut Cursor<'_>) -> Read<CueWords> {
    let role = c.role()?;
    let event = event(c)?;
    let start = c.pos();
    let window = if c.at("within")
        && c.peek(2)
            .is_none_or(|w| w.parse::<setdrift_court::LengthUnit>().is_err())
    {
        c.need("within")?;
        Some((0.0, c.seconds()?))
    } else if c.eat("between") {
        let from = c.number("a number of seconds")?;
        let _ = c.second_word();
        c.need("and")?;
        Some((from, c.seconds()?))
    } else {
        None
    };
    if let Some((a, b)) = window
        && (a >= b || a < -MAX_WINDOW_S || b > MAX_WINDOW_S)
    {
        let n = c.pos() - start;
        c.back_to(start);
        let mut m = c.miss(
            "bad-window",
            n,
            format!("a window that ends after it begins, within {MAX_WINDOW_S} s of the cue"),
        );
        m.message = format!("a window from {a} to {b} s after the cue");
        return Err(m);
    }
    Ok(CueWords {
        role,
        event,
        window,
    })
}

fn guard(c: &mut Cursor<'_>, unless: bool) -> Read<Guard> {
    c.need(if unless { "unless" } else { "if" })?;
    let role = c.role()?;
    if c.eat("has the ball") {
        return Ok(Guard {
            role,
            at: None,
            unless,
        });
    }
    if !c.eat("is") {
        return Err(c.miss("expected-word", 1, "`is at` and a place, or `has the ball`"));
    }
    let _ = c.eat("still");
    c.need("at")?;
    Ok(Guard {
        role,
        at: Some(c.place()?),
        unless,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::grammar::patterns;
    use crate::read_expect::{read_expect, read_read};
    use proptest::prelude::*;
    use setdrift_court::Court;

    fn lexicon() -> Lexicon {
        Lexicon {
            court: Court::fiba(),
            roles: ["1", "2", "3", "4", "5"].map(str::to_owned).to_vec(),
            spots: Vec::new(),
        }
    }

    /// The manual's own examples are understood, each by the parser of its chapter.
    #[test]
    fn every_example_is_understood() {
        let lex = lexicon();
        for (chapter, rows) in patterns() {
            for p in rows {
                let ok = match chapter {
                    "Expectations" => read_expect(p.example, &lex).map(|_| ()),
                    "Reads" => read_read(p.example, &lex).map(|_| ()),
                    _ => read_sentence(p.example, &lex).map(|_| ()),
                };
                assert!(ok.is_ok(), "{chapter}: {}: {ok:?}", p.example);
            }
        }
    }

    #[test]
    fn examples_are_written_again_as_they_were() {
        let lex = lexicon();
        for (chapter, rows) in patterns() {
            for p in rows {
                if let ("Actions", Ok(s)) = (chapter, read_sentence(p.example, &lex)) {
                    assert_eq!(s.text(&lex.roles), p.example);
                }
            }
        }
    }

    /// Pieces of sentences that the property below puts together.
    const HEADS: [&str; 12] = [
        "1 passes to 2 or 3",
        "2 or 3 cuts to 3 ft above left elbow",
        "2 and 4 cut to nail",
        "everyone holds",
        "5 screens for 2",
        "5 screens for 2 at 1.5 m left of 1 m below the top",
        "3 replaces 1",
        "1 dribbles at 3",
        "4 back cuts to 2",
        "2 hands off to 1 or 5",
        "5 ducks in at rim",
        "3 waits 0.5 sec",
    ];
    const TAILS_OF: [&str; 14] = [
        "via nail",
        "off 5",
        "in 1.25 s",
        "inside the lane",
        "outside restricted arc",
        "behind the arc",
        "within 3ft of 4",
        "above 2",
        "facing left corner",
        "give or take 6 ft",
        "when 1 hands off within 0.5 s",
        "when 2 reaches right wing between -0.2 and 0.6 s",
        "if 2 is still at top",
        "unless 3 has the ball",
    ];

    proptest! {
        /// A sentence written in the language's own words reads as the same sentence.
        #[test]
        fn writing_and_reading_agree(
            head in 0..HEADS.len(),
            tails in prop::collection::btree_set(0..TAILS_OF.len(), 0..5),
        ) {
            let lex = lexicon();
            let mut text = HEADS[head].to_owned();
            for t in tails {
                text.push(' ');
                text.push_str(TAILS_OF[t]);
            }
            if let Ok(s) = read_sentence(&text, &lex) {
                let again = s.text(&lex.roles);
                prop_assert_eq!(read_sentence(&again, &lex).ok(), Some(s), "{}", again);
            } else {
                // Only two cues, or a cue said twice, are refused here.
                prop_assert!(text.matches("when").count() > 1, "{}", text);
            }
        }
    }
}

//! Reading expectations and reads.

use crate::cursor::{Cursor, Lexicon, Read};
use crate::graph::RoleIx;
use crate::read_sentence::{event, placement};
use crate::sentence::{Event, Length, Place, Where};
use setdrift_court::Zone;

/// What is expected over an option, as written.
#[derive(Debug, Clone, PartialEq)]
pub enum Expect {
    /// No two of these nearer than this; everyone when empty.
    Spacing(Length, Vec<RoleIx>),
    /// None of these in the zone, at an event or at the end.
    Clear(Zone, Vec<RoleIx>, Option<(RoleIx, Event)>),
    /// How many on the ball's side at the end: least and most.
    BallSide(Option<usize>, Option<usize>),
    /// Catches in the middle.
    MiddleTouches(usize),
    /// Changes of side.
    Reversals(usize),
    /// Where a role catches.
    Catches(RoleIx, Where),
}

/// What one defender does, as the reason for an option.
#[derive(Debug, Clone, PartialEq)]
pub enum DefenceRead {
    /// The defender of this role is somewhere.
    Is(RoleIx, Where),
    /// The defender of this role stands between two places.
    Between(RoleIx, Place, Place),
    /// The defender of the first role goes over the second's screen.
    Over(RoleIx, RoleIx),
    /// The defender of the first role goes under the second's screen.
    Under(RoleIx, RoleIx),
    /// The defender of the first role trails the second.
    Trails(RoleIx, RoleIx),
    /// The defenders of these two change their players.
    Switch(RoleIx, RoleIx),
}

/// Reads one expectation.
pub(crate) fn read_expect(text: &str, lex: &Lexicon) -> Read<Expect> {
    let mut c = Cursor::new(text, lex)?;
    let e = expect(&mut c)?;
    end(&c)?;
    Ok(e)
}

fn end(c: &Cursor<'_>) -> Read<()> {
    if c.done() {
        Ok(())
    } else {
        Err(c.miss("unknown-tail", 1, "the end of the sentence"))
    }
}

fn expect(c: &mut Cursor<'_>) -> Read<Expect> {
    if c.eat("spacing") {
        c.need("at least")?;
        let d = c.length()?;
        let roles = if c.eat("among") {
            c.role_list()?
        } else {
            Vec::new()
        };
        if roles.len() == 1 {
            return Err(c.miss("too-few", 1, "at least two roles"));
        }
        return Ok(Expect::Spacing(d, roles));
    }
    if c.eat("ball side") {
        if c.eat("at least") {
            return Ok(Expect::BallSide(Some(c.count()?), None));
        }
        if c.eat("at most") {
            return Ok(Expect::BallSide(None, Some(c.count()?)));
        }
        let low = c.count()?;
        c.need("to")?;
        let high = c.count()?;
        if low > high {
            return Err(c.miss("bad-range", 1, "the smaller number first"));
        }
        return Ok(Expect::BallSide(Some(low), Some(high)));
    }
    if c.eat("at least") {
        let n = c.count()?;
        if c.eat("touches") || c.eat("touch") {
            c.need("in")?;
            let _ = c.eat("the");
            c.need("middle")?;
            return Ok(Expect::MiddleTouches(n));
        }
        if c.eat("reversals") || c.eat("reversal") {
            return Ok(Expect::Reversals(n));
        }
        return Err(c.miss("expected-word", 1, "`touches in the middle` or `reversals`"));
    }
    if let Some(r) = c.try_role() {
        c.need("catches")?;
        let at = c.span(1);
        let w = placement(c)?;
        if let Where::Facing(_) = w {
            let mut m = c.miss("unknown-placement", 1, "where the catch is");
            m.span = at;
            m.message = "a catch cannot be judged by where the shoulders face".to_owned();
            return Err(m);
        }
        return Ok(Expect::Catches(r, w));
    }
    let start = c.pos();
    let zone = c.zone().map_err(|mut m| {
        m.code = "unknown-expectation";
        m.expected = "an expectation: spacing at least, ZONE clear of, ball side, at least, \
                      or ROLE catches"
            .to_owned();
        m
    });
    let zone = match zone {
        Ok(z) => z,
        Err(m) => {
            c.back_to(start);
            return Err(m);
        }
    };
    c.need("clear of")?;
    let roles = c.role_list()?;
    let when = if c.eat("when") {
        let r = c.role()?;
        Some((r, event(c)?))
    } else {
        None
    };
    Ok(Expect::Clear(zone, roles, when))
}

/// Reads one read.
pub(crate) fn read_read(text: &str, lex: &Lexicon) -> Read<DefenceRead> {
    let mut c = Cursor::new(text, lex)?;
    c.need("when")?;
    let d = defender(&mut c)?;
    let read = if c.eat("and") {
        let other = defender(&mut c)?;
        if !(c.eat("switch") || c.eat("switches")) {
            return Err(c.miss("expected-word", 1, "`switch`"));
        }
        DefenceRead::Switch(d, other)
    } else if c.eat("goes over") {
        DefenceRead::Over(d, c.role()?)
    } else if c.eat("goes under") {
        DefenceRead::Under(d, c.role()?)
    } else if c.eat("trails") {
        DefenceRead::Trails(d, c.role()?)
    } else if c.eat("is between") {
        let a = c.place()?;
        c.need("and")?;
        DefenceRead::Between(d, a, c.place()?)
    } else if c.eat("is") {
        DefenceRead::Is(d, placement(&mut c)?)
    } else {
        return Err(c.miss(
            "unknown-read",
            1,
            "`is`, `is between`, `goes over`, `goes under`, `trails`, or `and` another defender",
        ));
    };
    end(&c)?;
    Ok(read)
}

/// `X2`: the defender of role 2.
fn defender(c: &mut Cursor<'_>) -> Read<RoleIx> {
    let found = c.word().and_then(|w| {
        let name = w.strip_prefix('x')?;
        c.lex
            .roles
            .iter()
            .position(|r| r.eq_ignore_ascii_case(name))
    });
    match found {
        Some(r) => {
            c.back_to(c.pos() + 1);
            Ok(r)
        }
        None => {
            let names: Vec<String> = c.lex.roles.iter().map(|r| format!("X{r}")).collect();
            Err(c.miss(
                "unknown-defender",
                1,
                format!("a defender: {}", names.join(", ")),
            ))
        }
    }
}

//! When each item of a planned step happens.
//!
//! Everything in a step starts at once, except: what a role does follows what it did before; the
//! ball goes from hand to hand in the order written; a cue comes before what waits for it; a
//! screen stands before it is used; who screened leaves once it has been used.

use crate::book::DEFAULT_WINDOW_S;
use crate::diagnostic::Note;
use crate::graph::RoleIx;
use crate::motion::time_of_share;
use crate::plan::{Does, Item};
use crate::sentence::{CueWords, Event};
use setdrift_court::AttackPoint;

/// From a catch to the next pass or dribble, seconds. Common practice, no published source.
const GATHER_S: f64 = 0.3;
/// A hand-off lasts so long, seconds.
const HAND_OFF_S: f64 = 0.2;
/// A screen stands so long before its user passes, seconds.
const SET_S: f64 = 0.1;
/// How near counts as reaching a place, metres (2 ft).
const REACH: f64 = 2.0 * 0.3048;
/// How near two must come for a hand-off, metres (5 ft).
const ARM: f64 = 5.0 * 0.3048;
/// A shot is in the air so long, seconds: common practice, no published source.
pub(crate) const SHOT_S: f64 = 0.8;

/// Longest step, seconds: twice and a half the shot clock of 24 s (FIBA, NBA).
const MAX_STEP_S: f64 = 60.0;

/// Kinds of event that a later step may still wait for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum PastKind {
    Passes,
    Catches,
    Dribbles,
    Screens,
    HandsOff,
    Cuts,
}

/// An event of an earlier step, in seconds before its end (0 or negative).
#[derive(Debug, Clone, Copy)]
pub(crate) struct Past {
    pub role: RoleIx,
    pub kind: PastKind,
    pub at_s: f64,
}

/// A step with its times, seconds from its beginning.
pub(crate) struct Timed {
    /// Start and end of each item.
    pub times: Vec<(f64, f64)>,
    /// For each item with a cue, whether the event was found.
    pub cued: Vec<bool>,
    /// Seconds from the step's beginning to its end.
    pub total: f64,
}

struct Clock<'x, 'a> {
    items: &'x [Item<'a>],
    past: &'x [Past],
    start: &'x [AttackPoint],
    state: Vec<Mark>,
    cued: Vec<bool>,
}

#[derive(Clone, Copy, PartialEq)]
enum Mark {
    New,
    Open,
    Done(f64),
}

/// An item that waits for itself, by way of others.
struct Circle(usize);

/// Gives every item its time, or tells what waits for itself.
pub(crate) fn schedule(
    items: &[Item<'_>],
    past: &[Past],
    start: &[AttackPoint],
    maybe: &dyn Fn(&CueWords) -> bool,
    roles: &[String],
    notes: &mut Vec<Note>,
) -> Option<Timed> {
    let mut c = Clock {
        items,
        past,
        start,
        state: vec![Mark::New; items.len()],
        cued: vec![false; items.len()],
    };
    for i in 0..items.len() {
        if let Err(Circle(at)) = c.start_of(i) {
            notes.push(
                Note::error(
                    "waits-for-itself",
                    items[at].said.span.clone(),
                    "this waits for something that waits for it".to_owned(),
                )
                .help("change one of the cues, or put one of the two into the next step"),
            );
            return None;
        }
    }
    let mut times = Vec::with_capacity(items.len());
    for (i, m) in c.state.iter().enumerate() {
        let s = if let Mark::Done(s) = m { *s } else { 0.0 };
        times.push((s, s + c.seconds(i)));
    }
    c.check(&times, maybe, roles, notes);
    let total = times.iter().map(|t| t.1).fold(0.2, f64::max);
    if total > MAX_STEP_S {
        let at = items.first().map_or(0..0, |x| x.said.span.clone());
        notes.push(
            Note::error(
                "step-too-long",
                at,
                format!("this step would last {total:.0} s, {MAX_STEP_S} s at most"),
            )
            .help("a possession is shorter than that; split the step or shorten its waits"),
        );
        return None;
    }
    Some(Timed {
        cued: c.cued,
        total,
        times,
    })
}

impl Clock<'_, '_> {
    fn seconds(&self, i: usize) -> f64 {
        match self.items[i].does {
            Does::HandOff(_) => HAND_OFF_S,
            Does::Shot => SHOT_S,
            _ => self.items[i].seconds,
        }
    }

    /// When the role of item `i` is free for its next item.
    fn free(&mut self, i: usize) -> Result<f64, Circle> {
        let s = self.start_of(i)?;
        Ok(match self.items[i].does {
            // The passer is free when the ball has left, not when it is caught.
            Does::Pass(_) => s + 0.1,
            _ => s + self.seconds(i),
        })
    }

    fn end_of(&mut self, i: usize) -> Result<f64, Circle> {
        Ok(self.start_of(i)? + self.seconds(i))
    }

    fn start_of(&mut self, i: usize) -> Result<f64, Circle> {
        match self.state[i] {
            Mark::Done(s) => return Ok(s),
            Mark::Open => return Err(Circle(i)),
            Mark::New => self.state[i] = Mark::Open,
        }
        let s = self.work_out(i)?;
        self.state[i] = Mark::Done(s);
        Ok(s)
    }

    fn work_out(&mut self, i: usize) -> Result<f64, Circle> {
        let item = &self.items[i];
        let mut s = match item.before {
            Some(b) => self.free(b)?,
            None => 0.0,
        };
        if let Some(b) = item.ball_before {
            let ready = self.end_of(b)?;
            let gather = if matches!(self.items[b].does, Does::Pass(_)) {
                GATHER_S
            } else {
                0.0
            };
            s = s.max(ready + gather);
        }
        if let Some(c) = &item.said.value.cue
            && let Some(at) = self.event(i, c)?
        {
            self.cued[i] = true;
            let (a, b) = c.window.unwrap_or((0.0, DEFAULT_WINDOW_S));
            s = s.max(at + 0.5 * (a + b));
        }
        match item.does {
            Does::Pass(to) => {
                // Caught where the receiver's movement, if written before, ends.
                if let Some(r) = self.items[..i]
                    .iter()
                    .rposition(|x| x.role == to && x.does.travels())
                {
                    s = s.max(self.end_of(r)? - self.seconds(i));
                }
            }
            Does::HandOff(to) => {
                if let Some((m, share)) = self.comes_by(i, to) {
                    let t = self.start_of(m)? + self.items[m].seconds * time_of_share(share);
                    s = s.max(t);
                }
            }
            _ => {}
        }
        if item.does.travels() {
            if let Some(off) = item.said.value.off {
                let (station, ready) = self.ready(i, off)?;
                let share = item.path.nearest(station).0;
                s = s.max(ready + SET_S - item.seconds * time_of_share(share));
            }
            if !matches!(item.does, Does::Screen(_) | Does::Slip) {
                s = s.max(self.used(i)?);
            }
        }
        Ok(s)
    }

    /// The receiver's movement that a hand-off meets, and the share of its way at which it does.
    fn comes_by(&self, hand_off: usize, to: RoleIx) -> Option<(usize, f64)> {
        let from = self.items[hand_off].role;
        let m = self
            .items
            .iter()
            .position(|x| x.role == to && x.said.value.off == Some(from) && x.does.travels())
            .or_else(|| {
                self.items[..hand_off]
                    .iter()
                    .rposition(|x| x.role == to && x.does.travels())
            })?;
        let (share, _) = self.items[m]
            .path
            .nearest(self.items[hand_off].path.at(1.0));
        Some((m, share))
    }

    /// Where and when who is come off of stands ready for item `i`.
    fn ready(&mut self, i: usize, off: RoleIx) -> Result<(AttackPoint, f64), Circle> {
        let user = self.items[i].role;
        let hand = self
            .items
            .iter()
            .position(|x| x.role == off && x.does == Does::HandOff(user));
        if let Some(h) = hand {
            let mut t = 0.0_f64;
            if let Some(b) = self.items[h].before {
                t = t.max(self.free(b)?);
            }
            if let Some(b) = self.items[h].ball_before {
                t = t.max(self.end_of(b)?);
            }
            return Ok((self.items[h].path.at(1.0), t));
        }
        let screen = self
            .items
            .iter()
            .position(|x| x.role == off && x.does == Does::Screen(user))
            .or_else(|| {
                self.items
                    .iter()
                    .position(|x| x.role == off && matches!(x.does, Does::Screen(_)))
            });
        if let Some(k) = screen {
            return Ok((self.items[k].path.at(1.0), self.end_of(k)?));
        }
        let before = self.items[..i].iter().rposition(|x| x.role == off);
        Ok(match before {
            Some(b) => (self.items[b].path.at(1.0), self.end_of(b)?),
            None => (self.start[off], 0.0),
        })
    }

    /// When the screen of item `i`'s role has been used, for who leaves it with that item.
    fn used(&mut self, i: usize) -> Result<f64, Circle> {
        let role = self.items[i].role;
        let screen = self.items[..i]
            .iter()
            .rposition(|x| x.role == role && matches!(x.does, Does::Screen(_)));
        let mut t = 0.0_f64;
        for u in 0..self.items.len() {
            let user = &self.items[u];
            let after_screen = screen.is_some_and(|k| k < i);
            let comes_off = user.said.value.off == Some(role) && user.role != role;
            // Without a screen in this step, it was set before, and who leaves waits all the same.
            if comes_off && user.does.travels() && (after_screen || u < i) {
                let station =
                    screen.map_or(self.items[i].path.at(0.0), |k| self.items[k].path.at(1.0));
                let share = user.path.nearest(station).0;
                let seconds = user.seconds;
                t = t.max(self.start_of(u)? + seconds * time_of_share(share));
            }
        }
        Ok(t)
    }

    /// When the event of a cue happens, if it does in this step or did in the one before.
    fn event(&mut self, i: usize, c: &CueWords) -> Result<Option<f64>, Circle> {
        for k in 0..self.items.len() {
            if k == i {
                continue;
            }
            let x = &self.items[k];
            let by = x.role == c.role;
            let found = match &c.event {
                Event::Passes if by && matches!(x.does, Does::Pass(_)) => Some(self.start_of(k)?),
                Event::Catches if x.does == Does::Pass(c.role) => Some(self.end_of(k)?),
                Event::Dribbles if by && matches!(x.does, Does::Dribble(_)) => {
                    Some(self.start_of(k)?)
                }
                Event::Screens if by && matches!(x.does, Does::Screen(_)) => Some(self.end_of(k)?),
                Event::HandsOff if by && matches!(x.does, Does::HandOff(_)) => {
                    Some(self.start_of(k)?)
                }
                Event::Cuts if by && matches!(x.does, Does::Move | Does::Slip) => {
                    Some(self.start_of(k)?)
                }
                Event::Reaches(p) if by && x.does.travels() => {
                    let (place, seconds) = (p.resolve(self.start), x.seconds);
                    match x.path.first_within(place, REACH) {
                        Some(share) => Some(self.start_of(k)? + seconds * time_of_share(share)),
                        None => None,
                    }
                }
                _ => None,
            };
            if found.is_some() {
                return Ok(found);
            }
        }
        let kind = match c.event {
            Event::Passes => PastKind::Passes,
            Event::Catches => PastKind::Catches,
            Event::Dribbles => PastKind::Dribbles,
            Event::Screens => PastKind::Screens,
            Event::HandsOff => PastKind::HandsOff,
            Event::Cuts => PastKind::Cuts,
            Event::Reaches(_) => return Ok(None),
        };
        Ok(self
            .past
            .iter()
            .rev()
            .find(|p| p.role == c.role && p.kind == kind)
            .map(|p| p.at_s))
    }

    fn check(
        &self,
        times: &[(f64, f64)],
        maybe: &dyn Fn(&CueWords) -> bool,
        roles: &[String],
        notes: &mut Vec<Note>,
    ) {
        for (i, item) in self.items.iter().enumerate() {
            let s = &item.said.value;
            let span = item.said.span.clone();
            if let Some(c) = &s.cue {
                if !self.cued[i] && !maybe(c) {
                    notes.push(
                        Note::error(
                            "cue-never",
                            span.clone(),
                            format!(
                                "`{} {}` never happens in this step or the one before",
                                roles[c.role],
                                c.event.text(roles)
                            ),
                        )
                        .help("write a sentence in which it happens, or wait for something else"),
                    );
                }
                if self.cued[i] {
                    self.check_window(i, c, times, roles, notes);
                }
            }
            if let Does::HandOff(to) = item.does {
                let near = self.comes_by(i, to).map_or_else(
                    || self.start[to].distance(item.path.at(1.0)),
                    |(m, share)| self.items[m].path.at(share).distance(item.path.at(1.0)),
                );
                if near > ARM {
                    notes.push(
                        Note::error(
                            "hand-off-too-far",
                            span.clone(),
                            format!(
                                "`{}` comes no nearer than {near:.1} m to `{}` for the hand-off",
                                roles[to], roles[item.role]
                            ),
                        )
                        .help(format!(
                            "let `{}` cut `off {}`, or dribble at `{}`",
                            roles[to], roles[item.role], roles[to]
                        )),
                    );
                }
            }
            if let Some(off) = s.off
                && off != item.role
                && !self
                    .items
                    .iter()
                    .any(|x| x.role == off && matches!(x.does, Does::Screen(_) | Does::HandOff(_)))
                && !self
                    .past
                    .iter()
                    .any(|p| p.role == off && p.kind == PastKind::Screens)
            {
                notes.push(
                    Note::warning(
                        "off-nobody",
                        span,
                        format!("`{}` sets no screen here and hands nothing off", roles[off]),
                    )
                    .help(format!("say `{} screens for …` in this step", roles[off])),
                );
            }
        }
    }

    fn check_window(
        &self,
        i: usize,
        c: &CueWords,
        times: &[(f64, f64)],
        roles: &[String],
        notes: &mut Vec<Note>,
    ) {
        let mut again = Clock {
            items: self.items,
            past: self.past,
            start: self.start,
            state: self.state.clone(),
            cued: self.cued.clone(),
        };
        let Ok(Some(at)) = again.event(i, c) else {
            return;
        };
        let (_, b) = c.window.unwrap_or((0.0, DEFAULT_WINDOW_S));
        let lag = times[i].0 - at;
        if lag > b + 1e-6 {
            notes.push(
                Note::warning(
                    "cue-too-late",
                    self.items[i].said.span.clone(),
                    format!(
                        "as drawn, `{}` goes {lag:.1} s after the cue, and the window ends at {b} s",
                        roles[self.items[i].role]
                    ),
                )
                .help("widen the window, or let what it also waits for (a screen, the ball) come sooner"),
            );
        }
    }
}

/// The events of a timed step, for the step after it.
pub(crate) fn past_of(items: &[Item<'_>], timed: &Timed) -> Vec<Past> {
    let mut out = Vec::new();
    for (item, (s, e)) in items.iter().zip(&timed.times) {
        let mut push = |role, kind, at: f64| {
            out.push(Past {
                role,
                kind,
                at_s: at - timed.total,
            });
        };
        match item.does {
            Does::Pass(to) => {
                push(item.role, PastKind::Passes, *s);
                push(to, PastKind::Catches, *e);
            }
            Does::Dribble(_) => push(item.role, PastKind::Dribbles, *s),
            Does::Screen(_) => push(item.role, PastKind::Screens, *e),
            Does::HandOff(_) => push(item.role, PastKind::HandsOff, *s),
            Does::Move | Does::Slip => push(item.role, PastKind::Cuts, *s),
            Does::Hold | Does::Shot => {}
        }
    }
    out
}

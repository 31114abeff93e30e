//! One step, planned: which role goes where, from the arrangement in which the step begins.

use crate::book::{Book, Spanned};
use crate::diagnostic::Note;
use crate::graph::{CutKind, LeaveKind, PassKind, PostKind, RoleIx};
use crate::motion::{MAX_SPEED, PEAK_OVER_MEAN, Pace, Path};
use crate::sentence::{Sentence, Verb};
use setdrift_court::{AttackPoint, LengthUnit};

/// A dribble at a role stops so far short of where that role stood, metres (4 ft).
pub(crate) const SHORT_OF: f64 = 4.0 * 0.3048;
/// Shoulder to shoulder: how far from the screener's middle the user passes, metres. Common
/// practice, no published source.
const SHOULDER: f64 = 0.7;
/// A screen without a place is set so far from the user, metres (3 ft).
const BESIDE: f64 = 3.0 * 0.3048;
/// In front of the rim, where a cut through the lane passes, metres beyond the ring.
const IN_FRONT: f64 = 1.0;
/// Ball in the air, m/s: a crisp pass. Common practice, no published source.
pub(crate) const PASS_SPEED: f64 = 9.0;
/// Ball in the air when skipped or lobbed, m/s.
pub(crate) const HIGH_PASS_SPEED: f64 = 8.0;

/// Where everyone is and who has the ball.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct State {
    pub places: Vec<AttackPoint>,
    pub holder: Option<RoleIx>,
    pub shot: bool,
}

/// A sentence with its branches chosen.
#[derive(Debug, Clone)]
pub(crate) struct Said<'a> {
    pub words: &'a Spanned<Sentence>,
    pub who: Vec<RoleIx>,
    pub to: Option<RoleIx>,
}

/// What one role does in a step, before it has its time.
#[derive(Debug, Clone)]
pub(crate) struct Item<'a> {
    pub said: &'a Spanned<Sentence>,
    pub role: RoleIx,
    pub does: Does,
    /// Where the role goes; a single point for who stays.
    pub path: Path,
    /// Points of the path after the first, as declared.
    pub named: Vec<AttackPoint>,
    /// How long it takes, seconds.
    pub seconds: f64,
    /// The item of the same role before this one.
    pub before: Option<usize>,
    /// The item that had the ball before this one, for items that use the ball.
    pub ball_before: Option<usize>,
}

/// Kinds of item.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Does {
    Move,
    /// A slip needs no user to pass first.
    Slip,
    Screen(RoleIx),
    Dribble(Option<RoleIx>),
    Pass(RoleIx),
    HandOff(RoleIx),
    Hold,
    Shot,
}

impl Does {
    pub fn uses_ball(self) -> bool {
        matches!(
            self,
            Self::Dribble(_) | Self::Pass(_) | Self::HandOff(_) | Self::Shot
        )
    }

    pub fn travels(self) -> bool {
        matches!(
            self,
            Self::Move | Self::Slip | Self::Screen(_) | Self::Dribble(_)
        )
    }
}

/// The plan of a step: its items in the order written, and the arrangement at its end.
pub(crate) struct Plan<'a> {
    pub items: Vec<Item<'a>>,
    pub end: State,
}

/// Plans a step from `state`.
pub(crate) fn plan<'a>(
    book: &Book,
    state: &State,
    said: &[Said<'a>],
    notes: &mut Vec<Note>,
) -> Plan<'a> {
    let mut p = Planner {
        book,
        start: &state.places,
        at: state.places.clone(),
        holder: state.holder,
        shot: state.shot,
        last: vec![None; state.places.len()],
        last_ball: None,
        items: Vec::new(),
        notes,
    };
    for s in said {
        for &role in &s.who {
            p.add(s, role);
        }
    }
    p.bend_off_screens();
    Plan {
        end: State {
            places: p.at,
            holder: p.holder,
            shot: p.shot,
        },
        items: p.items,
    }
}

struct Planner<'b, 'a> {
    book: &'b Book,
    start: &'b [AttackPoint],
    at: Vec<AttackPoint>,
    holder: Option<RoleIx>,
    shot: bool,
    last: Vec<Option<usize>>,
    last_ball: Option<usize>,
    items: Vec<Item<'a>>,
    notes: &'b mut Vec<Note>,
}

impl<'a> Planner<'_, 'a> {
    fn name(&self, r: RoleIx) -> &str {
        &self.book.roles()[r]
    }

    fn add(&mut self, said: &Said<'a>, role: RoleIx) {
        let s = &said.words.value;
        let from = self.at[role];
        let mut to = from;
        let mut pace = Pace::CUT;
        let mut seconds = 0.0;
        let mut on_the_way: Vec<AttackPoint> =
            s.via.iter().map(|v| v.resolve(self.start)).collect();
        let does = match &s.verb {
            Verb::Pass { .. } => Does::Pass(said.to.unwrap_or(role)),
            Verb::HandOff(_) => Does::HandOff(said.to.unwrap_or(role)),
            Verb::Shoot => Does::Shot,
            Verb::Hold => Does::Hold,
            Verb::Wait(t) => {
                seconds = *t;
                Does::Hold
            }
            Verb::DribbleTo(p) => {
                to = p.resolve(self.start);
                pace = Pace::DRIBBLE;
                Does::Dribble(None)
            }
            Verb::DribbleAt(r) => {
                let target = self.start[*r];
                let d = from.distance(target);
                if d > SHORT_OF {
                    to = from.lerp(target, (d - SHORT_OF) / d);
                }
                pace = Pace::DRIBBLE;
                Does::Dribble(Some(*r))
            }
            Verb::Cut { kind, to: p } => {
                to = p.resolve(self.start);
                pace = match kind {
                    CutKind::Cut | CutKind::BackCut | CutKind::Through | CutKind::Flatten => {
                        Pace::CUT
                    }
                    CutKind::Replace | CutKind::Lift | CutKind::Drift | CutKind::Clear => Pace::JOG,
                };
                if *kind == CutKind::Through && on_the_way.is_empty() {
                    let ring = self.book.court().ring();
                    on_the_way.push(AttackPoint::new(ring.x + IN_FRONT, ring.y));
                }
                Does::Move
            }
            Verb::Replace(r) => {
                to = self.start[*r];
                pace = Pace::JOG;
                Does::Move
            }
            Verb::Screen { user, at } => {
                to = at
                    .as_ref()
                    .map_or_else(|| self.beside(*user), |p| p.resolve(self.start));
                pace = Pace::JOG;
                Does::Screen(*user)
            }
            Verb::Leave { kind, to: p } => {
                to = p.resolve(self.start);
                if *kind == LeaveKind::Slip {
                    Does::Slip
                } else {
                    Does::Move
                }
            }
            Verb::Post { kind, at } => {
                to = at.resolve(self.start);
                if *kind == PostKind::Seal {
                    pace = Pace::JOG;
                }
                Does::Move
            }
        };
        self.ball(said, role, does);
        self.tell_oddities(said, role, does);
        let mut named = on_the_way;
        if does.travels() {
            named.push(to);
        }
        let i = self.items.len();
        let mut item = Item {
            said: said.words,
            role,
            does,
            path: Path::through(&[&[from], named.as_slice()].concat()),
            named,
            seconds,
            before: self.last[role],
            ball_before: self.last_ball.filter(|_| does.uses_ball()),
        };
        if does.travels() {
            item.seconds = s
                .seconds
                .unwrap_or_else(|| pace.seconds(item.path.length()));
            self.at[role] = to;
        } else if let Does::Pass(to) = does {
            let v = match &s.verb {
                Verb::Pass {
                    kind: PassKind::Lob | PassKind::Skip,
                    ..
                } => HIGH_PASS_SPEED,
                _ => PASS_SPEED,
            };
            item.seconds = (from.distance(self.at[to]) / v).max(0.3);
        }
        self.last[role] = Some(i);
        if does.uses_ball() {
            self.last_ball = Some(i);
        }
        self.items.push(item);
    }

    /// Beside the user, on the side of the rim, where the defender stands.
    fn beside(&self, user: RoleIx) -> AttackPoint {
        let p = self.start[user];
        let ring = self.book.court().ring();
        let d = p.distance(ring).max(1e-6);
        p.lerp(ring, (BESIDE / d).min(0.5))
    }

    fn ball(&mut self, said: &Said<'_>, role: RoleIx, does: Does) {
        let span = said.words.span.clone();
        if does.uses_ball() {
            if self.shot {
                self.notes.push(
                    Note::error(
                        "ball-gone",
                        span,
                        "the ball has been shot already".to_owned(),
                    )
                    .help("nothing with the ball can follow a shot"),
                );
                return;
            }
            if self.holder != Some(role) {
                let who = self
                    .holder
                    .map_or("nobody".to_owned(), |h| format!("`{}`", self.name(h)));
                let help = match self.holder {
                    Some(h) => {
                        format!("let `{}` pass to `{}` first", self.name(h), self.name(role))
                    }
                    None => "say `ball = …` in the formation".to_owned(),
                };
                self.notes.push(
                    Note::error(
                        "ball-not-held",
                        span,
                        format!(
                            "`{}` does not have the ball here: {who} has",
                            self.name(role)
                        ),
                    )
                    .help(help),
                );
                // One mistake, one message: read on as if the ball were there.
                self.holder = Some(role);
            }
        }
        match does {
            Does::Pass(to) | Does::HandOff(to) => {
                if to == role {
                    self.notes.push(Note::error(
                        "ball-to-self",
                        said.words.span.clone(),
                        format!("`{}` gives the ball to themselves", self.name(role)),
                    ));
                }
                self.holder = Some(to);
            }
            Does::Shot => {
                self.holder = None;
                self.shot = true;
            }
            Does::Move | Does::Slip | Does::Screen(_) if self.holder == Some(role) => {
                self.notes.push(
                    Note::error(
                        "moves-with-ball",
                        said.words.span.clone(),
                        format!(
                            "`{}` has the ball here and does not dribble",
                            self.name(role)
                        ),
                    )
                    .help(
                        "say `dribbles to`, or write the movement before the pass if the ball is \
                         caught at its end",
                    ),
                );
            }
            _ => {}
        }
    }

    fn tell_oddities(&mut self, said: &Said<'_>, role: RoleIx, does: Does) {
        let s = &said.words.value;
        let span = said.words.span.clone();
        if let Does::Screen(user) = does
            && user == role
        {
            self.notes.push(Note::error(
                "screen-for-self",
                span.clone(),
                format!("`{}` screens for themselves", self.name(role)),
            ));
        }
        if s.off == Some(role) {
            self.notes.push(Note::error(
                "off-self",
                span.clone(),
                format!("`{}` comes off themselves", self.name(role)),
            ));
        }
        if s.cue
            .as_ref()
            .is_some_and(|c| c.role == role && c.event == crate::sentence::Event::Cuts)
        {
            self.notes.push(
                Note::error(
                    "cue-on-self",
                    span.clone(),
                    format!("`{}` waits for themselves", self.name(role)),
                )
                .help("one's own movements follow each other as written; wait for someone else"),
            );
        }
        if !does.travels() && (!s.via.is_empty() || s.off.is_some() || s.seconds.is_some()) {
            self.notes.push(
                Note::error(
                    "no-way",
                    span,
                    "`via`, `off` and `in` belong to a movement, and this is none".to_owned(),
                )
                .help("leave them out, or say where the role goes"),
            );
        }
    }

    /// Leads the path of who comes off a screen shoulder to shoulder past it, now that everyone's
    /// place is known.
    fn bend_off_screens(&mut self) {
        for i in 0..self.items.len() {
            let item = &self.items[i];
            let s = &item.said.value;
            if let Some(off) = s.off
                && item.does.travels()
            {
                let screener = self.station(i, off);
                let from = item.path.at(0.0);
                let mut named = item.named.clone();
                let past = shoulder(from, &named, screener, self.book.court().ring());
                let k = leg_nearest(from, &named, screener);
                named.insert(k, past);
                let declared = s.seconds.is_some();
                let old = item.path.length();
                let path = Path::through(&[&[from], named.as_slice()].concat());
                let new = path.length();
                let item = &mut self.items[i];
                item.path = path;
                item.named = named;
                if !declared && old > 1e-6 {
                    // A bend makes the way longer at the same mean speed.
                    item.seconds *= (new / old).max(1.0);
                }
            }
            self.check_speed(i);
        }
    }

    /// Where a screener or hander stands for the item that comes off them.
    fn station(&self, user_item: usize, off: RoleIx) -> AttackPoint {
        let user = self.items[user_item].role;
        let end = |i: usize| self.items[i].path.at(1.0);
        let screen = |for_user: bool| {
            self.items.iter().position(|x| {
                x.role == off && matches!(x.does, Does::Screen(u) if !for_user || u == user)
            })
        };
        if let Some(h) = self.hand_off(off, user) {
            return end(h);
        }
        if let Some(i) = screen(true).or_else(|| screen(false)) {
            return end(i);
        }
        let before = self.items[..user_item].iter().rposition(|x| x.role == off);
        before.map_or(self.start[off], end)
    }

    fn hand_off(&self, from: RoleIx, to: RoleIx) -> Option<usize> {
        self.items
            .iter()
            .position(|x| x.role == from && x.does == Does::HandOff(to))
    }

    fn check_speed(&mut self, i: usize) {
        let item = &self.items[i];
        if !item.does.travels() || item.path.length() < 1e-6 {
            return;
        }
        let length = item.path.length();
        let peak = PEAK_OVER_MEAN * length / item.seconds;
        if peak > MAX_SPEED {
            let unit = self.book.unit;
            let needs = PEAK_OVER_MEAN * length / MAX_SPEED;
            self.notes.push(
                Note::error(
                    "too-fast",
                    item.said.span.clone(),
                    format!(
                        "`{}` would have to run {} in {:.1} s, {:.1} m/s at the fastest",
                        self.book.roles()[item.role],
                        in_unit(length, unit),
                        item.seconds,
                        peak
                    ),
                )
                .expected(format!("at most {MAX_SPEED} m/s"))
                .help(format!("give it at least {needs:.1} s")),
            );
        }
    }
}

pub(crate) fn in_unit(metres: f64, unit: LengthUnit) -> String {
    format!("{:.1} {unit}", unit.from_metres(metres))
}

/// Index in `named` of the end of the leg that passes nearest to a point.
fn leg_nearest(from: AttackPoint, named: &[AttackPoint], to: AttackPoint) -> usize {
    let mut best = (0, f64::INFINITY);
    let mut a = from;
    for (k, b) in named.iter().enumerate() {
        let d = foot(a, *b, to).distance(to);
        if d < best.1 - 1e-9 {
            best = (k, d);
        }
        a = *b;
    }
    best.0
}

/// The point of the segment nearest to `p`.
fn foot(a: AttackPoint, b: AttackPoint, p: AttackPoint) -> AttackPoint {
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    let l2 = dx * dx + dy * dy;
    if l2 < 1e-12 {
        return a;
    }
    let t = ((p.x - a.x) * dx + (p.y - a.y) * dy) / l2;
    a.lerp(b, t.clamp(0.0, 1.0))
}

/// Where the user passes the screener: beside them, on the side of the straight way; away from
/// the ring when the straight way goes right through them.
fn shoulder(
    from: AttackPoint,
    named: &[AttackPoint],
    screener: AttackPoint,
    ring: AttackPoint,
) -> AttackPoint {
    let k = leg_nearest(from, named, screener);
    let a = if k == 0 { from } else { named[k - 1] };
    let f = foot(a, named.get(k).copied().unwrap_or(a), screener);
    let d = f.distance(screener);
    if d > 0.15 {
        return screener.lerp(f, SHOULDER / d);
    }
    let out = ring.distance(screener).max(1e-6);
    ring.lerp(screener, 1.0 + SHOULDER / out)
}

//! A reset: who fills which place of the formation, and the walk there.

use crate::book::{Book, Spanned};
use crate::graph::{Formation, RoleIx};
use crate::motion::{Pace, Path};
use crate::plan::{Does, Item, State};
use crate::schedule::Timed;
use crate::sentence::Sentence;

/// Who becomes whom: `fill[new role] = old role`. As declared; the others by the least sum of
/// squared ways (exact over all assignments), the formation's ball going to who has it.
pub(crate) fn fill(
    book: &Book,
    end: &State,
    into: &Formation,
    declared: Option<&Spanned<Vec<Option<RoleIx>>>>,
) -> Vec<RoleIx> {
    let n = book.roles().len();
    let free = vec![None; n];
    let fixed = declared.map_or(free.as_slice(), |d| d.value.as_slice());
    let ball = into
        .ball
        .zip(end.holder)
        .filter(|(new, old)| !moves_ball(fixed, *new, *old));
    let mut best: (f64, Vec<RoleIx>) = (f64::INFINITY, (0..n).collect());
    let mut order: Vec<RoleIx> = Vec::with_capacity(n);
    search(end, into, fixed, ball, &mut order, 0.0, &mut best);
    best.1
}

/// Whether a declared refill puts another than the one with the ball into the ball's role.
pub(crate) fn moves_ball(fixed: &[Option<RoleIx>], new: RoleIx, old: RoleIx) -> bool {
    fixed[new].is_some_and(|f| f != old)
        || fixed
            .iter()
            .enumerate()
            .any(|(n, f)| n != new && *f == Some(old))
}

fn search(
    end: &State,
    into: &Formation,
    fixed: &[Option<RoleIx>],
    ball: Option<(RoleIx, RoleIx)>,
    order: &mut Vec<RoleIx>,
    cost: f64,
    best: &mut (f64, Vec<RoleIx>),
) {
    let n = into.places.len();
    // Ties go to the first found, which keeps people in their roles.
    if cost >= best.0 - 1e-9 {
        return;
    }
    let new = order.len();
    if new == n {
        *best = (cost, order.clone());
        return;
    }
    let keep_first = std::iter::once(new).chain((0..n).filter(move |o| *o != new));
    for old in keep_first {
        if order.contains(&old) {
            continue;
        }
        if fixed[new].is_some_and(|f| f != old)
            || (fixed[new].is_none() && fixed.contains(&Some(old)))
            || ball.is_some_and(|(b, h)| (b == new) != (h == old))
        {
            continue;
        }
        order.push(old);
        let d = end.places[old].distance(into.places[new]);
        search(end, into, fixed, ball, order, cost + d * d, best);
        order.pop();
    }
}

/// Sends everyone who is not yet there to the place they fill, once they have done their part.
pub(crate) fn walk_home<'a>(
    step: &'a [Spanned<Sentence>],
    items: &mut Vec<Item<'a>>,
    timed: &mut Timed,
    end: &mut State,
    into: &Formation,
    who: &[RoleIx],
) {
    let Some(words) = step.first() else { return };
    for (new, &old) in who.iter().enumerate() {
        let (from, to) = (end.places[old], into.places[new]);
        if from.distance(to) < 1e-9 {
            continue;
        }
        let path = Path::through(&[from, to]);
        let dribbles = end.holder == Some(old);
        let pace = if dribbles { Pace::DRIBBLE } else { Pace::JOG };
        let seconds = pace.seconds(path.length());
        // Whoever still waits for the ball stays until it is caught.
        let start = items
            .iter()
            .zip(&timed.times)
            .filter(|(x, _)| x.role == old || x.does == Does::Pass(old))
            .map(|(_, t)| t.1)
            .fold(0.0, f64::max);
        items.push(Item {
            said: words,
            role: old,
            does: if dribbles {
                Does::Dribble(None)
            } else {
                Does::Move
            },
            path,
            named: vec![to],
            seconds,
            before: None,
            ball_before: None,
        });
        timed.times.push((start, start + seconds));
        timed.cued.push(false);
        timed.total = timed.total.max(start + seconds);
        end.places[old] = to;
    }
}

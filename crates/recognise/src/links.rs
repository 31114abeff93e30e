//! What words pay, given which others are left to lead to them and to follow them.

use crate::{
    gain::{Gain, Prices},
    params::ValidParams,
    prune::{Survivors, entry},
    templates::{Kind, Templates},
};
use std::ops::Range;

/// What a word pays beside its entry when nothing leads to it or follows.
pub fn alone(kind: Kind, params: &ValidParams, inside: bool) -> Prices {
    Prices {
        break_off: match kind {
            Kind::Step(_) => params.break_off as f32,
            Kind::Set(_) => f32::INFINITY,
        },
        inside,
        ..Prices::default()
    }
}

/// Leaves out words that cannot matter because of what is left to lead to them and to follow, again and
/// again; `prices` are those of each alone, `edges` say what may follow what.
pub fn led_to(found: Survivors, prices: &[Prices], edges: &[(usize, usize)]) -> Survivors {
    let all: Vec<usize> = (0..found.keys.len()).collect();
    let mut state = State::of(prices);
    state.settle(
        &all,
        prices,
        edges,
        |to| prices[to].entry,
        |word, prices| found.gains[word].matters(prices),
    );
    Survivors {
        keys: keep(&found.keys, &state.left),
        gains: keep(&found.gains, &state.left),
        looked: found.looked,
    }
}

/// What is left, and what it pays.
struct State {
    left: Vec<bool>,
    now: Vec<Prices>,
}

impl State {
    fn of(prices: &[Prices]) -> Self {
        Self {
            left: vec![false; prices.len()],
            now: prices.to_vec(),
        }
    }

    /// Marks those of `live` that are left when what cannot matter falls, because of what is left to lead to
    /// it and to follow, until nothing more does: `prices` are those of each alone, `saved` what being led to
    /// saves one at most.
    fn settle(
        &mut self,
        live: &[usize],
        prices: &[Prices],
        edges: &[(usize, usize)],
        saved: impl Fn(usize) -> f32,
        matters: impl Fn(usize, &Prices) -> bool,
    ) {
        let Self { left, now } = self;
        left.fill(false);
        for one in live {
            left[*one] = true;
        }
        let mut falls = true;
        while falls {
            for one in live {
                now[*one] = prices[*one];
            }
            for (from, to) in edges {
                if left[*from] && left[*to] {
                    now[*to].follows = true;
                    now[*from].saved = now[*from].saved.max(saved(*to));
                }
            }
            falls = false;
            for one in live {
                if left[*one] && !matters(*one, &now[*one]) {
                    left[*one] = false;
                    falls = true;
                }
            }
        }
    }
}

/// Of some things, those that are left.
fn keep<T: Copy>(of: &[T], left: &[bool]) -> Vec<T> {
    let all = of.iter().zip(left);
    all.filter_map(|(one, left)| left.then_some(*one)).collect()
}

/// What may follow what among the templates allowed.
pub struct Links {
    /// Per template, what its words pay in any case, whoever has the roles; `follows` and `saved` by
    /// those links that give roles to others.
    prices: Vec<Prices>,
    /// Price of beginning afresh.
    entry: Vec<f64>,
    /// From and to, where everyone keeps their role.
    kept: Vec<(usize, usize)>,
    state: State,
}

impl Links {
    /// Of a playbook's templates those `allowed`.
    pub fn new(
        templates: &Templates,
        params: &ValidParams,
        inside: bool,
        allowed: &dyn Fn(usize) -> bool,
    ) -> Self {
        let all = 0..templates.list.len();
        let entry: Vec<f64> = all.map(|t| entry(templates, params, t)).collect();
        let mut prices: Vec<Prices> = templates
            .list
            .iter()
            .map(|t| alone(t.kind, params, inside))
            .collect();
        let mut kept = Vec::new();
        let links = templates.links.iter();
        for link in links.filter(|link| allowed(link.from) && allowed(link.to)) {
            if link.refill.is_none() {
                kept.push((link.from, link.to));
                continue;
            }
            let most = (entry[link.to] + params.off_roster) as f32;
            prices[link.to].follows = true;
            prices[link.from].saved = prices[link.from].saved.max(most);
        }
        Self {
            state: State::of(&prices),
            prices,
            entry,
            kept,
        }
    }

    /// Which of the templates `live` could matter under some assignments, when no others are left
    /// under these; `gain` is the most that one's words can gain with them, and `roster` what these
    /// pay at least and at most for roles that the roster does not give.
    pub fn left(
        &mut self,
        live: &[usize],
        gain: impl Fn(usize) -> Gain,
        roster: Range<f64>,
    ) -> Vec<usize> {
        let entry = &self.entry;
        self.state.settle(
            live,
            &self.prices,
            &self.kept,
            |to| (entry[to] + roster.end) as f32,
            |template, prices| {
                gain(template).matters(&Prices {
                    entry: (entry[template] + roster.start) as f32,
                    ..*prices
                })
            },
        );
        let left = |template: &usize| self.state.left[*template];
        live.iter().copied().filter(left).collect()
    }
}

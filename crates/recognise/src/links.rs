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
            // Which are left is as good as chance: no branches.
            for (from, to) in edges {
                let both = left[*from] & left[*to];
                let saves = if both { saved(*to) } else { 0.0 };
                now[*to].follows |= both;
                let from = &mut now[*from].saved;
                *from = if saves > *from { saves } else { *from };
            }
            falls = false;
            for one in live {
                let stays = left[*one] & matters(*one, &now[*one]);
                falls |= left[*one] & !stays;
                left[*one] = stays;
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
    /// Per template, the least that its words pay, whatever is left.
    least: Vec<Prices>,
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
        let linked = |prices: &mut [Prices], from: usize, to: usize| {
            let most = (entry[to] + params.off_roster) as f32;
            prices[to].follows = true;
            prices[from].saved = prices[from].saved.max(most);
        };
        let mut kept = Vec::new();
        let links = templates.links.iter();
        for link in links.filter(|link| allowed(link.from) && allowed(link.to)) {
            match link.refill {
                None => kept.push((link.from, link.to)),
                Some(_) => linked(&mut prices, link.from, link.to),
            }
        }
        let mut least = prices.clone();
        for (template, least) in least.iter_mut().enumerate() {
            least.entry = entry[template] as f32;
        }
        for (from, to) in &kept {
            linked(&mut least, *from, *to);
        }
        Self {
            state: State::of(&prices),
            prices,
            entry,
            kept,
            least,
        }
    }

    /// The least that a template's words pay, whatever is left to lead to them and to follow.
    pub fn least(&self, template: usize) -> Prices {
        self.least[template]
    }

    /// What may follow what of these templates while everyone keeps their role.
    pub fn among(&mut self, live: &[usize]) -> Vec<(usize, usize)> {
        let left = &mut self.state.left;
        left.fill(false);
        for one in live {
            left[*one] = true;
        }
        let edges = self.kept.iter().copied();
        edges.filter(|(from, to)| left[*from] & left[*to]).collect()
    }

    /// Leaves in `live` the templates that could matter under some assignments, when no others are left under
    /// these; `edges` are at least those [`Self::among`] them, `gains` says, per template, the most that its
    /// words can gain with them, and `roster` what these pay at least and at most for roles that the roster
    /// does not give.
    pub fn retain(
        &mut self,
        live: &mut Vec<usize>,
        edges: &[(usize, usize)],
        gains: &[Gain],
        roster: Range<f64>,
    ) {
        if live.is_empty() {
            return;
        }
        let entry = &self.entry;
        self.state.settle(
            live,
            &self.prices,
            edges,
            |to| (entry[to] + roster.end) as f32,
            |template, prices| {
                gains[template].matters(&Prices {
                    entry: (entry[template] + roster.start) as f32,
                    ..*prices
                })
            },
        );
        live.retain(|template| self.state.left[*template]);
    }
}

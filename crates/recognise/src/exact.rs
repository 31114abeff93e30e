//! What is left out changes nothing.

use crate::{
    Params, Query,
    cost::Costs,
    declared::Declared,
    decode::{Effort, FIRST, Key, Search},
    gain::{LANES, Prices, Scan},
    model::Hand,
    prune::{Stretch, Survivors},
    roles::assignments,
    rough::{self, Block, Gains, Groups},
    templates::Templates,
    testing::{CLEARED, CUT, FILLED, SET, graph, play, session},
};
use proptest::prelude::*;
use setdrift_court::AttackPoint;
use std::cell::RefCell;

fn all_keys(templates: &Templates, assignments: usize) -> Vec<Key> {
    let mut keys = Vec::new();
    for template in 0..templates.list.len() {
        for hand in [Hand::Right, Hand::Left] {
            keys.extend((0..assignments).map(|assignment| Key {
                template,
                hand,
                assignment,
            }));
        }
    }
    keys
}

/// All words, with what each can gain.
fn unpruned(search: &Search<'_>, keys: &[Key], stretch: &Stretch) -> Survivors {
    let frames = stretch.frames.len();
    let gain = |key: &Key| {
        let mut rows = vec![0.0; LANES * frames];
        search.bounds.word(
            key.hand as usize,
            &search.assignments[key.assignment],
            key.template,
            stretch.frames.clone(),
            &mut rows[..frames],
        );
        let template = &search.templates.list[key.template];
        Scan {
            rows: &rows,
            scanned: &mut Vec::new(),
            off: search.params.off_script as f32,
            shortest: template.shortest(search.params.fastest as usize),
        }
        .gains()[0]
    };
    Survivors {
        keys: keys.to_vec(),
        gains: keys.iter().map(gain).collect(),
        looked: 0,
    }
}

/// By how much, at most, the frames of a word can gain more than its groups of frames are said to.
fn above_rough(search: &Search<'_>, found: &Survivors, stretch: &Stretch) -> f32 {
    let lanes = &search.coarse.lanes;
    let fastest = search.params.fastest as usize;
    let shortest = |template: usize| search.templates.list[template].shortest(fastest);
    let groups = Groups::of(&stretch.frames);
    let mut most = f32::NEG_INFINITY;
    for (key, gain) in found.keys.iter().zip(&found.gains) {
        let (block, lane) = lanes.place(key.template);
        let (hand, bodies) = (key.hand as usize, search.bounds.bodies());
        let row = |body| search.coarse.body(Some(body), block, groups.range.clone());
        let who = &search.assignments[key.assignment];
        let role = |role: usize| row(bodies.player(hand, role, who[role].unwrap()));
        let mut gains = Gains::default();
        rough::Scan {
            rows: [row(bodies.ball(hand)), role(0), role(1), role(2)],
            groups: &groups,
            block: &Block::new(lanes, block, shortest, |_| Prices::default()),
            off: search.params.off_script as f32,
            inside: true,
            scanned: &mut Vec::new(),
            gains: &mut gains,
        }
        .run();
        let rough = gains.of(lane).all();
        let above = gain
            .all()
            .into_iter()
            .zip(rough)
            .map(|(fine, rough)| fine - rough);
        most = above.filter(|above| !above.is_nan()).fold(most, f32::max);
    }
    most
}

/// By how much, at most, roles said to be open cost more than they do under an assignment.
fn above_open(search: &Search<'_>) -> f32 {
    let groups = Groups::of(&(0..search.frames)).range;
    let mut most = f32::NEG_INFINITY;
    for assignment in search.assignments {
        for (hand, block) in [(0, 0), (1, 0)] {
            let row = |role: usize| {
                let player = assignment[role].unwrap();
                let body = search.bounds.bodies().player(hand, role, player);
                search.coarse.body(Some(body), block, groups.clone())
            };
            for filled in 1..=assignment.len() {
                let filled = &assignment[..filled];
                let open = search.coarse.open(hand, filled, block, groups.clone());
                let later: Vec<&[f32]> = (filled.len()..assignment.len()).map(row).collect();
                for (at, open) in open.iter().enumerate() {
                    most = most.max(open - later.iter().map(|row| row[at]).sum::<f32>());
                }
            }
        }
    }
    most
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Leaving words out by the bound changes nothing: the total is that of all words.
    #[test]
    fn pruning_is_exact(
        clear in any::<bool>(),
        tempo in 0.8_f64..6.5,
        shifts in prop::collection::vec((-2.5_f64..2.5, -2.5_f64..2.5), 4),
        wobble in 0.0_f64..2.5,
        entry in 0.0_f64..8.0,
        break_off in 0.0_f64..6.0,
    ) {
        let last = if clear { CLEARED } else { FILLED };
        let mut frames = play(&[SET, CUT, last, SET], &[tempo, tempo, tempo]);
        for (f, row) in frames.iter_mut().enumerate() {
            for (p, (dx, dy)) in row.iter_mut().zip(&shifts) {
                let w = wobble * (f as f64 * 0.7).sin();
                *p = p.map(|p| AttackPoint::new(p.x + dx + w, p.y + dy - w));
            }
        }
        let graph = graph();
        let templates = Templates::new(&graph);
        let params = Params { entry, break_off, ..Params::default() }.check().unwrap();
        let (session, possession) = session(&frames, [1, 0, 2]);
        let free = vec![false; 6];
        let query = Query::new(&session, &possession);
        let assignments = assignments(3, 3);
        let declared = Declared::either(&templates, &params);
        let costs = Costs::new(&query, &declared);
        let memory = RefCell::default();
        let search = Search::new(
            &templates, &assignments, &free, &costs, &params, query.frames(), &memory,
        );
        let above = above_open(&search);
        prop_assert!(above < 1e-5, "open roles are said to cost {above} more than they do");
        let keys = all_keys(&templates, assignments.len());
        let last = query.frames();
        for (from, to, inside) in [(0, last, false), (0, last, true), (last / 4, last / 2, true), (last / 3, last / 3 + 5, true)] {
            let stretch = Stretch { frames: from..to, inside };
            let mut effort = Effort::default();
            let all = search.decode(&keys, None, &stretch, &mut effort).unwrap().unwrap().0;
            for first in [1, 2, FIRST] {
                let some = search.solve(&stretch, &|_| true, first, &mut effort).unwrap().0;
                prop_assert!((some - all).abs() < 1e-3, "{some} with {first} first, {all} without pruning");
            }
            let by_roles = |together| {
                let mut candidates = search.candidates();
                candidates.together = together;
                let found = candidates.survivors(&stretch, &|_| true);
                search.led_to(found, &stretch).keys
            };
            let unpruned = unpruned(&search, &keys, &stretch);
            let above = above_rough(&search, &unpruned, &stretch);
            prop_assert!(above < 0.0, "a word gains {above} more than over groups of frames");
            let all = search.led_to(unpruned, &stretch).keys;
            prop_assert_eq!(&by_roles(3), &all);
            prop_assert_eq!(&by_roles(1), &all, "one role after another");
        }
    }
}

//! What is left out changes nothing.

use crate::{
    Params, Query,
    cost::Costs,
    decode::{Effort, FIRST, Key, Search},
    gain::{LANES, Scan},
    model::Hand,
    prune::{Stretch, Survivors},
    roles::assignments,
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
        let len = search.templates.list[key.template].len;
        Scan {
            rows: &rows,
            scanned: &mut Vec::new(),
            off: search.params.off_script as f32,
            shortest: len.div_ceil(search.params.fastest as usize).max(1),
        }
        .gains()[0]
    };
    Survivors {
        keys: keys.to_vec(),
        gains: keys.iter().map(gain).collect(),
        looked: 0,
    }
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
        let costs = Costs::new(&query, &templates, &params);
        let memory = RefCell::default();
        let search = Search::new(
            &templates, &assignments, &free, &costs, &params, query.frames(), &memory,
        );
        let keys = all_keys(&templates, assignments.len());
        let last = query.frames();
        for (from, to, inside) in [(0, last, false), (0, last, true), (last / 4, last / 2, true)] {
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
            let all = search.led_to(unpruned(&search, &keys, &stretch), &stretch).keys;
            prop_assert_eq!(&by_roles(3), &all);
            prop_assert_eq!(&by_roles(1), &all, "one role after another");
        }
    }
}

//! Planted groups come back, noise stays noise, and nothing hangs on who, where or in what order.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

mod planted;

use planted::{ROUGH, Rng, Rough, kinds, perform, sample};
use proptest::prelude::*;
use setdrift_court::AttackPoint;
use setdrift_drift::model::{Group, Grouping, Stretch};
use setdrift_drift::{Error, Params, adjusted_rand_index, distances, group};

fn labels(stretches: &[Stretch], g: &Grouping) -> Vec<Option<usize>> {
    stretches
        .iter()
        .map(|s| g.groups.iter().position(|g| g.members.contains(&s.id)))
        .collect()
}

/// Adjusted Rand index against the truth, and how many stretches of no kind were grouped.
fn score(counts: &[usize], noise: usize, rough: Rough, seed: u64) -> (f64, usize) {
    let params = Params::default().check().unwrap();
    let (all, truth) = sample(counts, noise, rough, seed);
    let found = labels(&all, &group(&all, &params).unwrap());
    let wrong = found.iter().zip(&truth);
    let wrong = wrong.filter(|(f, t)| f.is_some() && t.is_none()).count();
    (adjusted_rand_index(&found, &truth).unwrap(), wrong)
}

#[test]
fn planted_groups_come_back() {
    for seed in 1..=4 {
        for (counts, noise) in [(&[6, 5, 4, 3][..], 22), (&[3, 3, 3, 3], 28), (&[9, 4], 20)] {
            let (index, wrong) = score(counts, noise, ROUGH, seed);
            assert!(
                index >= 0.8,
                "{counts:?} + {noise}, seed {seed}: {index:.2}"
            );
            assert_eq!(wrong, 0, "{counts:?} + {noise}, seed {seed}");
        }
    }
}

#[test]
fn lost_samples_do_not_make_or_break_a_group() {
    let rough = Rough {
        lost: 0.15,
        ..ROUGH
    };
    for seed in 1..=3 {
        let (index, wrong) = score(&[6, 5, 4], 20, rough, seed);
        assert!(
            index >= 0.8 && wrong == 0,
            "seed {seed}: {index:.2}, {wrong}"
        );
    }
}

#[test]
fn noise_stays_noise_and_a_pair_is_no_group() {
    let params = Params::default().check().unwrap();
    for seed in 1..=6 {
        let (all, _) = sample(&[2], 38, ROUGH, seed);
        let g = group(&all, &params).unwrap();
        assert!(g.groups.is_empty(), "seed {seed}: {:?}", g.groups);
        assert_eq!(g.noise.len(), 40);
        assert!(!g.limits.is_empty());
    }
}

#[test]
fn too_few_are_said_to_be() {
    let params = Params::default().check().unwrap();
    let none = group(&[], &params).unwrap();
    assert_eq!(
        none.limits,
        ["0 off-script stretches: too few to look for groups, which need at least 3 alike"]
    );
    let (all, _) = sample(&[2], 0, ROUGH, 1);
    assert!(group(&all, &params).unwrap().groups.is_empty());
    // Three of one kind are a group even when there is nothing else, with a word of warning.
    let (all, _) = sample(&[3], 0, ROUGH, 1);
    let g = group(&all, &params).unwrap();
    assert_eq!(g.groups.len(), 1);
    assert!(g.limits[0].starts_with("only 3 off-script stretches"));
}

#[test]
fn a_group_says_what_it_is() {
    let params = Params::default().check().unwrap();
    let (all, truth) = sample(&[6, 5, 4, 3], 22, ROUGH, 1);
    let g = group(&all, &params).unwrap();
    let kind = |g: &Group| {
        let at = all.iter().position(|s| s.id == g.members[0]).unwrap();
        truth[at].unwrap()
    };
    for found in &g.groups {
        let text = &found.description;
        let words: &[&str] = match kind(found) {
            0 => &["ball screen at the", "drive to the"],
            1 => &["pass from the top", "cut from the"],
            2 => &["hand-off at the", "drive to the lane"],
            _ => &["drive to the rim"],
        };
        assert!(words.iter().all(|w| text.contains(w)), "{text}");
        assert!(text.contains("both sides") == found.fits.iter().any(|f| f.mirrored));
        // The mean is as long as a performance, and every row stays on the floor.
        assert_eq!(found.mean.len(), 5);
        let seconds = found.mean[0].len() as f64 / 10.0;
        assert!((2.5..8.0).contains(&seconds), "{seconds}");
        assert_eq!(found.ball.len(), found.mean[0].len());
        assert_eq!(found.fits.len(), found.members.len());
        assert_eq!(found.fits[0].distance_m, 0.0);
        assert!(found.stability > 0.7 && found.spread_m < 1.3);
        assert_eq!(found.results.0, found.members.len());
    }
    let sizes: Vec<_> = g.groups.iter().map(|g| g.members.len()).collect();
    assert!(sizes.is_sorted_by(|a, b| a >= b), "{sizes:?}");
    assert!(
        g.tried
            .iter()
            .any(|t| t.0 == g.radius_m && t.1 == g.silhouette)
    );
}

#[test]
fn the_mean_is_nearer_to_the_plan_than_the_members_are() {
    // Without cuts and tails every member shows the whole of the kind.
    let rough = Rough {
        cut_s: 0.0,
        ..ROUGH
    };
    let params = Params::default().check().unwrap();
    let (all, _) = sample(&[8], 0, rough, 3);
    let g = group(&all, &params).unwrap();
    let perfect = Rough {
        place_m: 0.0,
        sensor_m: 0.0,
        cut_s: 0.0,
        lost: 0.0,
    };
    let plan = perform(&kinds()[0], 99, perfect, &mut Rng(5));
    let mean = Stretch {
        paths: g.groups[0]
            .mean
            .iter()
            .map(|r| r.iter().copied().map(Some).collect())
            .collect(),
        ball: g.groups[0].ball.iter().copied().map(Some).collect(),
        ..plan.clone()
    };
    let mut set = vec![plan, mean];
    set.extend(all);
    let d = distances(&set, &params).unwrap();
    let members: Vec<f64> = (2..set.len()).map(|i| d.get(0, i).unwrap()).collect();
    let typical = members.iter().sum::<f64>() / members.len() as f64;
    let of_mean = d.get(0, 1).unwrap();
    assert!(of_mean < 0.6 * typical, "{of_mean:.2} against {typical:.2}");
}

#[test]
fn nothing_hangs_on_the_order_or_the_number_of_threads() {
    let params = Params::default().check().unwrap();
    let (mut all, _) = sample(&[5, 4], 12, ROUGH, 2);
    let one = rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .build()
        .unwrap();
    let three = rayon::ThreadPoolBuilder::new()
        .num_threads(3)
        .build()
        .unwrap();
    let first = one.install(|| group(&all, &params).unwrap());
    all.reverse();
    let second = three.install(|| group(&all, &params).unwrap());
    assert_eq!(first, second);
}

#[test]
fn stretches_that_do_not_hold_together_are_errors() {
    let params = Params::default().check().unwrap();
    let (all, _) = sample(&[1], 0, ROUGH, 1);
    let mut s = all[0].clone();
    s.paths[2].pop();
    assert!(matches!(group(&[s], &params), Err(Error::Uneven { .. })));
    let mut s = all[0].clone();
    s.paths.extend(s.paths.clone());
    s.players.extend(s.players.clone());
    let e = group(&[s], &params).unwrap_err();
    assert!(
        e.to_string().contains("has 10 players: expected 1 to 6"),
        "{e}"
    );
    let mut s = all[0].clone();
    s.paths.clear();
    s.players.clear();
    assert!(group(&[s], &params).is_err());
}

fn mirrored(s: &Stretch) -> Stretch {
    let flip =
        |p: &Vec<Option<AttackPoint>>| p.iter().map(|p| p.map(AttackPoint::mirrored)).collect();
    Stretch {
        paths: s.paths.iter().map(flip).collect(),
        ball: flip(&s.ball),
        ..s.clone()
    }
}

fn relabelled(s: &Stretch, order: &[usize]) -> Stretch {
    Stretch {
        paths: order.iter().map(|&r| s.paths[r].clone()).collect(),
        players: order.iter().map(|&r| s.players[r].clone()).collect(),
        ..s.clone()
    }
}

/// The same movement cut `head` frames later: what recognition does when it is late.
fn cut(s: &Stretch, head: usize) -> Stretch {
    Stretch {
        paths: s.paths.iter().map(|p| p[head..].to_vec()).collect(),
        ball: s.ball[head..].to_vec(),
        ..s.clone()
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn who_and_which_side_do_not_matter(
        seed in 1_u64..10_000,
        order in Just(vec![0_usize, 1, 2, 3, 4]).prop_shuffle(),
    ) {
        let params = Params::default().check().unwrap();
        let (all, _) = sample(&[1, 1], 1, ROUGH, seed);
        let changed: Vec<Stretch> = all.iter().map(|s| relabelled(&mirrored(s), &order)).collect();
        let set: Vec<Stretch> = all.iter().chain(&changed).cloned().collect();
        let d = distances(&set, &params).unwrap();
        for i in 0..3 {
            prop_assert!(d.get(i, i + 3).unwrap() < 1e-9);
            for j in 0..i {
                let plain = d.get(i, j).unwrap();
                prop_assert!((plain - d.get(i, j + 3).unwrap()).abs() < 1e-9);
                prop_assert!((plain - d.get(i + 3, j + 3).unwrap()).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn it_is_even_and_a_late_cut_costs_no_more_than_its_gap(
        seed in 1_u64..10_000,
        head in 0_usize..12,
    ) {
        let params = Params::default().check().unwrap();
        let (all, _) = sample(&[1], 1, ROUGH, seed);
        let d = distances(&all, &params).unwrap().get(0, 1);
        let back: Vec<Stretch> = all.iter().rev().cloned().collect();
        prop_assert_eq!(d, distances(&back, &params).unwrap().get(0, 1));
        // Cut by whole compared frames (two of the stretch), the rest matches to the bit.
        let head = 2 * head;
        let frames = all[0].paths[0].len();
        prop_assume!(head + 6 < frames);
        let late = distances(&[all[0].clone(), cut(&all[0], head)], &params).unwrap().get(0, 1).unwrap();
        let compared = |n: usize| n.div_ceil(2) as f64;
        let gap = params.gap_m.powi(2) * (head / 2) as f64 / ((compared(frames) + compared(frames - head)) / 2.0);
        // Weights change with what was cut off, but nothing else does.
        prop_assert!(late <= gap.sqrt() + 1e-9, "{} > {}", late, gap.sqrt());
    }
}

#[test]
#[ignore = "prints the figures of the method's page"]
fn figures() {
    let params = Params::default().check().unwrap();
    for (counts, noise) in [
        (&[6, 5, 4, 3][..], 22),
        (&[3, 3, 3, 3], 28),
        (&[5, 2], 30),
        (&[12, 8, 5, 4], 60),
        (&[], 40),
    ] {
        for (place_m, cut_s) in [(0.3, 0.9), (0.45, 0.9), (0.6, 1.2)] {
            let rough = Rough {
                place_m,
                cut_s,
                ..ROUGH
            };
            let scores: Vec<(f64, usize)> =
                (1..=8).map(|s| score(counts, noise, rough, s)).collect();
            let mean = scores.iter().map(|s| s.0).sum::<f64>() / scores.len() as f64;
            let wrong = scores.iter().map(|s| s.1).max().unwrap();
            println!(
                "{counts:?} + {noise}, {place_m} m, {cut_s} s: index {mean:.2}, wrong {wrong}"
            );
        }
    }
    let (all, truth) = sample(&[6, 5, 4, 3], 22, ROUGH, 1);
    let d = distances(&all, &params).unwrap();
    let mut kinds = [vec![], vec![], vec![]];
    for i in 0..all.len() {
        for j in i + 1..all.len() {
            let which = match (truth[i], truth[j]) {
                (Some(a), Some(b)) if a == b => 0,
                (Some(_), Some(_)) => 1,
                _ => 2,
            };
            kinds[which].push(d.get(i, j).unwrap());
        }
    }
    for (name, v) in ["of one kind", "of two kinds", "of none"]
        .iter()
        .zip(&mut kinds)
    {
        v.sort_by(f64::total_cmp);
        println!(
            "{name}: {:.2} to {:.2}, median {:.2}",
            v[0],
            v[v.len() - 1],
            v[v.len() / 2]
        );
    }
    for g in group(&all, &params).unwrap().groups {
        println!(
            "{}: {} ({:.2} m, {:.2})",
            g.name, g.description, g.spread_m, g.stability
        );
    }
}

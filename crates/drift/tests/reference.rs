//! Ours against scipy 1.16 and scikit-learn 1.7, from the values in `tests/reference/drift`
//! (`scipy.optimize.linear_sum_assignment`, `sklearn.cluster.DBSCAN` with a precomputed matrix,
//! `sklearn.metrics.silhouette_samples`, `rand_score`, `adjusted_rand_score`, `scipy.stats.t`,
//! `scipy.stats.f`, `scipy.stats.false_discovery_control`).

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

use serde_json::Value;
use setdrift_drift::{
    adjusted, adjusted_rand_index, best_assignment, cluster, rand_index, region_radius,
    silhouettes, t_quantile_975,
};
use setdrift_warp::Condensed;

fn values() -> Value {
    serde_json::from_str(include_str!("../../../tests/reference/drift/values.json")).unwrap()
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array()
        .unwrap()
        .iter()
        .map(|x| x.as_f64().unwrap())
        .collect()
}

fn whole(v: &Value) -> Vec<usize> {
    numbers(v).into_iter().map(|x| x as usize).collect()
}

fn list(v: &Value) -> &Vec<Value> {
    v.as_array().unwrap()
}

#[test]
fn assignments_are_scipys() {
    for case in list(&values()["assignment"]) {
        let n = case["n"].as_u64().unwrap() as usize;
        let (total, columns) = best_assignment(&numbers(&case["cost"]), n).unwrap();
        assert_eq!(columns, whole(&case["columns"]));
        assert!((total - case["total"].as_f64().unwrap()).abs() < 1e-8);
    }
}

#[test]
fn groups_and_their_measures_are_scikit_learns() {
    let values = values();
    let mut grouped = 0;
    for case in list(&values["clustering"]) {
        let n = case["n"].as_u64().unwrap() as usize;
        let matrix = Condensed::from_values(n, numbers(&case["condensed"])).unwrap();
        let items: Vec<usize> = (0..n).collect();
        let radius = case["radius"].as_f64().unwrap();
        let least = case["least"].as_u64().unwrap() as usize;
        let found = cluster(&matrix, &items, radius, least).unwrap();
        let expected: Vec<Option<usize>> = numbers(&case["labels"])
            .iter()
            .map(|l| (*l >= 0.0).then_some(*l as usize))
            .collect();
        assert_eq!(found, expected);
        grouped += found.iter().flatten().count();
        let widths = silhouettes(&matrix, &found).unwrap();
        match (widths, case["silhouettes"].as_array()) {
            (Some(ours), Some(_)) => {
                for (a, b) in ours.iter().zip(numbers(&case["silhouettes"])) {
                    assert!((a - b).abs() < 1e-9, "{a} {b}");
                }
            }
            (ours, theirs) => assert!(ours.is_none() && theirs.is_none()),
        }
        let other: Vec<Option<usize>> = whole(&case["other"]).into_iter().map(Some).collect();
        let rand = rand_index(&found, &other).unwrap();
        assert!((rand - case["rand"].as_f64().unwrap()).abs() < 1e-10);
        let adjusted = adjusted_rand_index(&found, &other).unwrap();
        assert!((adjusted - case["adjusted_rand"].as_f64().unwrap()).abs() < 1e-10);
    }
    assert!(grouped > 40, "{grouped}");
}

#[test]
fn intervals_are_scipys() {
    let values = &values()["intervals"];
    for pair in list(&values["t"]) {
        let pair = numbers(pair);
        let found = t_quantile_975(pair[0] as usize);
        assert!((found - pair[1]).abs() < 1e-7, "{pair:?} {found}");
    }
    for case in list(&values["regions"]) {
        let points: Vec<[f64; 2]> = list(&case["points"])
            .iter()
            .map(|p| [numbers(p)[0], numbers(p)[1]])
            .collect();
        let found = region_radius(&points).unwrap();
        let expected = case["radius"].as_f64().unwrap();
        assert!(
            (found - expected).abs() < 1e-7 * expected,
            "{found} {expected}"
        );
    }
    let found = adjusted(&numbers(&values["p"]));
    for (a, b) in found.iter().zip(numbers(&values["adjusted"])) {
        assert!((a - b).abs() < 1e-10, "{a} {b}");
    }
}

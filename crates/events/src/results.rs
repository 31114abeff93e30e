//! Results that people wrote down, set beside possessions by the clock.

/// Pairs `(possession, result)` in order, at most one each, and the clock offset found.
///
/// `ends` and `given` are times in seconds, ascending; a pair may lie at most `tolerance` apart
/// once the offset (results minus tracks) is taken off. As many pairs as can be, then the least
/// total distance: the sequence alignment of Needleman & Wunsch 1970 (J. Mol. Biol. 48, 443–453)
/// with free gaps, within a band of the tolerance.
#[must_use]
pub fn align(
    ends: &[f64],
    given: &[f64],
    compatible: impl Fn(usize, usize) -> bool,
    tolerance: f64,
) -> (Vec<(usize, usize)>, f64) {
    let offset = offset(ends, given, &compatible, tolerance);
    (pair(ends, given, &compatible, tolerance, offset), offset)
}

/// The constant by which the results' clock is ahead, within the tolerance, seconds: the one
/// under which most results lie within a second or so of a possession's end; of equals the least.
/// With fewer than five results the clock is taken as it stands.
fn offset(
    ends: &[f64],
    given: &[f64],
    compatible: &impl Fn(usize, usize) -> bool,
    tolerance: f64,
) -> f64 {
    const STEP: f64 = 0.25;
    const WIDTH: f64 = 1.5;
    const ENOUGH: usize = 5;
    if given.len() < ENOUGH {
        return 0.0;
    }
    let steps = (tolerance / STEP) as i64;
    let mut votes = vec![0.0; (2 * steps + 1) as usize];
    for (j, g) in given.iter().enumerate() {
        let from = ends.partition_point(|e| *e < g - tolerance - 1.0);
        for (i, e) in ends.iter().enumerate().skip(from) {
            if *e > g + tolerance + 1.0 {
                break;
            }
            if !compatible(i, j) {
                continue;
            }
            for (k, v) in votes.iter_mut().enumerate() {
                let o = (k as i64 - steps) as f64 * STEP;
                *v += (1.0 - (g - e - o).abs() / WIDTH).max(0.0);
            }
        }
    }
    let mut best = (0.0, votes.get(steps as usize).copied().unwrap_or(0.0));
    for distance in 1..=steps {
        for sign in [1, -1] {
            let v = votes[(steps + sign * distance) as usize];
            // A shift must earn its keep against the clock as it stands.
            if v > best.1 * 1.1 + 1.0 {
                best = ((sign * distance) as f64 * STEP, v);
            }
        }
    }
    best.0
}

fn pair(
    ends: &[f64],
    given: &[f64],
    compatible: &impl Fn(usize, usize) -> bool,
    tolerance: f64,
    offset: f64,
) -> Vec<(usize, usize)> {
    // score[j][i]: best over the first j results and i possessions, as (pairs, -distance).
    let (n, m) = (ends.len(), given.len());
    let mut score = vec![(0i64, 0.0f64); (n + 1) * (m + 1)];
    let mut took = vec![false; (n + 1) * (m + 1)];
    let at = |j: usize, i: usize| j * (n + 1) + i;
    let better = |a: (i64, f64), b: (i64, f64)| a.0 > b.0 || (a.0 == b.0 && a.1 > b.1 + 1e-12);
    for j in 1..=m {
        for i in 1..=n {
            let mut best = score[at(j - 1, i)];
            if better(score[at(j, i - 1)], best) {
                best = score[at(j, i - 1)];
            }
            let d = (given[j - 1] - offset - ends[i - 1]).abs();
            if d <= tolerance && compatible(i - 1, j - 1) {
                let s = score[at(j - 1, i - 1)];
                let s = (s.0 + 1, s.1 - d);
                if better(s, best) {
                    best = s;
                    took[at(j, i)] = true;
                }
            }
            score[at(j, i)] = best;
        }
    }
    let (mut i, mut j) = (n, m);
    let mut out = Vec::new();
    while i > 0 && j > 0 {
        if took[at(j, i)] {
            out.push((i - 1, j - 1));
            i -= 1;
            j -= 1;
        } else if score[at(j - 1, i)] == score[at(j, i)] {
            j -= 1;
        } else {
            i -= 1;
        }
    }
    out.reverse();
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn any(_: usize, _: usize) -> bool {
        true
    }

    #[test]
    fn nearest_in_order_one_each() {
        // Worked by hand: 31 belongs to 30, 49 to 50; 70 has nothing within 4 s.
        let (p, o) = align(&[30.0, 50.0, 80.0], &[31.0, 49.0, 70.0], any, 4.0);
        assert_eq!(p, [(0, 0), (1, 1)]);
        assert_eq!(o, 0.0);
    }

    #[test]
    fn as_many_pairs_as_can_be_before_the_nearest() {
        // 12 is nearer to 11 than 10 is, but then 10 would have nothing.
        let (p, _) = align(&[10.0, 13.0], &[11.5, 12.0], any, 2.0);
        assert_eq!(p, [(0, 0), (1, 1)]);
    }

    #[test]
    fn a_clock_that_runs_three_seconds_ahead() {
        let ends: Vec<f64> = (0..30)
            .map(|i| f64::from(i) * 5.0 + f64::from(i * i % 7))
            .collect();
        let given: Vec<f64> = ends.iter().map(|e| e + 3.0).collect();
        let (p, o) = align(&ends, &given, any, 4.0);
        assert!((o - 3.0).abs() < 0.3, "{o}");
        assert!(p.iter().all(|(a, b)| a == b) && p.len() == 30);
    }

    #[test]
    fn teams_must_agree() {
        let teams = [0, 1, 0];
        let (p, _) = align(&[10.0, 12.0, 14.0], &[12.0], |i, _| teams[i] == 0, 4.0);
        assert_eq!(p, [(0, 0)]);
    }
}

//! By how much smoothing moves the moment at which a movement is seen to begin.

use super::smooth::SavitzkyGolay;

/// How speed grows and falls over a movement; both cover `way` metres in `long` seconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Profile {
    /// Least jerk (Flash and Hogan 1985).
    MinimumJerk,
    /// Full acceleration for one half, full braking for the other.
    BangBang,
}

impl Profile {
    fn at(self, t: f64, way: f64, long: f64) -> f64 {
        let u = (t / long).clamp(0.0, 1.0);
        way * match self {
            Self::MinimumJerk => u * u * u * (10.0 - 15.0 * u + 6.0 * u * u),
            Self::BangBang if u < 0.5 => 2.0 * u * u,
            Self::BangBang => 1.0 - 2.0 * (1.0 - u) * (1.0 - u),
        }
    }
}

/// Ways and durations from a step aside to a sprint: metres, seconds. The hardest needs 12 m/s²,
/// above the start of a sprinter.
const MOVEMENTS: [(f64, f64); 5] = [(1.0, 0.6), (1.5, 0.7), (3.0, 1.0), (4.0, 1.2), (6.0, 1.6)];
/// Displacements and speeds at which a beginning is noticed: metres, m/s. Speeds as the timing of
/// cues uses them, on straight lines through 0.2 s to each side.
const WAYS: [f64; 3] = [0.1, 0.2, 0.3];
const SPEEDS: [f64; 2] = [0.4, 1.0];
const HALF_S: f64 = 0.2;
/// Places of the true beginning between two frames that are tried.
const PHASES: usize = 8;

/// The furthest that smoothing moves a crossing of any of the thresholds, seconds, earlier or later,
/// over both profiles, all movements and all phases, without noise. 0 without a filter.
pub(super) fn shift(filter: Option<&SavitzkyGolay>, rate_hz: f64) -> f64 {
    let Some(filter) = filter else { return 0.0 };
    let mut worst = 0.0_f64;
    for profile in [Profile::MinimumJerk, Profile::BangBang] {
        for (way, long) in MOVEMENTS {
            for phase in 0..PHASES {
                let start = 1.0 + phase as f64 / (PHASES as f64 * rate_hz);
                let n = ((3.0 + long) * rate_hz) as usize;
                let raw: Vec<f64> = (0..n)
                    .map(|i| profile.at(i as f64 / rate_hz - start, way, long))
                    .collect();
                let smooth = filter.smooth(&raw);
                let mut compare = |a: &[f64], b: &[f64], level: f64| {
                    if let (Some(a), Some(b)) = (crossing(a, level), crossing(b, level)) {
                        worst = worst.max((a - b).abs() / rate_hz);
                    }
                };
                for level in WAYS {
                    compare(&raw, &smooth, level);
                }
                let (v, w) = (speeds(&raw, rate_hz), speeds(&smooth, rate_hz));
                for level in SPEEDS {
                    compare(&v, &w, level);
                }
            }
        }
    }
    worst
}

/// Where a series first rises to a level, in samples.
fn crossing(v: &[f64], level: f64) -> Option<f64> {
    let i = v.iter().position(|x| *x >= level)?;
    let before = *v.get(i.checked_sub(1)?)?;
    Some(i as f64 - 1.0 + (level - before) / (v[i] - before))
}

/// Slopes of straight lines through the samples about each.
fn speeds(v: &[f64], rate_hz: f64) -> Vec<f64> {
    let half = (HALF_S * rate_hz + 1e-9).floor().max(1.0) as usize;
    let squares: f64 = (1..=half).map(|k| 2.0 * (k * k) as f64).sum();
    (half..v.len() - half)
        .map(|i| {
            let sum: f64 = (1..=half).map(|k| k as f64 * (v[i + k] - v[i - k])).sum();
            sum / squares * rate_hz
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn crossings_lie_between_samples() {
        assert_eq!(crossing(&[0.0, 0.0, 1.0], 0.25), Some(1.25));
        assert_eq!(crossing(&[0.0, 0.1], 0.25), None);
        // A straight run has its speed everywhere.
        let run: Vec<f64> = (0..30).map(|i| 0.2 * f64::from(i)).collect();
        assert!(speeds(&run, 10.0).iter().all(|s| (s - 2.0).abs() < 1e-9));
    }

    #[test]
    fn no_filter_moves_nothing() {
        assert_eq!(shift(None, 25.0), 0.0);
    }
}

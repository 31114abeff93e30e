//! From what the time columns hold to session seconds.

use crate::error::Problem;
use crate::limits;
use crate::mapping::{ClockWay, TimeSpec, TimeUnit};
use crate::raw::Samples;
use crate::table::Column;

/// Times this large are dates (seconds since 1970), not session times.
const EPOCH_S: f64 = 1e8;

/// Session seconds of each row; NaN where the row has no time.
pub(super) fn session_times(
    time: Option<Column>,
    clock: Option<Vec<f64>>,
    period: Option<&Column>,
    spec: &TimeSpec,
) -> Result<Vec<f64>, Problem> {
    let mut times = match (time, clock) {
        (Some(Column::Instant(stamps)), _) => {
            let zero = stamps.iter().copied().filter(|s| *s != i64::MIN).min();
            let zero = zero.unwrap_or_default();
            stamps
                .iter()
                .map(|s| match *s {
                    i64::MIN => f64::NAN,
                    s => s.saturating_sub(zero) as f64 / 1e9,
                })
                .collect()
        }
        (Some(Column::Number(values)), _) => from_numbers(values, spec),
        (_, Some(clock)) => from_clock(&clock, period, spec)?,
        _ => {
            return Err(Problem::Missing {
                field: "columns.time",
                why: "positions without times are no tracks".into(),
            });
        }
    };
    let finite = || times.iter().copied().filter(|t| t.is_finite());
    let low = finite().fold(f64::INFINITY, f64::min);
    let high = finite().fold(f64::NEG_INFINITY, f64::max);
    if low > EPOCH_S {
        for t in &mut times {
            *t -= low;
        }
    }
    if high - low > limits::SESSION_S {
        return Err(Problem::Limit {
            what: "the session's length",
            found: format!("{:.0} s", high - low),
            limit: format!("{:.0} s; is `time.unit` right", limits::SESSION_S),
        });
    }
    Ok(times)
}

fn from_numbers(mut values: Vec<f64>, spec: &TimeSpec) -> Vec<f64> {
    let divisor = match spec.unit {
        TimeUnit::S | TimeUnit::Iso => return values,
        TimeUnit::Ms => 1e3,
        TimeUnit::Us => 1e6,
        TimeUnit::Ns => 1e9,
        TimeUnit::Frame => {
            let first = spec.first_frame.unwrap_or(0.0);
            let rate = spec.rate.unwrap_or(f64::NAN);
            for v in &mut values {
                *v = (*v - first) / rate;
            }
            return values;
        }
    };
    for v in &mut values {
        *v /= divisor;
    }
    values
}

/// Time played, from period and clock. Rows while the clock stands still share one time, and all
/// but the first of each object fall away later.
fn from_clock(
    clock: &[f64],
    period: Option<&Column>,
    spec: &TimeSpec,
) -> Result<Vec<f64>, Problem> {
    let Some(Column::Number(period)) = period else {
        return Err(Problem::Missing {
            field: "columns.period",
            why: "a clock alone does not say which period".into(),
        });
    };
    let length = spec.period.ok_or(Problem::Missing {
        field: "time.period",
        why: "times from a clock need the length of a period".into(),
    })?;
    let regular = f64::from(spec.periods.unwrap_or(4));
    let overtime = spec.overtime.unwrap_or(300.0);
    Ok(clock
        .iter()
        .zip(period)
        .map(|(c, p)| {
            if p.is_nan() || *p < 1.0 {
                return f64::NAN;
            }
            let before = (p - 1.0).min(regular) * length + (p - 1.0 - regular).max(0.0) * overtime;
            let this = if *p > regular { overtime } else { length };
            match spec.clock {
                ClockWay::Down => before + (this - c),
                ClockWay::Up => before + c,
            }
        })
        .collect())
}

/// What sorting found.
pub(super) struct Sorted {
    /// Rows were out of order.
    pub(super) moved: bool,
    /// Rows at times the object already had.
    pub(super) twice: usize,
}

/// Bring samples into strictly increasing order of time.
pub(super) fn sort(samples: &mut Samples, label: &str) -> Result<Sorted, Problem> {
    /// Share of rows in conflict from which the object column cannot be right.
    const TOO_MANY: f64 = 0.05;
    /// Farther apart than this, two positions at one time contradict each other, metres.
    const APART: f64 = 0.05;
    if samples.t.windows(2).all(|w| w[0] < w[1]) {
        return Ok(Sorted {
            moved: false,
            twice: 0,
        });
    }
    let mut order: Vec<usize> = (0..samples.len()).collect();
    let moved = !samples.t.windows(2).all(|w| w[0] <= w[1]);
    if moved {
        order.sort_by(|a, b| samples.t[*a].total_cmp(&samples.t[*b]));
    }
    let mut kept: Vec<usize> = Vec::with_capacity(order.len());
    let mut conflicts = 0;
    let mut example = None;
    for i in order {
        match kept.last() {
            Some(&k) if samples.t[k] == samples.t[i] => {
                let apart = (samples.x[k] - samples.x[i]).hypot(samples.y[k] - samples.y[i]);
                if apart > APART {
                    conflicts += 1;
                    example = example.or(Some((k, i)));
                }
            }
            _ => kept.push(i),
        }
    }
    let share = conflicts as f64 / kept.len().max(1) as f64;
    if let Some((a, b)) = example
        && share > TOO_MANY
    {
        return Err(Problem::TwoPlaces {
            object: label.to_owned(),
            x0: (samples.x[a] * 100.0).round() / 100.0,
            y0: (samples.y[a] * 100.0).round() / 100.0,
            x1: (samples.x[b] * 100.0).round() / 100.0,
            y1: (samples.y[b] * 100.0).round() / 100.0,
            time: samples.t[a],
            share: share * 100.0,
        });
    }
    let twice = samples.len() - kept.len();
    let pick = |v: &[f64]| kept.iter().map(|i| v[*i]).collect::<Vec<_>>();
    samples.x = pick(&samples.x);
    samples.y = pick(&samples.y);
    samples.z = samples.z.as_deref().map(pick);
    samples.t = pick(&samples.t);
    Ok(Sorted { moved, twice })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clocks_run_down_through_overtime() {
        let spec = TimeSpec {
            period: Some(600.0),
            ..TimeSpec::default()
        };
        let period = Column::Number(vec![1.0, 2.0, 5.0, 6.0]);
        let clock = vec![600.0, 590.0, 299.0, 300.0];
        let t = session_times(None, Some(clock), Some(&period), &spec).unwrap();
        assert_eq!(t, [0.0, 610.0, 2401.0, 2700.0]);
    }

    #[test]
    fn frames_and_dates() {
        let spec = TimeSpec {
            unit: TimeUnit::Frame,
            rate: Some(25.0),
            first_frame: Some(1.0),
            ..TimeSpec::default()
        };
        let t = session_times(Some(Column::Number(vec![1.0, 2.0])), None, None, &spec).unwrap();
        assert_eq!(t, [0.0, 0.04]);
        let spec = TimeSpec {
            unit: TimeUnit::Ms,
            ..TimeSpec::default()
        };
        let ms = vec![1_948_563_000_000.0, 1_948_563_000_040.0];
        let t = session_times(Some(Column::Number(ms)), None, None, &spec).unwrap();
        assert!((t[1] - 0.04).abs() < 1e-6 && t[0] == 0.0);
    }

    #[test]
    fn repeated_times() {
        let mut s = Samples {
            t: vec![0.0, 0.2, 0.1, 0.1],
            x: vec![0.0, 2.0, 1.0, 1.0],
            y: vec![0.0; 4],
            z: None,
        };
        let found = sort(&mut s, "7").unwrap();
        assert!(found.moved && found.twice == 1);
        assert_eq!(s.x, [0.0, 1.0, 2.0]);
        let mut s = Samples {
            t: vec![0.0, 0.0],
            x: vec![0.0, 5.0],
            y: vec![0.0; 2],
            z: None,
        };
        assert!(matches!(sort(&mut s, "7"), Err(Problem::TwoPlaces { .. })));
    }
}

//! From what the time columns hold to session seconds.

use crate::error::Problem;
use crate::limits;
use crate::mapping::{ClockWay, TimeSpec, TimeUnit};
use crate::raw::Samples;
use crate::table::Column;

/// Times this large are dates (seconds since 1970), not session times.
const EPOCH_S: f64 = 1e8;

/// Times of some rows, as their file has them.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Times {
    /// Seconds; NaN where missing.
    Seconds(Vec<f64>),
    /// Nanoseconds since 1970 UTC; `i64::MIN` where missing.
    Instants(Vec<i64>),
}

impl Times {
    /// Rows that have none.
    pub(super) fn missing(&self) -> usize {
        match self {
            Self::Seconds(v) => v.iter().filter(|t| t.is_nan()).count(),
            Self::Instants(v) => v.iter().filter(|t| **t == i64::MIN).count(),
        }
    }
}

/// Times of some rows.
pub(super) fn read(
    time: Option<Column>,
    clock: Option<Vec<f64>>,
    period: Option<&Column>,
    spec: &TimeSpec,
) -> Result<Times, Problem> {
    match (time, clock) {
        (Some(Column::Instant(stamps)), _) => Ok(Times::Instants(stamps)),
        (Some(Column::Number(values)), _) => Ok(Times::Seconds(from_numbers(values, spec))),
        (_, Some(clock)) => from_clock(&clock, period, spec).map(Times::Seconds),
        _ => Err(Problem::Missing {
            field: "columns.time",
            why: "positions without times are no tracks".into(),
        }),
    }
}

/// First and last of some times.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Extent {
    numbers: Option<(f64, f64)>,
    instants: Option<(i64, i64)>,
}

impl Extent {
    /// Widen it by all rows.
    pub(super) fn add(&mut self, times: &Times) -> Result<(), Problem> {
        let found = match times {
            Times::Seconds(_) if self.instants.is_some() => Some("a number"),
            Times::Instants(_) if self.numbers.is_some() => Some("a date and time"),
            _ => None,
        };
        if let Some(found) = found {
            return Err(Problem::ColumnType {
                found: found.into(),
                expected: "times of one kind in all parts of a session",
            });
        }
        match times {
            Times::Seconds(v) => {
                // Four at once: one after the other each waits for the one before.
                let mut ends = [(f64::INFINITY, f64::NEG_INFINITY); 4];
                for four in v.chunks(4) {
                    for (end, t) in ends.iter_mut().zip(four) {
                        if t.is_finite() {
                            *end = (end.0.min(*t), end.1.max(*t));
                        }
                    }
                }
                let low = ends.iter().fold(f64::INFINITY, |a, e| a.min(e.0));
                let high = ends.iter().fold(f64::NEG_INFINITY, |a, e| a.max(e.1));
                if low <= high {
                    let (l, h) = self.numbers.unwrap_or((low, high));
                    self.numbers = Some((l.min(low), h.max(high)));
                }
            }
            Times::Instants(v) => (0..v.len()).for_each(|i| self.add_row(times, i)),
        }
        Ok(())
    }

    /// Widen it by one row, which may have no time.
    pub(super) fn add_row(&mut self, times: &Times, row: usize) {
        match times {
            Times::Seconds(v) if v[row].is_finite() => {
                let t = v[row];
                let (low, high) = self.numbers.unwrap_or((t, t));
                self.numbers = Some((low.min(t), high.max(t)));
            }
            Times::Instants(v) if v[row] != i64::MIN => {
                let t = v[row];
                let (low, high) = self.instants.unwrap_or((t, t));
                self.instants = Some((low.min(t), high.max(t)));
            }
            _ => {}
        }
    }

    /// Refuse what is longer than a session.
    pub(super) fn check(&self) -> Result<(), Problem> {
        let long = match (self.numbers, self.instants) {
            (Some((low, high)), _) => high - low,
            (_, Some((_, high))) => self.seconds(high),
            _ => 0.0,
        };
        if long > limits::SESSION_S {
            return Err(Problem::Limit {
                what: "the session's length",
                found: format!("{long:.0} s"),
                limit: format!("{:.0} s; is `time.unit` right", limits::SESSION_S),
            });
        }
        Ok(())
    }

    /// Session seconds of an instant of this extent.
    pub(super) fn seconds(&self, ns: i64) -> f64 {
        let zero = self.instants.map_or(0, |i| i.0);
        ns.saturating_sub(zero) as f64 / 1e9
    }

    /// Bring seconds of this extent to session seconds: dates count from the first.
    pub(super) fn shift(&self, times: &mut [f64]) {
        if let Some((low, _)) = self.numbers
            && low > EPOCH_S
        {
            for t in times {
                *t -= low;
            }
        }
    }

    /// This part of `whole`, in session seconds.
    pub(super) fn seconds_from(&self, whole: &Self) -> Option<(f64, f64)> {
        match (self.numbers, self.instants) {
            (Some((low, high)), _) => {
                let mut both = [low, high];
                whole.shift(&mut both);
                Some((both[0], both[1]))
            }
            (_, Some((low, high))) => Some((whole.seconds(low), whole.seconds(high))),
            _ => None,
        }
    }
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
        let t = read(None, Some(clock), Some(&period), &spec).unwrap();
        assert_eq!(t, Times::Seconds(vec![0.0, 610.0, 2401.0, 2700.0]));
    }

    #[test]
    fn frames_and_dates() {
        let spec = TimeSpec {
            unit: TimeUnit::Frame,
            rate: Some(25.0),
            first_frame: Some(1.0),
            ..TimeSpec::default()
        };
        let t = read(Some(Column::Number(vec![1.0, 2.0])), None, None, &spec).unwrap();
        assert_eq!(t, Times::Seconds(vec![0.0, 0.04]));
        let spec = TimeSpec {
            unit: TimeUnit::Ms,
            ..TimeSpec::default()
        };
        let ms = vec![1_948_563_000_000.0, 1_948_563_000_040.0];
        let Times::Seconds(mut t) = read(Some(Column::Number(ms)), None, None, &spec).unwrap()
        else {
            panic!("numbers are seconds");
        };
        let mut extent = Extent::default();
        extent.add(&Times::Seconds(t.clone())).unwrap();
        extent.shift(&mut t);
        assert!((t[1] - 0.04).abs() < 1e-6 && t[0] == 0.0);
        let dates = Times::Instants(vec![0, 1]);
        assert!(matches!(
            extent.add(&dates),
            Err(Problem::ColumnType { .. })
        ));
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

//! Thousands of cases answered by dtw-python 1.9.0, dtaidistance 2.5.1 and tslearn 0.10.0.
//!
//! `tests/reference/warp/fixtures.py` made the answers and says how series are drawn and paths
//! written; `check.sh` beside it makes them again and compares.

#![allow(clippy::unwrap_used, reason = "a test may fail by panicking")]

use setdrift_warp::{
    Barycentre, Dtw, Envelope, Error, Euclidean, Measure, Series, SlopeConstraint, StepPattern,
    Window,
};

/// The rows of one fixture, by column name.
fn rows(name: &str) -> Vec<Row> {
    let folder = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../tests/reference/warp/fixtures/"
    );
    let text = std::fs::read_to_string(format!("{folder}{name}.tsv")).unwrap();
    let mut lines = text.lines();
    let header: Vec<String> = lines
        .next()
        .unwrap()
        .split('\t')
        .map(str::to_owned)
        .collect();
    let row = |line: &str| Row {
        header: header.clone(),
        cells: line.split('\t').map(str::to_owned).collect(),
        line: line.to_owned(),
    };
    lines.map(row).collect()
}

struct Row {
    header: Vec<String>,
    cells: Vec<String>,
    line: String,
}

impl Row {
    fn text(&self, column: &str) -> &str {
        &self.cells[self.header.iter().position(|name| name == column).unwrap()]
    }

    fn whole(&self, column: &str) -> usize {
        self.text(column).parse().unwrap()
    }

    fn value(&self, column: &str) -> Option<f64> {
        let text = self.text(column);
        (text != "none").then(|| text.parse().unwrap())
    }

    fn list(&self, column: &str) -> Vec<f64> {
        self.text(column)
            .split(',')
            .map(|one| one.parse().unwrap())
            .collect()
    }

    fn path(&self) -> Vec<(usize, usize)> {
        let (first, mut steps) = self.text("path").split_once(':').unwrap();
        let pair = |text: &str| {
            let (a, b) = text.split_once(',').unwrap();
            (a.parse::<usize>().unwrap(), b.parse::<usize>().unwrap())
        };
        let mut path = vec![pair(first)];
        while let Some(letter) = steps.chars().next() {
            let mut used = 1;
            let (a, b) = match letter {
                'd' => (1, 1),
                'q' => (1, 0),
                'r' => (0, 1),
                _ => {
                    used = steps.find(')').unwrap() + 1;
                    pair(&steps[1..used - 1])
                }
            };
            steps = &steps[used..];
            let (i, j) = *path.last().unwrap();
            path.push((i + a, j + b));
        }
        path
    }

    /// The pair of series the case is about.
    fn pair(&self, dims: usize) -> (Series<f64>, Series<f64>) {
        let seed = self.whole("seed") as u64;
        let m = if self.header.iter().any(|name| name == "m") {
            self.whole("m")
        } else {
            self.whole("n")
        };
        (
            draw(2 * seed, self.whole("n"), dims),
            draw(2 * seed + 1, m, dims),
        )
    }

    fn close(&self, found: f64, expected: f64) {
        assert!(
            (found - expected).abs() <= 1e-9 * expected.abs().max(1.0),
            "{found} in {}",
            self.line
        );
    }
}

fn draw(seed: u64, frames: usize, dims: usize) -> Series<f64> {
    let mut state = seed;
    let mut values: Vec<f64> = (0..frames * dims)
        .map(|_| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            ((state >> 40) as f64 - f64::from(1 << 23)) / f64::from(1 << 20)
        })
        .collect();
    if seed / 2 % 2 == 1 {
        for at in dims..values.len() {
            values[at] += values[at - dims];
        }
        values.iter_mut().for_each(|value| *value /= 4.0);
    }
    Series::from_frames(&values, dims).unwrap()
}

#[test]
fn dtw_python() {
    use SlopeConstraint::{Half, One, Two, Zero};
    let mut paths = 0;
    for row in rows("dtw_python") {
        let steps = match row.text("steps") {
            "symmetric1" => StepPattern::unweighted(),
            "symmetric2" => StepPattern::symmetric(Zero),
            "symmetricP05" => StepPattern::symmetric(Half),
            "symmetricP1" => StepPattern::symmetric(One),
            "symmetricP2" => StepPattern::symmetric(Two),
            "asymmetric" => StepPattern::query_once(),
            "asymmetricItakura" => StepPattern::itakura(),
            "asymmetricP0" => StepPattern::asymmetric(Zero),
            "asymmetricP05" => StepPattern::asymmetric(Half),
            "asymmetricP1" => StepPattern::asymmetric(One),
            "asymmetricP2" => StepPattern::asymmetric(Two),
            other => panic!("{other}"),
        };
        let size = row.whole("size");
        let window = match row.text("window") {
            "none" => Window::Full,
            "sakoechiba" => Window::SakoeChiba { radius: size },
            _ => Window::Slanted {
                radius: size as f64,
            },
        };
        let ends = row.text("ends");
        let unweighted = steps == StepPattern::unweighted();
        // dtw-python chooses an open end by its normalised cost.
        let measure = if unweighted {
            Measure::Cost
        } else {
            Measure::Normalised
        };
        let dtw = Dtw::with_cost(Euclidean)
            .steps(steps)
            .window(window)
            .measure(measure)
            .open_begin(ends == "both")
            .open_end(ends != "closed")
            .check()
            .unwrap();
        let (x, y) = row.pair(row.whole("dims"));
        let found = dtw.align(&x, &y);
        let Some(expected) = row.value(if unweighted { "distance" } else { "normalised" }) else {
            assert!(matches!(found, Err(Error::NoPath { .. })), "{}", row.line);
            continue;
        };
        let found = found.unwrap_or_else(|error| panic!("{error} in {}", row.line));
        row.close(found.distance, expected);
        row.close(dtw.distance(&x, &y).unwrap(), expected);
        assert_eq!(found.path, row.path(), "{}", row.line);
        paths += 1;
    }
    assert!(paths > 1000);
}

#[test]
fn dtaidistance() {
    for row in rows("dtaidistance") {
        let window = match row.text("radius") {
            "-1" => Window::Full,
            radius => Window::Widened {
                radius: radius.parse().unwrap(),
            },
        };
        let dtw = Dtw::squared()
            .window(window)
            .measure(Measure::Root)
            .check()
            .unwrap();
        let (x, y) = row.pair(row.whole("dims"));
        let found = dtw.align(&x, &y).unwrap();
        row.close(found.distance, row.value("distance").unwrap());
        row.close(
            dtw.distance(&x, &y).unwrap(),
            row.value("distance").unwrap(),
        );
        assert_eq!(found.path, row.path(), "{}", row.line);
        if let Some(bound) = row.value("keogh") {
            let envelope = Envelope::of_reference(&dtw, &y, x.len()).unwrap();
            row.close(dtw.keogh_bound(&envelope, &x).unwrap(), bound);
        }
    }
}

#[test]
fn dtaidistance_subsequence() {
    let dtw = Dtw::squared().measure(Measure::Root).check().unwrap();
    for row in rows("dtaidistance_subsequence") {
        let (x, y) = row.pair(1);
        let best = &dtw.matches(&x, &y, 1, f64::INFINITY).unwrap()[0];
        row.close(best.distance, row.value("distance").unwrap());
        assert_eq!(
            best.reference,
            row.whole("start")..row.whole("end"),
            "{}",
            row.line
        );
    }
}

#[test]
fn tslearn() {
    for row in rows("tslearn") {
        let window = match row.text("window") {
            "full" => Window::Full,
            "radius" => Window::Widened {
                radius: row.whole("parameter"),
            },
            _ => Window::Itakura {
                max_slope: row.whole("parameter") as f64,
            },
        };
        let dtw = Dtw::squared()
            .window(window)
            .measure(Measure::Root)
            .check()
            .unwrap();
        let (x, y) = row.pair(row.whole("dims"));
        let found = dtw.align(&x, &y).unwrap();
        row.close(found.distance, row.value("distance").unwrap());
        row.close(
            dtw.distance(&x, &y).unwrap(),
            row.value("distance").unwrap(),
        );
        assert_eq!(found.path, row.path(), "{}", row.line);
    }
}

#[test]
fn tslearn_subsequence() {
    let closed = Dtw::squared().measure(Measure::Root);
    let open = closed
        .clone()
        .open_begin(true)
        .open_end(true)
        .check()
        .unwrap();
    let closed = closed.check().unwrap();
    for row in rows("tslearn_subsequence") {
        let (x, y) = row.pair(row.whole("dims"));
        let (expected, path) = (row.value("distance").unwrap(), row.path());
        let found = open.align(&x, &y).unwrap();
        row.close(found.distance, expected);
        assert_eq!(found.path, path, "{}", row.line);
        let best = &closed.matches(&x, &y, 1, f64::INFINITY).unwrap()[0];
        row.close(best.distance, expected);
        assert_eq!(
            best.reference,
            path[0].1..path[path.len() - 1].1 + 1,
            "{}",
            row.line
        );
    }
}

#[test]
fn tslearn_keogh() {
    for row in rows("tslearn_keogh") {
        let window = Window::SakoeChiba {
            radius: row.whole("radius"),
        };
        let dtw = Dtw::squared()
            .window(window)
            .measure(Measure::Root)
            .check()
            .unwrap();
        let (x, y) = row.pair(1);
        let envelope = Envelope::of_reference(&dtw, &y, x.len()).unwrap();
        row.close(
            dtw.keogh_bound(&envelope, &x).unwrap(),
            row.value("bound").unwrap(),
        );
    }
}

#[test]
fn tslearn_average() {
    let dtw = Dtw::squared().check().unwrap();
    for row in rows("tslearn_average") {
        let (dims, seed) = (row.whole("dims"), 100 * row.whole("seed") as u64);
        let series: Vec<Series<f64>> = row
            .list("lengths")
            .iter()
            .zip(seed..)
            .map(|(&len, seed)| draw(seed, len as usize, dims))
            .collect();
        let rounds = Barycentre {
            max_rounds: row.whole("rounds"),
            tolerance: 0.0,
        };
        let initial = draw(seed + 99, row.whole("size"), dims);
        let average = rounds
            .fit(&dtw, &initial, &series, Some(&row.list("weights")))
            .unwrap();
        for (found, expected) in average
            .centre
            .to_frames()
            .into_iter()
            .zip(row.list("centre"))
        {
            row.close(found, expected);
        }
    }
}

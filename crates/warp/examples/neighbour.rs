//! Nearest neighbours of a labelled set, for comparison with other libraries.
//!
//! `neighbour FOLDER NAME dependent|independent` reads `FOLDER/NAME.train.tsv` and
//! `FOLDER/NAME.test.tsv`, one series a line: label, dimensions, then values frame by frame. For
//! each series of the test set it writes the index of the nearest of the training set, their
//! squared DTW distance and the neighbour's label.

#![allow(clippy::print_stdout, reason = "an example that is called by a script")]

use std::error::Error;
use std::fs::read_to_string;

use rayon::prelude::*;
use setdrift_warp::{Dtw, Multivariate, References, Series};

struct Set {
    labels: Vec<String>,
    series: Vec<Series<f64>>,
}

fn read(path: &str) -> Result<Set, Box<dyn Error>> {
    let mut set = Set {
        labels: Vec::new(),
        series: Vec::new(),
    };
    for line in read_to_string(path)?.lines() {
        let mut cells = line.split('\t');
        set.labels
            .push(cells.next().ok_or("a line without a label")?.to_owned());
        let dims: usize = cells.next().ok_or("a line without dimensions")?.parse()?;
        let values = cells.map(str::parse).collect::<Result<Vec<f64>, _>>()?;
        set.series.push(Series::from_frames(&values, dims)?);
    }
    Ok(set)
}

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [folder, name, kind] = arguments.as_slice() else {
        return Err("usage: neighbour FOLDER NAME dependent|independent".into());
    };
    let multivariate = match kind.as_str() {
        "dependent" => Multivariate::Dependent,
        "independent" => Multivariate::Independent,
        other => return Err(format!("{other}: expected dependent or independent").into()),
    };
    let train = read(&format!("{folder}/{name}.train.tsv"))?;
    let test = read(&format!("{folder}/{name}.test.tsv"))?;
    let dtw = Dtw::squared().multivariate(multivariate).check()?;
    let references = References::new(&train.series)?;
    let found: Vec<_> = test
        .series
        .par_iter()
        .map(|query| dtw.nearest(query, &references, 1))
        .collect();
    for nearest in found {
        let nearest = nearest?;
        let nearest = nearest.first().ok_or("an empty training set")?;
        println!(
            "{}\t{}\t{}",
            nearest.index, nearest.distance, train.labels[nearest.index]
        );
    }
    Ok(())
}

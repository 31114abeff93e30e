//! The crate on its own: hand movements are learned from a few demonstrations each, told apart, and
//! found again in a long recording with a stretch that the sensor lost.
//!
//! Run it with `cargo run --package setdrift-warp --example gestures`.

#![allow(clippy::print_stdout, reason = "an example that shows its results")]

use std::f64::consts::TAU;

use setdrift_warp::connected::{
    Decoder, Filler, Grammar, ReferenceCosts, SegmentKind, Settings, Word, WordId,
};
use setdrift_warp::{
    Barycentre, CappedSquared, Control, Dtw, Gaps, Measure, References, Result, Series, Window,
};

const NAMES: [&str; 3] = ["circle", "wave", "push"];

/// Place of the hand, in decimetres, at `phase` (0 to 1) of a gesture.
fn place(gesture: usize, phase: f64) -> [f64; 2] {
    match gesture {
        0 => [(TAU * phase).sin(), 1.0 - (TAU * phase).cos()],
        1 => [2.0 * phase, 0.6 * (2.0 * TAU * phase).sin()],
        _ => [0.0, 2.5 * (TAU / 2.0 * phase).sin()],
    }
}

/// One demonstration: `frames` frames, hurried at first (`rush` above 1) or at last, and shaky.
fn demonstration(gesture: usize, frames: usize, rush: f64) -> Result<Series<f64>> {
    let values: Vec<f64> = (0..frames)
        .flat_map(|frame| {
            let phase = (frame as f64 / (frames - 1) as f64).powf(1.0 / rush);
            let shake = 0.03 * ((frame * 37 + frames) % 11) as f64 - 0.15;
            place(gesture, phase).map(|value| value + shake)
        })
        .collect();
    Series::from_frames(&values, 2)
}

fn main() -> Result<()> {
    let mut shown = Vec::new();
    for gesture in 0..NAMES.len() {
        for (frames, rush) in [(24, 1.0), (30, 1.3), (27, 0.8), (36, 1.1)] {
            shown.push(demonstration(gesture, frames, rush)?);
        }
    }

    // All pairs: demonstrations of one gesture lie closer together than those of two.
    let dtw = Dtw::squared()
        .window(Window::Widened { radius: 10 })
        .measure(Measure::Root)
        .check()?;
    let table = dtw.pairwise(&shown, Control::default())?;
    let (mut same, mut different) = (0.0_f64, f64::INFINITY);
    for i in 0..shown.len() {
        for j in i + 1..shown.len() {
            let distance = table.get(i, j).unwrap_or(f64::INFINITY);
            if i / 4 == j / 4 {
                same = same.max(distance);
            } else {
                different = different.min(distance);
            }
        }
    }
    println!("farthest within a gesture {same:.2}, nearest between two {different:.2}");

    // The nearest demonstration names a new one.
    let references = References::new(&shown)?;
    let unnamed = demonstration(1, 33, 0.9)?;
    let nearest = dtw.nearest(&unnamed, &references, 1)?;
    for one in &nearest {
        println!(
            "the new one is a {} ({:.2} away)",
            NAMES[one.index / 4],
            one.distance
        );
    }

    // One reference a gesture: the average of its demonstrations.
    let squared = Dtw::squared().check()?;
    let mut learned = Vec::new();
    for demonstrations in shown.chunks(4) {
        let average =
            Barycentre::default().fit(&squared, &demonstrations[0], demonstrations, None)?;
        learned.push(average.centre);
    }

    // A long recording: rest, wave, circle, rest, push; the sensor loses the hand for a while.
    let mut frames: Vec<[f64; 2]> = vec![[-3.0, -3.0]; 12];
    for (gesture, length) in [(1, 31), (0, 26)] {
        frames.extend((0..length).map(|frame| place(gesture, frame as f64 / (length - 1) as f64)));
    }
    frames.extend([[-3.0, -3.0]; 15]);
    frames.extend((0..28).map(|frame| place(2, frame as f64 / 27.0)));
    for lost in &mut frames[20..25] {
        *lost = [f64::NAN; 2];
    }
    let recording = Series::from_frames_with_gaps(frames.as_flattened(), 2)?;

    // Where is the circle? An unknown coordinate costs what a bad one would.
    let gaps = Gaps::Cost(0.1);
    let found = Dtw::squared()
        .gaps(gaps)
        .check()?
        .matches(&learned[0], &recording, 1, 30.0)?;
    for one in &found {
        println!(
            "the circle lies in frames {:?}, at a cost of {:.2}",
            one.reference, one.distance
        );
    }

    // What is all of it? Any gesture may follow any other, or rest.
    let mut grammar = Grammar::new();
    for reference in &learned {
        grammar.word(Word {
            broken: Some(4.0),
            ..Word::new(reference.len())
        });
    }
    for from in 0..learned.len() {
        for to in 0..learned.len() {
            grammar.edge(WordId(from), WordId(to), 0.5);
        }
    }
    let grammar = grammar.check()?;
    let cost = CappedSquared::new(2.0)?;
    let mut costs = ReferenceCosts::new(&recording, &learned, cost, gaps)?;
    let settings = Settings {
        filler: Some(Filler::constant(0.5)),
        ..Settings::default()
    };
    let explained = Decoder::new(&grammar)?.decode(recording.len(), &mut costs, &settings)?;
    for segment in explained.map(|found| found.segments).unwrap_or_default() {
        let what = match segment.kind {
            SegmentKind::Word(word) => NAMES[word.0],
            SegmentKind::Filler => "rest",
        };
        println!(
            "frames {:3} to {:3}: {what} ({:.2})",
            segment.start,
            segment.end - 1,
            segment.cost
        );
    }
    Ok(())
}

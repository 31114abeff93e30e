//! The decoder's work shared out: stretches of a session decoded side by side, and joined so that
//! the course is the one that a single decoder would find, bit for bit.
//!
//! What the best courses are at a frame hardly depends on what was a while ago: survivors go back to one
//! ancestor (merging of survivor paths: Forney 1973, Proc. IEEE 61(3), 268–278). So every decoder begins a little before
//! its stretch with nothing known, and marks where its courses are at a few looks. The one before goes on
//! until its own courses are the same as at such a look, to the last bit of all that what follows may
//! depend on; from there on both would do the same. Where they never are, it goes on through the next
//! stretch itself.

use crate::course::Course;
use crate::decode::{Decoder, Run};
use crate::motion::Motion;
use crate::params::ValidParams;
use rayon::prelude::*;
use std::ops::Range;

/// Length of a stretch, seconds.
const STRETCH_S: f64 = 240.0;
/// How long before its stretch a decoder begins, and how far apart its looks are, seconds.
const BEFORE_S: f64 = 12.0;
const LOOK_S: f64 = 2.0;
/// Looks that are kept of each stretch.
const LOOKS: usize = 10;

/// The most probable course of a session's ball as runs of one state each.
pub(crate) fn decode(m: &Motion, params: &ValidParams) -> Vec<Run> {
    relay(m, params, STRETCH_S, BEFORE_S).0
}

/// The same in stretches of some length, and how often one decoder took over from another.
fn relay(m: &Motion, params: &ValidParams, stretch_s: f64, before_s: f64) -> (Vec<Run>, usize) {
    let rate = m.session.rate_hz;
    let frames = m.session.frames();
    let long = ((stretch_s * rate) as usize).max(1);
    let before = (before_s * rate) as usize;
    let legs: Vec<Leg> = (0..frames.div_ceil(long))
        .into_par_iter()
        .map(|k| Leg::run(m, params, k * long..((k + 1) * long).min(frames), before))
        .collect();
    let mut legs = legs.into_iter();
    let Some(Leg { mut decoder, .. }) = legs.next() else {
        return (Vec::new(), 0);
    };
    let mut taken_over = 0;
    for mut next in legs {
        let same = next.looks.iter().position(|look| {
            decoder.run(look.frame);
            let live = decoder.live();
            live.len() == look.live.len()
                && live.iter().zip(&look.live).all(|(a, b)| a.goes_on_as(b))
        });
        if let Some(look) = same {
            next.decoder.take_over(look, &decoder);
            decoder = next.decoder;
            taken_over += 1;
        }
    }
    decoder.run(frames);
    (decoder.runs(), taken_over)
}

/// A stretch decoded.
struct Leg<'a> {
    decoder: Decoder<'a>,
    looks: Vec<Look>,
}

/// Where a decoder's courses are before it looks at a frame.
struct Look {
    frame: usize,
    live: Vec<Course>,
}

impl<'a> Leg<'a> {
    /// Of some frames, from so many before them on.
    fn run(m: &Motion<'a>, params: &ValidParams, of: Range<usize>, before: usize) -> Self {
        let step = ((LOOK_S * m.session.rate_hz) as usize).max(1);
        let mut decoder = Decoder::new(*m, *params, of.start.saturating_sub(before));
        let mut looks = Vec::new();
        if of.start > 0 {
            for frame in of.clone().step_by(step).take(LOOKS) {
                decoder.run(frame);
                looks.push(Look {
                    frame,
                    live: decoder.live().to_vec(),
                });
                decoder.mark(looks.len() - 1);
            }
        }
        decoder.run(of.end);
        decoder.forget();
        Self { decoder, looks }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::game;
    use setdrift_simulate::SensorModel;

    /// Looks right at the beginning of a stretch find nothing alike, those of such short ones seldom do.
    #[test]
    fn however_it_is_shared_out_the_course_is_the_same() {
        for sensor in [SensorModel::optical(), SensorModel::radio_10()] {
            let s = game(&sensor, 7, 6);
            let (m, params) = (Motion::new(&s), ValidParams::default());
            let (whole, none) = relay(&m, &params, f64::INFINITY, 0.0);
            assert!(none == 0 && whole.len() > 20, "{} runs", whole.len());
            for (stretch_s, before_s) in [(30.0, BEFORE_S), (7.0, 4.0), (3.0, 0.0)] {
                let legs = (s.frames() as f64 / s.rate_hz / stretch_s).ceil() as usize;
                let (runs, taken_over) = relay(&m, &params, stretch_s, before_s);
                assert_eq!(runs, whole, "{stretch_s} s, {taken_over} of {legs}");
                assert!(taken_over > 0, "{stretch_s} s");
                assert!(before_s > 0.0 || taken_over < legs - 1, "{taken_over}");
            }
        }
    }
}

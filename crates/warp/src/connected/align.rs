//! The alignment inside one word, recomputed once the decoder knows where it lies.

use std::ops::Range;

use super::grammar::{Word, WordId};
use super::settings::FrameCosts;
use crate::cost::check_costs;
use crate::error::{Error, Result, filled};
use crate::real::Real;

/// How the best state of a reference frame was reached.
const WAIT: u32 = u32::MAX;

/// Cost (summed in `f64`) and reference frame for each query frame of `span`, which begins at the
/// word's first frame and ends at its last if `complete`, else at the cheapest one before it.
pub(super) fn align<T: Real>(
    word: &Word<T>,
    id: WordId,
    span: Range<usize>,
    complete: bool,
    costs: &mut impl FrameCosts<T>,
) -> Result<(f64, Vec<u32>)> {
    let (len, frames) = (word.len, span.len());
    let pad = 1 + word.tempo.max_skip.min(len - 1);
    let stays = word.tempo.max_stay.map_or(1, |most| most.min(frames) + 1);
    let mut local = filled(T::ZERO, len, "reference frames")?;
    // best[j]: least over the numbers of stays; rows[s][j]: after s stays.
    let mut best = filled(f64::INFINITY, len, "reference frames")?;
    let states = "states of a word";
    let mut rows = filled(f64::INFINITY, len.saturating_mul(stays), states)?;
    // For each (frame, j): the number of stays of the best state, and the advance into stay 0.
    let cells = frames.checked_mul(len).ok_or(Error::TooLarge {
        what: "length of a stretch",
        found: frames,
        limit: usize::MAX / len,
    })?;
    let mut best_stay = filled(0u32, cells, states)?;
    let mut advance = filled(0u32, cells, states)?;
    for (frame, query) in span.enumerate() {
        costs.fill(query, id, &mut local);
        check_costs(query, id.0, 0, &local)?;
        for j in (0..len).rev() {
            let cost = local[j].to_f64();
            let at = frame * len + j;
            let mut moved = if frame == 0 && j == 0 {
                0.0
            } else {
                f64::INFINITY
            };
            if frame > 0 {
                for step in 1..=pad.min(j) {
                    if best[j - step] < moved {
                        (moved, advance[at]) = (best[j - step], step as u32);
                    }
                }
            }
            let (mut least, mut how) = (moved + cost, 0);
            // Rows are overwritten from the most stays down, the best last: each reads the old one.
            let waits = word.tempo.max_stay.is_none() || (word.wait_at_end && j == len - 1);
            for stay in (1..stays).rev() {
                rows[stay * len + j] = rows[(stay - 1) * len + j] + cost;
            }
            rows[j] = moved + cost;
            for stay in 1..stays {
                if rows[stay * len + j] < least {
                    (least, how) = (rows[stay * len + j], stay as u32);
                }
            }
            if waits && best[j] + cost < least {
                (least, how) = (best[j] + cost, WAIT);
            }
            best[j] = least;
            best_stay[at] = how;
        }
    }
    let last = if complete {
        len - 1
    } else {
        let mut at = 0;
        for j in 1..len - 1 {
            if best[j] < best[at] {
                at = j;
            }
        }
        at
    };
    Ok((best[last], trace(frames, len, last, &best_stay, &advance)))
}

fn trace(frames: usize, len: usize, last: usize, best_stay: &[u32], advance: &[u32]) -> Vec<u32> {
    let mut alignment = vec![0u32; frames];
    let mut j = last;
    let mut how = best_stay[(frames - 1) * len + j];
    for frame in (0..frames).rev() {
        alignment[frame] = j as u32;
        if frame == 0 {
            break;
        }
        how = match how {
            0 => {
                j -= advance[frame * len + j] as usize;
                best_stay[(frame - 1) * len + j]
            }
            WAIT => best_stay[(frame - 1) * len + j],
            stay => stay - 1,
        };
    }
    alignment
}

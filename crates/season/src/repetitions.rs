//! Where a repetition ends is known best by what was run in it.
//!
//! Between two repetitions nothing bounds play but a walk back, and its beginning is easily
//! mistaken for a stop. So recognition looks on until the next repetition begins, and the
//! repetition ends with the last option found, or where the events put its end if that is later.

use setdrift_events::model::{Possession, Start};
use setdrift_recognise::model::{Reading, What};
use setdrift_tracks::Session;

/// Possessions as recognition searches them: repetitions reach to the next, others stay.
pub fn stretched(session: &Session, possessions: &[Possession]) -> Vec<Possession> {
    let end_s = session.time(session.frames() - 1);
    let mut out = possessions.to_vec();
    for (i, p) in out.iter_mut().enumerate() {
        if p.start == Start::Repetition {
            p.to_s = possessions
                .get(i + 1)
                .map_or(end_s, |next| next.from_s)
                .max(p.to_s);
        }
    }
    out
}

/// Ends repetitions with the last option found in them, and their readings with them.
pub fn settle(possessions: &mut [Possession], readings: &mut [Reading]) {
    for (p, reading) in possessions.iter_mut().zip(readings) {
        if p.start != Start::Repetition {
            continue;
        }
        let options = reading
            .segments
            .iter()
            .filter(|s| matches!(s.what, What::Option(_)));
        let last = options.map(|s| s.to_s).fold(p.to_s, f64::max);
        p.to_s = last;
        reading.segments.retain(|s| s.from_s < last);
        if let Some(s) = reading.segments.last_mut() {
            s.to_s = s.to_s.min(last);
        }
    }
}

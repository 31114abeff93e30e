//! What a person who watches would write down: late, rounded, and not everything.

use crate::rng::Rng;
use crate::session::TagLine;
use crate::truth::{Did, Truth};

/// Share of runs a person forgets to tag; common practice, no published source.
const FORGOTTEN: f64 = 0.06;
/// The same for runs that broke off early.
const FORGOTTEN_BROKEN: f64 = 0.35;

pub(crate) fn tag(truth: &Truth, rng: &mut Rng) -> Vec<TagLine> {
    let mut out = Vec::new();
    for s in &truth.spans {
        let Did::Option(run) = &s.what else { continue };
        let forgotten = if run.complete {
            FORGOTTEN
        } else {
            FORGOTTEN_BROKEN
        };
        let skip = rng.chance(forgotten);
        let from = s.from_s + rng.around(0.15, 0.25);
        let to = s.to_s + rng.around(0.1, 0.3);
        if skip || to < from + 0.5 {
            continue;
        }
        let tenth = |t: f64| (t * 10.0).round() / 10.0;
        out.push(TagLine {
            from_s: tenth(from.max(0.0)),
            to_s: tenth(to),
            option: run.option.clone(),
            hand: run.hand.clone(),
        });
    }
    out
}

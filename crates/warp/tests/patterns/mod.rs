//! Every step pattern there is, for tests of all of them.

use setdrift_warp::{SlopeConstraint, StepPattern};

pub fn patterns() -> Vec<StepPattern> {
    let slopes = [
        SlopeConstraint::Zero,
        SlopeConstraint::Half,
        SlopeConstraint::One,
        SlopeConstraint::Two,
    ];
    let mut all = vec![
        StepPattern::unweighted(),
        StepPattern::query_once(),
        StepPattern::itakura(),
    ];
    all.extend(slopes.map(StepPattern::symmetric));
    all.extend(slopes.map(StepPattern::asymmetric));
    all
}

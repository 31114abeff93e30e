//! From a step's reference frames to session time and back, along its warping path.

use setdrift_court::AttackPoint;
use setdrift_playbook::graph::{Action, Motion};
use setdrift_recognise::model::StepRun;

/// When the reference frame `frame` was left: the last moment the warping path is at it or
/// before it. `None` where the path never comes that far, unless the step was complete: it ends
/// when everyone has all but arrived, a foot short of its last frames.
#[must_use]
pub fn left_at(step: &StepRun, frame: usize) -> Option<f64> {
    let last = step.path.last()?;
    if (last.1 as usize) < frame {
        return step.complete.then_some(step.to_s);
    }
    let i = step.path.partition_point(|p| (p.1 as usize) <= frame);
    Some(if i == 0 {
        step.from_s
    } else {
        step.path[i - 1].0
    })
}

/// When the reference frame `frame` was reached first. `None` where the path never comes that
/// far, unless the step was complete, as for [`left_at`].
#[must_use]
pub fn reached_at(step: &StepRun, frame: usize) -> Option<f64> {
    let i = step.path.partition_point(|p| (p.1 as usize) < frame);
    let seen = step.path.get(i).map(|p| p.0);
    seen.or_else(|| step.complete.then_some(step.to_s))
}

/// The declared going of a role in an action.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Declared {
    /// Where it starts.
    pub from: AttackPoint,
    /// Where it ends.
    pub to: AttackPoint,
    /// Unit vector of its first leg; `None` where it does not move.
    pub toward: Option<(f64, f64)>,
    /// Greatest distance from its start, metres.
    pub way_m: f64,
}

/// What a role's reference path says of an action; `None` where the action's frames or role are
/// not in the motion.
#[must_use]
pub fn declared(motion: &Motion, action: &Action) -> Option<Declared> {
    let row = motion.roles.get(action.role)?;
    let to = action.to.min(row.len().checked_sub(1)?);
    let path = row.get(action.from..=to)?;
    let (from, end) = (*path.first()?, *path.last()?);
    let length: f64 = path.windows(2).map(|w| w[0].distance(w[1])).sum();
    let way_m = path.iter().map(|p| p.distance(from)).fold(0.0, f64::max);
    // The first leg: far enough to have a direction, short enough to be before a bend.
    let leg = (0.5 * length).clamp(1.0_f64.min(length), 2.5);
    let mut gone = 0.0;
    let mut aim = end;
    for w in path.windows(2) {
        gone += w[0].distance(w[1]);
        if gone >= leg - 1e-9 {
            aim = w[1];
            break;
        }
    }
    let size = from.distance(aim);
    let toward = (size > 1e-6).then(|| ((aim.x - from.x) / size, (aim.y - from.y) / size));
    Some(Declared {
        from,
        to: end,
        toward,
        way_m,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waiting_at_a_frame_counts_until_it_is_left() {
        let mut step = StepRun {
            node: 0,
            from_s: 10.0,
            to_s: 10.6,
            complete: true,
            path: vec![
                (10.0, 0),
                (10.1, 1),
                (10.2, 1),
                (10.3, 1),
                (10.4, 2),
                (10.5, 4),
            ],
            deviation: vec![],
        };
        assert_eq!(left_at(&step, 1), Some(10.3));
        assert_eq!(reached_at(&step, 1), Some(10.1));
        assert_eq!(reached_at(&step, 3), Some(10.5));
        assert_eq!(left_at(&step, 3), Some(10.4));
        // A complete step ends a foot short of its last frames, a broken one never came to them.
        assert_eq!(left_at(&step, 5), Some(10.6));
        assert_eq!(reached_at(&step, 5), Some(10.6));
        step.complete = false;
        assert_eq!(left_at(&step, 5), None);
        assert_eq!(reached_at(&step, 5), None);
    }
}

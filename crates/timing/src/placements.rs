//! Was it set where it counts: every screen, spot and post of a run.

use crate::align::{declared, left_at, reached_at};
use crate::model::{Kept, Place, PlacementCheck};
use crate::moments::nearest_to_user;
use crate::region::{named, off_by};
use crate::scene::Scene;
use crate::trace::Local;
use crate::words;
use setdrift_court::{AttackPoint, Zone};
use setdrift_events::model::EventKind;
use setdrift_playbook::graph::{Action, ActionKind, Placement, PostKind};
use setdrift_recognise::model::StepRun;

/// Speed up to which a screener stands, m/s. A person who stands on a radio or optical track
/// still wobbles by this much; common practice, no published source.
const STANDING: f64 = 0.7;

/// All placement checks of a run, in the order of its steps and actions.
#[must_use]
pub fn placement_checks(scene: &Scene<'_>) -> Vec<PlacementCheck> {
    let mut out = Vec::new();
    for (si, step) in scene.run.steps.iter().enumerate() {
        for (ai, action) in scene.node(step).actions.iter().enumerate() {
            let place = Place {
                possession: scene.possession.number,
                segment: scene.segment,
                node: step.node,
                action: ai,
            };
            action_checks(scene, si, step, action, place, &mut out);
        }
    }
    out
}

/// The moment at which an action's place counts, and what was seen of it.
struct Count {
    time_s: f64,
    local: Option<Local>,
    /// How the moment was found, in words.
    how: String,
    /// The one a screener is to hold off: the defender where in the data, else nobody.
    facing: Option<AttackPoint>,
    set: Option<bool>,
}

fn action_checks(
    scene: &Scene<'_>,
    si: usize,
    step: &StepRun,
    action: &Action,
    place: Place,
    out: &mut Vec<PlacementCheck>,
) {
    // A place is judged only where the run came so far.
    let (Some(player), Some(to)) = (scene.player(action.role), reached_at(step, action.to)) else {
        return;
    };
    let Some(way) = declared(&scene.node(step).motion, action) else {
        return;
    };
    let target = match &action.kind {
        ActionKind::Screen { at, .. } | ActionKind::Post { at, .. } => *at,
        ActionKind::Dribble { to, .. } | ActionKind::Leave { to, .. } => *to,
        ActionKind::Cut { path, .. } => path.last().copied().unwrap_or(way.to),
        ActionKind::Pass { .. }
        | ActionKind::HandOff { .. }
        | ActionKind::Hold
        | ActionKind::Shot => {
            if action.placements.is_empty() {
                return;
            }
            way.to
        }
    };
    let count = match &action.kind {
        ActionKind::Screen { user, .. } => contact(scene, si, step, action, *user, to),
        ActionKind::Pass { .. } | ActionKind::HandOff { .. } | ActionKind::Shot => at_event(
            scene,
            player,
            action,
            left_at(step, action.from).unwrap_or(to),
        ),
        _ => arrival(scene, step, action, target, to),
    };
    let unit = scene.graph.unit;
    let at = count.local.map(|l| l.at);
    let margin = count
        .local
        .map_or(0.0, |l| l.place_gain * scene.noise[action.role]);
    let who = scene.who(action.role);
    let blank = |text: String| PlacementCheck {
        place,
        player: Some(player),
        role: Some(action.role),
        text,
        time_s: count.time_s,
        at,
        off_by: None,
        kept: Kept::CannotTell,
        evidence: format!(
            "where {who} was at {} is not known",
            words::clock(count.time_s)
        ),
    };

    // Where it should be: within the tolerance of the declared spot.
    if matches!(
        action.kind,
        ActionKind::Screen { .. }
            | ActionKind::Post { .. }
            | ActionKind::Dribble { .. }
            | ActionKind::Leave { .. }
            | ActionKind::Cut { .. }
    ) {
        let mut check = blank(action.text.clone());
        if let Some(l) = count.local {
            let tolerance = scene
                .node(step)
                .motion
                .tolerance
                .get(action.role)
                .copied()
                .unwrap_or(scene.params.reach_m);
            let d = l.at.distance(target);
            let off = d - tolerance;
            check.off_by = Some(off);
            check.kept = kept(off, margin);
            let apart = words::offset(unit, l.at, target);
            check.evidence = format!(
                "{who} was {} off the declared place{} {} ({}); {} allowed",
                words::length(unit, d),
                if apart.is_empty() {
                    String::new()
                } else {
                    format!(", {apart}")
                },
                count.how,
                words::clock(count.time_s),
                words::length(unit, tolerance)
            );
            if matches!(action.kind, ActionKind::Screen { .. }) {
                check.evidence.push_str(&screen_words(scene, &count, &l));
            }
        }
        out.push(check);
    }

    let in_lane = Placement::Inside(Zone::Lane);
    let implied = match action.kind {
        // A duck-in is a step into the lane, whether or not the sentence says so again.
        ActionKind::Post {
            kind: PostKind::DuckIn,
            ..
        } if !action.placements.contains(&in_lane) => Some(&in_lane),
        _ => None,
    };
    for placement in action.placements.iter().chain(implied) {
        let what = named(placement, |m| words::length(unit, m));
        let mut check = blank(format!("{}: {what}", action.text));
        if let Some(l) = count.local {
            judge_placement(
                scene, placement, &what, &who, &count, &l, margin, &mut check,
            );
        }
        out.push(check);
    }
}

#[expect(clippy::too_many_arguments, reason = "one judgement, all of it used")]
fn judge_placement(
    scene: &Scene<'_>,
    placement: &Placement,
    what: &str,
    who: &str,
    count: &Count,
    l: &Local,
    margin: f64,
    check: &mut PlacementCheck,
) {
    let unit = scene.graph.unit;
    if let Some(off) = off_by(placement, &scene.session.court, l.at) {
        check.off_by = Some(off);
        check.kept = kept(off, margin);
        let by = words::length(unit, off.abs());
        let side = if off > 0.0 {
            format!("{by} from being {what}")
        } else {
            format!("{what} by {by}")
        };
        check.evidence = format!(
            "{who} was {side} {} ({}), ± {}",
            count.how,
            words::clock(count.time_s),
            words::length(unit, margin)
        );
        if off > 0.0 && check.kept == Kept::Yes {
            check
                .evidence
                .push_str("; less than the measuring error, so let pass");
        }
        return;
    }
    let Placement::Facing { place, name } = placement else {
        return;
    };
    // A point has no shoulders; a screener's chest is towards the defender held.
    match count.facing {
        None => {
            check.evidence = format!(
                "which way {who} faced is not known: the data have places, not shoulders, and no \
                 defender was held"
            );
        }
        Some(held) => {
            let (ax, ay) = (held.x - l.at.x, held.y - l.at.y);
            let (bx, by) = (place.x - l.at.x, place.y - l.at.y);
            let angle = (ax * by - ay * bx)
                .atan2(ax * bx + ay * by)
                .abs()
                .to_degrees();
            check.off_by = None;
            check.kept = if angle <= 45.0 { Kept::Yes } else { Kept::No };
            check.evidence = format!(
                "{who} held a defender {angle:.0}° off the line to {name} ({}); up to 45° \
                 counts as facing it",
                words::clock(count.time_s)
            );
        }
    }
}

/// Kept, unless missed by more than the measuring error of the place.
pub fn kept(off: f64, margin: f64) -> Kept {
    if off <= margin { Kept::Yes } else { Kept::No }
}

fn screen_words(scene: &Scene<'_>, count: &Count, l: &Local) -> String {
    let unit = scene.graph.unit;
    let lane = Zone::lane_offset(&scene.session.court, l.at);
    let side = if lane > 0.0 { "outside" } else { "inside" };
    let standing = count.set.unwrap_or(l.speed() <= STANDING);
    let mut s = format!(
        "; {} {side} the lane, {}",
        words::length(unit, lane.abs()),
        if standing {
            "set".to_owned()
        } else {
            format!(
                "still moving at {}/s",
                words::length(scene.graph.unit, l.speed())
            )
        }
    );
    if let Some(held) = count.facing {
        // 0 degrees: the screener's chest is square to the line from ring to screen.
        let ring = scene.session.court.ring();
        let out = (l.at.y - ring.y).atan2(l.at.x - ring.x);
        let chest = (held.y - l.at.y).atan2(held.x - l.at.x);
        let turn = (chest - out).sin().atan2((chest - out).cos()).abs();
        s.push_str(&format!(
            "; the defender held at {:.0}° to the line from the ring",
            turn.to_degrees()
        ));
    }
    s
}

/// Contact of a screen: the event, else when screener and user come nearest, else the end.
fn contact(
    scene: &Scene<'_>,
    si: usize,
    step: &StepRun,
    action: &Action,
    user: usize,
    to: f64,
) -> Count {
    let from = left_at(step, action.from).unwrap_or(to);
    let screener = scene.player(action.role);
    let freed = scene.player(user);
    let event = |any: bool| {
        scene.nearest_event(0.5 * (from + to), |k, t| match k {
            EventKind::Screen {
                screener: s,
                user: u,
                ..
            } if Some(*s) == screener && (any || Some(*u) == freed) => Some(t),
            _ => None,
        })
    };
    let half = scene.params.place_half_s;
    let look = |t: f64| scene.traces[action.role].local(t, half);
    if let Some((e, t)) = event(false).or_else(|| event(true)) {
        let (held, set) = match &e.kind {
            EventKind::Screen { screened, set, .. } => (*screened, Some(*set)),
            _ => (None, None),
        };
        let facing = held.and_then(|d| {
            let track = scene.session.tracks.get(d)?;
            let trace =
                crate::trace::Trace::of(scene.session, track, scene.frame, t - half, t + half);
            trace.local(t, half).map(|l| l.at)
        });
        return Count {
            time_s: t,
            local: look(t),
            how: "at contact".to_owned(),
            facing,
            set,
        };
    }
    let (time_s, how) = match nearest_to_user(scene, action.role, si) {
        Some(t) => (t, "when the two were nearest"),
        None => (to, "at the end of the action"),
    };
    Count {
        time_s,
        local: look(time_s),
        how: how.to_owned(),
        facing: None,
        set: None,
    }
}

/// Arrival at a spot: first within reach, else nearest to it, from the action's start until a
/// second after its end or the next thing the player does.
fn arrival(
    scene: &Scene<'_>,
    step: &StepRun,
    action: &Action,
    target: AttackPoint,
    to: f64,
) -> Count {
    let from = left_at(step, action.from).unwrap_or(to).min(to);
    let next = scene
        .actions()
        .filter(|(_, s, a)| {
            a.role == action.role && (s.from_s, a.from) > (step.from_s, action.from)
        })
        .find_map(|(_, s, a)| left_at(s, a.from));
    let until = (to + 1.0)
        .min(next.map_or(f64::INFINITY, |n| n.max(to) + 0.2))
        .min(scene.possession.to_s);
    let trace = &scene.traces[action.role];
    let dt = 1.0 / scene.session.rate_hz;
    let half = scene.params.place_half_s;
    let mut best: Option<(f64, f64, Local)> = None;
    let n = (((until - from) / dt).max(0.0)) as usize;
    for i in 0..=n {
        let t = from + i as f64 * dt;
        let Some(l) = trace.local(t, half) else {
            continue;
        };
        let d = l.at.distance(target);
        if best.as_ref().is_none_or(|b| d < b.1) {
            best = Some((t, d, l));
        }
    }
    // The nearest approach of a noisy track is too near: nothing is claimed from it while the
    // moment the action should end is unseen.
    let seen = trace.measured_share((to - 0.5).max(from), until, scene.session.rate_hz) > 0.3;
    match best.filter(|_| seen) {
        Some((t, _, l)) => Count {
            time_s: t,
            local: Some(l),
            how: "at the nearest".to_owned(),
            facing: None,
            set: None,
        },
        None => Count {
            time_s: to,
            local: None,
            how: "at the end of the action".to_owned(),
            facing: None,
            set: None,
        },
    }
}

fn at_event(scene: &Scene<'_>, player: usize, action: &Action, about: f64) -> Count {
    let found = scene.nearest_event(about, |k, t| match (k, &action.kind) {
        (EventKind::Pass { from, .. }, ActionKind::Pass { .. })
        | (EventKind::HandOff { from, .. }, ActionKind::HandOff { .. })
            if *from == player =>
        {
            Some(t)
        }
        (EventKind::Shot { player: p, .. }, ActionKind::Shot) if *p == player => Some(t),
        _ => None,
    });
    let (time_s, how) = match found {
        Some((_, t)) => (t, "as the ball left"),
        None => (about, "when the ball should have left"),
    };
    Count {
        time_s,
        local: scene.traces[action.role].local(time_s, scene.params.place_half_s),
        how: how.to_owned(),
        facing: None,
        set: None,
    }
}

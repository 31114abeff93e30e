//! When a cue came: from ball events, or from another player's motion.

use crate::align::left_at;
use crate::cues::{Start, by_the_path, moving};
use crate::scene::Scene;
use crate::words;
use setdrift_court::AttackPoint;
use setdrift_events::model::EventKind;
use setdrift_events::{LOOKS_BACK_S, stand};
use setdrift_playbook::graph::{Action, ActionKind, CueEvent, RoleIx};
use setdrift_recognise::model::StepRun;

/// A moment with its uncertainty.
#[derive(Debug, Clone, PartialEq)]
pub struct Moment {
    /// Session time, seconds.
    pub time_s: f64,
    /// Standard deviation, seconds.
    pub sd_s: f64,
}

/// The moment of a cue, looked for about where the warping path puts it; else why there is none.
///
/// `step` is the index in the run of the step whose action waits for the cue.
pub fn cue_moment(
    scene: &Scene<'_>,
    role: RoleIx,
    event: &CueEvent,
    step: usize,
) -> Result<Moment, String> {
    let player = scene
        .player(role)
        .ok_or_else(|| "the cue names a role without a player".to_owned())?;
    let fallback = scene
        .run
        .steps
        .get(step)
        .map_or(scene.span_s.0, |s| s.from_s);
    let expected = scene.expected(role, event, step).unwrap_or(fallback);
    let named = words::cue(scene.graph, role, event);
    let of_ball = |found: Option<f64>| {
        if scene.session.ball.is_none() && scene.story.events.is_empty() {
            return Err(format!("{named} cannot be seen: the data have no ball"));
        }
        found
            .map(|time_s| Moment {
                time_s,
                sd_s: scene.event_sd(role),
            })
            .ok_or_else(|| {
                format!(
                    "{named} was not seen within {:.1} s of {}",
                    scene.params.event_reach_s,
                    words::clock(expected)
                )
            })
    };
    let nearest = |time: &dyn Fn(&EventKind, f64) -> Option<f64>| {
        scene.nearest_event(expected, time).map(|e| e.1)
    };
    match event {
        CueEvent::Passes => of_ball(nearest(&|k, t| {
            matches!(k, EventKind::Pass { from, .. } if *from == player).then_some(t)
        })),
        CueEvent::Catches => of_ball(
            nearest(&|k, t| match k {
                EventKind::Pass { to, catch_s, .. } if *to == player => Some(*catch_s),
                EventKind::HandOff { to, .. } if *to == player => Some(t),
                _ => None,
            })
            .or_else(|| control(scene, player, expected)),
        ),
        CueEvent::Dribbles => {
            let declared =
                scene.last_action(role, step, |k| matches!(k, ActionKind::Dribble { .. }));
            let began = dribble_start(scene, role, expected, declared);
            began.map_or_else(|| of_ball(None), Ok)
        }
        CueEvent::HandsOff => of_ball(nearest(&|k, t| {
            matches!(k, EventKind::HandOff { from, .. } if *from == player).then_some(t)
        })),
        // What is waited for is the screener's stand; one who never stood counts from contact.
        CueEvent::Screens => nearest(&|k, t| match k {
            EventKind::Screen {
                screener, stood, ..
            } if *screener == player => Some(stood.unwrap_or(t)),
            _ => None,
        })
        .or_else(|| {
            let met = nearest_to_user(scene, role, step)?;
            Some(came_to_a_stand(scene, role, met).unwrap_or(met))
        })
        .map(|time_s| Moment {
            time_s,
            sd_s: scene.stand_sd(role),
        })
        .ok_or_else(|| {
            format!(
                "{named} was not seen within {:.1} s of {}",
                scene.params.event_reach_s,
                words::clock(expected)
            )
        }),
        CueEvent::Reaches { place, name } => {
            reaching(scene, role, *place, expected).ok_or_else(|| {
                format!(
                    "{} did not come within {} of {name} about {}",
                    scene.who(role),
                    words::length(scene.graph.unit, scene.params.reach_m),
                    words::clock(expected)
                )
            })
        }
        CueEvent::Cuts => cutting(scene, role, step, expected),
    }
}

/// Beginning of the spell of control nearest to a time, where it is within reach.
fn control(scene: &Scene<'_>, player: usize, expected: f64) -> Option<f64> {
    scene
        .story
        .spells
        .iter()
        .filter(|s| s.player == player)
        .map(|s| s.from_s)
        .filter(|t| (t - expected).abs() <= scene.params.event_reach_s)
        .min_by(|a, b| (a - expected).abs().total_cmp(&(b - expected).abs()))
}

/// When a role's dribble nearest to a time began: as its event has it, where that is sure, else as the
/// movement declared for it does, looked for about there. A ball on the floor is hard to see in tracks,
/// and who walks with it sets out by turning the declared way.
pub fn dribble_start(
    scene: &Scene<'_>,
    role: RoleIx,
    expected: f64,
    declared: Option<(usize, &StepRun, &Action)>,
) -> Option<Moment> {
    let player = scene.player(role)?;
    let sure = scene.event_sd(role);
    let of = |e: &EventKind| match e {
        EventKind::DribbleStart { player: p, sd_s } if *p == player => Some(*sd_s),
        _ => None,
    };
    let seen = scene
        .nearest_event(expected, |k, t| of(k).map(|_| t))
        .map(|(e, time_s)| Moment {
            time_s,
            sd_s: of(&e.kind).unwrap_or(0.0).max(sure),
        });
    if seen.as_ref().is_some_and(|m| m.sd_s <= sure) {
        return seen;
    }
    let by_way = declared.and_then(|(si, run, action)| {
        let about = seen.clone().unwrap_or_else(|| by_the_path(expected));
        match moving(scene, si, run, action, None, &about) {
            Start::At(m, _) if m.sd_s <= scene.params.worst_sd_s => Some(m),
            Start::At(..) | Start::Never(_) | Start::Unknown(_) => None,
        }
    });
    // Who goes the declared way with the ball in his hands has dribbled.
    let has_ball = |t: f64| {
        let mut spells = scene.story.spells.iter().filter(|s| s.player == player);
        spells.any(|s| (s.from_s..=s.to_s).contains(&t))
    };
    by_way
        .filter(|m| seen.is_some() || has_ball(m.time_s))
        .or(seen)
}

/// When a player first comes within reach of a place about a time, on a track smoothed over
/// half a second, interpolated between frames.
pub fn reaching(
    scene: &Scene<'_>,
    role: RoleIx,
    place: AttackPoint,
    expected: f64,
) -> Option<Moment> {
    let trace = scene.traces.get(role)?;
    let reach = scene.params.reach_m;
    let dt = 1.0 / scene.session.rate_hz;
    let from = expected - scene.params.event_reach_s;
    let n = (2.0 * scene.params.event_reach_s / dt) as usize;
    let half = 0.25_f64.max(1.5 * dt);
    let mut before: Option<(f64, f64)> = None;
    for i in 0..=n {
        let t = from + i as f64 * dt;
        let Some(l) = trace.local(t, half) else {
            before = None;
            continue;
        };
        let d = l.at.distance(place);
        if d <= reach {
            let time_s = match before {
                Some((tb, db)) if db > reach => tb + (t - tb) * (db - reach) / (db - d),
                _ => t,
            };
            // Noise across the edge of the circle, at the speed at which it is crossed.
            let noise = scene.noise[role] * l.place_gain;
            return Some(Moment {
                time_s,
                sd_s: (dt / 2.0).hypot(noise / l.speed().max(0.7)),
            });
        }
        before = Some((t, d));
    }
    None
}

/// When a screener and the user of the screen are nearest, within 2 m, seconds.
pub fn nearest_to_user(scene: &Scene<'_>, role: RoleIx, step: usize) -> Option<f64> {
    let (_, run, action) =
        scene.last_action(role, step, |k| matches!(k, ActionKind::Screen { .. }))?;
    let ActionKind::Screen { user, .. } = action.kind else {
        return None;
    };
    let (a, b) = (scene.traces.get(role)?, scene.traces.get(user)?);
    let from = left_at(run, action.from)?;
    let to = run.to_s.max(from) + 1.0;
    let dt = 1.0 / scene.session.rate_hz;
    let half = 0.25_f64.max(1.5 * dt);
    let n = ((to - from) / dt) as usize;
    let mut best: Option<(f64, f64)> = None;
    for k in 0..=n {
        let t = from + k as f64 * dt;
        let (Some(p), Some(q)) = (a.local(t, half), b.local(t, half)) else {
            continue;
        };
        let d = p.at.distance(q.at);
        if best.is_none_or(|b| d < b.1) {
            best = Some((t, d));
        }
    }
    best.filter(|b| b.1 <= 2.0).map(|b| b.0)
}

/// When a screener came to a stand before somebody was by him, seconds; `None` where he moved.
fn came_to_a_stand(scene: &Scene<'_>, role: RoleIx, met_s: f64) -> Option<f64> {
    let measured: Vec<(f64, [f64; 2])> = scene
        .traces
        .get(role)?
        .between(met_s - LOOKS_BACK_S, met_s + 1.0)
        .iter()
        .filter(|s| s.measured)
        .map(|s| (s.t, [s.x, s.y]))
        .collect();
    let noise = scene.noise[role].powi(2) + scene.colour[role].powi(2);
    stand(&measured, noise, scene.session.rate_hz, met_s)
}

/// The start of another's cut, found as it is found for the cut itself.
fn cutting(scene: &Scene<'_>, role: RoleIx, step: usize, expected: f64) -> Result<Moment, String> {
    let who = scene.who(role);
    let cuts = |k: &ActionKind| matches!(k, ActionKind::Cut { .. } | ActionKind::Leave { .. });
    let (si, run, action) = scene
        .last_action(role, step, cuts)
        .ok_or_else(|| format!("{who} has no movement to go by in this step"))?;
    // A cut that waits for a cut that waits for a cut: the last is found by its own motion alone.
    let cue_s = action
        .cue
        .as_ref()
        .filter(|c| !matches!(c.event, CueEvent::Cuts))
        .and_then(|c| cue_moment(scene, c.role, &c.event, si).ok())
        .map(|m| m.time_s);
    let about = by_the_path(left_at(run, action.from).unwrap_or(expected));
    match moving(scene, si, run, action, cue_s, &about) {
        Start::At(m, _) if m.sd_s > scene.params.worst_sd_s => Err(format!(
            "when {who} moved is not known: {}",
            words::uncertain(m.sd_s)
        )),
        Start::At(m, _) => Ok(m),
        Start::Never(_) => Err(format!(
            "{who} did not move about {}",
            words::clock(expected)
        )),
        Start::Unknown(why) => Err(format!("when {who} moved is not known: {why}")),
    }
}

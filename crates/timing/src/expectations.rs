//! What an option expects over its whole course: spacing, a clear lane, the ball side, touches.

use crate::hull::hull_area;
use crate::model::{Kept, Place, PlacementCheck};
use crate::moments::cue_moment;
use crate::placements::kept;
use crate::region::{named, off_by, zone_distance};
use crate::scene::Scene;
use crate::trace::Trace;
use crate::words;
use setdrift_court::{AttackPoint, Zone};
use setdrift_events::model::EventKind;
use setdrift_playbook::graph::{ActionKind, CueEvent, Expectation, ExpectationKind, RoleIx};
use setdrift_recognise::model::Verdict;

/// How long two players must be too near without a break to count, seconds: shorter is passing
/// by, or noise. Common practice, no published source.
const CROWDED_S: f64 = 0.3;
/// Share of the stretch that must be known, 0..1.
const KNOWN: f64 = 0.7;

/// All expectation checks of a run, in the order declared.
#[must_use]
pub fn expectation_checks(scene: &Scene<'_>) -> Vec<PlacementCheck> {
    let option = &scene.graph.options[scene.run.option];
    let node = scene.run.steps.last().map_or(0, |s| s.node);
    option
        .expect
        .iter()
        .enumerate()
        .map(|(i, e)| {
            let mut check = PlacementCheck {
                place: Place {
                    possession: scene.possession.number,
                    segment: scene.segment,
                    node,
                    action: i,
                },
                player: None,
                role: None,
                text: e.text.clone(),
                time_s: scene.span_s.1,
                at: None,
                off_by: None,
                kept: Kept::CannotTell,
                evidence: String::new(),
            };
            examine(scene, e, &mut check);
            check
        })
        .collect()
}

fn examine(scene: &Scene<'_>, e: &Expectation, check: &mut PlacementCheck) {
    match &e.kind {
        ExpectationKind::Spacing { least, roles } => spacing(scene, *least, roles, check),
        ExpectationKind::Clear { zone, roles, when } => {
            clear(scene, *zone, roles, when.as_ref(), check);
        }
        ExpectationKind::BallSide { least, most } => ball_side(scene, *least, *most, check),
        ExpectationKind::MiddleTouches { least } => middle_touches(scene, *least, check),
        ExpectationKind::Reversals { least } => reversals(scene, *least, check),
        ExpectationKind::Catch { role, placement } => {
            let unit = scene.graph.unit;
            check.role = Some(*role);
            check.player = scene.player(*role);
            let what = named(placement, |m| words::length(unit, m));
            let step = scene.run.steps.len().saturating_sub(1);
            let who = scene.who(*role);
            let Some((time, place)) = catch(scene, *role, step) else {
                no_ball_or(
                    scene,
                    check,
                    format!("{who} did not catch the ball in this run"),
                );
                return;
            };
            check.time_s = time;
            check.at = Some(place);
            match off_by(placement, &scene.session.court, place) {
                Some(off) => {
                    let margin = scene.noise.get(*role).copied().unwrap_or(0.0) * 0.5;
                    check.off_by = Some(off);
                    check.kept = kept(off, margin);
                    let by = words::length(unit, off.abs());
                    check.evidence = if off > 0.0 {
                        format!(
                            "{who} caught {by} from being {what} ({})",
                            words::clock(time)
                        )
                    } else {
                        format!("{who} caught {what} by {by} ({})", words::clock(time))
                    };
                }
                None => {
                    check.evidence =
                        "which way a player faces at the catch is not in the data".to_owned();
                }
            }
        }
    }
}

/// Whether the run came to its end, so that counts over it are final.
fn finished(scene: &Scene<'_>) -> bool {
    !matches!(scene.run.verdict, Verdict::BrokenOff { .. })
}

fn no_ball_or(scene: &Scene<'_>, check: &mut PlacementCheck, fault: String) {
    if scene.session.ball.is_none() {
        "the data have no ball".clone_into(&mut check.evidence);
    } else if finished(scene) {
        check.kept = Kept::No;
        check.evidence = fault;
    } else {
        check.evidence = format!("{fault}; the run was broken off");
    }
}

/// Moments over the run, ten a second.
fn moments(scene: &Scene<'_>) -> impl Iterator<Item = f64> {
    let (from, to) = scene.span_s;
    let n = ((to - from) * 10.0).floor().max(0.0) as usize;
    (0..=n).map(move |i| from + i as f64 / 10.0)
}

fn spacing(scene: &Scene<'_>, least: f64, roles: &[RoleIx], check: &mut PlacementCheck) {
    let unit = scene.graph.unit;
    let half = 0.2_f64.max(1.5 / scene.session.rate_hz);
    let mut nearest: Vec<(f64, f64, usize, usize)> = Vec::new();
    let mut areas: Vec<f64> = Vec::new();
    let mut all = 0_usize;
    for t in moments(scene) {
        all += 1;
        let at: Vec<(usize, Option<AttackPoint>)> = roles
            .iter()
            .map(|r| {
                let l = scene.traces.get(*r).and_then(|tr| tr.local(t, half));
                (*r, l.map(|l| l.at))
            })
            .collect();
        let mut best: Option<(f64, usize, usize)> = None;
        for (i, (a, pa)) in at.iter().enumerate() {
            for (b, pb) in &at[i + 1..] {
                let (Some(pa), Some(pb)) = (pa, pb) else {
                    continue;
                };
                let d = pa.distance(*pb);
                if best.is_none_or(|x| d < x.0) {
                    best = Some((d, *a, *b));
                }
            }
        }
        if at.iter().all(|a| a.1.is_some()) {
            if let Some((d, a, b)) = best {
                nearest.push((t, d, a, b));
            }
            let five: Vec<(f64, f64)> = scene
                .traces
                .iter()
                .filter_map(|tr| tr.local(t, half))
                .map(|l| (l.at.x, l.at.y))
                .collect();
            if five.len() == scene.traces.len() {
                areas.push(hull_area(&five));
            }
        }
    }
    if all == 0 || (nearest.len() as f64) < KNOWN * all as f64 {
        check.evidence = format!(
            "all of the players are known together in only {:.0} % of the run",
            100.0 * nearest.len() as f64 / all.max(1) as f64
        );
        return;
    }
    // Two noisy places, each averaged over the half-window.
    let noise = roles
        .iter()
        .filter_map(|r| scene.noise.get(*r))
        .fold(0.0_f64, |a, b| a.max(*b));
    let margin = std::f64::consts::SQRT_2 * noise / (2.0 * half * scene.session.rate_hz).sqrt();
    let mut longest = 0.0_f64;
    let mut run_from: Option<f64> = None;
    let mut worst = nearest[0];
    for n in &nearest {
        if n.1 < worst.1 {
            worst = *n;
        }
        if n.1 < least - margin {
            let from = *run_from.get_or_insert(n.0);
            longest = longest.max(n.0 - from + 0.1);
        } else {
            run_from = None;
        }
    }
    let under = nearest.iter().filter(|n| n.1 < least).count() as f64 / nearest.len() as f64;
    let mut sorted: Vec<f64> = nearest.iter().map(|n| n.1).collect();
    sorted.sort_by(f64::total_cmp);
    let median = sorted[sorted.len() / 2];
    check.time_s = worst.0;
    check.off_by = Some(least - worst.1);
    check.kept = if longest >= CROWDED_S {
        Kept::No
    } else {
        Kept::Yes
    };
    check.evidence = format!(
        "nearest {} at {}, between {} and {}; median {}, under {} for {:.0} % of the run",
        words::length(unit, worst.1),
        words::clock(worst.0),
        scene.who(worst.2),
        scene.who(worst.3),
        words::length(unit, median),
        words::length(unit, least),
        100.0 * under
    );
    if !areas.is_empty() {
        let scale = unit.in_metres() * unit.in_metres();
        let mean = areas.iter().sum::<f64>() / areas.len() as f64;
        check.evidence.push_str(&format!(
            "; the five span {:.0} square {unit} on average",
            mean / scale
        ));
    }
}

fn clear(
    scene: &Scene<'_>,
    zone: Zone,
    roles: &[RoleIx],
    when: Option<&(RoleIx, CueEvent)>,
    check: &mut PlacementCheck,
) {
    let unit = scene.graph.unit;
    let step = scene.run.steps.len().saturating_sub(1);
    let (time, at_what) = match when {
        Some((role, event)) => match cue_moment(scene, *role, event, step) {
            Ok(m) => (m.time_s, words::cue(scene.graph, *role, event)),
            Err(why) => {
                check.evidence = why;
                return;
            }
        },
        None if finished(scene) => (scene.span_s.1, "the end".to_owned()),
        None => {
            "the run was broken off before its end".clone_into(&mut check.evidence);
            return;
        }
    };
    check.time_s = time;
    let half = scene.params.place_half_s;
    let mut worst: Option<(f64, RoleIx, AttackPoint, f64)> = None;
    for r in roles {
        let Some(l) = scene.traces.get(*r).and_then(|t| t.local(time, half)) else {
            check.evidence = format!(
                "where {} was at {} is not known",
                scene.who(*r),
                words::clock(time)
            );
            return;
        };
        let inside = -zone_distance(zone, &scene.session.court, l.at);
        if worst.is_none_or(|w| inside > w.0) {
            worst = Some((inside, *r, l.at, l.place_gain * scene.noise[*r]));
        }
    }
    let Some((inside, role, at, margin)) = worst else {
        "no role is named".clone_into(&mut check.evidence);
        return;
    };
    check.role = Some(role);
    check.player = scene.player(role);
    check.at = Some(at);
    check.off_by = Some(inside);
    check.kept = kept(inside, margin);
    let by = words::length(unit, inside.abs());
    check.evidence = if inside > 0.0 {
        format!(
            "{} was {by} inside the {zone} at {at_what} ({})",
            scene.who(role),
            words::clock(time)
        )
    } else {
        format!(
            "the {zone} was clear at {at_what} ({}); {} was nearest, {by} off",
            words::clock(time),
            scene.who(role)
        )
    };
}

fn ball_trace(scene: &Scene<'_>, from: f64, to: f64) -> Option<Trace> {
    let ball = scene.session.ball.as_ref()?;
    Some(Trace::of(scene.session, ball, scene.frame, from, to))
}

fn ball_side(scene: &Scene<'_>, least: usize, most: usize, check: &mut PlacementCheck) {
    if !finished(scene) {
        "the run was broken off before its end".clone_into(&mut check.evidence);
        return;
    }
    let t = scene.span_s.1;
    let half = scene.params.place_half_s;
    let Some(ball) = ball_trace(scene, t - half, t + half).and_then(|b| b.local(t, half)) else {
        check.evidence = format!("where the ball was at {} is not known", words::clock(t));
        return;
    };
    let side = ball.at.y.signum();
    let (mut sure, mut maybe) = (0, 0);
    for (r, trace) in scene.traces.iter().enumerate() {
        let Some(l) = trace.local(t, half) else {
            check.evidence = format!(
                "where {} was at {} is not known",
                scene.who(r),
                words::clock(t)
            );
            return;
        };
        let margin = l.place_gain * scene.noise[r];
        if l.at.y * side > margin {
            sure += 1;
        } else if l.at.y * side >= -margin {
            maybe += 1;
        }
    }
    // Who stands on the middle line within the measuring error may count for either side.
    let (low, high) = (sure, sure + maybe);
    let off = if high < least {
        least - high
    } else {
        low.saturating_sub(most)
    };
    check.off_by = Some(off as f64);
    check.kept = if off == 0 { Kept::Yes } else { Kept::No };
    check.evidence = format!(
        "{} on the ball's side at {}, {least} to {most} expected",
        if maybe == 0 {
            format!("{sure}")
        } else {
            format!("{low} to {high}")
        },
        words::clock(t)
    );
}

/// Catches of the run's own players, with place as declared.
fn catches<'a>(scene: &'a Scene<'_>) -> impl Iterator<Item = (f64, usize, AttackPoint)> + 'a {
    let (from, to) = (scene.span_s.0 - 0.3, scene.span_s.1 + 0.3);
    scene.story.events.iter().filter_map(move |e| {
        let (t, who, place) = match &e.kind {
            EventKind::Pass {
                to,
                catch_s,
                catch_place,
                ..
            } => (*catch_s, *to, *catch_place),
            EventKind::HandOff { to, .. } => (e.time_s, *to, e.place),
            _ => return None,
        };
        (t >= from && t <= to && scene.run.players.contains(&Some(who)))
            .then(|| (t, who, scene.frame.declared(place)))
    })
}

fn catch(scene: &Scene<'_>, role: RoleIx, step: usize) -> Option<(f64, AttackPoint)> {
    let player = scene.player(role)?;
    let declared = scene.actions().any(|(_, _, a)| {
        matches!(a.kind, ActionKind::Pass { to, .. } | ActionKind::HandOff { to } if to == role)
    });
    let about = declared
        .then(|| scene.expected(role, &CueEvent::Catches, step))
        .flatten()
        .unwrap_or(scene.span_s.0);
    catches(scene)
        .filter(|c| c.1 == player)
        .min_by(|a, b| (a.0 - about).abs().total_cmp(&(b.0 - about).abs()))
        .map(|c| (c.0, c.2))
}

fn middle_touches(scene: &Scene<'_>, least: usize, check: &mut PlacementCheck) {
    let n = catches(scene)
        .filter(|c| Zone::Middle.contains(&scene.session.court, c.2))
        .count();
    count(scene, n, least, "catches in the middle", check);
}

fn count(scene: &Scene<'_>, n: usize, least: usize, what: &str, check: &mut PlacementCheck) {
    let words = format!("{n} {what}, at least {least} expected");
    if n >= least {
        check.off_by = Some(0.0);
        check.kept = Kept::Yes;
        check.evidence = words;
    } else {
        no_ball_or(scene, check, words);
        if check.kept == Kept::No {
            check.off_by = Some((least - n) as f64);
        }
    }
}

fn reversals(scene: &Scene<'_>, least: usize, check: &mut PlacementCheck) {
    let (from, to) = scene.span_s;
    let Some(ball) = ball_trace(scene, from, to) else {
        "the data have no ball".clone_into(&mut check.evidence);
        return;
    };
    let share = ball.samples.len() as f64 / ((to - from) * scene.session.rate_hz + 1.0);
    if share < KNOWN {
        check.evidence = format!(
            "the ball is known in only {:.0} % of the run",
            100.0 * share
        );
        return;
    }
    // A side begins where the lane ends: a ball that dips into the middle has not changed sides.
    let edge = scene.session.court.measures().lane_width / 2.0;
    let mut side = 0.0;
    let mut n = 0;
    for s in &ball.samples {
        if s.y.abs() > edge && s.y.signum() != side {
            if side != 0.0 {
                n += 1;
            }
            side = s.y.signum();
        }
    }
    count(scene, n, least, "side-to-side reversals", check);
}

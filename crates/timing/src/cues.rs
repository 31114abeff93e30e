//! Every cue of a run: when it came, when the player went, and what that makes.

use crate::align::{declared, left_at, reached_at};
use crate::going::{Going, Question, going};
use crate::habits::{Answer, Weighed};
use crate::model::{CueCheck, Place, When};
use crate::moments::{Moment, cue_moment, dribble_start};
use crate::onset::Onset;
use crate::params::Params;
use crate::scene::{Asked, Scene};
use crate::when::{Density, Expected, judge};
use crate::words;
use setdrift_events::model::EventKind;
use setdrift_playbook::graph::{Action, ActionKind, Cue, CutKind};
use setdrift_recognise::model::{StepRun, Verdict};

/// A jab is reported when it is likelier than this, and leads so far, metres. A jab is one step,
/// and the body follows the foot by half of it; common practice, no published source.
const JAB_PROBABILITY: f64 = 0.5;
const JAB_WAY: (f64, f64) = (0.06, 1.5);

/// A start is seen by what comes after it, for so long, seconds.
const UNDER_WAY_S: f64 = 1.0;
/// What the track alone must make of a verdict, whatever the others show, where the start itself is
/// uncertain.
const TOLD: f64 = 0.5;
/// Less than this is not worth a figure, metres: half a foot.
const SETS_OUT_M: f64 = 0.15;
/// Standard deviation of a start about the moment the warping path gives, seconds.
const PATH_S: f64 = 0.25;

/// A check before the session's other checks have been heard.
pub struct Heard {
    /// The check; without a verdict where there is an answer.
    pub check: CueCheck,
    /// The start that was seen, and how to speak of it.
    pub answer: Option<(Answer, Said)>,
}

/// All cue checks of a run, in the order of its steps and actions.
#[must_use]
pub fn cue_checks(scene: &Scene<'_>) -> Vec<Heard> {
    let mut out = Vec::new();
    for (si, step) in scene.run.steps.iter().enumerate() {
        for (ai, action) in scene.node(step).actions.iter().enumerate() {
            let (Some(cue), Some(player)) = (&action.cue, scene.player(action.role)) else {
                continue;
            };
            let place = Place {
                possession: scene.possession.number,
                segment: scene.segment,
                node: step.node,
                action: ai,
            };
            let check = CueCheck {
                place,
                player,
                role: action.role,
                text: action.text.clone(),
                cue_s: None,
                onset_s: None,
                lag_s: None,
                uncertainty_s: None,
                window_s: (cue.from_s, cue.to_s),
                when: When::CannotTell,
                jab_s: None,
                evidence: String::new(),
            };
            let mut heard = Heard {
                check,
                answer: None,
            };
            examine(scene, si, step, action, cue, &mut heard);
            out.push(heard);
        }
    }
    out
}

impl Heard {
    /// The check, with the answer as the session's other checks have it weighed.
    pub fn concluded(self, weighed: Option<&Weighed>, params: &Params) -> CueCheck {
        let mut check = self.check;
        let (Some((a, said)), Some(w)) = (self.answer, weighed) else {
            return check;
        };
        let alone = a.start.moments().1;
        if alone > params.worst_sd_s
            && judge(&w.alone, check.window_s, (TOLD, TOLD)) == When::CannotTell
        {
            check.evidence = format!(
                "when {} left is not known: {}",
                said.who,
                words::uncertain(alone)
            );
            return check;
        }
        let (time_s, own_sd) = w.start.moments();
        let sd = own_sd.hypot(a.cue_sd_s);
        check.onset_s = Some(time_s);
        check.lag_s = Some(time_s - a.cue_s);
        check.uncertainty_s = Some(sd);
        check.when = judge(&w.lag, check.window_s, (params.sure, params.least_sure));
        check.evidence = format!(
            "{} left {} {}, ± {sd:.2} s; window {:.2} to {:.2} s{}",
            said.who,
            words::lag(time_s - a.cue_s),
            said.cue,
            check.window_s.0,
            check.window_s.1,
            said.peak,
        );
        if let Some(j) = check.jab_s {
            check.evidence.push_str(&format!(
                "; a jab away first, {:.2} s before the cut",
                time_s - j
            ));
        }
        if check.when == When::CannotTell {
            check
                .evidence
                .push_str("; the window is narrower than what the data resolve");
        }
        check
    }
}

/// What the evidence of an answer is made of.
pub struct Said {
    who: String,
    cue: String,
    peak: String,
}

/// What became of the mover, whichever kind of action it is.
#[derive(Debug, Clone)]
pub enum Start {
    At(Moment, Option<Onset>),
    Never(f64),
    Unknown(String),
}

fn examine(
    scene: &Scene<'_>,
    si: usize,
    step: &StepRun,
    action: &Action,
    cue: &Cue,
    heard: &mut Heard,
) {
    let check = &mut heard.check;
    let cue_named = words::cue(scene.graph, cue.role, &cue.event);
    let moment = cue_moment(scene, cue.role, &cue.event, si);
    check.cue_s = moment.as_ref().ok().map(|m| m.time_s);
    let about = left_at(step, action.from).unwrap_or(step.to_s);
    let start = start_of(scene, si, step, action, check.cue_s, about);
    let who = scene.who(action.role);
    if let Start::At(m, onset) = &start
        && m.sd_s <= scene.params.worst_sd_s
    {
        check.onset_s = Some(m.time_s);
        check.jab_s = onset.as_ref().and_then(jab);
    }
    let cue_moment = match moment {
        Ok(m) => m,
        Err(why) => {
            check.evidence = match check.onset_s {
                Some(t) => format!("{who} left at {}, but {why}", words::clock(t)),
                None => why,
            };
            return;
        }
    };
    match start {
        Start::At(m, onset) => {
            let said = Said {
                who,
                cue: format!("{cue_named} ({})", words::clock(cue_moment.time_s)),
                peak: onset.as_ref().map_or_else(String::new, |o| {
                    let speed = words::length(scene.graph.unit, o.peak_speed);
                    format!("; went {speed}/s at the fastest")
                }),
            };
            let window_s = (cue_moment.time_s + cue.from_s, cue_moment.time_s + cue.to_s);
            let (start, expected, cue_sd_s) = match onset {
                Some(o) => {
                    let expected = expected(scene.params, Some(cue_moment.time_s), window_s);
                    (o.density, Some(expected), cue_moment.sd_s)
                }
                None => (Density::at(m.time_s), None, m.sd_s.hypot(cue_moment.sd_s)),
            };
            let answer = Answer {
                start,
                expected,
                cue_s: cue_moment.time_s,
                cue_sd_s,
                window_s: check.window_s,
                of: (check.place.node, check.place.action),
            };
            heard.answer = Some((answer, said));
        }
        Start::Never(farthest) => {
            let seen = last_seen(scene) - (cue_moment.time_s + cue.to_s);
            if seen < 0.8 {
                check.evidence = format!(
                    "{who} had not left when {} ended, {:.1} s after the window closed",
                    "the possession",
                    seen.max(0.0)
                );
            } else {
                check.when = When::Never;
                // What brought the player to the start does not count; nothing else may be left.
                let way = if farthest < SETS_OUT_M {
                    "no start that way was seen".to_owned()
                } else {
                    let way = words::length(scene.graph.unit, farthest);
                    format!("no more than {way} that way")
                };
                check.evidence = format!(
                    "{who} did not go within {:.1} s of {cue_named} ({}): {way}",
                    seen.min(scene.params.wait_s) + cue.to_s,
                    words::clock(cue_moment.time_s),
                );
            }
        }
        Start::Unknown(why) => {
            check.evidence = format!("when {who} left is not known: {why}");
        }
    }
}

/// Until when this run could still have been carried on.
fn last_seen(scene: &Scene<'_>) -> f64 {
    match scene.run.verdict {
        // Broken off: what comes after is another thing, or the end.
        Verdict::BrokenOff { .. } => scene
            .span_s
            .1
            .max(scene.run.steps.last().map_or(scene.span_s.1, |s| s.to_s)),
        Verdict::Ran | Verdict::RanWithFaults => scene.possession.to_s,
    }
}

fn start_of(
    scene: &Scene<'_>,
    si: usize,
    step: &StepRun,
    action: &Action,
    cue_s: Option<f64>,
    about: f64,
) -> Start {
    let Some(player) = scene.player(action.role) else {
        return Start::Unknown("the role has no player".to_owned());
    };
    let ball = |time: &dyn Fn(&EventKind, f64) -> Option<f64>, what: &str| match scene
        .nearest_event(about, time)
    {
        Some((_, t)) => Start::At(
            Moment {
                time_s: t,
                sd_s: scene.event_sd(action.role),
            },
            None,
        ),
        None => Start::Unknown(format!("no {what} was seen about {}", words::clock(about))),
    };
    match &action.kind {
        ActionKind::Pass { .. } => ball(
            &|k, t| matches!(k, EventKind::Pass { from, .. } if *from == player).then_some(t),
            "pass",
        ),
        ActionKind::HandOff { .. } => ball(
            &|k, t| matches!(k, EventKind::HandOff { from, .. } if *from == player).then_some(t),
            "hand-off",
        ),
        ActionKind::Shot => ball(
            &|k, t| matches!(k, EventKind::Shot { player: p, .. } if *p == player).then_some(t),
            "shot",
        ),
        ActionKind::Hold => Start::Unknown("holding has no start".to_owned()),
        ActionKind::Dribble { .. } => {
            match dribble_start(scene, action.role, about, Some((si, step, action))) {
                Some(m) => Start::At(m, None),
                None => moving(scene, si, step, action, cue_s, &by_the_path(about)),
            }
        }
        ActionKind::Cut { .. }
        | ActionKind::Screen { .. }
        | ActionKind::Leave { .. }
        | ActionKind::Post { .. } => moving(scene, si, step, action, cue_s, &by_the_path(about)),
    }
}

/// When the warping path says that something began.
pub fn by_the_path(time_s: f64) -> Moment {
    Moment {
        time_s,
        sd_s: PATH_S,
    }
}

/// The start of a movement that is to begin at a cue, or without one `about` a moment.
///
/// Several checks may wait for one cue, and the cut that is a cue has a check of its own: each is
/// fitted once.
pub fn moving(
    scene: &Scene<'_>,
    si: usize,
    step: &StepRun,
    action: &Action,
    cue_s: Option<f64>,
    about: &Moment,
) -> Start {
    let asked = Asked {
        step: si,
        action: std::ptr::from_ref(action),
        cue: cue_s.map(f64::to_bits),
        about: (about.time_s.to_bits(), about.sd_s.to_bits()),
    };
    scene.once(asked, || fitted(scene, si, step, action, cue_s, about))
}

fn fitted(
    scene: &Scene<'_>,
    si: usize,
    step: &StepRun,
    action: &Action,
    cue_s: Option<f64>,
    about: &Moment,
) -> Start {
    let p = scene.params;
    let (about, within) = (about.time_s, 2.0 * about.sd_s);
    let Some(way) = declared(&scene.node(step).motion, action) else {
        return Start::Unknown("the declared motion does not hold this action".to_owned());
    };
    let toward = match way.toward {
        Some(t) if way.way_m >= p.least_way_m => t,
        _ => {
            return Start::Unknown(format!(
                "the declared way of {} is too short to tell from shuffling",
                words::length(scene.graph.unit, way.way_m)
            ));
        }
    };
    let window = action
        .cue
        .as_ref()
        .map_or((0.0, 0.0), |c| (c.from_s, c.to_s));
    let anchor = cue_s.unwrap_or(about);
    let (mut from, mut to) = (
        (anchor + window.0).min(about) - p.before_s,
        (anchor + window.1).max(about) + p.wait_s + UNDER_WAY_S,
    );
    // What the same player was to do before and after is not this action.
    let (before, after) = neighbours(scene, si, action);
    if let Some(b) = before {
        from = from.max((b - 0.5).min(about - 0.3));
    }
    if let Some(a) = after {
        to = to.min((a + 0.5).max(about + 1.0));
    }
    let size = way.from.distance(way.to).max(1e-9);
    let straight = (
        (way.to.x - way.from.x) / size,
        (way.to.y - way.from.y) / size,
    );
    let back_cut = matches!(
        action.kind,
        ActionKind::Cut {
            kind: CutKind::BackCut,
            ..
        }
    );
    let q = Question {
        toward,
        straight: if size < p.least_way_m {
            toward
        } else {
            straight
        },
        way_m: way.way_m,
        ends: (way.from, way.to),
        expected: match cue_s {
            Some(at) => expected(p, cue_s, (at + window.0, at + window.1)),
            None => expected(p, None, (about - within, about + within)),
        },
        jab_share: if back_cut {
            p.prior.jab_share.0
        } else {
            p.prior.jab_share.1
        },
        from_s: from.max(scene.possession.from_s),
        to_s: to.min(scene.possession.to_s),
        rate_hz: scene.session.rate_hz,
        noise_m: scene.noise[action.role],
        colour_m: scene.colour[action.role],
    };
    match going(&scene.traces[action.role], &q, p) {
        Going::Went(o) => Start::At(
            Moment {
                time_s: o.time_s,
                sd_s: o.sd_s,
            },
            Some(o),
        ),
        Going::Stayed(f) => Start::Never(f),
        Going::Unknown(why) => Start::Unknown(why),
    }
}

/// What is believed of a start before the track is seen.
fn expected(params: &Params, cue_s: Option<f64>, window_s: (f64, f64)) -> Expected {
    Expected {
        window_s,
        cue_s,
        inside: params.answered,
        thins_s: params.thins_s,
    }
}

/// When the role's action before this one should have ended, and its next one begun.
fn neighbours(scene: &Scene<'_>, si: usize, action: &Action) -> (Option<f64>, Option<f64>) {
    let (mut before, mut after) = (None, None);
    let mut passed = false;
    for (i, step, a) in scene.actions() {
        if i == si && std::ptr::eq(a, action) {
            passed = true;
            continue;
        }
        let moves = !matches!(
            a.kind,
            ActionKind::Hold | ActionKind::Pass { .. } | ActionKind::Shot
        );
        if a.role != action.role || !moves {
            continue;
        }
        if !passed {
            before = reached_at(step, a.to).or(before);
        } else if after.is_none() {
            after = left_at(step, a.from);
        }
    }
    (before, after)
}

/// When a jab away began, where there was one.
fn jab(o: &Onset) -> Option<f64> {
    o.jab
        .filter(|j| j.probability >= JAB_PROBABILITY && (JAB_WAY.0..=JAB_WAY.1).contains(&j.way))
        .map(|j| j.from_s)
}

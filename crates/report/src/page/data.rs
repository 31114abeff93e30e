//! What the script of the page needs to replay: tracks at 10 Hz, segments, marks, references.

use super::codec::{Packer, deltas};
use crate::words;
use serde::Serialize;
use setdrift_court::{AttackPoint, Court, End};
use setdrift_events::model::{EventKind, Possession};
use setdrift_playbook::graph::Graph;
use setdrift_recognise::model::{Hand, Reading, Run, Segment, What};
use setdrift_season::results::{Results, SessionResults};
use setdrift_season::tally::Sort;
use setdrift_timing::model::When;
use setdrift_tracks::{Known, Session, Track};
use std::collections::BTreeMap;

/// Frames per second of the replay.
pub const REPLAY_HZ: f64 = 10.0;

/// Shown before and after a possession, seconds.
const AROUND_S: f64 = 1.0;

#[derive(Serialize)]
struct Data<'a> {
    /// Metres in one unit, and its name.
    unit: (f64, String),
    /// Length of the attacked half and width, metres.
    floor: (f64, f64),
    roles: &'a [String],
    options: Vec<&'a str>,
    nodes: Vec<NodeData>,
    sessions: Vec<SessionData>,
    possessions: Vec<PossessionData>,
}

#[derive(Serialize)]
struct NodeData {
    option: usize,
    step: usize,
    /// Frames of the reference.
    n: usize,
    /// Tolerances per role, centimetres.
    tol: Vec<i32>,
    /// Roles one after another, then the ball.
    motion: String,
    /// What is done, by frame: from, to, words.
    does: Vec<(usize, usize, String)>,
}

#[derive(Serialize)]
struct SessionData {
    name: String,
    /// Name for people and shirt number per player.
    players: Vec<(String, String)>,
    /// Index among all players of the page, for the filter.
    person: Vec<usize>,
}

#[derive(Serialize)]
struct PossessionData {
    /// Session index and number in it.
    s: usize,
    n: usize,
    from: f64,
    to: f64,
    /// Time of the first replay frame, and number of frames.
    t0: f64,
    frames: usize,
    attack: Vec<usize>,
    defend: Vec<usize>,
    ball: bool,
    tracks: String,
    segments: Vec<SegmentData>,
    marks: Vec<Mark>,
    /// How sure the least sure verdict is, and how many faults; for sorting.
    sure: f64,
    faults: usize,
}

#[derive(Serialize)]
struct SegmentData {
    kind: &'static str,
    from: f64,
    to: f64,
    label: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    run: Option<RunData>,
}

#[derive(Serialize)]
struct RunData {
    option: usize,
    left: bool,
    /// Player per role; null where nobody was left for it.
    players: Vec<Option<usize>>,
    steps: Vec<StepData>,
}

#[derive(Serialize)]
struct StepData {
    node: usize,
    from: f64,
    to: f64,
    /// First replay frame, and the reference frame at each from there on.
    first: usize,
    count: usize,
    warp: String,
}

/// Something that happened at a moment.
#[derive(Serialize)]
struct Mark {
    t: f64,
    kind: &'static str,
    text: String,
}

/// The data as JSON, not yet safe inside a script element.
pub fn json(results: &Results) -> String {
    let names = words::session_names(results);
    let mut people: BTreeMap<&str, usize> = BTreeMap::new();
    for s in &results.sessions {
        for p in &s.session.players {
            let next = people.len();
            people.entry(&p.id).or_insert(next);
        }
    }
    let graph = &results.graph;
    let m = graph.court.measures();
    let data = Data {
        unit: (graph.unit.in_metres(), graph.unit.to_string()),
        floor: (m.length / 2.0, m.width),
        roles: &graph.roles,
        options: graph.options.iter().map(|o| o.title.as_str()).collect(),
        nodes: (0..graph.nodes.len()).map(|n| node(graph, n)).collect(),
        sessions: results
            .sessions
            .iter()
            .zip(&names)
            .map(|(s, name)| SessionData {
                name: name.clone(),
                players: s
                    .session
                    .players
                    .iter()
                    .map(|p| (p.label(), p.number.clone().unwrap_or_default()))
                    .collect(),
                person: s
                    .session
                    .players
                    .iter()
                    .map(|p| people.get(p.id.as_str()).copied().unwrap_or_default())
                    .collect(),
            })
            .collect(),
        possessions: results
            .sessions
            .iter()
            .enumerate()
            .flat_map(|(i, s)| {
                s.possessions
                    .iter()
                    .zip(&s.readings)
                    .map(move |(p, r)| possession(graph, i, s, p, r))
            })
            .collect(),
    };
    // Plain structs of strings and numbers: serialising them cannot fail.
    serde_json::to_string(&data).unwrap_or_default()
}

fn node(graph: &Graph, index: usize) -> NodeData {
    let node = &graph.nodes[index];
    let mut pack = Packer::default();
    for row in node.motion.roles.iter().chain([&node.motion.ball]) {
        deltas(&mut pack, row.iter().map(|p| (p.x, p.y)));
    }
    NodeData {
        option: node.option,
        step: node.step,
        n: node.motion.frames(),
        tol: node
            .motion
            .tolerance
            .iter()
            .map(|t| super::codec::centimetres(*t))
            .collect(),
        motion: pack.text(),
        does: node
            .actions
            .iter()
            .map(|a| (a.from, a.to, a.text.clone()))
            .collect(),
    }
}

fn possession(
    graph: &Graph,
    index: usize,
    s: &SessionResults,
    p: &Possession,
    reading: &Reading,
) -> PossessionData {
    let session = &s.session;
    let last = session.time(session.frames() - 1);
    let t0 = (p.from_s - AROUND_S).max(session.start_s);
    let t1 = (p.to_s + AROUND_S).min(last).max(t0);
    let frames = ((t1 - t0) * REPLAY_HZ).floor() as usize + 1;
    let times: Vec<f64> = (0..frames).map(|f| t0 + f as f64 / REPLAY_HZ).collect();
    let mut pack = Packer::default();
    let players = p.attackers.iter().chain(&p.defenders);
    let tracks = players.filter_map(|i| session.tracks.get(*i));
    for track in tracks.chain(session.ball.as_ref()) {
        track_into(&mut pack, session, &session.court, p.end, track, &times);
    }
    let known = |list: &[usize]| -> Vec<usize> {
        list.iter()
            .copied()
            .filter(|i| *i < session.tracks.len())
            .collect()
    };
    let runs = || {
        reading
            .segments
            .iter()
            .filter_map(|seg| setdrift_season::tally::run_of(seg))
    };
    PossessionData {
        s: index,
        n: p.number,
        from: round(p.from_s),
        to: round(p.to_s),
        t0: round(t0),
        frames,
        attack: known(&p.attackers),
        defend: known(&p.defenders),
        ball: session.ball.is_some(),
        tracks: pack.text(),
        segments: reading
            .segments
            .iter()
            .map(|seg| segment(graph, seg, t0, frames))
            .collect(),
        marks: marks(graph, s, p, reading),
        sure: round(runs().map(|r| r.confidence).fold(1.0, f64::min)),
        faults: runs().map(|r| r.faults.len()).sum(),
    }
}

/// Knowledge as run lengths, then centimetre deltas of the known frames.
fn track_into(
    pack: &mut Packer,
    session: &Session,
    court: &Court,
    end: End,
    track: &Track,
    times: &[f64],
) {
    let samples: Vec<(Known, AttackPoint)> = times
        .iter()
        .map(|t| sample(session, court, end, track, *t))
        .collect();
    let mut runs: Vec<(Known, u32)> = Vec::new();
    for (known, _) in &samples {
        match runs.last_mut() {
            Some((k, n)) if k == known => *n += 1,
            _ => runs.push((*known, 1)),
        }
    }
    pack.unsigned(runs.len() as u32);
    for (known, n) in runs {
        pack.unsigned(n * 3 + known as u32);
    }
    deltas(
        pack,
        samples
            .iter()
            .filter(|(k, _)| *k != Known::Unknown)
            .map(|(_, p)| (p.x, p.y)),
    );
}

/// Position at a time: between two known frames on a line, else the nearer one if known.
fn sample(
    session: &Session,
    court: &Court,
    end: End,
    track: &Track,
    time: f64,
) -> (Known, AttackPoint) {
    let exact = ((time - session.start_s) * session.rate_hz).max(0.0);
    let (a, share) = (exact.floor() as usize, exact.fract());
    let near = if share < 0.5 { a } else { a + 1 };
    let known = |f: usize| track.known.get(f).copied().unwrap_or(Known::Unknown);
    let attack = |p: setdrift_court::CourtPoint| p.to_attack(court, end);
    match (track.at(a), track.at(a + 1)) {
        (Some(p), Some(q)) if share > 1e-6 => (known(near), attack(p).lerp(attack(q), share)),
        _ => match track.at(near) {
            Some(p) => (known(near), attack(p)),
            None => (Known::Unknown, AttackPoint::default()),
        },
    }
}

fn segment(graph: &Graph, seg: &Segment, t0: f64, frames: usize) -> SegmentData {
    SegmentData {
        kind: Sort::of(&seg.what).key(),
        from: round(seg.from_s),
        to: round(seg.to_s),
        label: label(graph, seg),
        run: match &seg.what {
            What::Option(run) => Some(run_data(run, t0, frames)),
            _ => None,
        },
    }
}

/// What to call a segment in one line.
pub fn label(graph: &Graph, seg: &Segment) -> String {
    match &seg.what {
        What::Option(run) => graph
            .options
            .get(run.option)
            .map_or_else(|| "option".to_owned(), |o| o.title.clone()),
        What::Set { formation } => format!("set: {formation}"),
        What::OffScript => "off script".to_owned(),
        What::NotEnoughData { .. } => "not enough data".to_owned(),
    }
}

fn run_data(run: &Run, t0: f64, frames: usize) -> RunData {
    RunData {
        option: run.option,
        left: run.hand == Hand::Left,
        players: run.players.clone(),
        steps: run
            .steps
            .iter()
            .map(|step| {
                let at = |t: f64| ((t - t0) * REPLAY_HZ).round().max(0.0) as usize;
                let first = at(step.from_s).min(frames.saturating_sub(1));
                let last = at(step.to_s).clamp(first, frames.saturating_sub(1));
                let mut pack = Packer::default();
                let mut before = 0;
                let count = if step.path.is_empty() {
                    0
                } else {
                    last - first + 1
                };
                for f in first..first + count {
                    let frame = warped(&step.path, t0 + f as f64 / REPLAY_HZ);
                    pack.signed(frame - before);
                    before = frame;
                }
                StepData {
                    node: step.node,
                    from: round(step.from_s),
                    to: round(step.to_s),
                    first,
                    count,
                    warp: pack.text(),
                }
            })
            .collect(),
    }
}

/// Reference frame at a time: that of the nearest entry of the warping path (not empty).
fn warped(path: &[(f64, u32)], time: f64) -> i32 {
    let after = path.partition_point(|(t, _)| *t < time);
    let near = match (after.checked_sub(1), path.get(after)) {
        (Some(b), Some((t, _))) if time - path[b].0 <= t - time => b,
        (_, Some(_)) => after,
        (Some(b), None) => b,
        (None, None) => return 0,
    };
    i32::try_from(path[near].1).unwrap_or(i32::MAX)
}

fn marks(graph: &Graph, s: &SessionResults, p: &Possession, reading: &Reading) -> Vec<Mark> {
    let inside = |t: f64| t >= p.from_s - AROUND_S && t <= p.to_s + AROUND_S;
    let who = |i: usize| {
        s.session
            .players
            .get(i)
            .map_or_else(|| "?".to_owned(), setdrift_tracks::Player::label)
    };
    let mut out: Vec<Mark> = Vec::new();
    for e in s.story.events.iter().filter(|e| inside(e.time_s)) {
        if let Some((kind, text)) = event_words(&e.kind, &who) {
            out.push(Mark {
                t: round(e.time_s),
                kind,
                text,
            });
        }
    }
    for c in s
        .audit
        .cues
        .iter()
        .filter(|c| c.place.possession == p.number)
    {
        let role = graph.roles.get(c.role).map_or("?", String::as_str);
        if let Some(t) = c.cue_s {
            out.push(Mark {
                t: round(t),
                kind: "cue",
                text: format!("cue for {role} ({}): {}", who(c.player), c.text),
            });
        }
        if let Some(t) = c.onset_s {
            let lag = c.lag_s.map_or_else(String::new, |l| {
                format!(", {} s after the cue", words::tidy(l, 2))
            });
            out.push(Mark {
                t: round(t),
                kind: "went",
                text: format!("{role} ({}) went{lag}: {}", who(c.player), when(c.when)),
            });
        }
    }
    for run in reading
        .segments
        .iter()
        .filter_map(setdrift_season::tally::run_of)
    {
        for f in &run.faults {
            out.push(Mark {
                t: round(f.time_s),
                kind: "fault",
                text: f.text.clone(),
            });
        }
    }
    out.sort_by(|a, b| a.t.total_cmp(&b.t));
    out
}

/// A verdict on timing, in words.
pub fn when(w: When) -> &'static str {
    match w {
        When::Early => "early",
        When::OnTime => "on time",
        When::Late => "late",
        When::Never => "never went",
        When::CannotTell => "cannot tell",
    }
}

fn event_words(kind: &EventKind, who: &dyn Fn(usize) -> String) -> Option<(&'static str, String)> {
    Some(match kind {
        EventKind::Pass { from, to, .. } => {
            ("ball", format!("{} passes to {}", who(*from), who(*to)))
        }
        EventKind::HandOff { from, to } => {
            ("ball", format!("{} hands off to {}", who(*from), who(*to)))
        }
        EventKind::DribbleStart { player, .. } => ("ball", format!("{} dribbles", who(*player))),
        EventKind::PickUp { player } => ("ball", format!("{} picks up the dribble", who(*player))),
        EventKind::Shot { player, .. } => ("ball", format!("{} shoots", who(*player))),
        EventKind::Rebound { player } => ("ball", format!("{} rebounds", who(*player))),
        EventKind::Turnover { lost_by, .. } => (
            "ball",
            lost_by.map_or_else(
                || "ball lost".to_owned(),
                |p| format!("{} loses the ball", who(p)),
            ),
        ),
        EventKind::Screen { screener, user, .. } => (
            "ball",
            format!("{} screens for {}", who(*screener), who(*user)),
        ),
        EventKind::OutOfBounds { .. } => ("ball", "ball out of bounds".to_owned()),
        EventKind::Drive { player, .. } => ("ball", format!("{} drives", who(*player))),
        EventKind::CutOnset { .. } | EventKind::Arrival { .. } | EventKind::DeadBall => {
            return None;
        }
    })
}

/// Hundredths of a second are finer than any track here.
fn round(seconds: f64) -> f64 {
    if seconds.is_finite() {
        (seconds * 100.0).round() / 100.0
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_entry_of_the_warping_path() {
        let path = [(1.0, 0), (1.1, 2), (1.2, 5)];
        assert_eq!(warped(&path, 0.0), 0);
        assert_eq!(warped(&path, 1.04), 0);
        assert_eq!(warped(&path, 1.06), 2);
        assert_eq!(warped(&path, 9.0), 5);
    }
}

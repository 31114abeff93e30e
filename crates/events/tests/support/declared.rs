//! Sessions of the project's own simulator, made from the sample playbook.

use super::street::{Facts, REACH_M, bridge};
use setdrift_playbook::graph::Graph;
use setdrift_simulate::{
    Occasion, PracticeSettings, SensorModel, Settings, SimulatedSession, Truth, simulate_game,
    simulate_practice,
};
use setdrift_simulated::{lantern, measured_occasion, occasion};
use setdrift_tracks::Session;

pub fn graph() -> Graph {
    lantern().unwrap()
}

pub fn game(settings: &Settings, sensor: &SensorModel, seed: u64) -> (Session, Facts) {
    played(&measured_occasion("check"), settings, sensor, seed)
}

/// The same by other players, who are built and move otherwise.
#[allow(dead_code, reason = "not every user of the support measures them")]
pub fn others_game(settings: &Settings, sensor: &SensorModel, seed: u64) -> (Session, Facts) {
    played(&occasion(), settings, sensor, seed)
}

fn played(
    occasion: &Occasion,
    settings: &Settings,
    sensor: &SensorModel,
    seed: u64,
) -> (Session, Facts) {
    let (world, truth) = simulate_game(&graph(), occasion, settings, seed).unwrap();
    let s = world.sense(sensor, seed + 1).unwrap();
    let exact = session(&world.sense(&SensorModel::perfect(), seed + 1).unwrap());
    (session(&s), facts(&truth, &exact))
}

pub fn practice(
    settings: &Settings,
    plan: &PracticeSettings,
    sensor: &SensorModel,
    seed: u64,
) -> (Session, Facts) {
    let (world, truth) =
        simulate_practice(&graph(), &measured_occasion("check"), settings, plan, seed).unwrap();
    let s = world.sense(sensor, seed + 1).unwrap();
    let exact = session(&world.sense(&SensorModel::perfect(), seed + 1).unwrap());
    (session(&s), facts(&truth, &exact))
}

/// Short gaps bridged, as cleaning would.
fn session(s: &SimulatedSession) -> Session {
    let hole = (0.4 * s.rate_hz) as usize;
    let mut parts = setdrift_simulated::session(s).unwrap().into_parts();
    for t in parts.tracks.iter_mut().chain(&mut parts.ball) {
        bridge(t, hole);
    }
    Session::new(parts).unwrap()
}

/// A stolen pass is a turnover, not a pass; a screen counts when the user came past it.
fn facts(t: &Truth, exact: &Session) -> Facts {
    let apart = |a: usize, b: usize, t: f64| {
        let f = exact.frame_at(t);
        let (p, q) = (&exact.tracks[a], &exact.tracks[b]);
        (p.x[f] - q.x[f]).hypot(p.y[f] - q.y[f])
    };
    Facts {
        within_reach: t
            .passes
            .iter()
            .filter(|p| !p.stolen)
            .map(|p| apart(p.from, p.to, p.release_s) < REACH_M)
            .collect(),
        passes: t
            .passes
            .iter()
            .filter(|p| !p.stolen)
            .map(|p| (p.from, p.to, p.release_s, p.catch_s))
            .collect(),
        hand_offs: t
            .hand_offs
            .iter()
            .map(|h| (h.from, h.to, h.time_s))
            .collect(),
        screens: t
            .screens
            .iter()
            .filter_map(|s| Some((s.screener, s.user, s.used_s?)))
            .collect(),
        stood: t
            .screens
            .iter()
            .filter(|s| s.used_s.is_some())
            .map(|s| (s.screener, s.set_s))
            .collect(),
        perhaps: t
            .screens
            .iter()
            .filter(|s| s.used_s.is_none())
            .map(|s| (s.screener, s.user, (s.set_s + s.leave_s) / 2.0))
            .collect(),
        possessions: t
            .possessions
            .iter()
            .map(|p| (p.team, p.from_s, p.to_s))
            .collect(),
        shots: t
            .shots
            .iter()
            .map(|s| (s.player, s.release_s, s.ring_s))
            .collect(),
        dribbles: t.dribbles.iter().map(|d| (d.player, d.time_s)).collect(),
        rebounds: t.rebounds.iter().map(|r| (r.player, r.time_s)).collect(),
    }
}

//! Events found against events that happened, matched one to one in time.

use super::street::Facts;
use setdrift_events::model::{BallStory, EventKind, Possession};

/// Right, wrong and missed.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Tally {
    pub hit: usize,
    pub extra: usize,
    pub missed: usize,
}

impl Tally {
    pub fn f1(self) -> f64 {
        let all = 2 * self.hit + self.extra + self.missed;
        if all == 0 {
            1.0
        } else {
            2.0 * self.hit as f64 / all as f64
        }
    }
    pub fn add(&mut self, o: Self) {
        self.hit += o.hit;
        self.extra += o.extra;
        self.missed += o.missed;
    }
}

/// Scores of a session, or of several added up.
#[derive(Debug, Clone, Default)]
pub struct Score {
    pub passes: Tally,
    pub hand_offs: Tally,
    pub screens: Tally,
    pub possessions: Tally,
    pub shots: Tally,
    pub dribbles: Tally,
    pub release_errors: Vec<f64>,
    pub catch_errors: Vec<f64>,
    /// When screeners came to a stand, found less true, where told.
    pub stood_errors: Vec<f64>,
    /// Screens found of which that is not told, though he stood a tenth of a second before.
    pub not_stood: usize,
    /// When dribbles began, found less true.
    pub dribble_errors: Vec<f64>,
}

impl Score {
    pub fn add(&mut self, o: &Self) {
        self.passes.add(o.passes);
        self.hand_offs.add(o.hand_offs);
        self.screens.add(o.screens);
        self.possessions.add(o.possessions);
        self.shots.add(o.shots);
        self.dribbles.add(o.dribbles);
        self.dribble_errors.extend(&o.dribble_errors);
        self.release_errors.extend(&o.release_errors);
        self.catch_errors.extend(&o.catch_errors);
        self.stood_errors.extend(&o.stood_errors);
        self.not_stood += o.not_stood;
    }

    pub fn median_release(&self) -> f64 {
        median(&self.release_errors)
    }
}

pub fn median(v: &[f64]) -> f64 {
    let mut v: Vec<f64> = v.iter().map(|e| e.abs()).collect();
    if v.is_empty() {
        return f64::NAN;
    }
    v.sort_by(f64::total_cmp);
    v[v.len() / 2]
}

/// Time by which a hand-off may differ, seconds.
pub const HAND_OFF_S: f64 = 0.3;
/// Time by which the start of a dribble may differ to be of the same dribble, seconds.
pub const DRIBBLE_S: f64 = 1.0;
/// Time by which the contact of a screen may differ, seconds.
pub const SCREEN_S: f64 = 0.75;

fn tally<T, F>(truth: &[T], found: &[F], same: impl Fn(&T, &F) -> bool, say: Option<&str>) -> Tally
where
    T: std::fmt::Debug,
    F: std::fmt::Debug,
{
    let mut used = vec![false; found.len()];
    let mut hit = 0;
    for t in truth {
        if let Some(i) = (0..found.len()).find(|i| !used[*i] && same(t, &found[*i])) {
            used[i] = true;
            hit += 1;
        } else if let Some(what) = say {
            println!("  missed {what} {t:.2?}");
        }
    }
    if let Some(what) = say {
        for (u, f) in used.iter().zip(found) {
            if !u {
                println!("  extra {what} {f:.2?}");
            }
        }
    }
    Tally {
        hit,
        extra: found.len() - hit,
        missed: truth.len() - hit,
    }
}

pub fn score(facts: &Facts, story: &BallStory, possessions: &[Possession], say: &str) -> Score {
    let speak = |what: &'static str| say.contains(what).then_some(what);
    let mut passes = Vec::new();
    let mut hand_offs = Vec::new();
    let mut screens = Vec::new();
    let mut shots = Vec::new();
    let mut dribbles = Vec::new();
    for e in &story.events {
        match e.kind {
            EventKind::Pass {
                from, to, catch_s, ..
            } => passes.push((from, to, e.time_s, catch_s)),
            EventKind::HandOff { from, to } => hand_offs.push((from, to, e.time_s)),
            EventKind::Screen { screener, user, .. } => screens.push((screener, user, e.time_s)),
            EventKind::Shot { player, ring_s, .. } => shots.push((player, e.time_s, ring_s)),
            EventKind::DribbleStart { player, .. } => dribbles.push((player, e.time_s)),
            _ => {}
        }
    }
    let near = |a: f64, b: f64, d: f64| (a - b).abs() <= d;
    // What went from hand to hand may be told as either.
    for (t, _) in facts
        .passes
        .iter()
        .zip(&facts.within_reach)
        .filter(|x| *x.1)
    {
        let told = hand_offs.iter().position(|h| {
            (h.0, h.1) == (t.0, t.1) && h.2 > t.2 - HAND_OFF_S && h.2 < t.3 + HAND_OFF_S
        });
        if let Some(i) = told {
            hand_offs.remove(i);
            passes.push(*t);
        }
    }
    let pass = tally(
        &facts.passes,
        &passes,
        |t, f| t.0 == f.0 && t.1 == f.1 && near(t.2, f.2, 0.2) && near(t.3, f.3, 0.2),
        speak("pass"),
    );
    let mut release_errors = Vec::new();
    let mut catch_errors = Vec::new();
    for t in &facts.passes {
        if let Some(f) = passes
            .iter()
            .find(|f| t.0 == f.0 && t.1 == f.1 && near(t.2, f.2, 1.0))
        {
            release_errors.push(f.2 - t.2);
            catch_errors.push(f.3 - t.3);
        }
    }
    let mut stood_errors = Vec::new();
    let mut not_stood = 0;
    for (t, (_, at)) in facts.screens.iter().zip(&facts.stood) {
        let found = story.events.iter().find_map(|e| match e.kind {
            EventKind::Screen {
                screener,
                user,
                stood,
                ..
            } if (t.0, t.1) == (screener, user) && near(t.2, e.time_s, SCREEN_S) => Some(stood),
            _ => None,
        });
        match found {
            Some(Some(s)) => stood_errors.push(s - at),
            Some(None) if t.2 - at > 0.1 => not_stood += 1,
            _ => {}
        }
    }
    let dribble_errors = facts
        .dribbles
        .iter()
        .filter_map(|t| {
            dribbles
                .iter()
                .filter(|f| f.0 == t.0 && near(t.1, f.1, DRIBBLE_S))
                .map(|f| f.1 - t.1)
                .min_by(|a, b| a.abs().total_cmp(&b.abs()))
        })
        .collect();
    // Contacts that may count either way are taken out of what was found.
    let screens: Vec<_> = screens
        .into_iter()
        .filter(|f| {
            !facts
                .perhaps
                .iter()
                .any(|p| (p.0, p.1) == (f.0, f.1) && near(p.2, f.2, 1.5))
        })
        .collect();
    let found: Vec<(usize, f64, f64)> = possessions
        .iter()
        .map(|p| (p.team, p.from_s, p.to_s))
        .collect();
    Score {
        passes: pass,
        hand_offs: tally(
            &facts.hand_offs,
            &hand_offs,
            |t, f| t.0 == f.0 && t.1 == f.1 && near(t.2, f.2, HAND_OFF_S),
            speak("hand-off"),
        ),
        screens: tally(
            &facts.screens,
            &screens,
            |t, f| t.0 == f.0 && t.1 == f.1 && near(t.2, f.2, SCREEN_S),
            speak("screen"),
        ),
        possessions: tally(
            &facts.possessions,
            &found,
            |t, f| t.0 == f.0 && near(t.1, f.1, 0.5) && near(t.2, f.2, 0.5),
            speak("possession"),
        ),
        shots: tally(
            &facts.shots,
            &shots,
            |t, f| t.0 == f.0 && near(t.1, f.1, 0.3),
            speak("shot"),
        ),
        dribbles: tally(
            &facts.dribbles,
            &dribbles,
            |t, f| t.0 == f.0 && near(t.1, f.1, DRIBBLE_S),
            speak("dribble"),
        ),
        release_errors,
        catch_errors,
        stood_errors,
        not_stood,
        dribble_errors,
    }
}

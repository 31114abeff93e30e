//! Which verdicts the data supports, by rules that docs/method-cleaning.md gives with their reasons.

use super::Quality;
use crate::session::Session;
use serde::{Deserialize, Serialize};
use std::fmt;

/// A kind of verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum VerdictKind {
    /// Which option was run, and how far.
    Option,
    /// Who had which role.
    Roles,
    /// Passes, hand-offs, dribbles: who had the ball.
    Passes,
    /// When a pass left the hand.
    Release,
    /// Who went when after his cue.
    CueLag,
    /// Where screens were set and spots filled.
    Placement,
    /// How far apart players kept.
    Spacing,
    /// Shots and whether they went in.
    Shots,
    /// How options change over time.
    Drift,
}

impl VerdictKind {
    /// Every kind, in the order of a sheet.
    pub const ALL: [Self; 9] = [
        Self::Option,
        Self::Roles,
        Self::Passes,
        Self::Release,
        Self::CueLag,
        Self::Placement,
        Self::Spacing,
        Self::Shots,
        Self::Drift,
    ];

    /// In words for people.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Option => "which option was run",
            Self::Roles => "who had which role",
            Self::Passes => "passes and hand-offs",
            Self::Release => "when a pass left the hand",
            Self::CueLag => "who left when",
            Self::Placement => "screens and spots",
            Self::Spacing => "spacing",
            Self::Shots => "shots",
            Self::Drift => "drift",
        }
    }
}

/// Whether the data supports a kind of verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Level {
    /// It does.
    Yes,
    /// It does, less surely than usual or in part.
    Caution,
    /// It does not: no verdict of this kind is given.
    No,
}

impl fmt::Display for Level {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Yes => "yes",
            Self::Caution => "with caution",
            Self::No => "no",
        })
    }
}

/// What the data allows of one kind of verdict.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Support {
    /// Which kind.
    pub kind: VerdictKind,
    /// Whether.
    pub level: Level,
    /// Why not without caution, in words with numbers; what it rests on where yes.
    pub reason: String,
}

/// Below this share of known frames, more is unknown of the offence than known.
pub const LEAST_KNOWN: f64 = 0.5;
/// Below this share one frame in ten lacks somebody; recognition gives no verdict on stretches with
/// more than 40 % missing.
const COVERAGE_CAUTION: f64 = 0.9;
/// Rates, per second. Recognition compares ten times a second; below five, an option step of a
/// second is a handful of samples.
const RATE_CAUTION: f64 = 9.5;
const RATE_NO: f64 = 4.5;
/// Position error per axis, metres. Options are told apart within tolerances of a metre or more.
const OPTION_ERROR: (f64, f64) = (0.5, 1.2);
/// A screen is in or out of place by about a foot or two, averaged over 0.6 s.
const PLACE_ERROR: (f64, f64) = (0.35, 1.0);
/// Cue lags: at 0.25 m a start is known to about 0.17 s, at 0.35 m and 10 Hz to 0.22 s
/// (docs/method-timing.md); windows are half a second.
const LAG_ERROR: (f64, f64) = (0.2, 0.5);
/// Standard deviation of the moment a pass leaves the hand, seconds: a frame, and the error at the
/// 4 m/s at which ball and hand part (common practice, no published source).
const RELEASE_S: (f64, f64) = (0.09, 0.25);
const PART_SPEED: f64 = 4.0;

/// Collects reasons; the worst level counts.
struct Judge {
    level: Level,
    reasons: Vec<String>,
}

impl Judge {
    fn new() -> Self {
        Self {
            level: Level::Yes,
            reasons: Vec::new(),
        }
    }

    fn say(&mut self, level: Level, reason: impl Into<String>) {
        self.level = self.level.max(level);
        self.reasons.push(reason.into());
    }

    /// Caution from the first limit on, no from the second; `text` says what is too great.
    fn above(&mut self, value: f64, (caution, no): (f64, f64), text: impl Fn(f64) -> String) {
        // What is not known stands in no verdict's way: short sessions show no noise.
        if value > no {
            self.say(Level::No, text(no));
        } else if value > caution {
            self.say(Level::Caution, text(caution));
        }
    }

    fn done(self, kind: VerdictKind, fine: String) -> Support {
        Support {
            kind,
            level: self.level,
            reason: if self.reasons.is_empty() {
                fine
            } else {
                self.reasons.join("; ")
            },
        }
    }
}

/// Facts the rules look at.
struct Facts {
    error: f64,
    rate: f64,
    attackers: f64,
    on_floor: usize,
    defenders: Option<f64>,
    ball: Option<f64>,
    ball_error: f64,
    height: f64,
    doubts: usize,
}

/// One per kind, in the order of [`VerdictKind::ALL`].
pub(super) fn supports(session: &Session, quality: &Quality) -> Vec<Support> {
    let first = quality.sides.first();
    let facts = Facts {
        error: quality.error_m(),
        rate: quality.source_hz.min(quality.rate_hz),
        attackers: first.map_or(0.0, |s| s.coverage),
        on_floor: first.map_or(0, |s| s.on_floor),
        defenders: quality
            .sides
            .iter()
            .skip(1)
            .filter(|s| s.on_floor > 0)
            .map(|s| s.coverage)
            .max_by(f64::total_cmp),
        ball: session.ball.as_ref().map(|b| ball_coverage(session, b)),
        ball_error: quality.ball.as_ref().map_or(f64::NAN, |b| b.noise_m),
        height: quality.ball_height,
        doubts: quality.swaps.iter().filter(|s| s.in_doubt()).count(),
    };
    VerdictKind::ALL.iter().map(|k| judge(*k, &facts)).collect()
}

/// Share of the frames with a known attacker in which the ball is known.
fn ball_coverage(session: &Session, ball: &crate::session::Track) -> f64 {
    let ours: Vec<usize> = session.roster(0).collect();
    let (mut all, mut known) = (0_usize, 0_usize);
    for f in 0..session.frames() {
        if ours.iter().any(|i| session.tracks[*i].at(f).is_some()) {
            all += 1;
            known += usize::from(ball.at(f).is_some());
        }
    }
    if all == 0 {
        0.0
    } else {
        known as f64 / all as f64
    }
}

fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

fn judge(kind: VerdictKind, f: &Facts) -> Support {
    let mut j = Judge::new();
    let fine = format!(
        "attackers known {} of the time{}, {:.0} Hz",
        percent(f.attackers),
        if f.error.is_finite() {
            format!(", {:.2} m error", f.error)
        } else {
            String::new()
        },
        f.rate
    );
    match kind {
        VerdictKind::Option | VerdictKind::Roles | VerdictKind::Drift => {
            let error = if kind == VerdictKind::Drift {
                (PLACE_ERROR.0, OPTION_ERROR.1)
            } else {
                OPTION_ERROR
            };
            players(&mut j, f, error);
            rate(&mut j, f);
            if f.ball.is_none() && kind == VerdictKind::Option {
                j.say(
                    Level::Caution,
                    "no ball: passes and hand-offs are not checked",
                );
            }
            if f.doubts > 0 {
                let plural = if f.doubts == 1 { "" } else { "s" };
                let text = format!("{} doubtful exchange{plural} of identity", f.doubts);
                j.say(Level::Caution, text);
            }
        }
        VerdictKind::Passes => {
            ball(&mut j, f);
            rate(&mut j, f);
            if f.ball.is_some() && f.height < 0.5 {
                let text = "no ball height: chest, bounce and lob passes are not told apart";
                j.say(Level::Caution, text);
            }
        }
        VerdictKind::Release => {
            ball_seen(&mut j, f);
            let noise = if f.ball_error.is_finite() {
                f.ball_error
            } else {
                0.0
            };
            let sd = (1.0 / f.rate).hypot(noise / PART_SPEED);
            j.above(sd, RELEASE_S, |limit| {
                format!("known to {sd:.2} s at this rate and noise, above {limit} s")
            });
            if j.level == Level::Yes {
                return j.done(kind, format!("known to {sd:.2} s"));
            }
        }
        VerdictKind::CueLag => {
            players(&mut j, f, LAG_ERROR);
            j.above(1.0 / f.rate, (1.0 / 14.5, 1.0 / RATE_NO), |_| {
                format!(
                    "{:.0} samples a second: a start is uncertain by a fifth of a second",
                    f.rate
                )
            });
            if f.ball.is_none() {
                let text = "no ball: cues by a pass, catch, dribble or hand-off cannot be judged, only those by a player's movement";
                j.say(Level::Caution, text);
            }
        }
        VerdictKind::Placement => {
            players(&mut j, f, PLACE_ERROR);
            rate(&mut j, f);
            match f.defenders {
                None => j.say(
                    Level::Caution,
                    "no opponents: where a screen was set is judged, not whom it held",
                ),
                Some(c) if c < LEAST_KNOWN => j.say(
                    Level::Caution,
                    format!("opponents known {} of the time", percent(c)),
                ),
                Some(_) => {}
            }
        }
        VerdictKind::Spacing => {
            players(&mut j, f, PLACE_ERROR);
            if f.on_floor == 1 {
                j.say(Level::No, "one player on the floor");
            }
        }
        VerdictKind::Shots => {
            ball(&mut j, f);
            rate(&mut j, f);
            if f.ball.is_some() && f.height < 0.5 {
                let text = "no ball height: a shot is known by the ball passing over the ring alone, and whether it went in by where the ball falls";
                j.say(Level::Caution, text);
            }
        }
    }
    j.done(kind, fine)
}

fn error_text(error: f64, limit: f64) -> String {
    format!("position error {error:.2} m, above {limit} m")
}

/// Attackers known, and how exactly.
fn players(j: &mut Judge, f: &Facts, error: (f64, f64)) {
    let known = || format!("attackers known {} of the time", percent(f.attackers));
    if f.on_floor == 0 {
        j.say(Level::No, "no player of the audited team in the tracks");
    } else if f.attackers < LEAST_KNOWN {
        j.say(
            Level::No,
            format!("{}, below {}", known(), percent(LEAST_KNOWN)),
        );
    } else if f.attackers < COVERAGE_CAUTION {
        let text = format!(
            "{}, below {}: stretches with more than 40 % missing get no verdict",
            known(),
            percent(COVERAGE_CAUTION)
        );
        j.say(Level::Caution, text);
    }
    j.above(f.error, error, |limit| error_text(f.error, limit));
}

fn rate(j: &mut Judge, f: &Facts) {
    if f.rate < RATE_NO {
        j.say(
            Level::No,
            format!("{:.1} samples a second, below {RATE_NO}", f.rate),
        );
    } else if f.rate < RATE_CAUTION {
        let text = format!("{:.1} samples a second, below {RATE_CAUTION}", f.rate);
        j.say(Level::Caution, text);
    }
}

/// The ball known, and how exactly.
fn ball(j: &mut Judge, f: &Facts) {
    ball_seen(j, f);
    j.above(f.ball_error, OPTION_ERROR, |limit| {
        format!("ball noise {:.2} m, above {limit} m", f.ball_error)
    });
}

fn ball_seen(j: &mut Judge, f: &Facts) {
    match f.ball {
        None => j.say(Level::No, "no ball in the tracks"),
        Some(c) if c < COVERAGE_CAUTION => {
            let text = format!(
                "ball known {} of the time, below {}: what happened meanwhile is not said",
                percent(c),
                percent(COVERAGE_CAUTION)
            );
            j.say(Level::Caution, text);
        }
        Some(_) => {}
    }
}

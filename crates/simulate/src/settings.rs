//! What can be varied, with reasons for the defaults, and its check.

use crate::improvise::Improvisation;
use serde::{Deserialize, Serialize};

/// Everything a simulation can vary. [`Settings::check`] runs before any simulation.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// How bodies move.
    pub body: BodySettings,
    /// When players go.
    pub timing: TimingSettings,
    /// How exactly they keep to their paths.
    pub paths: PathSettings,
    /// How the ball is handled.
    pub ball: BallSettings,
    /// How opponents defend.
    pub defence: DefenceSettings,
    /// What is run, broken off and made up.
    pub mix: MixSettings,
    /// Players with habits of their own.
    pub habits: Vec<Habit>,
    /// Roles that have drifted in one option.
    pub drifts: Vec<RoleShift>,
}

/// How bodies move.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct BodySettings {
    /// Greatest acceleration, m/s². Default 4.2: match play counts efforts above 3.5–4 m/s² as
    /// high intensity (Tuttle et al. 2024; Ibáñez et al. 2024), so peaks lie a little above.
    pub accel: f64,
    /// Deceleration planned for when stopping, m/s².
    pub brake: f64,
    /// Top speed, m/s. Default 7.0: indoor sprints on 28 m of floor (value from memory).
    pub top_speed: f64,
    /// How fast speed follows what is wanted: time constant, seconds.
    pub response_s: f64,
    /// Time constant of the build-up of force after the decision, seconds.
    pub force_s: f64,
    /// Spread of the above between players, relative standard deviation.
    pub spread: f64,
    /// Sway of the tracked point over the feet: standard deviation per axis, metres.
    pub sway_m: f64,
    /// Its time constant, seconds.
    pub sway_s: f64,
    /// Drifting about while standing: standard deviation per axis, metres.
    pub wander_m: f64,
    /// Its time constant, seconds.
    pub wander_s: f64,
}

impl Default for BodySettings {
    fn default() -> Self {
        Self {
            accel: 4.2,
            brake: 3.4,
            top_speed: 7.0,
            response_s: 0.30,
            force_s: 0.05,
            spread: 0.08,
            sway_m: 0.035,
            sway_s: 0.6,
            wander_m: 0.18,
            wander_s: 3.0,
        }
    }
}

/// When players go.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct TimingSettings {
    /// Mean reaction to a cue, seconds. Default 0.30: between simple (0.20–0.25 s) and choice
    /// reaction (0.30–0.45 s); values from memory.
    pub reaction_s: f64,
    /// Its standard deviation, seconds.
    pub reaction_sd_s: f64,
    /// Share of cues answered late by anyone.
    pub late: f64,
    /// How much later, seconds: from, to.
    pub late_by_s: (f64, f64),
    /// Share of cues that are not waited for.
    pub early: f64,
    /// Share of cued movements never made.
    pub never: f64,
    /// Tempo of a run, as a factor on nominal durations: from, to.
    pub tempo: (f64, f64),
    /// Further factor per movement, standard deviation.
    pub tempo_within: f64,
    /// Pause between options, seconds: from, to.
    pub pause_s: (f64, f64),
    /// Share of option boundaries with a pause.
    pub pauses: f64,
    /// Share of back cuts with a jab step the other way first. Common practice.
    pub jabs: f64,
}

impl Default for TimingSettings {
    fn default() -> Self {
        Self {
            reaction_s: 0.30,
            reaction_sd_s: 0.06,
            late: 0.06,
            late_by_s: (0.45, 1.1),
            early: 0.05,
            never: 0.015,
            tempo: (0.8, 1.25),
            tempo_within: 0.08,
            pause_s: (0.3, 1.6),
            pauses: 0.5,
            jabs: 0.5,
        }
    }
}

/// How exactly players keep to their paths.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PathSettings {
    /// Personal bias of where one stands and ends: standard deviation per axis, metres.
    pub bias_m: f64,
    /// The same from run to run, metres.
    pub end_m: f64,
    /// Bow of a path to one side, relative to its length: standard deviation.
    pub bow: f64,
    /// Share of screens set off their place.
    pub off_place: f64,
    /// By how much, metres: from, to.
    pub off_place_m: (f64, f64),
}

impl Default for PathSettings {
    fn default() -> Self {
        Self {
            bias_m: 0.22,
            end_m: 0.28,
            bow: 0.06,
            off_place: 0.18,
            off_place_m: (0.7, 1.5),
        }
    }
}

/// How the ball is handled.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct BallSettings {
    /// Distance of the held ball from the body's centre, metres. Common practice.
    pub hold_m: f64,
    /// Distance of the dribbled ball, metres.
    pub dribble_m: f64,
    /// Speed of passes, m/s: from, to. Default 7–12 (common practice).
    pub pass_speed: (f64, f64),
    /// Share of passes that are bounced, and lobbed.
    pub bounce_lob: (f64, f64),
    /// Share of passes in an option that are stolen when there are defenders.
    pub stolen: f64,
    /// Share of shots made at the ring, and falling off to this beyond the arc.
    pub made: (f64, f64),
    /// Share of misses the offence rebounds.
    pub offensive_rebound: f64,
}

impl Default for BallSettings {
    fn default() -> Self {
        Self {
            hold_m: 0.38,
            dribble_m: 0.60,
            pass_speed: (7.0, 12.0),
            bounce_lob: (0.25, 0.08),
            stolen: 0.012,
            made: (0.60, 0.36),
            offensive_rebound: 0.22,
        }
    }
}

/// How opponents defend.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct DefenceSettings {
    /// 0.3 (sagging) to 2 (in one's shirt); distances are divided by it.
    pub pressure: f64,
    /// Distance kept from the player with the ball at pressure 1, metres.
    pub on_ball_m: f64,
    /// How late a defender sees what his player does, seconds.
    pub delay_s: f64,
    /// Share of screens a defender goes under.
    pub under: f64,
}

impl Default for DefenceSettings {
    fn default() -> Self {
        Self {
            pressure: 1.0,
            on_ball_m: 1.15,
            delay_s: 0.28,
            under: 0.4,
        }
    }
}

/// What is run, broken off and made up.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct MixSettings {
    /// Possessions (or live repetitions) of the audited team.
    pub possessions: usize,
    /// Share of options broken off in one of their steps.
    pub broken_off: f64,
    /// Chance to go on with another option after a finished one.
    pub chain: f64,
    /// Share of runs to the left hand.
    pub left: f64,
    /// Improvisations with how often each occurs in the session.
    pub improvised: Vec<(Improvisation, usize)>,
    /// How often players scramble without any pattern.
    pub scrambles: usize,
    /// Share of possessions whose set is not waited for.
    pub early_offence: f64,
}

impl Default for MixSettings {
    fn default() -> Self {
        Self {
            possessions: 22,
            broken_off: 0.15,
            chain: 0.72,
            left: 0.4,
            improvised: Vec::new(),
            scrambles: 1,
            early_offence: 0.15,
        }
    }
}

/// A player who answers cues in a way of his own.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Habit {
    /// Player id.
    pub player: String,
    /// Share of cues answered late.
    pub late: f64,
    /// How much later, seconds: from, to.
    pub late_by_s: (f64, f64),
    /// Share of cues not waited for.
    pub early: f64,
}

/// A role that in one option has moved from where it was declared.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RoleShift {
    /// Option key.
    pub option: String,
    /// Role name.
    pub role: String,
    /// Further from the end line, metres.
    pub out_m: f64,
    /// Further to the right as declared, metres.
    pub right_m: f64,
}

/// A setting outside its range.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SettingsError {
    /// A number out of range.
    #[error("simulation setting `{name}` is {value}: expected {low} to {high}")]
    Range {
        /// Which.
        name: &'static str,
        /// As given.
        value: f64,
        /// Least accepted.
        low: f64,
        /// Greatest accepted.
        high: f64,
    },
    /// A name that does not occur.
    #[error("simulation setting `{name}` names `{value}`, which is not in {place}")]
    Unknown {
        /// Which.
        name: &'static str,
        /// As given.
        value: String,
        /// Where it was looked for.
        place: &'static str,
    },
    /// The playbook cannot be played by these players.
    #[error("{0}")]
    Cast(String),
}

pub(crate) fn within(
    name: &'static str,
    value: f64,
    low: f64,
    high: f64,
) -> Result<(), SettingsError> {
    if value >= low && value <= high {
        Ok(())
    } else {
        Err(SettingsError::Range {
            name,
            value,
            low,
            high,
        })
    }
}

impl Settings {
    /// Checks every number.
    ///
    /// # Errors
    /// [`SettingsError::Range`] for the first number out of range.
    pub fn check(&self) -> Result<(), SettingsError> {
        let b = &self.body;
        within("body.accel", b.accel, 1.0, 12.0)?;
        within("body.brake", b.brake, 1.0, 12.0)?;
        within("body.top_speed", b.top_speed, 3.0, 11.0)?;
        within("body.response_s", b.response_s, 0.05, 2.0)?;
        within("body.force_s", b.force_s, 0.01, 0.5)?;
        within("body.spread", b.spread, 0.0, 0.3)?;
        within("body.sway_m", b.sway_m, 0.0, 0.3)?;
        within("body.sway_s", b.sway_s, 0.05, 10.0)?;
        within("body.wander_m", b.wander_m, 0.0, 1.0)?;
        within("body.wander_s", b.wander_s, 0.2, 30.0)?;
        let t = &self.timing;
        within("timing.reaction_s", t.reaction_s, 0.1, 1.0)?;
        within("timing.reaction_sd_s", t.reaction_sd_s, 0.0, 0.5)?;
        span("timing.late_by_s", t.late_by_s, 0.0, 5.0)?;
        span("timing.tempo", t.tempo, 0.4, 3.0)?;
        within("timing.tempo_within", t.tempo_within, 0.0, 0.4)?;
        span("timing.pause_s", t.pause_s, 0.0, 10.0)?;
        let p = &self.paths;
        within("paths.bias_m", p.bias_m, 0.0, 1.5)?;
        within("paths.end_m", p.end_m, 0.0, 1.5)?;
        within("paths.bow", p.bow, 0.0, 0.5)?;
        span("paths.off_place_m", p.off_place_m, 0.0, 3.0)?;
        let l = &self.ball;
        within("ball.hold_m", l.hold_m, 0.1, 0.8)?;
        within("ball.dribble_m", l.dribble_m, 0.2, 1.2)?;
        span("ball.pass_speed", l.pass_speed, 3.0, 20.0)?;
        within("ball.bounce_lob", l.bounce_lob.0 + l.bounce_lob.1, 0.0, 1.0)?;
        let d = &self.defence;
        within("defence.pressure", d.pressure, 0.3, 2.0)?;
        within("defence.on_ball_m", d.on_ball_m, 0.6, 3.0)?;
        within("defence.delay_s", d.delay_s, 0.05, 1.0)?;
        within("mix.possessions", self.mix.possessions as f64, 1.0, 400.0)?;
        let made_up: usize = self.mix.improvised.iter().map(|(_, n)| n).sum();
        within(
            "mix.improvised",
            (made_up + self.mix.scrambles) as f64,
            0.0,
            self.mix.possessions as f64,
        )?;
        for (name, share) in [
            ("timing.late", t.late),
            ("timing.early", t.early),
            ("timing.never", t.never),
            ("timing.pauses", t.pauses),
            ("timing.jabs", t.jabs),
            ("paths.off_place", p.off_place),
            ("ball.stolen", l.stolen),
            ("ball.made", l.made.0),
            ("ball.made", l.made.1),
            ("ball.offensive_rebound", l.offensive_rebound),
            ("defence.under", d.under),
            ("mix.broken_off", self.mix.broken_off),
            ("mix.chain", self.mix.chain),
            ("mix.left", self.mix.left),
            ("mix.early_offence", self.mix.early_offence),
        ] {
            within(name, share, 0.0, 1.0)?;
        }
        for h in &self.habits {
            within("habits.late", h.late, 0.0, 1.0)?;
            within("habits.early", h.early, 0.0, 1.0)?;
            span("habits.late_by_s", h.late_by_s, 0.0, 5.0)?;
        }
        for s in &self.drifts {
            within("drifts.out_m", s.out_m, -4.0, 4.0)?;
            within("drifts.right_m", s.right_m, -4.0, 4.0)?;
        }
        Ok(())
    }
}

fn span(name: &'static str, v: (f64, f64), low: f64, high: f64) -> Result<(), SettingsError> {
    within(name, v.0, low, high)?;
    within(name, v.1, v.0, high)
}

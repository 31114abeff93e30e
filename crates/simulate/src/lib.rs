//! Tracks with known truth, made from a playbook: people who accelerate like people, wait for
//! cues, are late, break off and improvise, against opponents who defend.
//!
//! Nothing here reads or writes a file, and nothing here knows how recognition works. The same
//! playbook, settings and seed give the same session, bit for bit.

mod ball;
mod body;
mod finish;
mod game;
mod improvise;
mod place;
mod possession;
mod practice;
mod rng;
pub mod sample;
mod script;
mod session;
mod settings;
mod sim;
mod tags;
mod tasks;
mod truth;
mod vec2;

pub use game::{Occasion, simulate_game};
pub use improvise::Improvisation;
pub use practice::{PracticeSettings, simulate_practice};
pub use session::{
    Period, ResultLine, Samples, SensorModel, SimPlayer, SimulatedSession, TagLine, WORLD_HZ, World,
};
pub use settings::{
    BallSettings, BodySettings, DefenceSettings, Habit, MixSettings, PathSettings, RoleShift,
    Settings, SettingsError, TimingSettings,
};
pub use truth::{
    Did, OptionRun, Span, TrueAction, TrueDribble, TrueHandOff, TruePass, TruePossession,
    TrueRebound, TrueScreen, TrueShot, TrueStep, Truth, TruthFile,
};

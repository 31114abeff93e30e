//! Prints what a season would take: full games of the simulator through every stage from cleaned
//! tracks to verdicts and cues, one after another, and how much memory the program has held.
//!
//! `cargo run --release -p setdrift-accuracy --bin season -- [GAMES]`
#![expect(
    clippy::print_stdout,
    reason = "printing the table is what this program is for"
)]

use cpu_time::ProcessTime;
use setdrift_season::pipeline::{Done, Input, one_session};
use setdrift_season::settings::Settings;
use setdrift_simulate::{SensorModel, Settings as Simulated, simulate_game};
use setdrift_tracks::Quality;
use std::{cell::RefCell, env, fs, time::Instant};

/// Games of a season of thirty teams.
const SEASON: f64 = 1230.0;
/// Possessions of a team in a game: of the size of a professional game's (value from memory).
const POSSESSIONS: usize = 100;
/// Seed of the first game.
const FIRST: u64 = 800;

fn main() -> Result<(), String> {
    let games: u64 = env::args()
        .nth(1)
        .map_or(Ok(20), |a| a.parse())
        .map_err(|e| format!("{e}"))?;
    let graph = setdrift_simulated::lantern().map_err(|e| e.to_string())?;
    let settings = Settings::standard().map_err(|e| e.to_string())?;
    let mut simulated = Simulated::default();
    simulated.mix.possessions = POSSESSIONS;
    println!(
        "games of {POSSESSIONS} possessions a team, optical 25 Hz, {} options, {} threads; seconds a game so far\n\
         games  minutes  possessions    events  options     cues   clock   peak MB",
        graph.options.len(),
        rayon::current_num_threads()
    );
    let (mut minutes, mut possessions, mut clock) = (0.0, 0, 0.0);
    let spent = RefCell::new([0.0; 3]);
    for game in 0..games {
        let occasion = setdrift_simulated::measured_occasion(&format!("game-{game}"));
        let seed = FIRST + 2 * game;
        let (world, _) =
            simulate_game(&graph, &occasion, &simulated, seed).map_err(|e| e.to_string())?;
        let sensed = world
            .sense(&SensorModel::optical(), seed + 1)
            .map_err(|e| e.to_string())?;
        let session = setdrift_simulated::session(&sensed).map_err(|e| e.to_string())?;
        drop((world, sensed));
        minutes += session.frames() as f64 / session.rate_hz / 60.0;
        let input = Input {
            quality: Quality::of(&session),
            session,
            given: Vec::new(),
            limits: Vec::new(),
        };
        let begun = Instant::now();
        let stage = RefCell::new(ProcessTime::now());
        let told = |done: Done<'_>| {
            let at = match done.stage {
                "events" => 0,
                "options" => 1,
                _ => 2,
            };
            spent.borrow_mut()[at] += stage.borrow().elapsed().as_secs_f64();
            *stage.borrow_mut() = ProcessTime::now();
        };
        let results = one_session(input, &graph, &settings, &told).map_err(|e| e.to_string())?;
        clock += begun.elapsed().as_secs_f64();
        possessions += results.possessions.len();
        let done = game + 1;
        if [1, 2, 5].contains(&done) || done % 10 == 0 || done == games {
            let [events, options, cues] = spent.borrow().map(|s| s / done as f64);
            let peak = peak_mb().map_or_else(|| "unknown".to_owned(), |mb| format!("{mb:.0}"));
            println!(
                "{done:>5}  {:>7.1}  {:>11.0}  {events:>8.2} {options:>8.2} {cues:>8.2}  {:>6.2}  {peak:>8}",
                minutes / done as f64,
                possessions as f64 / done as f64,
                clock / done as f64,
            );
        }
    }
    println!(
        "{SEASON:.0} games at that rate: {:.0} min by the clock, {:.0} min of one processor",
        SEASON / 60.0 * clock / games as f64,
        SEASON / 60.0 * spent.borrow().iter().sum::<f64>() / games as f64,
    );
    Ok(())
}

/// The most memory the program has held, where the system says so: the simulator's included.
fn peak_mb() -> Option<f64> {
    let status = fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    let kb: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kb / 1024.0)
}

//! Prints how long recognition takes, and how much of the search space it looks at, as the playbook,
//! the roles left open, the sensor's rate and the possessions grow.
//!
//! `cargo run --release -p setdrift-accuracy --bin speed -- [POSSESSIONS] [bar]`; with `bar`, only
//! the case of which a time is asked: twenty options, five roles open, 25 Hz, 20 s.
#![expect(
    clippy::print_stdout,
    reason = "printing the table is what this program is for"
)]

use cpu_time::ProcessTime;
use rayon::prelude::*;
use setdrift_accuracy::other_world::{Made, World, make};
use setdrift_events::model::BallStory;
use setdrift_playbook::graph::Graph;
use setdrift_recognise::{Effort, Params, Recogniser};
use setdrift_tracks::Session;
use std::{env, fs, time::Instant};

/// What is measured: a playbook, how many roles the roster fixes, a rate, a length.
struct Case {
    book: &'static str,
    fixed: usize,
    rate_hz: f64,
    seconds: f64,
}

const BOOKS: [&str; 4] = [
    "notebooks-free-examples/playbooks/set-play.toml",
    "notebooks-free-examples/playbooks/zone.toml",
    "sample-tracks/lantern.toml",
    "tests/accuracy/playbooks/breakwater.toml",
];

fn main() -> Result<(), String> {
    let count: usize = env::args()
        .nth(1)
        .map_or(Ok(200), |a| a.parse())
        .map_err(|e| format!("{e}"))?;
    println!(
        "{count} possessions, {} threads; both hands; processor ms a possession, s of the clock for all on all threads\n\
         options  roles open  rate   length    ms     s      words  left by prices, by stretch   cells asked for",
        rayon::current_num_threads()
    );
    let base = |book| Case {
        book,
        fixed: 0,
        rate_hz: 25.0,
        seconds: 20.0,
    };
    let last = BOOKS[BOOKS.len() - 1];
    let mut cases: Vec<Case> = BOOKS.iter().map(|b| base(*b)).collect();
    cases.extend([1, 3, 5].map(|fixed| Case {
        fixed,
        ..base(last)
    }));
    cases.push(Case {
        rate_hz: 10.0,
        ..base(last)
    });
    cases.extend([10.0, 40.0].map(|seconds| Case {
        seconds,
        ..base(last)
    }));
    if env::args().nth(2).as_deref() == Some("bar") {
        cases = vec![base(last)];
    }
    for case in cases {
        measure(&case, count)?;
    }
    Ok(())
}

fn measure(case: &Case, count: usize) -> Result<(), String> {
    let text = fs::read_to_string(case.book).map_err(|e| format!("{}: {e}", case.book))?;
    let graph = setdrift_playbook::load_str(&text, case.book)
        .map_err(|e| e.to_string())?
        .graph;
    let made = possessions(&graph, case, count)?;
    let params = Params::default().check().map_err(|e| e.to_string())?;
    let story = BallStory::default();
    let begun = Instant::now();
    let recogniser = Recogniser::new(&graph, &params);
    let read = |m: &Made| -> Result<Effort, String> {
        let one = [m.possession.clone()];
        recogniser
            .read_with_effort(&m.session, &story, &one)
            .map(|all| all[0].1)
            .map_err(|e| e.to_string())
    };
    let all: Vec<Effort> = made.par_iter().map(read).collect::<Result<_, _>>()?;
    let together = begun.elapsed().as_secs_f64();
    let alone = made.iter().take(count.div_ceil(4).max(1));
    let begun = ProcessTime::now();
    let few = alone.clone().count();
    for m in alone {
        read(m)?;
    }
    let each = begun.elapsed().as_secs_f64() * 1e3 / few as f64;
    let mut sum = Effort::default();
    for e in all {
        sum += e;
    }
    let share = |n: usize, of: usize| 100.0 * n as f64 / of.max(1) as f64;
    println!(
        "{:>7}  {:>10}  {:>2.0} Hz  {:>4.0} s  {each:>6.1}  {together:>5.2}  {:>8}  {:>10.2} %  {:>9.3} %  {:>12.3} %",
        graph.options.len(),
        graph.roles.len() - case.fixed.min(graph.roles.len()),
        case.rate_hz,
        case.seconds,
        sum.words / count.max(1),
        share(sum.survived, sum.words),
        share(sum.decoded, sum.words),
        share(sum.filled, sum.cells),
    );
    Ok(())
}

/// Possessions of one length; the roster gives the first so many roles to one player each.
fn possessions(graph: &Graph, case: &Case, count: usize) -> Result<Vec<Made>, String> {
    let world = World {
        rate_hz: case.rate_hz,
        ..World::OPTICAL
    };
    let mut out = Vec::new();
    for seed in 0.. {
        if out.len() == count {
            break;
        }
        let mut made = make(graph, &world, seed).map_err(|e| e.to_string())?;
        if made.possession.to_s < case.seconds {
            continue;
        }
        made.possession.to_s = case.seconds;
        if let Some(run) = made.runs.first().filter(|_| case.fixed > 0) {
            let mut parts = made.session.into_parts();
            for (role, player) in run.players.iter().enumerate().take(case.fixed) {
                parts.players[*player].roles = vec![graph.roles[role].clone()];
            }
            made.session = Session::new(parts).map_err(|e| e.to_string())?;
        }
        out.push(made);
    }
    Ok(out)
}

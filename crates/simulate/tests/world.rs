//! The simulated world obeys physics, its truth agrees with its tracks, and it repeats exactly.

mod support;

use setdrift_simulate::*;
use support::{graph, occasion};

fn game(seed: u64) -> (World, Truth) {
    let mut s = Settings::default();
    s.mix.improvised = Improvisation::ALL.into_iter().map(|k| (k, 1)).collect();
    simulate_game(&graph(), &occasion(), &s, seed).unwrap()
}

#[test]
fn a_game_is_played() {
    let (w, t) = game(1);
    println!("{} s, {} possessions", w.frames() / 100, t.possessions.len());
    for p in &t.possessions {
        println!("{} {:.1}-{:.1} {} {}", p.team, p.from_s, p.to_s, p.outcome, p.points);
    }
    for s in &t.spans {
        let what = match &s.what {
            Did::Option(r) => format!("{} {} steps {} complete {}", r.option, r.hand, r.steps.len(), r.complete),
            Did::OffScript { name, .. } => format!("** {name}"),
            o => format!("{o:?}"),
        };
        println!("   {} {:.2}-{:.2} {what}", s.possession, s.from_s, s.to_s);
    }
    for a in t.actions.iter().filter(|a| a.cue_s.is_some() || a.class.is_some()).take(40) {
        println!("node {} action {} cue {:?} onset {:?} jab {:?} {:?}", a.node, a.action, a.cue_s, a.onset_s, a.jab_s, a.class);
    }
    println!("{} passes {} handoffs {} screens {} (used {}) {} shots", t.passes.len(), t.hand_offs.len(), t.screens.len(),
        t.screens.iter().filter(|s| s.used_s.is_some()).count(), t.shots.len());
}

//! A continuity that goes round three times, run by bodies and read by recognition.
#![allow(clippy::unwrap_used)]

use setdrift_accuracy::other_world::{Made, World, make_along};
use setdrift_accuracy::recognition::measure;
use setdrift_playbook::graph::{Graph, NodeIx};
use setdrift_recognise::Params;

fn millrace() -> Graph {
    let text = include_str!("../../../notebooks-free-examples/playbooks/continuity.toml");
    setdrift_playbook::load_str(text, "continuity.toml")
        .unwrap()
        .graph
}

/// The steps of so many rounds on end, roles refilled after each.
fn rounds(g: &Graph, count: usize) -> Vec<NodeIx> {
    let round = g.option("round").unwrap();
    let mut out = vec![g.nodes_of(round, 0).find(|n| g.starts.contains(n)).unwrap()];
    loop {
        let at = *out.last().unwrap();
        if g.nodes[at].last && out.len() == count * g.options[round].steps {
            return out;
        }
        let next = g
            .edges
            .iter()
            .find(|e| {
                e.from == at
                    && g.nodes[e.to].option == round
                    && g.nodes[e.to].step == (g.nodes[at].step + 1) % g.options[round].steps
            })
            .unwrap();
        assert_eq!(next.refill.is_some(), g.nodes[at].last);
        out.push(next.to);
    }
}

/// Each round is one run with every role right: after three rounds everyone has another role than
/// at the start, so the refills are decoded too.
#[test]
fn three_rounds_are_read_as_three_runs_with_their_roles() {
    let g = millrace();
    let params = Params::default().check().unwrap();
    let path = rounds(&g, 3);
    for (world, least) in [
        (World::OPTICAL, 0.95),
        (World::RADIO, 0.95),
        (World::POOR, 0.90),
    ] {
        let made: Vec<Made> = (0..20)
            .map(|seed| make_along(&g, &world, seed, &path).unwrap())
            .collect();
        assert!(made.iter().all(|m| m.runs.len() == 3));
        assert!(made.iter().all(|m| m.runs[0].players != m.runs[2].players));
        let tally = measure(&g, &made, &params).unwrap();
        let share = tally.roles_right as f64 / 60.0;
        let f1 = tally.score.f1()[2].unwrap();
        println!(
            "{} Hz: runs and roles {share:.3}, F1@50 {f1:.3}",
            world.rate_hz
        );
        assert!(share >= least, "{} Hz: {share}", world.rate_hz);
        assert!(f1 >= least, "{} Hz: F1 {f1}", world.rate_hz);
    }
}

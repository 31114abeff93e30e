#![allow(clippy::unwrap_used)]
use setdrift_accuracy::simulated::possessions;
use setdrift_events::model::BallStory;
use setdrift_recognise::{Params, model::What, recognise};
use setdrift_simulate::sample;
use setdrift_simulated::session;
#[test]
fn diag() {
    let text = include_str!("../../../sample-tracks/lantern.toml");
    let graph = setdrift_playbook::load_str(text, "lantern.toml")
        .unwrap()
        .graph;
    let params = Params::default().check().unwrap();
    for (s, truth) in sample::sessions(&graph).unwrap() {
        if s.practice {
            continue;
        }
        let read = session(&s).unwrap();
        let ps = possessions(&read, &truth);
        let story = BallStory::default();
        let readings = recognise(&read, &graph, &story, &ps, &params).unwrap();
        for (p, r) in ps.iter().zip(&readings) {
            println!(
                "== {} poss {} {:.1}-{:.1}",
                s.id, p.number, p.from_s, p.to_s
            );
            for t in &truth.possessions {
                if (t.from_s - p.from_s).abs() < 1e-6 {
                    println!("   TRUTH {:?}", t);
                }
            }
            for sp in &truth.spans {
                if sp.to_s > p.from_s && sp.from_s < p.to_s {
                    let w = match &sp.what {
                        setdrift_simulate::Did::Option(o) => format!(
                            "{} {} complete {} steps {:?}",
                            o.option,
                            o.hand,
                            o.complete,
                            o.steps
                                .iter()
                                .map(|x| (x.from_s, x.to_s, x.complete))
                                .collect::<Vec<_>>()
                        ),
                        o => format!("{o:?}"),
                    };
                    println!(
                        "   TRUE {:.1}-{:.1} {}",
                        sp.from_s,
                        sp.to_s,
                        w.chars().take(160).collect::<String>()
                    );
                }
            }
            for g in &r.segments {
                let w = match &g.what {
                    What::Option(run) => format!(
                        "{} {:?} margin {:.2} cost {:.2}",
                        graph.options[run.option].id, run.verdict, run.margin, run.cost
                    ),
                    o => format!("{o:?}"),
                };
                println!("   said {:.1}-{:.1} {w}", g.from_s, g.to_s);
            }
        }
    }
}

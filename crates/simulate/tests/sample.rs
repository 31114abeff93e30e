//! The bundled scenario: what it promises is in it.
#![allow(clippy::unwrap_used)]

use setdrift_playbook::graph::Graph;
use setdrift_simulate::*;

fn lantern() -> Graph {
    let text = include_str!("../../../sample-tracks/lantern.toml");
    setdrift_playbook::load_str(text, "lantern.toml")
        .unwrap()
        .graph
}

#[test]
#[ignore = "prints the scenario to read"]
fn print_the_sample() {
    let g = lantern();
    println!(
        "{} nodes {} edges starts {:?}",
        g.nodes.len(),
        g.edges.len(),
        g.starts
    );
    for (i, n) in g.nodes.iter().enumerate() {
        println!(
            "{i}: {} step {} last {} {:.1}s",
            g.options[n.option].id,
            n.step,
            n.last,
            n.motion.duration_s()
        );
        for a in &n.actions {
            println!(
                "     {}-{} {} {:?} cue {:?}",
                a.from,
                a.to,
                a.text,
                std::mem::discriminant(&a.kind),
                a.cue.is_some()
            );
        }
    }
    for e in &g.edges {
        println!("{} -> {} {:?}", e.from, e.to, e.refill);
    }
    for (s, t) in sample::sessions(&g).unwrap() {
        println!("== {} {} s", s.id, s.ball.present.len() as f64 / s.rate_hz);
        let mut last = usize::MAX;
        for x in &t.spans {
            if x.possession != last {
                last = x.possession;
                let p = &t.possessions[last];
                println!(
                    "  {:.1}-{:.1} {} {} walk {}",
                    p.from_s, p.to_s, p.outcome, p.points, p.walk_through
                );
            }
            let what = match &x.what {
                Did::Option(r) => format!(
                    "{} {} {:?} complete {}",
                    r.option,
                    r.hand,
                    r.steps
                        .iter()
                        .map(|s| (
                            s.node,
                            ((s.to_s - s.from_s) * 10.0).round() / 10.0,
                            s.complete
                        ))
                        .collect::<Vec<_>>(),
                    r.complete
                ),
                Did::OffScript { name, .. } => format!("** {name}"),
                o => format!("{o:?}"),
            };
            println!("      {:.2}-{:.2} {what}", x.from_s, x.to_s);
        }
        for a in &t.actions {
            let n = &g.nodes[a.node];
            println!(
                "act {} | {} | cue {:?} lag {:?} jab {} moving {} {:?} off {:?} done {:?}",
                g.options[n.option].id,
                n.actions[a.action].text,
                a.cue_s,
                a.onset_s
                    .zip(a.cue_s)
                    .map(|(o, c)| ((o - c) * 100.0).round() / 100.0),
                a.jab_s.is_some(),
                a.moving,
                a.class,
                a.off_by
                    .iter()
                    .map(|o| o.map(|v| (v * 100.0).round() / 100.0))
                    .collect::<Vec<_>>(),
                a.done_s
                    .zip(a.onset_s)
                    .map(|(d, o)| ((d - o) * 100.0).round() / 100.0)
            );
        }
    }
}

/// Every option is run to its end in the games; improvisations occur 8, 6, 4, 3 and 2 times; the
/// player with the habit of leaving late does; the wing of the zipper stands higher every time.
#[test]
fn the_scenario_keeps_its_promises() {
    let g = lantern();
    let all = sample::sessions(&g).unwrap();
    assert_eq!(all.len(), 4);
    assert!(all[0].0.practice && all[0].0.rate_hz == 10.0);
    let games = &all[1..];
    let spans = || games.iter().flat_map(|(_, t)| &t.spans);
    for option in &g.options {
        let n = spans()
            .filter(|s| matches!(&s.what, Did::Option(r) if r.option == option.id && r.complete))
            .count();
        assert!(n >= 2, "{} completed {n} times", option.id);
    }
    for (kind, n) in sample::MADE_UP {
        let played = spans()
            .filter(|s| matches!(&s.what, Did::OffScript { name, .. } if name == kind.name()))
            .count();
        assert_eq!(played, n.iter().sum::<usize>(), "{}", kind.name());
    }
    let (mut late, mut of) = ((0, 0), (0, 0));
    for (s, t) in games {
        for a in t.actions.iter().filter(|a| a.class.is_some()) {
            let c = if s.players[a.player].id == "H11" {
                &mut late
            } else {
                &mut of
            };
            c.0 += usize::from(a.class.as_deref() == Some("late"));
            c.1 += 1;
        }
    }
    let share = |c: (usize, usize)| c.0 as f64 / c.1 as f64;
    assert!(
        late.1 > 10 && share(late) > 0.35 && share(of) < 0.2,
        "{late:?} {of:?}"
    );
    let mut before = 0.2;
    for (k, (s, t)) in games.iter().enumerate() {
        let mut out = Vec::new();
        for span in &t.spans {
            let Did::Option(run) = &span.what else {
                continue;
            };
            if run.option != sample::DRIFT.0 {
                continue;
            }
            let player = run.players[g.role(sample::DRIFT.1).unwrap()];
            let f = (span.from_s * s.rate_hz).round() as usize;
            let track = &s.tracks[player];
            let end = t.possessions[span.possession].end;
            let at =
                setdrift_court::CourtPoint::new(track.x[f], track.y[f]).to_attack(&g.court, end);
            out.push(at.x - setdrift_court::spot(&g.court, "right wing").unwrap().1.x);
        }
        out.sort_by(f64::total_cmp);
        let mean = out[out.len() / 2];
        assert!((mean - sample::DRIFT.2[k]).abs() < 0.35, "{mean}");
        assert!(mean > before);
        before = mean;
    }
}

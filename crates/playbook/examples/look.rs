//! Prints what a playbook compiles to: nodes, durations, edges.
#![allow(clippy::print_stdout)]
fn main() {
    let path = std::env::args().nth(1).expect("a file");
    let source = std::fs::read_to_string(&path).expect("readable");
    match setdrift_playbook::load_str(&source, &path) {
        Err(d) => println!("{d}"),
        Ok(c) => {
            println!("{}", c.warnings);
            let g = &c.graph;
            for (i, n) in g.nodes.iter().enumerate() {
                let next: Vec<String> = g
                    .edges
                    .iter()
                    .filter(|e| e.from == i)
                    .map(|e| {
                        format!(
                            "{}{}",
                            e.to,
                            e.refill
                                .as_ref()
                                .map_or(String::new(), |r| format!("{r:?}"))
                        )
                    })
                    .collect();
                println!(
                    "{i:3} {:12} step {} {:.1} s -> {}",
                    g.options[n.option].id,
                    n.step + 1,
                    n.motion.duration_s(),
                    next.join(" ")
                );
                for a in &n.actions {
                    println!(
                        "      {:4.1}..{:4.1} {}",
                        a.from as f64 / 10.0,
                        a.to as f64 / 10.0,
                        a.text
                    );
                }
            }
        }
    }
}

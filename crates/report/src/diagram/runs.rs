//! The ways through an option: one for each arrangement it is entered in, and for each branch.

use setdrift_playbook::graph::{Graph, Node, NodeIx, OptionIx};

/// Two ways are drawn as one when nobody stands further apart in them than this, metres.
const ALIKE: f64 = 0.5;

/// One way through an option.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Its steps.
    pub nodes: Vec<NodeIx>,
    /// What it may follow, in words; never empty for a graph made from text.
    pub after: Vec<String>,
}

/// All ways through an option, in the graph's order, those that look alike drawn together.
#[must_use]
pub fn runs(g: &Graph, option: OptionIx) -> Vec<Run> {
    let mut out: Vec<Run> = Vec::new();
    for nodes in g.ways(option) {
        let after = before(g, nodes[0]);
        match out.iter_mut().find(|r| alike(g, &r.nodes, &nodes)) {
            Some(r) => {
                for a in after {
                    if !r.after.contains(&a) {
                        r.after.push(a);
                    }
                }
            }
            None => out.push(Run { nodes, after }),
        }
    }
    out
}

/// What a first step follows: formations by name, options by title.
fn before(g: &Graph, first: NodeIx) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut add = |s: String| {
        if !out.contains(&s) {
            out.push(s);
        }
    };
    if g.starts.contains(&first) {
        for f in &g.formations {
            let here = g.nodes[first].motion.roles.iter().zip(&f.places);
            if here.clone().count() > 0 && here.clone().all(|(row, p)| row[0].distance(*p) < 1e-6) {
                add(f.name.clone());
            }
        }
    }
    for e in g.edges.iter().filter(|e| e.to == first) {
        let n = &g.nodes[e.from];
        let title = &g.options[n.option].title;
        add(if n.last {
            title.clone()
        } else {
            format!("{title}, step {}", n.step + 1)
        });
    }
    out
}

fn alike(g: &Graph, a: &[NodeIx], b: &[NodeIx]) -> bool {
    a.len() == b.len()
        && a.iter()
            .zip(b)
            .all(|(a, b)| same_drawing(&g.nodes[*a], &g.nodes[*b]))
}

fn same_drawing(a: &Node, b: &Node) -> bool {
    let words = a.actions.iter().map(|x| (x.role, &x.text));
    let near = |frame: fn(usize) -> usize| {
        a.motion.roles.iter().zip(&b.motion.roles).all(|(p, q)| {
            let (i, j) = (frame(p.len()), frame(q.len()));
            p[i].distance(q[j]) <= ALIKE
        })
    };
    words.eq(b.actions.iter().map(|x| (x.role, &x.text))) && near(|_| 0) && near(|n| n - 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use setdrift_playbook::load_str;

    fn titles(g: &Graph, option: &str) -> Vec<Vec<String>> {
        runs(g, g.option(option).unwrap())
            .into_iter()
            .map(|r| r.after)
            .collect()
    }

    #[test]
    fn every_entry_and_every_branch_is_a_run() {
        let source = "name = \"t\"\n[formations.f]\n1 = \"top\"\n2 = \"left wing\"\n\
            3 = \"right wing\"\nball = 1\n[options.a]\nafter = [\"f\"]\nsteps = [[\"1 passes to 2 \
            or 3\"], [\"2 or 3 cuts to rim\"]]\n[options.b]\ntitle = \"Bee\"\nafter = [\"f\"]\n\
            steps = [[\"1 dribbles to left slot\"]]\n[options.c]\nafter = [\"f\", \"b\"]\n\
            steps = [[\"1 dribbles to right slot\"], [\"1 shoots\"]]\n";
        let g = load_str(source, "t").unwrap().graph;
        // Two receivers, and for each, one of the two cuts (the one with the ball does not).
        assert_eq!(titles(&g, "a").len(), 2);
        assert_eq!(titles(&g, "c"), vec![vec!["f"], vec!["Bee"]]);
        let first = &runs(&g, g.option("c").unwrap())[0];
        assert_eq!(first.nodes.len(), 2);
    }

    #[test]
    fn entries_that_look_alike_are_drawn_once() {
        let source = "name = \"t\"\n[formations.f]\n1 = \"top\"\n2 = \"left wing\"\nball = 1\n\
            [options.a]\nafter = [\"f\"]\nsteps = [[\"1 passes to 2\"]]\n\
            [options.b]\nafter = [\"f\"]\nsteps = [[\"1 skip passes to 2\"]]\n\
            [options.c]\nafter = [\"a\", \"b\"]\nsteps = [[\"2 shoots\"]]\n";
        let g = load_str(source, "t").unwrap().graph;
        assert_eq!(titles(&g, "c"), vec![vec!["A", "B"]]);
    }
}

//! What can be recognised at all: the playbook's steps and formations as reference frames laid
//! end to end, and what may follow what among them. Independent of any possession.

use setdrift_court::AttackPoint;
use setdrift_playbook::graph::{Graph, NodeIx, RoleIx};

/// What a template is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A step of an option.
    Step(NodeIx),
    /// Standing in a formation (index into the graph's formations).
    Set(usize),
}

/// One reference.
#[derive(Debug, Clone)]
pub struct Template {
    /// What it is.
    pub kind: Kind,
    /// First row in [`Templates::frames`].
    pub first: usize,
    /// Number of rows.
    pub len: usize,
}

impl Template {
    /// Fewest query frames for all of it, where no more than `fastest` rows are taken in one.
    pub fn shortest(&self, fastest: usize) -> usize {
        self.len.div_ceil(fastest).max(1)
    }
}

/// A place in the reference: per role, and the ball.
#[derive(Debug, Clone)]
pub struct Frame {
    /// A place per role, attack frame.
    pub roles: Vec<AttackPoint>,
    /// The ball's place, where the reference says.
    pub ball: Option<AttackPoint>,
    /// Tolerance per role, metres.
    pub tolerance: Vec<f64>,
}

/// How one template may follow another.
#[derive(Debug, Clone)]
pub struct Link {
    /// Template index.
    pub from: usize,
    /// Template index.
    pub to: usize,
    /// `refill[new role] = old role`, where roles change.
    pub refill: Option<Vec<RoleIx>>,
}

/// All references of a playbook.
#[derive(Debug, Clone)]
pub struct Templates {
    /// The references.
    pub list: Vec<Template>,
    /// Their frames, end to end.
    pub frames: Vec<Frame>,
    /// What may follow what.
    pub links: Vec<Link>,
    /// Per template: whether it may begin when nothing came before.
    pub begins: Vec<bool>,
}

/// Two states are one when no role differs by more, metres.
const SAME_PLACE_M: f64 = 0.6;

impl Templates {
    /// Lays out a compiled playbook.
    #[must_use]
    pub fn new(graph: &Graph) -> Self {
        let mut t = Self {
            list: Vec::new(),
            frames: Vec::new(),
            links: Vec::new(),
            begins: Vec::new(),
        };
        for (ix, node) in graph.nodes.iter().enumerate() {
            let first = t.frames.len();
            let m = &node.motion;
            for f in 0..m.frames() {
                t.frames.push(Frame {
                    roles: m.roles.iter().map(|r| r[f]).collect(),
                    ball: Some(m.ball[f]),
                    tolerance: m.tolerance.clone(),
                });
            }
            t.list.push(Template {
                kind: Kind::Step(ix),
                first,
                len: m.frames(),
            });
            t.begins.push(graph.starts.contains(&ix));
        }
        for e in &graph.edges {
            t.links.push(Link {
                from: e.from,
                to: e.to,
                refill: e.refill.clone(),
            });
        }
        let tolerance = graph.nodes.first().map_or_else(
            || vec![1.2; graph.roles.len()],
            |n| n.motion.tolerance.clone(),
        );
        for (ix, formation) in graph.formations.iter().enumerate() {
            let set = t.list.len();
            t.list.push(Template {
                kind: Kind::Set(ix),
                first: t.frames.len(),
                len: 1,
            });
            t.begins.push(true);
            let ball = formation
                .ball
                .and_then(|r| formation.places.get(r))
                .copied();
            let frame = Frame {
                roles: formation.places.clone(),
                ball,
                tolerance: tolerance.clone(),
            };
            for node in 0..graph.nodes.len() {
                if t.begins[node] && same_place(&frame, &t.frames[t.list[node].first]) {
                    t.links.push(Link {
                        from: set,
                        to: node,
                        refill: None,
                    });
                }
            }
            t.frames.push(frame);
        }
        t
    }
}

fn same_place(a: &Frame, b: &Frame) -> bool {
    a.roles
        .iter()
        .zip(&b.roles)
        .all(|(p, q)| p.distance(*q) <= SAME_PLACE_M)
}

//! Two plain ways to recognise options, on the same data, so that what recognition gains is seen: a
//! window that slides over the query and is warped against every whole option, and the same with a
//! published rule for rejection.

use setdrift_court::AttackPoint;
use setdrift_events::model::Possession;
use setdrift_playbook::graph::{Graph, NodeIx};
use setdrift_recognise::Query;
use setdrift_recognise::score::Label;
use setdrift_tracks::Session;
use setdrift_warp::{Dtw, Series};

/// When a window's best option is believed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reject {
    /// When its mean squared distance per body is at most this, square metres.
    Above(f64),
    /// When its distance is at least 10 % below the mean distance of all options (Perše, Kristan,
    /// Perš & Kovačič 2006).
    TenPercentBelowMean,
}

/// A whole option as one reference: every role and the ball, from each arrangement it is entered in.
struct Reference {
    option: usize,
    frames: usize,
    /// By hand.
    bodies: [Vec<Vec<AttackPoint>>; 2],
}

fn references(graph: &Graph) -> Vec<Reference> {
    let mut out = Vec::new();
    for option in 0..graph.options.len() {
        for chain in graph.ways(option) {
            let body = |of: &dyn Fn(NodeIx) -> Vec<AttackPoint>| -> Vec<AttackPoint> {
                chain.iter().flat_map(|n| of(*n)).collect()
            };
            let mut right: Vec<Vec<AttackPoint>> = (0..graph.roles.len())
                .map(|r| body(&|n| graph.nodes[n].motion.roles[r].clone()))
                .collect();
            right.push(body(&|n| graph.nodes[n].motion.ball.clone()));
            let left = right
                .iter()
                .map(|b| b.iter().map(|p| p.mirrored()).collect())
                .collect();
            out.push(Reference {
                option,
                frames: right[0].len(),
                bodies: [right, left],
            });
        }
    }
    out
}

fn series(bodies: &[&[AttackPoint]]) -> Option<Series<f32>> {
    let frames = bodies.first()?.len();
    let mut values = Vec::with_capacity(frames * bodies.len() * 2);
    for t in 0..frames {
        for body in bodies {
            values.extend([body[t].x as f32, body[t].y as f32]);
        }
    }
    Series::from_frames(&values, bodies.len() * 2).ok()
}

/// Labels at 10 Hz. At each half second, windows as long as each option are warped against it, roles
/// given to players by who stands nearest where the option begins; each frame takes the label of
/// the best accepted window over it.
#[must_use]
pub fn labels(
    session: &Session,
    graph: &Graph,
    possession: &Possession,
    reject: Reject,
) -> Vec<Label> {
    let query = Query::new(session, possession);
    let frames = query.frames();
    let roles = graph.roles.len();
    let mut best: Vec<(f64, Label)> = vec![(f64::INFINITY, None); frames];
    if query.players.len() != roles {
        return vec![None; frames];
    }
    // A missing sample stays where the last one was.
    let filled = |track: &[Option<AttackPoint>]| -> Vec<AttackPoint> {
        let mut last = track.iter().flatten().next().copied().unwrap_or_default();
        track
            .iter()
            .map(|p| {
                last = p.unwrap_or(last);
                last
            })
            .collect()
    };
    let players: Vec<Vec<AttackPoint>> = query.paths.iter().map(|p| filled(p)).collect();
    let ball = filled(&query.ball);
    let all = references(graph);
    let params = Dtw::squared();
    let Ok(dtw) = params.check() else {
        return vec![None; frames];
    };
    for start in (0..frames).step_by(5) {
        let mut found: Vec<(f64, usize, usize)> = Vec::new();
        for r in &all {
            let end = start + r.frames;
            if end > frames {
                continue;
            }
            for bodies in &r.bodies {
                let order = nearest(&players, bodies, start, roles);
                let mut query: Vec<&[AttackPoint]> =
                    order.iter().map(|p| &players[*p][start..end]).collect();
                query.push(&ball[start..end]);
                let reference: Vec<&[AttackPoint]> = bodies.iter().map(Vec::as_slice).collect();
                let (Some(q), Some(r_)) = (series(&query), series(&reference)) else {
                    continue;
                };
                if let Ok(d) = dtw.distance(&q, &r_) {
                    let per = f64::from(d) / (r.frames * (roles + 1)) as f64;
                    found.push((per, r.option, end));
                }
            }
        }
        let mean = found.iter().map(|f| f.0).sum::<f64>() / found.len().max(1) as f64;
        let Some(&(d, option, end)) = found.iter().min_by(|a, b| a.0.total_cmp(&b.0)) else {
            continue;
        };
        let accepted = match reject {
            Reject::Above(most) => d <= most,
            Reject::TenPercentBelowMean => d <= 0.9 * mean,
        };
        if accepted {
            for slot in &mut best[start..end] {
                if d < slot.0 {
                    *slot = (d, Some(option));
                }
            }
        }
    }
    best.into_iter().map(|b| b.1).collect()
}

/// Players by role, each role in turn taking the nearest left.
fn nearest(
    players: &[Vec<AttackPoint>],
    bodies: &[Vec<AttackPoint>],
    start: usize,
    roles: usize,
) -> Vec<usize> {
    let mut left: Vec<usize> = (0..players.len()).collect();
    let mut order = Vec::with_capacity(roles);
    for body in &bodies[..roles] {
        let at = (0..left.len()).min_by(|a, b| {
            let d = |i: usize| players[left[i]][start].distance(body[0]);
            d(*a).total_cmp(&d(*b))
        });
        if let Some(at) = at {
            order.push(left.remove(at));
        }
    }
    order
}

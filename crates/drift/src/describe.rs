//! What a group does, in the trade's words, from the events its members share and the mean motion.

use crate::distance::{Match, STRIDE};
use crate::mean::{Mean, reach};
use crate::model::{Move, MoveKind, Stretch};
use setdrift_court::{AttackPoint, Court, Zone, spot, spot_names};

/// Most phrases of a description.
const MOST_PHRASES: usize = 4;
/// A cut is at least this long, metres.
const CUT: f64 = 2.5;
/// A cut of this length is more than getting into place, metres.
const LONG_CUT: f64 = 4.5;
/// A dribble is a drive when it brings the ball this much nearer to the ring, metres.
const DRIVE: f64 = 2.0;
/// Within this of the ring one is at the rim, metres.
const RIM: f64 = 2.0;

/// A move that at least half of the members share, in the medoid's rows, frames and side.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Shared {
    pub kind: MoveKind,
    pub row: usize,
    pub with: Option<usize>,
    frame: usize,
    place: AttackPoint,
    to: Option<AttackPoint>,
}

/// The moves that at least half of the members share, by time.
pub(crate) fn shared_moves(members: &[&Stretch], matches: &[Match]) -> Vec<Shared> {
    // (kind, row, with, n-th of its like in the member) -> occurrences
    type Key = (MoveKind, usize, Option<usize>, usize);
    let mut seen: Vec<(Key, Vec<Move>)> = Vec::new();
    for (member, m) in members.iter().zip(matches) {
        let mut own: Vec<Key> = Vec::new();
        for mv in &member.moves {
            let Some(mv) = on_medoid(mv, m) else {
                continue;
            };
            let like = |k: &&Key| (k.0, k.1, k.2) == (mv.kind, mv.row, mv.with);
            let key = (mv.kind, mv.row, mv.with, own.iter().filter(like).count());
            own.push(key);
            match seen.iter_mut().find(|s| s.0 == key) {
                Some(s) => s.1.push(mv),
                None => seen.push((key, vec![mv])),
            }
        }
    }
    let mut shared: Vec<Shared> = seen
        .into_iter()
        .filter(|(_, all)| all.len() * 2 >= members.len())
        .map(|((kind, row, with, _), all)| {
            let mut frames: Vec<usize> = all.iter().map(|m| m.frame).collect();
            frames.sort_unstable();
            let to: Vec<AttackPoint> = all.iter().filter_map(|m| m.to).collect();
            Shared {
                kind,
                row,
                with,
                frame: frames[frames.len() / 2],
                place: middle(&all.iter().map(|m| m.place).collect::<Vec<_>>()),
                to: (!to.is_empty()).then(|| middle(&to)),
            }
        })
        .collect();
    shared.sort_by_key(|s| (s.frame, s.kind, s.row, s.with));
    shared
}

/// A member's move in the rows, frames and side of the medoid; `None` outside what they share.
fn on_medoid(mv: &Move, m: &Match) -> Option<Move> {
    let row = |r: usize| m.rows.iter().position(|&x| x == r);
    let side = |p: AttackPoint| if m.mirrored { p.mirrored() } else { p };
    let at = mv.frame / STRIDE;
    let (first, last) = (m.path.first()?.1, m.path.last()?.1);
    // An event is seen a little before or after the movement that it goes with.
    if at + 3 < first || at > last + 3 {
        return None;
    }
    let frame = m.path.iter().min_by_key(|p| p.1.abs_diff(at))?.0 * STRIDE;
    Some(Move {
        row: row(mv.row)?,
        with: match mv.with {
            Some(w) => Some(row(w)?),
            None => None,
        },
        frame,
        place: side(mv.place),
        to: mv.to.map(side),
        ..*mv
    })
}

/// Median of each coordinate.
fn middle(places: &[AttackPoint]) -> AttackPoint {
    let of = |get: fn(&AttackPoint) -> f64| {
        let mut v: Vec<f64> = places.iter().map(get).collect();
        v.sort_by(f64::total_cmp);
        let n = v.len();
        if n == 0 {
            0.0
        } else {
            f64::midpoint(v[(n - 1) / 2], v[n / 2])
        }
    };
    AttackPoint::new(of(|p| p.x), of(|p| p.y))
}

/// One line on what the group does: `ball screen at the top, then drive to the right side`.
pub(crate) fn describe(court: &Court, shared: &[Shared], mean: &Mean, both_sides: bool) -> String {
    let mut phrases: Vec<(usize, u8, String)> = Vec::new();
    let mut spoken = vec![false; mean.rows.len()];
    for s in shared {
        if let Some((weight, text)) = phrase(court, s) {
            phrases.push((s.frame.saturating_sub(mean.first), weight, text));
            if matches!(s.kind, MoveKind::Dribble | MoveKind::Drive) {
                spoken[s.row] = true;
            }
        }
    }
    for (row, path) in mean.rows.iter().enumerate() {
        if !spoken[row]
            && let Some((frame, text)) = cut(court, path, &mean.ball)
        {
            // Long cuts tell more than getting into place.
            let weight = if reach(path) >= LONG_CUT { 2 } else { 3 };
            phrases.push((frame, weight, text));
        }
    }
    if phrases.is_empty() {
        return "players shift without a cut, a screen or a pass in common".to_owned();
    }
    // The most telling stay; what is said twice is said once.
    phrases.sort_by_key(|p| (p.1, p.0));
    let mut kept: Vec<(usize, u8, String)> = Vec::new();
    for p in phrases {
        if kept.len() < MOST_PHRASES && !kept.iter().any(|k| k.2 == p.2) {
            kept.push(p);
        }
    }
    kept.sort_by_key(|p| (p.0, p.1));
    let words: Vec<String> = kept.into_iter().map(|p| p.2).collect();
    let mut text = words.join(", then ");
    if both_sides {
        text.push_str(" (run to both sides; drawn to one)");
    }
    text
}

/// A move in words, with its rank: lower tells more.
fn phrase(court: &Court, s: &Shared) -> Option<(u8, String)> {
    let at = place_name(court, s.place);
    Some(match s.kind {
        MoveKind::BallScreen => (0, format!("ball screen at {at}")),
        MoveKind::HandOff => (0, format!("hand-off at {at}")),
        MoveKind::OffBallScreen => (1, format!("screen away from the ball at {at}")),
        MoveKind::Pass => {
            let to = s.to?;
            (1, format!("pass from {at} to {}", place_name(court, to)))
        }
        MoveKind::Shot => (4, format!("shot from {at}")),
        MoveKind::Drive => (0, format!("drive to {}", drive_end(court, s.to?))),
        MoveKind::Dribble => {
            let to = s.to?;
            let ring = court.ring();
            if s.place.distance(ring) - to.distance(ring) >= DRIVE {
                (0, format!("drive to {}", drive_end(court, to)))
            } else if s.place.distance(to) >= CUT {
                let to = place_name(court, to);
                (3, format!("dribble from {at} to {to}"))
            } else {
                return None;
            }
        }
    })
}

fn drive_end(court: &Court, to: AttackPoint) -> String {
    if to.distance(court.ring()) <= RIM {
        "the rim".to_owned()
    } else if Zone::Lane.contains(court, to) {
        "the lane".to_owned()
    } else if to.y > 0.0 {
        "the right side".to_owned()
    } else {
        "the left side".to_owned()
    }
}

/// A cut in words with the frame at which it is half done; `None` for who stays about where he is
/// or has the ball most of the way.
fn cut(court: &Court, path: &[AttackPoint], ball: &[AttackPoint]) -> Option<(usize, String)> {
    let (from, to) = (*path.first()?, *path.last()?);
    let with_ball = path
        .iter()
        .zip(ball)
        .filter(|(p, b)| p.distance(**b) < 1.0)
        .count();
    if with_ball * 2 > path.len() {
        let near = from.distance(court.ring()) - to.distance(court.ring());
        let middle = half_way(path, from);
        return (near >= DRIVE).then(|| (middle, format!("drive to {}", drive_end(court, to))));
    }
    // A cut may turn back: it is told by its far point where the end is near the start.
    let far = path
        .iter()
        .copied()
        .max_by(|a, b| a.distance(from).total_cmp(&b.distance(from)))?;
    if far.distance(from) < CUT {
        return None;
    }
    let back = to.distance(from) < 0.5 * far.distance(from);
    let target = if back { far } else { to };
    let in_lane = |p: &AttackPoint| Zone::Lane.contains(court, *p);
    let through = path.iter().any(in_lane) && !in_lane(&from) && !in_lane(&target);
    let start = place_name(court, from);
    let end = if target.distance(court.ring()) <= RIM {
        "the rim".to_owned()
    } else {
        place_name(court, target)
    };
    if start == end {
        return None;
    }
    let via = if through { " through the lane" } else { "" };
    let again = if back { " and back" } else { "" };
    Some((
        half_way(path, from),
        format!("cut from {start}{via} to {end}{again}"),
    ))
}

fn half_way(path: &[AttackPoint], from: AttackPoint) -> usize {
    let far = path.iter().map(|p| p.distance(from)).fold(0.0, f64::max);
    path.iter()
        .position(|p| p.distance(from) >= far / 2.0)
        .unwrap_or(0)
}

/// The nearest named spot, with its article.
pub(crate) fn place_name(court: &Court, place: AttackPoint) -> String {
    let name = spot_names()
        .filter_map(|n| spot(court, n))
        .min_by(|a, b| a.1.distance(place).total_cmp(&b.1.distance(place)))
        .map_or("", |s| s.0.as_str());
    if name == "half court" {
        name.to_owned()
    } else {
        format!("the {name}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(a: AttackPoint, b: AttackPoint) -> Vec<AttackPoint> {
        (0..=20).map(|k| a.lerp(b, f64::from(k) / 20.0)).collect()
    }

    #[test]
    fn a_cut_through_the_lane_and_one_who_stays() {
        let court = Court::fiba();
        let at = |n| spot(&court, n).unwrap().1;
        let mean = Mean {
            rows: vec![
                line(at("right short corner"), at("left wing")),
                line(at("left corner"), at("left corner")),
            ],
            ball: Vec::new(),
            first: 0,
        };
        let text = describe(&court, &[], &mean, false);
        assert_eq!(
            text,
            "cut from the right short corner through the lane to the left wing"
        );
    }

    #[test]
    fn a_screen_and_a_drive() {
        let court = Court::fiba();
        let at = |n| spot(&court, n).unwrap().1;
        let mean = Mean {
            rows: vec![line(at("top"), at("rim")), vec![at("right slot"); 21]],
            ball: line(at("top"), at("rim")),
            first: 0,
        };
        let screen = Shared {
            kind: MoveKind::BallScreen,
            row: 1,
            with: Some(0),
            frame: 2,
            place: at("right slot"),
            to: None,
        };
        assert_eq!(
            describe(&court, &[screen], &mean, true),
            "ball screen at the right slot, then drive to the rim (run to both sides; drawn to one)"
        );
    }
}

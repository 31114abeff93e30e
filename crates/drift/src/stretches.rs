//! Off-script segments of a session, cut out and turned to the attack frame at 10 Hz.

use crate::model::{Move, MoveKind, Stretch, StretchId};
use setdrift_court::{AttackPoint, CourtPoint};
use setdrift_events::model::{BallStory, EventKind, PlayerIx, Possession};
use setdrift_playbook::graph::RATE_HZ;
use setdrift_recognise::model::{Reading, What};
use setdrift_tracks::{Session, Track};

/// Shorter than this is no movement of its own, seconds (common practice, no published source).
pub const SHORTEST_S: f64 = 2.0;
/// Most players of one team on the floor.
const MOST: usize = 5;
/// A player is part of a stretch when at least this share of his places is known.
const KNOWN_PLAYER: f64 = 0.3;
/// A stretch is used when at least this share of all places is known.
const KNOWN_ALL: f64 = 0.6;
/// When no one gets further than this the team is waiting, metres.
const STILL: f64 = 1.5;
/// Slack between a screen and the spell of the player it is for, seconds.
const SPELL_SLACK_S: f64 = 0.3;

/// The off-script stretches of a session, by possession and time.
///
/// A stretch begins when the whole team is in the front court (where `set_s` is known; possessions
/// in which it never is have none) and ends with the segment or at the first shot, turnover or dead
/// ball. Left out are those shorter than [`SHORTEST_S`], mostly unknown, or in which all wait.
#[must_use]
pub fn stretches(
    session: &Session,
    story: &BallStory,
    possessions: &[Possession],
    readings: &[Reading],
) -> Vec<Stretch> {
    let mut found = Vec::new();
    for reading in readings {
        let Some(possession) = possessions.iter().find(|p| p.number == reading.possession) else {
            continue;
        };
        let Some(set_s) = possession.set_s else {
            continue;
        };
        for (segment, s) in reading.segments.iter().enumerate() {
            if s.what != What::OffScript {
                continue;
            }
            let from_s = s.from_s.max(set_s);
            let to_s = end_of_play(story, from_s, s.to_s.min(possession.to_s));
            let id = StretchId {
                session: session.id.clone(),
                possession: possession.number,
                segment,
            };
            found.extend(stretch(session, story, possession, id, from_s, to_s));
        }
    }
    found
}

/// The first shot, turnover or dead ball after `from_s`, or `to_s`.
fn end_of_play(story: &BallStory, from_s: f64, to_s: f64) -> f64 {
    story
        .events
        .iter()
        .filter(|e| {
            matches!(
                e.kind,
                EventKind::Shot { .. } | EventKind::Turnover { .. } | EventKind::DeadBall
            )
        })
        .map(|e| e.time_s)
        .filter(|t| *t > from_s)
        .fold(to_s, f64::min)
}

fn stretch(
    session: &Session,
    story: &BallStory,
    possession: &Possession,
    id: StretchId,
    from_s: f64,
    to_s: f64,
) -> Option<Stretch> {
    let length = to_s - from_s;
    if !(length >= SHORTEST_S && length.is_finite()) {
        return None;
    }
    let frames = (length * RATE_HZ + 1e-6).floor() as usize + 1;
    let sample = |track: &Track| -> Vec<Option<AttackPoint>> {
        (0..frames)
            .map(|k| place_at(session, track, from_s + k as f64 / RATE_HZ))
            .map(|p| p.map(|p| p.to_attack(&session.court, possession.end)))
            .collect()
    };
    let mut rows: Vec<(PlayerIx, usize, Vec<Option<AttackPoint>>)> = possession
        .attackers
        .iter()
        .filter_map(|&p| {
            let path = sample(session.tracks.get(p)?);
            let known = path.iter().flatten().count();
            (known as f64 >= KNOWN_PLAYER * frames as f64).then_some((p, known, path))
        })
        .collect();
    // After a substitution more than five may be listed: those seen most stay.
    rows.sort_by_key(|r| (std::cmp::Reverse(r.1), r.0));
    rows.truncate(MOST);
    rows.sort_by_key(|r| r.0);
    let expected = possession.attackers.len().min(MOST);
    let known: usize = rows.iter().map(|r| r.1).sum();
    if rows.is_empty()
        || rows.len() + 1 < expected
        || (known as f64) < KNOWN_ALL * (expected * frames) as f64
    {
        return None;
    }
    let moving = rows.iter().any(|r| reach(&r.2) > STILL);
    if !moving {
        return None;
    }
    let players: Vec<PlayerIx> = rows.iter().map(|r| r.0).collect();
    let cut = Cut {
        session,
        story,
        possession,
        players: &players,
        from_s,
        to_s,
    };
    let moves = cut.moves();
    Some(Stretch {
        id,
        from_s,
        to_s,
        players: players
            .iter()
            .map(|&p| session.players[p].id.clone())
            .collect(),
        paths: rows.into_iter().map(|r| r.2).collect(),
        ball: session.ball.as_ref().map(sample).unwrap_or_default(),
        events: moves.iter().map(|m| m.kind.word().to_owned()).collect(),
        moves,
        points: possession.result.points,
    })
}

/// Greatest distance from the first known place, metres.
fn reach(path: &[Option<AttackPoint>]) -> f64 {
    let mut known = path.iter().flatten();
    let Some(first) = known.next() else {
        return 0.0;
    };
    known.map(|p| p.distance(*first)).fold(0.0, f64::max)
}

/// A track's place at a time between its frames: on the line between two known frames, or the
/// known frame itself when the time falls on it.
pub(crate) fn place_at(session: &Session, track: &Track, time_s: f64) -> Option<CourtPoint> {
    let at = (time_s - session.start_s) * session.rate_hz;
    if !(at > -0.5 && at < session.frames() as f64 - 0.5) {
        return None;
    }
    let near = at.round().max(0.0);
    if (at - near).abs() < 1e-3 {
        return track.at(near as usize);
    }
    let low = at.floor().max(0.0);
    let (a, b) = (track.at(low as usize)?, track.at(low as usize + 1)?);
    let t = at - low;
    Some(CourtPoint::new(
        a.x + (b.x - a.x) * t,
        a.y + (b.y - a.y) * t,
    ))
}

impl MoveKind {
    /// The trade's word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::HandOff => "hand-off",
            Self::Dribble => "dribble",
            Self::Drive => "drive",
            Self::BallScreen => "ball screen",
            Self::OffBallScreen => "screen",
            Self::Shot => "shot",
        }
    }
}

/// A stretch on its way from the session.
struct Cut<'a> {
    session: &'a Session,
    story: &'a BallStory,
    possession: &'a Possession,
    players: &'a [PlayerIx],
    from_s: f64,
    to_s: f64,
}

impl Cut<'_> {
    fn row(&self, player: PlayerIx) -> Option<usize> {
        self.players.iter().position(|&p| p == player)
    }

    fn turned(&self, place: CourtPoint) -> AttackPoint {
        place.to_attack(&self.session.court, self.possession.end)
    }

    fn moves(&self) -> Vec<Move> {
        let inside = |t: f64| t >= self.from_s && t <= self.to_s;
        self.story
            .events
            .iter()
            .filter(|e| inside(e.time_s))
            .filter_map(|e| {
                let (kind, who, with, to) = match e.kind {
                    EventKind::Pass {
                        from,
                        to,
                        catch_place,
                        ..
                    } => (
                        MoveKind::Pass,
                        from,
                        Some(to),
                        Some(self.turned(catch_place)),
                    ),
                    EventKind::HandOff { from, to, .. } => {
                        (MoveKind::HandOff, from, Some(to), None)
                    }
                    EventKind::DribbleStart { player, .. } => {
                        let to = self.dribble_end(player, e.time_s);
                        (MoveKind::Dribble, player, None, to)
                    }
                    EventKind::Drive { player, to_s, .. } => {
                        let to = self.player_at(player, to_s.min(self.to_s));
                        (MoveKind::Drive, player, None, to)
                    }
                    EventKind::Screen { screener, user, .. } => {
                        let kind = if self.has_ball(user, e.time_s) {
                            MoveKind::BallScreen
                        } else {
                            MoveKind::OffBallScreen
                        };
                        (kind, screener, Some(user), None)
                    }
                    EventKind::Shot { player, .. } => (MoveKind::Shot, player, None, None),
                    _ => return None,
                };
                Some(Move {
                    kind,
                    row: self.row(who)?,
                    with: with.and_then(|w| self.row(w)),
                    frame: ((e.time_s - self.from_s) * RATE_HZ).round() as usize,
                    place: self.turned(e.place),
                    to,
                })
            })
            .collect()
    }

    fn has_ball(&self, player: PlayerIx, time_s: f64) -> bool {
        self.story.spells.iter().any(|s| {
            s.player == player
                && time_s >= s.from_s - SPELL_SLACK_S
                && time_s <= s.to_s + SPELL_SLACK_S
        })
    }

    /// Where a dribble that begins at a time ends: at the player's next pick-up, pass, hand-off or
    /// shot, or with the stretch.
    fn dribble_end(&self, player: PlayerIx, time_s: f64) -> Option<AttackPoint> {
        let end = self
            .story
            .events
            .iter()
            .filter(|e| e.time_s > time_s)
            .find(|e| match e.kind {
                EventKind::PickUp { player: p, .. } | EventKind::Shot { player: p, .. } => {
                    p == player
                }
                EventKind::Pass { from, .. } | EventKind::HandOff { from, .. } => from == player,
                EventKind::Turnover { .. } | EventKind::DeadBall => true,
                _ => false,
            })
            .map_or(self.to_s, |e| e.time_s.min(self.to_s));
        self.player_at(player, end)
    }

    fn player_at(&self, player: PlayerIx, time_s: f64) -> Option<AttackPoint> {
        let track = self.session.tracks.get(player)?;
        place_at(self.session, track, time_s).map(|p| self.turned(p))
    }
}

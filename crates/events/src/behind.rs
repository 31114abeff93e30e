//! Who goes behind an end line: after a basket one of the other team does, to bring the ball in
//! (FIBA Official Basketball Rules, Art. 17.2), and hardly anybody while play goes on.

use crate::motion::Motion;
use setdrift_court::End;
use setdrift_tracks::{Known, Track};

/// Whoever brings the ball in stands behind the line for at least this long, and has the ball there
/// for this long, seconds.
const STANDS_S: f64 = 0.6;
const HELD_S: f64 = 0.4;
/// He is there no sooner after the basket and no later, seconds: free fall from the ring takes
/// 0.8 s, and nobody waits longer (common practice). Who runs out of the floor is back sooner.
const SOONEST_S: f64 = 0.8;
const LATEST_S: f64 = 7.0;
/// Most go out within this, seconds: what is out of sight later hides nobody.
const USUAL_S: f64 = 5.0;
/// Who is out of sight for longer than this, seconds, and before or after it was this near to the
/// line, metres (a second's run), may have been behind it.
const HIDDEN_S: f64 = 1.0;
const NEAR_M: f64 = 6.0;
/// Who is further behind it, metres, stands there whoever else does not: places err by as much.
const SURELY_M: f64 = 0.2;

/// How far beyond an end line, metres, somebody of a team stands at most, and the ball is held.
/// `None` where that is not to be seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Beyond {
    pub player: Option<f64>,
    pub ball: Option<f64>,
}

/// Looks behind an end line for a team's players and for the ball, some time after a shot and
/// before `until_s`.
pub(crate) fn beyond(m: &Motion, team: usize, end: End, ring_s: f64, until_s: f64) -> Beyond {
    let s = m.session;
    let half = s.court.measures().length / 2.0;
    let sign = if end == End::Right { 1.0 } else { -1.0 };
    let from = s.frame_at(ring_s + SOONEST_S);
    let to = s.frame_at((ring_s + LATEST_S).min(until_s));
    let usual = from..to.min(s.frame_at(ring_s + USUAL_S));
    let past = |x: f64| sign * x - half;
    let most = |t: &Track, stands_s: f64| {
        let frames = ((stands_s * s.rate_hz).round() as usize).max(1);
        furthest(t, (from, to), frames, past)
    };
    let five = || s.tracks.iter().zip(&s.players).filter(|x| x.1.team == team);
    let long = (HIDDEN_S * s.rate_hz).round() as usize;
    let hidden = |(t, _): (&Track, _)| {
        let mut last: Option<usize> = None;
        (usual.start.saturating_sub(long)..usual.end)
            .filter(|f| t.known[*f] != Known::Unknown)
            .any(|f| {
                let before = last.replace(f);
                before.is_some_and(|l| f - l > long && past(t.x[l]).max(past(t.x[f])) > -NEAR_M)
            })
    };
    let lost = |b: &Track| {
        let mut unseen = 0;
        usual.clone().any(|f| {
            let seen = b.known[f] == Known::Measured;
            unseen = if seen { 0 } else { unseen + 1 };
            unseen as f64 > HELD_S * s.rate_hz
        })
    };
    Beyond {
        player: five()
            .filter_map(|(t, _)| most(t, STANDS_S))
            .reduce(f64::max)
            .filter(|x| *x > SURELY_M || !five().any(hidden)),
        ball: s.ball.as_ref().and_then(|b| {
            let x = most(b, HELD_S)?;
            (x > 0.0 || !lost(b)).then_some(x)
        }),
    }
}

/// The greatest mean over so many frames, of which at least half are measured.
fn furthest(
    t: &Track,
    (from, to): (usize, usize),
    frames: usize,
    beyond: impl Fn(f64) -> f64,
) -> Option<f64> {
    let at = |f: usize| (t.known[f] == Known::Measured).then(|| beyond(t.x[f]));
    let mut most: Option<f64> = None;
    let (mut sum, mut n) = (0.0, 0);
    for f in from..to {
        if let Some(b) = at(f) {
            (sum, n) = (sum + b, n + 1);
        }
        if f >= from + frames
            && let Some(b) = at(f - frames)
        {
            (sum, n) = (sum - b, n - 1);
        }
        if f + 1 >= from + frames && 2 * n >= frames {
            let mean = sum / n as f64;
            most = Some(most.map_or(mean, |m| m.max(mean)));
        }
    }
    most
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing;
    use setdrift_tracks::Session;

    /// Along the court at `x(t)`.
    fn track(x: &dyn Fn(f64) -> Option<f64>) -> Track {
        testing::track(100, |t| Some([x(t)?, 1.0]))
    }

    /// One player of either team and the ball at 10 Hz for 10 s; the second team's is at `x(t)`.
    fn session(x: &dyn Fn(f64) -> Option<f64>, ball: &dyn Fn(f64) -> Option<f64>) -> Session {
        let players = vec![(0, track(&|_| Some(10.0))), (1, track(x))];
        testing::session(10.0, players, Some(track(ball)))
    }

    #[test]
    fn who_stands_behind_the_line_is_beyond_it_and_who_runs_over_it_is_not() {
        let see = |s: &Session, team, end, until_s| {
            beyond(&Motion::new(s), team, end, 1.0, until_s).player
        };
        // Half a court is 14 m long.
        let stands = session(
            &|t| Some(if (3.0..4.0).contains(&t) { 14.5 } else { 12.0 }),
            &|_| Some(0.0),
        );
        assert_eq!(see(&stands, 1, End::Right, 9.0), Some(0.5));
        assert_eq!(see(&stands, 1, End::Left, 9.0), Some(-26.0));
        assert_eq!(see(&stands, 1, End::Right, 2.8), Some(-2.0));
        assert_eq!(see(&stands, 1, End::Right, 2.0), None);
        assert_eq!(see(&stands, 0, End::Right, 9.0), Some(-4.0));
        let runs = session(
            &|t| Some(if (3.0..3.2).contains(&t) { 14.5 } else { 12.0 }),
            &|_| Some(0.0),
        );
        assert!(see(&runs, 1, End::Right, 9.0).is_some_and(|x| x < -0.5));
    }

    #[test]
    fn what_is_out_of_sight_for_long_may_have_been_there() {
        let hole = |from: f64, to: f64| move |t: f64| (!(from..to).contains(&t)).then_some(12.0);
        let see = |s: &Session| beyond(&Motion::new(s), 1, End::Right, 1.0, 9.0);
        let here = see(&session(&hole(3.0, 3.4), &hole(3.0, 3.2)));
        assert_eq!((here.player, here.ball), (Some(-2.0), Some(-2.0)));
        let gone = see(&session(&hole(3.0, 5.0), &hole(3.0, 4.0)));
        assert_eq!((gone.player, gone.ball), (None, None));
    }
}

//! Who goes behind an end line: after a basket one of the other team does, to bring the ball in
//! (FIBA Official Basketball Rules, Art. 17.2), and hardly anybody while play goes on.

use crate::motion::Motion;
use setdrift_court::End;
use setdrift_tracks::Known;

/// Whoever brings the ball in stands behind the line for at least this long, seconds.
const STANDS_S: f64 = 0.6;
/// Whose mean place over that time is further than this beyond the line stands behind it, and
/// who is inside has not gone out, metres: places err by as much.
const BEYOND_M: f64 = 0.3;
const INSIDE_M: f64 = 0.0;
/// He is there no sooner after the basket and no later, seconds: free fall from the ring takes
/// 0.8 s, and nobody waits longer (common practice). Who runs out of the floor is back sooner.
const SOONEST_S: f64 = 0.8;
const LATEST_S: f64 = 7.0;

/// Whether somebody of a team is behind an end line some time after a shot and before `until_s`;
/// `None` where that is not to be seen.
pub(crate) fn taken_out(
    m: &Motion,
    team: usize,
    end: End,
    ring_s: f64,
    until_s: f64,
) -> Option<bool> {
    let s = m.session;
    let half = s.court.measures().length / 2.0;
    let sign = if end == End::Right { 1.0 } else { -1.0 };
    let frames = ((STANDS_S * s.rate_hz).round() as usize).max(1);
    let to_s = (ring_s + LATEST_S).min(until_s);
    let (from, to) = (s.frame_at(ring_s + SOONEST_S), s.frame_at(to_s));
    if to < from + frames {
        return None;
    }
    let mut most = f64::NEG_INFINITY;
    for (t, _) in s.tracks.iter().zip(&s.players).filter(|x| x.1.team == team) {
        let beyond = |f: usize| (t.known[f] == Known::Measured).then(|| sign * t.x[f] - half);
        let (mut sum, mut n) = (0.0, 0);
        for f in from..to {
            if let Some(b) = beyond(f) {
                (sum, n) = (sum + b, n + 1);
            }
            if f >= from + frames
                && let Some(b) = beyond(f - frames)
            {
                (sum, n) = (sum - b, n - 1);
            }
            if f + 1 >= from + frames && 2 * n >= frames {
                most = most.max(sum / n as f64);
            }
        }
    }
    if most > BEYOND_M {
        Some(true)
    } else {
        (most.is_finite() && most < INSIDE_M).then_some(false)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing;
    use setdrift_tracks::{Session, Track};

    /// One player of either team at 10 Hz for 10 s; the second team's is at `x(t)`.
    fn session(x: impl Fn(f64) -> f64) -> Session {
        let n = 100;
        let track = |x: &dyn Fn(f64) -> f64| Track {
            x: (0..n).map(|f| x(f64::from(f) / 10.0)).collect(),
            y: vec![1.0; n as usize],
            z: None,
            known: vec![Known::Measured; n as usize],
        };
        testing::session(10.0, vec![(0, track(&|_| 10.0)), (1, track(&x))], None)
    }

    #[test]
    fn who_stands_behind_the_line_has_gone_out_and_who_runs_over_it_has_not() {
        let out = |s: &Session, end, until_s| taken_out(&Motion::new(s), 1, end, 1.0, until_s);
        // Half a court is 14 m long.
        let stands = session(|t| if (3.0..4.0).contains(&t) { 14.5 } else { 12.0 });
        assert_eq!(out(&stands, End::Right, 9.0), Some(true));
        assert_eq!(out(&stands, End::Left, 9.0), Some(false));
        assert_eq!(out(&stands, End::Right, 2.8), Some(false));
        assert_eq!(out(&stands, End::Right, 2.0), None);
        let runs = session(|t| if (3.0..3.2).contains(&t) { 14.5 } else { 12.0 });
        assert_eq!(out(&runs, End::Right, 9.0), Some(false));
        let on_the_line = session(|t| if t > 3.0 { 14.15 } else { 12.0 });
        assert_eq!(out(&on_the_line, End::Right, 9.0), None);
        assert_eq!(
            taken_out(&Motion::new(&stands), 0, End::Right, 1.0, 9.0),
            Some(false)
        );
    }
}

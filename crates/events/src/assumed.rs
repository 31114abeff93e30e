//! What the model of the ball's control takes for granted, beside [`crate::Params`]; sources and
//! reasons are in `docs/method-events.md`.

/// A ball in hands is seldom above this, metres: standing reach with the arms up is 2.3 to 2.8 m
/// for adults (common practice).
pub(crate) const IN_HANDS: f64 = 2.3;
/// A ball that has fallen from a ring bounces up no further, metres: it regains about three
/// quarters of its height (FIBA Official Basketball Rules, Official Basketball Equipment: 1.035 to
/// 1.085 m from 1.8 m, less; value from memory), once.
pub(crate) const BOUNCES: f64 = 1.9;
/// A ball off or through a ring has fallen after this, seconds: free fall from 3.5 m to the floor
/// takes 0.85 s after 0.3 s on the way up.
pub(crate) const FALLEN_S: f64 = 0.9;
/// How much further from the body a ball is dribbled for each metre a second, seconds: pushed
/// ahead to keep the stride (common practice, no published source).
pub(crate) const AHEAD: f64 = 0.06;

/// Courses this far behind the best are dropped, nats.
pub(crate) const BEAM: f64 = 25.0;
/// One wild sample decides nothing, nats.
pub(crate) const WILD: f64 = 8.0;
/// Looks a second that count in full: what the model leaves out outlasts a frame.
const LOOKS: f64 = 12.0;
/// For how much of a look each frame counts.
pub(crate) fn fresh(rate_hz: f64) -> f64 {
    (LOOKS / rate_hz).min(1.0)
}

/// Time in which the offset of a held ball changes while it is not gripped anew, seconds.
pub(crate) const HAND_S: f64 = 6.0;
/// How often it is: turning, changing hands, beginning to dribble; a second.
pub(crate) const REGRIP: f64 = 1.5;
/// Variance of the offset that a catch leaves: the ball is drawn to where it is held.
pub(crate) const SETTLE: f64 = 0.05;
/// How far a held ball trembles from look to look, metres.
pub(crate) const TREMBLE: f64 = 0.06;

/// Spread of a velocity per axis before anything is seen of it, m/s: thrown, off a ring, rolling,
/// at rest.
pub(crate) const THROW: f64 = 6.5;
pub(crate) const CAROM: f64 = 2.5;
pub(crate) const ROLL: f64 = 1.5;
pub(crate) const REST: f64 = 0.5;
/// Spread of the change of velocity over a second, m/s: drag and bounces of a flight, of a carom,
/// of a loose ball, of one at rest.
pub(crate) const BEND: f64 = 2.5;
pub(crate) const BEND_OFF: f64 = 2.0;
pub(crate) const BEND_LOOSE: f64 = 3.0;
pub(crate) const BEND_REST: f64 = 1.5;
/// Share of its sensor's slow noise that a free ball drifts by.
pub(crate) const DRIFT: f64 = 0.5;
/// A loose ball's restlessness as a share of a held one's: calm alone does not tell it.
pub(crate) const RESTLESS: f64 = 0.2;

/// Longest flight, seconds; none is likely to last longer than the second.
pub(crate) const LONGEST_S: f64 = 3.0;
pub(crate) const LONG_S: f64 = 1.3;
/// Spread of the log speed of passes.
pub(crate) const SPEED_SPREAD: f64 = 0.45;
/// Median times to the ring and off it, seconds, and spread of their logarithms (see `shots`).
pub(crate) const SHOT_S: f64 = 0.75;
pub(crate) const CAROM_S: f64 = 0.9;
pub(crate) const TIME_SPREAD: f64 = 0.4;
/// Square root of a whole turn, for normal densities.
pub(crate) const ROOT_TAU: f64 = 2.506_628_274_631;

/// Shares of what is let go: thrown, lost, dead.
pub(crate) const THROWN: f64 = 0.85;
pub(crate) const LOST: f64 = 0.003;
pub(crate) const DEAD: f64 = 0.005;
/// Shares of what a throw is for: each team-mate, each opponent (stolen), the ring. Viterbi
/// counts one course where there are many: what may happen at many moments needs no small share.
pub(crate) const TO_MATE: f64 = 0.2;
pub(crate) const TO_OTHER: f64 = 0.0005;
pub(crate) const TO_RING: f64 = 0.8;
/// How much more of what is let go near a ring is for it, and how near, metres.
pub(crate) const LAYUP: f64 = 6.0;
pub(crate) const LAYUP_M: f64 = 1.5;
/// Share of caroms for each player.
pub(crate) const REBOUND: f64 = 0.3;
/// Rates a second, within reach: handed to a team-mate, taken by an opponent.
pub(crate) const HANDED: f64 = 0.25;
pub(crate) const TAKEN: f64 = 0.0001;
/// Rates a second at which a free ball within reach is picked up: loose, through the ring, dead.
pub(crate) const PICKED: [f64; 3] = [4.0, 0.5, 0.4];
/// Rates a second at which a free ball beside somebody no longer stays free: loose, else, off a
/// ring.
pub(crate) const STAYS: [f64; 3] = [6.0, 3.0, 4.0];
/// Rate a second at which the ball is given to somebody behind a line.
pub(crate) const FETCHED: f64 = 0.1;

/// How much seldomer the team that has scored picks the ball up below the ring.
pub(crate) const SCORER: f64 = 0.1;

/// Mean height of a dribbled ball, metres (common practice).
pub(crate) const DRIBBLED: f64 = 0.55;
/// Links held before those are dropped that no live course needs.
pub(crate) const LINKS: usize = 1 << 16;

/// Nobody stands behind a line while somebody inside has the ball, but to bring it in: nats a
/// second against that; and how far behind surely is, metres.
pub(crate) const BEHIND: f64 = 4.0;
pub(crate) const BEHIND_M: f64 = 0.3;

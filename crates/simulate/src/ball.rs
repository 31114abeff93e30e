//! Where the ball is, and how high.

use crate::rng::Rng;
use crate::vec2::{V2, v2};

/// How a ball flies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Arc {
    Chest,
    Bounce,
    Lob,
    Shot,
    /// From the ring to a rebounder's hands.
    Carom,
    /// Through the net to the floor.
    Drop,
}

impl Arc {
    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Bounce => "bounce",
            Self::Lob => "lob",
            _ => "chest",
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Hold {
    Held {
        by: usize,
    },
    Dribbled {
        by: usize,
    },
    Air {
        from: V2,
        z: (f64, f64),
        to: V2,
        start: f64,
        end: f64,
        arc: Arc,
    },
    /// Lies or rolls; nobody has it.
    Loose,
}

#[derive(Debug, Clone)]
pub(crate) struct Ball {
    pub(crate) hold: Hold,
    pub(crate) pos: V2,
    pub(crate) z: f64,
    /// What is left of the jump between where the ball was and where the new state wants it.
    slip: (V2, f64),
    phase: f64,
    carry: f64,
    /// How far the hands are raised for a shot, metres.
    pub(crate) lift: f64,
}

const HAND_Z: f64 = 1.15;
const LOW_Z: f64 = 0.12;

impl Ball {
    pub(crate) fn new(by: usize, pos: V2) -> Self {
        Self {
            hold: Hold::Held { by },
            pos,
            z: HAND_Z,
            slip: (V2::default(), 0.0),
            phase: 0.5,
            carry: 0.0,
            lift: 0.0,
        }
    }

    pub(crate) fn holder(&self) -> Option<usize> {
        match self.hold {
            Hold::Held { by } | Hold::Dribbled { by } => Some(by),
            _ => None,
        }
    }

    /// Changes the state without a jump of the ball: the gap closes within a tenth of a second.
    pub(crate) fn take(&mut self, hold: Hold, at: (V2, f64)) {
        if matches!(hold, Hold::Dribbled { .. }) {
            self.phase = 0.5;
        }
        self.hold = hold;
        self.slip = (self.pos - at.0, self.z - at.1);
    }

    pub(crate) fn fly(&mut self, to: V2, to_z: f64, start: f64, end: f64, arc: Arc) {
        self.hold = Hold::Air {
            from: self.pos,
            z: (self.z, to_z),
            to,
            start,
            end,
            arc,
        };
        self.slip = (V2::default(), 0.0);
    }

    /// Where the ball of a player who has it wants to be.
    pub(crate) fn at_body(
        hold: Hold,
        pos: V2,
        facing: V2,
        speed: f64,
        hold_m: f64,
        dribble_m: f64,
    ) -> (V2, f64) {
        match hold {
            Hold::Dribbled { .. } => {
                // Beside the foot while standing, pushed ahead while running.
                let side = facing.left() * -0.55;
                let dir = (facing + side).unit();
                (pos + dir * (dribble_m + 0.06 * speed), HAND_Z - 0.25)
            }
            _ => (pos + facing * hold_m, HAND_Z),
        }
    }

    /// Moves on to time `t`; `body` is the holder's place, facing, speed and hold distance.
    pub(crate) fn step(
        &mut self,
        t: f64,
        dt: f64,
        body: Option<(V2, V2, f64, f64)>,
        dribble_m: f64,
        rng: &mut Rng,
    ) {
        self.carry += -self.carry * dt / 0.8 + 0.12 * (2.0 * dt / 0.8_f64).sqrt() * rng.normal();
        let fade = libm::exp(-dt / 0.035);
        self.slip = (self.slip.0 * fade, self.slip.1 * fade);
        match (self.hold, body) {
            (Hold::Held { .. }, Some((pos, facing, speed, hold_m))) => {
                let (p, z) = Self::at_body(self.hold, pos, facing, speed, hold_m, dribble_m);
                let wobble = facing.left() * (0.6 * self.carry);
                self.pos = p + wobble + self.slip.0;
                self.z = z + self.carry + self.slip.1 + self.lift;
            }
            (Hold::Dribbled { .. }, Some((pos, facing, speed, hold_m))) => {
                let (p, top) = Self::at_body(self.hold, pos, facing, speed, hold_m, dribble_m);
                // Faster and lower at speed; a third of each beat the ball is in the hand.
                let beat = if speed > 2.0 { 0.50 } else { 0.62 };
                self.phase = (self.phase + dt / beat).fract();
                let s = ((self.phase - 0.5).abs() * 2.0 - 0.33).max(0.0) / 0.67;
                let top = top - if speed > 2.0 { 0.1 } else { 0.0 };
                // s runs 1..0 on the way up to the hand and 0..1 on the way down, fastest at
                // the floor.
                let z = top - (top - LOW_Z) * s * s;
                self.pos = p + facing.left() * (0.4 * self.carry) + self.slip.0;
                self.z = z + self.slip.1;
            }
            (
                Hold::Air {
                    from,
                    z,
                    to,
                    start,
                    end,
                    arc,
                },
                _,
            ) => {
                let s = ((t - start) / (end - start)).clamp(0.0, 1.0);
                self.pos = from.lerp(to, s);
                let line = z.0 + (z.1 - z.0) * s;
                let flight = end - start;
                // Height of a parabola over its chord after a flight time: g T^2 / 8 at the top.
                let over = 4.905 * flight * flight * s * (1.0 - s);
                self.z = match arc {
                    Arc::Bounce => {
                        let floor = 0.6;
                        if s < floor {
                            z.0 + (LOW_Z - z.0) * (s / floor)
                        } else {
                            LOW_Z + (z.1 - LOW_Z) * ((s - floor) / (1.0 - floor))
                        }
                    }
                    Arc::Drop => z.0 + (z.1 - z.0) * s * s,
                    Arc::Chest | Arc::Lob | Arc::Shot | Arc::Carom => line + over,
                };
            }
            _ => {
                self.z = (self.z - 2.0 * dt).max(LOW_Z);
            }
        }
        if !self.pos.x.is_finite() {
            self.pos = v2(0.0, 0.0);
        }
    }
}

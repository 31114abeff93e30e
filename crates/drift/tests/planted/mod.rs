//! Off-script stretches with known kinds: a generator of this test's own, apart from the one that
//! makes the sample.
//!
//! Players go from place to place at a steady speed with eased starts and stops; each stretch has
//! its own tempo, its own misses of every place, its own side and order of players, is cut early or
//! late, and often has a tail of walking back into place.

#![allow(dead_code, reason = "each test file uses its own part")]

use setdrift_court::{AttackPoint, Court, spot, spot_names};
use setdrift_drift::model::{Move, MoveKind, Stretch, StretchId};

/// xorshift64* (Marsaglia 2003; Vigna 2016).
pub struct Rng(pub u64);

impl Rng {
    pub fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_f491_4f6c_dd1d)
    }

    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn between(&mut self, a: f64, b: f64) -> f64 {
        a + (b - a) * self.unit()
    }

    pub fn below(&mut self, n: usize) -> usize {
        (self.unit() * n as f64) as usize
    }

    /// Sum of twelve uniforms: near enough to a normal for a test.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}

/// One player's part: places with the time at which to be there, seconds.
type Part = Vec<(f64, AttackPoint)>;

/// A kind of improvisation: five parts and who holds the ball from when.
pub struct Kind {
    pub parts: Vec<Part>,
    /// (from when, holder).
    pub holder: Vec<(f64, usize)>,
    pub length_s: f64,
    pub moves: Vec<(MoveKind, usize, Option<usize>, f64)>,
}

pub fn at(name: &str) -> AttackPoint {
    spot(&Court::fiba(), name).unwrap().1
}

fn part(steps: &[(f64, &str)]) -> Part {
    steps.iter().map(|(t, n)| (*t, at(n))).collect()
}

/// Kinds that a coach would tell apart.
pub fn kinds() -> Vec<Kind> {
    vec![
        // Ball screen at the top, drive right, screener rolls.
        Kind {
            parts: vec![
                part(&[
                    (0.0, "top"),
                    (1.4, "top"),
                    (3.2, "right elbow"),
                    (4.0, "right block"),
                ]),
                part(&[
                    (0.0, "high post"),
                    (1.2, "right slot"),
                    (2.0, "right slot"),
                    (4.0, "rim"),
                ]),
                part(&[(0.0, "left wing")]),
                part(&[(0.0, "right corner")]),
                part(&[(0.0, "left corner")]),
            ],
            holder: vec![(0.0, 0)],
            length_s: 4.0,
            moves: vec![
                (MoveKind::BallScreen, 1, Some(0), 1.2),
                (MoveKind::Drive, 0, None, 1.5),
            ],
        },
        // Back cut from the wing, passer at the top.
        Kind {
            parts: vec![
                part(&[(0.0, "top")]),
                part(&[(0.0, "left elbow"), (3.5, "left block")]),
                part(&[
                    (0.0, "right wing"),
                    (0.8, "right hash"),
                    (2.6, "rim"),
                    (3.6, "left short corner"),
                ]),
                part(&[(0.0, "left wing")]),
                part(&[
                    (0.0, "right corner"),
                    (1.5, "right corner"),
                    (3.4, "right wing"),
                ]),
            ],
            holder: vec![(0.0, 0), (2.2, 2)],
            length_s: 3.6,
            moves: vec![(MoveKind::Pass, 0, Some(2), 1.9)],
        },
        // Dribble hand-off on the left wing, taker drives the middle.
        Kind {
            parts: vec![
                part(&[(0.0, "top"), (1.8, "left wing"), (4.4, "left corner")]),
                part(&[
                    (0.0, "left corner"),
                    (1.0, "left corner"),
                    (2.0, "left wing"),
                    (4.4, "nail"),
                ]),
                part(&[(0.0, "right wing")]),
                part(&[(0.0, "right corner")]),
                part(&[(0.0, "right block"), (4.4, "right dunker spot")]),
            ],
            holder: vec![(0.0, 0), (2.0, 1)],
            length_s: 4.4,
            moves: vec![
                (MoveKind::HandOff, 0, Some(1), 1.9),
                (MoveKind::Drive, 1, None, 2.2),
            ],
        },
        // Isolation on the right wing: the others clear out.
        Kind {
            parts: vec![
                part(&[(0.0, "right wing"), (2.4, "right wing"), (4.2, "rim")]),
                part(&[(0.0, "right block"), (2.0, "left block")]),
                part(&[(0.0, "top"), (2.0, "left slot")]),
                part(&[(0.0, "right corner"), (2.6, "left corner")]),
                part(&[(0.0, "left wing")]),
            ],
            holder: vec![(0.0, 0)],
            length_s: 4.2,
            moves: vec![(MoveKind::Drive, 0, None, 2.5)],
        },
    ]
}

fn eased(part: &Part, t: f64) -> AttackPoint {
    let Some(next) = part.iter().position(|p| p.0 > t) else {
        return part[part.len() - 1].1;
    };
    if next == 0 {
        return part[0].1;
    }
    let (a, b) = (part[next - 1], part[next]);
    let u = (t - a.0) / (b.0 - a.0);
    // Trapezoidal speed: a fifth to start, a fifth to stop.
    let s = if u < 0.2 {
        u * u / 0.32
    } else if u > 0.8 {
        1.0 - (1.0 - u) * (1.0 - u) / 0.32
    } else {
        0.125 + (u - 0.2) * 1.25
    };
    a.1.lerp(b.1, s)
}

/// How rough the stretches are.
#[derive(Clone, Copy)]
pub struct Rough {
    /// Spread of each place, metres.
    pub place_m: f64,
    /// Spread of each sample, metres.
    pub sensor_m: f64,
    /// Most that a beginning or end is cut or added, seconds.
    pub cut_s: f64,
    /// Share of samples lost.
    pub lost: f64,
}

pub const ROUGH: Rough = Rough {
    place_m: 0.45,
    sensor_m: 0.1,
    cut_s: 0.9,
    lost: 0.0,
};

/// One performance of a kind.
pub fn perform(kind: &Kind, number: usize, rough: Rough, rng: &mut Rng) -> Stretch {
    let tempo = rng.between(0.8, 1.25);
    let mut order: Vec<usize> = (0..5).collect();
    for i in (1..5).rev() {
        order.swap(i, rng.below(i + 1));
    }
    let mirrored = rng.unit() < 0.4;
    let side = |p: AttackPoint| if mirrored { p.mirrored() } else { p };
    let parts: Vec<Part> = kind
        .parts
        .iter()
        .map(|p| {
            let mut late = rng.between(-0.2, 0.3);
            p.iter()
                .map(|(t, place)| {
                    late = late.max(-t);
                    let miss = rough.place_m;
                    let place = AttackPoint::new(
                        place.x + miss * rng.normal(),
                        place.y + miss * rng.normal(),
                    );
                    ((t + late) * tempo, place)
                })
                .collect()
        })
        .collect();
    // A tail: everyone walks to somewhere near.
    let length = kind.length_s * tempo;
    let back: Vec<AttackPoint> = parts
        .iter()
        .map(|p| {
            let last = p[p.len() - 1].1;
            AttackPoint::new(
                (last.x + 1.5 * rng.normal()).clamp(0.5, 13.0),
                (last.y + 1.5 * rng.normal()).clamp(-7.0, 7.0),
            )
        })
        .collect();
    let from = rng.between(-rough.cut_s, rough.cut_s / 2.0);
    let to = length + rng.between(-rough.cut_s / 2.0, 2.0 * rough.cut_s);
    let frames = ((to - from) * 10.0) as usize + 1;
    let place = |row: usize, t: f64| {
        if t > length {
            let u = ((t - length) / 2.5).min(1.0);
            eased(&parts[row], length).lerp(back[row], u)
        } else {
            eased(&parts[row], t.max(0.0))
        }
    };
    let sensor = rough.sensor_m;
    let lost = rough.lost;
    let mut sample = |p: AttackPoint| {
        let p = AttackPoint::new(p.x + sensor * rng.normal(), p.y + sensor * rng.normal());
        (rng.unit() >= lost).then(|| side(p))
    };
    let mut paths = vec![Vec::new(); 5];
    let mut ball = Vec::new();
    for f in 0..frames {
        let t = from + f as f64 / 10.0;
        for (row, path) in order.iter().zip(&mut paths) {
            path.push(sample(place(*row, t)));
        }
        let holder = kind
            .holder
            .iter()
            .rev()
            .find(|h| h.0 * tempo <= t)
            .map_or(kind.holder[0].1, |h| h.1);
        ball.push(sample(place(holder, t)));
    }
    let row_of = |row: usize| order.iter().position(|r| *r == row).unwrap();
    let moves: Vec<Move> = kind
        .moves
        .iter()
        .map(|(k, row, with, t)| (k, row, with, t * tempo))
        .filter(|m| m.3 >= from && m.3 <= to)
        .map(|(k, row, with, t)| Move {
            kind: *k,
            row: row_of(*row),
            with: with.map(row_of),
            frame: ((t - from) * 10.0) as usize,
            place: side(place(*row, t)),
            to: match k {
                MoveKind::Pass => with.map(|w| side(place(w, t + 0.4))),
                MoveKind::Drive => Some(side(place(*row, length))),
                _ => None,
            },
        })
        .collect();
    stretch(number, paths, ball, moves)
}

pub fn stretch(
    number: usize,
    paths: Vec<Vec<Option<AttackPoint>>>,
    ball: Vec<Option<AttackPoint>>,
    moves: Vec<Move>,
) -> Stretch {
    Stretch {
        id: StretchId {
            session: "planted".into(),
            possession: number,
            segment: 1,
        },
        from_s: 20.0 * number as f64,
        to_s: 20.0 * number as f64 + (paths[0].len() - 1) as f64 / 10.0,
        players: (0..paths.len()).map(|p| format!("p{p}")).collect(),
        events: moves.iter().map(|m| m.kind.word().to_owned()).collect(),
        paths,
        ball,
        moves,
        points: Some((number % 3) as u32),
    }
}

/// Something that nobody does twice: five players at chance spots, two or three of whom go on to
/// others, by no plan.
pub fn once(number: usize, rough: Rough, rng: &mut Rng) -> Stretch {
    let names: Vec<&str> = spot_names().filter(|n| *n != "half court").collect();
    let mut free = names.clone();
    let mut take = |rng: &mut Rng| at(free.swap_remove(rng.below(free.len())));
    let movers = 2 + rng.below(3);
    let length_s = rng.between(3.0, 5.5);
    let parts = (0..5)
        .map(|row| {
            let mut part = vec![(0.0, take(rng))];
            if row < movers {
                let go = rng.between(0.2, 1.5);
                part.push((go, part[0].1));
                part.push((rng.between(go + 1.0, length_s), take(rng)));
            }
            part
        })
        .collect();
    let kind = Kind {
        parts,
        holder: vec![(0.0, rng.below(5)), (rng.between(1.0, 3.0), rng.below(5))],
        length_s,
        moves: Vec::new(),
    };
    perform(&kind, number, rough, rng)
}

/// `counts[k]` performances of kind `k` and `noise` others, shuffled, with their true kinds.
pub fn sample(
    counts: &[usize],
    noise: usize,
    rough: Rough,
    seed: u64,
) -> (Vec<Stretch>, Vec<Option<usize>>) {
    let mut rng = Rng(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
    for _ in 0..8 {
        rng.next();
    }
    let kinds = kinds();
    let mut truth: Vec<Option<usize>> = counts
        .iter()
        .enumerate()
        .flat_map(|(k, n)| vec![Some(k); *n])
        .chain(vec![None; noise])
        .collect();
    for i in (1..truth.len()).rev() {
        truth.swap(i, rng.below(i + 1));
    }
    let all = truth
        .iter()
        .enumerate()
        .map(|(i, k)| match k {
            Some(k) => perform(&kinds[*k], i, rough, &mut rng),
            None => once(i, rough, &mut rng),
        })
        .collect();
    (all, truth)
}

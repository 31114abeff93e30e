//! What a word can gain over off-script movement, at most, and whether that is worth its prices.

use pulp::{Arch, Simd, WithSimd};

/// Words looked at together.
pub const LANES: usize = 8;

/// Room for rounding in sums over a stretch.
pub const SLACK: f32 = 0.01;

/// The most that a word can save against going off script for the same frames, given what it costs
/// at least in each: over any frames, or over as many as the fastest tempo needs for all of it.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Gain {
    /// Over any frames.
    any: f32,
    /// Over enough frames for all of it.
    full: f32,
    /// From the first frame of the stretch on.
    any_from_start: f32,
    full_from_start: f32,
    /// To its last frame.
    to_end: f32,
    /// Over the whole stretch.
    whole: f32,
}

/// What a word pays, and what following words pay without it.
#[derive(Debug, Clone, Copy, Default)]
pub struct Prices {
    /// Of beginning afresh.
    pub entry: f32,
    /// Whether it may follow another word, and then pays nothing.
    pub follows: bool,
    /// Of breaking it off; infinite where it cannot be.
    pub break_off: f32,
    /// What a successor would pay to begin afresh; 0 without successors.
    pub saved: f32,
    /// Whether beginning and ending with the stretch is free.
    pub inside: bool,
}

impl Gain {
    /// Whether a best explanation may need the word: replaced by off-script movement, it must lose
    /// something.
    pub fn matters(&self, prices: &Prices) -> bool {
        let floor = prices.floors();
        (self.any > floor.any)
            | (self.full > floor.full)
            | (self.any_from_start > floor.any_from_start)
            | (self.full_from_start > floor.full_from_start)
            | (self.to_end > floor.to_end)
            | (self.whole > floor.whole)
    }

    /// All of its numbers.
    pub fn all(&self) -> [f32; 6] {
        [
            self.any,
            self.full,
            self.any_from_start,
            self.full_from_start,
            self.to_end,
            self.whole,
        ]
    }
}

impl From<[f32; 6]> for Gain {
    fn from([any, full, any_from_start, full_from_start, to_end, whole]: [f32; 6]) -> Self {
        Self {
            any,
            full,
            any_from_start,
            full_from_start,
            to_end,
            whole,
        }
    }
}

impl Prices {
    /// What a gain must be above, in any of its numbers, to be worth them.
    pub fn floors(&self) -> Gain {
        let entry = if self.follows { 0.0 } else { self.entry };
        // What the stretch begins with is entered for nothing, what it ends in is left for nothing.
        let inside = |price: f32| {
            if self.inside {
                price - SLACK
            } else {
                f32::INFINITY
            }
        };
        Gain {
            any: entry + self.break_off - SLACK,
            full: entry - self.saved - SLACK,
            any_from_start: inside(self.break_off),
            full_from_start: inside(-self.saved),
            to_end: inside(entry),
            whole: inside(0.0),
        }
    }
}

/// Words whose gains are looked for at once.
pub struct Scan<'a> {
    /// `[word][frame]`: their least costs.
    pub rows: &'a [f32],
    /// `[frame][word]`, to work in.
    pub scanned: &'a mut Vec<[f32; LANES]>,
    /// Cost of a frame off script.
    pub off: f32,
    /// Fewest frames for all of the word.
    pub shortest: usize,
}

impl Scan<'_> {
    /// The gains of the words.
    pub fn gains(self) -> [Gain; LANES] {
        Arch::new().dispatch(self)
    }
}

impl WithSimd for Scan<'_> {
    type Output = [Gain; LANES];

    /// With `S(t)` the gain of all frames before `t`, the most over frames `a..b` is the most of
    /// `S(b)` less the least of `S(a)` before.
    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) -> [Gain; LANES] {
        const N: usize = LANES;
        let frames = self.rows.len() / N;
        self.scanned.resize(frames, [0.0; N]);
        let rows: [&[f32]; N] = std::array::from_fn(|i| &self.rows[i * frames..][..frames]);
        let [a, b, c, d, e, f, g, h] = rows;
        let scanned = &mut self.scanned[..frames];
        let (a, b, c, d) = (&a[..frames], &b[..frames], &c[..frames], &d[..frames]);
        let (e, f, g, h) = (&e[..frames], &f[..frames], &g[..frames], &h[..frames]);
        for t in 0..frames {
            let row = [a[t], b[t], c[t], d[t], e[t], f[t], g[t], h[t]];
            for i in 0..N {
                scanned[t][i] = self.off - row[i];
            }
        }
        let rows = &self.scanned[..];
        const NEVER: f32 = f32::NEG_INFINITY;
        let (mut sum, mut behind) = ([0.0_f32; N], [0.0_f32; N]);
        let (mut least, mut least_behind) = ([0.0_f32; N], [0.0_f32; N]);
        let (mut any, mut full) = ([NEVER; N], [NEVER; N]);
        let (mut any_first, mut full_first) = ([NEVER; N], [NEVER; N]);
        for (t, row) in rows.iter().enumerate() {
            for i in 0..N {
                least[i] = less(sum[i], least[i]);
                sum[i] += row[i];
                any[i] = more(sum[i] - least[i], any[i]);
                any_first[i] = more(sum[i], any_first[i]);
            }
            if t + 1 < self.shortest {
                continue;
            }
            if t + 1 > self.shortest {
                let row = &rows[t - self.shortest];
                for i in 0..N {
                    behind[i] += row[i];
                }
            }
            for i in 0..N {
                least_behind[i] = less(behind[i], least_behind[i]);
                full[i] = more(sum[i] - least_behind[i], full[i]);
                full_first[i] = more(sum[i], full_first[i]);
            }
        }
        let gain = |i: usize| Gain {
            any: any[i],
            full: full[i],
            any_from_start: any_first[i],
            full_from_start: full_first[i],
            to_end: sum[i] - least[i],
            whole: sum[i],
        };
        std::array::from_fn(gain)
    }
}

#[inline(always)]
fn less(a: f32, b: f32) -> f32 {
    if a < b { a } else { b }
}

#[inline(always)]
fn more(a: f32, b: f32) -> f32 {
    if a > b { a } else { b }
}

//! What words can gain over off-script movement, at most, by their least costs over groups of frames:
//! never less than [`crate::gain`] says frame by frame, for all templates under an assignment together.

use crate::{
    coarse::{GROUP, Lanes},
    gain::{Gain, Prices, SLACK},
    parts::LANES,
};
use pulp::{Arch, Simd, WithSimd};
use std::ops::Range;

/// Rows that the costs of words are the sum of.
pub const ROWS: usize = 4;

/// What each number of a [`Gain`] must be above, `[number][lane]`.
type Floors = [[f32; LANES]; 6];

/// The words of a block of templates.
pub struct Block {
    floors: Floors,
    /// Fewest whole groups that any of the words needs.
    shortest: usize,
    /// How many more each needs, as bits: the lane counts where it is not 0.
    more: [[f32; LANES]; BITS],
    /// Fewest whole groups that each needs.
    needs: [f32; LANES],
}

/// Bits of the groups that one word needs more than another beside it.
const BITS: usize = 2;

impl Block {
    /// Of the templates in a block, which last at least so many frames, with what their words pay.
    pub fn new(
        lanes: &Lanes,
        block: usize,
        shortest: impl Fn(usize) -> usize,
        prices: impl Fn(usize) -> Prices,
    ) -> Self {
        let templates = lanes.of(block);
        // So many frames may begin and end within a group.
        let whole = |template: &Option<usize>| template.map(|t| shortest(t) / GROUP);
        let least = templates.iter().filter_map(whole).min().unwrap_or(0);
        let mut all = Self {
            floors: [[f32::INFINITY; LANES]; 6],
            shortest: least,
            more: [[0.0; LANES]; BITS],
            needs: [0.0; LANES],
        };
        for (lane, template) in templates.iter().enumerate() {
            let (Some(template), Some(groups)) = (template, whole(template)) else {
                continue;
            };
            for (of, floor) in all.floors.iter_mut().zip(prices(*template).floors().all()) {
                of[lane] = floor - SLACK;
            }
            let more = (groups - least).min((1 << BITS) - 1);
            for (bit, of) in all.more.iter_mut().enumerate() {
                of[lane] = (more >> bit & 1) as f32;
            }
            all.needs[lane] = (least + more) as f32;
        }
        all
    }
}

/// A stretch in groups of frames.
pub struct Groups {
    /// Which.
    pub range: Range<usize>,
    /// How many frames of each lie in the stretch.
    weights: Vec<f32>,
}

impl Groups {
    /// Those that some frames lie in.
    pub fn of(frames: &Range<usize>) -> Self {
        let range = frames.start / GROUP..frames.end.div_ceil(GROUP);
        let weight = |group: usize| {
            let (from, to) = (group * GROUP, (group + 1) * GROUP);
            (to.min(frames.end) - from.max(frames.start)) as f32
        };
        Self {
            weights: range.clone().map(weight).collect(),
            range,
        }
    }
}

/// What the words of a block can gain.
#[derive(Clone)]
pub struct Gains {
    /// `[number][lane]`.
    each: [[f32; LANES]; 6],
    /// By how much any of them is above its floor.
    above: [f32; LANES],
}

impl Default for Gains {
    fn default() -> Self {
        Self {
            each: [[0.0; LANES]; 6],
            above: [0.0; LANES],
        }
    }
}

impl Gains {
    /// Of a word.
    pub fn of(&self, lane: usize) -> Gain {
        // Sums over groups differ from sums over frames by rounding.
        Gain::from(self.each.map(|number| number[lane] + SLACK))
    }

    /// Whether a word could matter by the prices of its block.
    pub fn matters(&self, lane: usize) -> bool {
        self.above[lane] > 0.0
    }
}

/// Words whose gains are looked for at once.
pub struct Scan<'a> {
    /// Rows whose sum is their least costs, `[group][lane]`.
    pub rows: [&'a [f32]; ROWS],
    pub groups: &'a Groups,
    pub block: &'a Block,
    /// Cost of a frame off script.
    pub off: f32,
    /// Whether the stretch lies inside a possession.
    pub inside: bool,
    /// To work in.
    pub scanned: &'a mut Vec<f32>,
    pub gains: &'a mut Gains,
}

impl Scan<'_> {
    /// Finds the gains of the words.
    pub fn run(self) {
        Arch::new().dispatch(self);
    }
}

impl WithSimd for Scan<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        match (LANES / S::F32_LANES, self.inside) {
            (1, false) => self.scan::<S, 1, false>(simd),
            (1, true) => self.scan::<S, 1, true>(simd),
            (2, false) => self.scan::<S, 2, false>(simd),
            (2, true) => self.scan::<S, 2, true>(simd),
            (4, false) => self.scan::<S, 4, false>(simd),
            (4, true) => self.scan::<S, 4, true>(simd),
            (_, false) => self.scan::<S, LANES, false>(simd),
            (_, true) => self.scan::<S, LANES, true>(simd),
        }
    }
}

impl Scan<'_> {
    /// As [`crate::gain::Scan`], over ranges of whole groups: a group costs the same in all of its frames, so
    /// no range that begins or ends within one gains more than all of those that begin or end with it. There
    /// are `EACH` registers to a row.
    #[inline(always)]
    fn scan<S: Simd, const EACH: usize, const INSIDE: bool>(self, simd: S) {
        let weights = &self.groups.weights[..];
        let n = weights.len();
        self.scanned.resize((n + 1) * LANES, 0.0);
        let scanned = S::as_mut_simd_f32s(self.scanned).0;
        let scanned = &mut scanned.as_chunks_mut::<EACH>().0[..=n];
        let [a, b, c, d] = self.rows.map(|row| {
            let row = S::as_simd_f32s(row).0;
            &row.as_chunks::<EACH>().0[..n]
        });
        let zero = simd.splat_f32s(0.0);
        let always = simd.splat_f32s(f32::INFINITY);
        let never = simd.splat_f32s(f32::NEG_INFINITY);
        let off = simd.splat_f32s(self.off);
        let shortest = self.block.shortest;
        for part in 0..EACH {
            let lanes = |row: &[f32; LANES]| S::as_simd_f32s(row).0[part];
            let [first, second] = self.block.more.each_ref().map(lanes);
            let (first, second) = (
                simd.less_than_f32s(zero, first),
                simd.less_than_f32s(zero, second),
            );
            let needs = lanes(&self.block.needs);
            let (mut sum, mut least) = (zero, zero);
            // What was the least one group ago; the same where one bit adds, one and two ago.
            let (mut before, mut one) = (zero, simd.select_f32s(first, always, zero));
            let mut two = always;
            scanned[0][part] = simd.select_f32s(second, always, one);
            let none = simd.less_than_or_equal_f32s(needs, zero);
            let (mut any, mut to_end, mut any_first) = (never, never, zero);
            let mut full = simd.select_f32s(none, zero, never);
            let mut full_first = full;
            for at in 0..n {
                let cost = simd.add_f32s(simd.add_f32s(a[at][part], b[at][part]), c[at][part]);
                let gain = simd.sub_f32s(off, simd.add_f32s(cost, d[at][part]));
                sum = simd.mul_add_f32s(gain, simd.splat_f32s(weights[at]), sum);
                // A word has a frame at least.
                to_end = simd.max_f32s(simd.sub_f32s(sum, least), gain);
                any = simd.max_f32s(any, to_end);
                least = simd.min_f32s(least, sum);
                let here = simd.select_f32s(first, before, least);
                scanned[at + 1][part] = simd.select_f32s(second, two, here);
                (before, one, two) = (least, here, one);
                if let Some(begun) = (at + 1).checked_sub(shortest) {
                    full = simd.max_f32s(full, simd.sub_f32s(sum, scanned[begun][part]));
                }
                if INSIDE {
                    any_first = simd.max_f32s(any_first, sum);
                    let end = simd.splat_f32s((at + 1) as f32);
                    let enough = simd.less_than_or_equal_f32s(needs, end);
                    let longer = simd.max_f32s(full_first, sum);
                    full_first = simd.select_f32s(enough, longer, full_first);
                }
            }
            let all = [any, full, any_first, full_first, to_end, sum];
            let mut above = never;
            let places = self.block.floors.iter().zip(&mut self.gains.each);
            for (number, (floor, out)) in all.into_iter().zip(places) {
                above = simd.max_f32s(above, simd.sub_f32s(number, lanes(floor)));
                S::as_mut_simd_f32s(out).0[part] = number;
            }
            S::as_mut_simd_f32s(&mut self.gains.above).0[part] = above;
        }
    }
}

//! A small seeded generator: the same draws on every machine.

/// SplitMix64 (Steele, Lea & Flood 2014, OOPSLA, "Fast splittable pseudorandom number generators").
#[derive(Debug, Clone)]
pub(crate) struct Rng(u64);

impl Rng {
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A whole number below `n`, which must be above 0.
    pub fn below(&mut self, n: usize) -> usize {
        // High bits of the product; the bias is below n / 2^64.
        ((u128::from(self.next()) * n as u128) >> 64) as usize
    }

    /// Fisher–Yates shuffle.
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            items.swap(i, self.below(i + 1));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// First outputs of the authors' reference code for seed 1234567 (value from memory).
    #[test]
    fn known_outputs() {
        let mut r = Rng::new(1_234_567);
        assert_eq!(r.next(), 6_457_827_717_110_365_317);
        assert_eq!(r.next(), 3_203_168_211_198_807_973);
    }

    #[test]
    fn shuffles_reach_every_order_about_equally() {
        let mut counts = [0_usize; 6];
        let mut rng = Rng::new(1);
        for _ in 0..6000 {
            let mut v = [0, 1, 2];
            rng.shuffle(&mut v);
            let at = v[0] * 2 + usize::from(v[1] > v[2]);
            counts[at] += 1;
        }
        assert!(counts.iter().all(|&c| c > 850 && c < 1150), "{counts:?}");
    }
}

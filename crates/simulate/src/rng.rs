//! A small seeded generator, the same bit for bit on every platform.
//!
//! xoshiro256++ (Blackman & Vigna 2021, ACM TOMS 47(4)), seeded by SplitMix64 (Steele, Lea &
//! Flood 2014).

/// Seeded random numbers.
#[derive(Debug, Clone)]
pub(crate) struct Rng {
    s: [u64; 4],
}

fn split_mix(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

impl Rng {
    /// A generator of its own for each pair of seed and stream.
    pub(crate) fn new(seed: u64, stream: u64) -> Self {
        let mut state = seed ^ stream.wrapping_mul(0xD134_2543_DE82_EF95);
        Self {
            s: std::array::from_fn(|_| split_mix(&mut state)),
        }
    }

    pub(crate) fn next_u64(&mut self) -> u64 {
        let s = &mut self.s;
        let out = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let t = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= t;
        s[3] = s[3].rotate_left(45);
        out
    }

    /// Uniform in 0..1.
    pub(crate) fn unit(&mut self) -> f64 {
        (self.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Uniform in `low..high`.
    pub(crate) fn range(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// True with probability `p`.
    pub(crate) fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    /// Standard normal (Marsaglia's polar method; the second value is dropped, so that the
    /// state is all there is).
    pub(crate) fn normal(&mut self) -> f64 {
        loop {
            let u = 2.0 * self.unit() - 1.0;
            let v = 2.0 * self.unit() - 1.0;
            let s = u * u + v * v;
            if s > 0.0 && s < 1.0 {
                return u * (-2.0 * libm::log(s) / s).sqrt();
            }
        }
    }

    /// Normal with mean and standard deviation, kept within 2.5 deviations.
    pub(crate) fn around(&mut self, mean: f64, sd: f64) -> f64 {
        mean + sd * self.normal().clamp(-2.5, 2.5)
    }

    /// An index below `n`; `n` above 0.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        ((self.unit() * n as f64) as usize).min(n.saturating_sub(1))
    }

    /// Fisher–Yates.
    pub(crate) fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            items.swap(i, self.below(i + 1));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// First outputs of SplitMix64 from state 1234567, as in the published reference
    /// implementation's test vector (Vigna, splitmix64.c; Rosetta Code "Pseudo-random
    /// numbers/Splitmix64").
    #[test]
    fn split_mix_matches_the_published_vector() {
        let mut s = 1_234_567;
        assert_eq!(split_mix(&mut s), 6_457_827_717_110_365_317);
        assert_eq!(split_mix(&mut s), 3_203_168_211_198_807_973);
        assert_eq!(split_mix(&mut s), 9_817_491_932_198_370_423);
    }

    /// xoshiro256++ from state (1, 2, 3, 4): the vector in the tests of the `rand_xoshiro`
    /// crate, made with the authors' C code.
    #[test]
    fn xoshiro_matches_the_published_vector() {
        let mut r = Rng { s: [1, 2, 3, 4] };
        let got: Vec<u64> = (0..4).map(|_| r.next_u64()).collect();
        assert_eq!(
            got,
            [
                41_943_041,
                58_720_359,
                3_588_806_011_781_223,
                3_591_011_842_654_386
            ]
        );
    }

    #[test]
    fn normals_have_mean_0_and_variance_1() {
        let mut r = Rng::new(1, 2);
        let n = 200_000;
        let (mut m, mut v) = (0.0, 0.0);
        for _ in 0..n {
            let x = r.normal();
            m += x;
            v += x * x;
        }
        // Four standard errors: 4/sqrt(n) and 4*sqrt(2/n).
        assert!((m / n as f64).abs() < 0.009);
        assert!((v / n as f64 - 1.0).abs() < 0.013);
    }
}

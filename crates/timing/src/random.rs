//! Seeded pseudo-random numbers, the same on every machine: resampling must be repeatable.

/// SplitMix64 (Steele, Lea & Flood 2014): one 64-bit counter, hashed.
#[derive(Debug, Clone)]
pub struct Rng(u64);

impl Rng {
    /// A stream from a seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Uniform in 0..1.
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Uniform in `0..n`; 0 for `n == 0`.
    pub fn below(&mut self, n: usize) -> usize {
        // The high half of a 128-bit product: no division, bias under n / 2^64.
        ((u128::from(self.bits()) * n as u128) >> 64) as usize
    }

    /// Standard normal (Box & Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let u = 1.0 - self.unit();
        let v = self.unit();
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn first_numbers_are_the_published_ones() {
        // SplitMix64 from seed 1234567, reference output of the public-domain C program
        // (value from memory).
        let mut r = Rng::new(1_234_567);
        assert_eq!(r.bits(), 6_457_827_717_110_365_317);
        assert_eq!(r.bits(), 3_203_168_211_198_807_973);
    }

    #[test]
    fn normal_numbers_have_mean_0_and_variance_1() {
        let mut r = Rng::new(9);
        let n = 20_000;
        let v: Vec<f64> = (0..n).map(|_| r.normal()).collect();
        let m = v.iter().sum::<f64>() / f64::from(n);
        let s = v.iter().map(|x| (x - m).powi(2)).sum::<f64>() / f64::from(n);
        assert!(m.abs() < 0.02 && (s - 1.0).abs() < 0.03, "{m} {s}");
    }
}

//! Compact numbers for the page: zigzag deltas as variable-length bytes, in base64.
//!
//! Variable-length integers hold seven bits a byte, lowest first, high bit set on all but the
//! last byte; zigzag maps 0, −1, 1, −2 … to 0, 1, 2, 3 … (both as in the Protocol Buffers
//! encoding guide). Base64 is RFC 4648 section 4.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;

/// Collects numbers.
#[derive(Debug, Default)]
pub struct Packer(Vec<u8>);

impl Packer {
    /// An unsigned number.
    pub fn unsigned(&mut self, mut v: u32) {
        while v >= 0x80 {
            self.0.push((v as u8) | 0x80);
            v >>= 7;
        }
        self.0.push(v as u8);
    }

    /// A signed number; small magnitudes take one byte.
    pub fn signed(&mut self, v: i32) {
        self.unsigned(((v << 1) ^ (v >> 31)) as u32);
    }

    /// The bytes as text.
    pub fn text(self) -> String {
        STANDARD.encode(self.0)
    }
}

/// Metres in whole centimetres, limited to what a hall can hold.
pub fn centimetres(metres: f64) -> i32 {
    (metres * 100.0).round().clamp(-1e6, 1e6) as i32
}

/// A row of positions in metres as centimetre deltas; the first is from zero.
pub fn deltas(pack: &mut Packer, points: impl Iterator<Item = (f64, f64)>) {
    let (mut x, mut y) = (0, 0);
    for (px, py) in points {
        let (cx, cy) = (centimetres(px), centimetres(py));
        pack.signed(cx - x);
        pack.signed(cy - y);
        (x, y) = (cx, cy);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The worked values of the Protocol Buffers encoding guide: 150 is `96 01`; zigzag maps
    /// 0, −1, 1, −2, 0x7fffffff, −0x80000000 to 0, 1, 2, 3, 0xfffffffe, 0xffffffff.
    #[test]
    fn numbers_as_in_the_encoding_guide() {
        let mut p = Packer::default();
        p.unsigned(150);
        assert_eq!(p.0, [0x96, 0x01]);
        for (v, z) in [
            (0, 0u32),
            (-1, 1),
            (1, 2),
            (-2, 3),
            (i32::MAX, 0xffff_fffe),
            (i32::MIN, 0xffff_ffff),
        ] {
            let (mut a, mut b) = (Packer::default(), Packer::default());
            a.signed(v);
            b.unsigned(z);
            assert_eq!(a.0, b.0, "{v}");
        }
    }

    /// RFC 4648, section 10: `foob` is `Zm9vYg==`.
    #[test]
    fn text_as_in_the_rfc() {
        assert_eq!(Packer(b"foob".to_vec()).text(), "Zm9vYg==");
    }

    #[test]
    fn a_number_that_is_none_does_not_leave_the_hall() {
        assert_eq!(centimetres(f64::NAN), 0);
        assert_eq!(centimetres(f64::INFINITY), 1_000_000);
        assert_eq!(centimetres(1.234), 123);
    }
}

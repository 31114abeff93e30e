//! Where players have been, as a picture of the floor: SVG and PNG.

use crate::raw::RawTracks;
use setdrift_court::Court;
use std::fmt::Write as _;

/// Counts of positions over the floor and a strip around it.
#[derive(Debug, Clone, PartialEq)]
pub struct Density {
    court: Court,
    /// Cells along and across.
    size: (usize, usize),
    /// Side of a cell, metres.
    cell: f64,
    /// Counts, row by row from the greatest y down.
    counts: Vec<u32>,
}

/// Strip around the floor that is shown, metres.
const AROUND: f64 = 2.0;

impl Density {
    /// Count the positions of all players in cells of `cell` metres (clamped to 0.05..=2).
    #[must_use]
    pub fn of(raw: &RawTracks, cell: f64) -> Self {
        let cell = if cell.is_finite() {
            cell.clamp(0.05, 2.0)
        } else {
            0.25
        };
        let m = raw.court.measures();
        let (half, side) = (m.length / 2.0 + AROUND, m.width / 2.0 + AROUND);
        let size = (
            (2.0 * half / cell).ceil() as usize,
            (2.0 * side / cell).ceil() as usize,
        );
        let mut counts = vec![0; size.0 * size.1];
        for s in &raw.samples {
            for (x, y) in s.x.iter().zip(&s.y) {
                let (i, j) = ((x + half) / cell, (side - y) / cell);
                if i >= 0.0 && j >= 0.0 && (i as usize) < size.0 && (j as usize) < size.1 {
                    counts[j as usize * size.0 + i as usize] += 1;
                }
            }
        }
        Self {
            court: raw.court.clone(),
            size,
            cell,
            counts,
        }
    }

    /// Shade of a cell, 0..=1: the square root of its share of the fullest, so that paths show.
    fn shade(&self, i: usize) -> f64 {
        let most = self.counts.iter().copied().max().unwrap_or(0).max(1);
        (f64::from(self.counts[i]) / f64::from(most)).sqrt()
    }

    /// The picture as SVG.
    #[must_use]
    pub fn svg(&self) -> String {
        const PER_METRE: f64 = 24.0;
        let scale = self.cell * PER_METRE;
        let (w, h) = (self.size.0 as f64 * scale, self.size.1 as f64 * scale);
        let mut s = String::new();
        let _ = writeln!(
            s,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w:.1} {h:.1}\" width=\"{w:.0}\" \
             height=\"{h:.0}\" role=\"img\">\n<title>Where players have been</title>\n\
             <rect width=\"{w:.1}\" height=\"{h:.1}\" fill=\"#ffffff\"/>"
        );
        for (i, n) in self.counts.iter().enumerate() {
            if *n > 0 {
                let (x, y) = (i % self.size.0, i / self.size.0);
                let _ = writeln!(
                    s,
                    "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{scale:.2}\" height=\"{scale:.2}\" \
                     fill=\"#1f5fa8\" fill-opacity=\"{:.2}\"/>",
                    x as f64 * scale,
                    y as f64 * scale,
                    self.shade(i)
                );
            }
        }
        for line in self.lines() {
            let points: Vec<String> = line
                .iter()
                .map(|(x, y)| {
                    let (px, py) = self.pixel(*x, *y, PER_METRE);
                    format!("{px:.1},{py:.1}")
                })
                .collect();
            let _ = writeln!(
                s,
                "<polyline points=\"{}\" fill=\"none\" stroke=\"#555555\" stroke-width=\"1.5\"/>",
                points.join(" ")
            );
        }
        s.push_str("</svg>\n");
        s
    }

    /// The picture as PNG (W3C Portable Network Graphics, second edition), 8-bit RGB.
    #[must_use]
    pub fn png(&self) -> Vec<u8> {
        let zoom = (self.cell * 24.0).round().max(1.0) as usize;
        let (w, h) = (self.size.0 * zoom, self.size.1 * zoom);
        let mut image = vec![255_u8; w * h * 3];
        for y in 0..h {
            for x in 0..w {
                let i = (y / zoom) * self.size.0 + x / zoom;
                if self.counts[i] > 0 {
                    let a = self.shade(i);
                    let mix = |c: f64| (255.0 + (c - 255.0) * a).round() as u8;
                    let at = (y * w + x) * 3;
                    image[at..at + 3].copy_from_slice(&[mix(31.0), mix(95.0), mix(168.0)]);
                }
            }
        }
        let per_metre = zoom as f64 / self.cell;
        for line in self.lines() {
            for pair in line.windows(2) {
                let (a, b) = (
                    self.pixel(pair[0].0, pair[0].1, per_metre),
                    self.pixel(pair[1].0, pair[1].1, per_metre),
                );
                let steps = (a.0 - b.0).abs().max((a.1 - b.1).abs()).ceil().max(1.0);
                let mut k = 0.0;
                while k <= steps {
                    let (x, y) = (a.0 + (b.0 - a.0) * k / steps, a.1 + (b.1 - a.1) * k / steps);
                    if x >= 0.0 && y >= 0.0 && (x as usize) < w && (y as usize) < h {
                        let at = (y as usize * w + x as usize) * 3;
                        image[at..at + 3].fill(85);
                    }
                    k += 1.0;
                }
            }
        }
        encode(&image, w, h)
    }

    fn pixel(&self, x: f64, y: f64, per_metre: f64) -> (f64, f64) {
        let m = self.court.measures();
        (
            (x + m.length / 2.0 + AROUND) * per_metre,
            (m.width / 2.0 + AROUND - y) * per_metre,
        )
    }

    /// The floor's lines in the court frame: border, middle line, and for both ends lane, arc and
    /// ring.
    fn lines(&self) -> Vec<Vec<(f64, f64)>> {
        let m = self.court.measures();
        let (half, side) = (m.length / 2.0, m.width / 2.0);
        let mut lines = vec![
            vec![
                (-half, -side),
                (half, -side),
                (half, side),
                (-half, side),
                (-half, -side),
            ],
            vec![(0.0, -side), (0.0, side)],
        ];
        for sign in [-1.0, 1.0] {
            // `d` from the end line, `y` from the middle.
            let at = |d: f64, y: f64| (sign * (half - d), y);
            let lane = m.lane_width / 2.0;
            lines.push(vec![
                at(0.0, -lane),
                at(m.free_throw, -lane),
                at(m.free_throw, lane),
                at(0.0, lane),
            ]);
            let bend = self.court.three_break();
            let open = (m.three_corner / m.three_radius).clamp(-1.0, 1.0).asin();
            let mut arc = vec![at(0.0, -m.three_corner), at(bend, -m.three_corner)];
            for k in 0..=40 {
                let a = -open + 2.0 * open * f64::from(k) / 40.0;
                arc.push(at(
                    m.ring + m.three_radius * a.cos(),
                    m.three_radius * a.sin(),
                ));
            }
            arc.push(at(bend, m.three_corner));
            arc.push(at(0.0, m.three_corner));
            lines.push(arc);
            // Ring of 0.45 m inner diameter (FIBA OBR equipment, value from memory).
            lines.push(
                (0..=16)
                    .map(|k| {
                        let a = std::f64::consts::TAU * f64::from(k) / 16.0;
                        at(m.ring + 0.225 * a.cos(), 0.225 * a.sin())
                    })
                    .collect(),
            );
        }
        lines
    }
}

fn encode(rgb: &[u8], w: usize, h: usize) -> Vec<u8> {
    let mut raw = Vec::with_capacity(h * (w * 3 + 1));
    for row in rgb.chunks_exact(w * 3) {
        raw.push(0);
        raw.extend_from_slice(row);
    }
    let mut packed = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::default());
    // Writing to a vector does not fail.
    let _ = std::io::Write::write_all(&mut packed, &raw);
    let packed = packed.finish().unwrap_or_default();
    let mut out = b"\x89PNG\r\n\x1a\n".to_vec();
    let mut header = Vec::new();
    header.extend_from_slice(&(w as u32).to_be_bytes());
    header.extend_from_slice(&(h as u32).to_be_bytes());
    header.extend_from_slice(&[8, 2, 0, 0, 0]);
    for (kind, data) in [
        (b"IHDR", &header),
        (b"IDAT", &packed),
        (b"IEND", &Vec::new()),
    ] {
        out.extend_from_slice(&(data.len() as u32).to_be_bytes());
        let from = out.len();
        out.extend_from_slice(kind);
        out.extend_from_slice(data);
        let crc = crc(&out[from..]);
        out.extend_from_slice(&crc.to_be_bytes());
    }
    out
}

/// Cyclic redundancy check as the PNG specification defines it (annex D).
fn crc(bytes: &[u8]) -> u32 {
    let mut c = u32::MAX;
    for b in bytes {
        c ^= u32::from(*b);
        for _ in 0..8 {
            c = if c & 1 == 1 {
                0xedb8_8320 ^ (c >> 1)
            } else {
                c >> 1
            };
        }
    }
    !c
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The check value of CRC-32 over "123456789" (ITU-T V.42; published widely as cbf43926).
    #[test]
    fn crc_of_the_usual_text() {
        assert_eq!(crc(b"123456789"), 0xcbf4_3926);
    }
}

//! From the file's coordinates to the court frame.

use crate::error::{Problem, Warning};
use crate::homography::{Homography, LandmarkFit};
use crate::mapping::{Mapping, Origin, SpaceUnit};
use crate::raw::{RawTracks, Samples};
use setdrift_court::Court;
use std::path::Path;

/// The map from file to court.
pub(super) struct ToCourt {
    homography: Option<Homography>,
    metres: f64,
    centre: [f64; 2],
    along: (usize, f64),
    across: (usize, f64),
}

impl ToCourt {
    pub(super) fn new(mapping: &Mapping, court: &Court) -> Result<Self, Problem> {
        let s = &mapping.space;
        let metres = match s.unit {
            SpaceUnit::Px => s.scale.unwrap_or(f64::NAN),
            unit => unit.metres().unwrap_or(f64::NAN),
        };
        let homography = mapping
            .homography
            .as_ref()
            .map(|h| {
                let pairs: Vec<_> = h.landmarks.iter().map(|l| (l.image, l.floor)).collect();
                Homography::fit(&pairs, h.robust)
            })
            .transpose()?;
        let m = court.measures();
        let centre = match s.origin {
            Origin::Centre(c) => c,
            Origin::Corner => {
                let mut c = [0.0; 2];
                c[s.along.index()] = m.length / 2.0 / metres;
                c[s.across.index()] = m.width / 2.0 / metres;
                c
            }
        };
        Ok(Self {
            homography,
            metres,
            centre,
            along: (s.along.index(), s.along.sign()),
            across: (s.across.index(), s.across.sign()),
        })
    }

    /// Bring samples into the court frame; how many lie outside the landmarks. Image points beyond
    /// the horizon are dropped.
    pub(super) fn apply(&self, samples: &mut Samples) -> usize {
        let mut outside = 0;
        if let Some(h) = &self.homography {
            let mut lost = false;
            for (x, y) in samples.x.iter_mut().zip(&mut samples.y) {
                outside += usize::from(!h.inside([*x, *y]));
                [*x, *y] = h.apply([*x, *y]).unwrap_or_else(|| {
                    lost = true;
                    [f64::NAN; 2]
                });
            }
            if lost {
                drop_unplaced(samples);
            }
        }
        for (x, y) in samples.x.iter_mut().zip(&mut samples.y) {
            let p = [*x, *y];
            let on =
                |(axis, sign): (usize, f64)| sign * (p[axis] - self.centre[axis]) * self.metres;
            (*x, *y) = (on(self.along), on(self.across));
        }
        if let Some(z) = &mut samples.z {
            for z in z {
                *z *= self.metres;
            }
        }
        outside
    }

    /// How well the landmarks fix the floor, where there are any; `seen` as [`LandmarkFit::new`]
    /// wants it.
    pub(super) fn fit(&self, seen: &[(String, usize, usize)]) -> Option<LandmarkFit> {
        let h = self.homography.as_ref()?;
        Some(LandmarkFit::new(h, self.metres, seen))
    }
}

fn drop_unplaced(s: &mut Samples) {
    let keep: Vec<bool> = s.x.iter().map(|x| x.is_finite()).collect();
    let pick = |v: &mut Vec<f64>| {
        let mut k = keep.iter();
        v.retain(|_| *k.next().unwrap_or(&false));
    };
    pick(&mut s.t);
    pick(&mut s.x);
    pick(&mut s.y);
    if let Some(z) = &mut s.z {
        pick(z);
    }
}

/// Refuse positions that fit no floor, with the unit or origin that would fit.
pub(super) fn check_on_floor(
    raw: &RawTracks,
    mapping: &Mapping,
    warnings: &mut Vec<Warning>,
    file: &Path,
) -> Result<(), Problem> {
    /// Benches and run-offs: how far beyond the lines players may be, metres.
    const AROUND: f64 = 4.0;
    /// A team that plays for so long uses more of the floor than this: both ways, or one way
    /// (common practice, no published source). Metres read as feet shrink a half court to 4.3 m.
    const TEAM: usize = 5;
    const LONG_S: f64 = 60.0;
    const LEAST_M: f64 = 6.0;
    const FAR_M: f64 = 10.0;
    /// Middle share of positions looked at; the rest may be errors of the sensor.
    const TAIL: f64 = 0.01;
    let m = raw.court.measures();
    let range = |axis: fn(&Samples) -> &Vec<f64>| {
        // Every ninth sample tells the range as well as all of them.
        let total: usize = raw.samples.iter().map(Samples::len).sum();
        let step = (total / 50_000).max(1);
        let mut v: Vec<f64> = raw
            .samples
            .iter()
            .flat_map(|s| axis(s).iter().step_by(step).copied())
            .collect();
        if v.is_empty() {
            return None;
        }
        let last = (v.len() - 1) as f64;
        let mut at = |q: f64| {
            let i = (last * q) as usize;
            *v.select_nth_unstable_by(i, f64::total_cmp).1
        };
        Some((at(TAIL), at(1.0 - TAIL)))
    };
    let (Some((x0, x1)), Some((y0, y1))) = (range(|s| &s.x), range(|s| &s.y)) else {
        return Err(Problem::NoPlayers);
    };
    let fits = |scale: f64, cx: f64, cy: f64| {
        (x0 - cx).abs().max((x1 - cx).abs()) * scale <= m.length / 2.0 + AROUND
            && (y0 - cy).abs().max((y1 - cy).abs()) * scale <= m.width / 2.0 + AROUND
    };
    if !fits(1.0, 0.0, 0.0) {
        return Err(Problem::OffFloor {
            x0,
            y0,
            x1,
            y1,
            length: m.length,
            width: m.width,
            hint: hint(mapping, raw, [x0, x1, y0, y1]),
        });
    }
    let (length, width) = (x1 - x0, y1 - y0);
    let times = raw
        .samples
        .iter()
        .flat_map(|s| s.t.first().into_iter().chain(s.t.last()));
    let (first, last) = times.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), t| {
        (a.min(*t), b.max(*t))
    });
    let seconds = last - first;
    if raw.players.len() >= TEAM
        && seconds >= LONG_S
        && length.min(width) < LEAST_M
        && length.max(width) < FAR_M
    {
        return Err(Problem::Cramped {
            seconds,
            length,
            width,
            least: LEAST_M,
            long: FAR_M,
            hint: hint(mapping, raw, [x0, x1, y0, y1]),
        });
    }
    if (x1 - x0).max(y1 - y0) < 3.0 && raw.players.len() > 2 {
        warnings.push(Warning::new(
            file,
            format!(
                "all players stay within {:.1} by {:.1} m; if that is too small, `space.unit` is \
                 wrong",
                x1 - x0,
                y1 - y0
            ),
        ));
    }
    Ok(())
}

/// The nearest setting of the mapping under which the positions would fit.
fn hint(mapping: &Mapping, raw: &RawTracks, [x0, x1, y0, y1]: [f64; 4]) -> String {
    let m = raw.court.measures();
    let now = mapping.space.unit.metres().unwrap_or(1.0);
    let within = |scale: f64, cx: f64, cy: f64| {
        let reach = |a: f64, b: f64, c: f64| (a * scale - c).abs().max((b * scale - c).abs());
        reach(x0, x1, cx) <= m.length / 2.0 + 2.0 && reach(y0, y1, cy) <= m.width / 2.0 + 2.0
    };
    for (name, unit) in [
        ("m", 1.0),
        ("ft", 0.3048),
        ("cm", 0.01),
        ("mm", 0.001),
        ("in", 0.0254),
    ] {
        let scale = unit / now;
        // A unit too small shrinks everybody to a point, which also fits: ask for some extent.
        let wide_enough = (x1 - x0).max(y1 - y0) * scale > 5.0;
        if wide_enough && within(scale, 0.0, 0.0) && (scale - 1.0).abs() > 1e-9 {
            return format!("Set `space.unit = \"{name}\"` in the mapping; then they fit.");
        }
        if wide_enough && within(scale, m.length / 2.0, m.width / 2.0) {
            let unit = if (scale - 1.0).abs() > 1e-9 {
                format!(" and `space.unit = \"{name}\"`")
            } else {
                String::new()
            };
            return format!("Set `space.origin = \"corner\"`{unit} in the mapping; then they fit.");
        }
    }
    if (y1 - y0) > (x1 - x0) {
        return "Check `space.along`, `space.origin` and `space.unit` in the mapping: the longer \
                side seems to be the other axis."
            .into();
    }
    "Check `space.unit`, `space.origin` and `session.court` in the mapping.".into()
}

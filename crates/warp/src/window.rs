//! Which cells of the cost matrix a warping path may visit.

use std::ops::Range;

use crate::error::{Error, Result};

/// A global constraint on the warping path. Query frame `i` of `n`, reference frame `j` of `m`.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Window {
    /// Every cell.
    #[default]
    Full,
    /// Sakoe & Chiba's adjustment window (1978): `|i − j| ≤ radius`. Series whose lengths differ
    /// by more than `radius` cannot be aligned from end to end in it.
    SakoeChiba {
        /// Frames to either side of `i = j`.
        radius: usize,
    },
    /// The band that follows both corners: `j − i` from `−radius` to `radius`, widened on one
    /// side by the difference of the lengths. Equal to `SakoeChiba` for equal lengths; it always
    /// holds a path.
    Widened {
        /// Frames to either side.
        radius: usize,
    },
    /// A band about the line from corner to corner: `|j − i·(m − 1)/(n − 1)| ≤ radius`.
    Slanted {
        /// Reference frames to either side of the line; 0 or more.
        radius: f64,
    },
    /// Itakura's parallelogram (1975): the cells that a path from corner to corner can visit when
    /// its slope, against that of the diagonal, stays between `1 / max_slope` and `max_slope`.
    Itakura {
        /// Steepest slope relative to the diagonal; at least 1.
        max_slope: f64,
    },
}

impl Window {
    pub(crate) fn check(self) -> Result<()> {
        match self {
            Window::Slanted { radius } if !(radius >= 0.0 && radius.is_finite()) => {
                Err(Error::Parameter {
                    name: "radius",
                    value: radius,
                    expected: "give a finite number of 0 or more",
                })
            }
            Window::Itakura { max_slope } if !(max_slope >= 1.0 && max_slope.is_finite()) => {
                Err(Error::Parameter {
                    name: "max_slope",
                    value: max_slope,
                    expected: "give a finite number of 1 or more",
                })
            }
            _ => Ok(()),
        }
    }

    /// Reference frames allowed at query frame `i`, perhaps none. Neither end falls as `i` rises.
    pub(crate) fn range(self, i: usize, n: usize, m: usize) -> Range<usize> {
        match self {
            Window::Full => 0..m,
            Window::SakoeChiba { radius } => {
                i.saturating_sub(radius).min(m)..i.saturating_add(radius).saturating_add(1).min(m)
            }
            Window::Widened { radius } => {
                let low = i.saturating_sub(radius.saturating_add(n.saturating_sub(m)));
                let high = i
                    .saturating_add(radius)
                    .saturating_add(m.saturating_sub(n))
                    .saturating_add(1);
                low.min(m)..high.min(m)
            }
            Window::Slanted { radius } => {
                let middle = if n > 1 {
                    i as f64 * (m - 1) as f64 / (n - 1) as f64
                } else {
                    0.0
                };
                let low = (middle - radius - SLACK).ceil().max(0.0) as usize;
                let high = (middle + radius + SLACK).floor() as usize;
                low.min(m)..high.saturating_add(1).min(m)
            }
            Window::Itakura { max_slope } => {
                if n == 1 || m == 1 {
                    return 0..m;
                }
                let (x, width) = (i as f64 / (n - 1) as f64, (m - 1) as f64);
                let low = (x / max_slope).max(1.0 - max_slope * (1.0 - x));
                let high = (max_slope * x).min(1.0 - (1.0 - x) / max_slope);
                let low = (low * width - SLACK).ceil().max(0.0) as usize;
                let high = (high * width + SLACK).floor().max(-1.0) + 1.0;
                low.min(m)..(high as usize).min(m)
            }
        }
    }

    /// Query frames allowed at reference frame `j`, perhaps none; the other way to read the window.
    pub(crate) fn range_of_reference(self, j: usize, n: usize, m: usize) -> Range<usize> {
        // Neither end of a row's range falls, so the rows that hold a column lie side by side.
        let start = first(n, |i| self.range(i, n, m).end > j);
        let end = first(n, |i| self.range(i, n, m).start > j);
        start..end.max(start)
    }
}

/// The first of `0..n` that `holds`, which goes on holding once it does; else `n`.
fn first(n: usize, holds: impl Fn(usize) -> bool) -> usize {
    let (mut low, mut high) = (0, n);
    while low < high {
        let middle = low + (high - low) / 2;
        if holds(middle) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    low
}

/// A cell this near to the window's edge, in reference frames, is inside: rounding must not decide.
const SLACK: f64 = 1e-9;

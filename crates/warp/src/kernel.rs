//! Fast paths for the plain case: unweighted steps, closed ends, a window that is a band about the
//! diagonal. Every kernel does the same arithmetic in the same order for a cell, so all
//! of them, and the general table, agree bit for bit.

#![expect(
    clippy::needless_range_loop,
    reason = "loops over lanes read better, and vectorise, by index"
)]

mod lanes;
mod pair;

pub(crate) use lanes::{Block, Comparison};
pub(crate) use pair::{distance, open_distances};

use crate::window::Window;

/// Cells with `j − i` from `−below` to `above`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Band {
    pub below: usize,
    pub above: usize,
}

impl Band {
    /// The window as a band for a query of `n` and a reference of `m` frames, if it is one.
    pub fn new(window: Window, n: usize, m: usize) -> Option<Self> {
        let (below, above) = match window {
            Window::Full => (n, m),
            Window::SakoeChiba { radius } => (radius, radius),
            Window::Widened { radius } => (
                radius.saturating_add(n.saturating_sub(m)),
                radius.saturating_add(m.saturating_sub(n)),
            ),
            Window::Slanted { .. } | Window::Itakura { .. } => return None,
        };
        Some(Band {
            below: below.min(n),
            above: above.min(m),
        })
    }

    /// Whether a path can reach the last cell.
    pub fn holds_corner(self, n: usize, m: usize) -> bool {
        m <= n + self.above && n <= m + self.below
    }
}

//! How well landmarks fix the floor.

use super::Homography;
use serde::Serialize;

/// How well the landmarks of a session fix the floor, and who was seen beyond them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LandmarkFit {
    /// Reprojection error: root mean square of the used landmarks' distances on the floor, metres.
    /// Four landmarks fit exactly, which says nothing: then it is not known.
    pub error_m: Option<f64>,
    /// Distance on the floor between each landmark and where the map puts it, metres.
    pub residuals_m: Vec<f64>,
    /// Which landmarks the map was fitted to.
    pub used: Vec<bool>,
    /// Objects with positions outside the landmarks' hull, with the share of theirs that are.
    pub outside: Vec<(String, f64)>,
    /// Share of all positions outside it, 0..=1.
    pub outside_share: f64,
}

impl LandmarkFit {
    /// Describe a fit; `metres` is the length of a floor unit, `seen` each object's positions
    /// outside the hull and all of them.
    pub(crate) fn new(h: &Homography, metres: f64, seen: &[(String, usize, usize)]) -> Self {
        let used = h.used.iter().filter(|u| **u).count();
        let (out, all) = seen
            .iter()
            .fold((0, 0), |(o, a), (_, outside, n)| (o + outside, a + n));
        Self {
            error_m: (used > 4).then(|| h.error() * metres),
            residuals_m: h.residuals.iter().map(|r| r * metres).collect(),
            used: h.used.clone(),
            outside: seen
                .iter()
                .filter(|(_, outside, _)| *outside > 0)
                .map(|(id, outside, n)| (id.clone(), *outside as f64 / *n as f64))
                .collect(),
            outside_share: out as f64 / f64::max(all as f64, 1.0),
        }
    }

    /// What a person should know, a sentence each.
    #[must_use]
    pub fn remarks(&self) -> Vec<String> {
        /// An error that moves a player from one spot to the next, metres.
        const LARGE: f64 = 0.3;
        let mut out = Vec::new();
        match self.error_m {
            None => out.push(
                "four landmarks fit exactly, so the map's error is not known; a fifth would tell"
                    .into(),
            ),
            Some(error) => {
                let worst = (0..self.used.len())
                    .filter(|i| self.used[*i])
                    .max_by(|a, b| self.residuals_m[*a].total_cmp(&self.residuals_m[*b]));
                let worst = worst.unwrap_or_default();
                let mut text = format!(
                    "the landmarks agree with the map to {error:.2} m (root mean square); the \
                     worst, number {}, is {:.2} m off",
                    worst + 1,
                    self.residuals_m[worst]
                );
                if error > LARGE && self.used.iter().all(|u| *u) {
                    text.push_str(
                        "; if one of them is wrong, `homography.robust = true` leaves it out",
                    );
                }
                out.push(text);
            }
        }
        for (i, used) in self.used.iter().enumerate() {
            if !used {
                out.push(format!(
                    "landmark {} contradicts the others by {:.2} m and was left out",
                    i + 1,
                    self.residuals_m[i]
                ));
            }
        }
        if self.outside_share > 0.0 {
            let mut most: Vec<&(String, f64)> = self.outside.iter().collect();
            most.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
            let who: Vec<String> = most
                .iter()
                .take(3)
                .map(|(id, share)| format!("`{id}` {:.0} %", share * 100.0))
                .collect();
            out.push(format!(
                "{:.0} % of positions lie outside the landmarks, where the map's error is not \
                 known; most of them: {}",
                self.outside_share * 100.0,
                who.join(", ")
            ));
        }
        out
    }
}

//! Two players whose identities a tracker has exchanged.
//!
//! An exchange turns the difference of the two players' positions round and leaves their sum as it
//! was. So the difference alone is judged: is what comes after a moment the continuation of what
//! came before, or of its opposite? Both are compared by their likelihoods under one model of
//! movement and of the session's own noise.

use super::filter::{At, Filter, Meeting, Motion};
use super::grid::Axis;
use super::{Cleaning, forget};
use crate::quality::{Meeting as Undecided, ObjectQuality, Swap};
use crate::raw::{RawTracks, Samples};
use crate::session::{Known, Track};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// How far to each side of a moment is looked, seconds: beyond it the filter has forgotten.
const SIDE_S: f64 = 1.2;
/// Two players unseen for longer than this are not followed across it, seconds.
const GAP_S: f64 = 1.0;
/// Who is unseen for longer than this has left the floor, seconds: a tracker names whoever comes
/// back anew.
const AWAY_S: f64 = 5.0;
/// The worst that an exchanged continuation may fit and still be believed: the 99.9 % point of
/// chi squared with four degrees of freedom (any table: 18.47).
const SMOOTH: f64 = 18.47;
/// Log ratio from which an exchange is suspected: a hundred thousand to one. In untouched games
/// players who meet and part hardly ever reach it (docs/method-cleaning.md).
const SUSPECT: f64 = 11.51;
/// Log ratio down to which an exchange is not ruled out: a thousand to one against.
const RULED_OUT: f64 = -6.91;
/// Factors on the noise that are tried.
const NOISE_SCALES: [f64; 9] = [1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0];
/// A stretch that needs no more noise.
const GOOD_ENOUGH: f64 = 1.5;
/// How often the search is repeated after exchanges were undone.
const PASSES: usize = 4;
/// How long before a doubtful exchange the two are left unknown, seconds.
const DOUBT_BEFORE_S: f64 = 0.5;
/// How near to a moment that a person has judged nothing else is said of the two, seconds.
const SAID_S: f64 = 1.5;
/// Median and 95 % point of chi squared with four degrees of freedom (any table).
const CHI_MEDIAN: f64 = 3.357;
const CHI_FAR: f64 = 9.488;

/// A place where two players seem to have been exchanged.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Suspect {
    /// The two, `a < b`.
    a: usize,
    b: usize,
    /// First frame of the exchanged stretch.
    frame: usize,
    /// Last frame before it at which both are known.
    before: usize,
    /// Logarithm of the likelihood of exchange over that of no exchange.
    log_ratio: f64,
    /// How ill the two sides fit when exchanged, in chi squared of four degrees.
    exchanged: f64,
}

/// Frames in which two players are so near, or change sides so, that an exchange is possible.
#[derive(Debug, Clone, Copy)]
struct Range {
    a: usize,
    b: usize,
    from: usize,
    to: usize,
}

/// What is looked for, and in which noise.
struct Search<'a> {
    /// Noise per player and axis, metres.
    noise: &'a [f64],
    rate_hz: f64,
    /// Nearer than this players may be exchanged, metres.
    near: f64,
    /// Log ratios from which an exchange is suspected and from which it is certain.
    suspect: f64,
    certain: f64,
    /// Two players and a frame about which a person has said what happened.
    said: &'a [(usize, usize, usize)],
}

/// How the model was fitted to a session.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Fit {
    /// Factor on the noise.
    noise: f64,
    /// What squared distances are divided by.
    stretch: f64,
}

impl Default for Fit {
    fn default() -> Self {
        Self {
            noise: 1.0,
            stretch: 1.0,
        }
    }
}

/// Exchanges found, by time: those undone in `tracks`, named as if they were undone in this order,
/// and those in doubt; and where an exchange would not show, with its log ratio.
#[derive(Debug, Default)]
struct Found {
    mended: Vec<Suspect>,
    doubtful: Vec<Suspect>,
    undecided: Vec<(Range, f64)>,
}

impl Search<'_> {
    /// Find exchanges and undo the certain ones in `tracks`, the surest first.
    fn mend(&self, tracks: &mut [Track]) -> Found {
        /// An exchange undone makes room for the next one beside it; a tracker that exchanges
        /// more often than this has lost the players altogether.
        const MOST: usize = 2_000;
        let fit = self.fit(tracks);
        let mut ranges = self.ranges(tracks, fit);
        let mut peaks: Vec<Vec<Suspect>> = ranges
            .par_iter()
            .map(|r| self.peaks(tracks, *r, fit))
            .collect();
        let mut found = Found::default();
        while found.mended.len() < MOST {
            let best = peaks
                .iter()
                .flatten()
                .filter(|s| self.is_certain(s))
                .max_by(|x, y| {
                    x.log_ratio
                        .total_cmp(&y.log_ratio)
                        .then((y.frame, y.a, y.b).cmp(&(x.frame, x.a, x.b)))
                })
                .copied();
            let Some(s) = best else { break };
            exchange(tracks, s.a, s.b, s.frame);
            // Later ones were named before this one was undone.
            for m in found.mended.iter_mut().filter(|m| m.frame > s.frame) {
                (m.a, m.b) = others(s, m.a, m.b);
            }
            found.mended.push(s);
            self.relabel(tracks, &mut ranges, &mut peaks, s, fit);
        }
        found.undecided = ranges
            .par_iter()
            .filter_map(|r| self.undecided(tracks, *r, fit))
            .collect();
        let unseen = self.unseen(tracks);
        let unsaid = unseen
            .into_iter()
            .filter(|r| !self.is_judged((r.a, r.b), r.from, r.to));
        found.undecided.extend(unsaid.map(|r| (r, 0.0)));
        found.doubtful = peaks.into_iter().flatten().collect();
        found.mended.sort_by_key(|s| (s.frame, s.a, s.b));
        found.doubtful.sort_by_key(|s| (s.a, s.b, s.frame));
        let apart = (0.5 * self.rate_hz) as usize;
        found
            .doubtful
            .dedup_by(|x, y| (x.a, x.b) == (y.a, y.b) && x.frame - y.frame <= apart);
        found.doubtful.sort_by_key(|s| (s.frame, s.a, s.b));
        found.undecided.retain(|(r, _)| {
            let about = |s: &Suspect| {
                (s.a, s.b) == (r.a, r.b) && s.frame + apart >= r.from && s.frame <= r.to + apart
            };
            !found.doubtful.iter().any(about)
        });
        found.undecided.sort_by_key(|(r, _)| (r.from, r.a, r.b));
        found
    }

    /// A range in which tracks would look much the same had the two been exchanged.
    fn undecided(&self, tracks: &[Track], r: Range, fit: Fit) -> Option<(Range, f64)> {
        if self.is_judged((r.a, r.b), r.from, r.to) {
            return None;
        }
        let ratio = |m: &Meeting| (m.kept - m.exchanged) / (2.0 * fit.stretch);
        let best = self
            .meetings(tracks, r, fit)
            .iter()
            .map(|(_, _, m)| ratio(m))
            .fold(f64::NEG_INFINITY, f64::max);
        (best > RULED_OUT).then_some((r, best))
    }

    /// Stretches in which one of two who were near each other before or after it was unseen for
    /// longer than anybody is followed: who came out of it is as likely the one as the other.
    fn unseen(&self, tracks: &[Track]) -> Vec<Range> {
        let frames = |s: f64| (s * self.rate_hz) as usize;
        let (gap, most) = (frames(GAP_S), frames(AWAY_S));
        pairs(tracks.len())
            .par_iter()
            .flat_map_iter(|(a, b)| {
                let (ta, tb) = (&tracks[*a], &tracks[*b]);
                let apart = |f: usize| (ta.x[f] - tb.x[f]).hypot(ta.y[f] - tb.y[f]);
                let seen = (0..ta.len())
                    .filter(|f| ta.known[*f] == Known::Measured && tb.known[*f] == Known::Measured);
                let mut last: Option<usize> = None;
                let mut out = Vec::new();
                for to in seen {
                    let from = last.replace(to).unwrap_or(to);
                    let long = to - from;
                    if long > gap && long <= most && apart(from).min(apart(to)) <= self.near {
                        out.push(Range {
                            a: *a,
                            b: *b,
                            from,
                            to,
                        });
                    }
                }
                out
            })
            .collect()
    }

    /// Whether a person has said what happened to two players about these frames: that stands.
    fn is_judged(&self, pair: (usize, usize), from: usize, to: usize) -> bool {
        let near = (SAID_S * self.rate_hz) as usize;
        self.said
            .iter()
            .any(|(a, b, frame)| (*a, *b) == pair && frame + near >= from && *frame <= to + near)
    }

    fn is_certain(&self, s: &Suspect) -> bool {
        s.log_ratio >= self.certain && s.exchanged <= SMOOTH
    }

    /// Of one player, or of the difference of two.
    fn filter_of(&self, players: &[usize], fit: Fit) -> Filter {
        let usual = (2.0 * SIDE_S + 1.0) * self.rate_hz;
        Filter::new(
            self.motion_of(players, fit),
            self.rate_hz,
            usual.ceil() as usize,
        )
    }

    fn motion_of(&self, players: &[usize], fit: Fit) -> Motion {
        let sigma = |i: &usize| {
            let n = self.noise[*i];
            if n.is_finite() {
                n.clamp(0.02, 1.0)
            } else {
                0.1
            }
        };
        let noise = players.iter().map(|i| sigma(i).powi(2)).sum::<f64>().sqrt();
        Motion::of_people(players.len(), fit.noise * noise)
    }

    /// Every stretch of every pair in which an exchange is possible.
    fn ranges(&self, tracks: &[Track], fit: Fit) -> Vec<Range> {
        let boxes: Vec<Vec<Bounds>> = tracks.par_iter().map(bounds).collect();
        pairs(tracks.len())
            .par_iter()
            .flat_map_iter(|(a, b)| {
                let near = self.near_stretches(&boxes[*a], &boxes[*b], tracks[*a].len());
                self.ranges_of(tracks, *a, *b, fit, &near)
            })
            .collect()
    }

    /// Stretches of frames outside which two players cannot be near, with room for what is looked at
    /// before and after a moment.
    fn near_stretches(&self, a: &[Bounds], b: &[Bounds], frames: usize) -> Vec<(usize, usize)> {
        let room = ((GAP_S * self.rate_hz) as usize).max(BLOCK);
        let mut out: Vec<(usize, usize)> = Vec::new();
        for (k, (a, b)) in a.iter().zip(b).enumerate() {
            if a.apart(b) > self.near {
                continue;
            }
            let from = (k * BLOCK).saturating_sub(room);
            let to = ((k + 1) * BLOCK + room).min(frames);
            match out.last_mut() {
                Some(last) if from <= last.1 => last.1 = to,
                _ => out.push((from, to)),
            }
        }
        out
    }

    /// Players who stay apart and on their sides of each other cannot have been exchanged: means
    /// over three frames before and after a moment then point the same way, by more than noise.
    fn ranges_of(
        &self,
        tracks: &[Track],
        a: usize,
        b: usize,
        fit: Fit,
        stretches: &[(usize, usize)],
    ) -> Vec<Range> {
        let noise = self.motion_of(&[a, b], fit).noise;
        let limit = (2.5 * noise).max(0.3).powi(2);
        let near = self.near * self.near;
        let join = (0.5 * self.rate_hz) as usize;
        let gap = (GAP_S * self.rate_hz) as usize;
        let (ta, tb) = (&tracks[a], &tracks[b]);
        let mut out: Vec<Range> = Vec::new();
        // The last six frames at which both are known; the oldest is at `seen % 6`.
        let mut last: [(usize, [f64; 2]); 6] = [(0, [0.0; 2]); 6];
        let mut seen = 0;
        for f in stretches.iter().flat_map(|(from, to)| *from..*to) {
            if ta.known[f] != Known::Measured || tb.known[f] != Known::Measured {
                continue;
            }
            if seen > 0 && f - last[(seen + 5) % 6].0 > gap {
                seen = 0;
            }
            last[seen % 6] = (f, [ta.x[f] - tb.x[f], ta.y[f] - tb.y[f]]);
            seen += 1;
            if seen < 6 {
                continue;
            }
            let at = |k: usize| last[(seen + k) % 6];
            let sum = |from: usize| {
                (from..from + 3).fold([0.0; 2], |s, k| {
                    let x = at(k).1;
                    [s[0] + x[0] / 3.0, s[1] + x[1] / 3.0]
                })
            };
            let (m, n) = (sum(0), sum(3));
            let far = (m[0] * m[0] + m[1] * m[1]).max(n[0] * n[0] + n[1] * n[1]);
            if far > near || m[0] * n[0] + m[1] * n[1] > limit {
                continue;
            }
            let (from, to) = (at(1).0, at(4).0);
            match out.last_mut() {
                Some(r) if from <= r.to + join => r.to = to,
                _ => out.push(Range { a, b, from, to }),
            }
        }
        out
    }

    /// Differences of the two over the range and a side to each end; split at long gaps.
    fn meetings(&self, tracks: &[Track], r: Range, fit: Fit) -> Vec<(usize, usize, Meeting)> {
        let side = (SIDE_S * self.rate_hz) as usize;
        let filter = self.filter_of(&[r.a, r.b], fit);
        let (ta, tb) = (&tracks[r.a], &tracks[r.b]);
        let mut out = Vec::new();
        let gap = (GAP_S * self.rate_hz) as usize;
        let mut seen: Vec<At> = Vec::new();
        let mut flush = |seen: &mut Vec<At>| {
            let sides = filter.sides(seen);
            for k in 1..seen.len() {
                let outside = seen[k].frame < r.from || seen[k - 1].frame > r.to;
                if outside || k < 3 || k + 3 > seen.len() {
                    continue;
                }
                let (before, after) = &sides[k];
                if before.apart().min(after.apart()) > self.near {
                    continue;
                }
                out.push((seen[k - 1].frame, seen[k].frame, Meeting::of(before, after)));
            }
            seen.clear();
        };
        for f in r.from.saturating_sub(side)..=(r.to + side).min(ta.len() - 1) {
            if ta.known[f] != Known::Measured || tb.known[f] != Known::Measured {
                continue;
            }
            if seen.last().is_some_and(|s| f - s.frame > gap) {
                flush(&mut seen);
            }
            seen.push(At {
                frame: f,
                p: [ta.x[f] - tb.x[f], ta.y[f] - tb.y[f]],
            });
        }
        flush(&mut seen);
        out
    }

    /// What the model misses, judged on single players, whose tracks an exchange breaks at a few
    /// moments only. Noise that a sensor's filter has smoothed, or that wanders, does not show in
    /// `noise`: it is scaled up until the model all but holds. What then remains, in the middle or
    /// at the far end of the distribution, stretches every squared distance.
    fn fit(&self, tracks: &[Track]) -> Fit {
        let mut best: Option<Fit> = None;
        for noise in NOISE_SCALES {
            let tried = Fit {
                noise,
                stretch: 1.0,
            };
            let mut all = self.breaks(tracks, tried);
            if all.len() < 50 {
                return Fit::default();
            }
            let n = all.len();
            let mut at = |share: f64| {
                let i = ((n - 1) as f64 * share) as usize;
                *all.select_nth_unstable_by(i, f64::total_cmp).1
            };
            let stretch = (at(0.5) / CHI_MEDIAN).max(at(0.95) / CHI_FAR).max(1.0);
            if best.is_none_or(|b| stretch < b.stretch) {
                best = Some(Fit { noise, stretch });
            }
            if stretch <= GOOD_ENOUGH {
                break;
            }
        }
        best.unwrap_or_default()
    }

    /// Squared distances of both sides at moments of single players evenly over the session.
    fn breaks(&self, tracks: &[Track], fit: Fit) -> Vec<f64> {
        /// Windows looked at.
        const MOST: usize = 200;
        let long = ((2.0 * SIDE_S + 1.0) * self.rate_hz).ceil() as usize;
        // A side of half a second at least: what is just beginning to be seen fits anything.
        let edge = ((0.5 * self.rate_hz) as usize).max(1);
        let each = (MOST / tracks.len().max(1)).max(1);
        let windows: Vec<(usize, usize)> = tracks
            .iter()
            .enumerate()
            .flat_map(|(i, t)| {
                let step = (t.len() / each).max(long);
                (0..t.len()).step_by(step).map(move |from| (i, from))
            })
            .collect();
        let filters: Vec<Filter> = (0..tracks.len())
            .map(|i| self.filter_of(&[i], fit))
            .collect();
        windows
            .par_iter()
            .flat_map_iter(|(i, from)| {
                let t = &tracks[*i];
                let seen: Vec<At> = (*from..(from + long).min(t.len()))
                    .filter(|f| t.known[*f] == Known::Measured)
                    .map(|frame| At {
                        frame,
                        p: [t.x[frame], t.y[frame]],
                    })
                    .collect();
                let sides = filters[*i].sides(&seen);
                (edge..seen.len().saturating_sub(edge))
                    .map(|k| Meeting::of(&sides[k].0, &sides[k].1).kept)
                    .collect::<Vec<_>>()
            })
            .collect()
    }

    /// Moments of a range at which exchange is likelier than not by the limit, one per second at
    /// most.
    fn peaks(&self, tracks: &[Track], r: Range, fit: Fit) -> Vec<Suspect> {
        let apart = (0.5 * self.rate_hz) as usize;
        let mut all: Vec<Suspect> = self
            .meetings(tracks, r, fit)
            .into_iter()
            .map(|(before, frame, m)| Suspect {
                a: r.a,
                b: r.b,
                frame,
                before,
                log_ratio: (m.kept - m.exchanged) / (2.0 * fit.stretch),
                exchanged: m.exchanged / fit.stretch,
            })
            .filter(|s| !self.is_judged((s.a, s.b), s.frame, s.frame))
            // Where neither goes on smoothly a track is broken, but nobody is exchanged.
            .filter(|s| s.log_ratio >= self.suspect && s.exchanged <= 2.0 * SMOOTH)
            .collect();
        all.sort_by(|x, y| {
            y.log_ratio
                .total_cmp(&x.log_ratio)
                .then(x.frame.cmp(&y.frame))
        });
        let mut out: Vec<Suspect> = Vec::new();
        for s in all {
            if out.iter().all(|o| o.frame.abs_diff(s.frame) > apart) {
                out.push(s);
            }
        }
        out
    }

    /// After an exchange was undone, ranges behind it belong to the other of the two, and those
    /// about it are judged anew.
    fn relabel(
        &self,
        tracks: &[Track],
        ranges: &mut Vec<Range>,
        peaks: &mut Vec<Vec<Suspect>>,
        s: Suspect,
        fit: Fit,
    ) {
        let side = (SIDE_S * self.rate_hz) as usize;
        let mut split: Vec<Range> = Vec::new();
        for (r, p) in ranges.iter_mut().zip(peaks.iter_mut()) {
            let touched = [r.a, r.b].iter().any(|i| *i == s.a || *i == s.b);
            if !touched || r.to + side < s.frame {
                continue;
            }
            let near = r.from <= s.frame + side;
            if r.from >= s.frame {
                (r.a, r.b) = others(s, r.a, r.b);
                for q in p.iter_mut() {
                    (q.a, q.b) = (r.a, r.b);
                }
            }
            if near {
                *p = self.peaks(tracks, *r, fit);
            }
            // A range across the moment goes on with either of the two.
            let (a, b) = others(s, r.a, r.b);
            if r.from < s.frame && r.to >= s.frame && (a, b) != (r.a, r.b) {
                split.push(Range {
                    a,
                    b,
                    from: s.frame,
                    to: r.to,
                });
            }
        }
        for r in split {
            peaks.push(self.peaks(tracks, r, fit));
            ranges.push(r);
        }
    }
}

/// Every two of so many players, the lower index first.
fn pairs(players: usize) -> Vec<(usize, usize)> {
    (0..players)
        .flat_map(|a| (a + 1..players).map(move |b| (a, b)))
        .collect()
}

/// Frames whose positions are held by one box.
const BLOCK: usize = 16;

/// The measured positions of a block.
#[derive(Debug, Clone, Copy)]
struct Bounds {
    low: [f64; 2],
    high: [f64; 2],
}

impl Bounds {
    /// Least distance, metres; infinite where either holds nothing.
    fn apart(&self, other: &Self) -> f64 {
        let gap = |k: usize| {
            (self.low[k] - other.high[k])
                .max(other.low[k] - self.high[k])
                .max(0.0)
        };
        let (x, y) = (gap(0), gap(1));
        (x * x + y * y).sqrt()
    }
}

fn bounds(track: &Track) -> Vec<Bounds> {
    (0..track.len())
        .step_by(BLOCK)
        .map(|from| {
            let mut b = Bounds {
                low: [f64::INFINITY; 2],
                high: [f64::NEG_INFINITY; 2],
            };
            for f in from..(from + BLOCK).min(track.len()) {
                if track.known[f] == Known::Measured {
                    for (k, v) in [track.x[f], track.y[f]].into_iter().enumerate() {
                        b.low[k] = b.low[k].min(v);
                        b.high[k] = b.high[k].max(v);
                    }
                }
            }
            b
        })
        .collect()
}

/// Who two players are behind an exchange, the lower index first.
fn others(s: Suspect, a: usize, b: usize) -> (usize, usize) {
    let other = |i: usize| match i {
        i if i == s.a => s.b,
        i if i == s.b => s.a,
        i => i,
    };
    let (a, b) = (other(a), other(b));
    (a.min(b), a.max(b))
}

/// From `frame` on, what was one player's is the other's.
fn exchange(tracks: &mut [Track], a: usize, b: usize, frame: usize) {
    let (head, tail) = tracks.split_at_mut(b);
    let (p, q) = (&mut head[a], &mut tail[0]);
    p.x[frame..].swap_with_slice(&mut q.x[frame..]);
    p.y[frame..].swap_with_slice(&mut q.y[frame..]);
    p.known[frame..].swap_with_slice(&mut q.known[frame..]);
    if let (Some(p), Some(q)) = (&mut p.z, &mut q.z) {
        p[frame..].swap_with_slice(&mut q[frame..]);
    }
}

/// Find exchanges of identity and undo them, or leave the two unknown where they are in doubt.
///
/// `placed` makes a track of samples: an exchange undone there gives back what was cut as a jump.
pub(super) fn mend(
    raw: &RawTracks,
    settings: &Cleaning,
    axis: Axis,
    tracks: &mut [Track],
    sheets: &mut [ObjectQuality],
    placed: &(impl Fn(&Samples) -> (Track, ObjectQuality) + Sync),
) -> (Vec<Swap>, Vec<Undecided>) {
    let noise: Vec<f64> = sheets.iter().map(|s| s.noise_m).collect();
    let said: Vec<(usize, usize, usize)> = raw
        .exchanges
        .iter()
        .flat_map(|e| {
            let (a, b) = e.players;
            let times = std::iter::once(e.from_s).chain(e.to_s);
            times.map(move |t| (a, b, axis.frame(t)))
        })
        .collect();
    let search = Search {
        noise: &noise,
        rate_hz: axis.rate_hz,
        near: settings.swap_distance,
        suspect: SUSPECT,
        certain: settings.swap_odds.ln(),
        said: &said,
    };
    let time = |frame: usize| axis.start + frame as f64 / axis.rate_hz;
    let mut own: BTreeMap<usize, Samples> = BTreeMap::new();
    let mut mended: Vec<Suspect> = Vec::new();
    let (mut doubtful, mut undecided) = (Vec::new(), Vec::new());
    // An exchange undone gives back samples that were cut as a jump, and those show more.
    for _ in 0..PASSES {
        let found = search.mend(tracks);
        (doubtful, undecided) = (found.doubtful, found.undecided);
        if found.mended.is_empty() {
            break;
        }
        for s in &found.mended {
            let take = |own: &mut BTreeMap<usize, Samples>, i: usize| {
                own.remove(&i).unwrap_or_else(|| raw.samples[i].clone())
            };
            let (mut a, mut b) = (take(&mut own, s.a), take(&mut own, s.b));
            let at = moment(&a, &b, time(s.before), time(s.frame));
            exchange_samples(&mut a, &mut b, at);
            own.insert(s.a, a);
            own.insert(s.b, b);
            for m in mended.iter_mut().filter(|m| m.frame > s.frame) {
                (m.a, m.b) = others(*s, m.a, m.b);
            }
        }
        for (i, samples) in &own {
            (tracks[*i], sheets[*i]) = placed(samples);
        }
        mended.extend(found.mended);
    }
    mended.sort_by_key(|s| (s.frame, s.a, s.b));
    for s in &mended {
        sheets[s.a].swaps_mended += 1;
        sheets[s.b].swaps_mended += 1;
    }
    for s in &doubtful {
        sheets[s.a].swaps_doubtful += 1;
        sheets[s.b].swaps_doubtful += 1;
    }
    let mut swaps: Vec<Swap> = mended
        .iter()
        .map(|s| Swap {
            players: (s.a, s.b),
            time_s: time(s.frame),
            apart_m: apart(tracks, s),
            odds_log10: s.log_ratio / std::f64::consts::LN_10,
            mended: true,
            by_hand: false,
            unknown_s: 0.0,
        })
        .collect();
    for s in &doubtful {
        let before = (DOUBT_BEFORE_S * axis.rate_hz) as usize;
        let from = s.frame.saturating_sub(before);
        let next = mended
            .iter()
            .chain(&doubtful)
            .filter(|o| (o.a, o.b) == (s.a, s.b) && o.frame > s.frame)
            .map(|o| o.frame)
            .min();
        let long = s.frame + (settings.swap_doubt * axis.rate_hz) as usize;
        let to = long.min(next.unwrap_or(long)).min(axis.frames);
        swaps.push(Swap {
            players: (s.a, s.b),
            time_s: time(s.frame),
            apart_m: apart(tracks, s),
            odds_log10: s.log_ratio / std::f64::consts::LN_10,
            mended: false,
            by_hand: false,
            unknown_s: to.saturating_sub(from) as f64 / axis.rate_hz,
        });
    }
    // Distances are of the tracks before any of this.
    for (s, w) in doubtful.iter().zip(&swaps[mended.len()..]) {
        let before = (DOUBT_BEFORE_S * axis.rate_hz) as usize;
        let from = s.frame.saturating_sub(before);
        let to = from + (w.unknown_s * axis.rate_hz).round() as usize;
        for i in [s.a, s.b] {
            for f in from..to.min(axis.frames) {
                if tracks[i].known[f] != Known::Unknown {
                    forget(&mut tracks[i], f);
                    sheets[i].doubt_s += 1.0 / axis.rate_hz;
                }
            }
        }
    }
    let undecided = undecided
        .into_iter()
        .map(|(r, log_ratio)| Undecided {
            players: (r.a, r.b),
            from_s: time(r.from),
            to_s: time(r.to),
            odds_log10: log_ratio / std::f64::consts::LN_10,
        })
        .collect();
    (swaps, undecided)
}

/// Put what a person said of exchanges among those found.
pub(super) fn add_said(
    raw: &RawTracks,
    axis: Axis,
    tracks: &[Track],
    sheets: &mut [ObjectQuality],
    swaps: &mut Vec<Swap>,
) {
    for e in &raw.exchanges {
        let (a, b) = e.players;
        for time_s in std::iter::once(e.from_s).chain(e.to_s) {
            let frame = axis.frame(time_s);
            let apart_m = match (tracks[a].at(frame), tracks[b].at(frame)) {
                (Some(p), Some(q)) => p.distance(q),
                _ => f64::NAN,
            };
            for i in [a, b] {
                sheets[i].swaps_mended += usize::from(e.happened);
            }
            swaps.push(Swap {
                players: e.players,
                time_s,
                apart_m,
                odds_log10: f64::NAN,
                mended: e.happened,
                by_hand: true,
                unknown_s: 0.0,
            });
        }
    }
    swaps.sort_by(|x, y| {
        x.time_s
            .total_cmp(&y.time_s)
            .then(x.players.cmp(&y.players))
    });
}

fn apart(tracks: &[Track], s: &Suspect) -> f64 {
    match (tracks[s.a].at(s.before), tracks[s.b].at(s.before)) {
        (Some(a), Some(b)) => a.distance(b),
        _ => f64::NAN,
    }
}

/// When after `from` and up to `to`, seconds, two were exchanged: where exchanging shortens the steps most.
pub(crate) fn moment(a: &Samples, b: &Samples, from: f64, to: f64) -> f64 {
    let step =
        |p: &Samples, i: usize, q: &Samples, j: usize| (p.x[i] - q.x[j]).hypot(p.y[i] - q.y[j]);
    let first = a.t.partition_point(|t| *t <= from + 1e-9);
    let last = a.t.partition_point(|t| *t <= to + 1e-9);
    let mut best = (f64::INFINITY, (from + to) / 2.0);
    for i in first.max(1)..last {
        let at = (a.t[i - 1].max(from) + a.t[i]) / 2.0;
        let j = b.t.partition_point(|t| *t <= at);
        if j == 0 || j == b.len() {
            continue;
        }
        let cost = step(a, i - 1, b, j) + step(b, j - 1, a, i)
            - step(a, i - 1, a, i)
            - step(b, j - 1, b, j);
        if cost < best.0 {
            best = (cost, at);
        }
    }
    best.1
}

/// From time `at` on, what was one object's is the other's.
pub(crate) fn exchange_samples(a: &mut Samples, b: &mut Samples, at: f64) {
    let (i, j) = (
        a.t.partition_point(|t| *t <= at),
        b.t.partition_point(|t| *t <= at),
    );
    let cross = |p: &mut Vec<f64>, q: &mut Vec<f64>| {
        let (tail_p, tail_q) = (p.split_off(i), q.split_off(j));
        p.extend(tail_q);
        q.extend(tail_p);
    };
    cross(&mut a.t, &mut b.t);
    cross(&mut a.x, &mut b.x);
    cross(&mut a.y, &mut b.y);
    // Players' heights serve nothing; where only one has them they cannot be exchanged.
    match (&mut a.z, &mut b.z) {
        (Some(p), Some(q)) => cross(p, q),
        (p, q) => (*p, *q) = (None, None),
    }
}

//! What each role did against what was declared for it, session by session.

use crate::error::{Error, Result};
use crate::finding::Words;
use crate::model::{RoleDrift, SessionDrift, Trend};
use crate::stats::{self, Offsets, Slope, adjusted, half_width, mean, region_radius};
use crate::stretches::place_at;
use rayon::prelude::*;
use setdrift_court::AttackPoint;
use setdrift_events::model::Possession;
use setdrift_playbook::graph::{Graph, Node, NodeIx, OptionIx, RoleIx};
use setdrift_recognise::model::{Hand, Reading, Run, StepRun, What};
use setdrift_tracks::Session;
use std::collections::BTreeMap;

/// A session with what was recognised in it.
#[derive(Debug, Clone, Copy)]
pub struct SessionRuns<'a> {
    /// The session.
    pub session: &'a Session,
    /// Its possessions.
    pub possessions: &'a [Possession],
    /// What was run in them.
    pub readings: &'a [Reading],
}

/// Settings of [`role_drift`].
#[derive(Debug, Clone, PartialEq)]
pub struct DriftParams {
    /// Share of false lines that is accepted among all (Benjamini–Hochberg), above 0 and below 1.
    /// Default 0.05.
    pub level: f64,
    /// Random orders of the runs behind each p-value, at least 99. Default 9,999.
    pub permutations: usize,
    /// Least number of runs in a session for its part in a trend, at least 2. Default 3.
    pub least_runs: usize,
    /// A change of less than this from the first session to the last is not worth a line, metres.
    /// Default 0.45 (a foot and a half; common practice, no published source).
    pub least_change_m: f64,
    /// Seed of the random orders.
    pub seed: u64,
}

impl Default for DriftParams {
    fn default() -> Self {
        Self {
            level: 0.05,
            permutations: 9_999,
            least_runs: 3,
            least_change_m: 0.45,
            seed: 1,
        }
    }
}

/// Settings that are in range.
#[derive(Debug, Clone, PartialEq)]
pub struct ValidDriftParams(DriftParams);

impl DriftParams {
    /// Checks every setting.
    ///
    /// # Errors
    /// [`Error::Parameter`] for the first that is out of its range.
    pub fn check(self) -> Result<ValidDriftParams> {
        let fault = |name, value, expected| {
            Err(Error::Parameter {
                name,
                value,
                expected,
            })
        };
        if !(self.level > 0.0 && self.level < 1.0) {
            return fault("level", self.level, "above 0 and below 1");
        }
        if self.permutations < 99 {
            return fault("permutations", self.permutations as f64, "99 or more");
        }
        if self.least_runs < 2 {
            return fault("least_runs", self.least_runs as f64, "2 or more");
        }
        if !(self.least_change_m >= 0.0 && self.least_change_m.is_finite()) {
            let expected = "a finite number of metres, 0 or more";
            return fault("least_change_m", self.least_change_m, expected);
        }
        Ok(ValidDriftParams(self))
    }
}

impl std::ops::Deref for ValidDriftParams {
    type Target = DriftParams;

    fn deref(&self) -> &DriftParams {
        &self.0
    }
}

/// One role's offsets from its declared path in one run of a step, by frame of the node's motion.
struct RunOffsets {
    session: usize,
    /// Who had the role: id, and what to call the player.
    player: (String, String),
    node: NodeIx,
    frames: Offsets,
}

/// Executed against declared for each option, step and role that was run, in that order.
///
/// Sessions are taken by date where all have one, otherwise in the order given. Hands are undone
/// (left-handed runs mirrored) and roles mapped, each run once per frame by its warping path. Where
/// a step can be entered from several states its runs are pooled by their offsets from their own
/// declared motion, and the state entered most often gives the path shown.
///
/// A trend is tested over sessions of at least `least_runs` runs when there are two or more, and
/// becomes a finding when it is more than chance after allowing for all roles and steps tested,
/// large enough to matter, and steady (the session means lie about a line). Where less than half of
/// it is seen in the same players it says that others had the role. A steady difference from the
/// declared path beyond the role's tolerance is a finding too.
///
/// # Errors
/// [`Error::Foreign`] when a run names an option, step, role or player that is not there.
pub fn role_drift(
    graph: &Graph,
    sessions: &[SessionRuns<'_>],
    params: &ValidDriftParams,
) -> Result<Vec<RoleDrift>> {
    let mut sessions = sessions.to_vec();
    let dated = sessions.iter().all(|s| s.session.date.is_some());
    if dated {
        sessions.sort_by_key(|s| (s.session.date.clone(), s.session.id.clone()));
    }
    let mut found: Vec<(Key, Vec<RunOffsets>)> =
        keys(graph).into_iter().map(|k| (k, Vec::new())).collect();
    for (number, s) in sessions.iter().enumerate() {
        collect(graph, number, s, &mut found)?;
    }
    found.retain(|(_, runs)| runs.iter().any(|r| r.frames.iter().any(Option::is_some)));
    let parts: Vec<Part> = found
        .par_iter()
        .enumerate()
        .map(|(number, (key, runs))| Part::new(graph, *key, runs, params, number as u64))
        .collect();
    let p: Vec<f64> = parts.iter().filter_map(|p| Some(p.slope?.p)).collect();
    let mut q = adjusted(&p).into_iter();
    Ok(parts
        .into_iter()
        .map(|part| {
            let q = part.slope.and_then(|_| q.next());
            part.finish(graph, &sessions, dated, q, params)
        })
        .collect())
}

/// Least share of a trend that the same players have to show; otherwise it is a matter of who had
/// the role. A half: more than chance is asked of the trend itself, this only says whose it is.
const SAME_PLAYERS: f64 = 0.5;

/// Option, step and role.
type Key = (OptionIx, usize, RoleIx);

fn keys(graph: &Graph) -> Vec<Key> {
    let mut keys: Vec<Key> = graph
        .nodes
        .iter()
        .flat_map(|n| (0..graph.roles.len()).map(|r| (n.option, n.step, r)))
        .collect();
    keys.sort_unstable();
    keys.dedup();
    keys
}

fn collect(
    graph: &Graph,
    number: usize,
    s: &SessionRuns<'_>,
    found: &mut [(Key, Vec<RunOffsets>)],
) -> Result<()> {
    for reading in s.readings {
        let possession = s
            .possessions
            .iter()
            .find(|p| p.number == reading.possession);
        let Some(possession) = possession else {
            continue;
        };
        let runs = reading.segments.iter().filter_map(|g| match &g.what {
            What::Option(run) => Some(run),
            _ => None,
        });
        for run in runs {
            check(graph, s.session, reading.possession, run)?;
            for step in &run.steps {
                let node = &graph.nodes[step.node];
                for (role, player) in run.players.iter().enumerate() {
                    let key = (node.option, node.step, role);
                    let Ok(at) = found.binary_search_by_key(&key, |f| f.0) else {
                        continue;
                    };
                    let Some(player) = *player else {
                        continue;
                    };
                    let seen = Seen {
                        session: s.session,
                        possession,
                        player,
                        hand: run.hand,
                    };
                    let who = &s.session.players[player];
                    found[at].1.push(RunOffsets {
                        session: number,
                        player: (who.id.clone(), who.label()),
                        node: step.node,
                        frames: seen.offsets(step, &node.motion.roles[role]),
                    });
                }
            }
        }
    }
    Ok(())
}

fn check(graph: &Graph, session: &Session, possession: usize, run: &Run) -> Result<()> {
    let within = |what, found: usize, limit: usize| {
        if found < limit {
            Ok(())
        } else {
            Err(Error::Foreign {
                session: session.id.clone(),
                possession,
                what,
                found,
                limit,
            })
        }
    };
    within("option", run.option, graph.options.len())?;
    for step in &run.steps {
        within("step", step.node, graph.nodes.len())?;
        let frames = graph.nodes[step.node].motion.frames();
        for (_, frame) in &step.path {
            within("reference frame", *frame as usize, frames)?;
        }
    }
    for (role, player) in run.players.iter().enumerate() {
        within("role", role, graph.roles.len())?;
        if let Some(player) = player {
            within("player", *player, session.players.len())?;
        }
    }
    Ok(())
}

/// A player in a run.
struct Seen<'a> {
    session: &'a Session,
    possession: &'a Possession,
    player: usize,
    hand: Hand,
}

/// Reference frames that a quick run passed over are filled up to this many: from both sides, or at
/// either end of the step from the nearest.
const PASSED_OVER: usize = 3;

impl Seen<'_> {
    fn offsets(&self, step: &StepRun, declared: &[AttackPoint]) -> Offsets {
        let mut sums = vec![([0.0; 2], 0_usize); declared.len()];
        let track = &self.session.tracks[self.player];
        for &(time_s, frame) in &step.path {
            let (Some(place), Some(at)) = (
                place_at(self.session, track, time_s),
                declared.get(frame as usize),
            ) else {
                continue;
            };
            let place = place.to_attack(&self.session.court, self.possession.end);
            let place = match self.hand {
                Hand::Right => place,
                Hand::Left => place.mirrored(),
            };
            let (sum, n) = &mut sums[frame as usize];
            sum[0] += place.x - at.x;
            sum[1] += place.y - at.y;
            *n += 1;
        }
        let mut offsets: Offsets = sums
            .into_iter()
            .map(|(s, n)| (n > 0).then(|| [s[0] / n as f64, s[1] / n as f64]))
            .collect();
        fill(&mut offsets);
        offsets
    }
}

fn fill(offsets: &mut [Option<[f64; 2]>]) {
    let known: Vec<usize> = (0..offsets.len())
        .filter(|&f| offsets[f].is_some())
        .collect();
    let (Some(&first), Some(&last)) = (known.first(), known.last()) else {
        return;
    };
    let end = offsets.len();
    if first <= PASSED_OVER {
        let at = offsets[first];
        offsets[..first].fill(at);
    }
    if end - 1 - last <= PASSED_OVER {
        let at = offsets[last];
        offsets[last + 1..].fill(at);
    }
    for pair in known.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        if b - a > PASSED_OVER + 1 {
            continue;
        }
        if let (Some(x), Some(y)) = (offsets[a], offsets[b]) {
            for (k, between) in offsets[a + 1..b].iter_mut().enumerate() {
                let t = (k + 1) as f64 / (b - a) as f64;
                *between = Some([x[0] + (y[0] - x[0]) * t, x[1] + (y[1] - x[1]) * t]);
            }
        }
    }
}

/// One option, step and role on its way to a [`RoleDrift`].
struct Part<'a> {
    key: Key,
    node: &'a Node,
    /// Session of each run.
    sessions: Vec<usize>,
    /// Who had the role in each run: id, and what to call the player.
    players: Vec<(String, String)>,
    /// `offsets[run][frame of node]`.
    offsets: Vec<Offsets>,
    slope: Option<Slope>,
}

impl<'a> Part<'a> {
    fn new(
        graph: &'a Graph,
        key: Key,
        runs: &[RunOffsets],
        params: &ValidDriftParams,
        number: u64,
    ) -> Self {
        // The state entered most often; the first among equals.
        let count = |node: NodeIx| runs.iter().filter(|r| r.node == node).count();
        let node = runs
            .iter()
            .map(|r| r.node)
            .reduce(|a, b| {
                let (x, y) = (count(a), count(b));
                if y > x || (y == x && b < a) { b } else { a }
            })
            .unwrap_or(0);
        let node = &graph.nodes[node];
        let frames = node.motion.frames();
        let offsets: Vec<Offsets> = runs
            .iter()
            .map(|r| {
                let own = r.frames.len();
                (0..frames)
                    .map(|f| {
                        let at = (f * (own - 1) + (frames - 1) / 2) / (frames - 1).max(1);
                        r.frames[at.min(own - 1)]
                    })
                    .collect()
            })
            .collect();
        let sessions: Vec<usize> = runs.iter().map(|r| r.session).collect();
        let mut part = Self {
            key,
            node,
            sessions,
            players: runs.iter().map(|r| r.player.clone()).collect(),
            offsets,
            slope: None,
        };
        part.slope = part.trend(params, number);
        part
    }

    /// Sessions with enough runs, by number.
    fn enough(&self, least: usize) -> Vec<usize> {
        let mut numbers = self.sessions.clone();
        numbers.sort_unstable();
        numbers.dedup();
        numbers.retain(|n| self.sessions.iter().filter(|s| *s == n).count() >= least);
        numbers
    }

    fn trend(&self, params: &ValidDriftParams, number: u64) -> Option<Slope> {
        let enough = self.enough(params.least_runs);
        if enough.len() < 2 {
            return None;
        }
        let (order, offsets): (Vec<f64>, Vec<_>) = self
            .sessions
            .iter()
            .zip(&self.offsets)
            .filter_map(|(s, o)| {
                let at = enough.iter().position(|e| e == s)?;
                Some((at as f64, o.clone()))
            })
            .unzip();
        let seed = params.seed.wrapping_add(number.wrapping_mul(0x9e37_79b9));
        let least = (order.len() / 2).max(2 * params.least_runs);
        stats::trend(&offsets, &order, least, params.permutations, seed)
    }

    fn known(&self, frame: usize, session: Option<usize>) -> Vec<[f64; 2]> {
        self.sessions
            .iter()
            .zip(&self.offsets)
            .filter(|(s, _)| session.is_none_or(|n| n == **s))
            .filter_map(|(_, o)| o[frame])
            .collect()
    }

    fn finish(
        &self,
        graph: &Graph,
        sessions: &[SessionRuns<'_>],
        dated: bool,
        q: Option<f64>,
        params: &ValidDriftParams,
    ) -> RoleDrift {
        let (option, step, role) = self.key;
        let declared = self.node.motion.roles[role].clone();
        let frames = declared.len();
        let runs = self.offsets.len();
        let by_frame: Vec<Vec<[f64; 2]>> = (0..frames).map(|f| self.known(f, None)).collect();
        let means: Vec<Option<[f64; 2]>> = by_frame
            .iter()
            .map(|k| (!k.is_empty()).then(|| mean(k)))
            .collect();
        let region_m: Vec<Option<f64>> = by_frame.iter().map(|k| region_radius(k)).collect();
        let steady = self.steady_difference(&by_frame, &means, runs);
        let trend = self.slope.zip(q).map(|(s, q)| Trend {
            frame: s.frame,
            out_m: s.per_session[0],
            right_m: s.per_session[1],
            p: s.p,
            q,
        });
        let sure = trend.filter(|t| self.is_finding(t, params));
        let frame = sure.map_or(steady, |t| t.frame);
        let rows = self.session_rows(sessions, frame, declared[frame]);
        let words = Words {
            graph,
            option,
            step,
            role,
            frame,
            declared: &declared,
        };
        let finding = match sure {
            Some(t) => {
                let first = self.enough(params.least_runs)[0];
                let since = if dated {
                    sessions[first].session.date.clone()
                } else {
                    None
                };
                let last = rows.last().map_or([0.0; 2], |r| [r.out_m, r.right_m]);
                let enough = self.enough(params.least_runs);
                let change = [t.out_m, t.right_m];
                let moved = self.within_players(&t, &enough) >= SAME_PLAYERS;
                Some(if moved {
                    words.trend(last, change, enough.len(), since.as_deref())
                } else {
                    let (first, last_of) = (enough[0], enough[enough.len() - 1]);
                    let mostly = self.mostly(first).zip(self.mostly(last_of));
                    words.other_players(last, mostly, since.as_deref())
                })
            }
            None => self
                .beyond_tolerance(frame, &means, &region_m)
                .map(|offset| words.difference(offset, runs, rows.len())),
        };
        RoleDrift {
            option: graph.options[option].id.clone(),
            step: step + 1,
            role: graph.roles[role].clone(),
            mean: filled(&declared, &means),
            declared,
            region_m,
            frame,
            trend,
            sessions: rows,
            finding,
        }
    }

    /// The frame where executed and declared differ most, among those that at least half of the
    /// runs show.
    fn steady_difference(
        &self,
        by_frame: &[Vec<[f64; 2]>],
        means: &[Option<[f64; 2]>],
        runs: usize,
    ) -> usize {
        let length = |f: usize| means[f].map_or(-1.0, |m| m[0].hypot(m[1]));
        let seen = |least: usize| {
            (0..by_frame.len())
                .filter(|&f| by_frame[f].len() >= least.max(1))
                .reduce(|a, b| if length(b) > length(a) { b } else { a })
        };
        seen(runs.div_ceil(2)).or_else(|| seen(1)).unwrap_or(0)
    }

    /// More than chance after all tests, large enough, and steady over the sessions.
    fn is_finding(&self, t: &Trend, params: &ValidDriftParams) -> bool {
        let enough = self.enough(params.least_runs);
        let steps = (enough.len() - 1) as f64;
        let change = t.out_m.hypot(t.right_m) * steps;
        t.q <= params.level && change >= params.least_change_m && self.line_up(t, &enough)
    }

    /// Whether the means of the sessions lie about a line: at least 70 % of their scatter is along
    /// it. Two sessions always do.
    fn line_up(&self, t: &Trend, enough: &[usize]) -> bool {
        let means: Vec<[f64; 2]> = enough
            .iter()
            .map(|&s| mean(&self.known(t.frame, Some(s))))
            .collect();
        let n = means.len() as f64;
        let (middle, centre) = ((n - 1.0) / 2.0, mean(&means));
        let (mut scatter, mut rest) = (0.0, 0.0);
        for (k, m) in means.iter().enumerate() {
            let x = k as f64 - middle;
            let (dx, dy) = (m[0] - centre[0], m[1] - centre[1]);
            scatter += dx * dx + dy * dy;
            rest += (dx - x * t.out_m).powi(2) + (dy - x * t.right_m).powi(2);
        }
        rest <= 0.3 * scatter
    }

    /// How much of a trend the same players show: the slope of their offsets about their own means,
    /// along the trend, as a share of it (regression with a constant per player); 0 where no
    /// player had the role in two sessions.
    fn within_players(&self, t: &Trend, enough: &[usize]) -> f64 {
        let whole = t.out_m.hypot(t.right_m);
        let along = |d: [f64; 2]| (d[0] * t.out_m + d[1] * t.right_m) / whole;
        let mut own: BTreeMap<&str, Vec<(f64, f64)>> = BTreeMap::new();
        for ((session, player), offsets) in
            self.sessions.iter().zip(&self.players).zip(&self.offsets)
        {
            let at = enough.iter().position(|e| e == session);
            if let (Some(at), Some(d)) = (at, offsets[t.frame]) {
                let runs = own.entry(player.0.as_str()).or_default();
                runs.push((at as f64, along(d)));
            }
        }
        let (mut both, mut spread) = (0.0, 0.0);
        for runs in own.values() {
            let n = runs.len() as f64;
            let x = runs.iter().map(|r| r.0).sum::<f64>() / n;
            let y = runs.iter().map(|r| r.1).sum::<f64>() / n;
            both += runs.iter().map(|r| (r.0 - x) * (r.1 - y)).sum::<f64>();
            spread += runs.iter().map(|r| (r.0 - x).powi(2)).sum::<f64>();
        }
        if spread > 0.0 && whole > 0.0 {
            both / spread / whole
        } else {
            0.0
        }
    }

    /// Who had the role most often in a session; the first by id among equals.
    fn mostly(&self, session: usize) -> Option<&str> {
        let mut count: BTreeMap<&(String, String), usize> = BTreeMap::new();
        for (_, p) in self
            .sessions
            .iter()
            .zip(&self.players)
            .filter(|r| *r.0 == session)
        {
            *count.entry(p).or_default() += 1;
        }
        let most = count.values().copied().max()?;
        count
            .into_iter()
            .find(|c| c.1 == most)
            .map(|c| c.0.1.as_str())
    }

    /// The mean offset where, with its confidence region, it is beyond the role's tolerance.
    fn beyond_tolerance(
        &self,
        frame: usize,
        means: &[Option<[f64; 2]>],
        region_m: &[Option<f64>],
    ) -> Option<[f64; 2]> {
        let offset = means[frame]?;
        let tolerance = self.node.motion.tolerance.get(self.key.2)?;
        (offset[0].hypot(offset[1]) - region_m[frame]? > *tolerance).then_some(offset)
    }

    fn session_rows(
        &self,
        sessions: &[SessionRuns<'_>],
        frame: usize,
        declared: AttackPoint,
    ) -> Vec<SessionDrift> {
        sessions
            .iter()
            .enumerate()
            .filter_map(|(number, s)| {
                let known = self.known(frame, Some(number));
                if known.is_empty() {
                    return None;
                }
                let [out_m, right_m] = mean(&known);
                Some(SessionDrift {
                    session: s.session.id.clone(),
                    date: s.session.date.clone(),
                    runs: known.len(),
                    place: AttackPoint::new(declared.x + out_m, declared.y + right_m),
                    out_m,
                    right_m,
                    half_width_m: half_width(&known),
                })
            })
            .collect()
    }
}

/// The declared path with the mean offsets added; frames that no run shows take the offset of the
/// nearest that one does.
fn filled(declared: &[AttackPoint], means: &[Option<[f64; 2]>]) -> Vec<AttackPoint> {
    let known: Vec<usize> = (0..means.len()).filter(|&f| means[f].is_some()).collect();
    declared
        .iter()
        .enumerate()
        .map(|(f, d)| {
            let near = known.iter().min_by_key(|k| k.abs_diff(f));
            let [x, y] = near.and_then(|&k| means[k]).unwrap_or_default();
            AttackPoint::new(d.x + x, d.y + y)
        })
        .collect()
}

//! From a decoding to verdicts with evidence.

use crate::{
    decode::{DecodeError, Effort, Found, Key, Search},
    faults,
    model::{Run, Segment, StepRun, Verdict, What},
    params::ValidParams,
    query::Query,
    scene::Scene,
    templates::Kind,
};
use setdrift_events::model::BallStory;
use setdrift_playbook::graph::{Graph, NodeIx, OptionIx};

/// What verdicts are made from.
pub struct Context<'a> {
    /// The compiled playbook.
    pub graph: &'a Graph,
    /// The possession, its references and the role assignments of the search.
    pub scene: &'a Scene<'a>,
    /// Settings.
    pub params: &'a ValidParams,
    /// Ball events of the session.
    pub story: &'a BallStory,
}

/// A decoded part that will become one segment.
struct Part {
    start: usize,
    end: usize,
    what: PartKind,
}

enum PartKind {
    OffScript,
    Set(usize),
    Run(Vec<(NodeIx, Found, Key)>),
}

impl Context<'_> {
    /// Verdicts for a whole decoding, in time order without gaps.
    ///
    /// # Errors
    /// [`DecodeError`] from the search for a runner-up.
    pub fn segments(
        &self,
        search: &Search<'_>,
        decoding: Vec<Found>,
        effort: &mut Effort,
    ) -> Result<Vec<Segment>, DecodeError> {
        let mut judged: Vec<(usize, usize, What)> = Vec::new();
        let mut after_run = false;
        let mut parts = self.drop_thin(self.parts(decoding)).into_iter().peekable();
        while let Some(Part {
            start,
            mut end,
            what,
        }) = parts.next()
        {
            let what = match what {
                PartKind::OffScript => What::OffScript,
                PartKind::Set(s) => What::Set {
                    formation: self.graph.formations[s].name.clone(),
                },
                PartKind::Run(steps) => {
                    let mut run = self.run(search, start, end, &steps, effort)?;
                    let nothing = self.nothing_run(search, start, end, effort)?;
                    let gain = nothing - run.cost * (end - start) as f64;
                    if gain >= self.price(&run, after_run) {
                        if let Some(next) = parts.peek_mut()
                            && matches!(next.what, PartKind::OffScript)
                            && let Some(at) = self.left(&steps, next.end)
                        {
                            shorten(&mut run, self.scene.query, at);
                            (end, next.start) = (at, at);
                        }
                        What::Option(Box::new(run))
                    } else {
                        What::OffScript
                    }
                }
            };
            after_run = matches!(what, What::Option(_));
            match judged.last_mut() {
                Some((_, last, What::OffScript)) if matches!(what, What::OffScript) => *last = end,
                _ => judged.push((start, end, what)),
            }
        }
        let segments = judged.into_iter();
        Ok(segments
            .map(|(start, end, what)| self.segment(start, end, what))
            .collect())
    }

    /// When a run that was broken off was left; frames up to `until` are off script.
    fn left(&self, steps: &[(NodeIx, Found, Key)], until: usize) -> Option<usize> {
        let (_, last, _) = steps.last().filter(|(_, last, _)| !last.complete)?;
        Some(self.scene.left(last, until)?.min(last.end))
    }

    /// Cost of a stretch in which no option was run: off script, or standing in a formation.
    fn nothing_run(
        &self,
        search: &Search<'_>,
        start: usize,
        end: usize,
        effort: &mut Effort,
    ) -> Result<f64, DecodeError> {
        let set =
            |template: usize| matches!(self.scene.templates.list[template].kind, Kind::Set(_));
        let best = search.best_without(start..end, &set, effort)?;
        Ok(best.iter().map(|f| f.cost).sum())
    }

    /// What a run must be better by than no run: the prices it was entered and left at. The decoder
    /// saw to that before the run's beginning and end were looked at closely.
    fn price(&self, run: &Run, after_run: bool) -> f64 {
        let entry = if after_run { 0.0 } else { self.params.entry };
        match run.verdict {
            Verdict::BrokenOff { .. } => entry + self.params.break_off,
            Verdict::Ran | Verdict::RanWithFaults => entry,
        }
    }

    fn parts(&self, decoding: Vec<Found>) -> Vec<Part> {
        let mut parts: Vec<Part> = Vec::new();
        for f in decoding {
            let (start, end) = (f.start, f.end);
            let what = match f
                .key
                .map(|k| (k, self.scene.templates.list[k.template].kind))
            {
                None => PartKind::OffScript,
                Some((_, Kind::Set(s))) => PartKind::Set(s),
                Some((key, Kind::Step(node))) => {
                    if let Some(Part {
                        end: last,
                        what: PartKind::Run(steps),
                        ..
                    }) = parts.last_mut()
                        && self.goes_on(steps, key, node)
                    {
                        steps.push((node, f, key));
                        *last = end;
                        continue;
                    }
                    PartKind::Run(vec![(node, f, key)])
                }
            };
            parts.push(Part { start, end, what });
        }
        parts
    }

    /// Whether a step goes on with the run before it: same option, hand and roles, a later step.
    fn goes_on(&self, steps: &[(NodeIx, Found, Key)], key: Key, node: NodeIx) -> bool {
        steps.last().is_some_and(|(last, found, k)| {
            let (a, b) = (&self.graph.nodes[*last], &self.graph.nodes[node]);
            found.complete
                && a.option == b.option
                && b.step > a.step
                && k.hand == key.hand
                && k.assignment == key.assignment
        })
    }

    /// A run broken off before it lasted long enough to be evidence is off script.
    fn drop_thin(&self, mut parts: Vec<Part>) -> Vec<Part> {
        for p in &mut parts {
            if let PartKind::Run(steps) = &p.what
                && !self.complete(steps)
                && self.scene.query.time(p.end) - self.scene.query.time(p.start)
                    < self.params.least_evidence_s
            {
                p.what = PartKind::OffScript;
            }
        }
        parts
    }

    fn complete(&self, steps: &[(NodeIx, Found, Key)]) -> bool {
        steps
            .last()
            .is_some_and(|(node, f, _)| f.complete && self.graph.nodes[*node].last)
    }

    fn segment(&self, start: usize, end: usize, what: What) -> Segment {
        let missing = self.scene.query.missing(start, end);
        Segment {
            from_s: self.scene.query.time(start),
            to_s: self.scene.query.time(end),
            what: if missing > self.params.most_missing {
                What::NotEnoughData { missing }
            } else {
                what
            },
        }
    }

    fn run(
        &self,
        search: &Search<'_>,
        start: usize,
        end: usize,
        found: &[(NodeIx, Found, Key)],
        effort: &mut Effort,
    ) -> Result<Run, DecodeError> {
        let key = found[0].2;
        let option = self.graph.nodes[found[0].0].option;
        let assignment = &self.scene.assignments[key.assignment];
        let mut steps: Vec<StepRun> = found
            .iter()
            .map(|(node, f, _)| self.step(*node, f, key))
            .collect();
        let mut faults = Vec::new();
        for (step, (node, ..)) in steps.iter_mut().zip(found) {
            let missing = faults::missing_ball_actions(self, *node, step, assignment);
            if !missing.is_empty() {
                step.complete = false;
            }
            faults.extend(missing);
            faults.extend(faults::out_of_place(self, *node, step, key, assignment));
        }
        let total: f64 = found.iter().map(|(_, f, _)| f.cost).sum();
        let frames = (end - start).max(1) as f64;
        let (runner_up, alternative) = self.runner_up(search, start, end, option, effort)?;
        let margin = (alternative - total) / frames;
        let verdict = self.verdict(&steps, option, !faults.is_empty());
        let complete = !matches!(verdict, Verdict::BrokenOff { .. });
        Ok(Run {
            option,
            hand: key.hand,
            players: assignment
                .iter()
                .map(|row| row.map(|r| self.scene.query.players[r]))
                .collect(),
            verdict,
            steps,
            faults,
            cost: total / frames,
            runner_up,
            margin,
            confidence: confidence(margin, frames, complete),
        })
    }

    fn verdict(&self, steps: &[StepRun], option: OptionIx, faults: bool) -> Verdict {
        let broken = steps.iter().find(|s| !s.complete);
        let last = steps.last().map(|s| &self.graph.nodes[s.node]);
        match (broken, last) {
            (Some(s), _) => Verdict::BrokenOff {
                step: self.graph.nodes[s.node].step + 1,
            },
            (None, Some(n)) if !n.last => Verdict::BrokenOff {
                step: (n.step + 2).min(self.graph.options[option].steps),
            },
            (None, _) if faults => Verdict::RanWithFaults,
            (None, _) => Verdict::Ran,
        }
    }

    fn step(&self, node: NodeIx, f: &Found, key: Key) -> StepRun {
        let path: Vec<(f64, u32)> = f
            .alignment
            .iter()
            .enumerate()
            .map(|(i, r)| (self.scene.query.time(f.start + i), *r))
            .collect();
        StepRun {
            node,
            from_s: self.scene.query.time(f.start),
            to_s: self.scene.query.time(f.end),
            complete: f.complete,
            deviation: faults::deviation(self.scene, f, key),
            path,
        }
    }

    /// The best explanation of the same stretch without this option: the option it uses longest
    /// (`None` for off script), and its local cost.
    fn runner_up(
        &self,
        search: &Search<'_>,
        start: usize,
        end: usize,
        option: OptionIx,
        effort: &mut Effort,
    ) -> Result<(Option<OptionIx>, f64), DecodeError> {
        let other = |template: usize| match self.scene.templates.list[template].kind {
            Kind::Step(n) => self.graph.nodes[n].option != option,
            Kind::Set(_) => false,
        };
        let best = search.best_without(start..end, &other, effort)?;
        let cost = best.iter().map(|f| f.cost).sum();
        let mut time = vec![0; self.graph.options.len()];
        let mut off = 0;
        for f in &best {
            match f.key.map(|k| self.scene.templates.list[k.template].kind) {
                Some(Kind::Step(n)) => time[self.graph.nodes[n].option] += f.end - f.start,
                _ => off += f.end - f.start,
            }
        }
        let longest = (0..time.len()).max_by_key(|o| (time[*o], usize::MAX - o));
        Ok((longest.filter(|o| time[*o] > off), cost))
    }
}

/// Ends a run within its last step.
fn shorten(run: &mut Run, query: &Query, at: usize) {
    if let Some(last) = run.steps.last_mut() {
        last.to_s = query.time(at);
        let to_s = last.to_s;
        last.path.retain(|(time, _)| *time < to_s - 1e-9);
    }
}

/// How sure a run is that the option was run there: logistic in the evidence, margin per frame times
/// the square root of the number of frames (frames are not independent, so not their number), and in
/// whether it was seen to its end.
///
/// The three numbers are a logistic regression over 297 verdicts in two games of the project's
/// simulator under three sensors; `tests/accuracy` prints how they hold on others.
fn confidence(margin: f64, frames: f64, complete: bool) -> f64 {
    let evidence = margin * frames.sqrt();
    let ended = if complete { 1.6 } else { 0.0 };
    1.0 / (1.0 + (-(0.65 * evidence + ended - 0.55)).exp())
}

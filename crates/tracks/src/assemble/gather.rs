//! Rows of a table, part by part, sorted to the objects they are of.

use super::Object;
use super::plan::Plan;
use super::times::{self, Extent, Times};
use crate::error::{Place, Problem, TracksError};
use crate::limits;
use crate::mapping::{Mapping, TimeSpec};
use crate::raw::Samples;
use crate::read::{Opened, Part};
use crate::table::Column;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// What is known of the objects after some parts.
pub(super) struct Gather<'m> {
    mapping: &'m Mapping,
    spec: TimeSpec,
    objects: Vec<Growing>,
    /// Whether any part has heights.
    heights: bool,
    extent: Extent,
    periods: BTreeMap<u32, Extent>,
    /// Rows without a time.
    pub(super) skipped: usize,
}

/// An object's samples so far; times are seconds or, where the file has dates, nanoseconds.
#[derive(Debug, Default)]
struct Growing {
    label: String,
    team: Option<String>,
    t: Vec<f64>,
    ns: Vec<i64>,
    x: Vec<f64>,
    y: Vec<f64>,
    /// Empty where no part has heights.
    z: Vec<f64>,
    /// Samples before the part that is being added.
    before: usize,
}

impl Growing {
    /// Room for `more`, without the doubling that would hold twice a session.
    fn reserve(&mut self, more: usize, dates: bool, heights: bool) {
        fn room<T>(v: &mut Vec<T>, more: usize) {
            if v.capacity() - v.len() < more {
                v.reserve_exact(more.max(v.len() / 4));
            }
        }
        if dates {
            room(&mut self.ns, more);
        } else {
            room(&mut self.t, more);
        }
        room(&mut self.x, more);
        room(&mut self.y, more);
        if heights {
            room(&mut self.z, more);
        }
        self.before = self.x.len();
    }

    /// Drop what the last part added without a time or a position.
    fn compact(&mut self) {
        let from = self.before;
        let dates = !self.ns.is_empty();
        let whole = |g: &Self, i: usize| {
            let timed = if dates {
                g.ns[i] != i64::MIN
            } else {
                g.t[i].is_finite()
            };
            timed && g.x[i].is_finite() && g.y[i].is_finite()
        };
        let keep: Vec<bool> = (from..self.x.len()).map(|i| whole(self, i)).collect();
        if keep.iter().all(|k| *k) {
            return;
        }
        fn pick<T: Copy>(v: &mut Vec<T>, from: usize, keep: &[bool]) {
            if v.len() <= from {
                return;
            }
            let mut to = from;
            for (i, k) in keep.iter().enumerate() {
                if *k {
                    v[to] = v[from + i];
                    to += 1;
                }
            }
            v.truncate(to);
        }
        pick(&mut self.t, from, &keep);
        pick(&mut self.ns, from, &keep);
        pick(&mut self.x, from, &keep);
        pick(&mut self.y, from, &keep);
        pick(&mut self.z, from, &keep);
    }
}

/// No object.
const NOBODY: u16 = u16::MAX;

impl<'m> Gather<'m> {
    /// Read the parts of a session.
    pub(super) fn read(files: &[PathBuf], mapping: &'m Mapping) -> Result<Self, TracksError> {
        let mut this = Self {
            mapping,
            spec: mapping.time_spec(),
            objects: Vec::new(),
            heights: false,
            extent: Extent::default(),
            periods: BTreeMap::new(),
            skipped: 0,
        };
        for file in files {
            let at = |problem| TracksError::new(Place::file(file), problem);
            let opened = Opened::open(file, &mapping.file)?;
            let plan = Plan::new(&opened, mapping).map_err(at)?;
            opened.read_parts(&plan.asked.0, &mut |part| this.add(&plan, part, &at))?;
        }
        this.extent
            .check()
            .map_err(|problem| TracksError::new(Place::file(&files[0]), problem))?;
        Ok(this)
    }

    fn add(
        &mut self,
        plan: &Plan,
        part: &mut dyn Part,
        at: &impl Fn(Problem) -> TracksError,
    ) -> Result<(), TracksError> {
        let slots = match (&plan.wide, plan.object) {
            (Some(_), _) => None,
            (None, object) => {
                let asked: Vec<usize> = object.into_iter().chain(plan.team).collect();
                let mut labels = part.take_all(&asked)?.into_iter();
                let object = object.and_then(|_| labels.next());
                Some(self.slots(object, labels.next()).map_err(at)?)
            }
        };
        let mut take = |i: Option<usize>| i.map(|i| part.take(i)).transpose();
        let period = take(plan.period)?;
        let clock = take(plan.clock)?.and_then(numbers);
        let times =
            times::read(take(plan.time)?, clock, period.as_ref(), &self.spec).map_err(at)?;
        self.note(&times, period.as_ref()).map_err(at)?;
        drop(period);
        match (slots, &plan.wide) {
            (Some(slots), _) => self.long(plan, part, &slots, &times),
            (None, Some(wide)) => self.wide(wide, part, &times).map_err(|e| match e {
                Fault::Problem(p) => at(p),
                Fault::Read(e) => e,
            }),
            (None, None) => Ok(()),
        }
    }

    /// First and last times, of all and of each period.
    fn note(&mut self, times: &Times, period: Option<&Column>) -> Result<(), Problem> {
        self.extent.add(times)?;
        self.skipped += times.missing();
        if let Some(Column::Number(period)) = period {
            for (i, p) in period.iter().enumerate() {
                if p.is_finite() && *p >= 0.0 {
                    self.periods.entry(*p as u32).or_default().add_row(times, i);
                }
            }
        }
        Ok(())
    }

    /// The object of each row. Objects are told apart by team and label, since shirt numbers repeat
    /// between teams.
    fn slots(&mut self, object: Option<Column>, team: Option<Column>) -> Result<Vec<u16>, Problem> {
        let Some(Column::Label(objects)) = object else {
            return Err(Problem::Missing {
                field: "columns.object",
                why: "a long file needs to say whose row it is".into(),
            });
        };
        let teams = match team {
            Some(Column::Label(l)) => Some(l),
            _ => None,
        };
        let width = objects.names.len() + 1;
        let kinds = width * teams.as_ref().map_or(1, |l| l.names.len() + 1);
        let mut known = vec![NOBODY; kinds];
        let mut out = Vec::with_capacity(objects.codes.len());
        for row in 0..objects.codes.len() {
            let o = (objects.codes[row] as usize).min(width - 1);
            let t = teams
                .as_ref()
                .map_or(0, |l| (l.codes[row] as usize).min(l.names.len()));
            let k = t * width + o;
            if known[k] == NOBODY {
                known[k] = self.slot(objects.get(row), teams.as_ref().and_then(|l| l.get(row)))?;
            }
            out.push(known[k]);
        }
        Ok(out)
    }

    fn slot(&mut self, object: Option<&str>, team: Option<&str>) -> Result<u16, Problem> {
        let ball = self.mapping.ball.as_ref().map(|b| b.object.as_str());
        // A row of nobody is counted later, as it has no label.
        let label = match team {
            Some(t) if Some(t) == ball => t,
            _ => object.unwrap_or_default(),
        };
        let team = team.filter(|_| Some(label) != ball);
        let same =
            |g: &Growing| g.label == label && (label.is_empty() || g.team.as_deref() == team);
        if let Some(at) = self.objects.iter().position(same) {
            return Ok(at as u16);
        }
        self.push(label, team)
    }

    fn push(&mut self, label: &str, team: Option<&str>) -> Result<u16, Problem> {
        if self.objects.len() >= limits::OBJECTS {
            return Err(Problem::Limit {
                what: "the number of different objects",
                found: format!("more than {}", limits::OBJECTS),
                limit: limits::OBJECTS.to_string(),
            });
        }
        self.objects.push(Growing {
            label: label.to_owned(),
            team: team.map(str::to_owned),
            ..Growing::default()
        });
        Ok((self.objects.len() - 1) as u16)
    }

    /// From now on samples have heights; those before have none.
    fn have_heights(&mut self) {
        self.heights = true;
        for g in &mut self.objects {
            g.z.resize(g.x.len(), f64::NAN);
        }
    }

    fn long(
        &mut self,
        plan: &Plan,
        part: &mut dyn Part,
        slots: &[u16],
        times: &Times,
    ) -> Result<(), TracksError> {
        let mut counts = vec![0; self.objects.len()];
        for s in slots {
            counts[*s as usize] += 1;
        }
        let height = plan.long.and_then(|xyz| xyz[2]);
        if height.is_some() && !self.heights {
            self.have_heights();
        }
        let dates = matches!(times, Times::Instants(_));
        for (g, n) in self.objects.iter_mut().zip(&counts) {
            g.reserve(*n, dates, self.heights);
        }
        match times {
            Times::Seconds(v) => self.scatter(slots, v, |g| &mut g.t),
            Times::Instants(v) => self.scatter(slots, v, |g| &mut g.ns),
        }
        let [x, y] = positions(plan, part)?;
        let (xs, ys) = (self.lend(|g| &mut g.x), self.lend(|g| &mut g.y));
        let (xs, ys) = rayon::join(|| deal(slots, &x, xs), || deal(slots, &y, ys));
        self.give_back(xs, |g| &mut g.x);
        self.give_back(ys, |g| &mut g.y);
        drop((x, y));
        if let Some(z) = height {
            let z = numbers(part.take(z)?).unwrap_or_default();
            self.scatter(slots, &z, |g| &mut g.z);
        } else if self.heights {
            self.have_heights();
        }
        self.objects.iter_mut().for_each(Growing::compact);
        Ok(())
    }

    fn scatter<T: Copy>(
        &mut self,
        slots: &[u16],
        values: &[T],
        to: fn(&mut Growing) -> &mut Vec<T>,
    ) {
        let columns = self.lend(to);
        self.give_back(deal(slots, values, columns), to);
    }

    /// One column of every object.
    fn lend<T>(&mut self, of: fn(&mut Growing) -> &mut Vec<T>) -> Vec<Vec<T>> {
        let take = |g: &mut Growing| std::mem::take(of(g));
        self.objects.iter_mut().map(take).collect()
    }

    fn give_back<T>(&mut self, columns: Vec<Vec<T>>, to: fn(&mut Growing) -> &mut Vec<T>) {
        for (g, column) in self.objects.iter_mut().zip(columns) {
            *to(g) = column;
        }
    }

    fn wide(
        &mut self,
        wide: &[(String, [Option<usize>; 3])],
        part: &mut dyn Part,
        times: &Times,
    ) -> Result<(), Fault> {
        for (id, xyz) in wide {
            let at = match self.objects.iter().position(|g| g.label == *id) {
                Some(at) => at,
                None => usize::from(self.push(id, None).map_err(Fault::Problem)?),
            };
            let mut take = |i: Option<usize>| -> Result<Vec<f64>, Fault> {
                let column = i.map(|i| part.take(i)).transpose().map_err(Fault::Read)?;
                Ok(column.and_then(numbers).unwrap_or_default())
            };
            let (x, y, z) = (take(xyz[0])?, take(xyz[1])?, take(xyz[2])?);
            if xyz[2].is_some() && !self.heights {
                self.have_heights();
            }
            let g = &mut self.objects[at];
            g.reserve(x.len(), matches!(times, Times::Instants(_)), self.heights);
            match times {
                Times::Seconds(v) => g.t.extend_from_slice(v),
                Times::Instants(v) => g.ns.extend_from_slice(v),
            }
            g.x.extend_from_slice(&x);
            g.y.extend_from_slice(&y);
            if self.heights {
                g.z.extend_from_slice(&z);
                g.z.resize(g.x.len(), f64::NAN);
            }
            g.compact();
        }
        Ok(())
    }

    /// The objects, in session seconds, and the first and last time of each period in the order of
    /// their numbers.
    pub(super) fn finish(self) -> (Vec<Object>, Vec<(u32, f64, f64)>) {
        let extent = self.extent;
        let periods = self
            .periods
            .into_iter()
            .filter_map(|(p, e)| e.seconds_from(&extent).map(|(a, b)| (p, a, b)))
            .collect();
        let objects = self
            .objects
            .into_iter()
            .map(|g| {
                let mut t = g.t;
                if g.ns.is_empty() {
                    extent.shift(&mut t);
                } else {
                    t = g.ns.into_iter().map(|ns| extent.seconds(ns)).collect();
                }
                let high = g.z.iter().any(|z| !z.is_nan());
                Object {
                    label: g.label,
                    team: g.team,
                    samples: Samples {
                        t,
                        x: g.x,
                        y: g.y,
                        z: high.then_some(g.z),
                    },
                }
            })
            .collect();
        (objects, periods)
    }
}

/// Put the values of rows behind those of the objects they are of.
fn deal<T: Copy>(slots: &[u16], values: &[T], mut columns: Vec<Vec<T>>) -> Vec<Vec<T>> {
    for (s, v) in slots.iter().zip(values) {
        columns[*s as usize].push(*v);
    }
    columns
}

/// What can go wrong with columns of a wide file.
enum Fault {
    Problem(Problem),
    Read(TracksError),
}

fn numbers(column: Column) -> Option<Vec<f64>> {
    match column {
        Column::Number(v) => Some(v),
        _ => None,
    }
}

/// The two coordinates of a long file's rows.
fn positions(plan: &Plan, part: &mut dyn Part) -> Result<[Vec<f64>; 2], TracksError> {
    let mut take = |which: &[usize]| -> Result<Vec<Vec<f64>>, TracksError> {
        let columns = part.take_all(which)?.into_iter();
        Ok(columns.map(|c| numbers(c).unwrap_or_default()).collect())
    };
    if let Some([Some(x), Some(y), _]) = plan.long {
        let mut both = take(&[x, y])?.into_iter();
        return Ok([(); 2].map(|()| both.next().unwrap_or_default()));
    }
    let Some([left, top, width, height]) = plan.boxed else {
        return Ok([Vec::new(), Vec::new()]);
    };
    // A player stands where the lower edge of the box has its middle.
    let mut foot = |edge: usize, size: usize, share: f64| -> Result<Vec<f64>, TracksError> {
        let both = take(&[edge, size])?;
        let (edge, size) = (both[0].iter(), both[1].iter());
        Ok(edge.zip(size).map(|(a, b)| a + share * b).collect())
    };
    Ok([foot(left, width, 0.5)?, foot(top, height, 1.0)?])
}

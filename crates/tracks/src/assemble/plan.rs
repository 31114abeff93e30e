//! Which columns a mapping asks for, and where in the answer each thing is.

use crate::error::{Problem, nearest};
use crate::mapping::{ColumnRef, Columns, Format, Mapping, TimeUnit};
use crate::read::{Opened, moving};
use crate::table::{Request, Want};

/// Collects requests, giving each its place in the answer.
#[derive(Default)]
pub(super) struct Asked(pub(super) Vec<Request>);

impl Asked {
    fn ask(&mut self, index: usize, want: Want) -> usize {
        self.0.push(Request { index, want });
        self.0.len() - 1
    }
}

/// Where in the answer each thing is.
pub(super) struct Plan {
    pub(super) asked: Asked,
    pub(super) time: Option<usize>,
    pub(super) clock: Option<usize>,
    pub(super) period: Option<usize>,
    pub(super) object: Option<usize>,
    pub(super) team: Option<usize>,
    pub(super) long: Option<[Option<usize>; 3]>,
    pub(super) boxed: Option<[usize; 4]>,
    pub(super) wide: Option<Vec<(String, [Option<usize>; 3])>>,
}

impl Plan {
    pub(super) fn new(opened: &Opened, mapping: &Mapping) -> Result<Self, Problem> {
        let mut defaults = Columns::default();
        if mapping.file.format == Some(Format::Motchallenge) {
            // MOTChallenge text: frame, id, left, top, width, height, confidence, x, y, z
            // (Milan et al. 2016, arXiv:1603.00831, section 3).
            let number = |n| Some(ColumnRef::Number(n));
            defaults = Columns {
                time: number(1),
                object: number(2),
                left: number(3),
                top: number(4),
                width: number(5),
                height: number(6),
                ..defaults
            };
        }
        if matches!(opened, Opened::Moving(_)) {
            let name = |n: &str| Some(ColumnRef::name(n));
            defaults = Columns {
                time: name(moving::DATETIMES),
                object: name(moving::ID),
                x: name("x"),
                y: name("y"),
                z: name("z").filter(|_| position(opened, "z").is_some()),
                ..defaults
            };
        }
        let c = &mapping.columns;
        let find = |given: &Option<ColumnRef>, fallback: &Option<ColumnRef>| {
            given
                .as_ref()
                .or(fallback.as_ref())
                .map(|c| column(opened, c))
                .transpose()
        };
        let mut asked = Asked::default();
        let mut ask = |place: Option<usize>, want| place.map(|i| asked.ask(i, want));
        let time_want = match mapping.time_spec().unit {
            TimeUnit::Iso => Want::Instant,
            TimeUnit::S => Want::Seconds,
            _ => Want::Number,
        };
        let time = find(&c.time, &defaults.time)?;
        let time_want = match time {
            Some(i) if opened.holds_instants(i) => Want::Instant,
            _ => time_want,
        };
        let time = ask(time, time_want);
        let clock = ask(find(&c.clock, &None)?, Want::Seconds);
        if time.is_none() && clock.is_none() {
            return Err(Problem::Missing {
                field: "columns.time",
                why: "positions without times are no tracks".into(),
            });
        }
        let period = ask(find(&c.period, &None)?, Want::Number);
        let object = ask(find(&c.object, &defaults.object)?, Want::Label);
        let team = ask(find(&c.team, &None)?, Want::Label);
        let mut long = None;
        let mut boxed = None;
        let mut wide = None;
        if let Some(w) = &mapping.wide {
            let mut objects = Vec::new();
            if let (Some(px), Some(py)) = (&w.x, &w.y) {
                for (i, name) in opened.names().iter().enumerate() {
                    let Some(id) = placeholder(px, name) else {
                        continue;
                    };
                    let Some(y) = position(opened, &py.replace("{object}", id)) else {
                        continue;
                    };
                    let z =
                        w.z.as_ref()
                            .and_then(|pz| position(opened, &pz.replace("{object}", id)));
                    objects.push((
                        id.to_owned(),
                        [
                            ask(Some(i), Want::Number),
                            ask(Some(y), Want::Number),
                            ask(z, Want::Number),
                        ],
                    ));
                }
                if objects.is_empty() && w.objects.is_empty() {
                    return Err(no_column(opened, px));
                }
            }
            for o in &w.objects {
                let mut one = |c: &ColumnRef| -> Result<Option<usize>, Problem> {
                    Ok(ask(Some(column(opened, c)?), Want::Number))
                };
                let xyz = [one(&o.x)?, one(&o.y)?, o.z.as_ref().map_or(Ok(None), one)?];
                objects.push((o.id.clone(), xyz));
            }
            wide = Some(objects);
        } else if c.x.is_some() || c.y.is_some() || defaults.x.is_some() {
            let need = |given: &Option<ColumnRef>, fallback: &Option<ColumnRef>, field| {
                find(given, fallback)?.ok_or(Problem::Missing {
                    field,
                    why: "a position has both".into(),
                })
            };
            let x = need(&c.x, &defaults.x, "columns.x")?;
            let y = need(&c.y, &defaults.y, "columns.y")?;
            let z = find(&c.z, &defaults.z)?;
            long = Some([
                ask(Some(x), Want::Number),
                ask(Some(y), Want::Number),
                ask(z, Want::Number),
            ]);
        } else {
            let mut edges = [0; 4];
            let sides = [
                (&c.left, &defaults.left),
                (&c.top, &defaults.top),
                (&c.width, &defaults.width),
                (&c.height, &defaults.height),
            ];
            for (edge, (given, fallback)) in edges.iter_mut().zip(sides) {
                let place = find(given, fallback)?.ok_or(Problem::Missing {
                    field: "columns.x",
                    why: "expected `x` and `y`, or a box's `left`, `top`, `width` and `height`, \
                          or a `[wide]` table"
                        .into(),
                })?;
                *edge = ask(Some(place), Want::Number).unwrap_or_default();
            }
            boxed = Some(edges);
        }
        Ok(Self {
            time,
            clock,
            period,
            object,
            team,
            long,
            boxed,
            wide,
            asked,
        })
    }
}

/// What stands for `{object}` in a column's name.
fn placeholder<'n>(pattern: &str, name: &'n str) -> Option<&'n str> {
    let (before, after) = pattern.split_once("{object}")?;
    name.strip_prefix(before)?
        .strip_suffix(after)
        .filter(|id| !id.is_empty())
}

fn position(opened: &Opened, name: &str) -> Option<usize> {
    opened.names().iter().position(|n| n == name)
}

fn no_column(opened: &Opened, wanted: &str) -> Problem {
    Problem::NoColumn {
        wanted: wanted.to_owned(),
        found: opened.names().to_vec(),
        nearest: nearest(wanted, opened.names().iter().map(String::as_str)),
    }
}

fn column(opened: &Opened, wanted: &ColumnRef) -> Result<usize, Problem> {
    let names = opened.names();
    match wanted {
        ColumnRef::Number(n) if *n <= names.len() => Ok(n - 1),
        ColumnRef::Name(name) if opened.named() => {
            let at = position(opened, name).ok_or_else(|| no_column(opened, name))?;
            if names[at + 1..].contains(name) {
                return Err(Problem::TwiceColumn { name: name.clone() });
            }
            Ok(at)
        }
        other => Err(no_column(opened, &other.to_string())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn objects_in_names() {
        assert_eq!(placeholder("x_{object}", "x_O1"), Some("O1"));
        assert_eq!(placeholder("{object} x (m)", "7 x (m)"), Some("7"));
        assert_eq!(placeholder("x_{object}", "x_"), None);
    }
}

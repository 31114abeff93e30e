//! What a mapping may say.

use super::{ColumnRef, CourtSpec, Format, Mapping, Origin, SpaceUnit, TimeSpec, TimeUnit, Wide};
use crate::SessionKind;
use crate::error::Problem;
use setdrift_court::Court;

fn value(field: &str, found: impl ToString, expected: impl Into<String>) -> Problem {
    Problem::Value {
        field: field.to_owned(),
        found: found.to_string(),
        expected: expected.into(),
    }
}

fn within(field: &str, v: Option<f64>, low: f64, high: f64) -> Result<(), Problem> {
    match v {
        Some(v) if !(v >= low && v <= high) => {
            Err(value(field, v, format!("a number from {low} to {high}")))
        }
        _ => Ok(()),
    }
}

impl Mapping {
    /// Whether every value of the mapping can be meant.
    ///
    /// # Errors
    /// [`Problem::Value`] or [`Problem::Missing`] for the first that cannot.
    pub fn check(&self) -> Result<(), Problem> {
        self.check_session()?;
        self.check_file()?;
        self.check_time()?;
        self.check_space()?;
        self.check_exchanges()?;
        self.cleaning.check()
    }

    fn check_session(&self) -> Result<(), Problem> {
        let s = &self.session;
        if let Some(id) = &s.id
            && (id.is_empty() || !id.chars().all(|c| c.is_alphanumeric() || "-_.".contains(c)))
        {
            return Err(value(
                "session.id",
                format!("{id:?}"),
                "letters, digits, `-`, `_` and `.` only",
            ));
        }
        if let Some(date) = &s.date
            && date.parse::<jiff::civil::Date>().is_err()
        {
            return Err(value(
                "session.date",
                format!("{date:?}"),
                "a date as YYYY-MM-DD",
            ));
        }
        if let Some(CourtSpec::Named(name)) = &s.court {
            Court::named(name).map_err(|_| {
                value(
                    "session.court",
                    format!("{name:?}"),
                    format!("one of {}, or a table of measures", Court::NAMES.join(", ")),
                )
            })?;
        }
        if let Some(n) = s.players
            && !(1..=5).contains(&n)
        {
            return Err(value("session.players", n, "1 to 5 on the floor per side"));
        }
        let mut ids: Vec<&str> = self.teams.iter().map(|t| t.id.as_str()).collect();
        ids.sort_unstable();
        if let Some(w) = ids.windows(2).find(|w| w[0] == w[1]) {
            return Err(value(
                "teams.id",
                format!("{:?} twice", w[0]),
                "each team once",
            ));
        }
        if self.teams.len() > 2 {
            return Err(value(
                "teams.id",
                format!("{} teams", self.teams.len()),
                "one or two teams",
            ));
        }
        for e in &self.ends {
            if let (Some(a), Some(b)) = (e.from, e.to)
                && b <= a
            {
                return Err(value("ends.to", b, format!("a time after {a} s")));
            }
            if e.period.is_some() && self.columns.period.is_none() {
                return Err(Problem::Missing {
                    field: "columns.period",
                    why: "`ends` names a period".into(),
                });
            }
        }
        Ok(())
    }

    fn check_exchanges(&self) -> Result<(), Problem> {
        for e in &self.exchanges {
            match &e.players[..] {
                [a, b] if a != b => {}
                [a, _] => {
                    let found = format!("{a:?} twice");
                    return Err(value("exchanges.players", found, "two players"));
                }
                all => {
                    let found = format!("{} players", all.len());
                    return Err(value("exchanges.players", found, "two players"));
                }
            }
            if let Some(to) = e.to
                && to <= e.from
            {
                let after = format!("a time after {} s", e.from);
                return Err(value("exchanges.to", format!("{to} s"), after));
            }
        }
        Ok(())
    }

    fn check_file(&self) -> Result<(), Problem> {
        let f = &self.file;
        if let Some(d) = f.delimiter
            && (!d.is_ascii() || d.is_alphanumeric() || ".-+\"\n\r".contains(d))
        {
            return Err(value(
                "file.delimiter",
                format!("{d:?}"),
                "one of `,`, `;`, tab, `|` or space",
            ));
        }
        if let Some(d) = f.decimal
            && !",.".contains(d)
        {
            return Err(value("file.decimal", format!("{d:?}"), "`.` or `,`"));
        }
        if f.decimal == Some(',') && f.delimiter.unwrap_or(',') == ',' {
            return Err(value(
                "file.delimiter",
                "a comma, as is `file.decimal`",
                "two different signs",
            ));
        }
        if f.header == Some(false) {
            let c = &self.columns;
            for (key, column) in [
                ("columns.time", &c.time),
                ("columns.object", &c.object),
                ("columns.team", &c.team),
                ("columns.x", &c.x),
                ("columns.y", &c.y),
                ("columns.z", &c.z),
                ("columns.period", &c.period),
                ("columns.clock", &c.clock),
            ] {
                if let Some(ColumnRef::Name(n)) = column {
                    return Err(value(
                        key,
                        format!("{n:?}"),
                        "a number from 1, as `file.header` is false",
                    ));
                }
            }
        }
        if let Some(Wide { x, y, z, objects }) = &self.wide {
            for (key, pattern) in [("wide.x", x), ("wide.y", y), ("wide.z", z)] {
                if let Some(p) = pattern
                    && p.matches("{object}").count() != 1
                {
                    return Err(value(
                        key,
                        format!("{p:?}"),
                        "a pattern with one `{object}`",
                    ));
                }
            }
            if x.is_some() != y.is_some() {
                return Err(Problem::Missing {
                    field: if x.is_some() { "wide.y" } else { "wide.x" },
                    why: "a position has both".into(),
                });
            }
            if x.is_none() && objects.is_empty() {
                return Err(Problem::Missing {
                    field: "wide.x",
                    why: "a wide file needs patterns, or `wide.objects`".into(),
                });
            }
        }
        Ok(())
    }

    fn check_time(&self) -> Result<(), Problem> {
        let t = &self.time;
        within("time.rate", t.rate, 1.0, 1000.0)?;
        within("time.resample", t.resample, 1.0, 1000.0)?;
        within("time.period", t.period, 1.0, 7200.0)?;
        within("time.overtime", t.overtime, 1.0, 7200.0)?;
        let frames = t.unit == TimeUnit::Frame || self.file.format == Some(Format::Motchallenge);
        if frames && t.rate.is_none() {
            return Err(Problem::Missing {
                field: "time.rate",
                why: "frame numbers are not times without it".into(),
            });
        }
        let c = &self.columns;
        if c.clock.is_some() && c.time.is_none() {
            if c.period.is_none() {
                return Err(Problem::Missing {
                    field: "columns.period",
                    why: "a clock alone does not say which period".into(),
                });
            }
            if t.period.is_none() {
                return Err(Problem::Missing {
                    field: "time.period",
                    why: "times from a clock need the length of a period".into(),
                });
            }
        }
        Ok(())
    }

    fn check_space(&self) -> Result<(), Problem> {
        let s = &self.space;
        if s.along.index() == s.across.index() {
            return Err(value(
                "space.across",
                "the same axis as `space.along`",
                "one of them of x, the other of y",
            ));
        }
        within("space.scale", s.scale, 1e-6, 10.0)?;
        if s.unit == SpaceUnit::Px && s.scale.is_none() && self.homography.is_none() {
            return Err(Problem::Missing {
                field: "homography",
                why: "pixels need landmarks, or `space.scale` in a straight-down view".into(),
            });
        }
        if s.unit == SpaceUnit::Px && self.homography.is_some() && s.scale.is_none() {
            return Err(value(
                "space.unit",
                "px",
                "the unit of the landmarks on the floor: m, ft, cm, mm or in",
            ));
        }
        if let Origin::Centre(c) = s.origin
            && !c.iter().all(|v| v.is_finite())
        {
            return Err(value("space.origin", "not finite", "two numbers"));
        }
        if let Some(h) = &self.homography {
            if h.landmarks.len() < 4 {
                return Err(value(
                    "homography.landmarks",
                    format!("{} landmarks", h.landmarks.len()),
                    "at least four",
                ));
            }
            let finite =
                |l: &super::Landmark| l.image.iter().chain(&l.floor).all(|v| v.is_finite());
            if !h.landmarks.iter().all(finite) {
                return Err(value("homography.landmarks", "not finite", "numbers"));
            }
        }
        if self.file.format == Some(Format::Motchallenge) && self.homography.is_none() {
            return Err(Problem::Missing {
                field: "homography",
                why: "boxes in an image need landmarks to stand on a floor".into(),
            });
        }
        Ok(())
    }

    /// The floor.
    ///
    /// # Errors
    /// [`Problem::Missing`] where the mapping names none.
    pub fn court(&self) -> Result<Court, Problem> {
        match &self.session.court {
            Some(CourtSpec::Own(c)) => Ok(c.clone()),
            Some(CourtSpec::Named(n)) => Court::named(n).map_err(|_| {
                value(
                    "session.court",
                    n,
                    format!("one of {}", Court::NAMES.join(", ")),
                )
            }),
            None => Err(Problem::Missing {
                field: "session.court",
                why: "positions mean nothing without a floor".into(),
            }),
        }
    }

    /// What the time column means; MOTChallenge text counts frames from 1 (Milan et al. 2016,
    /// arXiv:1603.00831, section 3), whatever the mapping leaves open.
    #[must_use]
    pub fn time_spec(&self) -> TimeSpec {
        let mut spec = self.time.clone();
        if self.file.format == Some(Format::Motchallenge) {
            spec.unit = TimeUnit::Frame;
            spec.first_frame = spec.first_frame.or(Some(1.0));
        }
        spec
    }

    /// Players of one side on the floor at most.
    #[must_use]
    pub fn players_per_side(&self) -> usize {
        let three = matches!(&self.session.court, Some(CourtSpec::Named(n)) if n == "3x3");
        self.session.players.unwrap_or(if three { 3 } else { 5 })
    }

    /// Practice or game: as said, else a game where two teams are declared.
    #[must_use]
    pub fn kind(&self) -> SessionKind {
        self.session.kind.unwrap_or(if self.teams.len() > 1 {
            SessionKind::Game
        } else {
            SessionKind::Practice
        })
    }
}

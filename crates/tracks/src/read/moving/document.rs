//! The text of a Moving Features JSON document: what a trajectory needs, the rest skipped.

use crate::table::instant;
use serde::Deserialize;
use serde::de::{self, Deserializer, IgnoredAny, MapAccess, SeqAccess, Visitor};
use std::collections::BTreeMap;
use std::fmt;

/// A feature, or a collection of features.
#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Node {
    #[serde(rename = "type")]
    pub(super) kind: String,
    #[serde(default)]
    pub(super) features: Option<Vec<Node>>,
    #[serde(default)]
    pub(super) id: Option<Scalar>,
    #[serde(default)]
    pub(super) crs: Option<Crs>,
    #[serde(default)]
    pub(super) geometry: Option<Geometry>,
    #[serde(default)]
    pub(super) properties: Option<BTreeMap<String, Property>>,
    #[serde(default)]
    pub(super) temporal_geometry: Option<TemporalGeometry>,
    #[serde(default)]
    pub(super) temporal_properties: Option<Vec<Parametric>>,
}

/// A coordinate reference system, as far as its name.
#[derive(Deserialize)]
pub(super) struct Crs {
    #[serde(default)]
    properties: Option<BTreeMap<String, Scalar>>,
}

impl Crs {
    /// Its name or address.
    pub(super) fn name(&self) -> Option<&str> {
        let p = self.properties.as_ref()?;
        match p.get("name").or_else(|| p.get("href"))? {
            Scalar::Text(t) => Some(t),
            _ => None,
        }
    }
}

#[derive(Deserialize)]
pub(super) struct Geometry {
    #[serde(rename = "type")]
    pub(super) kind: String,
    #[serde(default)]
    pub(super) coordinates: Coordinates,
}

#[derive(Deserialize)]
pub(super) struct TemporalGeometry {
    #[serde(rename = "type")]
    pub(super) kind: String,
    #[serde(default)]
    pub(super) datetimes: Vec<Stamp>,
    #[serde(default)]
    pub(super) coordinates: Coordinates,
    #[serde(default)]
    pub(super) prisms: Vec<TemporalGeometry>,
    #[serde(default)]
    pub(super) crs: Option<Crs>,
}

/// Values over their own times.
pub(super) struct Parametric {
    pub(super) datetimes: Vec<Stamp>,
    pub(super) values: BTreeMap<String, Values>,
}

#[derive(Deserialize)]
pub(super) struct Values {
    pub(super) values: Vec<Scalar>,
}

/// Positions one after the other; `Other` for a point, a polygon, and whatever else is no line.
#[derive(Default)]
pub(super) enum Coordinates {
    #[default]
    None,
    /// x, y, and z or NaN.
    Line(Vec<[f64; 3]>),
    Other,
}

/// Nanoseconds since 1970 UTC.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Stamp(pub(super) i64);

/// A value of a property.
#[derive(Clone, PartialEq)]
pub(super) enum Scalar {
    Missing,
    Number(f64),
    Text(String),
}

/// A property: one value, or one per position.
pub(super) enum Property {
    One(Scalar),
    Many(Vec<Scalar>),
    /// An object, or a list of lists.
    Other,
}

impl<'de> Deserialize<'de> for Property {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct V;
        impl<'de> Visitor<'de> for V {
            type Value = Property;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a value, or a list of values")
            }

            fn visit_unit<E>(self) -> Result<Property, E> {
                Ok(Property::One(Scalar::Missing))
            }

            fn visit_bool<E>(self, v: bool) -> Result<Property, E> {
                Ok(Property::One(Scalar::Text(v.to_string())))
            }

            fn visit_f64<E>(self, v: f64) -> Result<Property, E> {
                Ok(Property::One(Scalar::Number(v)))
            }

            fn visit_u64<E>(self, v: u64) -> Result<Property, E> {
                Ok(Property::One(Scalar::Number(v as f64)))
            }

            fn visit_i64<E>(self, v: i64) -> Result<Property, E> {
                Ok(Property::One(Scalar::Number(v as f64)))
            }

            fn visit_str<E>(self, v: &str) -> Result<Property, E> {
                Ok(Property::One(Scalar::Text(v.to_owned())))
            }

            fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Property, A::Error> {
                let mut out = Vec::new();
                let mut nested = false;
                while let Some(item) = seq.next_element::<Property>()? {
                    match item {
                        Property::One(s) => out.push(s),
                        _ => nested = true,
                    }
                }
                Ok(if nested {
                    Property::Other
                } else {
                    Property::Many(out)
                })
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Property, A::Error> {
                while map.next_entry::<IgnoredAny, IgnoredAny>()?.is_some() {}
                Ok(Property::Other)
            }
        }
        d.deserialize_any(V)
    }
}

impl<'de> Deserialize<'de> for Scalar {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        match Property::deserialize(d)? {
            Property::One(s) => Ok(s),
            _ => Err(de::Error::custom("expected a number, a text or null")),
        }
    }
}

impl<'de> Deserialize<'de> for Stamp {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct V;
        impl Visitor<'_> for V {
            type Value = Stamp;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an ISO 8601 date and time, or milliseconds since 1970")
            }

            fn visit_str<E: de::Error>(self, v: &str) -> Result<Stamp, E> {
                instant(v)
                    .map(Stamp)
                    .ok_or_else(|| E::invalid_value(de::Unexpected::Str(v), &self))
            }

            fn visit_i64<E: de::Error>(self, v: i64) -> Result<Stamp, E> {
                v.checked_mul(1_000_000)
                    .map(Stamp)
                    .ok_or_else(|| E::invalid_value(de::Unexpected::Signed(v), &self))
            }

            fn visit_u64<E: de::Error>(self, v: u64) -> Result<Stamp, E> {
                i64::try_from(v)
                    .map_err(|_| E::invalid_value(de::Unexpected::Unsigned(v), &self))
                    .and_then(|v| self.visit_i64(v))
            }

            fn visit_f64<E: de::Error>(self, v: f64) -> Result<Stamp, E> {
                let ns = (v * 1e6).round();
                if ns.abs() < 9e18 {
                    Ok(Stamp(ns as i64))
                } else {
                    Err(E::invalid_value(de::Unexpected::Float(v), &self))
                }
            }
        }
        d.deserialize_any(V)
    }
}

impl<'de> Deserialize<'de> for Parametric {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct V;
        impl<'de> Visitor<'de> for V {
            type Value = Parametric;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object with `datetimes` and values")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Parametric, A::Error> {
                let mut datetimes = None;
                let mut values = BTreeMap::new();
                while let Some(key) = map.next_key::<String>()? {
                    if key == "datetimes" {
                        datetimes = Some(map.next_value()?);
                    } else {
                        values.insert(key, map.next_value()?);
                    }
                }
                Ok(Parametric {
                    datetimes: datetimes.ok_or_else(|| de::Error::missing_field("datetimes"))?,
                    values,
                })
            }
        }
        d.deserialize_map(V)
    }
}

impl<'de> Deserialize<'de> for Coordinates {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct V;
        impl<'de> Visitor<'de> for V {
            type Value = Coordinates;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a list of positions")
            }

            fn visit_unit<E>(self) -> Result<Coordinates, E> {
                Ok(Coordinates::None)
            }

            fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Coordinates, A::Error> {
                let mut line = Vec::new();
                let mut other = false;
                while let Some(item) = seq.next_element::<Position>()? {
                    match item {
                        Position::At(p) => line.push(p),
                        Position::Other => other = true,
                    }
                }
                Ok(if other {
                    Coordinates::Other
                } else {
                    Coordinates::Line(line)
                })
            }
        }
        d.deserialize_any(V)
    }
}

enum Position {
    At([f64; 3]),
    /// A bare number (of a point), or a list of positions (of a polygon).
    Other,
}

impl<'de> Deserialize<'de> for Position {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct V;
        impl<'de> Visitor<'de> for V {
            type Value = Position;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a position as [x, y] or [x, y, z]")
            }

            fn visit_f64<E>(self, _: f64) -> Result<Position, E> {
                Ok(Position::Other)
            }

            fn visit_u64<E>(self, _: u64) -> Result<Position, E> {
                Ok(Position::Other)
            }

            fn visit_i64<E>(self, _: i64) -> Result<Position, E> {
                Ok(Position::Other)
            }

            fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Position, A::Error> {
                let mut p = [f64::NAN; 3];
                let mut n = 0;
                let mut deeper = false;
                while let Some(part) = seq.next_element::<Part>()? {
                    match part {
                        // More than three numbers (a measure, by GeoJSON's older rules) are let go.
                        Part::Number(v) if n < 3 => p[n] = v,
                        Part::Number(_) => {}
                        Part::List => deeper = true,
                    }
                    n += 1;
                }
                match (deeper, n) {
                    (true, _) => Ok(Position::Other),
                    (false, 0 | 1) => Err(de::Error::invalid_length(n, &self)),
                    _ => Ok(Position::At(p)),
                }
            }
        }
        d.deserialize_any(V)
    }
}

enum Part {
    Number(f64),
    List,
}

impl<'de> Deserialize<'de> for Part {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct V;
        impl<'de> Visitor<'de> for V {
            type Value = Part;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a number")
            }

            fn visit_f64<E>(self, v: f64) -> Result<Part, E> {
                Ok(Part::Number(v))
            }

            fn visit_u64<E>(self, v: u64) -> Result<Part, E> {
                Ok(Part::Number(v as f64))
            }

            fn visit_i64<E>(self, v: i64) -> Result<Part, E> {
                Ok(Part::Number(v as f64))
            }

            fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Part, A::Error> {
                while seq.next_element::<IgnoredAny>()?.is_some() {}
                Ok(Part::List)
            }
        }
        d.deserialize_any(V)
    }
}

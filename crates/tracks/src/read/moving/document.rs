//! The text of a Moving Features JSON document: what a trajectory needs, the rest skipped.

use super::series::{Positions, Series};
use crate::error::Problem;
use crate::table::instant;
use serde::Deserialize;
use serde::de::{self, DeserializeSeed, Deserializer, IgnoredAny, MapAccess, SeqAccess, Visitor};
use std::collections::BTreeMap;
use std::fmt;

/// Takes the features of a collection as they end, with their place in it, so that only one is held
/// at a time as it is written; an error ends the reading.
pub(super) type Sink<'s> = &'s mut dyn FnMut(usize, Node) -> Result<(), Problem>;

/// A document: a feature, or a collection of features, which go to the sink.
pub(super) struct Document<'s>(pub(super) Sink<'s>);

/// What a document says beside the features of its collection.
pub(super) struct Whole {
    /// Its own members, as those of a feature.
    pub(super) node: Node,
    /// Whether it has a list of features.
    pub(super) collection: bool,
}

impl<'de> DeserializeSeed<'de> for Document<'_> {
    type Value = Whole;

    fn deserialize<D: Deserializer<'de>>(self, d: D) -> Result<Whole, D::Error> {
        d.deserialize_map(self)
    }
}

impl<'de> Visitor<'de> for Document<'_> {
    type Value = Whole;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON object")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Whole, A::Error> {
        fn once<'de, T: Deserialize<'de>, A: MapAccess<'de>>(
            slot: &mut Option<T>,
            name: &'static str,
            map: &mut A,
        ) -> Result<(), A::Error> {
            if slot.is_some() {
                return Err(de::Error::duplicate_field(name));
            }
            *slot = map.next_value()?;
            Ok(())
        }
        let mut kind: Option<String> = None;
        let mut node = Node::default();
        let mut collection = false;
        while let Some(key) = map.next_key::<String>()? {
            let map = &mut map;
            match key.as_str() {
                "type" => once(&mut kind, "type", map)?,
                "features" if collection => return Err(de::Error::duplicate_field("features")),
                "features" => collection = map.next_value_seed(Features(&mut *self.0))?,
                "id" => once(&mut node.id, "id", map)?,
                "crs" => once(&mut node.crs, "crs", map)?,
                "geometry" => once(&mut node.geometry, "geometry", map)?,
                "properties" => once(&mut node.properties, "properties", map)?,
                "temporalGeometry" => once(&mut node.temporal_geometry, "temporalGeometry", map)?,
                "temporalProperties" => {
                    once(&mut node.temporal_properties, "temporalProperties", map)?;
                }
                _ => {
                    map.next_value::<IgnoredAny>()?;
                }
            }
        }
        node.kind = kind.ok_or_else(|| de::Error::missing_field("type"))?;
        Ok(Whole { node, collection })
    }
}

/// A list of features, or null: whether there is one.
struct Features<'s>(Sink<'s>);

impl<'de> DeserializeSeed<'de> for Features<'_> {
    type Value = bool;

    fn deserialize<D: Deserializer<'de>>(self, d: D) -> Result<bool, D::Error> {
        d.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Features<'_> {
    type Value = bool;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list of features")
    }

    fn visit_unit<E>(self) -> Result<bool, E> {
        Ok(false)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<bool, A::Error> {
        let mut i = 0;
        while let Some(feature) = seq.next_element::<Node>()? {
            // The sink keeps what it found wrong.
            (self.0)(i, feature).map_err(|_| de::Error::custom("a feature is not as expected"))?;
            i += 1;
        }
        Ok(true)
    }
}

/// A feature.
#[derive(Default, Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Node {
    #[serde(rename = "type")]
    pub(super) kind: String,
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
#[derive(Clone)]
pub(super) struct Parametric {
    pub(super) datetimes: Vec<Stamp>,
    pub(super) values: BTreeMap<String, Values>,
}

#[derive(Clone, Deserialize)]
pub(super) struct Values {
    pub(super) values: Series,
}

/// Positions one after the other; `Other` for a point, a polygon, and whatever else is no line.
#[derive(Default)]
pub(super) enum Coordinates {
    #[default]
    None,
    Line(Positions),
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
#[derive(Clone)]
pub(super) enum Property {
    One(Scalar),
    Many(Series),
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
                let mut out = Series::default();
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
                    Property::Many(out.shrunk())
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

impl<'de> Deserialize<'de> for Series {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        match Property::deserialize(d)? {
            Property::Many(s) => Ok(s),
            _ => Err(de::Error::custom(
                "expected a list of numbers, texts or nulls",
            )),
        }
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
                let mut line = Positions::default();
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
                    Coordinates::Line(line.shrunk())
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

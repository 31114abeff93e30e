//! Values of a mapping that may be written in two ways.

use super::{CourtSpec, Origin};
use serde::de::{self, Deserializer, MapAccess, SeqAccess, Visitor, value::MapAccessDeserializer};
use serde::{Deserialize, Serialize, Serializer};
use setdrift_court::Court;
use std::fmt;

/// A column by name, or by number from 1.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(untagged)]
pub enum ColumnRef {
    /// Its name in the header.
    Name(String),
    /// Its place, from 1.
    Number(usize),
}

impl ColumnRef {
    /// A column by name.
    #[must_use]
    pub fn name(name: impl Into<String>) -> Self {
        Self::Name(name.into())
    }
}

impl fmt::Display for ColumnRef {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Name(n) => f.write_str(n),
            Self::Number(n) => write!(f, "{n}"),
        }
    }
}

impl<'de> Deserialize<'de> for ColumnRef {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct V;
        impl Visitor<'_> for V {
            type Value = ColumnRef;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a column's name in quotes, or its number from 1")
            }

            fn visit_str<E: de::Error>(self, v: &str) -> Result<ColumnRef, E> {
                Ok(ColumnRef::Name(v.to_owned()))
            }

            fn visit_i64<E: de::Error>(self, v: i64) -> Result<ColumnRef, E> {
                usize::try_from(v)
                    .ok()
                    .filter(|n| *n > 0)
                    .map(ColumnRef::Number)
                    .ok_or_else(|| E::invalid_value(de::Unexpected::Signed(v), &self))
            }
        }
        d.deserialize_any(V)
    }
}

impl<'de> Deserialize<'de> for CourtSpec {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct V;
        impl<'de> Visitor<'de> for V {
            type Value = CourtSpec;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(
                    f,
                    "one of {}, or a table with `name` and `measures`",
                    Court::NAMES.join(", ")
                )
            }

            fn visit_str<E: de::Error>(self, v: &str) -> Result<CourtSpec, E> {
                Ok(CourtSpec::Named(v.to_owned()))
            }

            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<CourtSpec, A::Error> {
                Court::deserialize(MapAccessDeserializer::new(map)).map(CourtSpec::Own)
            }
        }
        d.deserialize_any(V)
    }
}

impl<'de> Deserialize<'de> for Origin {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct V;
        impl<'de> Visitor<'de> for V {
            type Value = Origin;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(
                    "\"centre\", \"corner\", or the file's coordinates [x, y] of the floor's centre",
                )
            }

            fn visit_str<E: de::Error>(self, v: &str) -> Result<Origin, E> {
                match v {
                    "centre" => Ok(Origin::default()),
                    "corner" => Ok(Origin::Corner),
                    _ => Err(E::invalid_value(de::Unexpected::Str(v), &self)),
                }
            }

            fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Origin, A::Error> {
                let x = seq
                    .next_element()?
                    .ok_or_else(|| de::Error::invalid_length(0, &self))?;
                let y = seq
                    .next_element()?
                    .ok_or_else(|| de::Error::invalid_length(1, &self))?;
                if seq.next_element::<f64>()?.is_some() {
                    return Err(de::Error::invalid_length(3, &self));
                }
                Ok(Origin::Centre([x, y]))
            }
        }
        d.deserialize_any(V)
    }
}

pub(super) fn corner<S: Serializer>(s: S) -> Result<S::Ok, S::Error> {
    s.serialize_str("corner")
}

/// A session time: seconds, or `[H:]MM:SS[.f]` in quotes.
pub(super) fn moment<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    struct V;
    impl Visitor<'_> for V {
        type Value = f64;

        fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            f.write_str("a session time: a number of seconds, or \"MM:SS\" in quotes")
        }

        fn visit_f64<E: de::Error>(self, v: f64) -> Result<f64, E> {
            if v.is_finite() {
                Ok(v)
            } else {
                Err(E::invalid_value(de::Unexpected::Float(v), &self))
            }
        }

        fn visit_i64<E: de::Error>(self, v: i64) -> Result<f64, E> {
            Ok(v as f64)
        }

        fn visit_str<E: de::Error>(self, v: &str) -> Result<f64, E> {
            crate::table::seconds(v)
                .filter(|t| t.is_finite())
                .ok_or_else(|| E::invalid_value(de::Unexpected::Str(v), &self))
        }
    }
    d.deserialize_any(V)
}

/// The same, where it is given.
pub(super) fn maybe_moment<'de, D: Deserializer<'de>>(d: D) -> Result<Option<f64>, D::Error> {
    moment(d).map(Some)
}

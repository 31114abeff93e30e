//! Raw tracks as OGC Moving Features JSON (OGC 19-045r3, prism encoding): a moving point per object.
//!
//! Dates hold nanoseconds, so the session's own seconds stand beside them as the temporal property
//! `time_s`: reading gives back every bit.

use super::frame;
use crate::raw::{RawTracks, Samples};
use std::fmt::Write as _;
use std::io::Write;

/// The default reference system would be of longitude and latitude (19-045r3), so ours is named.
const CRS: &str = "court frame: metres, origin at the centre of the floor, x along it, y across";

pub(super) fn write(out: &mut dyn Write, raw: &RawTracks) -> std::io::Result<()> {
    let string = |s: &str| serde_json::to_string(s).unwrap_or_default();
    let midnight = midnight(raw.date.as_deref());
    write!(
        out,
        "{{\"type\":\"FeatureCollection\",\"crs\":{{\"type\":\"Name\",\"properties\":{{\"name\":{}}}}},\
         \"features\":[",
        string(CRS)
    )?;
    let mut before = "\n";
    for (id, team, samples) in frame::objects(raw).filter(|o| !o.2.is_empty()) {
        let mut text = String::from(before);
        before = ",\n";
        let id = string(id);
        let _ = write!(
            text,
            "{{\"type\":\"Feature\",\"id\":{id},\"properties\":{{\"object\":{id}"
        );
        if let Some(team) = team {
            let _ = write!(text, ",\"team\":{}", string(&raw.teams[team].id));
        }
        let datetimes = datetimes(samples, midnight);
        let _ = write!(
            text,
            "}},\"temporalGeometry\":{{\"type\":\"MovingPoint\",\"datetimes\":{datetimes},\
             \"coordinates\":["
        );
        positions(&mut text, samples);
        let _ = write!(
            text,
            "],\"interpolation\":\"Linear\"}},\"temporalProperties\":[{{\"datetimes\":{datetimes},\
             \"time_s\":{{\"type\":\"Measure\",\"form\":\"SEC\",\"values\":["
        );
        for (i, t) in samples.t.iter().enumerate() {
            let comma = if i == 0 { "" } else { "," };
            let _ = write!(text, "{comma}{t}");
        }
        text.push_str("],\"interpolation\":\"Linear\"}}]}");
        out.write_all(text.as_bytes())?;
    }
    out.write_all(b"\n]}\n")
}

/// Nanoseconds since 1970 UTC at which the session's day begins.
fn midnight(date: Option<&str>) -> i128 {
    let day = date.and_then(|d| d.parse::<jiff::civil::Date>().ok());
    let utc = jiff::tz::TimeZone::UTC;
    day.and_then(|d| utc.to_timestamp(d.at(0, 0, 0, 0)).ok())
        .map_or(0, jiff::Timestamp::as_nanosecond)
}

fn datetimes(samples: &Samples, midnight: i128) -> String {
    let mut text = String::from("[");
    let nanoseconds: Vec<i128> = samples
        .t
        .iter()
        .map(|t| midnight + (t * 1e9).round() as i128)
        .collect();
    // As many digits for all, so that they sort as text.
    let whole = nanoseconds.iter().all(|ns| ns % 1_000_000 == 0);
    let digits = if whole { 3 } else { 9 };
    for (i, ns) in nanoseconds.into_iter().enumerate() {
        let comma = if i == 0 { "" } else { "," };
        // Times are within twelve hours of a date in years of four digits.
        let stamp = jiff::Timestamp::from_nanosecond(ns).unwrap_or_default();
        let _ = write!(text, "{comma}\"{stamp:.digits$}\"");
    }
    text.push(']');
    text
}

fn positions(text: &mut String, s: &Samples) {
    for i in 0..s.len() {
        let comma = if i == 0 { "" } else { "," };
        let _ = write!(text, "{comma}[{},{}", s.x[i], s.y[i]);
        if let Some(z) = s.z.as_ref().map(|z| z[i]).filter(|z| !z.is_nan()) {
            let _ = write!(text, ",{z}");
        }
        text.push(']');
    }
}

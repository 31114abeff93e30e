//! Moving Features documents as OGC 19-045r3 describes them, with all that a feature may carry.

#![allow(clippy::unwrap_used, reason = "a test may fail where it stands")]

mod common;

use common::Folder;
use setdrift_tracks::mapping::Format;
use setdrift_tracks::{RawTracks, inspect, open, sources};

const MAPPING: &str = r#"
[session]
court = "fiba"
[columns]
object = "shirt"
team = "team"
[ball]
object = "ball"
"#;

/// A prism document: a feature with every member of clause 7, one whose path is in two prisms and
/// whose instants are numbers, a ball with heights, and a floor that does not move.
const PRISMS: &str = r#"{
  "type": "FeatureCollection",
  "trs": { "type": "Link", "properties": { "type": "OGCDEF",
    "href": "http://www.opengis.net/def/uom/ISO-8601/0/Gregorian" } },
  "features": [
    { "type": "Feature", "id": "A",
      "temporalGeometry": {
        "type": "MovingPoint",
        "datetimes": ["2031-10-04T19:30:00Z", "2031-10-04T21:30:00.5+02:00", "2031-10-04T19:30:01Z"],
        "coordinates": [[1, 2], [1.5, 2.25, 0], [2, 2.5]],
        "interpolation": "Linear",
        "orientations": [{ "scales": [1, 1, 1], "angles": [0, 0, 30] }],
        "base": { "type": "glTF", "href": "http://example.org/person.gltf" }
      },
      "temporalProperties": [
        { "datetimes": ["2031-10-04T19:30:00.500Z", "2031-10-04T19:31:00Z"],
          "pulse": { "type": "Measure", "form": "http://example.org/pulse", "values": [120, 121] },
          "note": { "type": "Text", "values": ["A", null], "interpolation": "Discrete" } }
      ],
      "geometry": { "type": "Polygon", "coordinates": [[[0, 0], [1, 0], [1, 1], [0, 0]]] },
      "properties": { "shirt": 7, "team": "herons", "tags": ["x", "y", "z", "w"], "more": { "a": [1] } },
      "bbox": [1, 2, 0, 2, 2.5, 0], "time": ["2031-10-04T19:30:00Z", "2031-10-04T19:30:01Z"]
    },
    { "type": "Feature", "id": "B",
      "temporalGeometry": { "type": "MovingGeometryCollection", "prisms": [
        { "type": "MovingPoint", "datetimes": [1948908600000, 1948908600500],
          "coordinates": [[-1, 0], [-1, 1]], "interpolation": "Discrete" },
        { "type": "MovingPoint", "datetimes": [1948908602000], "coordinates": [[-2, 1]] }
      ] },
      "properties": { "shirt": 8, "team": "otters" }
    },
    { "type": "Feature", "properties": { "shirt": "ball" },
      "temporalGeometry": { "type": "MovingPoint", "datetimes": ["2031-10-04T19:30:00Z"],
        "coordinates": [[1, 2, 1.2]] } },
    { "type": "Feature", "id": "floor", "properties": null,
      "geometry": { "type": "Polygon", "coordinates": [[[-14, -7.5], [14, -7.5], [14, 7.5], [-14, -7.5]]] } }
  ]
}"#;

fn read(name: &str, document: &str, mapping: &str) -> RawTracks {
    let folder = Folder::new(name);
    folder.put("g.tracks.toml", mapping);
    let path = folder.put("g.json", document);
    let source = &sources(&path).unwrap()[0];
    source.read_raw(&source.mapping().unwrap()).unwrap().0
}

#[test]
fn prisms_with_every_member_are_read() {
    let raw = read("prisms", PRISMS, MAPPING);
    let ids: Vec<_> = raw.players.iter().map(|p| p.id.as_str()).collect();
    assert_eq!(ids, ["7", "8"]);
    let a = &raw.samples[0];
    // 21:30:00.5 at +02:00 is 19:30:00.5 UTC.
    assert_eq!(a.t, [0.0, 0.5, 1.0]);
    assert_eq!(
        (&a.x[..], &a.y[..]),
        (&[1.0, 1.5, 2.0][..], &[2.0, 2.25, 2.5][..])
    );
    // 1,948,908,600 s after 1970 is 19:30 of 4 October 2031 UTC.
    let b = &raw.samples[1];
    assert_eq!(b.t, [0.0, 0.5, 2.0]);
    assert_eq!(b.x, [-1.0, -1.0, -2.0]);
    assert_eq!(raw.ball.unwrap().z.unwrap(), [1.2]);
    assert_eq!(raw.teams[1].id, "otters");
}

/// Trajectories: line strings timed by `properties.datetimes`; values of a position each, or of the
/// piece up to the next.
#[test]
fn trajectories_are_read() {
    let document = r#"{ "type": "FeatureCollection", "features": [
      { "type": "Feature", "id": "h1",
        "geometry": { "type": "LineString", "coordinates": [[11.0, 2.0], [12.0, 3.0], [10.0, 3.0]] },
        "properties": {
          "datetimes": ["2031-01-17T12:33:51Z", "2031-01-17T12:33:56Z", "2031-01-17T12:34:00Z"],
          "state": ["walking", "running"], "side": ["herons"], "lift": [0.1, 0.2, 0.3] } },
      { "type": "Feature", "id": "o1",
        "geometry": { "type": "LineString", "coordinates": [[10.0, 2.0], [11.0, 3.0]] },
        "properties": { "datetimes": [1926419631000, 1926419640000], "side": ["otters"] } } ] }"#;
    let mapping = "session.court = \"fiba\"\ncolumns = { team = \"side\", z = \"lift\" }\n";
    let raw = read("trajectories", document, mapping);
    assert_eq!(raw.samples[0].t, [0.0, 5.0, 9.0]);
    assert_eq!(raw.samples[0].x, [11.0, 12.0, 10.0]);
    assert_eq!(raw.samples[0].z.as_deref(), Some(&[0.1, 0.2, 0.3][..]));
    assert_eq!(raw.samples[1].t, [0.0, 9.0]);
    assert_eq!(raw.players[1].team, 1);
    let pieces = document.replace("[0.1, 0.2, 0.3]", "[0.1, 0.2]");
    let z = read("pieces", &pieces, mapping).samples[0]
        .z
        .clone()
        .unwrap();
    assert!(z[..2] == [0.1, 0.2] && z[2].is_nan(), "{z:?}");
}

#[test]
fn one_feature_is_a_document_and_looked_at_without_help() {
    let folder = Folder::new("feature");
    let mut points = Vec::new();
    let mut times = Vec::new();
    for i in 0..400 {
        let t = f64::from(i) * 0.1;
        times.push(format!("\"2031-10-04T19:30:{t:04.1}Z\""));
        points.push(format!(
            "[{:.3}, {:.3}]",
            13.0 * (t / 4.0).sin(),
            7.0 * (t / 3.0).cos()
        ));
    }
    let document = format!(
        "{{\"type\":\"Feature\",\"id\":\"h1\",\"temporalGeometry\":{{\"type\":\"MovingPoint\",\
         \"datetimes\":[{}],\"coordinates\":[{}]}}}}",
        times.join(","),
        points.join(",")
    );
    let path = folder.put("one.txt", &document);
    let seen = inspect(&path, "").unwrap();
    assert_eq!(seen.mapping.file.format, Some(Format::MovingFeatures));
    assert!(seen.problem.is_none(), "{:?}", seen.problem);
    folder.put("one.tracks.toml", &seen.toml);
    let loaded = open(&path).unwrap();
    assert_eq!(
        (loaded.session.rate_hz, loaded.session.frames()),
        (10.0, 400)
    );
}

//! Files that would not end: packed text that unpacks to gigabytes, lines of absurd length.

#![allow(clippy::unwrap_used, reason = "a test may fail where it stands")]

mod common;

use common::Folder;
use setdrift_tracks::{TracksError, inspect, open};
use std::io::Write;
use std::path::Path;

const MAPPING: &str = "session.court = \"fiba\"\n\
    columns = { time = \"t\", object = \"id\", x = \"x\", y = \"y\" }\n";

fn refused(folder: &Folder, path: &Path) -> TracksError {
    folder.put("tracks.toml", MAPPING);
    let e = open(path).unwrap_err();
    // A message is read by people, whatever is in the file.
    assert!(
        e.to_string().chars().count() < 600,
        "{}",
        e.to_string().len()
    );
    e
}

/// A mebibyte of rows, packed once; members and frames may follow each other (RFC 1952 section 2.2,
/// RFC 8878 section 3.1), so a file of it a thousand times over is a gigabyte.
#[test]
fn text_that_unpacks_without_end_is_refused() {
    let folder = Folder::new("bombs");
    let row = b"0.0,a,1,1\n";
    let text = row.repeat((1 << 20) / row.len());
    let gz = |text: &[u8]| {
        let mut gz = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
        gz.write_all(text).unwrap();
        gz.finish().unwrap()
    };
    let zst = |text: &[u8]| zstd::stream::encode_all(text, 3).unwrap();
    let header = b"t,id,x,y\n";
    for (name, header, piece) in [
        ("bomb.csv.gz", gz(header), gz(&text)),
        ("bomb.csv.zst", zst(header), zst(&text)),
    ] {
        let path = folder.file(name);
        std::fs::write(&path, [header, piece.repeat(1024)].concat()).unwrap();
        let e = refused(&folder, &path);
        let text = e.to_string();
        assert!(
            text.contains("as large as its packed form: expected at most 200"),
            "{e}"
        );
    }
}

#[test]
fn lines_of_absurd_length_are_refused_in_a_few_words() {
    let folder = Folder::new("lengths");
    let long = "x".repeat(2 << 20);
    for (name, text) in [
        ("header.csv", format!("t,id,{long},y\n0.0,a,1,1\n")),
        ("cell.csv", format!("t,id,x,y\n0.0,a,{long},1\n")),
        (
            "label.csv",
            format!("t,id,x,y\n0.0,{long},1,1\n0.0,{long},5,5\n"),
        ),
        (
            "commas.csv",
            format!("t,id,x,y\n0.0,a,1,1\n{}\n", ",".repeat(1 << 20)),
        ),
        ("quote.csv", format!("t,id,x,y\n0.0,a,1,\"{long}\n")),
        (
            "line.ndjson",
            format!("{{\"t\":0,\"id\":\"a\",\"x\":\"{long}\",\"y\":1}}\n"),
        ),
        ("member.ndjson", format!("{{\"t\":0,\"{long}\":1}}\n")),
        ("open.ndjson", format!("{{\"t\":{}\n", "[".repeat(1 << 20))),
        ("type.mfjson", format!("{{\"type\":\"{long}\"}}\n")),
        (
            "date.mfjson",
            format!(
                "{{\"type\":\"Feature\",\"temporalGeometry\":{{\"type\":\"MovingPoint\",\
             \"datetimes\":[\"{long}\"],\"coordinates\":[[1,2]]}}}}\n"
            ),
        ),
    ] {
        let path = folder.put(name, &text);
        refused(&folder, &path);
        let _ = inspect(&path, "");
    }
}

#[test]
fn a_mapping_that_is_no_mapping_is_refused_before_it_is_parsed() {
    let folder = Folder::new("mapping-length");
    let path = folder.put("g.csv", "t,id,x,y\n0.0,a,1,1\n");
    folder.put("tracks.toml", &"# a comment\n".repeat(500_000));
    let e = open(&path).unwrap_err();
    assert!(
        e.to_string().contains("the mapping is 6000000 bytes"),
        "{e}"
    );
}

//! Format, delimiter, decimal sign and header of a file.

use super::{Confidence, Notes, has};
use crate::error::TracksError;
use crate::mapping::{FileSpec, Format, Mapping};
use crate::read::{Opened, format_of, head};
use crate::table::number;
use std::path::Path;

/// Bytes looked at.
const LOOKED_AT: usize = 64 << 10;

pub(super) fn open(
    path: &Path,
    given: &toml::Table,
    mapping: &mut Mapping,
    notes: &mut Notes,
) -> Result<Opened, TracksError> {
    let bytes = head(path, LOOKED_AT)?;
    let by_name = format_of(path);
    let by_bytes = by_content(&bytes);
    let format = by_bytes.or(by_name).unwrap_or(Format::Csv);
    if by_name != Some(format) {
        mapping.file.format = Some(format);
        notes.found(
            "file.format",
            format!("{format:?}"),
            "its first bytes, whatever its name says",
            Confidence::Sure,
        );
    }
    if format == Format::Csv {
        let text = String::from_utf8_lossy(&bytes);
        text_details(&text, &mut mapping.file, notes);
    }
    super::apply(mapping, given, path)?;
    if has(given, "file.format") {
        return Opened::open(path, &mapping.file);
    }
    let opened = Opened::open(path, &mapping.file)?;
    if format == Format::Csv && !opened.named() && looks_like_boxes(&opened)? {
        mapping.file.format = Some(Format::Motchallenge);
        mapping.file.header = None;
        notes.found(
            "file.format",
            "MOTChallenge text",
            "frame, id, then a box of left, top, width and height, then -1 or a confidence",
            Confidence::Sure,
        );
        return Opened::open(path, &mapping.file);
    }
    Ok(opened)
}

/// First bytes as the formats' specifications give them.
fn by_content(bytes: &[u8]) -> Option<Format> {
    if bytes.starts_with(b"PAR1") {
        return Some(Format::Parquet);
    }
    if bytes.starts_with(b"ARROW1") || bytes.starts_with(&[0xff; 4]) {
        return Some(Format::Ipc);
    }
    let text = bytes.trim_ascii_start();
    if text.starts_with(b"{") {
        return Some(if says_feature(text) {
            Format::MovingFeatures
        } else {
            Format::Ndjson
        });
    }
    None
}

/// Whether a JSON text has an object whose `type` is a feature's.
fn says_feature(text: &[u8]) -> bool {
    let text = String::from_utf8_lossy(text);
    text.match_indices("\"type\"").any(|(at, word)| {
        let value = text[at + word.len()..].trim_start();
        let value = value.strip_prefix(':').map(str::trim_start);
        ["\"Feature", "\"MovingFeature"]
            .iter()
            .any(|f| value.is_some_and(|v| v.starts_with(f)))
    })
}

fn text_details(text: &str, spec: &mut FileSpec, notes: &mut Notes) {
    let mut lines: Vec<&str> = text
        .lines()
        .filter(|l| !l.trim().is_empty())
        .take(60)
        .collect();
    if lines.len() > 2 {
        // The last line may be cut.
        lines.pop();
    }
    let Some(first) = lines.first() else { return };
    let count = |line: &str, sign: char| line.matches(sign).count();
    let even = |sign: char| {
        let n = count(first, sign);
        (n > 0 && lines.iter().all(|l| count(l, sign) == n)).then_some(n)
    };
    // A sign that cuts every line into equally many cells; a comma may be the decimal sign of a
    // file with semicolons, so it is asked last.
    let found = ['\t', ';', '|', ',', ' ']
        .into_iter()
        .filter_map(|s| even(s).map(|n| (s, n)))
        .max_by_key(|(s, n)| (*n >= 2, !matches!(s, ',' | ' ')));
    let delimiter = found.map_or(',', |f| f.0);
    if delimiter != ',' {
        spec.delimiter = Some(delimiter);
        notes.found(
            "file.delimiter",
            match delimiter {
                '\t' => "tab".into(),
                ' ' => "space".into(),
                d => d.to_string(),
            },
            "it cuts every line into equally many cells",
            Confidence::Sure,
        );
    }
    let cells = |line: &str| -> Vec<String> {
        line.split(delimiter)
            .map(|c| c.trim().trim_matches('"').to_owned())
            .collect()
    };
    let body: Vec<Vec<String>> = lines.iter().skip(1).map(|l| cells(l)).collect();
    if delimiter != ',' {
        let comma = body
            .iter()
            .flatten()
            .filter(|c| c.contains(',') && number(&c.replace(',', ".")).is_some())
            .count();
        let point = body
            .iter()
            .flatten()
            .filter(|c| c.contains('.') && number(c).is_some())
            .count();
        if comma > point {
            spec.decimal = Some(',');
            notes.found(
                "file.decimal",
                ",",
                format!("{comma} numbers are written with a comma, {point} with a point"),
                Confidence::Sure,
            );
        }
    }
    let numeric = |c: &String| number(&c.replace(',', ".")).is_some();
    let head = cells(first);
    if head.iter().any(numeric) {
        spec.header = Some(false);
        notes.found(
            "file.header",
            "none",
            "the first line already holds numbers; columns are counted from 1",
            Confidence::Sure,
        );
    }
}

/// MOTChallenge text (Milan et al. 2016, arXiv:1603.00831, section 3): at least seven columns of
/// numbers: frame from 1, id, box, confidence.
fn looks_like_boxes(opened: &Opened) -> Result<bool, TracksError> {
    let sample = opened.sample(500)?;
    if sample.len() < 7 || sample.len() > 10 {
        return Ok(false);
    }
    let columns: Option<Vec<Vec<f64>>> = sample
        .iter()
        .map(|c| c.iter().map(|t| number(t)).collect())
        .collect();
    let Some(c) = columns else { return Ok(false) };
    let whole = |v: &[f64]| v.iter().all(|x| x.fract() == 0.0 && *x >= -1.0);
    let steady = c[0].windows(2).all(|w| w[0] <= w[1]);
    let boxes = c[4].iter().chain(&c[5]).all(|x| *x > 0.0);
    let tail = c[6].iter().all(|x| *x == -1.0 || (0.0..=1.0).contains(x));
    Ok(whole(&c[0]) && whole(&c[1]) && steady && boxes && tail)
}

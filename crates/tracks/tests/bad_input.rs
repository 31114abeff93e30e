//! Files that cannot be read, or only with a warning, each with the message it must give (`tests/bad-input`).

mod common;

use common::Folder;
use setdrift_tracks::sources;
use std::path::Path;

/// Cases: `=== name` begins one; `--- file` begins a file of it; `>>>` begins the message, then the
/// mend. In files `\0` is a zero byte, `\xHH` a byte, and `@N text` the text N times.
fn cases(text: &str) -> Vec<Case> {
    let mut out: Vec<Case> = Vec::new();
    let mut part = Part::None;
    for line in text.lines() {
        if let Some(name) = line.strip_prefix("=== ") {
            out.push(Case {
                name: name.to_owned(),
                ..Case::default()
            });
            part = Part::None;
        } else if let (Some(file), Some(case)) = (line.strip_prefix("--- "), out.last_mut()) {
            case.files.push((file.to_owned(), Vec::new()));
            part = Part::File;
        } else if line == ">>>" {
            part = Part::Message;
        } else if let Some(case) = out.last_mut() {
            match part {
                Part::File => {
                    if let Some((_, bytes)) = case.files.last_mut() {
                        bytes.extend(unescape(line));
                        bytes.push(b'\n');
                    }
                }
                Part::Message if !line.is_empty() => case.message.push(line.to_owned()),
                _ => {}
            }
        }
    }
    out
}

#[derive(Default)]
struct Case {
    name: String,
    files: Vec<(String, Vec<u8>)>,
    message: Vec<String>,
}

#[derive(Clone, Copy)]
enum Part {
    None,
    File,
    Message,
}

fn unescape(line: &str) -> Vec<u8> {
    if let Some((count, text)) = line.strip_prefix('@').and_then(|r| r.split_once(' ')) {
        let count: usize = count.parse().expect("a count after @");
        return text.repeat(count).replace("\\n", "\n").into_bytes();
    }
    let mut out = Vec::new();
    let mut rest = line;
    while let Some(at) = rest.find("\\x") {
        out.extend_from_slice(&rest.as_bytes()[..at]);
        let hex = &rest[at + 2..at + 4];
        out.push(u8::from_str_radix(hex, 16).expect("two hexadecimal digits"));
        rest = &rest[at + 4..];
    }
    out.extend_from_slice(rest.as_bytes());
    out
}

/// What opening a case says: the error and its mend, or the warnings. A mapping named `tracks.toml` without `[session]` gets the usual one.
fn said(case: &Case) -> Vec<String> {
    let folder = Folder::new(&format!("bad-{}", case.name));
    for (name, bytes) in &case.files {
        std::fs::write(folder.file(name), bytes).expect("a temporary folder takes files");
    }
    let first = folder.file(&case.files[0].0);
    let opened = sources(&first).and_then(|s| s[0].open());
    let base = format!("{}", folder.file("").display());
    match opened {
        Ok(loaded) if loaded.warnings.is_empty() => vec!["no error".into()],
        Ok(loaded) => {
            let warnings = loaded.warnings.iter();
            warnings.map(|w| w.to_string().replace(&base, "")).collect()
        }
        Err(e) => {
            vec![
                e.to_string().replace(&base, ""),
                e.mend().replace(&base, ""),
            ]
        }
    }
}

/// Run with `SETDRIFT_SHOW=1` to print what each case says now.
#[test]
fn every_bad_file_gives_its_message() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/bad-input");
    let text = std::fs::read_to_string(folder.join("cases.txt")).unwrap();
    let cases = cases(&text);
    assert!(cases.len() >= 60, "{} cases", cases.len());
    let mut wrong = String::new();
    for case in &cases {
        let said = said(case);
        if said != case.message {
            wrong.push_str(&format!("=== {}\n>>>\n{}\n\n", case.name, said.join("\n")));
        }
    }
    assert!(wrong.is_empty(), "these say something else:\n{wrong}");
}

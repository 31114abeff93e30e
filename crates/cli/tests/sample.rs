//! The bundled sample is remade bit for bit by its documented command.
#![allow(clippy::unwrap_used)]

use std::path::{Path, PathBuf};
use std::process::Command;

fn files(folder: &Path) -> Vec<PathBuf> {
    let mut out = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            out.extend(files(&path));
        } else {
            out.push(path);
        }
    }
    out.sort();
    out
}

#[test]
fn the_sample_is_remade_bit_for_bit() {
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-tracks");
    let made = Path::new(env!("CARGO_TARGET_TMPDIR")).join("sample-remade");
    let _ = std::fs::remove_dir_all(&made);
    let done = Command::new(env!("CARGO_BIN_EXE_setdrift"))
        .args(["simulate", "--sample"])
        .arg(&made)
        .arg("--playbook")
        .arg(sample.join("lantern.toml"))
        .output()
        .unwrap();
    assert!(
        done.status.success(),
        "{}",
        String::from_utf8_lossy(&done.stderr)
    );
    let remade = files(&made);
    assert!(remade.len() >= 17, "{remade:?}");
    for path in remade {
        let name = path.strip_prefix(&made).unwrap();
        let kept = std::fs::read(sample.join(name)).unwrap();
        let same = kept == std::fs::read(&path).unwrap();
        assert!(
            same,
            "{} differs: `setdrift simulate` in the source folder remakes it",
            name.display()
        );
    }
    let total: u64 = files(&sample)
        .iter()
        .map(|p| std::fs::metadata(p).unwrap().len())
        .sum();
    assert!(total < 15_000_000, "the sample has {total} bytes");
}

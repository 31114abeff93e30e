//! The examples' READMEs do what they say: each `console` block is run and its output compared,
//! whole. With `SETDRIFT_BLESS=1` the READMEs are rewritten instead.

use crate::{kept, root, setdrift, text};
use std::fs;

/// Runs every block of a README; the README as it should be.
fn replayed(readme: &str) -> String {
    let mut out = String::new();
    let mut lines = readme.lines().peekable();
    while let Some(line) = lines.next() {
        out.push_str(line);
        out.push('\n');
        if line != "```console" {
            continue;
        }
        let command = lines.next().unwrap();
        let args: Vec<&str> = command
            .strip_prefix("$ setdrift ")
            .unwrap()
            .split_whitespace()
            .collect();
        let done = setdrift(&args, "2");
        assert!(done.status.success(), "{command}: {}", text(&done.stderr));
        out.push_str(command);
        out.push('\n');
        out.push_str(&text(&done.stdout));
        while lines.peek().is_some_and(|l| *l != "```") {
            lines.next();
        }
    }
    out
}

#[test]
fn the_three_uses_print_what_their_readmes_show() {
    for use_ in [
        "did-they-run-it",
        "what-do-they-do-instead",
        "who-leaves-late",
    ] {
        let path = root()
            .join("notebooks-free-examples")
            .join(use_)
            .join("README.md");
        let readme = fs::read_to_string(&path).unwrap();
        kept(&path, &replayed(&readme));
    }
}

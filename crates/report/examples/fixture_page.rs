//! Writes the page of the tests' hand-made results to a file: `fixture_page OUT [small|full]`.

#[path = "../tests/support/mod.rs"]
mod support;

use setdrift_report::{PageOptions, page};

fn main() -> std::io::Result<()> {
    let mut args = std::env::args().skip(1);
    let out = args.next().unwrap_or_else(|| "fixture.html".into());
    let shape = match args.next().as_deref() {
        Some("small") => support::Shape::SMALL,
        _ => support::Shape::FULL,
    };
    std::fs::write(out, page(&support::results(shape), &PageOptions::default()))
}

//! Writes pages and marks of the tests' hand-made results into a folder, to be looked at and to
//! be opened by the browser tests: `fixture_page FOLDER`.

#[path = "../tests/support/mod.rs"]
mod support;

use setdrift_report::marks::{Alignment, Around, Choice, Media, Moment};
use setdrift_report::{PageOptions, marks, page};
use setdrift_season::reviewed::Reviewed;
use std::{error::Error, fs, path::PathBuf};

fn main() -> Result<(), Box<dyn Error>> {
    let folder = PathBuf::from(std::env::args().nth(1).unwrap_or_else(|| "out".into()));
    fs::create_dir_all(&folder)?;
    let write = |name: &str, text: String| fs::write(folder.join(name), text);
    let options = PageOptions::default();
    let full = support::results(support::Shape::FULL);
    write("full.html", page(&full, &options))?;
    write(
        "small.html",
        page(&support::results(support::Shape::SMALL), &options),
    )?;
    write("hostile.html", page(&support::hostile(), &options))?;
    let alignment = Alignment::new(&[
        Moment {
            session_s: 0.0,
            video_s: 12.0,
        },
        Moment {
            session_s: 300.0,
            video_s: 312.3,
        },
    ])?;
    let reviewed = Reviewed::of(&full)?;
    let list = marks::marks(
        &reviewed.sessions[1],
        &Choice::default(),
        &alignment,
        Around::default(),
    );
    write("chapters.vtt", marks::chapters(&list))?;
    write("marks.csv", marks::table(&list))?;
    write("cuts.sh", marks::cut_list(&list, true))?;
    let media = Media {
        name: "Game 1".into(),
        url: "game-1.mp4".into(),
        rate: 25.0,
    };
    write("marks.otio", marks::timeline(&list, &media))?;
    Ok(())
}

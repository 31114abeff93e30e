//! A shell script of ffmpeg commands that cuts the marked stretches out of a video.

use super::Mark;
use crate::html::put;

/// A POSIX shell script: `sh cuts.sh VIDEO [FOLDER]` writes one file per mark. Existing files
/// are kept. With `exact`, the video is encoded again, so that cuts fall on the frame; otherwise
/// they fall on the key frame before, and nothing is lost.
///
/// File names hold letters, digits and hyphens only; nothing from the data is ever run.
#[must_use]
pub fn cut_list(marks: &[Mark], exact: bool) -> String {
    let codec = if exact {
        "-c:v libx264 -preset veryfast -crf 20 -c:a aac"
    } else {
        "-c copy"
    };
    let mut o = String::from(
        "#!/bin/sh\n# Cuts the marked stretches out of a video: sh cuts.sh VIDEO [FOLDER]\nset -eu\nvideo=${1:?give the video file}\nfolder=${2:-clips}\nmkdir -p \"$folder\"\n",
    );
    put!(
        o,
        "cut() {{ ffmpeg -nostdin -loglevel error -n -ss \"$1\" -i \"$video\" -t \"$2\" {codec} \"$folder/$3.mp4\"; }}\n"
    );
    let digits = marks.len().to_string().len();
    for (i, m) in marks.iter().enumerate() {
        let who = m.player.as_str();
        put!(
            o,
            "cut {:.3} {:.3} {:0digits$}-p{}-{}\n",
            m.from_s,
            m.to_s - m.from_s,
            i + 1,
            m.possession,
            plain(&[who, m.verdict.as_str(), m.title.as_str()])
        );
    }
    o
}

/// Lower-case letters, digits and single hyphens; never empty.
fn plain(parts: &[&str]) -> String {
    let mut o = String::new();
    for c in parts.join("-").chars() {
        if c.is_ascii_alphanumeric() {
            o.push(c.to_ascii_lowercase());
        } else if !o.is_empty() && !o.ends_with('-') {
            o.push('-');
        }
        if o.len() >= 60 {
            break;
        }
    }
    let o = o.trim_end_matches('-');
    if o.is_empty() {
        "clip".to_owned()
    } else {
        o.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_cannot_carry_commands() {
        assert_eq!(
            plain(&["Zipper entry", "ran with faults"]),
            "zipper-entry-ran-with-faults"
        );
        assert_eq!(plain(&["$(rm -rf ~); `x` '\"\n", ""]), "rm-rf-x");
        assert_eq!(plain(&["…", ""]), "clip");
    }
}

//! A shell script of ffmpeg commands that cuts the marked stretches out of a video.

use super::Mark;
use crate::html::put;

/// How to cut.
#[derive(Debug, Clone, PartialEq)]
pub struct CutOptions {
    /// Seconds shown before each stretch, at least 0. Default 2.
    pub before_s: f64,
    /// Seconds shown after each stretch, at least 0. Default 1.
    pub after_s: f64,
    /// Encode again, so that cuts fall on the frame. Otherwise they fall on the key frame before,
    /// and nothing is lost. Default: encode again.
    pub exact: bool,
}

impl Default for CutOptions {
    fn default() -> Self {
        Self {
            before_s: 2.0,
            after_s: 1.0,
            exact: true,
        }
    }
}

/// A POSIX shell script: `sh cuts.sh VIDEO [FOLDER]` writes one file per mark. Existing files
/// are kept.
///
/// File names hold letters, digits and hyphens only; nothing from the data is ever run.
#[must_use]
pub fn cut_list(marks: &[Mark], options: &CutOptions) -> String {
    let codec = if options.exact {
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
        let from = (m.from_s - options.before_s.max(0.0)).max(0.0);
        let length = m.to_s + options.after_s.max(0.0) - from;
        put!(
            o,
            "cut {from:.3} {length:.3} {:0digits$}-p{}-{}\n",
            i + 1,
            m.possession,
            plain(&[m.title.as_str(), m.verdict.as_str()])
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

//! Text of a file, decompressed, within the limits.

use crate::atomic::io_error;
use crate::error::{Place, Problem, TracksError};
use crate::limits;
use std::cell::Cell;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::rc::Rc;

/// The first bytes of a file's content, decompressed, binary or not.
pub(super) fn head(path: &Path, most: usize) -> Result<Vec<u8>, TracksError> {
    let fail = |e: std::io::Error| io_error(path, "read", &e);
    let mut magic = [0_u8; 4];
    let n = File::open(path)
        .map_err(fail)?
        .read(&mut magic)
        .map_err(fail)?;
    let file = File::open(path).map_err(fail)?;
    let mut bytes = Vec::new();
    // What fails to unpack is reported when the whole is read.
    let _ = if magic.starts_with(&[0x1f, 0x8b]) {
        flate2::read::MultiGzDecoder::new(file)
            .take(most as u64)
            .read_to_end(&mut bytes)
    } else if n == 4 && magic == [0x28, 0xb5, 0x2f, 0xfd] {
        zstd::stream::read::Decoder::new(file)
            .and_then(|d| d.take(most as u64).read_to_end(&mut bytes))
    } else {
        file.take(most as u64).read_to_end(&mut bytes)
    };
    Ok(bytes)
}

/// Whether cells may be quoted, and so hold line ends (RFC 4180).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Quotes {
    None,
    Double,
}

/// A text file read from its beginning, a stretch of whole lines at a time.
pub(super) struct Lines {
    path: PathBuf,
    reader: Box<dyn Read>,
    /// Bytes read of the file as it lies there, and the name of what packs it.
    packed: Rc<Cell<u64>>,
    packing: Option<&'static str>,
    unpacked: u64,
    quotes: Quotes,
    /// What follows the last stretch handed out.
    buffer: Vec<u8>,
    ended: bool,
}

impl Lines {
    pub(super) fn open(path: &Path, quotes: Quotes) -> Result<Self, TracksError> {
        let fail = |e: std::io::Error| io_error(path, "read", &e);
        let mut file = File::open(path).map_err(fail)?;
        let size = file.metadata().map_err(fail)?.len();
        let mut magic = [0_u8; 4];
        let mut have = 0;
        while have < 4 {
            let n = file.read(&mut magic[have..]).map_err(fail)?;
            if n == 0 {
                break;
            }
            have += n;
        }
        let packed = Rc::new(Cell::new(0));
        let whole = Counted {
            inner: std::io::Cursor::new(magic[..have].to_vec()).chain(file),
            read: packed.clone(),
        };
        // RFC 1952 (gzip) and RFC 8878 (zstd) give these first bytes.
        let (reader, packing): (Box<dyn Read>, _) = if magic.starts_with(&[0x1f, 0x8b]) {
            let reader = flate2::read::MultiGzDecoder::new(whole);
            (Box::new(reader), Some("gzip"))
        } else if magic == [0x28, 0xb5, 0x2f, 0xfd] {
            let reader = zstd::stream::read::Decoder::new(whole).map_err(fail)?;
            (Box::new(reader), Some("zstd"))
        } else {
            if size > limits::TEXT_BYTES {
                return Err(too_large(path, format!("{size} bytes")));
            }
            (Box::new(whole), None)
        };
        Ok(Self {
            path: path.to_owned(),
            reader,
            packed,
            packing,
            unpacked: 0,
            quotes,
            buffer: Vec::new(),
            ended: false,
        })
    }

    /// The next whole lines, of about `size` bytes; empty at the end.
    pub(super) fn next(&mut self, size: usize) -> Result<Vec<u8>, TracksError> {
        let mut most = size;
        loop {
            while self.buffer.len() < most && self.fill(most - self.buffer.len())? {}
            if self.ended {
                return Ok(std::mem::take(&mut self.buffer));
            }
            if let Some(cut) = last_cut(&self.buffer, self.quotes) {
                let rest = self.buffer.split_off(cut);
                return Ok(std::mem::replace(&mut self.buffer, rest));
            }
            // A line longer than this.
            most *= 2;
        }
    }

    /// Read on by up to `most` bytes; false at the end of the text.
    fn fill(&mut self, most: usize) -> Result<bool, TracksError> {
        const STEP: usize = 1 << 20;
        if self.ended {
            return Ok(false);
        }
        let from = self.buffer.len();
        let n = self
            .reader
            .by_ref()
            .take(most.min(STEP) as u64)
            .read_to_end(&mut self.buffer)
            .map_err(|e| match self.packing {
                None => io_error(&self.path, "read", &e),
                Some(format) => TracksError::new(
                    Place::file(&self.path),
                    Problem::Damaged {
                        format,
                        reason: e.to_string(),
                    },
                ),
            })?;
        let new = &self.buffer[from..];
        let wide = self.unpacked == 0
            && (new.starts_with(&[0xff, 0xfe]) || new.starts_with(&[0xfe, 0xff]));
        if wide || new.contains(&0) {
            return Err(TracksError::new(Place::file(&self.path), Problem::Utf8));
        }
        self.unpacked += n as u64;
        self.ended = n == 0;
        if self.packing.is_some() {
            self.check_size()?;
        }
        Ok(!self.ended)
    }

    fn check_size(&self) -> Result<(), TracksError> {
        let size = self.unpacked;
        if size > limits::TEXT_BYTES {
            return Err(too_large(&self.path, format!("more than {size} bytes")));
        }
        let times = size / self.packed.get().max(1);
        if size > limits::FREE_BYTES && times > limits::RATIO {
            return Err(TracksError::new(
                Place::file(&self.path),
                Problem::Limit {
                    what: "the text",
                    found: format!("{times} times as large as its packed form"),
                    limit: format!("{} times", limits::RATIO),
                },
            ));
        }
        Ok(())
    }
}

/// A text file read byte by byte, of which only a stretch is held.
pub(super) struct Bytes {
    lines: Lines,
    /// Bytes of the stretch that were read.
    at: usize,
    failed: Option<TracksError>,
}

impl Bytes {
    const STRETCH: usize = 1 << 16;

    pub(super) fn open(path: &Path) -> Result<Self, TracksError> {
        Ok(Self {
            lines: Lines::open(path, Quotes::None)?,
            at: 0,
            failed: None,
        })
    }

    /// The first byte that is no white space, without reading it; a byte order mark is left out.
    pub(super) fn first(&mut self) -> Result<Option<u8>, TracksError> {
        loop {
            let more = self.lines.fill(Self::STRETCH)?;
            if self.lines.buffer.starts_with(&[0xef, 0xbb, 0xbf]) {
                self.at = 3;
            }
            let text = self.lines.buffer[self.at..].trim_ascii_start();
            if !more || !text.is_empty() {
                return Ok(text.first().copied());
            }
        }
    }

    /// Why reading failed, if it did.
    pub(super) fn failed(&mut self) -> Option<TracksError> {
        self.failed.take()
    }
}

impl Read for Bytes {
    fn read(&mut self, out: &mut [u8]) -> std::io::Result<usize> {
        if self.at == self.lines.buffer.len() {
            self.lines.buffer.clear();
            self.at = 0;
            if let Err(e) = self.lines.fill(Self::STRETCH) {
                let said = std::io::Error::other(e.to_string());
                self.failed = Some(e);
                return Err(said);
            }
        }
        let n = (&self.lines.buffer[self.at..]).read(out)?;
        self.at += n;
        Ok(n)
    }
}

/// Counts what is read through it.
struct Counted<R> {
    inner: R,
    read: Rc<Cell<u64>>,
}

impl<R: Read> Read for Counted<R> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let n = self.inner.read(buffer)?;
        self.read.set(self.read.get() + n as u64);
        Ok(n)
    }
}

fn too_large(path: &Path, found: String) -> TracksError {
    TracksError::new(
        Place::file(path),
        Problem::Limit {
            what: "the text",
            found,
            limit: format!("{} bytes", limits::TEXT_BYTES),
        },
    )
}

/// Behind the last line end outside quotes.
fn last_cut(text: &[u8], quotes: Quotes) -> Option<usize> {
    if quotes == Quotes::None || !text.contains(&b'"') {
        return text.iter().rposition(|b| *b == b'\n').map(|p| p + 1);
    }
    let (mut open, mut cut) = (false, None);
    for (i, b) in text.iter().enumerate() {
        match b {
            b'"' => open = !open,
            b'\n' if !open => cut = Some(i + 1),
            _ => {}
        }
    }
    cut
}

/// Pieces of about `size` bytes that end at line ends outside quotes, for reading side by side.
pub(super) fn pieces(text: &[u8], size: usize, quotes: Quotes) -> Vec<&[u8]> {
    let quoted = quotes == Quotes::Double && text.contains(&b'"');
    let mut out = Vec::new();
    let mut rest = text;
    while rest.len() > size {
        let mut open = quoted && rest[..size].iter().filter(|b| **b == b'"').count() % 2 == 1;
        let cut = rest[size..].iter().position(|b| {
            open ^= quoted && *b == b'"';
            *b == b'\n' && !open
        });
        let (head, tail) = rest.split_at(cut.map_or(rest.len(), |p| size + p + 1));
        out.push(head);
        rest = tail;
    }
    if !rest.is_empty() {
        out.push(rest);
    }
    out
}

/// Number of line ends.
pub(super) fn lines(text: &[u8]) -> u64 {
    text.iter().filter(|b| **b == b'\n').count() as u64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quoted_line_ends_are_no_cuts() {
        let text = b"a,\"b\nc\"\nd,e\nf,\"g\nh\"\n";
        let whole: Vec<&[u8]> = pieces(text, 3, Quotes::Double);
        assert_eq!(whole, [&text[..8], &text[8..12], &text[12..]]);
        assert_eq!(last_cut(&text[..15], Quotes::Double), Some(12));
        assert_eq!(last_cut(b"a,\"b\n", Quotes::Double), None);
        assert_eq!(last_cut(b"a,b\nc", Quotes::None), Some(4));
    }
}

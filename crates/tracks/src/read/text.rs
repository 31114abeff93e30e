//! Text of a file, decompressed, within the limits.

use crate::atomic::io_error;
use crate::error::{Place, Problem, TracksError};
use crate::limits;
use std::cell::Cell;
use std::fs::File;
use std::io::Read;
use std::path::Path;
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

/// The bytes of a text file; gzip and zstd are recognised by their first bytes.
pub(super) fn load(path: &Path) -> Result<Vec<u8>, TracksError> {
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
    let whole = magic[..have].chain(file);
    // RFC 1952 (gzip) and RFC 8878 (zstd) give these first bytes.
    let bytes = if magic.starts_with(&[0x1f, 0x8b]) {
        let packed = Counted::new(whole);
        let read = packed.read.clone();
        unpack(
            path,
            flate2::read::MultiGzDecoder::new(packed),
            &read,
            "gzip",
        )?
    } else if magic == [0x28, 0xb5, 0x2f, 0xfd] {
        let packed = Counted::new(whole);
        let read = packed.read.clone();
        let reader = zstd::stream::read::Decoder::new(packed).map_err(fail)?;
        unpack(path, reader, &read, "zstd")?
    } else {
        if size > limits::TEXT_BYTES {
            return Err(too_large(path, format!("{size} bytes")));
        }
        let mut bytes = Vec::with_capacity(size as usize);
        whole
            .take(limits::TEXT_BYTES)
            .read_to_end(&mut bytes)
            .map_err(fail)?;
        bytes
    };
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) || bytes.contains(&0) {
        return Err(TracksError::new(Place::file(path), Problem::Utf8));
    }
    Ok(bytes)
}

/// Counts what is read through it.
struct Counted<R> {
    inner: R,
    read: Rc<Cell<u64>>,
}

impl<R> Counted<R> {
    fn new(inner: R) -> Self {
        Self {
            inner,
            read: Rc::new(Cell::new(0)),
        }
    }
}

impl<R: Read> Read for Counted<R> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let n = self.inner.read(buffer)?;
        self.read.set(self.read.get() + n as u64);
        Ok(n)
    }
}

fn unpack(
    path: &Path,
    mut reader: impl Read,
    packed: &Cell<u64>,
    format: &'static str,
) -> Result<Vec<u8>, TracksError> {
    const STEP: u64 = 1 << 20;
    let mut bytes = Vec::new();
    loop {
        let n = reader
            .by_ref()
            .take(STEP)
            .read_to_end(&mut bytes)
            .map_err(|e| {
                TracksError::new(
                    Place::file(path),
                    Problem::Damaged {
                        format,
                        reason: e.to_string(),
                    },
                )
            })?;
        if n == 0 {
            return Ok(bytes);
        }
        let size = bytes.len() as u64;
        if size > limits::TEXT_BYTES {
            return Err(too_large(path, format!("more than {size} bytes")));
        }
        let packed = packed.get().max(1);
        if size > limits::FREE_BYTES && size / packed > limits::RATIO {
            return Err(TracksError::new(
                Place::file(path),
                Problem::Limit {
                    what: "the text",
                    found: format!("{} times as large as its packed form", size / packed),
                    limit: format!("{} times", limits::RATIO),
                },
            ));
        }
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

/// Pieces of about `size` bytes that end at line ends, for reading side by side.
pub(super) fn pieces(text: &[u8], size: usize) -> Vec<&[u8]> {
    let mut out = Vec::new();
    let mut rest = text;
    while rest.len() > size {
        let cut = rest[size..]
            .iter()
            .position(|b| *b == b'\n')
            .map_or(rest.len(), |p| size + p + 1);
        let (head, tail) = rest.split_at(cut);
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

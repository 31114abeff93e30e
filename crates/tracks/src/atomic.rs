//! Files that appear whole or not at all: written under a temporary name, then renamed.

use crate::error::{Place, Problem, TracksError};
use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

/// A file being written. Dropped without [`AtomicFile::commit`], nothing is left behind.
#[derive(Debug)]
pub struct AtomicFile {
    target: PathBuf,
    temporary: PathBuf,
    file: Option<BufWriter<File>>,
}

impl AtomicFile {
    /// Begin a file; folders above it are made.
    ///
    /// # Errors
    /// [`Problem::Io`] where the folder cannot be made or the file not opened.
    pub fn create(target: &Path) -> Result<Self, TracksError> {
        let fail = |e: std::io::Error| io_error(target, "write", &e);
        if let Some(folder) = target.parent().filter(|p| !p.as_os_str().is_empty()) {
            fs::create_dir_all(folder).map_err(fail)?;
        }
        let mut name = target.file_name().unwrap_or_default().to_owned();
        name.push(format!(".{}.part", std::process::id()));
        let temporary = target.with_file_name(name);
        let file = File::create(&temporary).map_err(fail)?;
        Ok(Self {
            target: target.to_owned(),
            temporary,
            file: Some(BufWriter::with_capacity(1 << 16, file)),
        })
    }

    /// Finish: flush, and put the file in its place in one step.
    ///
    /// # Errors
    /// [`Problem::Io`] where the disk is full or the rename refused; the old file then stays.
    pub fn commit(mut self) -> Result<(), TracksError> {
        let fail = |e: std::io::Error| io_error(&self.target, "write", &e);
        if let Some(writer) = self.file.take() {
            let file = writer
                .into_inner()
                .map_err(|e| io_error(&self.target, "write", e.error()))?;
            file.sync_all().map_err(fail)?;
        }
        fs::rename(&self.temporary, &self.target).map_err(fail)
    }

    /// An error about this file.
    pub fn error(&self, e: &std::io::Error) -> TracksError {
        io_error(&self.target, "write", e)
    }
}

impl Write for AtomicFile {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        match &mut self.file {
            Some(f) => f.write(bytes),
            None => Err(std::io::ErrorKind::NotConnected.into()),
        }
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.file.as_mut().map_or(Ok(()), Write::flush)
    }
}

impl Drop for AtomicFile {
    fn drop(&mut self) {
        // After a commit there is nothing under the temporary name, and this does nothing.
        self.file = None;
        let _ = fs::remove_file(&self.temporary);
    }
}

/// Write a whole file at once, atomically.
///
/// # Errors
/// As [`AtomicFile::create`] and [`AtomicFile::commit`].
pub fn write_atomic(target: &Path, bytes: &[u8]) -> Result<(), TracksError> {
    let mut file = AtomicFile::create(target)?;
    let written = file.write_all(bytes);
    written.map_err(|e| file.error(&e))?;
    file.commit()
}

pub(crate) fn io_error(file: &Path, action: &'static str, e: &std::io::Error) -> TracksError {
    TracksError::new(
        Place::file(file),
        Problem::Io {
            action,
            reason: e.to_string(),
        },
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_or_not_at_all() {
        let dir = std::env::temp_dir().join(format!("setdrift-atomic-{}", std::process::id()));
        let path = dir.join("sub").join("a.txt");
        write_atomic(&path, b"one").unwrap();
        {
            let mut half = AtomicFile::create(&path).unwrap();
            half.write_all(b"two").unwrap();
        }
        assert_eq!(fs::read(&path).unwrap(), b"one");
        assert_eq!(fs::read_dir(dir.join("sub")).unwrap().count(), 1);
        fs::remove_dir_all(&dir).unwrap();
    }
}

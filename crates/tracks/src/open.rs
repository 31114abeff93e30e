//! From a path to a session: find the mapping, read, clean.

use crate::assemble;
use crate::clean::clean;
use crate::error::{Place, Problem, TracksError, Warning};
use crate::given::{GivenResult, Tag};
use crate::homography::LandmarkFit;
use crate::mapping::{MAPPING_NAME, Mapping};
use crate::quality::Quality;
use crate::raw::RawTracks;
use crate::read;
use crate::session::Session;
use crate::side::{read_results, read_roster, read_tags};
use std::path::{Path, PathBuf};

/// A session with what lies beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct Loaded {
    /// The session, cleaned.
    pub session: Session,
    /// Possession results, by time; empty without a results file.
    pub results: Vec<GivenResult>,
    /// Hand tags, by time; empty without a tag file.
    pub tags: Vec<Tag>,
    /// How good the data is.
    pub quality: Quality,
    /// How well landmarks fix the floor, for coordinates in an image.
    pub landmarks: Option<LandmarkFit>,
    /// What a person should know.
    pub warnings: Vec<Warning>,
}

/// The data files of one session.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// Data files, in order; one, or the parts of a folder.
    pub files: Vec<PathBuf>,
}

impl Source {
    /// Read and clean the session through the mapping beside it.
    ///
    /// # Errors
    /// [`TracksError`] with place and mend.
    pub fn open(&self) -> Result<Loaded, TracksError> {
        self.open_with(&self.mapping()?)
    }

    /// Read and clean the session through a mapping.
    ///
    /// # Errors
    /// [`TracksError`] with place and mend.
    pub fn open_with(&self, mapping: &Mapping) -> Result<Loaded, TracksError> {
        let read = self.read(mapping)?;
        let first = self.files.first().cloned().unwrap_or_default();
        let (session, quality) = clean(&read.raw, &mapping.cleaning, mapping.time.resample)
            .map_err(|problem| TracksError::new(Place::file(&first), problem))?;
        let teams: Vec<String> = session.teams.iter().map(|t| t.id.clone()).collect();
        let side = |file: &Option<PathBuf>| file.as_ref().map(|f| mapping.beside_path(f));
        let results = side(&mapping.files.results)
            .map(|f| read_results(&f, &teams))
            .transpose()?
            .unwrap_or_default();
        let tags = side(&mapping.files.tags)
            .map(|f| read_tags(&f))
            .transpose()?
            .unwrap_or_default();
        Ok(Loaded {
            session,
            results,
            tags,
            quality,
            landmarks: read.landmarks,
            warnings: read.warnings,
        })
    }

    /// Read through a mapping without cleaning: what the sensor gave, in the court frame.
    ///
    /// # Errors
    /// [`TracksError`] with place and mend.
    pub fn read_raw(&self, mapping: &Mapping) -> Result<(RawTracks, Vec<Warning>), TracksError> {
        self.read(mapping).map(|read| (read.raw, read.warnings))
    }

    fn read(&self, mapping: &Mapping) -> Result<assemble::Read, TracksError> {
        mapping
            .check()
            .map_err(|problem| TracksError::new(Place::file(&mapping.path), problem))?;
        let roster = mapping
            .files
            .roster
            .as_ref()
            .map(|f| read_roster(&mapping.beside_path(f)))
            .transpose()?
            .unwrap_or_default();
        assemble::read_raw(&self.files, mapping, &roster)
    }

    /// The mapping that lies beside the data.
    ///
    /// # Errors
    /// [`Problem::NoMapping`] with the names looked for.
    pub fn mapping(&self) -> Result<Mapping, TracksError> {
        let first = self.files.first().cloned().unwrap_or_default();
        Mapping::beside(&first)
    }
}

/// The sessions at a path: one for a file; for a folder one per data file, or a single one where
/// its `tracks.toml` says that the files are parts. Opening them one after the other keeps only one
/// session in memory.
///
/// # Errors
/// [`Problem::Io`], [`Problem::NoData`], or an invalid `tracks.toml`.
pub fn sources(path: &Path) -> Result<Vec<Source>, TracksError> {
    if !path.is_dir() {
        if let Err(e) = std::fs::metadata(path) {
            return Err(crate::atomic::io_error(path, "read", &e));
        }
        return Ok(vec![Source {
            files: vec![path.to_owned()],
        }]);
    }
    let shared = path.join(MAPPING_NAME);
    let mapping = shared
        .exists()
        .then(|| Mapping::load(&shared))
        .transpose()?;
    let mut files = read::files_in(path)?;
    if let Some(m) = &mapping {
        // Files beside the tracks are no tracks.
        let side = [&m.files.roster, &m.files.results, &m.files.tags];
        files.retain(|f| {
            !side
                .iter()
                .any(|s| s.as_ref().is_some_and(|s| path.join(s) == *f))
        });
    } else {
        files.retain(|f| crate::mapping::mapping_names(f).iter().any(|m| m.exists()));
    }
    if files.is_empty() {
        return Err(TracksError::new(
            Place::file(path),
            Problem::NoData {
                expected: read::ENDINGS,
            },
        ));
    }
    if mapping.is_some_and(|m| m.file.parts) {
        return Ok(vec![Source { files }]);
    }
    Ok(files
        .into_iter()
        .map(|f| Source { files: vec![f] })
        .collect())
}

/// Read and clean the one session at a path, through the mapping beside it.
///
/// # Errors
/// [`TracksError`] with place and mend; a folder of several sessions is one ([`sources`] lists
/// them).
pub fn open(path: &Path) -> Result<Loaded, TracksError> {
    single(path)?.open()
}

/// Read and clean the one session at a path, through a mapping.
///
/// # Errors
/// As [`open`].
pub fn open_with(path: &Path, mapping: &Mapping) -> Result<Loaded, TracksError> {
    single(path)?.open_with(mapping)
}

fn single(path: &Path) -> Result<Source, TracksError> {
    let mut found = sources(path)?;
    match (found.pop(), found.len()) {
        (Some(one), 0) => Ok(one),
        (_, n) => Err(TracksError::new(
            Place::file(path),
            Problem::Limit {
                what: "the number of sessions here",
                found: (n + 1).to_string(),
                limit: "one; name a file, or set `file.parts = true` in its tracks.toml".into(),
            },
        )),
    }
}

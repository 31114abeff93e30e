//! Settings of every stage, and the file a staff may keep them in.

use serde::{Deserialize, Serialize};

/// Checked settings of every stage.
#[derive(Debug, Clone)]
pub struct Settings {
    /// Ball control, events, possessions.
    pub events: setdrift_events::ValidParams,
    /// Recognition.
    pub recognise: setdrift_recognise::ValidParams,
    /// Cues and placements.
    pub timing: setdrift_timing::ValidParams,
    /// Groups of what was off script.
    pub groups: setdrift_drift::ValidParams,
    /// Executed against declared.
    pub drift: setdrift_drift::ValidDriftParams,
}

/// A settings file that cannot be used, in words that name the setting.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct SettingsError {
    /// What is wrong.
    pub message: String,
    /// Bytes of the file concerned, where one can say.
    pub span: Option<std::ops::Range<usize>>,
}

/// A settings file: TOML, a table per stage, what is left out as by default.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SettingsFile {
    /// Ball control, events, possessions.
    pub events: setdrift_events::Params,
    /// Recognition.
    pub recognition: setdrift_recognise::Params,
}

impl SettingsFile {
    /// Reads a file's text.
    ///
    /// # Errors
    /// [`SettingsError`] for text that is not TOML, or a key that is not known or of another type.
    pub fn parse(text: &str) -> Result<Self, SettingsError> {
        toml::from_str(text).map_err(|e| SettingsError {
            message: e.message().to_owned(),
            span: e.span(),
        })
    }

    /// The text of a settings file that says all of this.
    ///
    /// # Errors
    /// [`SettingsError`] for a value that TOML cannot hold; no checked setting is one.
    pub fn to_toml(&self) -> Result<String, SettingsError> {
        toml::to_string(self).map_err(|e| SettingsError {
            message: e.to_string(),
            span: None,
        })
    }

    /// The settings of all stages with those of this file.
    ///
    /// # Errors
    /// [`SettingsError`] for a setting outside its range.
    pub fn check(self) -> Result<Settings, SettingsError> {
        fn said<E: std::fmt::Display>(e: E) -> SettingsError {
            SettingsError {
                message: e.to_string(),
                span: None,
            }
        }
        Ok(Settings {
            events: self.events.check().map_err(said)?,
            recognise: self.recognition.check().map_err(said)?,
            timing: setdrift_timing::Params::default().check().map_err(said)?,
            groups: setdrift_drift::Params::default().check().map_err(said)?,
            drift: setdrift_drift::DriftParams::default()
                .check()
                .map_err(said)?,
        })
    }
}

impl Settings {
    /// The defaults of every stage, as reasoned in docs/.
    ///
    /// # Errors
    /// [`SettingsError`] when a stage refuses its own defaults: a bug, kept out by a test.
    pub fn standard() -> Result<Self, SettingsError> {
        SettingsFile::default().check()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_stage_accepts_its_defaults() {
        assert!(Settings::standard().is_ok());
    }

    #[test]
    fn a_file_changes_what_it_names_and_nothing_else() {
        let file = SettingsFile::parse("[recognition]\noff_script = 2.0\n").unwrap();
        assert_eq!(file.recognition.off_script, 2.0);
        assert_eq!(
            file.recognition.entry,
            SettingsFile::default().recognition.entry
        );
        assert_eq!(file.events, SettingsFile::default().events);
    }

    #[test]
    fn what_is_written_is_read_again() {
        let mut file = SettingsFile::default();
        file.recognition.off_script = 1.1;
        assert_eq!(SettingsFile::parse(&file.to_toml().unwrap()).unwrap(), file);
    }

    #[test]
    fn wrong_keys_and_values_are_named() {
        let e = SettingsFile::parse("[recognition]\noff_scrpt = 2.0\n").unwrap_err();
        assert!(
            e.message.contains("off_scrpt") && e.span == Some(14..23),
            "{e:?}"
        );
        let file = SettingsFile::parse("[recognition]\noff_script = -1.0\n").unwrap();
        let e = file.check().unwrap_err();
        assert!(e.message.contains("`off_script` is -1"), "{e}");
    }
}

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

/// A stage's table in a settings file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Section {
    /// `[events]`.
    Events,
    /// `[recognition]`.
    Recognition,
}

/// Adds a table to another; the name of the first setting that both have with different values.
fn merge(all: &mut toml::Table, more: toml::Table, path: &str) -> Result<(), String> {
    for (key, value) in more {
        let name = if path.is_empty() {
            key.clone()
        } else {
            format!("{path}.{key}")
        };
        match (all.get_mut(&key), value) {
            (None, value) => {
                all.insert(key, value);
            }
            (Some(toml::Value::Table(a)), toml::Value::Table(b)) => merge(a, b, &name)?,
            (Some(a), b) if *a == b => {}
            (Some(_), _) => return Err(name),
        }
    }
    Ok(())
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

    /// Several files' texts as one: each says what it says, and where two say the same setting,
    /// they have to agree.
    ///
    /// # Errors
    /// The index of the text and [`SettingsError`] for a text that cannot be read, or that
    /// contradicts one before it.
    pub fn together(texts: &[String]) -> Result<Self, (usize, SettingsError)> {
        let mut all = toml::Table::new();
        for (i, text) in texts.iter().enumerate() {
            Self::parse(text).map_err(|e| (i, e))?;
            let wrong = |message: String| {
                let span = None;
                (i, SettingsError { message, span })
            };
            let table: toml::Table = toml::from_str(text).map_err(|e| wrong(e.to_string()))?;
            merge(&mut all, table, "").map_err(|setting| {
                wrong(format!(
                    "`{setting}` is already set to another value by a file named before"
                ))
            })?;
        }
        all.try_into().map_err(|e: toml::de::Error| {
            let (message, span) = (e.message().to_owned(), None);
            (
                texts.len().saturating_sub(1),
                SettingsError { message, span },
            )
        })
    }

    /// The text of a settings file that says one stage's settings and nothing of the others, so
    /// that it can be used together with theirs.
    ///
    /// # Errors
    /// [`SettingsError`] for a value that TOML cannot hold; no checked setting is one.
    pub fn section(&self, section: Section) -> Result<String, SettingsError> {
        #[derive(Serialize)]
        struct Events<'a> {
            events: &'a setdrift_events::Params,
        }
        #[derive(Serialize)]
        struct Recognition<'a> {
            recognition: &'a setdrift_recognise::Params,
        }
        match section {
            Section::Events => toml::to_string(&Events {
                events: &self.events,
            }),
            Section::Recognition => toml::to_string(&Recognition {
                recognition: &self.recognition,
            }),
        }
        .map_err(|e| SettingsError {
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
    fn what_two_stages_write_is_used_together() {
        let mut file = SettingsFile::default();
        file.recognition.off_script = 1.1;
        file.events.hold_s = 1.7;
        let texts = [Section::Events, Section::Recognition].map(|s| file.section(s).unwrap());
        assert!(!texts[0].contains("[recognition]") && !texts[1].contains("[events]"));
        assert_eq!(SettingsFile::together(&texts), Ok(file.clone()));
        let one = SettingsFile::together(&texts[1..]).unwrap();
        assert_eq!(one.events, SettingsFile::default().events);
        assert_eq!(SettingsFile::together(&[]), Ok(SettingsFile::default()));

        let other = "[recognition]\noff_script = 1.2\n".to_owned();
        let (i, e) = SettingsFile::together(&[texts[1].clone(), other]).unwrap_err();
        assert_eq!(i, 1);
        assert!(e.message.contains("`recognition.off_script`"), "{e}");
        let (i, e) = SettingsFile::together(&[texts[0].clone(), "x".to_owned()]).unwrap_err();
        assert!(i == 1 && e.span.is_some(), "{e:?}");
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

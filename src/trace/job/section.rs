//! Positions in a job file: file, line, section, key.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::error::Place;

/// A section of the job file, as the place of errors.
pub(super) struct Section<'a> {
    file: &'a str,
    text: &'a str,
    keys: Option<&'a DeTable<'a>>,
    /// Name between the brackets.
    pub(super) section: String,
    line: usize,
}

impl<'a> Section<'a> {
    /// Finds a section by the parts of its name, in a file whose keys are known.
    pub(super) fn of_section(
        file: &'a str,
        text: &'a str,
        root: &'a DeTable<'a>,
        parts: &[&str],
    ) -> Self {
        let mut at = Section {
            file,
            text,
            keys: Some(root),
            section: parts.join("."),
            line: 1,
        };
        for part in parts {
            at.step_into(part);
        }
        at
    }

    /// A subtable, such as the targets of a prep.
    pub(super) fn table(&self, key: &str) -> Section<'a> {
        let mut at = Section {
            section: format!("{}.{key}", self.section),
            ..*self
        };
        at.step_into(key);
        at
    }

    /// Place of a key; dots separate the parts of its path.
    pub(super) fn key(&self, path: &str) -> Place {
        let mut at = Section {
            section: self.section.clone(),
            ..*self
        };
        for part in path.split('.') {
            at.step_into(part.split('[').next().unwrap_or(part));
        }
        Place::from(&at).column(path)
    }

    /// Moves on to the line and the content of a key; keeps the line if there is no such key.
    fn step_into(&mut self, key: &str) {
        let found = self.keys.and_then(|keys| {
            let mut entries = keys.iter();
            entries.find(|(name, _)| name.get_ref().as_ref() == key)
        });
        self.keys = found.and_then(|(_, value)| table_of(value));
        if let Some((name, _)) = found {
            self.line = line_of(self.text, name.span().start);
        }
    }
}

fn table_of<'a>(value: &'a Spanned<DeValue<'a>>) -> Option<&'a DeTable<'a>> {
    match value.get_ref() {
        DeValue::Table(table) => Some(table),
        _ => None,
    }
}

impl From<&Section<'_>> for Place {
    fn from(section: &Section<'_>) -> Place {
        Place {
            section: Some(section.section.clone()),
            ..Place::from(section.file).line(section.line as u64)
        }
    }
}

/// Returns the line of a byte offset, from 1.
pub(super) fn line_of(text: &str, offset: usize) -> usize {
    text[..offset].matches('\n').count() + 1
}

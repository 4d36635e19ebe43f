//! The words of one language: a checked wording file.
//!
//! Never here: which wording says what (`catalogue`), files, the text of any mail.
//! Promises: a wording that loads is complete; each text has exactly the slots that are filled;
//! all problems of a file are told at once, each with its key.

use std::collections::BTreeMap;
use std::fmt::Display;

use schemars::JsonSchema;
use serde::Deserialize;

use super::catalogue::{CATALOGUE, COUNTED};
use super::template::Template;
use crate::care::site::all_sites;

/// The words of one language.
#[derive(Clone, Debug)]
pub struct Wording {
    pub(super) code: String,
    pub(super) language: LanguageTable,
    texts: BTreeMap<String, Template>,
}

/// What is wrong with a wording file. Each carries the file and the key.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[allow(missing_docs, reason = "the fields are named after what the message says")]
pub enum WordingError {
    /// Not TOML, or its `[language]` table is wrong.
    #[error("{file}: cannot be read: {what}")]
    Malformed { file: String, what: String },
    /// A list of names of months or weekdays has the wrong length.
    #[error("{file}: `language.{key}` needs {wanted} names, has {found}")]
    Names { file: String, key: &'static str, wanted: usize, found: usize },
    /// A wording is missing.
    #[error("{file}: `{key}` is missing")]
    Missing { file: String, key: String },
    /// A wording that nothing uses.
    #[error("{file}: `{key}` is not a wording that is used")]
    Unknown { file: String, key: String, nearest: Option<String> },
    /// Something other than a text.
    #[error("{file}: `{key}` must be a text")]
    NotText { file: String, key: String },
    /// A text that is empty.
    #[error("{file}: `{key}` is empty")]
    Empty { file: String, key: String },
    /// A brace without its partner.
    #[error("{file}: `{key}` has a brace without its partner or a placeholder without a name")]
    Brace { file: String, key: String },
    /// A placeholder that is not filled here.
    #[error("{file}: `{key}` uses the unknown placeholder {{{slot}}}")]
    UnknownSlot { file: String, key: String, slot: String, known: String },
    /// A placeholder that has to appear.
    #[error("{file}: `{key}` lacks the placeholder {{{slot}}}")]
    MissingSlot { file: String, key: String, slot: String },
}

impl WordingError {
    /// What to do about it.
    pub fn help(&self) -> String {
        match self {
            Self::Malformed { .. } => {
                "compare it with the shipped English wording file, which is complete".to_owned()
            }
            Self::Names { .. } => "weekdays begin with Monday, months with January".to_owned(),
            Self::Missing { .. } | Self::Empty { .. } => {
                "add the text; the shipped English wording file shows what it has to say".to_owned()
            }
            Self::Unknown { nearest: Some(nearest), .. } => format!("did you mean `{nearest}`?"),
            Self::Unknown { nearest: None, .. } => "remove it".to_owned(),
            Self::NotText { .. } => "write it between double quotes".to_owned(),
            Self::Brace { .. } => {
                "write placeholders as {name}, small letters and `_` only".to_owned()
            }
            Self::UnknownSlot { known, .. } if known.is_empty() => {
                "this text has no placeholders".to_owned()
            }
            Self::UnknownSlot { known, .. } => format!("this text may use {known}"),
            Self::MissingSlot { .. } => "without it the reader would miss a fact".to_owned(),
        }
    }
}

/// The `[language]` table: how this language writes numbers, lists and dates.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct LanguageTable {
    /// The language's own name.
    pub(super) name: String,
    pub(super) direction: Direction,
    /// Counts that take the `one` form.
    pub(super) one: Vec<u32>,
    /// What stands before the decimals of a number.
    pub(super) decimal: String,
    /// What stands between the parts of a list.
    pub(super) list_between: String,
    /// What stands before the last part of a list.
    pub(super) list_last: String,
    /// From Monday on.
    #[schemars(length(equal = 7))]
    pub(super) weekdays: Vec<String>,
    /// From January on.
    #[schemars(length(equal = 12))]
    pub(super) months: Vec<String>,
}

/// Which way the language is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub(super) enum Direction {
    Ltr,
    Rtl,
}

impl Wording {
    /// Reads a wording file. `code` is the language's tag, `file` the name that problems carry.
    ///
    /// # Errors
    /// All problems of the file.
    pub fn parse(code: &str, file: &str, text: &str) -> Result<Self, Vec<WordingError>> {
        let malformed =
            |what: String| vec![WordingError::Malformed { file: file.to_owned(), what }];
        let mut table: toml::Table =
            toml::from_str(text).map_err(|error| malformed(error.to_string()))?;
        let language = table
            .remove("language")
            .ok_or_else(|| malformed("it has no `[language]` table".to_owned()))?;
        let language: LanguageTable =
            language.try_into().map_err(|error: toml::de::Error| malformed(error.to_string()))?;

        let mut problems = Vec::new();
        check_names(file, &language, &mut problems);
        let mut found = BTreeMap::new();
        flatten(file, "", table, &mut found, &mut problems);
        let texts = checked_texts(file, found, &mut problems);
        if problems.is_empty() {
            Ok(Self { code: code.to_owned(), language, texts })
        } else {
            Err(problems)
        }
    }

    /// Every text that a wording file must have, with its slots, for a schema of the file.
    pub fn keys() -> impl Iterator<Item = (String, &'static [&'static str])> {
        wanted().into_iter()
    }

    /// The JSON Schema of the `[language]` table of a wording file.
    pub fn language_schema() -> serde_json::Value {
        let inline = schemars::generate::SchemaSettings::draft2020_12().with(|settings| {
            settings.inline_subschemas = true;
            settings.meta_schema = None;
        });
        inline.into_generator().into_root_schema_for::<LanguageTable>().to_value()
    }

    /// The language's tag.
    pub fn code(&self) -> &str {
        &self.code
    }

    /// The language's own name.
    pub fn name(&self) -> &str {
        &self.language.name
    }

    /// Which way the language is written, as HTML says it.
    pub(super) fn direction(&self) -> &'static str {
        match self.language.direction {
            Direction::Ltr => "ltr",
            Direction::Rtl => "rtl",
        }
    }

    /// Every key with its text, slots shown as `{name}`, for checks over a whole language.
    pub fn texts(&self) -> impl Iterator<Item = (&str, String)> {
        self.texts.iter().map(|(key, template)| (key.as_str(), template.to_string()))
    }

    /// The text of a key with its slots filled.
    pub(super) fn filled(&self, key: &str, values: &[(&str, &dyn Display)]) -> String {
        self.texts
            .get(key)
            .expect("OK because a wording file that lacks a key is refused")
            .filled(values)
    }
}

fn check_names(file: &str, language: &LanguageTable, problems: &mut Vec<WordingError>) {
    for (key, names, wanted) in
        [("weekdays", &language.weekdays, 7), ("months", &language.months, 12)]
    {
        if names.len() != wanted {
            let (file, found) = (file.to_owned(), names.len());
            problems.push(WordingError::Names { file, key, wanted, found });
        }
    }
}

/// Tables within tables become keys with dots.
fn flatten(
    file: &str,
    prefix: &str,
    table: toml::Table,
    found: &mut BTreeMap<String, String>,
    problems: &mut Vec<WordingError>,
) {
    for (name, value) in table {
        let key = format!("{prefix}{name}");
        match value {
            toml::Value::String(text) => {
                found.insert(key, text);
            }
            toml::Value::Table(inner) => {
                flatten(file, &format!("{key}."), inner, found, problems);
            }
            toml::Value::Integer(_)
            | toml::Value::Float(_)
            | toml::Value::Boolean(_)
            | toml::Value::Datetime(_)
            | toml::Value::Array(_) => {
                problems.push(WordingError::NotText { file: file.to_owned(), key });
            }
        }
    }
}

/// Every key that a wording file must have, with its slots.
fn wanted() -> BTreeMap<String, &'static [&'static str]> {
    let catalogue = CATALOGUE.iter().map(|(key, slots)| ((*key).to_owned(), *slots));
    let counted = COUNTED.iter().flat_map(|name| {
        ["one", "other"].map(|form| (format!("{name}.{form}"), ["count"].as_slice()))
    });
    let sites = all_sites().into_iter().flat_map(|site| {
        [(format!("sites.{site}"), [].as_slice()), (format!("where.{site}"), [].as_slice())]
    });
    catalogue.chain(counted).chain(sites).collect()
}

fn checked_texts(
    file: &str,
    mut found: BTreeMap<String, String>,
    problems: &mut Vec<WordingError>,
) -> BTreeMap<String, Template> {
    let wanted = wanted();
    let mut texts = BTreeMap::new();
    for (key, slots) in &wanted {
        let file = || file.to_owned();
        let Some(text) = found.remove(key) else {
            problems.push(WordingError::Missing { file: file(), key: key.clone() });
            continue;
        };
        if text.trim().is_empty() {
            problems.push(WordingError::Empty { file: file(), key: key.clone() });
            continue;
        }
        let Ok(template) = Template::parse(&text) else {
            problems.push(WordingError::Brace { file: file(), key: key.clone() });
            continue;
        };
        for slot in template.slots().filter(|slot| !slots.contains(slot)) {
            let known: Vec<_> = slots.iter().map(|slot| format!("{{{slot}}}")).collect();
            let (slot, known) = (slot.to_owned(), known.join(", "));
            let key = key.clone();
            problems.push(WordingError::UnknownSlot { file: file(), key, slot, known });
        }
        for slot in slots.iter().filter(|slot| !template.slots().any(|used| used == **slot)) {
            let (key, slot) = (key.clone(), (*slot).to_owned());
            problems.push(WordingError::MissingSlot { file: file(), key, slot });
        }
        texts.insert(key.clone(), template);
    }
    for key in found.into_keys() {
        let nearest = nearest(&key, wanted.keys());
        problems.push(WordingError::Unknown { file: file.to_owned(), key, nearest });
    }
    texts
}

/// The known key that an unknown one is most likely a slip of.
fn nearest<'a>(key: &str, known: impl Iterator<Item = &'a String>) -> Option<String> {
    /// Likeness from which a suggestion helps more than it misleads.
    const LIKENESS_MIN: f64 = 0.85;
    known
        .map(|candidate| (strsim::jaro_winkler(key, candidate), candidate))
        .filter(|(likeness, _)| *likeness >= LIKENESS_MIN)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, candidate)| candidate.clone())
}

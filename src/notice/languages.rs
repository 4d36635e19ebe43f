//! The languages at hand: the shipped ones, and those that a clinic adds or replaces.
//!
//! Never here: reading folders (the caller hands texts in).
//! Promises: there is always a wording to fall back on, English as shipped.

use std::collections::BTreeMap;

use super::wording::{Wording, WordingError};

/// The language that serves where another is not at hand.
const FALLBACK: &str = "en";

/// The name of a wording file within the folder of its language.
pub const WORDING_FILE: &str = "wording.toml";

/// What ships with the program: language and wording.
const SHIPPED: [(&str, &str); 4] = [
    ("de", include_str!("../../config/languages/de/wording.toml")),
    ("en", include_str!("../../config/languages/en/wording.toml")),
    ("es", include_str!("../../config/languages/es/wording.toml")),
    ("fr", include_str!("../../config/languages/fr/wording.toml")),
];

/// The languages that notices can be written in.
#[derive(Clone, Debug)]
pub struct Languages {
    wordings: BTreeMap<String, Wording>,
}

impl Languages {
    /// The shipped languages.
    pub fn shipped() -> Self {
        let wordings = SHIPPED
            .into_iter()
            .map(|(code, text)| {
                let wording = Wording::parse(code, WORDING_FILE, text)
                    .expect("OK because a test reads every shipped wording");
                (code.to_owned(), wording)
            })
            .collect();
        Self { wordings }
    }

    /// Adds a language or replaces a shipped one. `file` is the name that problems carry.
    ///
    /// # Errors
    /// All problems of the wording file; nothing is changed then.
    pub fn add(&mut self, code: &str, file: &str, text: &str) -> Result<(), Vec<WordingError>> {
        let wording = Wording::parse(code, file, text)?;
        self.wordings.insert(code.to_owned(), wording);
        Ok(())
    }

    /// The wording for a language tag: the tag's own, else its language without the region, else
    /// English.
    pub fn wording(&self, tag: &str) -> &Wording {
        let language = tag.split_once('-').map_or(tag, |(language, _)| language);
        [tag, language, FALLBACK]
            .into_iter()
            .find_map(|code| self.wordings.get(code))
            .expect("OK because English ships and can be replaced but not removed")
    }

    /// The tags at hand, in alphabetical order.
    pub fn codes(&self) -> impl Iterator<Item = &str> {
        self.wordings.keys().map(String::as_str)
    }
}
